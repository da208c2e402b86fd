//! Jobs that have something in common, and what they are held against.

use std::collections::{BTreeMap, HashSet};

use serde::Serialize;

use crate::comeback::{first_repairs, in_population};
use crate::hashed::HashMap;
use crate::history::{History, NO_NUMBER, NONE};
use crate::select::{Selector, escaped};
use crate::words::Finding;

/// What a warning is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum WarningKind {
    /// A supplier's lot.
    Lot,
    /// A part from one supplier.
    Supplier,
    Model,
    /// A model of one year.
    ModelYear,
    Engine,
    Operation,
    /// A check that is usual for a symptom was not made.
    SkippedCheck,
    /// Somebody whose first job here is half a year old at most.
    NewTechnician,
}

/// Groups of one question: each question has an equal part of the budget of
/// false alarms, whatever the number of its groups.
pub(super) const QUESTIONS: [&[WarningKind]; 6] = [
    &[WarningKind::Lot],
    &[WarningKind::Supplier],
    &[WarningKind::Model, WarningKind::ModelYear, WarningKind::Engine],
    &[WarningKind::Operation],
    &[WarningKind::SkippedCheck],
    &[WarningKind::NewTechnician],
];

impl WarningKind {
    /// Every kind, in the order in which they are listed.
    pub const ALL: [Self; 8] = [
        Self::Lot,
        Self::Supplier,
        Self::Model,
        Self::ModelYear,
        Self::Engine,
        Self::Operation,
        Self::SkippedCheck,
        Self::NewTechnician,
    ];

    /// The word.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Lot => "lot",
            Self::Supplier => "supplier",
            Self::Model => "model",
            Self::ModelYear => "model_year",
            Self::Engine => "engine",
            Self::Operation => "operation",
            Self::SkippedCheck => "skipped_check",
            Self::NewTechnician => "new_technician",
        }
    }

    /// The kind of a word; `None` where there is no such kind.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.as_str() == text)
    }

    /// What selects a group of the kind: keys of the jobs list, in the order of
    /// the group's key.
    #[must_use]
    pub const fn keys(self) -> &'static [&'static str] {
        match self {
            Self::Lot => &["supplier", "lot"],
            Self::Supplier => &["part", "supplier"],
            Self::Model => &["model"],
            Self::ModelYear => &["model", "model_year"],
            Self::Engine => &["engine"],
            Self::Operation => &["operation"],
            Self::SkippedCheck => &["symptom", "skipped_check"],
            Self::NewTechnician => &["technician", "first_repair"],
        }
    }

    /// Whether a text can be the key of a group of this kind.
    #[must_use]
    pub fn takes(self, key: &str) -> bool {
        let keys = key.split('&').map(|pair| pair.split('=').next().unwrap_or_default());
        keys.eq(self.keys().iter().copied()) && Selector::parse(key).is_ok()
    }

    /// The place of its question.
    pub(super) fn question(self) -> usize {
        QUESTIONS.iter().position(|kinds| kinds.contains(&self)).unwrap_or(QUESTIONS.len())
    }

    pub(super) const fn space(self) -> Space {
        match self {
            Self::Lot | Self::Supplier => Space::Part,
            Self::Model | Self::ModelYear | Self::Engine | Self::Operation => Space::Symptom,
            Self::SkippedCheck => Space::Checked,
            Self::NewTechnician => Space::FirstRepair,
        }
    }
}

/// What a group's jobs are held against: jobs alike in this.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Space {
    /// With the same part: what a supplier stands for is its part.
    Part,
    /// Of the same symptom.
    Symptom,
    /// Of the same symptom, with checks in a measured order.
    Checked,
    /// Of the same symptom, first repairs alone: a person answers for a chain
    /// once.
    FirstRepair,
}

impl Space {
    pub const ALL: [Self; 4] = [Self::Part, Self::Symptom, Self::Checked, Self::FirstRepair];
}

/// A job row in a stratum.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Placed {
    pub row: u32,
    pub stratum: u32,
}

