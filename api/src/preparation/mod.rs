//! Readings before a vehicle leaves, by lists that are the shop's own, and
//! vehicles that wait in stock.

pub mod due;
pub mod http_lists;
pub mod http_sheets;
pub mod http_stock;
pub mod list_write;
pub mod lists;
pub mod page;
pub mod page_act;
pub mod page_job;
pub mod page_list;
pub mod page_list_act;
pub mod page_sheet;
pub mod reading;
pub mod sheet_write;
pub mod sheets;
pub mod sound;
pub mod starting;
pub mod stock;
