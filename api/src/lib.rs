//! The repair-order and comeback service of a vehicle repair shop.

mod app;
mod attendance;
mod auth;
mod changes;
mod chart;
mod cli;
mod codes;
mod comebacks;
mod config;
mod copy;
mod db;
mod demo;
mod docs;
mod domain;
mod find;
mod house;
mod import;
mod jobs;
mod metrics;
mod openapi;
mod orders;
mod people;
mod problem;
mod reports;
mod routes;
mod shops;
mod system;
mod vehicles;
mod web;

pub use cli::main;
