//! A part in hand: clean it, replace it, or leave it closed.

pub mod page;
mod told;
