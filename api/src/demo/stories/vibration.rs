//! Story 8: fix what returns. One vehicle in three times for the same shaking:
//! tires balanced, disc replaced, and at last the bent rim, a look of ten
//! minutes.

use analytics::words::{Disposition, Finding, PartRole, Payer};

use super::Maker;
use crate::demo::catalog::OSTRELLE;
use crate::demo::catalog::parts::DISC;
use crate::demo::planned::Planned;
use crate::demo::sheet::{Minutes, Sheet, Step, part_line};

const SYMPTOM: &str = "steering.vibration";
const WEEK: usize = 19;

pub(super) fn plant(maker: &mut Maker<'_>) -> Vec<Planned> {
    let vehicle = maker.garage.add_known(maker.dice, 1, 2025, "ZZDB2E7B5ST000233");
    maker.garage.book(vehicle, &[WEEK, WEEK + 3, WEEK + 7], &["steering"]);
    let mut first = Planned::new(maker.keys.next(), WEEK, OSTRELLE, balance());
    first.vehicle = Some(vehicle);
    let mut disc = disc();
    let line = part_line(&DISC, Disposition::ReplacedNew, PartRole::Suspect, maker.dice);
    disc.place = line.place;
    disc.parts.push(line);
    let mut second = maker.back(&mut first, 3, "misdiagnosis", disc);
    let third = maker.back(&mut second, 4, "diagnosis-incomplete", rim());
    vec![first, second, third]
}

fn balance() -> Sheet {
    let mut sheet = Sheet::repaired(
        SYMPTOM,
        "Steering wheel shakes at sixty",
        "wheel-balance",
        "wheels-balance",
        Minutes::of([4, 22, 4, 15]),
    );
    sheet.correction = Some("All four wheels balanced");
    sheet.checked(vec![
        Step::new("road-test", Finding::Abnormal, 15),
        Step::new("balance-runout", Finding::Abnormal, 40),
    ]);
    sheet
}

fn disc() -> Sheet {
    let mut sheet = Sheet::repaired(
        SYMPTOM,
        "Still shakes at sixty, no better",
        "disc-out-of-true",
        "brake-discs-replace",
        Minutes::of([8, 32, 8, 15]),
    );
    sheet.payer = Payer::OwnGuarantee;
    sheet.correction = Some("Rotor out of true, replaced");
    sheet.checked(vec![
        Step::new("road-test", Finding::Abnormal, 15),
        Step::new("disc-runout", Finding::Abnormal, 25),
    ]);
    sheet
}

fn rim() -> Sheet {
    let mut sheet = Sheet::repaired(
        SYMPTOM,
        "Third time now: it shakes at sixty",
        "wheel-bent",
        "wheel-replace",
        Minutes::of([5, 20, 5, 15]),
    );
    sheet.payer = Payer::OwnGuarantee;
    sheet.place = Some("front left");
    sheet.correction = Some("Bent rim seen on the lift, wheel replaced, no shaking on the road");
    sheet.checked(vec![
        Step::new("road-test", Finding::Abnormal, 15),
        Step::new("visual-underneath", Finding::Abnormal, 10),
    ]);
    sheet
}
