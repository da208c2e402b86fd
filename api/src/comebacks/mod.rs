//! Comebacks: proposed by the program at write-up and again at close, decided
//! by the manager with a reason; returns without a visit, and what suppliers
//! paid back.

pub mod decide;
pub mod http;
pub mod link;
pub mod model;
pub mod outside;
pub mod page;
pub mod page_after;
pub mod page_decide;
pub mod pair;
pub mod pay_back;
pub mod propose;
pub mod refine;
pub mod undo;
pub mod view;
