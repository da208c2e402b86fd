//! Readings at the hand-over: 23 published readings with what came of them put
//! through a shop's record as readings of its repaired complaints.

use analytics::bench::{Better, Kind, NoCutOff};
use analytics::history::{ReadingRow, ShopFacts};
use analytics::preparation::hand_over::{
    HandOverLine, HandOverQuery, HandOverReport, HandOverTally, hand_over, hand_over_from,
};

use crate::files::{case, close, close_within, table, tell};
use crate::shop::{Shop, day, facts, selected, until};

const LINE: &str = "battery.resting-voltage";

fn ask(as_of: u64) -> HandOverQuery {
    HandOverQuery {
        figures: until(as_of),
        line: None,
        better: Some(Better::Higher),
        hold_minutes: Some(20),
    }
}

/// A repaired complaint that left with a reading.
fn left(shop: &mut Shop, closed: u64, reading: f64, place: Option<&str>) {
    let job = shop.job("start.no-crank", closed);
    shop.rows.readings.push(ReadingRow {
        job,
        line: LINE.to_owned(),
        place: place.map(str::to_owned),
        reading,
        unit: Some("V".to_owned()),
    });
}

/// The 23 flights of Dalal, Fowlkes and Hoadley (1989) JASA 84:945-957 as
/// readings and returns, each so many times.
fn flights(times: usize) -> Shop {
    let (header, rows) = table("orings.csv");
    let column = |name: &str| header.iter().position(|column| column == name).unwrap();
    let (reading, event) = (column("temperature"), column("any_damage"));
    let mut shop = Shop::default();
    for row in rows.iter().cycle().take(rows.len() * times) {
        left(&mut shop, 10, row[reading].parse().unwrap(), None);
        if row[event] == "1" {
            shop.comeback(20, "misdiagnosed");
        }
    }
    shop
}

/// By hand at 60.00 an hour: holding back for 20 minutes costs 20.00, a return
/// 80.00 more than its work: one to four, and break-even is 20 / (20 + 80).
fn one_to_four() -> ShopFacts {
    ShopFacts { labor_cost_minor_per_hour: 6_000, return_extra_minor: 8_000, ..facts() }
}

fn one(report: HandOverReport) -> HandOverLine {
    assert_eq!(report.lines.len(), 1);
    report.lines.into_iter().next().unwrap()
}

#[test]
fn bands_slope_and_limit_are_those_of_the_reference() {
    let (curve, cuts) = (case("o32-isotonic"), case("o31-logistic-and-cutoff"));
    let line = one(hand_over(&flights(2).history(one_to_four()), &ask(200)));
    assert_eq!((line.left, line.returned.count, line.returned.returns), (46, 46, 14));
    let numbers = |key: &str| -> Vec<f64> {
        curve["expected"][key].as_array().unwrap().iter().map(|n| n.as_f64().unwrap()).collect()
    };
    for (reading, fit) in numbers("temperature").into_iter().zip(numbers("damage_fit")) {
        let band = line.bands.iter().find(|band| (band.from..=band.to).contains(&reading)).unwrap();
        close(&curve, "fitted share", band.share.share.unwrap(), fit);
    }
    let expected = &cuts["expected"];
    let slope = line.slope.as_ref().unwrap();
    close(&cuts, "slope", slope.per_unit, expected["slope"].as_f64().unwrap());
    let error = expected["se_slope"].as_f64().unwrap() / 2.0_f64.sqrt();
    close(&cuts, "error of twice as many", slope.standard_error, error);
    close_within(&cuts, "break-even", (line.break_even_share.unwrap(), 0.2), (0.0, 1e-12));
    let cut_off = line.cut_off.as_ref().unwrap();
    assert_eq!(cut_off.kind, Kind::Between);
    assert_eq!(cut_off.reading, expected["empirical_best_cutoffs"][0].as_f64().unwrap());
    let range = cut_off.interval.as_ref().unwrap();
    assert!(range.low < cut_off.reading && cut_off.reading <= range.high, "{range:?}");
    assert!(line.text.starts_with("Hold back below 75.5 V (the limit lies"), "{}", line.text);
    tell("o31 and o32, by the hand-over report");
}

#[test]
fn figures_open_to_the_jobs_they_count() {
    let history = flights(2).history(one_to_four());
    let line = one(hand_over(&history, &ask(200)));
    assert_eq!(selected(&history, &line.returned.jobs, day(200)), line.returned.count);
    for band in &line.bands {
        assert_eq!(selected(&history, &band.share.jobs, day(200)), band.share.count);
    }
    let sum: i64 = line.bands.iter().map(|band| band.share.count).sum();
    assert_eq!(sum, line.returned.count);
}

#[test]
fn a_cell_is_no_reading_of_the_line() {
    let mut shop = flights(1);
    for cell in ["1", "2", "3"] {
        left(&mut shop, 10, 1.0, Some(cell));
    }
    let line = one(hand_over(&shop.history(one_to_four()), &ask(200)));
    assert_eq!(line.left, 23);
}

#[test]
fn no_limit_without_ten_of_each_a_direction_and_a_price() {
    let why = |shop: Shop, query: &HandOverQuery| {
        let line = one(hand_over(&shop.history(one_to_four()), query));
        assert!(line.cut_off.is_none());
        (line.no_cut_off.unwrap(), line.text)
    };
    // Of the 23, seven came back.
    let (few, text) = why(flights(1), &ask(200));
    assert_eq!(few, NoCutOff::TooFew);
    assert_eq!(text, "No limit: 7 came back and 16 stayed away, and ten of each are needed.");
    let unsaid = HandOverQuery { better: None, ..ask(200) };
    assert_eq!(why(flights(2), &unsaid).0, NoCutOff::DirectionNotStated);
    let unpriced = HandOverQuery { hold_minutes: None, ..ask(200) };
    assert_eq!(why(flights(2), &unpriced).0, NoCutOff::CostsUnknown);
    let free = HandOverQuery { hold_minutes: Some(0), ..ask(200) };
    assert_eq!(why(flights(2), &free).0, NoCutOff::ReplacingCostsNoMore);
}

/// Where every reading in hand is worth letting go, there is no word about worse
/// ones, which never left.
#[test]
fn nothing_is_said_beyond_what_left() {
    let mut shop = Shop::default();
    for (reading, back) in [(12.0, 10), (12.6, 2)] {
        for at in 0..20 {
            left(&mut shop, 10, reading, None);
            if at < back {
                shop.comeback(20, "misdiagnosed");
            }
        }
    }
    // Holding back 10 hours costs 600.00 against 80.00 a return: it pays above
    // 600 / 680, and at most every second one came back.
    let dear = HandOverQuery { hold_minutes: Some(600), ..ask(200) };
    let line = one(hand_over(&shop.history(one_to_four()), &dear));
    assert_eq!(line.cut_off.as_ref().unwrap().kind, Kind::WorstSeen);
    assert!(line.text.contains("no vehicle left, and nothing is known"), "{}", line.text);
}

#[test]
fn tallies_of_two_shops_add_up() {
    let (once, both) = (flights(1).history(one_to_four()), flights(2).history(one_to_four()));
    let mut sum = HandOverTally::of(&once);
    sum.add(&HandOverTally::of(&once));
    let added = hand_over_from(&sum, both.facts(), both.change_no(), &ask(200));
    assert_eq!(added, hand_over(&both, &ask(200)));
}
