//! Story 1: idle air valves. Cleaned as the suspect 38, of which 9 came back;
//! cleaned in passing 96, of which 4; replaced 60, of which 2.

use analytics::words::{Disposition, Finding, PartRole, Payer};

use super::Maker;
use crate::demo::catalog::parts::IDLE_VALVE;
use crate::demo::catalog::{self, CORVANE, HADDENBY, check_minutes};
use crate::demo::dice::Dice;
use crate::demo::filler::weeks_to_return;
use crate::demo::planned::Planned;
use crate::demo::sheet::{Minutes, Sheet, Step, flat_rate, ordinary, part_line};

const CLEANED: (usize, usize) = (38, 9);
const IN_PASSING: (usize, usize) = (96, 4);
const REPLACED: (usize, usize) = (60, 2);

/// Access and reassembly: 30 minutes together, cleaning 20, fitting new 10.
const ACCESS: i32 = 18;
const REASSEMBLY: i32 = 12;
const CLEANING: i32 = 20;
const FITTING: i32 = 10;

const SUSPECT: &[(&str, &[&str])] = &[
    ("engine.idle-rough", &["Idles like a tractor", "Shakes at the lights, then catches itself"]),
    ("engine.stalls", &["Dies when I roll up to a junction", "Stalls when the engine is warm"]),
    ("engine.idle-high", &["Idle hangs up high", "Races when I shift to neutral"]),
];

/// Complaints for which the valve is only in the way.
const PASSING: &[&str] = &["engine.hesitates", "engine.surges", "fuel.smell"];

#[derive(Clone, Copy, PartialEq, Eq)]
enum Case {
    Cleaned,
    InPassing,
    Replaced,
}

pub(super) fn plant(maker: &mut Maker<'_>) -> Vec<Planned> {
    let mut planned = Vec::new();
    for (case, (count, returns)) in
        [(Case::Cleaned, CLEANED), (Case::InPassing, IN_PASSING), (Case::Replaced, REPLACED)]
    {
        // Corvane and Haddenby have such a valve.
        let vehicles = maker.vehicles(count, &[0, 2, 0]);
        let weeks = maker.spread(count, |_| 1);
        let marks = maker.marks(returns, count);
        for ((vehicle, week), returns) in vehicles.zip(weeks).zip(marks) {
            let sheet = first_sheet(case, returns, maker.dice);
            let mut first = Planned::new(maker.keys.next(), week, CORVANE | HADDENBY, sheet);
            first.vehicle = Some(vehicle);
            let back = returns.then(|| {
                let after = weeks_to_return(maker.dice);
                let sheet = return_sheet(case, &first, maker.dice);
                let reason = match case {
                    Case::Cleaned | Case::InPassing => "part-reused-failed",
                    Case::Replaced => "second-cause-present",
                };
                maker.back(&mut first, after, reason, sheet)
            });
            planned.push(first);
            planned.extend(back);
        }
    }
    planned
}

/// The bench reading after cleaning: milliseconds from end to end.
fn travel_time(returns: bool, dice: &mut Dice) -> (f64, &'static str) {
    let (low, high) = if returns { (255, 420) } else { (140, 310) };
    (f64::from(dice.between(low, high)), "ms")
}

fn steps(dice: &mut Dice) -> Vec<Step> {
    [
        ("read-codes", Finding::Normal),
        ("vacuum-gauge", Finding::Normal),
        ("intake-smoke", Finding::Abnormal),
    ]
    .into_iter()
    .map(|(check, finding)| Step::new(check, finding, dice.about(check_minutes(check))))
    .collect()
}

fn first_sheet(case: Case, returns: bool, dice: &mut Dice) -> Sheet {
    let (disposition, role, work) = match case {
        Case::Cleaned => (Disposition::CleanedReused, PartRole::Suspect, CLEANING),
        Case::InPassing => (Disposition::CleanedReused, PartRole::Bystander, CLEANING),
        Case::Replaced => (Disposition::ReplacedNew, PartRole::Suspect, FITTING),
    };
    let mut sheet =
        if case == Case::InPassing { passing_sheet(dice) } else { suspect_sheet(work, dice) };
    sheet.correction = Some(match case {
        Case::Cleaned => "Idle air valve cleaned, bench tested, put back; idle learned anew",
        Case::InPassing => {
            "Complaint cured; idle air valve was off for access, cleaned and put back"
        }
        Case::Replaced => "Idle air valve replaced; idle learned anew",
    });
    let mut line = part_line(&IDLE_VALVE, disposition, role, dice);
    if disposition == Disposition::CleanedReused && (case == Case::Cleaned || dice.percent(80)) {
        line.bench = Some(travel_time(returns, dice));
    }
    sheet.parts.push(line);
    sheet
}

fn suspect_sheet(work: i32, dice: &mut Dice) -> Sheet {
    let (symptom, words) = dice.pick(SUSPECT).copied().unwrap_or(("engine.idle-rough", &[]));
    let complaint = dice.pick(words).copied().unwrap_or_default();
    let operation = if work == CLEANING { "idle-valve-clean" } else { "idle-valve-replace" };
    let minutes = Minutes::of([ACCESS, dice.about(work), REASSEMBLY, dice.about(12)]);
    let mut sheet = Sheet::repaired(symptom, complaint, "idle-valve-stuck", operation, minutes);
    sheet.place = Some("intake");
    let steps = steps(dice);
    sheet.checked(steps);
    // Codes, vacuum and smoke test by their typical minutes.
    sheet.flat_rate = flat_rate(36 + ACCESS + work + REASSEMBLY + 12);
    sheet
}

/// Another complaint, for which the valve comes off.
fn passing_sheet(dice: &mut Dice) -> Sheet {
    let symptom = dice.pick(PASSING).copied().unwrap_or("engine.hesitates");
    let template = catalog::of(symptom);
    let fix = template.fix(dice);
    let mut sheet = ordinary(template, &fix, dice);
    // The valve decides the access here, and its cleaning comes on top.
    sheet.minutes.access = ACCESS;
    sheet.minutes.reassembly = REASSEMBLY;
    sheet.minutes.repair += dice.about(CLEANING);
    sheet.flat_rate += flat_rate(CLEANING);
    sheet
}

/// The return: the valve is the suspect, and is set anew rather than cleaned or
/// replaced, so that it enters none of the three groups a second time.
fn return_sheet(case: Case, first: &Planned, dice: &mut Dice) -> Sheet {
    let symptom = match case {
        Case::InPassing => "engine.stalls",
        Case::Cleaned | Case::Replaced => first.symptom().unwrap_or("engine.idle-rough"),
    };
    let complaint = match case {
        Case::InPassing => "Never stalled before you had it, now it does",
        Case::Cleaned | Case::Replaced => "Same as before, it came back",
    };
    let minutes = Minutes::of([ACCESS, dice.about(15), REASSEMBLY, dice.about(12)]);
    let mut sheet =
        Sheet::repaired(symptom, complaint, "idle-valve-stuck", "idle-valve-set", minutes);
    sheet.place = Some("intake");
    sheet.payer = Payer::OwnGuarantee;
    sheet.correction =
        Some("Idle air valve again; stop set anew and idle learned, new valve on order");
    let steps = steps(dice);
    sheet.checked(steps);
    sheet.parts.push(part_line(&IDLE_VALVE, Disposition::AdjustedReused, PartRole::Suspect, dice));
    sheet
}
