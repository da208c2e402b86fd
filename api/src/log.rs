//! The log: one line for each thing, whatever stands in it. Who came in, who was
//! turned away and why is logged under a name of its own, [`ACCESS`]. No password,
//! PIN or token is handed to it, no text that a stranger typed for a name, and no
//! address's query.

use std::fmt::Write;
use std::net::IpAddr;

use tracing::{Dispatch, dispatcher};
use tracing_subscriber::EnvFilter;
use tracing_subscriber::field::MakeExt;
use tracing_subscriber::fmt::{MakeWriter, format};

use crate::config::{Config, LogForm};
use crate::domain::ids::PersonId;

/// What lines of coming in and being turned away stand under.
const ACCESS: &str = "access";

/// Begins the log on standard error.
pub fn begin(config: &Config) {
    let form = config.log_form();
    let on_terminal = std::io::IsTerminal::is_terminal(&std::io::stderr());
    // A second log in one process is refused, and that is well.
    drop(dispatcher::set_global_default(lines(form, config.log(), on_terminal, std::io::stderr)));
    if form == LogForm::Json {
        // What breaks down is told in a line of the log, too.
        std::panic::set_hook(Box::new(|panic| tracing::error!(%panic, "broken")));
    }
}

/// What writes the lines.
fn lines<W>(form: LogForm, asked: &str, on_terminal: bool, to: W) -> Dispatch
where
    W: for<'a> MakeWriter<'a> + Send + Sync + 'static,
{
    let fields = format::debug_fn(field).delimited(" ");
    let log = tracing_subscriber::fmt()
        .with_env_filter(filter(asked))
        .with_ansi(on_terminal && form != LogForm::Json)
        .with_writer(to);
    match form {
        LogForm::Full => log.fmt_fields(fields).into(),
        LogForm::Compact => log.compact().fmt_fields(fields).into(),
        LogForm::Json => log.json().flatten_event(true).into(),
    }
}

/// What is logged: as asked, and who comes in unless that is spoken of.
fn filter(asked: &str) -> EnvFilter {
    let filter = EnvFilter::try_new(asked).unwrap_or_else(|_| EnvFilter::new("warn"));
    if asked.contains(ACCESS) {
        return filter;
    }
    match format!("{ACCESS}=info").parse() {
        Ok(directive) => filter.add_directive(directive),
        Err(_) => filter,
    }
}

/// Writes a field on its line: what would begin another one, or move a terminal's
/// cursor, is written out.
fn field(
    to: &mut format::Writer<'_>,
    field: &tracing::field::Field,
    value: &dyn std::fmt::Debug,
) -> std::fmt::Result {
    if field.name() != "message" {
        write!(to, "{}=", field.name())?;
    }
    write!(OneLine(to), "{value:?}")
}

struct OneLine<'a, 'b>(&'a mut format::Writer<'b>);

impl Write for OneLine<'_, '_> {
    fn write_str(&mut self, text: &str) -> std::fmt::Result {
        for letter in text.chars() {
            if moves(letter) {
                write!(self.0, "{}", letter.escape_default())?;
            } else {
                self.0.write_char(letter)?;
            }
        }
        Ok(())
    }
}

/// Control characters, and those that break or turn a line around.
fn moves(letter: char) -> bool {
    letter.is_control()
        || matches!(letter, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Somebody has come in.
pub fn came_in(who: &PersonId, way: &str, from: IpAddr) {
    tracing::info!(target: ACCESS, what = "sign-in", way, %who, %from, "came in");
}

/// A try to come in that was turned away. A name that nobody has may be a password
/// typed into the wrong field: it is not logged.
pub fn kept_out(who: Option<&PersonId>, way: &str, from: IpAddr, why: &str) {
    let who = who.map_or("unknown", PersonId::as_str);
    tracing::warn!(target: ACCESS, what = "sign-in", way, who, %from, why, "kept out");
}

/// Something was done with one's own ways in.
pub fn done(who: &PersonId, what: &str, from: IpAddr) {
    tracing::info!(target: ACCESS, what, %who, %from, "done");
}

/// A request that was turned away. The route's own words are logged, never what
/// the address says.
pub fn turned_away(who: Option<&PersonId>, what: &Asked<'_>, from: IpAddr, why: &str) {
    let who = who.map_or("unknown", PersonId::as_str);
    let (method, route, request_id) = (what.method, what.route, what.request_id);
    tracing::warn!(target: ACCESS, what = "request", method, route, request_id, who, %from, why,
        "turned away");
}

/// A request, as it is logged.
pub struct Asked<'a> {
    pub method: &'a str,
    pub route: &'a str,
    pub request_id: &'a str,
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use std::sync::{Arc, Mutex};

    use super::*;

    /// Text that would begin another line, move a cursor or end a JSON text.
    const BREAKER: &str = "a\r\nb\u{1b}[2Jc\u{85}d\u{2028}e\u{202e}f\0g\"}\n{\"what\":\"sign-in\"";

    #[derive(Clone, Default)]
    struct Paper(Arc<Mutex<Vec<u8>>>);

    impl std::io::Write for Paper {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().extend_from_slice(bytes);
            Ok(bytes.len())
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    /// Two lines with the breaker in every way that a field is written.
    fn written(form: LogForm) -> String {
        let paper = Paper::default();
        let to = paper.clone();
        dispatcher::with_default(&lines(form, "info", false, move || to.clone()), || {
            let error = std::io::Error::other(BREAKER);
            tracing::warn!(shown = %BREAKER, quoted = ?BREAKER, plain = BREAKER, %error, "{BREAKER}");
            tracing::info!("the next line");
        });
        let bytes = paper.0.lock().unwrap().clone();
        String::from_utf8(bytes).unwrap()
    }

    #[test]
    fn nothing_that_is_logged_begins_another_line() {
        for form in [LogForm::Full, LogForm::Compact, LogForm::Json] {
            let text = written(form);
            assert_eq!(text.matches('\n').count(), 2, "{form:?}: {text}");
            assert!(text.ends_with('\n') && text.contains("the next line"), "{form:?}: {text}");
            let stray = |letter: &char| letter.is_ascii_control() && *letter != '\n';
            assert_eq!(text.chars().find(stray), None, "{form:?}: {text}");
        }
        let moving = |letter: char| moves(letter) && letter != '\n';
        assert!(!written(LogForm::Full).contains(moving));
    }

    #[test]
    fn a_line_of_json_is_one_object_with_what_was_logged() {
        let text = written(LogForm::Json);
        let lines: Vec<serde_json::Value> =
            text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        let line = lines.first().unwrap();
        for field in ["shown", "plain", "error", "message"] {
            assert_eq!(line.get(field).unwrap(), BREAKER, "{field}");
        }
        assert!(line.get("timestamp").unwrap().as_str().unwrap().ends_with('Z'));
    }

    #[test]
    fn who_comes_in_is_logged_unless_that_is_spoken_of() {
        assert!(filter("error").to_string().contains("access=info"));
        assert!(!filter("warn,access=off").to_string().contains("access=info"));
    }
}
