//! The estimate for a part in hand.
