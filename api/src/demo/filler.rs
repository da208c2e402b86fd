//! Ordinary visits: what a shop does all day, and what comes back of it.

use analytics::words::{Disposition, Finding, JobKind, Outcome, PartRole, Payer};

use super::catalog::parts::{AIR_FILTER, CABIN_FILTER, OIL_FILTER};
use super::catalog::{self, ANY, Template, check_minutes};
use super::dice::Dice;
use super::planned::{Back, Keys, Planned};
use super::sheet::{Minutes, Sheet, Step, flat_rate, ordinary, part_line};

/// An ordinary complaint of that symptom, repaired.
pub(super) fn line(template: &Template, week: usize, keys: &mut Keys, dice: &mut Dice) -> Planned {
    let fix = template.fix(dice);
    let sheet = ordinary(template, &fix, dice);
    Planned::new(keys.next(), week, template.makes, sheet)
}

/// Weeks from a repair to its return, at most seven: so that it lies within 60
/// days whatever the days in their weeks.
pub(super) fn weeks_to_return(dice: &mut Dice) -> usize {
    dice.weighted([(5, 1), (6, 2), (5, 3), (4, 4), (3, 5), (3, 6), (2, 7)]).unwrap_or(1)
}

/// Lets an ordinary visit come back in a later week, by its first job.
pub(super) fn come_back(
    first: &mut Planned,
    week: usize,
    keys: &mut Keys,
    dice: &mut Dice,
) -> Planned {
    let sheet = first.sheets.first();
    let part = sheet.and_then(|sheet| sheet.parts.first()).map(|line| (line.part, line.place));
    let reused = sheet
        .and_then(|sheet| sheet.parts.first())
        .is_some_and(|line| !line.disposition.is_replaced());
    let reason = reason(part.is_some(), reused, dice);
    let template = catalog::of(first.symptom().unwrap_or_default());
    let mut again = line(template, week, keys, dice);
    let same_part = matches!(reason, "part-defective" | "part-reused-failed" | "workmanship");
    if let Some(sheet) = again.sheets.first_mut() {
        sheet.payer =
            if reason == "part-defective" { Payer::Supplier } else { Payer::OwnGuarantee };
        if let (true, Some((part, place))) = (same_part, part) {
            let mut line = part_line(part, Disposition::ReplacedNew, PartRole::Suspect, dice);
            line.place = place;
            sheet.place = place;
            sheet.parts = vec![line];
            sheet.cause = Some(match reason {
                "part-defective" => "part-defective-new",
                "workmanship" => "misassembled",
                _ => "cleaning-incomplete",
            });
            sheet.correction = Some("Same part found at fault again, replaced, road tested");
        }
    }
    again.back = Some(Back { of: first.key, reason });
    first.comes_back = true;
    again
}

fn reason(has_part: bool, reused: bool, dice: &mut Dice) -> &'static str {
    let defective = if has_part && !reused { 5 } else { 0 };
    let failed = if has_part && reused { 9 } else { 0 };
    dice.weighted([
        (4, "misdiagnosis"),
        (4, "diagnosis-incomplete"),
        (3, "second-cause-present"),
        (5, "workmanship"),
        (defective, "part-defective"),
        (failed, "part-reused-failed"),
        (2, "calibration-missed"),
        (3, "intermittent-not-reproduced"),
        (1, "write-up-unclear"),
        (1, "not-yet-known"),
    ])
    .unwrap_or("not-yet-known")
}

