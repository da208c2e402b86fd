//! Calls some days after the hand-over.
