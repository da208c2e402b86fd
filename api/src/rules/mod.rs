//! Shop rules: decisions with the evidence they were taken on.
