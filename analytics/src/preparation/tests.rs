//! Verdicts by hand and by chance.

use proptest::prelude::*;

use super::*;

/// A line that takes any number.
pub(super) fn line(key: &str) -> Line {
    Line {
        key: key.to_owned(),
        label: key.to_owned(),
        kind: Kind::Number,
        unit: Some("1".to_owned()),
        cells: None,
        how: None,
        limits: Vec::new(),
        expects: None,
        correction: None,
        source: None,
        edition: None,
        instruction: None,
        cautions: Vec::new(),
        one_of: None,
        repeat_days: None,
        loss: None,
        plausible_least: None,
        plausible_most: None,
        whole: false,
        always: false,
    }
}

fn limit(bound: Bound, value: f64) -> Limit {
    Limit { bound, value, source: "as in the test".to_owned(), edition: None }
}

/// Six cells: mean at least 1.250, each at least 1.225, spread at most 0.025.
fn gravity() -> Line {
    Line {
        kind: Kind::Cells,
        cells: Some(6),
        limits: vec![
            limit(Bound::MeanLeast, 1.250),
            limit(Bound::Least, 1.225),
            limit(Bound::SpreadMost, 0.025),
        ],
        correction: Some(Correction {
            per_step: 0.004,
            step: 10.0,
            from: 80.0,
            unit: Degrees::Fahrenheit,
            source: "TM 5-4210-230-14&P-1".to_owned(),
            edition: None,
        }),
        one_of: Some("battery".to_owned()),
        ..line("battery.gravity")
    }
}

fn voltage() -> Line {
    Line {
        unit: Some("V".to_owned()),
        limits: vec![limit(Bound::Least, 12.5)],
        one_of: Some("battery".to_owned()),
        ..line("battery.resting-voltage")
    }
}

fn row(key: &str, attempt: i32, state: State, value: Option<f64>) -> Taken {
    Taken {
        key: key.to_owned(),
        place: None,
        attempt,
        state,
        value,
        temperature: None,
        words: None,
        reason: (state != State::Measured).then(|| "sealed".to_owned()),
    }
}

fn cells(attempt: i32, values: &[f64], degrees: f64) -> Vec<Taken> {
    let at = Temperature { value: degrees, unit: Degrees::Fahrenheit };
    let of = |(place, value): (u32, &f64)| Taken {
        place: Some(place),
        temperature: Some(at),
        ..row("battery.gravity", attempt, State::Measured, Some(*value))
    };
    (1..).zip(values).map(of).collect()
}

fn verdict(lines: &[Line], taken: &[Taken], key: &str) -> (Verdict, String) {
    let sheet = judge(lines, taken);
    let line = sheet.lines.into_iter().find(|line| line.key == key).unwrap();
    (line.verdict, line.why)
}

// By hand at 60 F, two steps below 80: 1.276 - 0.008 = 1.268, and so 1.264, 1.266,
// 1.238, 1.267, 1.265; sum 7.568, mean 1.26133; spread 1.268 - 1.238 = 0.030.
#[test]
fn one_weak_cell_fails_by_the_spread_alone() {
    let read = cells(1, &[1.276, 1.272, 1.274, 1.246, 1.275, 1.273], 60.0);
    let sheet = judge(&[gravity()], &read);
    let line = sheet.lines.first().unwrap();
    let counted: Vec<f64> = line.values.iter().map(|value| value.counts_as).collect();
    let by_hand = [1.268, 1.264, 1.266, 1.238, 1.267, 1.265];
    assert!(counted.iter().zip(by_hand).all(|(got, hand)| (got - hand).abs() < 1e-9));
    assert!((line.mean.unwrap() - 7.568 / 6.0).abs() < 1e-6);
    assert!((line.spread.unwrap() - 0.030).abs() < 1e-9);
    assert_eq!(line.verdict, Verdict::Fail);
    assert_eq!(line.why, "The spread of the cells is 0.030, above 0.025.");
    assert!(!sheet.passes);
    // The wider limit of another manual (0.050) lets the same cells pass.
    let mut wide = gravity();
    wide.limits = vec![limit(Bound::SpreadMost, 0.050)];
    assert!(judge(&[wide], &read).passes);
}

