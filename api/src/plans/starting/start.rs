//! Starting and charging.

use super::{Row, STEP, StartingPlan, limit};

const BATTERY: &str = "A battery gives off gas that explodes and holds acid: no sparks or flames, eyes \
                       covered, the ground cable off first and on last.";
const CRANKING: &str = "Parking brake on, out of gear, hands and clothes away from belts and fan. Crank \
                        15 s at most, then let the starter cool.";

const DRAIN: &str = "The maker's procedure first. The meter in series, on a fused range: never across \
                     the battery, and nothing started or switched on through it. A short circuit \
                     burns, and the gas of a battery explodes.";

const RESTING: Row = Row {
    check: "terminals-resting-voltage",
    mandatory: true,
    limits: limit(
        "V",
        (Some(12.4), None),
        "TM 5-3805-262-20, page 5-142: lights on for 15 s, off for 3 min, then read",
    ),
    caution: Some(BATTERY),
    points: &[
        ("Below 12.4 V", None, "charge it, then load it: a flat battery is not yet a bad one"),
        (
            "Corroded, loose, or over 0.5 V from post to clamp while cranking",
            Some("terminal-corroded"),
            "cleaned, tightened, measured again",
        ),
    ],
    ..STEP
};

const LOAD: Row = Row {
    check: "battery-load",
    limits: limit(
        "V",
        (Some(9.6), None),
        "vehicle makers' service texts: half the cold-cranking amperes for 15 s at 21 °C or above; \
         9.4 V at 10 °C, 9.1 V at -1 °C, 8.5 V at -18 °C",
    ),
    caution: Some(BATTERY),
    points: &[("Falls below it though charged", Some("battery-worn"), "battery replaced")],
    ..STEP
};

pub(super) const PLANS: &[StartingPlan] = &[
    StartingPlan {
        symptom: "charge.battery-flat",
        basis: "The order of a public US Army chart (TM 5-3805-254-20-1, malfunction 26), with the \
                belt first. A new battery that goes flat again within two weeks has another cause \
                than the battery (TM 9-6140-200-14).",
        rows: BATTERY_FLAT,
    },
    StartingPlan {
        symptom: "start.no-crank",
        basis: "Public US Army charts (TM 5-3805-254-20-1, malfunction 3; TM 10-3930-671-24); what \
                can be heard and seen comes first (common practice).",
        rows: NO_CRANK,
    },
    StartingPlan {
        symptom: "start.crank-no-start",
        basis: "Common practice: free looks first, then spark or glow, fuel, signal, compression. \
                The compression limit is from a public US Army document (TM 5-4210-230-14&P-1).",
        rows: CRANK_NO_START,
    },
];

#[rustfmt::skip]
const BATTERY_FLAT: &[Row] = &[
    Row {
        check: "belt-look",
        mandatory: true,
        caution: Some("Engine off, key out: an engine with automatic stop can start by itself."),
        points: &[("Slack, glazed, cracked", Some("belt-slack"), "belt tightened or replaced, pulleys looked at")],
        ..STEP
    },
    RESTING,
    LOAD,
    Row {
        check: "gravity-six-cells",
        after: &["terminals-resting-voltage"],
        limits: limit("1", (None, Some(0.025)),
            "TM 9-6140-200-14, paragraph 4-7: spread between any two cells, fully charged"),
        caution: Some("Acid: eyes and hands covered, water at hand. Sealed, gel and lithium batteries have no cells to open."),
        points: &[("Spread over the limit though charged", Some("battery-worn"), "battery replaced")],
        ..STEP
    },
    Row {
        check: "charging-voltage",
        limits: limit("V", (Some(13.0), Some(15.5)),
            "TM 5-3805-254-20-1, malfunction 26: at 1,100 rpm. Controlled charging on newer vehicles may read 12.5 to 15 V without a fault"),
        caution: Some("The engine runs: hands and clothes away from belts and fan."),
        points: &[("Not reached, or above it", Some("alternator-fault"), "alternator, regulator or its wiring put right")],
        ..STEP
    },
    Row {
        check: "key-off-drain",
        limits: limit("mA", (None, Some(50.0)),
            "common practice: after the control units sleep, 10 to 60 min; the maker's figure rules"),
        caution: Some(DRAIN),
        points: &[("Over the limit", Some("key-off-drain"), "circuit traced and repaired; the battery stays")],
        ..STEP
    },
    Row {
        check: "drain-trace",
        after: &["key-off-drain"],
        caution: Some("The maker's procedure first. Fuse first: one out at a time, the same rating back, never bridged. A short circuit burns: no probe from a live terminal to ground."),
        points: &[("The drain falls when one fuse is out", Some("key-off-drain"), "that circuit repaired; the battery stays")],
        ..STEP
    },
];

