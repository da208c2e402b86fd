//! What a page's form sent: read field by field with a fault for each that
//! cannot be taken, and kept as typed, so that the page can be shown again.

use std::str::FromStr;

use actix_web::HttpResponse;
use askama::Template;
use serde::Deserialize;
use uuid::Uuid;

use super::ctx::Ctx;
use crate::domain::decimal::parse_scaled;
use crate::domain::money::Currency;
use crate::domain::refusal::FieldFault;
use crate::problem::{Kind, Problem};

/// A form's names and values as they came.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(transparent)]
pub struct Fields(Vec<(String, String)>);

impl Fields {
    /// Values that a page fills in before anybody has typed.
    #[must_use]
    pub fn of(pairs: &[(&str, String)]) -> Self {
        Self(pairs.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect())
    }

    /// The same, with one value in place of what the field held.
    #[must_use]
    pub fn with(mut self, name: &str, value: impl Into<String>) -> Self {
        self.0.retain(|(other, _)| other != name);
        self.0.push((name.to_owned(), value.into()));
        self
    }

    /// What was typed; empty where the field was not sent.
    #[must_use]
    pub fn typed(&self, name: &str) -> &str {
        self.0.iter().find(|(n, _)| n == name).map_or("", |(_, value)| value)
    }

    /// What was typed, trimmed; absent where that is nothing.
    #[must_use]
    pub fn text(&self, name: &str) -> Option<String> {
        let text = self.typed(name).trim();
        (!text.is_empty()).then(|| text.to_owned())
    }

    /// Whether the form has the field, filled or not.
    #[must_use]
    pub fn holds(&self, name: &str) -> bool {
        self.0.iter().any(|(n, _)| n == name)
    }

    /// Every value of a field that may be ticked several times.
    #[must_use]
    pub fn all(&self, name: &str) -> Vec<String> {
        self.0.iter().filter(|(n, _)| n == name).map(|(_, value)| value.clone()).collect()
    }
}

/// Reads fields and collects what is wrong with them.
pub struct Reader<'a> {
    fields: &'a Fields,
    faults: Vec<FieldFault>,
}

impl<'a> Reader<'a> {
    #[must_use]
    pub fn new(fields: &'a Fields) -> Self {
        Self { fields, faults: Vec::new() }
    }

    /// Text, where something was typed.
    #[must_use]
    pub fn text(&self, name: &str) -> Option<String> {
        self.fields.text(name)
    }

    /// Every value of a field that may be ticked several times.
    #[must_use]
    pub fn all(&self, name: &str) -> Vec<String> {
        self.fields.all(name)
    }

    fn fault(&mut self, name: &str, code: &'static str, detail: impl Into<String>) {
        self.faults.push(FieldFault::new(name, code, detail));
    }

    /// A whole number. Blanks and commas between thousands are taken.
    pub fn whole<T: FromStr>(&mut self, name: &str) -> Option<T> {
        let text: String =
            self.text(name)?.chars().filter(|c| !c.is_whitespace() && *c != ',').collect();
        let number = text.parse().ok();
        if number.is_none() {
            self.fault(name, "number", "write a whole number, such as 12");
        }
        number
    }

    /// A number with a decimal point.
    pub fn decimal(&mut self, name: &str) -> Option<f64> {
        let number = self.text(name)?.parse().ok().filter(|n: &f64| n.is_finite());
        if number.is_none() {
            self.fault(name, "number", "write a number, such as 12.4");
        }
        number
    }

    /// Hundredths of a number such as 1.25.
    pub fn hundredths(&mut self, name: &str) -> Option<i64> {
        let text = self.text(name)?;
        parse_scaled(&text, 2).map_err(|fault| self.fault(name, "number", fault.to_string())).ok()
    }

    /// Tenths of a number such as 12.5.
    pub fn tenths<T: TryFrom<i64>>(&mut self, name: &str) -> Option<T> {
        let text = self.text(name)?;
        let tenths = parse_scaled(&text, 1).map_err(|fault| fault.to_string());
        let fits = |value| T::try_from(value).map_err(|_| "write a smaller number".to_owned());
        tenths.and_then(fits).map_err(|why| self.fault(name, "number", why)).ok()
    }

    /// A field that must not be empty, and what to do where it is.
    pub fn require(&mut self, name: &str, what: &str) {
        if self.text(name).is_none() {
            self.fault(name, "required", what);
        }
    }

    /// Says that a field cannot be taken, where its reader found that out.
    pub fn refuse(&mut self, name: &str, why: &str) {
        self.fault(name, "word", why);
    }

