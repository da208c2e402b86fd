//! Comebacks: proposed by the program at write-up and again at close, decided
//! by the manager with a reason.

pub mod decide;
pub mod http;
pub mod model;
pub mod outside;
pub mod page;
pub mod pay_back;
pub mod propose;
pub mod view;