#[rustfmt::skip]
const NO_CRANK: &[Row] = &[
    Row {
        check: "cranking-look",
        mandatory: true,
        caution: Some(CRANKING),
        points: &[
            ("Lights go out", None, "terminals and battery next"),
            ("Lights stay bright, nothing is heard", Some("start-control"), "control circuit measured"),
            ("One click, lights dim a little", Some("starter-motor"), "voltage drops measured before the starter is blamed"),
        ],
        may_miss: true,
        ..STEP
    },
    RESTING,
    LOAD,
    Row {
        check: "voltage-drop-cranking",
        limits: limit("V", (None, Some(0.4)),
            "TM 10-3930-671-24: battery post to starter along the positive cable; 0.2 V for each 100 A as a rule of thumb"),
        caution: Some(CRANKING),
        points: &[
            ("Over 0.4 V along the positive cable", Some("cable-resistance"), "cable replaced"),
            ("Between post and clamp", Some("terminal-corroded"), "cleaned, tightened, measured again"),
            ("Between engine and battery ground", Some("ground-poor"), "ground cleaned and tightened"),
        ],
        ..STEP
    },
    Row {
        check: "starter-control",
        limits: limit("V", (Some(11.0), Some(13.0)),
            "TM 5-3805-254-20-1, malfunction 3: at the solenoid, start held for 5 s"),
        caution: Some(CRANKING),
        points: &[
            ("Voltage is there, and it does not crank", Some("starter-motor"), "starter replaced"),
            ("No voltage", Some("start-control"), "switch, relay and wiring followed back"),
        ],
        ..STEP
    },
    Row {
        check: "engine-by-hand",
        caution: Some("Key out, battery ground off, out of gear before a tool is put on the crankshaft."),
        points: &[("Does not turn", None, "accessories and engine looked at before a starter is fitted")],
        ..STEP
    },
];

#[rustfmt::skip]
const CRANK_NO_START: &[Row] = &[
    Row {
        check: "fuel-immobilizer-look",
        mandatory: true,
        points: &[
            ("Tank empty, or the wrong fuel", Some("fuel-quality"), "drained or filled"),
            ("Immobilizer light stays on or flashes", Some("immobilizer"), "key and reader put right"),
        ],
        ..STEP
    },
    Row {
        check: "read-codes",
        mandatory: true,
        may_miss: true,
        points: &[("A code for the crank or cam signal", Some("sensor-crank-cam"), "signal measured before a sensor is fitted")],
        ..STEP
    },
    Row {
        check: "relative-compression",
        may_miss: true,
        caution: Some(CRANKING),
        points: &[("All low, and it spins easily", Some("timing-drive"), "timing looked at before more cranking")],
        ..STEP
    },
    Row {
        check: "plug-coil",
        caution: Some("Ignition voltage can hurt: use a tester, never fingers. No fuel vapor near."),
        points: &[
            ("No spark on all", None, "crank signal next"),
            ("No spark on one, and it moves with the coil", Some("coil-failed"), "coil replaced"),
            ("Worn or fouled", Some("plug-worn"), "plugs replaced; why they fouled looked into"),
        ],
        ..STEP
    },
    Row {
        check: "glow-current",
        limits: limit("A", (Some(8.0), Some(20.0)), "common practice: each plug, diesel, and all alike; the maker's figure rules"),
        caution: Some("The maker's procedure first. Clamp the lead, do not bridge it: a short circuit burns. Glow plugs and what is near them get hot enough to burn."),
        points: &[("One takes none", Some("glow-plug"), "plug or its control replaced")],
        ..STEP
    },
    Row {
        check: "fuel-pressure",
        caution: Some("Fuel under pressure burns and cuts: relieve it as the maker says, no sparks, extinguisher at hand. Never open a diesel's high-pressure line while it runs."),
        points: &[
            ("None, or below the maker's figure", Some("fuel-pump"), "supply to the pump measured, then the pump"),
            ("Falls under load", Some("fuel-filter"), "filter replaced"),
        ],
        ..STEP
    },
    Row {
        check: "crank-signal",
        caution: Some("The maker's procedure first. Ignition and fuel off if it need not start. Parking brake on, out of gear, hands and leads away from belts and fan. Crank 15 s at most."),
        points: &[("No signal while cranking", Some("sensor-crank-cam"), "wiring first, then the sensor")],
        ..STEP
    },
    Row {
        check: "compression",
        minutes: Some(25),
        opening: Some(("Plugs out", 20)),
        limits: limit("%", (Some(75.0), None),
            "TM 5-4210-230-14&P-1, addendum 2: the lowest cylinder against the highest, warm, throttle open"),
        caution: Some("The maker's procedure first. Ignition disabled and fuel off before a plug comes out or the engine is cranked."),
        points: &[
            ("All low", Some("timing-drive"), "timing drive looked at"),
            ("One low, higher with a spoon of oil", Some("rings-worn"), ""),
            ("One low, no higher with oil", Some("valve-burnt"), ""),
            ("Two neighbors low, no higher with oil", Some("head-gasket"), ""),
        ],
        ..STEP
    },
];
