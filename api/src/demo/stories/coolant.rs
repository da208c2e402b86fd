//! Story 9: coolant goes missing. Of 52 jobs before week 22 the system was put
//! under pressure first on 14, and 15 came back, losing coolant elsewhere. Then
//! the shop takes a rule: pressure first. Of 58 jobs since, 50 keep it, and 3
//! came back.

use std::ops::Range;

use analytics::words::{Disposition, Finding, PartRole, Payer};

use super::{CLOSED_WINDOWS, Maker};
use crate::demo::RULE_WEEK;
use crate::demo::catalog::parts::{COOLANT_HOSE, Part, WATER_PUMP};
use crate::demo::catalog::{ANY, check_minutes};
use crate::demo::dice::Dice;
use crate::demo::filler::weeks_to_return;
use crate::demo::garage::Wanted;
use crate::demo::planned::Planned;
use crate::demo::sheet::{Minutes, Sheet, Step, flat_rate, part_line};

pub const SYMPTOM: &str = "cooling.coolant-loss";
/// What is checked first by the rule.
pub const FIRST_CHECK: &str = "cooling-pressure";

/// Jobs that began alike: when, how, how many, and how many came back.
struct Habit {
    weeks: Range<usize>,
    checks: &'static [&'static [&'static str]],
    count: usize,
    returns: usize,
}

const PRESSURE_FIRST: &[&[&str]] = &[
    &["visual-under-hood", FIRST_CHECK],
    &[FIRST_CHECK, "dye-leak"],
    &["visual-under-hood", FIRST_CHECK, "dye-leak"],
];
const WITHOUT: &[&[&str]] =
    &[&["visual-under-hood"], &["dye-leak"], &["visual-under-hood", "dye-leak"]];

const BEFORE: Range<usize> = 0..RULE_WEEK - 1;
const SINCE: Range<usize> = RULE_WEEK - 1..CLOSED_WINDOWS;

const HABITS: [Habit; 4] = [
    Habit { weeks: BEFORE, checks: PRESSURE_FIRST, count: 14, returns: 1 },
    Habit { weeks: BEFORE, checks: WITHOUT, count: 38, returns: 14 },
    Habit { weeks: SINCE, checks: PRESSURE_FIRST, count: 50, returns: 2 },
    Habit { weeks: SINCE, checks: WITHOUT, count: 8, returns: 1 },
];

const WORDS: &[&str] = &[
    "I top up coolant every week",
    "Puddle of coolant under the front",
    "Coolant level falls, nothing to be seen",
];

/// Cause, operation, part, minutes of access, repair, reassembly, proof.
type Cure = (&'static str, &'static str, &'static Part, [i32; 4]);

const HOSE: Cure = ("hose-or-cap", "coolant-hose-replace", &COOLANT_HOSE, [8, 20, 8, 15]);
const PUMP: Cure = ("water-pump", "water-pump-replace", &WATER_PUMP, [45, 40, 45, 15]);

pub(super) fn plant(maker: &mut Maker<'_>, pool: Range<usize>) -> Vec<Planned> {
    HABITS.iter().flat_map(|habit| cases(maker, habit, pool.clone())).collect()
}

fn cases(maker: &mut Maker<'_>, habit: &Habit, pool: Range<usize>) -> Vec<Planned> {
    let weeks = maker.spread(habit.count, |week| u32::from(habit.weeks.contains(&week)));
    let marks = maker.marks(habit.returns, habit.count);
    let mut planned = Vec::new();
    for (week, returns) in weeks.into_iter().zip(marks) {
        // What comes back had the hose replaced; the pump leaked, too.
        let cure = if returns { HOSE } else { cure(maker.dice) };
        let sheet = first_sheet(habit, cure, maker.dice);
        let mut first = Planned::new(maker.keys.next(), week, ANY, sheet);
        let after = weeks_to_return(maker.dice);
        let visits = if returns { vec![week, week + after] } else { vec![week] };
        let wanted = Wanted { makes: ANY, weeks: &visits, symptoms: &[SYMPTOM] };
        first.vehicle = Some(maker.garage.choose(maker.dice, pool.clone(), &wanted));
        let back = returns.then(|| {
            let sheet = return_sheet(maker.dice);
            maker.back(&mut first, after, "second-cause-present", sheet)
        });
        planned.push(first);
        planned.extend(back);
    }
    planned
}

fn cure(dice: &mut Dice) -> Cure {
    dice.weighted([(4, HOSE), (2, PUMP)]).unwrap_or(HOSE)
}

fn minutes(nominal: [i32; 4], dice: &mut Dice) -> Minutes {
    Minutes::of(nominal.map(|minutes| dice.about(minutes)))
}

fn first_sheet(habit: &Habit, cure: Cure, dice: &mut Dice) -> Sheet {
    let (cause, operation, part, nominal) = cure;
    let complaint = dice.pick(WORDS).copied().unwrap_or_default();
    let mut sheet = Sheet::repaired(SYMPTOM, complaint, cause, operation, minutes(nominal, dice));
    let checks = dice.pick(habit.checks).copied().unwrap_or_default();
    let last = checks.last().copied();
    let steps = checks.iter().map(|check| {
        let finding = if Some(*check) == last { Finding::Abnormal } else { Finding::Normal };
        Step::new(check, finding, dice.about(check_minutes(check)))
    });
    let steps: Vec<Step> = steps.collect();
    sheet.checked(steps);
    sheet.flat_rate = flat_rate(23 + nominal.iter().sum::<i32>());
    sheet.correction = Some("Leaking part replaced, filled and bled");
    let line = part_line(part, Disposition::ReplacedNew, PartRole::Suspect, dice);
    sheet.place = line.place;
    sheet.parts.push(line);
    sheet
}

/// The return shows in another way, so that it is no further case.
fn return_sheet(dice: &mut Dice) -> Sheet {
    let (cause, operation, part, nominal) = PUMP;
    let mut sheet = Sheet::repaired(
        "cooling.cold-heater",
        "No heat now, and the level is low again",
        cause,
        operation,
        minutes(nominal, dice),
    );
    sheet.payer = Payer::OwnGuarantee;
    sheet.correction = Some("The hose had been one leak of two; water pump replaced");
    let step = Step::new(FIRST_CHECK, Finding::Abnormal, dice.about(check_minutes(FIRST_CHECK)));
    sheet.checked(vec![step]);
    let line = part_line(part, Disposition::ReplacedNew, PartRole::Suspect, dice);
    sheet.place = line.place;
    sheet.parts.push(line);
    sheet
}
