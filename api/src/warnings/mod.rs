//! Early warnings, and those that are silenced.
