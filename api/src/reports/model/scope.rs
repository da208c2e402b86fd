//! Which jobs a query is for, and how its rows are taken.

use diesel::prelude::*;
use diesel::query_dsl::methods::LoadQuery;

use crate::db::{Answer, Conn};

/// Which jobs a query is for.
#[derive(Debug, Clone, Copy)]
pub(super) enum Scope<'a> {
    /// All of the shop.
    Shop,
    Job(&'a str),
    Jobs(&'a [String]),
}

/// Keeps a boxed query to the jobs that it is for. One job is named by itself:
/// such a statement is prepared once and for all.
macro_rules! scoped {
    ($query:expr, $column:expr, $scope:expr) => {
        match $scope {
            Scope::Shop => $query,
            Scope::Job(id) => $query.filter($column.eq(id)),
            Scope::Jobs(ids) => $query.filter($column.eq_any(ids)),
        }
    };
}
pub(super) use scoped;

/// Takes the rows one by one as they are read: a shop's are never in memory twice.
pub(super) fn each<'conn, Q, T, R>(
    query: Q,
    conn: &'conn mut Conn,
    mut row: impl FnMut(T) -> Answer<Option<R>>,
) -> Answer<Vec<R>>
where
    T: 'conn,
    Q: LoadQuery<'conn, Conn, T> + RunQueryDsl<Conn> + 'conn,
{
    let mut rows = Vec::new();
    for tuple in query.load_iter(conn)? {
        rows.extend(row(tuple?)?);
    }
    Ok(rows)
}

/// Ids that one query names; below the number of variables that either
/// database takes.
const CHUNK: usize = 1000;

/// Up to that many jobs are asked for one by one: a statement that names several
/// is prepared anew each time.
const FEW: usize = 4;

/// These jobs, in as many queries as it takes.
pub(super) fn scopes(ids: &[String]) -> Vec<Scope<'_>> {
    if ids.len() <= FEW {
        ids.iter().map(|id| Scope::Job(id)).collect()
    } else {
        ids.chunks(CHUNK).map(Scope::Jobs).collect()
    }
}