/// Jobs with something in common.
#[derive(Debug, Clone)]
pub(super) struct Group {
    pub kind: WarningKind,
    /// What selects them: keys of the jobs list with their values.
    pub pairs: Vec<(&'static str, String)>,
    /// In the order of closing, each job once.
    pub jobs: Vec<Placed>,
    /// Strata in which its jobs stand, too, with other parts: they are not held
    /// against themselves. In the order of closing.
    pub beside: Vec<Placed>,
    /// The day a person's first job here was closed, whatever it was.
    pub since: Option<i32>,
}

impl Group {
    /// One text for the group, whatever the week.
    pub fn key(&self) -> String {
        let pairs = self.pairs.iter().map(|(key, value)| format!("{key}={}", escaped(value)));
        pairs.collect::<Vec<_>>().join("&")
    }
}

/// Codes of texts that name a group within its kind.
type Named = (WarningKind, [i64; 2]);

/// A record sorted into what is scanned.
pub(super) struct Sorted {
    pub groups: Vec<Group>,
    pub spaces: HashMap<Space, Vec<Placed>>,
}

/// Everything of the record that is scanned, of jobs closed between two days;
/// groups by kind and key.
pub(super) fn sorted(history: &History, (first, last): (i32, i32)) -> Sorted {
    let inside = in_population(history);
    // Job rows are in the order of closing.
    let closed = history.jobs().closed_day;
    let end = closed.partition_point(|day| *day <= last);
    let rows = closed.partition_point(|day| *day < first)..end;
    let is_inside =
        |row: u32| rows.contains(&(row as usize)) && inside.get(row as usize) == Some(&true);
    let mut groups: HashMap<Named, Vec<Placed>> = HashMap::default();
    let mut spaces: HashMap<Space, Vec<Placed>> = HashMap::default();
    of_parts(history, &is_inside, &mut groups, &mut spaces);
    of_jobs(history, &is_inside, &mut groups, &mut spaces);
    of_operations(history, &is_inside, &mut groups);
    of_checks(history, &is_inside, &mut groups, &mut spaces);
    of_people(history, &is_inside, &mut groups, &mut spaces);
    for placed in spaces.values_mut() {
        placed.sort_unstable();
        placed.dedup();
    }
    let firsts = first_days(history);
    let parts = spaces.get(&Space::Part).map(Vec::as_slice).unwrap_or_default();
    let mut groups: Vec<Group> = groups
        .into_iter()
        .filter_map(|(named, jobs)| group(history, (&firsts, parts), named, jobs))
        .collect();
    groups.sort_by_cached_key(|group| (group.kind, group.key()));
    Sorted { groups, spaces }
}

/// The day each person's first job was closed, by code.
fn first_days(history: &History) -> HashMap<i64, i32> {
    let jobs = history.jobs();
    let mut firsts = HashMap::default();
    for (&technician, &closed) in jobs.technician.iter().zip(jobs.closed_day) {
        firsts.entry(i64::from(technician)).or_insert(closed);
    }
    firsts
}

fn group(
    history: &History,
    (firsts, parts): (&HashMap<i64, i32>, &[Placed]),
    (kind, [one, two]): Named,
    mut jobs: Vec<Placed>,
) -> Option<Group> {
    jobs.sort_unstable();
    jobs.dedup_by_key(|placed| placed.row);
    let text = |code: i64| Some(history.text(u32::try_from(code).ok()?)?.to_owned());
    let (first, second) = (text(one), text(two));
    let values = match kind {
        WarningKind::Lot => vec![first.unwrap_or_default(), second?],
        WarningKind::Supplier | WarningKind::SkippedCheck => vec![first?, second?],
        WarningKind::ModelYear => vec![first?, two.to_string()],
        WarningKind::NewTechnician => vec![first?, true.to_string()],
        WarningKind::Model | WarningKind::Engine | WarningKind::Operation => vec![first?],
    };
    let pairs = kind.keys().iter().copied().zip(values).collect();
    let since = firsts.get(&one).filter(|_| kind == WarningKind::NewTechnician).copied();
    // A lot may be of several parts; every other group keeps to one stratum a job.
    let beside = if kind == WarningKind::Lot { beside(parts, &jobs) } else { Vec::new() };
    Some(Group { kind, pairs, jobs, beside, since })
}

/// Where else, among all that is placed, the jobs stand.
fn beside(all: &[Placed], jobs: &[Placed]) -> Vec<Placed> {
    let mut beside = Vec::new();
    for own in jobs {
        let first = all.partition_point(|placed| placed.row < own.row);
        let same = all.get(first..).unwrap_or_default().iter();
        let same = same.take_while(|placed| placed.row == own.row);
        beside.extend(same.filter(|placed| placed.stratum != own.stratum));
    }
    beside
}

/// By supplier and by lot; a job with several parts of one group stands for the
/// first of them by name.
fn of_parts(
    history: &History,
    inside: &impl Fn(u32) -> bool,
    groups: &mut HashMap<Named, Vec<Placed>>,
    spaces: &mut HashMap<Space, Vec<Placed>>,
) {
    let parts = history.parts();
    let columns = parts.job.iter().zip(parts.part).zip(parts.supplier.iter().zip(parts.lot));
    let mut uses: Vec<(u32, u32, u32, u32)> = columns
        .filter(|((job, _), _)| inside(**job))
        .map(|((&job, &part), (&supplier, &lot))| (job, part, supplier, lot))
        .collect();
    uses.sort_by_key(|(job, part, ..)| (*job, history.text(*part)));
    let mut by_lot: HashSet<(u32, u32, u32)> = HashSet::new();
    for (row, stratum, supplier, lot) in uses {
        let placed = Placed { row, stratum };
        spaces.entry(Space::Part).or_default().push(placed);
        if supplier != NONE {
            let named = [i64::from(stratum), i64::from(supplier)];
            groups.entry((WarningKind::Supplier, named)).or_default().push(placed);
        }
        // The first part of the lot stands; `uses` are in the order of names.
        if lot != NONE && by_lot.insert((row, supplier, lot)) {
            let named = [i64::from(supplier), i64::from(lot)];
            groups.entry((WarningKind::Lot, named)).or_default().push(placed);
        }
    }
}

fn of_jobs(
    history: &History,
    inside: &impl Fn(u32) -> bool,
    groups: &mut HashMap<Named, Vec<Placed>>,
    spaces: &mut HashMap<Space, Vec<Placed>>,
) {
    let jobs = history.jobs();
    let columns = jobs.symptom.iter().zip(jobs.model).zip(jobs.model_year.iter().zip(jobs.engine));
    for (row, ((&stratum, &model), (&year, &engine))) in (0_u32..).zip(columns) {
        if !inside(row) {
            continue;
        }
        let placed = Placed { row, stratum };
        spaces.entry(Space::Symptom).or_default().push(placed);
        let mut add = |kind, named| groups.entry((kind, named)).or_default().push(placed);
        let nothing = i64::from(NONE);
        if model != NONE {
            add(WarningKind::Model, [i64::from(model), nothing]);
        }
        if model != NONE && year != NO_NUMBER {
            add(WarningKind::ModelYear, [i64::from(model), year]);
        }
        if engine != NONE {
            add(WarningKind::Engine, [i64::from(engine), nothing]);
        }
    }
}

fn of_operations(
    history: &History,
    inside: &impl Fn(u32) -> bool,
    groups: &mut HashMap<Named, Vec<Placed>>,
) {
    let (operations, symptoms) = (history.operations(), history.jobs().symptom);
    for (&row, &code) in operations.job.iter().zip(operations.code) {
        let Some(&stratum) = symptoms.get(row as usize) else { continue };
        if inside(row) && code != NONE {
            let named = [i64::from(code), i64::from(NONE)];
            groups
                .entry((WarningKind::Operation, named))
                .or_default()
                .push(Placed { row, stratum });
        }
    }
}

/// What is known of a job's checks.
#[derive(Default)]
struct Checked {
    /// Those made in a measured order.
    made: HashSet<u32>,
    /// Any was made, and any in a measured order.
    done: bool,
    ordered: bool,
    /// Of one that was not made it was said while the work ran.
    declined: bool,
}

impl Checked {
    /// Whether the order was measured, as the selector has it: why a check was not
    /// made gives those typed in at close none.
    fn measured(&self) -> bool {
        self.ordered || (self.declined && !self.done)
    }
}

/// Jobs of a symptom without a check, for each check that any of them has. Which
/// of them are usual is a matter of the week.
fn of_checks(
    history: &History,
    inside: &impl Fn(u32) -> bool,
    groups: &mut HashMap<Named, Vec<Placed>>,
    spaces: &mut HashMap<Space, Vec<Placed>>,
) {
    let (checks, symptoms) = (history.checks(), history.jobs().symptom);
    let mut done: BTreeMap<u32, Checked> = BTreeMap::new();
    let columns =
        checks.job.iter().zip(checks.check).zip(checks.finding.iter().zip(checks.at_close));
    for ((&row, &check), (&finding, &at_close)) in columns {
        if !inside(row) {
            continue;
        }
        let checked = done.entry(row).or_default();
        let measured = at_close == 0;
        if finding == Finding::NotDone.code() {
            checked.declined |= measured;
            continue;
        }
        checked.done = true;
        checked.ordered |= measured;
        if measured {
            checked.made.insert(check);
        }
    }
    done.retain(|_, checked| checked.measured());
    for row in done.keys() {
        if let Some(&stratum) = symptoms.get(*row as usize).filter(|code| **code != NONE) {
            spaces.entry(Space::Checked).or_default().push(Placed { row: *row, stratum });
        }
    }
    let known = made_ever(history);
    for placed in spaces.get(&Space::Checked).into_iter().flatten() {
        let checked = done.get(&placed.row);
        for check in known.get(&placed.stratum).into_iter().flatten() {
            if checked.is_some_and(|checked| !checked.made.contains(check)) {
                let named = [i64::from(placed.stratum), i64::from(*check)];
                groups.entry((WarningKind::SkippedCheck, named)).or_default().push(*placed);
            }
        }
    }
}

/// By symptom, every check that was ever made in a measured order.
fn made_ever(history: &History) -> HashMap<u32, Vec<u32>> {
    let (checks, symptoms) = (history.checks(), history.jobs().symptom);
    let inside = in_population(history);
    let mut known: HashMap<u32, Vec<u32>> = HashMap::default();
    let mut start = 0;
    for jobs in checks.job.chunk_by(|a, b| a == b) {
        let rows = start..start + jobs.len();
        start = rows.end;
        let at = jobs.first().map_or(0, |row| *row as usize);
        let symptom = symptoms.get(at).filter(|code| **code != NONE);
        let (Some(&symptom), Some(&true)) = (symptom, inside.get(at)) else { continue };
        let made = known.entry(symptom).or_default();
        let columns = (checks.check.get(rows.clone()), checks.finding.get(rows.clone()));
        let (Some(names), Some(findings)) = columns else { continue };
        let at_close = checks.at_close.get(rows).unwrap_or_default();
        for ((check, finding), at_close) in names.iter().zip(findings).zip(at_close) {
            let measured = *at_close == 0 && *finding != Finding::NotDone.code();
            if measured && !made.contains(check) {
                made.push(*check);
            }
        }
    }
    known
}

/// First repairs by who answers for them. Who is new is a matter of the week.
fn of_people(
    history: &History,
    inside: &impl Fn(u32) -> bool,
    groups: &mut HashMap<Named, Vec<Placed>>,
    spaces: &mut HashMap<Space, Vec<Placed>>,
) {
    let jobs = history.jobs();
    let first = first_repairs(history);
    let columns = jobs.symptom.iter().zip(jobs.technician).zip(first);
    for (row, ((&stratum, &technician), &first)) in (0_u32..).zip(columns) {
        if !inside(row) || !first {
            continue;
        }
        let placed = Placed { row, stratum };
        spaces.entry(Space::FirstRepair).or_default().push(placed);
        if technician != NONE {
            let named = [i64::from(technician), i64::from(NONE)];
            groups.entry((WarningKind::NewTechnician, named)).or_default().push(placed);
        }
    }
}
