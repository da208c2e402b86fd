//! The page of a list of readings: its lines, limits and sources, its versions,
//! and the forms that change it.

use actix_web::{HttpRequest, HttpResponse};
use analytics::preparation::{Bound, Kind, Line};
use askama::Template;

use super::lists::{self, ReadingListVersion, ShownReadingList};
use super::page::is_for;
use super::page_sheet::{ToldLimit, limits};
use super::starting::Purpose;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::ReadingListId;
use crate::domain::refusal::Refusal;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::web::body::Parts;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried};
use crate::web::notice::{Did, Notice};
use crate::web::page::{self, Viewer};
use crate::web::words::{self, Pick};

/// A list by its address: the shop's own, or a starting one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Named {
    Own(ReadingListId),
    Starting(Purpose),
}

impl Named {
    /// Reads the address.
    ///
    /// # Errors
    /// Not found where it is neither.
    pub fn parse(text: &str) -> Result<Self, Problem> {
        let own = ReadingListId::parse(text).map(Self::Own);
        own.or_else(|| Purpose::parse(text).map(Self::Starting)).ok_or_else(Problem::not_found)
    }
}

/// A line as it is read and changed.
struct ToldLine {
    key: String,
    label: String,
    kind: &'static str,
    is_measured: bool,
    is_cells: bool,
    is_yes_no: bool,
    how: Option<String>,
    limits: Vec<ToldLimit>,
    source: Option<String>,
    instruction: Option<String>,
    cautions: Vec<String>,
    one_of: Option<String>,
    blank: Fields,
}

const fn kind_word(kind: Kind) -> &'static str {
    match kind {
        Kind::Number => "number",
        Kind::Cells => "numbers, one for each",
        Kind::YesNo => "yes or no",
        Kind::Words => "words",
    }
}

/// Names of the fields of each limit, of its source and its edition.
pub const LIMIT_FIELDS: [(Bound, &str, &str, &str); 4] = [
    (Bound::Least, "least", "least_source", "least_edition"),
    (Bound::Most, "most", "most_source", "most_edition"),
    (Bound::MeanLeast, "mean_least", "mean_least_source", "mean_least_edition"),
    (Bound::SpreadMost, "spread_most", "spread_most_source", "spread_most_edition"),
];

/// A line's form as it stands.
fn blank(line: &Line) -> Fields {
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    let mut fields = Fields::of(&[
        ("key", line.key.clone()),
        ("label", line.label.clone()),
        ("kind", line.kind.as_str().to_owned()),
        ("unit", text(&line.unit)),
        ("cells", line.cells.map(|cells| cells.to_string()).unwrap_or_default()),
        ("how", text(&line.how)),
        ("source", text(&line.source)),
        ("edition", text(&line.edition)),
        ("instruction", text(&line.instruction)),
        ("cautions", line.cautions.join("\n")),
        ("one_of", text(&line.one_of)),
        ("repeat_days", line.repeat_days.map(|days| days.to_string()).unwrap_or_default()),
        (
            "plausible_least",
            line.plausible_least.map(|value| value.to_string()).unwrap_or_default(),
        ),
        ("plausible_most", line.plausible_most.map(|value| value.to_string()).unwrap_or_default()),
        ("whole", if line.whole { "yes" } else { "" }.to_owned()),
        ("always", if line.always { "yes" } else { "" }.to_owned()),
        (
            "expects",
            match line.expects {
                Some(true) => "yes",
                Some(false) => "no",
                None => "",
            }
            .to_owned(),
        ),
    ]);
    for (bound, value, source, edition) in LIMIT_FIELDS {
        if let Some(limit) = line.limit(bound) {
            fields = fields
                .with(value, limit.value.to_string())
                .with(source, limit.source.clone())
                .with(edition, text(&limit.edition));
        }
    }
    fields
}

impl ToldLine {
    fn of(line: &Line) -> Self {
        Self {
            key: line.key.clone(),
            label: line.label.clone(),
            kind: kind_word(line.kind),
            is_measured: line.kind.is_measured(),
            is_cells: line.kind == Kind::Cells,
            is_yes_no: line.kind == Kind::YesNo,
            how: line.how.clone(),
            limits: limits(line),
            source: line.source.clone(),
            instruction: line.instruction.clone(),
            cautions: line.cautions.clone(),
            one_of: line.one_of.clone(),
            blank: blank(line),
        }
    }
}

struct ToldVersion {
    number: i32,
    said: String,
    reason: Option<String>,
    lines: Vec<ToldLine>,
}

#[derive(Template)]
#[template(path = "reading_list.html")]
pub struct ListPage {
    viewer: Viewer,
    notice: Option<Notice>,
    shop: String,
    place: String,
    /// What a copy is made of: an id or the word of a starting list.
    from: String,
    version: Option<i32>,
    name: String,
    of: String,
    purpose: &'static str,
    state: String,
    lines: Vec<ToldLine>,
    earlier: Vec<ToldVersion>,
    writes: bool,
    kinds: Vec<Pick>,
    units: Vec<Pick>,
    tried: Option<Tried>,
}

impl ListPage {
    /// A form of the page; that of a new line is not the one of a line that stands.
    fn form(&self, name: &str) -> FormView {
        let of_line = |tried: &&Tried| !tried.fields.typed("line").is_empty();
        let tried = self.tried.as_ref().filter(|tried| !of_line(tried));
        FormView::of(name, tried, Fields::default())
    }

    fn line(&self, line: &ToldLine) -> FormView {
        FormView::of_line("line", &line.key, self.tried.as_ref(), line.blank.clone())
    }

