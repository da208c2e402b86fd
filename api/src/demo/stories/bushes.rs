//! Story 3: front lower arm bushes. The guide gives 1.2 h; 41 jobs took 1.9 h
//! on the mean, whoever did them.

use std::ops::Range;

use analytics::words::{Disposition, Finding, PartRole};

use super::battery::around;
use super::{Maker, leads};
use crate::demo::catalog::ANY;
use crate::demo::catalog::parts::ARM_BUSH;
use crate::demo::dice::Dice;
use crate::demo::garage::Wanted;
use crate::demo::planned::{Apprentice, Planned};
use crate::demo::sheet::{Minutes, Sheet, Step, part_line};

pub(in crate::demo) const OPERATION: &str = "front-lower-arm-bushes";
const COUNT: usize = 41;
/// 1.9 h.
const MEAN_MINUTES: i32 = 114;
const REACH: i32 = 20;
/// 1.2 h, in hundredths.
const GUIDE: i64 = 120;
const PROOF: i32 = 12;

const WORDS: &[(&str, &str)] = &[
    ("suspension.knock", "Knocks from the front over every bump"),
    ("suspension.knock", "Dull thud when I brake on rough roads"),
    ("steering.play", "Steering feels loose, clunks when parking"),
];

pub(super) fn plant(maker: &mut Maker<'_>, pool: Range<usize>) -> Vec<Planned> {
    let weeks = maker.spread(COUNT, |_| 1);
    let mut minutes = around(MEAN_MINUTES, REACH, COUNT);
    maker.dice.shuffle(&mut minutes);
    let mut planned = Vec::new();
    let mut apprentice_in = None;
    for (i, (week, minutes)) in weeks.into_iter().zip(minutes).enumerate() {
        let (symptom, complaint) = maker.dice.pick(WORDS).copied().unwrap_or_default();
        let sheet = sheet(symptom, complaint, minutes, maker.dice);
        let mut visit = Planned::new(maker.keys.next(), week, ANY, sheet);
        let wanted = Wanted { makes: ANY, weeks: &[week], symptoms: &[symptom] };
        visit.vehicle = Some(maker.garage.choose(maker.dice, pool.clone(), &wanted));
        let leads = leads(week);
        visit.lead = Some(leads.start + i % leads.len());
        // Every fourth by the apprentice, once a week at most.
        visit.apprentice = Apprentice::No;
        if i % 4 == 3 && apprentice_in != Some(week) {
            visit.apprentice = Apprentice::Must;
            apprentice_in = Some(week);
        }
        planned.push(visit);
    }
    planned
}

fn sheet(symptom: &'static str, complaint: &'static str, minutes: i32, dice: &mut Dice) -> Sheet {
    // The play is found with the wheel already off: clocked as access, so that
    // the whole clock is the operation's.
    let access = minutes * 30 / 100;
    let reassembly = minutes * 20 / 100;
    let repair = minutes - access - reassembly - PROOF;
    let split = Minutes::of([access, repair, reassembly, PROOF]);
    let mut sheet = Sheet::repaired(symptom, complaint, "bushing-worn", OPERATION, split);
    sheet.flat_rate = GUIDE;
    sheet.correction =
        Some("Front lower control arm bushings pressed out and replaced; bolts rusted fast");
    sheet.steps.push(Step::new("shake-down", Finding::Abnormal, dice.about(15)));
    let mut line = part_line(&ARM_BUSH, Disposition::ReplacedNew, PartRole::Suspect, dice);
    line.quantity = 2;
    sheet.place = line.place;
    sheet.parts.push(line);
    sheet
}
