//! Cooling.

use super::{Row, STEP, StartingPlan, limit};

const HOT: &str =
    "Never open a hot cooling system: it scalds. Let it cool, then turn the cap to its first stop.";
const TURNING: &str =
    "An electric fan can start by itself, also with the key off: unplug it before reaching in.";

pub(super) const PLANS: &[StartingPlan] = &[StartingPlan {
    symptom: "cooling.overheats",
    basis: "The order of a public US Army chart (TM 5-4320-234-12, malfunction 5): levels, radiator, \
            belt; then pressure, fan, thermostat and gas (TM 5-3805-291-23-1; common practice).",
    rows: OVERHEATS,
}];

#[rustfmt::skip]
const OVERHEATS: &[Row] = &[
    Row {
        check: "visual-under-hood",
        mandatory: true,
        caution: Some(HOT),
        points: &[
            ("Coolant low", Some("coolant-low"), "leak found first, then filled and bled"),
            ("Hose soft, kinked or wet", Some("hose-or-cap"), "replaced"),
        ],
        ..STEP
    },
    Row {
        check: "radiator-airflow",
        mandatory: true,
        caution: Some(TURNING),
        points: &[("Blocked outside, shutter shut", Some("radiator-blocked"), "cleaned, straightened, opened")],
        ..STEP
    },
    Row {
        check: "belt-look",
        caution: Some("Engine off, key out: an engine with automatic stop can start by itself."),
        points: &[("Slack, cracked, glazed", Some("belt-slack"), "replaced or tightened")],
        ..STEP
    },
    Row {
        check: "cooling-pressure",
        limits: limit("kPa", (None, Some(0.0)),
            "TM 5-3805-291-23-1, work package 0012: fall in 5 min at 20 kPa above the cap's rating"),
        caution: Some(HOT),
        points: &[
            ("The cap opens below its rating", Some("hose-or-cap"), "cap replaced"),
            ("Falls, wet outside", Some("hose-or-cap"), "leak repaired"),
            ("Falls, dry outside", Some("head-gasket"), "gas test before the head comes off"),
        ],
        ..STEP
    },
    Row {
        check: "fan-run",
        caution: Some(TURNING),
        points: &[("Does not run, or the clutch slips", Some("fan-control"), "supply, switch and motor measured")],
        ..STEP
    },
    Row {
        check: "thermostat-temperature",
        limits: limit("Cel", (Some(-3.0), Some(3.0)),
            "common practice: opening against the stamped temperature; full open 10 to 12 degrees above it"),
        caution: Some(HOT),
        points: &[("Opens late or not at all", Some("thermostat"), "replaced")],
        ..STEP
    },
    Row {
        check: "coolant-test",
        caution: Some(HOT),
        points: &[("The tester's color changes", Some("head-gasket"), "head off, gasket and surfaces measured")],
        ..STEP
    },
];
