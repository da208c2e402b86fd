//! Story 2: the battery runs down. Terminals and resting voltage looked at
//! first in 79 cases: median 34 minutes to the cause, 2 wrong parts. Skipped in
//! 41, mostly on Fridays after 15:00: 71 minutes, 6 wrong parts.

use std::ops::Range;

use analytics::words::{Disposition, Finding, PartRole, Payer};

use super::{Maker, with_friday};
use crate::demo::COLD_SPELL;
use crate::demo::catalog::parts::{ALTERNATOR, BATTERY, BELT, CABLE, Part, RELAY};
use crate::demo::catalog::{ANY, check_minutes};
use crate::demo::dice::Dice;
use crate::demo::filler::weeks_to_return;
use crate::demo::garage::Wanted;
use crate::demo::planned::Planned;
use crate::demo::sheet::{Minutes, Sheet, Step, flat_rate, part_line};

/// How often, how many wrong parts, how many on a late Friday, the median
/// minutes and how far they lie apart from it.
struct Habit {
    checks: &'static [&'static [&'static str]],
    count: usize,
    wrong: usize,
    late: usize,
    median: i32,
    reach: i32,
}

const FIRST: Habit = Habit {
    checks: &[
        &["terminals-resting-voltage", "battery-load", "charging-voltage", "key-off-drain"],
        &["terminals-resting-voltage", "charging-voltage", "battery-load", "key-off-drain"],
        &["terminals-resting-voltage", "battery-load", "key-off-drain"],
    ],
    count: 79,
    wrong: 2,
    late: 4,
    median: 34,
    reach: 13,
};

const SKIPPED: Habit = Habit {
    checks: &[
        &["battery-load", "key-off-drain", "drain-trace"],
        &["charging-voltage", "battery-load", "key-off-drain", "drain-trace"],
        &["key-off-drain", "drain-trace", "battery-load"],
    ],
    count: 41,
    wrong: 6,
    late: 31,
    median: 71,
    reach: 20,
};

const SYMPTOM: &str = "charge.battery-flat";
const WORDS: &[&str] = &[
    "Flat after a weekend of standing",
    "Needs a jump start every other day",
    "Dead again this morning, the battery is not old",
];

/// Cause, operation, part, minutes of repair.
type Cure = (&'static str, &'static str, Option<&'static Part>, i32);

const CURES: &[(u32, Cure)] = &[
    (5, ("terminal-corroded", "battery-terminals-clean", None, 18)),
    (4, ("battery-worn", "battery-replace", Some(&BATTERY), 16)),
    (4, ("key-off-drain", "drain-repair", Some(&RELAY), 26)),
    (2, ("alternator-fault", "alternator-replace", Some(&ALTERNATOR), 34)),
    (2, ("belt-slack", "drive-belt-replace", Some(&BELT), 20)),
];

/// The check that shows a cause; the last one of the job where it was not done.
const SHOWN_BY: &[(&str, &str)] = &[
    ("terminal-corroded", "terminals-resting-voltage"),
    ("battery-worn", "battery-load"),
    ("key-off-drain", "drain-trace"),
    ("key-off-drain", "key-off-drain"),
    ("alternator-fault", "charging-voltage"),
    ("belt-slack", "charging-voltage"),
];

/// What is put in when the cause was not the battery.
const WRONG: Cure = ("battery-worn", "battery-replace", Some(&BATTERY), 16);

pub(super) fn plant(maker: &mut Maker<'_>, pool: Range<usize>) -> Vec<Planned> {
    // One car on a late Friday at most, so that it can be done that day.
    let mut fridays = with_friday(maker.weeks);
    maker.dice.shuffle(&mut fridays);
    let mut planned = Vec::new();
    for habit in [&SKIPPED, &FIRST] {
        let late = fridays.split_off(fridays.len().saturating_sub(habit.late));
        planned.extend(cases(maker, habit, late, pool.clone()));
    }
    planned
}

fn cases(
    maker: &mut Maker<'_>,
    habit: &Habit,
    late: Vec<usize>,
    pool: Range<usize>,
) -> Vec<Planned> {
    let others = habit.count - late.len();
    // Twice as many in the cold.
    let cold = |week| {
        if COLD_SPELL.contains(&(week + 1)) { 2 } else { 1 }
    };
    let other_weeks = maker.spread(others, cold);
    let weeks = late.iter().map(|week| (*week, true));
    let weeks: Vec<(usize, bool)> =
        weeks.chain(other_weeks.into_iter().map(|week| (week, false))).collect();
    let wrong = maker.marks(habit.wrong, habit.count);
    let mut minutes = around(habit.median, habit.reach, habit.count);
    maker.dice.shuffle(&mut minutes);
    let mut planned = Vec::new();
    for (((week, late), wrong), minutes) in weeks.into_iter().zip(wrong).zip(minutes) {
        let sheet = first_sheet(habit, minutes, wrong, maker.dice);
        let mut first = Planned::new(maker.keys.next(), week, ANY, sheet);
        first.late = late;
        let after = weeks_to_return(maker.dice);
        let visits = if wrong { vec![week, week + after] } else { vec![week] };
        let wanted = Wanted { makes: ANY, weeks: &visits, symptoms: &[SYMPTOM] };
        first.vehicle = Some(maker.garage.choose(maker.dice, pool.clone(), &wanted));
        let back = wrong.then(|| {
            let sheet = return_sheet(maker.dice);
            maker.back(&mut first, after, "misdiagnosis", sheet)
        });
        planned.push(first);
        planned.extend(back);
    }
    planned
}

/// An odd number of minutes on both sides of a median, as many above as below.
pub(super) fn around(median: i32, reach: i32, count: usize) -> Vec<i32> {
    let half = i32::try_from(count / 2).unwrap_or(1).max(1);
    (-half..=half).map(|i| median + i * reach / half).collect()
}

/// Shares `total` minutes among checks by their typical minutes.
fn share(total: i32, checks: &[&'static str]) -> Vec<i32> {
    let typical: i32 = checks.iter().map(|check| check_minutes(check)).sum();
    let mut left = total;
    let mut shares: Vec<i32> = checks
        .iter()
        .map(|check| {
            let minutes = (total * check_minutes(check) / typical.max(1)).max(1);
            left -= minutes;
            minutes
        })
        .collect();
    if let Some(last) = shares.last_mut() {
        *last += left;
    }
    shares
}

fn showing(cause: &str, checks: &[&'static str]) -> Option<&'static str> {
    let mut fitting = SHOWN_BY.iter().filter(|(of, check)| *of == cause && checks.contains(check));
    fitting.next().map(|(_, check)| *check).or(checks.last().copied())
}

fn first_sheet(habit: &Habit, diagnosis: i32, wrong: bool, dice: &mut Dice) -> Sheet {
    let cure = dice.weighted(CURES.iter().copied()).filter(|_| !wrong);
    let (cause, operation, part, work) = cure.unwrap_or(WRONG);
    let complaint = dice.pick(WORDS).copied().unwrap_or_default();
    let minutes = Minutes::of([dice.about(5), dice.about(work), dice.about(5), dice.about(8)]);
    let mut sheet = Sheet::repaired(SYMPTOM, complaint, cause, operation, minutes);
    let checks = dice.pick(habit.checks).copied().unwrap_or_default();
    let showing = showing(cause, checks);
    let steps = checks.iter().zip(share(diagnosis, checks)).map(|(check, minutes)| {
        let shows = Some(*check) == showing;
        let finding = if shows { Finding::Abnormal } else { Finding::Normal };
        Step::new(check, finding, minutes)
    });
    sheet.checked(steps.collect());
    // The guide knows the good order only.
    sheet.flat_rate = flat_rate(FIRST.median + 5 + work + 5 + 8);
    sheet.correction = Some(match part {
        Some(_) => "Part replaced, no drain left, battery charged",
        None => "Terminals cleaned and tightened, resting voltage good",
    });
    if let Some(part) = part {
        let line = part_line(part, Disposition::ReplacedNew, PartRole::Suspect, dice);
        sheet.place = line.place;
        sheet.parts.push(line);
    }
    sheet
}

/// The return shows in another way, so that it is no 121st case.
fn return_sheet(dice: &mut Dice) -> Sheet {
    let (symptom, complaint) = if dice.percent(70) {
        ("start.no-crank", "New battery from you, and it does not start again")
    } else {
        ("charge.light", "Battery light on now, with the new battery")
    };
    let minutes = Minutes::of([dice.about(6), dice.about(24), dice.about(6), dice.about(8)]);
    let mut sheet =
        Sheet::repaired(symptom, complaint, "cable-resistance", "battery-cable-replace", minutes);
    sheet.payer = Payer::OwnGuarantee;
    sheet.correction = Some("The battery had been good; cable with a poor joint replaced");
    let steps = ["terminals-resting-voltage", "voltage-drop-cranking"];
    let steps =
        steps.map(|check| Step::new(check, Finding::Abnormal, dice.about(check_minutes(check))));
    sheet.checked(steps.to_vec());
    let line = part_line(&CABLE, Disposition::ReplacedNew, PartRole::Suspect, dice);
    sheet.place = line.place;
    sheet.parts.push(line);
    sheet
}
