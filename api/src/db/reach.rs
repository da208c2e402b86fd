//! Whose rows a transaction is for. On PostgreSQL the database itself keeps the
//! others away, whatever a query forgets; SQLite has no such wall.

/// A shop's rows, or all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Reach {
    /// What runs across shops: commands, sign-in, histories of a group.
    All,
    /// A request in one shop.
    Shop(i32),
}

impl Reach {
    /// Begins a transaction of PostgreSQL within it.
    pub(super) fn begin(self, mode: &str) -> String {
        let shop = match self {
            Self::All => "all".to_owned(),
            Self::Shop(number) => number.to_string(),
        };
        format!("BEGIN ISOLATION LEVEL {mode}; SET LOCAL onetrip.shop = '{shop}'")
    }
}
