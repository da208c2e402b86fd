//! Story 4: ignition coils. Of lot Q17 from Quarry Lane Auto Parts 22 were fitted
//! and 6 came back within 45 days; of 118 from elsewhere 3 did.

use analytics::words::{Disposition, Finding, PartRole, Payer};

use super::Maker;
use crate::demo::SUPPLIERS;
use crate::demo::catalog::parts::COIL;
use crate::demo::catalog::{GASOLINE, check_minutes};
use crate::demo::dice::Dice;
use crate::demo::filler::weeks_to_return;
use crate::demo::planned::Planned;
use crate::demo::sheet::{Minutes, Sheet, Step, flat_rate, part_line};

pub(in crate::demo) const LOT: &str = "Q17";
const FROM_LOT: (usize, usize) = (22, 6);
const ELSEWHERE: (usize, usize) = (118, 3);
/// The lot was in the shop from here, for nine weeks.
const LOT_FIRST_WEEK: usize = 17;
const LOT_LAST_WEEK: usize = 25;

const WORDS: &[&str] = &[
    "Jerks when I pull uphill",
    "Check-engine light flashes on the ramp",
    "Runs on three, it feels like",
];

pub(super) fn plant(maker: &mut Maker<'_>) -> Vec<Planned> {
    let mut planned = Vec::new();
    for (from_lot, (count, returns)) in [(true, FROM_LOT), (false, ELSEWHERE)] {
        let vehicles = maker.vehicles(count, &[0, 2, 1]);
        let weeks = maker.spread(count, |week| {
            u32::from(!from_lot || (LOT_FIRST_WEEK..=LOT_LAST_WEEK).contains(&week))
        });
        let marks = maker.marks(returns, count);
        for ((vehicle, week), returns) in vehicles.zip(weeks).zip(marks) {
            let sheet = first_sheet(from_lot, maker.dice);
            let mut first = Planned::new(maker.keys.next(), week, GASOLINE, sheet);
            first.vehicle = Some(vehicle);
            let back = returns.then(|| {
                // Five weeks at most: within 45 days on any days of their weeks.
                let after = weeks_to_return(maker.dice).min(5);
                let sheet = return_sheet(&first, maker.dice);
                let reason = if from_lot { "misdiagnosis" } else { "part-defective" };
                maker.back(&mut first, after, reason, sheet)
            });
            planned.push(first);
            planned.extend(back);
        }
    }
    planned
}

fn sheet(complaint: &'static str, dice: &mut Dice) -> Sheet {
    let minutes = Minutes::of([dice.about(10), dice.about(14), dice.about(8), dice.about(12)]);
    let mut sheet = Sheet::repaired(
        "engine.misfire",
        complaint,
        "coil-failed",
        "ignition-coil-replace",
        minutes,
    );
    sheet.correction = Some("Coil replaced, misfire gone, moved with the coil in the swap test");
    let steps = [("read-codes", Finding::Normal), ("plug-coil", Finding::Abnormal)];
    let steps =
        steps.map(|(check, finding)| Step::new(check, finding, dice.about(check_minutes(check))));
    sheet.checked(steps.to_vec());
    sheet.flat_rate = flat_rate(33 + 10 + 14 + 8 + 12);
    sheet
}

fn first_sheet(from_lot: bool, dice: &mut Dice) -> Sheet {
    let complaint = dice.pick(WORDS).copied().unwrap_or_default();
    let mut sheet = sheet(complaint, dice);
    let mut line = part_line(&COIL, Disposition::ReplacedNew, PartRole::Suspect, dice);
    line.source = Some(if from_lot {
        (SUPPLIERS[2], LOT.to_owned())
    } else if dice.percent(60) {
        (SUPPLIERS[0], format!("NC{:02}", dice.between(41, 58)))
    } else {
        (SUPPLIERS[1], format!("PC{:02}", dice.between(11, 19)))
    });
    sheet.place = line.place;
    sheet.parts.push(line);
    sheet
}

/// The return: the same coil is replaced again. Where the new one came from was
/// not noted, so that it counts for no supplier and no lot.
fn return_sheet(first: &Planned, dice: &mut Dice) -> Sheet {
    let mut sheet = sheet("Jerks again, just as before", dice);
    sheet.payer = Payer::OwnGuarantee;
    sheet.correction = Some("Same cylinder, coil replaced again from the counter");
    let mut line = part_line(&COIL, Disposition::ReplacedNew, PartRole::Suspect, dice);
    line.place = first.sheets.first().and_then(|sheet| sheet.place);
    line.source = None;
    sheet.place = line.place;
    sheet.parts.push(line);
    sheet
}
