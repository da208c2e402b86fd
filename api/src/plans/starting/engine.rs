//! The engine: noise from its top, oil used up.

use super::{Row, STEP, StartingPlan, limit};

const HOT: &str = "Hot oil and a running engine: hands and clothes away from belts and fan.";
const UNDER_HOOD: &str = "The maker's procedure first. Engine off for the level. Where it runs to be \
                          listened to: hands and clothes away from belts, fan and hot parts.";
const PLUGS_OUT: &str = "The maker's procedure first. Ignition disabled and fuel off before a plug \
                         comes out or the engine is cranked.";

pub(super) const PLANS: &[StartingPlan] = &[
    StartingPlan {
        symptom: "engine.tick",
        basis: "What a public US Army document says of noisy valve lifters (TM 5-4210-230-14&P-1): \
                dirt disables a few, air in the oil all of them, and the air is cured first. Quiet \
                lifters are left alone.",
        rows: TICK,
    },
    StartingPlan {
        symptom: "engine.uses-oil",
        basis: "Chart 16 of a public US Army document (TM 5-4210-230-14&P-1): most oil that is lost \
                leaks, so leaks come first; burning is looked into only where a measured drive says \
                so. The drive takes days: that is no comeback.",
        rows: USES_OIL,
    },
];

#[rustfmt::skip]
const TICK: &[Row] = &[
    Row {
        check: "visual-under-hood",
        mandatory: true,
        caution: Some(UNDER_HOOD),
        points: &[("Oil level low or too high", Some("oil-level"), "level set, and listened to again")],
        ..STEP
    },
    Row {
        check: "oil-condition",
        mandatory: true,
        points: &[
            ("Foam", Some("oil-aerated"), "suction leak or wrong level cured first"),
            ("Wrong grade, or far past its change", Some("oil-wrong-grade"), "oil and filter changed"),
        ],
        ..STEP
    },
    Row {
        check: "oil-pressure",
        limits: limit("[psi]", (Some(10.0), None), "common practice: hot, at 1,000 rpm, and 10 psi more for each 1,000 rpm; the maker's figure rules"),
        caution: Some(HOT),
        points: &[
            ("Low at the pump", Some("oil-pump"), "pump and its pickup looked at"),
            ("Good at the pump, low at the gauge", Some("bearing-worn"), "bearings measured"),
        ],
        ..STEP
    },
    Row {
        check: "stethoscope",
        may_miss: true,
        caution: Some(HOT),
        points: &[
            ("Many, and the pressure is good", Some("oil-wrong-grade"), "oil changed before anything is taken apart"),
            ("One", None, "cover off over that one"),
            ("Not from the valve train", None, "exhaust joints and injectors listened to"),
        ],
        ..STEP
    },
    Row {
        check: "valve-cover-off",
        minutes: Some(10),
        after: &["stethoscope"],
        opening: Some(("Valve cover off", 40)),
        limits: limit("mm", (None, Some(0.2)), "TM 9-2815-253-24, paragraph 3-26.2: bend of a pushrod, on that engine; the maker's figure rules"),
        caution: Some("Let the engine cool. Keep each lifter's parts together."),
        points: &[
            ("Rocker or pushrod worn or bent", Some("rocker-pushrod"), "replaced"),
            ("Lobe lift low", Some("cam-worn"), "camshaft and its lifters replaced"),
        ],
        ..STEP
    },
    Row {
        check: "lifter-leak-down",
        after: &["valve-cover-off"],
        opening: Some(("Valve cover off", 40)),
        limits: limit("s", (Some(20.0), Some(90.0)), "a parts seller's published guide: on a usual tester with its own fluid; read twice, and the maker's figure rules"),
        caution: Some("The maker's procedure first. The lifter is under load and full of fluid in the tester: eyes covered, fingers away."),
        points: &[
            ("Faster than the limit, twice", Some("lifter-worn"), "replaced: cleaning does not cure wear"),
            ("Slow or sticking", Some("lifter-dirty"), "stripped, cleaned and tested again, or replaced; the varnish's source removed"),
        ],
        ..STEP
    },
];

#[rustfmt::skip]
const USES_OIL: &[Row] = &[
    Row {
        check: "visual-underneath",
        mandatory: true,
        caution: Some("Lift pads where the maker says, safety locks in, before anybody goes under."),
        points: &[
            ("Wet at a cover, sump, filter, sender or cooler", Some("seal-gasket-leak"), "seal replaced, cleaned, driven, looked at again"),
            ("Wet at a crankshaft seal", Some("breather-blocked"), "breather first, then the seal"),
        ],
        ..STEP
    },
    Row {
        check: "breather-look",
        mandatory: true,
        points: &[("Blocked, or oil pulled over", Some("breather-blocked"), "cleaned or replaced before any seal")],
        ..STEP
    },
    Row {
        check: "oil-consumption",
        limits: limit("[mi_us]/[qt_us]", (Some(400.0), None),
            "TM 5-4210-230-14&P-1, chart 16: 400 to 500 miles to the quart; the maker's figure rules"),
        points: &[
            ("Within the limit", Some("normal-behavior"), "told to the customer with the figure"),
            ("Below it, and nothing leaks", None, "go on to what burns oil"),
        ],
        ..STEP
    },
    Row {
        check: "dye-leak",
        may_miss: true,
        caution: Some("Eyes covered from the lamp."),
        points: &[("Dye outside", Some("seal-gasket-leak"), "seal replaced, cleaned, looked at again")],
        ..STEP
    },
    Row {
        check: "compression",
        minutes: Some(25),
        after: &["oil-consumption"],
        opening: Some(("Plugs out", 20)),
        limits: limit("%", (Some(75.0), None),
            "TM 5-4210-230-14&P-1, addendum 2: the lowest cylinder against the highest, warm, throttle open"),
        caution: Some(PLUGS_OUT),
        points: &[("Low, higher with a spoon of oil", Some("rings-worn"), "")],
        ..STEP
    },
    Row {
        check: "cylinder-leakage",
        after: &["oil-consumption"],
        opening: Some(("Plugs out", 20)),
        limits: limit("%", (None, Some(20.0)), "vehicle makers' service texts: 20 to 25; the maker's figure rules"),
        caution: Some("The maker's procedure first. Ignition disabled, fuel off. The air may turn the engine: tool off the crankshaft, hands away."),
        points: &[("Air at the oil filler", Some("rings-worn"), "")],
        ..STEP
    },
    Row {
        check: "intake-valve-look",
        after: &["oil-consumption"],
        opening: Some(("Plugs out", 20)),
        caution: Some(PLUGS_OUT),
        points: &[("Carbon under the intake valves", Some("valve-guide-seal"), "stem seals, or guides")],
        ..STEP
    },
];
