//! What is written on one job, before it has a place in time.

use analytics::words::{Disposition, Finding, JobKind, Outcome, PartRole, Payer};

use super::catalog::parts::Part;
use super::catalog::{Fix, Template, check_minutes};
use super::dice::Dice;

/// One check.
#[derive(Debug, Clone)]
pub(super) struct Step {
    pub check: &'static str,
    pub position: Option<&'static str>,
    pub finding: Option<Finding>,
    pub minutes: Option<i32>,
    /// Value and unit (UCUM).
    pub reading: Option<(f64, &'static str)>,
}

impl Step {
    pub const fn new(check: &'static str, finding: Finding, minutes: i32) -> Self {
        Self {
            check,
            position: None,
            finding: Some(finding),
            minutes: Some(minutes),
            reading: None,
        }
    }
}

/// One part.
#[derive(Debug, Clone)]
pub(super) struct PartLine {
    pub part: &'static Part,
    pub place: Option<&'static str>,
    /// Pieces.
    pub quantity: i64,
    pub disposition: Disposition,
    pub role: PartRole,
    /// Supplier and lot.
    pub source: Option<(&'static str, String)>,
    /// Bench-test reading after cleaning, and its unit.
    pub bench: Option<(f64, &'static str)>,
}

/// Minutes by activity.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Minutes {
    pub diagnosis: i32,
    pub access: i32,
    pub repair: i32,
    pub reassembly: i32,
    pub proof: i32,
}

impl Minutes {
    pub const fn total(self) -> i32 {
        self.diagnosis + self.access + self.repair + self.reassembly + self.proof
    }

    pub const fn of([access, repair, reassembly, proof]: [i32; 4]) -> Self {
        Self { diagnosis: 0, access, repair, reassembly, proof }
    }
}

/// A job without its place in time.
#[derive(Debug, Clone)]
pub(super) struct Sheet {
    pub kind: JobKind,
    pub symptom: Option<&'static str>,
    pub complaint: Option<&'static str>,
    pub outcome: Option<Outcome>,
    pub cause: Option<&'static str>,
    pub place: Option<&'static str>,
    pub correction: Option<&'static str>,
    pub operation: &'static str,
    /// Hundredths of an hour by the time guide.
    pub flat_rate: i64,
    pub payer: Payer,
    pub steps: Vec<Step>,
    pub parts: Vec<PartLine>,
    pub minutes: Minutes,
}

impl Sheet {
    /// A job that is no complaint.
    pub const fn plain(kind: JobKind, operation: &'static str, minutes: Minutes) -> Self {
        Self {
            kind,
            symptom: None,
            complaint: None,
            outcome: None,
            cause: None,
            place: None,
            correction: None,
            operation,
            flat_rate: flat_rate(minutes.total()),
            payer: Payer::Customer,
            steps: Vec::new(),
            parts: Vec::new(),
            minutes,
        }
    }

    /// A repaired complaint, its checks still to come.
    pub const fn repaired(
        symptom: &'static str,
        complaint: &'static str,
        cause: &'static str,
        operation: &'static str,
        minutes: Minutes,
    ) -> Self {
        let mut sheet = Self::plain(JobKind::Complaint, operation, minutes);
        sheet.symptom = Some(symptom);
        sheet.complaint = Some(complaint);
        sheet.outcome = Some(Outcome::Repaired);
        sheet.cause = Some(cause);
        sheet
    }

    /// Enters the checks; their minutes are the diagnosis.
    pub fn checked(&mut self, steps: Vec<Step>) {
        self.minutes.diagnosis = steps.iter().filter_map(|step| step.minutes).sum();
        self.steps = steps;
    }

    /// Whether it counts in a comeback share.
    pub fn is_line(&self) -> bool {
        self.kind == JobKind::Complaint && self.outcome == Some(Outcome::Repaired)
    }
}

/// What a time guide gives for work that takes `minutes`: the demo shop beats
/// its guides by about a sixth, in steps of 0.05 h. Hundredths of an hour.
pub(super) const fn flat_rate(minutes: i32) -> i64 {
    let hundredths = minutes as i64 * 117 / 60;
    let steps = (hundredths + 2) / 5 * 5;
    if steps < 20 { 20 } else { steps }
}

/// The checks up to the one that finds the cause; now and then one is skipped.
fn walk(template: &Template, found_by: usize, dice: &mut Dice) -> Vec<Step> {
    let mut checks: Vec<&'static str> = template.checks.iter().copied().take(found_by).collect();
    if checks.len() > 2 && dice.percent(22) {
        checks.remove(dice.place(checks.len() - 1));
    }
    let last = checks.len().saturating_sub(1);
    checks
        .into_iter()
        .enumerate()
        .map(|(i, check)| {
            let finding = match (i == last, dice.percent(6)) {
                (true, _) => Finding::Abnormal,
                (false, true) => Finding::Inconclusive,
                (false, false) => Finding::Normal,
            };
            Step::new(check, finding, dice.about(check_minutes(check)))
        })
        .collect()
}

/// A part line, at one of the part's positions.
pub(super) fn part_line(
    part: &'static Part,
    disposition: Disposition,
    role: PartRole,
    dice: &mut Dice,
) -> PartLine {
    PartLine {
        part,
        place: dice.pick(part.places).copied(),
        quantity: 1,
        disposition,
        role,
        source: disposition.is_replaced().then(|| source(dice)),
        bench: None,
    }
}

/// A supplier and one of its lots.
fn source(dice: &mut Dice) -> (&'static str, String) {
    match dice.between(0, 9) {
        0..=4 => (super::SUPPLIERS[0], format!("NG{:03}", dice.between(200, 280))),
        5..=7 => {
            (super::SUPPLIERS[1], format!("P{:02}-{}", dice.between(10, 50), dice.between(1, 4)))
        }
        _ => (super::SUPPLIERS[2], format!("QL{:02}", dice.between(20, 60))),
    }
}

/// A repaired job after the catalog.
pub(super) fn ordinary(template: &Template, fix: &Fix, dice: &mut Dice) -> Sheet {
    let guide: i32 = template.checks.iter().take(fix.found_by).map(|c| check_minutes(c)).sum();
    let nominal = Minutes::of(fix.minutes);
    let minutes = Minutes::of(fix.minutes.map(|minutes| dice.about(minutes)));
    let complaint = dice.pick(template.words).copied().unwrap_or_default();
    let mut sheet = Sheet::repaired(template.symptom, complaint, fix.cause, fix.operation, minutes);
    sheet.flat_rate = flat_rate(guide + nominal.total());
    sheet.correction = Some(fix.correction);
    sheet.payer = match dice.between(1, 100) {
        1..=88 => Payer::Customer,
        89..=97 => Payer::Maker,
        _ => Payer::Goodwill,
    };
    let steps = walk(template, fix.found_by, dice);
    sheet.checked(steps);
    if let Some((part, disposition)) = fix.part {
        let line = part_line(part, disposition, PartRole::Suspect, dice);
        sheet.place = line.place;
        sheet.parts.push(line);
    }
    if let Some((part, disposition)) = fix.beside {
        sheet.parts.push(part_line(part, disposition, PartRole::Bystander, dice));
    }
    sheet
}