    fn refused(&self) -> Option<FormView> {
        let tried = self.tried.as_ref()?;
        Some(FormView::of(tried.form, Some(tried), Fields::default()))
    }

    fn refused_form(&self) -> String {
        self.tried.as_ref().map_or_else(String::new, |tried| match tried.fields.typed("line") {
            "" => tried.form.to_owned(),
            line => format!("line-{line}"),
        })
    }

    /// What a new line may have: everything, since its kind is chosen with it.
    fn new_line(&self) -> ToldLine {
        ToldLine {
            key: String::new(),
            label: String::new(),
            kind: "",
            is_measured: true,
            is_cells: true,
            is_yes_no: true,
            how: None,
            limits: Vec::new(),
            source: None,
            instruction: None,
            cautions: Vec::new(),
            one_of: None,
            blank: Fields::default(),
        }
    }

    /// The units, with the one that stands.
    fn units_with(&self, stands: &str) -> Vec<Pick> {
        let mut units = self.units.clone();
        if !stands.is_empty() && units.iter().all(|unit| unit.value != stands) {
            units.push(Pick::new(stands, stands));
        }
        units
    }
}

struct Loaded {
    words: Words,
    own: Option<(ShownReadingList, Vec<ReadingListVersion>)>,
}

fn load(conn: &mut Conn, shop: &Shop, now: UtcStamp, named: &Named) -> Answer<Loaded> {
    let words = Words::load(conn, shop, now)?;
    let own = match named {
        Named::Starting(_) => None,
        Named::Own(id) => {
            let list = lists::by_id(conn, shop.id, id)?;
            let mut versions = lists::versions(conn, shop.id, id)?.into_iter();
            let stands = versions.next().ok_or(Refusal::NotFound)?;
            Some((ShownReadingList { list, stands }, versions.collect()))
        }
    };
    Ok(Loaded { words, own })
}

fn told_version(version: &ReadingListVersion, words: &Words) -> ToldVersion {
    let who = words.name(version.person_id.as_ref()).unwrap_or_default();
    ToldVersion {
        number: version.number,
        said: format!("{who}, {}", words.moment(version.made_at)),
        reason: version.reason.clone(),
        lines: version.lines.iter().map(ToldLine::of).collect(),
    }
}

fn told(did: Option<&Did>) -> Option<Notice> {
    let text = match did?.word.as_str() {
        "list-made" => "The list is the shop's own now.",
        "list-changed" => "The list is changed. Sheets under way keep the lines they began with.",
        "list-withdrawn" => "The list is withdrawn. Its sheets stay.",
        _ => return None,
    };
    Some(Notice::plain(text))
}

fn purpose_word(purpose: &str) -> &'static str {
    match Purpose::parse(purpose) {
        Some(Purpose::HandOver) => "Read before a vehicle is handed over after work.",
        _ => "Read of new vehicles, and of those that waited.",
    }
}

/// The page of a list.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn view(
    ctx: &Ctx,
    named: Named,
    (did, tried): (Option<Did>, Option<Tried>),
) -> Result<ListPage, Problem> {
    let (now, wanted) = (ctx.now, named.clone());
    let Loaded { words, own } = ctx.read(move |conn, shop| load(conn, shop, now, &wanted)).await?;
    let viewer = Viewer::of(ctx);
    let shop = words.shop.code.clone();
    let (from, lines): (String, Vec<ToldLine>) = match (&named, &own) {
        (Named::Own(id), Some((shown, _))) => {
            (id.to_string(), shown.stands.lines.iter().map(ToldLine::of).collect())
        }
        (Named::Starting(purpose), _) => {
            (purpose.as_str().to_owned(), purpose.lines().iter().map(ToldLine::of).collect())
        }
        (Named::Own(_), None) => return Err(Problem::not_found()),
    };
    let list = own.as_ref().map(|(shown, _)| &shown.list);
    let stands = list.is_some_and(|list| list.withdrawn_at.is_none());
    let word = match &named {
        Named::Starting(purpose) => purpose.as_str(),
        Named::Own(_) => list.map_or("", |list| list.purpose.as_str()),
    };
    let starting = Purpose::parse(word).map_or("", Purpose::name);
    Ok(ListPage {
        notice: told(did.as_ref()),
        place: format!("/shops/{shop}/preparation/lists/{from}"),
        from,
        version: list.map(|list| list.version),
        name: list.map_or_else(|| starting.to_owned(), |list| list.name.clone()),
        of: list.map_or_else(|| "all vehicles".to_owned(), |list| is_for(list, &words)),
        purpose: purpose_word(word),
        state: match &own {
            None => "starting list, until the shop has its own".to_owned(),
            Some((shown, _)) => match shown.list.withdrawn_at {
                Some(at) => format!("withdrawn {}", words.moment(at)),
                None => format!("version {}", shown.stands.number),
            },
        },
        lines,
        earlier: own
            .iter()
            .flat_map(|(_, earlier)| earlier.iter().map(|version| told_version(version, &words)))
            .collect(),
        writes: viewer.writes_rules && (stands || own.is_none()),
        kinds: Kind::ALL
            .into_iter()
            .map(|kind| Pick::new(kind.as_str(), kind_word(kind)))
            .collect(),
        units: words::units(),
        viewer,
        shop,
        tried,
    })
}

/// One list.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn one(
    ctx: Ctx,
    req: HttpRequest,
    parts: Parts<(String, String)>,
) -> Result<HttpResponse, Problem> {
    let named = Named::parse(&parts.0.1)?;
    page::html(&view(&ctx, named, (Did::of(&req), None)).await?)
}
