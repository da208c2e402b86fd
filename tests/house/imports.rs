//! Who may import what.

use super::source::{Source, below, naming};

fn nothing() -> Vec<String> {
    Vec::new()
}

fn file(source: &Source) -> &str {
    source.path.rsplit('/').next().unwrap()
}

#[test]
fn analytics_is_pure() {
    let sources = below("analytics/src");
    let words = [
        "use api::",
        "diesel",
        "actix",
        "std::fs",
        "std::net",
        "std::env",
        "Utc::now",
        "Local::now",
        "SystemTime",
        "Instant::now",
        "tokio",
    ];
    assert_eq!(naming(&sources, &words), nothing());
}

#[test]
fn domain_knows_no_database_no_http_no_document() {
    let sources = below("api/src/domain");
    assert_eq!(
        naming(&sources, &["diesel", "actix", "utoipa", "crate::db", "crate::web"]),
        nothing()
    );
}

#[test]
fn decisions_are_made_from_values() {
    let decisions = [
        "api/src/jobs/close.rs",
        "api/src/jobs/correct.rs",
        "api/src/jobs/crew.rs",
        "api/src/jobs/cleaned.rs",
        "api/src/jobs/reach.rs",
        "api/src/jobs/stretch.rs",
        "api/src/attendance/day.rs",
        "api/src/preparation/reading.rs",
        "api/src/preparation/sound.rs",
        "api/src/preparation/starting.rs",
        "api/src/codes/merge.rs",
        "api/src/backups/keep.rs",
        "api/src/comebacks/propose.rs",
        "api/src/find/asked.rs",
        "api/src/rules/decide.rs",
        "api/src/warnings/decide.rs",
        "api/src/enquiries/closure.rs",
        "api/src/enquiries/quarter.rs",
        "api/src/followups/due.rs",
        "api/src/plans/sound.rs",
        "api/src/plans/walk.rs",
    ];
    let sources = below("api/src");
    let deciding: Vec<&Source> =
        sources.iter().filter(|source| decisions.contains(&source.path.as_str())).collect();
    assert_eq!(deciding.len(), decisions.len());
    let words = ["diesel", "actix", "crate::db", "crate::web", "crate::shops", "::model"];
    assert_eq!(naming(deciding, &words), nothing());
}

#[test]
fn handlers_know_no_database() {
    let sources = below("api/src");
    let handlers = sources
        .iter()
        .filter(|source| file(source).starts_with("http") || file(source).starts_with("page"));
    assert_eq!(naming(handlers, &["diesel", "db::schema"]), nothing());
}

// A dry run rolls back what goes through the request; a write beside it would
// stay.
#[test]
fn handlers_write_through_the_request() {
    let sources = below("api/src");
    let packed = |source: &Source| source.code.split_whitespace().collect::<String>();
    let beside: Vec<&str> = sources
        .iter()
        .filter(|source| file(source).starts_with("http") && packed(source).contains("db.write("))
        .map(|source| source.path.as_str())
        // Sessions and passwords, which cannot be tried.
        .filter(|path| !path.starts_with("api/src/auth/"))
        .collect();
    assert!(beside.is_empty(), "{beside:?}");
}

#[test]
fn who_changed_what_is_only_added_to() {
    let sources = below("api/src");
    // But for what the law has erased: the note stays, its personal values go.
    let sources: Vec<Source> =
        sources.into_iter().filter(|source| source.path != "api/src/orders/erase.rs").collect();
    let words = ["delete(record_change", "update(record_change", "record_change::table.find("];
    assert_eq!(naming(&sources, &words), nothing());
}

#[test]
fn one_folder_names_the_databases() {
    let sources = below("api/src");
    let others = sources.iter().filter(|source| !source.path.starts_with("api/src/db/"));
    let words =
        ["SqliteConnection", "PgConnection", "r2d2", "libsqlite3_sys", "\"BEGIN", "PRAGMA "];
    assert_eq!(naming(others, &words), nothing());
}

#[test]
fn one_file_picks_error_statuses() {
    let sources = below("api/src");
    let mut picked = Vec::new();
    for source in sources.iter().filter(|source| source.path != "api/src/problem.rs") {
        for (opening, fine) in [
            (
                "HttpResponse::",
                &["Ok", "Created", "NoContent", "SeeOther", "NotModified", "build", "from_error"][..],
            ),
            ("StatusCode::", &["OK", "CREATED", "NOT_MODIFIED", "from_u16"][..]),
        ] {
            for after in source.code.split(opening).skip(1) {
                let end =
                    after.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(after.len());
                if !fine.contains(&&after[..end]) {
                    picked.push(format!("{}: {opening}{}", source.path, &after[..end]));
                }
            }
        }
    }
    assert_eq!(picked, nothing());
}

#[test]
fn one_file_makes_the_clock() {
    let sources = below("api/src");
    let others = sources.iter().filter(|source| source.path != "api/src/app.rs");
    assert_eq!(naming(others, &["Utc::now", "Local::now", "SystemTime::now"]), nothing());
}

#[test]
fn the_command_line_reads_the_environment() {
    let sources = below("api/src");
    let others = sources.iter().filter(|source| {
        !source.path.starts_with("api/src/cli/") && source.path != "api/src/config.rs"
    });
    assert_eq!(naming(others, &["std::env", "env::var", "from_default_env"]), nothing());
}

/// Statements are built by diesel, which binds what was sent. Text becomes a
/// statement in `db` alone, as it stands there; what is put together is the lines
/// that are counted here, of numbers and names of our own.
#[test]
fn no_statement_is_put_together_from_what_was_sent() {
    let put_together = [("api/src/db/conn.rs", 1)];
    let mut found = Vec::new();
    for source in below("api/src") {
        let mut formatted = 0;
        for opening in ["sql_query(", "batch_execute(", "sql::<", "dsl::sql(", "SqlLiteral"] {
            for (_, rest) in
                source.code.match_indices(opening).map(|(at, _)| source.code.split_at(at))
            {
                if !source.path.starts_with("api/src/db/") {
                    found.push(format!("{}: {opening}", source.path));
                }
                let statement = rest.split(';').next().unwrap();
                formatted += usize::from(statement.contains("format!"));
            }
        }
        let allowed = put_together.iter().find(|(path, _)| *path == source.path);
        if formatted != allowed.map_or(0, |(_, count)| *count) {
            found.push(format!("{}: {formatted} statements are put together", source.path));
        }
    }
    assert_eq!(found, nothing());
}
