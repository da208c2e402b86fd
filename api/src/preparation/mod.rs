//! Readings of vehicles before they leave, and of those that wait in stock.
