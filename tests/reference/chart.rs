//! NIST/SEMATECH e-Handbook 6.3.3, Montgomery (1991), Laney (2002); the data
//! are kept outside the project, and the expected numbers with them.

use analytics::stats::chart::{Chart, Judged, Kind, Sample};
use serde_json::{Value, json};

use crate::files::{Folder, close, close_within, tell};

/// Samples of a data file by the names of its columns; without a size, bare
/// counts.
fn samples(folder: &Folder, file: &Value, count: &str, size: Option<&str>) -> Vec<Sample> {
    let (header, rows) = folder.table(file.as_str().unwrap());
    let place = |name: &str| header.iter().position(|column| column == name).unwrap();
    let number = |row: &[String], name: &str| row[place(name)].parse().unwrap();
    rows.iter()
        .map(|row| match size {
            Some(size) => Sample { count: number(row, count), size: number(row, size) },
            None => Sample::bare(number(row, count)),
        })
        .collect()
}

fn judge(chart: &Chart, samples: &[Sample]) -> Vec<Judged> {
    samples.iter().map(|&sample| chart.judge(sample).unwrap()).collect()
}

/// Numbers of the points outside, the first being `first`.
fn outside(judged: &[Judged], first: i64) -> Vec<i64> {
    (first..).zip(judged).filter(|(_, at)| at.is_outside()).map(|(number, _)| number).collect()
}

fn numbers(list: &Value) -> Vec<i64> {
    list.as_array().unwrap().iter().map(|number| number.as_i64().unwrap()).collect()
}

/// Center and limits of samples of one size.
fn check(case: &Value, what: &str, chart: &Chart, judged: &[Judged], expected: &Value) {
    assert!(!judged.is_empty());
    close(case, what, chart.center(), expected["center"].as_f64().unwrap());
    for at in judged {
        close(case, what, at.low, expected["lcl"].as_f64().unwrap());
        close(case, what, at.high, expected["ucl"].as_f64().unwrap());
    }
}

#[test]
fn shares_of_defective_cans() {
    let Some(folder) = Folder::outside("o21-p-chart") else { return };
    let case = folder.case("o21-p-chart");
    let expected = &case["expected"];
    let all = samples(&folder, &case["input"], "defective", Some("size"));
    let (baseline, later) = all.split_at(30);

    let chart = Chart::plain(Kind::Share, baseline).unwrap();
    let judged = judge(&chart, baseline);
    check(&case, "first 30", &chart, &judged, &expected["all_30"]);
    assert_eq!(outside(&judged, 1), numbers(&expected["all_30"]["out_of_limits"]));

    let kept: Vec<Sample> = (1..)
        .zip(baseline)
        .filter(|(number, _)| ![15, 23].contains(number))
        .map(|(_, &sample)| sample)
        .collect();
    let revised = &expected["without_15_and_23"];
    let chart = Chart::plain(Kind::Share, &kept).unwrap();
    check(&case, "without two", &chart, &judge(&chart, &kept), revised);
    let still: Vec<i64> = outside(&judge(&chart, baseline), 1)
        .into_iter()
        .filter(|number| ![15, 23].contains(number))
        .collect();
    assert_eq!(still, numbers(&revised["still_out_of_limits"]));
    assert_eq!(outside(&judge(&chart, later), 31), numbers(&revised["later_out_of_limits"]));

    let chart = Chart::plain(Kind::Share, later).unwrap();
    let judged = judge(&chart, later);
    check(&case, "later 24", &chart, &judged, &expected["later_24"]);
    assert_eq!(outside(&judged, 31), numbers(&expected["later_24"]["out_of_limits"]));
    tell("o21-p-chart");
}

#[test]
fn defects_of_wafers() {
    let Some(folder) = Folder::outside("o22-c-chart") else { return };
    let case = folder.case("o22-c-chart");
    let wafers = samples(&folder, &case["input"], "defects", None);
    let chart = Chart::plain(Kind::Rate, &wafers).unwrap();
    let judged = judge(&chart, &wafers);
    check(&case, "wafers", &chart, &judged, &case["expected"]);
    // Wafer 3 lies exactly on the upper limit.
    assert_eq!(judged[2].z, 3.0);
    assert_eq!(outside(&judged, 1), numbers(&case["expected"]["out_of_limits"]));
    tell("o22-c-chart");
}

#[test]
fn defects_per_computer() {
    let Some(folder) = Folder::outside("o23-u-chart") else { return };
    let case = folder.case("o23-u-chart");
    let lots = samples(&folder, &case["input"], "nonconformities", Some("units"));
    let chart = Chart::plain(Kind::Rate, &lots).unwrap();
    let judged = judge(&chart, &lots);
    check(&case, "lots", &chart, &judged, &case["expected"]);
    assert_eq!(outside(&judged, 1), numbers(&case["expected"]["out_of_limits"]));
    tell("o23-u-chart");
}

#[test]
fn very_large_weeks() {
    let Some(folder) = Folder::outside("o24-laney-p-prime-weekly") else { return };
    let case = folder.case("o24-laney-p-prime-weekly");
    let expected = &case["expected"];
    let weeks = samples(&folder, &case["input"], "count", Some("total"));
    let plain = Chart::plain(Kind::Share, &weeks).unwrap();
    let laney = Chart::laney(Kind::Share, &weeks).unwrap();
    close(&case, "center", laney.center(), expected["center"].as_f64().unwrap());
    close(&case, "sigma z", laney.sigma_z(), expected["sigma_z"].as_f64().unwrap());
    assert_eq!(plain.sigma_z(), 1.0);
    let (narrow, wide) = (judge(&plain, &weeks), judge(&laney, &weeks));
    assert_eq!(wide.len(), expected["z"].as_array().unwrap().len());
    for (week, (narrow, wide)) in narrow.iter().zip(&wide).enumerate() {
        let sigma_z = laney.sigma_z();
        for (key, ours) in [
            ("z", narrow.z),
            ("z", wide.z * sigma_z),
            ("ucl", wide.high),
            ("lcl", wide.low),
            ("plain_chart_ucl", narrow.high),
            ("plain_chart_lcl", narrow.low),
        ] {
            let what = format!("{key} of week {}", week + 1);
            close(&case, &what, ours, expected[key][week].as_f64().unwrap());
        }
    }
    assert_eq!(outside(&narrow, 1), numbers(&expected["plain_chart_out_of_limits"]));
    assert_eq!(outside(&wide, 1), numbers(&expected["out_of_limits"]));
    tell("o24-laney-p-prime-weekly");
}

/// By hand: with a mean of 3 % and 60 lines a week the upper limit is
/// 0.03 + 3 x sqrt(0.03 x 0.97 / 60) = 0.03 + 3 x 0.0220227 = 9.607 % for a
/// share, and 0.03 + 3 x sqrt(0.03 / 60) = 0.03 + 3 x 0.0223607 = 9.708 % for a
/// rate. Both give 6 of 60 (10 %) as the first signal.
#[test]
fn sixty_lines_a_week() {
    let case = json!({ "case": "sixty lines a week" });
    let known = [Sample { count: 3, size: 100 }];
    for (kind, high) in [(Kind::Share, 0.09606814), (Kind::Rate, 0.0970820)] {
        let chart = Chart::plain(kind, &known).unwrap();
        let week = |count: i64| chart.judge(Sample { count, size: 60 }).unwrap();
        close_within(&case, "upper limit", (week(5).high, high), (5e-8, 0.0));
        assert_eq!(week(5).low, 0.0);
        assert!(!week(5).is_outside() && week(6).is_outside());
    }
    tell("sixty-lines-a-week");
}