/// A complaint that did not end in a repair.
pub(super) fn unrepaired(
    template: &Template,
    week: usize,
    keys: &mut Keys,
    dice: &mut Dice,
) -> Planned {
    let outcome = dice.weighted([
        (4, Outcome::Declined),
        (5, Outcome::NotReproduced),
        (4, Outcome::NoFaultFound),
        (3, Outcome::TemporaryRepair),
        (2, Outcome::Sublet),
        (2, Outcome::PlannedSecondVisit),
    ]);
    let outcome = outcome.unwrap_or(Outcome::NotReproduced);
    let mut planned = line(template, week, keys, dice);
    if let Some(sheet) = planned.sheets.first_mut() {
        let worked = matches!(outcome, Outcome::TemporaryRepair | Outcome::PlannedSecondVisit);
        sheet.outcome = Some(outcome);
        sheet.correction = Some(match outcome {
            Outcome::Declined => "Customer declined the estimate; nothing done",
            Outcome::NotReproduced => {
                "Could not be reproduced; customer asked to note when it happens"
            }
            Outcome::NoFaultFound => "No fault found; behaves as others of its kind",
            Outcome::TemporaryRepair => "Made safe to drive; lasting repair advised",
            Outcome::PlannedSecondVisit => "Part ordered, second visit agreed",
            Outcome::Sublet => "Sent to a specialist, work checked on return",
            Outcome::Repaired => "Repaired",
        });
        if !worked {
            sheet.cause = None;
            sheet.place = None;
            sheet.parts.clear();
            sheet.minutes = Minutes { diagnosis: sheet.minutes.diagnosis, ..Minutes::default() };
            sheet.operation = "diagnosis";
            sheet.flat_rate = flat_rate(sheet.minutes.total());
        }
        if outcome != Outcome::TemporaryRepair {
            for step in &mut sheet.steps {
                if outcome != Outcome::Declined && step.finding == Some(Finding::Abnormal) {
                    step.finding = Some(Finding::Normal);
                }
            }
        }
    }
    planned
}

/// An oil change.
pub(super) fn oil_change(dice: &mut Dice) -> Sheet {
    let minutes = Minutes::of([4, dice.between(18, 24), 4, 3]);
    let mut sheet = Sheet::plain(JobKind::Maintenance, "oil-change", minutes);
    sheet.flat_rate = 60;
    sheet.correction = Some("Oil and filter changed, levels set, tire pressures set");
    sheet.parts.push(part_line(&OIL_FILTER, Disposition::ReplacedNew, PartRole::Wish, dice));
    for filter in [&AIR_FILTER, &CABIN_FILTER] {
        if dice.percent(15) {
            sheet.parts.push(part_line(filter, Disposition::ReplacedNew, PartRole::Wish, dice));
        }
    }
    sheet
}

/// Maintenance by itself.
pub(super) fn maintenance(week: usize, keys: &mut Keys, dice: &mut Dice) -> Planned {
    Planned::new(keys.next(), week, ANY, oil_change(dice))
}

/// A campaign of the maker's.
pub(super) fn recall(week: usize, keys: &mut Keys, dice: &mut Dice) -> Planned {
    let minutes = Minutes::of([6, dice.between(20, 34), 6, 8]);
    let mut sheet = Sheet::plain(JobKind::Recall, "campaign-work", minutes);
    sheet.flat_rate = 80;
    sheet.payer = Payer::Maker;
    sheet.correction = Some("Campaign carried out after the maker's notice");
    Planned::new(keys.next(), week, ANY, sheet)
}

/// Preparation of a new vehicle that passes.
pub(super) fn preparation(week: usize, keys: &mut Keys, dice: &mut Dice) -> Planned {
    let minutes = Minutes::of([0, dice.between(28, 36), 0, 15]);
    let mut sheet = Sheet::plain(JobKind::Preparation, "new-vehicle-preparation", minutes);
    sheet.payer = Payer::Internal;
    sheet.correction = Some("Prepared after the list, all readings within limits");
    let volts = f64::from(dice.between(1262, 1285)) / 100.0;
    let mut resting = Step::new(
        "terminals-resting-voltage",
        Finding::Normal,
        check_minutes("terminals-resting-voltage"),
    );
    resting.reading = Some((volts, "V"));
    sheet.checked(vec![resting]);
    sheet.flat_rate = flat_rate(sheet.minutes.total());
    Planned::new(keys.next(), week, ANY, sheet)
}