// 1.254 - 0.008 = 1.246, below 1.250; charged, 1.266 - 0.008 = 1.258.
#[test]
fn a_fair_looking_battery_is_charged_and_read_again() {
    let mut read = cells(1, &[1.254; 6], 60.0);
    let (first, why) = verdict(&[gravity()], &read, "battery.gravity");
    assert_eq!((first, why.as_str()), (Verdict::Fail, "The mean is 1.246, below 1.250."));
    read.extend(cells(2, &[1.266; 6], 60.0));
    let sheet = judge(&[gravity()], &read);
    assert!(sheet.passes);
    let line = sheet.lines.first().unwrap();
    assert_eq!((line.attempt, line.why.as_str()), (Some(2), "1.258 to 1.258, spread 0.000."));
}

#[test]
fn a_limit_itself_is_kept() {
    // 1.275 - 1.250 is a little above 0.025 in binary.
    let at_80 = |values: &[f64; 6]| judge(&[gravity()], &cells(1, values, 80.0)).passes;
    assert!(at_80(&[1.275, 1.250, 1.26, 1.26, 1.26, 1.26]));
    assert!(!at_80(&[1.276, 1.250, 1.26, 1.26, 1.26, 1.26]));
}

#[test]
fn none_at_all_and_none_here_are_two_things() {
    let lines = [gravity(), voltage()];
    let sealed = row("battery.gravity", 1, State::NotApplicable, None);
    let sheet = judge(&lines, std::slice::from_ref(&sealed));
    // A sealed battery has no gravity: then the voltage is owed.
    assert!(!sheet.passes);
    assert_eq!(sheet.groups.first().unwrap().verdict, Verdict::NotMeasured);
    let volts = row("battery.resting-voltage", 1, State::Measured, Some(12.6));
    assert!(judge(&lines, &[sealed.clone(), volts.clone()]).passes);
    // With neither on the vehicle something is owed still.
    let none = row("battery.resting-voltage", 1, State::NotApplicable, None);
    let sheet = judge(&lines, &[sealed.clone(), none]);
    assert!(!sheet.passes && sheet.lines.iter().all(|line| line.verdict.lets_go()));
    // The voltage alone is enough: what was not read is not needed.
    let sheet = judge(&lines, std::slice::from_ref(&volts));
    assert!(sheet.passes);
    let why = &sheet.lines.first().unwrap().why;
    assert_eq!(why, "Not needed: battery.resting-voltage was read.");
    // What is not measured, with a reason or without, holds the vehicle.
    let alone = [voltage()];
    let waits = row("battery.resting-voltage", 1, State::NotMeasured, None);
    assert!(!judge(&alone, &[waits]).passes && !judge(&alone, &[]).passes);
    assert!(!judge(&[], &[]).passes);
}

/// Of lines of which one is enough, a reading that misses its limit is not washed out by
/// a word beside one that passes: only by a reading.
#[test]
fn a_failed_reading_of_one_of_two_stands_until_it_is_read_again() {
    let lines = [gravity(), voltage()];
    let weak = cells(1, &[1.276, 1.272, 1.274, 1.246, 1.275, 1.273], 60.0);
    let volts = row("battery.resting-voltage", 1, State::Measured, Some(12.6));
    for state in [State::NotMeasured, State::NotApplicable] {
        let mut read = weak.clone();
        read.extend([row("battery.gravity", 2, state, None), volts.clone()]);
        let sheet = judge(&lines, &read);
        let line = sheet.lines.first().unwrap();
        assert_eq!((line.verdict, line.attempt, sheet.passes), (Verdict::Fail, Some(1), false));
        assert!(line.why.starts_with("The spread of the cells is 0.030"), "{}", line.why);
        assert_eq!(sheet.groups.first().unwrap().verdict, Verdict::Fail);
        // Half a round is none.
        read.extend(cells(3, &[1.266; 5], 60.0));
        assert!(!judge(&lines, &read).passes);
        read.extend(cells(4, &[1.266; 6], 60.0));
        assert!(judge(&lines, &read).passes);
    }
    // One that passed, and is then said not to have been measured, is owed no more
    // where the other stands.
    let mut read = cells(1, &[1.266; 6], 60.0);
    read.extend([row("battery.gravity", 2, State::NotMeasured, None), volts]);
    assert!(judge(&lines, &read).passes);
}

#[test]
fn cells_and_temperatures_may_be_missing() {
    let of = |taken: &[Taken]| verdict(&[gravity()], taken, "battery.gravity");
    let five = cells(1, &[1.265; 5], 80.0);
    assert_eq!(of(&five), (Verdict::NotMeasured, "5 of 6 read.".to_owned()));
    let mut cold = cells(1, &[1.265; 6], 80.0);
    cold.iter_mut().for_each(|row| row.temperature = None);
    assert_eq!(of(&cold).0, Verdict::NotMeasured);
}

