//! Finding an order, a job or a vehicle by whatever somebody has in hand: a
//! number, the end of a VIN, a plate, a name.

pub mod asked;
pub mod model;
pub mod page;
