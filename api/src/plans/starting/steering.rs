//! Steering.

use super::{Row, STEP, StartingPlan, limit};

const LIFT: &str = "Lift pads where the maker says, safety locks in; stands where wheels come off.";

pub(super) const PLANS: &[StartingPlan] = &[StartingPlan {
    symptom: "steering.vibration",
    basis: "The order of a public US Army chart (TM 9-2320-260-20, table 2-2, malfunction 42): mud, \
            loose nuts, bent rim, bearings, tie-rod ends. The rotor only where it shakes under \
            braking (common practice).",
    rows: VIBRATION,
}];

#[rustfmt::skip]
const VIBRATION: &[Row] = &[
    Row {
        check: "wheel-look",
        mandatory: true,
        points: &[
            ("Mud in a wheel", Some("outside-influence"), "washed out, driven again"),
            ("Nuts loose", Some("left-loose"), "studs looked at, tightened to the maker's torque, again after 30 to 60 miles"),
            ("Rim bent", Some("wheel-bent"), "wheel replaced"),
        ],
        ..STEP
    },
    Row {
        check: "tire-pressures",
        mandatory: true,
        points: &[("Low, or a bulge", Some("tire-fault"), "tire looked at inside before it is filled")],
        ..STEP
    },
    Row {
        check: "balance-runout",
        minutes: Some(30),
        opening: Some(("Wheels off", 15)),
        limits: limit("[in_i]", (None, Some(0.125)), "49 CFR 570.10: runout of the rim's bead, sideways and up and down"),
        caution: Some(LIFT),
        points: &[
            ("Out of balance", Some("wheel-balance"), "balanced, driven again"),
            ("Runout over the limit", Some("wheel-bent"), "wheel replaced"),
        ],
        ..STEP
    },
    Row {
        check: "shake-down",
        caution: Some(LIFT),
        points: &[
            ("Play in a wheel bearing", Some("wheel-bearing"), "adjusted or replaced"),
            ("Play in a tie-rod end or ball joint", Some("ball-joint"), "replaced, alignment set"),
        ],
        ..STEP
    },
    Row {
        check: "rotor-runout",
        minutes: Some(15),
        opening: Some(("Wheels off", 15)),
        limits: limit("mm", (None, Some(0.06)), "vehicle makers' texts: lateral runout as fitted, 0.03 to 0.06; the maker's figure rules"),
        caution: Some(LIFT),
        points: &[("Only under braking, and over the limit", Some("rotor-out-of-true"), "machined or replaced, hub face clean")],
        ..STEP
    },
];