    /// Minor units of an amount.
    pub fn amount(&mut self, name: &str, money: &Currency) -> Option<i64> {
        let text = self.text(name)?;
        money.read_amount(&text).map_err(|fault| self.fault(name, "number", fault.to_string())).ok()
    }

    /// A word of a fixed list, or an id.
    pub fn word<T>(&mut self, name: &str, parse: impl Fn(&str) -> Option<T>) -> Option<T> {
        let value = parse(&self.text(name)?);
        if value.is_none() {
            self.fault(name, "word", "choose one of the list");
        }
        value
    }

    /// As [`Self::word`], but an answer is owed.
    pub fn owed<T>(&mut self, name: &str, parse: impl Fn(&str) -> Option<T>) -> Option<T> {
        if self.text(name).is_none() {
            self.fault(name, "required", "choose one");
        }
        self.word(name, parse)
    }

    /// What was read, or everything that is wrong.
    ///
    /// # Errors
    /// The faults; where there are none, `value` is there.
    pub fn finish<T>(self, value: Option<T>) -> Result<T, Problem> {
        match value {
            Some(value) if self.faults.is_empty() => Ok(value),
            _ => Err(Problem::invalid(self.faults)),
        }
    }
}

/// A form that was refused: which one, what was typed, and why.
#[derive(Debug, Clone)]
pub struct Tried {
    pub form: &'static str,
    pub fields: Fields,
    pub problem: Problem,
}

/// One form of a page, blank or as it was refused.
#[derive(Debug, Clone, Default)]
pub struct FormView {
    name: String,
    fields: Fields,
    /// Why it was refused, a sentence each.
    pub reasons: Vec<String>,
    faults: Vec<FieldFault>,
}

impl FormView {
    /// The form of that name: as typed where it is the refused one.
    #[must_use]
    pub fn of(name: &str, tried: Option<&Tried>, blank: Fields) -> Self {
        match tried.filter(|tried| tried.form == name) {
            Some(tried) => Self {
                name: name.to_owned(),
                fields: tried.fields.clone(),
                reasons: reasons(&tried.problem),
                faults: tried.problem.errors.clone(),
            },
            None => Self { name: name.to_owned(), fields: blank, ..Self::default() },
        }
    }

    /// As [`Self::of`], for a form that sends every field of its record: where
    /// somebody else changed that meanwhile it shows what stands, since sending
    /// it as typed would undo their change in fields that nobody touched here.
    #[must_use]
    pub fn of_record(name: &str, tried: Option<&Tried>, blank: Fields) -> Self {
        let own = tried.filter(|tried| tried.form == name);
        let stale = own.is_some_and(|tried| tried.problem.kind == Kind::STALE);
        let standing = stale.then(|| blank.clone());
        let form = Self::of(name, tried, blank);
        match standing {
            Some(fields) => Self { fields, ..form },
            None => form,
        }
    }

    /// The form of one line of many: as typed where it is the refused one's, by
    /// its hidden field `line`.
    #[must_use]
    pub fn of_line(name: &str, line: &str, tried: Option<&Tried>, blank: Fields) -> Self {
        let own = tried.filter(|tried| tried.fields.typed("line") == line);
        Self { name: format!("{name}-{line}"), ..Self::of_record(name, own, blank) }
    }

    /// An id that no other form's field has.
    #[must_use]
    pub fn id(&self, field: &str) -> String {
        format!("{}-{field}", self.name)
    }

    #[must_use]
    pub fn typed(&self, field: &str) -> &str {
        self.fields.typed(field)
    }

    /// Whether a box is ticked, or a choice chosen.
    #[must_use]
    pub fn holds(&self, field: &str, value: &str) -> bool {
        self.fields.0.iter().any(|(n, v)| n == field && v == value)
    }

    /// What is wrong with a field.
    #[must_use]
    pub fn fault(&self, field: &str) -> Option<&str> {
        let about = |fault: &&FieldFault| fault.pointer.split('/').any(|part| part == field);
        self.faults.iter().find(about).map(|fault| fault.detail.as_str())
    }

    /// A new key, so that sending the form twice acts once.
    #[must_use]
    pub fn once(&self) -> String {
        Uuid::now_v7().to_string()
    }
}

/// The sentences of a problem, with the names of the fields they are about.
#[must_use]
pub fn reasons(problem: &Problem) -> Vec<String> {
    if problem.kind == Kind::STALE {
        return vec![
            "Somebody else changed this meanwhile. It is shown as it stands now: look at it, then \
             send your entry again."
                .to_owned(),
        ];
    }
    if problem.errors.is_empty() {
        return vec![sentence(&problem.detail)];
    }
    problem
        .errors
        .iter()
        .map(|fault| {
            let named = fault.pointer.split('/').rfind(|part| part.parse::<usize>().is_err());
            match named.unwrap_or_default() {
                "" => sentence(&fault.detail),
                field => sentence(&format!("{}: {}", field_name(field), fault.detail)),
            }
        })
        .collect()
}

