//! Story 7: new vehicles. Gravity of six cells with the temperature of the
//! electrolyte; the limits and corrections are for the program to apply.

use analytics::words::{Finding, JobKind, Payer};

use super::{Maker, monday_and_friday};
use crate::demo::calendar::{FRIDAY, MONDAY};
use crate::demo::catalog::ANY;
use crate::demo::planned::Planned;
use crate::demo::sheet::{Minutes, Sheet, Step, flat_rate};

const CHECK: &str = "gravity-six-cells";
const CELLS: [&str; 6] = ["cell 1", "cell 2", "cell 3", "cell 4", "cell 5", "cell 6"];

/// Corrected by -0.008 at 60 degF: cell 4 is 0.030 below the best.
const HADDENBY: [f64; 6] = [1.276, 1.272, 1.274, 1.246, 1.275, 1.273];
/// Looks full; corrected it is 1.246.
const CORVANE: [f64; 6] = [1.254; 6];
const CORVANE_CHARGED: [f64; 6] = [1.275, 1.274, 1.276, 1.275, 1.274, 1.275];
/// On arrival, and 46 days of standing later: 0.046 lower.
const LIRREN_ARRIVED: [f64; 6] = [1.274, 1.273, 1.275, 1.274, 1.274, 1.273];
const LIRREN_STOOD: [f64; 6] = [1.228, 1.227, 1.229, 1.228, 1.228, 1.227];
const LIRREN_CHARGED: [f64; 6] = [1.273, 1.272, 1.274, 1.273, 1.273, 1.272];

pub(super) fn plant(maker: &mut Maker<'_>) -> Vec<Planned> {
    let serials = maker.serial;
    maker.serial += 3;
    let haddenby = maker.garage.add_unused(2, serials);
    let corvane = maker.garage.add_unused(0, serials + 1);
    let lirren = maker.garage.add_unused(3, serials + 2);
    let arrival = monday_and_friday(maker.weeks, 19);
    let low = Finding::Abnormal;
    let good = Finding::Normal;
    let refused = "One cell too low against the others; battery refused, replacement ordered";
    let charged =
        "Read low once corrected for temperature; charged slowly overnight and measured again";
    let arrived = "Measured on arrival, put into storage";
    let stood = "Stood 46 days without a charge; charged and measured again";
    let mut visits = vec![
        visit(maker, haddenby, 12, &[(HADDENBY, low)], refused),
        visit(maker, corvane, 24, &[(CORVANE, low), (CORVANE_CHARGED, good)], charged),
        visit(maker, lirren, arrival, &[(LIRREN_ARRIVED, good)], arrived),
        visit(maker, lirren, arrival + 6, &[(LIRREN_STOOD, low), (LIRREN_CHARGED, good)], stood),
    ];
    // From a Monday to the Friday six weeks later: 46 days.
    for (visit, day) in visits.iter_mut().skip(2).zip([MONDAY, FRIDAY]) {
        visit.day = Some(day);
    }
    visits
}

fn visit(
    maker: &mut Maker<'_>,
    vehicle: usize,
    week: usize,
    rounds: &[([f64; 6], Finding)],
    correction: &'static str,
) -> Planned {
    let minutes = Minutes::of([0, 30, 0, 15]);
    let mut sheet = Sheet::plain(JobKind::Preparation, "new-vehicle-preparation", minutes);
    sheet.payer = Payer::Internal;
    sheet.correction = Some(correction);
    sheet.checked(rounds.iter().flat_map(|(cells, finding)| round(*cells, *finding)).collect());
    sheet.flat_rate = flat_rate(sheet.minutes.total());
    maker.garage.book(vehicle, &[week], &[]);
    let mut visit = Planned::new(maker.keys.next(), week, ANY, sheet);
    visit.vehicle = Some(vehicle);
    visit
}

/// One round over the cells: the temperature first, two minutes a cell.
fn round(cells: [f64; 6], finding: Finding) -> Vec<Step> {
    let mut temperature = Step::new(CHECK, finding, 0);
    temperature.position = Some("electrolyte");
    temperature.minutes = None;
    temperature.reading = Some((60.0, "[degF]"));
    let lowest = cells.iter().copied().fold(f64::INFINITY, f64::min);
    let cells = CELLS.iter().zip(cells).map(|(cell, reading)| {
        let is_low = finding == Finding::Abnormal && reading < lowest + 0.004;
        let finding = if is_low { Finding::Abnormal } else { Finding::Normal };
        let mut step = Step::new(CHECK, finding, 2);
        step.position = Some(cell);
        step.reading = Some((reading, "1"));
        step
    });
    std::iter::once(temperature).chain(cells).collect()
}