#[test]
fn answers_and_words() {
    let lamps = Line { kind: Kind::YesNo, expects: Some(true), ..line("lamps") };
    let of = |value| {
        verdict(std::slice::from_ref(&lamps), &[row("lamps", 1, State::Measured, value)], "lamps")
    };
    assert_eq!(of(Some(1.0)).0, Verdict::Pass);
    assert_eq!(of(Some(0.0)), (Verdict::Fail, "No.".to_owned()));
    let noted = Line { kind: Kind::Words, ..line("paint") };
    let mut said = row("paint", 1, State::Measured, None);
    said.words = Some("small chip, left door".to_owned());
    assert_eq!(verdict(&[noted], &[said], "paint").0, Verdict::Pass);
}

/// Rows of up to three attempts on two lines.
fn sheet() -> impl Strategy<Value = Vec<Taken>> {
    let state = prop_oneof![
        3 => Just(State::Measured),
        1 => Just(State::NotApplicable),
        1 => Just(State::NotMeasured),
    ];
    let one =
        (any::<bool>(), state, 12.0_f64..13.0, proptest::collection::vec(1.2_f64..1.3, 1..=6));
    proptest::collection::vec(one, 0..4).prop_map(|attempts| {
        let of = |(attempt, (volts, state, voltage, gravities))| {
            let (volts, state): (bool, State) = (volts, state);
            let gravities: Vec<f64> = gravities;
            match (volts, state) {
                (true, State::Measured) => {
                    vec![row("battery.resting-voltage", attempt, state, Some(voltage))]
                }
                (false, State::Measured) => cells(attempt, &gravities, 60.0),
                (true, _) => vec![row("battery.resting-voltage", attempt, state, None)],
                (false, _) => vec![row("battery.gravity", attempt, state, None)],
            }
        };
        (1..).zip(attempts).flat_map(of).collect()
    })
}

fn rank(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Fail => 0,
        Verdict::NotMeasured => 1,
        Verdict::NotApplicable => 2,
        Verdict::Pass => 3,
    }
}

proptest! {
    #[test]
    fn the_order_of_entry_never_matters(rows in sheet(), seed in any::<u64>()) {
        let lines = [gravity(), voltage()];
        let mut shuffled = rows.clone();
        let places = u64::try_from(shuffled.len().max(1)).unwrap();
        for at in 0..shuffled.len() {
            let other = usize::try_from(seed.rotate_left(u32::try_from(at).unwrap()) % places).unwrap();
            shuffled.swap(at, other);
        }
        prop_assert_eq!(judge(&lines, &rows), judge(&lines, &shuffled));
    }

    /// A later attempt that passes makes no line and no sheet worse.
    #[test]
    fn passing_later_never_makes_it_worse(rows in sheet(), volts in 12.5_f64..13.0) {
        let lines = [gravity(), voltage()];
        let before = judge(&lines, &rows);
        let mut after = rows;
        after.push(row("battery.resting-voltage", 9, State::Measured, Some(volts)));
        let after = judge(&lines, &after);
        prop_assert!(after.passes || !before.passes);
        for (old, new) in before.lines.iter().zip(&after.lines) {
            prop_assert!(rank(new.verdict) >= rank(old.verdict), "{old:?} {new:?}");
        }
    }

    /// Passing means that nothing fails and nothing waits, and the other way round.
    #[test]
    fn a_sheet_passes_by_its_lines(rows in sheet()) {
        let sheet = judge(&[gravity(), voltage()], &rows);
        let lines = sheet.lines.iter().all(|line| line.verdict.lets_go());
        let group = sheet.groups.first().unwrap().verdict;
        prop_assert_eq!(sheet.passes, lines && group == Verdict::Pass);
    }

    /// A higher reading at the same temperature counts higher, and a warmer one too.
    #[test]
    fn correction_rises_with_reading_and_warmth(
        read in 1.1_f64..1.3, more in 0.001_f64..0.1, at in -40.0_f64..120.0, warmer in 1.0_f64..40.0,
    ) {
        let rule = gravity();
        let of = |read, value| {
            counted(&rule, read, Some(Temperature { value, unit: Degrees::Fahrenheit })).unwrap()
        };
        prop_assert!(of(read + more, at) > of(read, at));
        prop_assert!(of(read, at + warmer) > of(read, at));
    }
}
