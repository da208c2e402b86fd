//! Brakes.

use super::{Row, STEP, StartingPlan, limit};

const DUST: &str = "Chock, stands under the maker's points. Brake dust can hold asbestos: wet it or use \
                    an enclosed cleaner, never blow it out (29 CFR 1910.1001, appendix F).";
const ROAD: &str =
    "Only where braking hard endangers nobody, and only where the brakes still hold.";
const WHEELS: Option<(&str, i32)> = Some(("Wheels off, one axle", 10));

const STRIP: Row = Row {
    check: "brake-strip",
    minutes: Some(20),
    opening: WHEELS,
    limits: limit(
        "[in_i]",
        (Some(0.03125), None),
        "49 CFR 570.5: lining over the rivets or the shoe, light vehicles; the maker's figure rules",
    ),
    caution: Some(DUST),
    points: &[
        ("Worn to the limit", Some("pad-worn"), "pads of the axle replaced"),
        (
            "Slide or piston sticks",
            Some("caliper-stuck"),
            "slides cleaned and greased, or caliper replaced",
        ),
        ("Oil or fluid on the lining", Some("seal-gasket-leak"), "the leak first, then the pads"),
    ],
    ..STEP
};

pub(super) const PLANS: &[StartingPlan] = &[
    StartingPlan {
        symptom: "brakes.noise",
        basis: "Common practice; the lining's limit is that of 49 CFR 570.5, the rotor's from vehicle \
                makers' texts.",
        rows: NOISE,
    },
    StartingPlan {
        symptom: "brakes.pull",
        basis: "A public US Army chart (TM 9-2320-272-24-1, table 2-4, malfunction 4): find the wheel \
                that grabs before anything is taken apart.",
        rows: PULL,
    },
    StartingPlan {
        symptom: "brakes.pulsates",
        basis: "Vehicle makers' texts: thickness variation before runout, on a clean hub face. Runout \
                over the limit makes thickness vary after some thousand miles: a late comeback.",
        rows: PULSATES,
    },
];

#[rustfmt::skip]
const NOISE: &[Row] = &[
    Row { check: "road-test", mandatory: true, may_miss: true, caution: Some(ROAD), ..STEP },
    Row {
        check: "wheel-look",
        mandatory: true,
        points: &[("Stone or shield touches", Some("outside-influence"), "removed, bent back")],
        ..STEP
    },
    STRIP,
    Row {
        check: "rotor-runout",
        minutes: Some(15),
        opening: WHEELS,
        limits: limit("mm", (None, Some(0.06)), "vehicle makers' texts: lateral runout as fitted, 0.03 to 0.06; the maker's figure rules"),
        caution: Some(DUST),
        points: &[("Scored, or over the limit", Some("rotor-out-of-true"), "machined or replaced, with the hub face clean")],
        ..STEP
    },
    Row {
        check: "hub-face",
        minutes: Some(15),
        after: &["rotor-runout"],
        opening: WHEELS,
        caution: Some(DUST),
        points: &[("Rust or dirt under the rotor", Some("rotor-out-of-true"), "cleaned, and the rotor measured again before it is replaced")],
        ..STEP
    },
];

#[rustfmt::skip]
const PULL: &[Row] = &[
    Row {
        check: "tire-pressures",
        mandatory: true,
        points: &[("Differ across the axle", Some("tire-pressure"), "set to the placard, driven again")],
        ..STEP
    },
    Row {
        check: "road-test",
        mandatory: true,
        may_miss: true,
        caution: Some(ROAD),
        points: &[("One wheel hotter, or it grabs", Some("caliper-stuck"), "that wheel first")],
        ..STEP
    },
    Row {
        check: "wheel-drag",
        caution: Some("Lift pads where the maker says, safety locks in. A brake may be hot enough to burn."),
        points: &[("Drags with the pedal free", Some("caliper-stuck"), "slides cleaned, or caliper or hose replaced")],
        ..STEP
    },
    STRIP,
    Row {
        check: "alignment-measure",
        limits: limit("1", (None, Some(1.5)), "49 CFR 570.7: toe as a multiple of the maker's value"),
        points: &[("Toe or camber out", Some("alignment"), "set; what bent it looked for")],
        ..STEP
    },
];

#[rustfmt::skip]
const PULSATES: &[Row] = &[
    Row { check: "road-test", mandatory: true, may_miss: true, caution: Some(ROAD), ..STEP },
    Row {
        check: "wheel-look",
        mandatory: true,
        points: &[("Nuts unevenly tight", Some("left-loose"), "tightened in turn to the maker's torque, again after 30 to 60 miles")],
        ..STEP
    },
    Row {
        check: "rotor-runout",
        minutes: Some(15),
        opening: WHEELS,
        limits: limit("mm", (None, Some(0.03)), "vehicle makers' texts: thickness variation, 0.01 to 0.03; the maker's figure rules"),
        caution: Some(DUST),
        points: &[("Over the limit", Some("rotor-out-of-true"), "machined or replaced")],
        ..STEP
    },
    Row {
        check: "hub-face",
        minutes: Some(15),
        after: &["rotor-runout"],
        opening: WHEELS,
        caution: Some(DUST),
        points: &[("Rust or dirt under the rotor", Some("rotor-out-of-true"), "cleaned, measured again, and only then replaced")],
        ..STEP
    },
    Row {
        check: "shake-down",
        caution: Some("Lift pads where the maker says, safety locks in."),
        points: &[
            ("Play in a wheel bearing", Some("wheel-bearing"), "adjusted or replaced"),
            ("Play in a joint", Some("ball-joint"), "replaced"),
        ],
        ..STEP
    },
];