/// A field's name as the page says it.
fn field_name(field: &str) -> String {
    let bare = ["_minor", "_hundredths", "_id"]
        .iter()
        .find_map(|end| field.strip_suffix(end))
        .unwrap_or(field);
    match bare {
        "vin" => "VIN".to_owned(),
        "pin" => "PIN".to_owned(),
        "ceiling_permille" => "ceiling for returns of a cleaned part".to_owned(),
        "assumed_cleaned_suspect_permille" => "cleaned suspect, percent".to_owned(),
        "assumed_bystander_tested_permille" => "tested bystander, percent".to_owned(),
        "assumed_bystander_untested_permille" => "untested bystander, percent".to_owned(),
        "assumed_replaced_permille" => "replaced part, percent".to_owned(),
        "links_from" => "comebacks kept from".to_owned(),
        "cause_how" => "how the cause was confirmed".to_owned(),
        "authorized" => "amount agreed to".to_owned(),
        "authorized_by" => "by whom".to_owned(),
        "window_days" => "comeback window".to_owned(),
        "happens_when" => "when it happens".to_owned(),
        "known" => "VIN or plate".to_owned(),
        other => other.replace('_', " "),
    }
}

/// With a capital letter and a full stop.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    let end = if text.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{first}{}{end}", letters.as_str())
}

/// Whether the page is shown again with the problem, rather than left.
#[must_use]
pub fn mendable(problem: &Problem) -> bool {
    [Kind::INVALID, Kind::CONFLICT, Kind::STALE, Kind::KEY_REUSED].contains(&problem.kind)
}

/// The page again, with what is wrong.
///
/// # Errors
/// Where the template cannot be rendered.
pub fn refused(problem: &Problem, page: &impl Template) -> Result<HttpResponse, Problem> {
    let html = page.render().map_err(|error| Problem::new(Kind::INTERNAL, error.to_string()))?;
    Ok(problem.page(html))
}

impl Ctx {
    /// Takes a form: it must come from our own page, and what it does happens
    /// once under the key it carries.
    ///
    /// # Errors
    /// Forbidden.
    pub fn take(&mut self, fields: &Fields) -> Result<(), Problem> {
        self.own_form(fields.typed("form_token"))?;
        self.key = fields.text("once");
        Ok(())
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn fields(text: &str) -> Fields {
        serde_urlencoded::from_str(text).unwrap()
    }

    #[test]
    fn empty_fields_are_absent_and_boxes_come_several_times() {
        let sent = fields("note=+&when=idle&when=hot&minutes=1%2C200");
        assert_eq!(sent.text("note"), None);
        assert_eq!(sent.all("when"), ["idle", "hot"]);
        let mut read = Reader::new(&sent);
        assert_eq!(read.whole::<i32>("minutes"), Some(1200));
        assert_eq!(read.whole::<i32>("absent"), None);
        assert!(read.finish(Some(())).is_ok());
    }

    #[test]
    fn every_fault_is_told_at_once() {
        let sent = fields("minutes=soon&reading=NaN&flat_rate_hundredths=1.255");
        let mut read = Reader::new(&sent);
        assert_eq!(read.whole::<i32>("minutes"), None);
        assert_eq!(read.decimal("reading"), None);
        assert_eq!(read.hundredths("flat_rate_hundredths"), None);
        assert_eq!(read.owed("finding", |_| Some(())), None);
        let problem = read.finish(Some(())).unwrap_err();
        let told = reasons(&problem);
        assert_eq!(told.len(), 4);
        assert!(told.contains(&"Flat rate: write at most 2 decimals.".to_owned()));
        let tried = Tried { form: "checks", fields: sent, problem };
        let view = FormView::of("checks", Some(&tried), Fields::default());
        assert_eq!(view.typed("minutes"), "soon");
        assert!(view.fault("minutes").is_some() && view.fault("code").is_none());
        assert!(FormView::of("parts", Some(&tried), Fields::default()).reasons.is_empty());
    }

    #[test]
    fn a_fault_deep_in_a_write_up_finds_its_field() {
        let problem =
            Problem::invalid(vec![FieldFault::new("jobs/0/complaint", "required", "write it")]);
        assert_eq!(reasons(&problem), ["Complaint: write it."]);
        let tried = Tried { form: "write-up", fields: Fields::default(), problem };
        let view = FormView::of("write-up", Some(&tried), Fields::default());
        assert_eq!(view.fault("complaint"), Some("write it"));
    }
}
