//! Starting and charging.

use analytics::words::Disposition::ReplacedRebuilt;

use super::parts::{
    ALTERNATOR, BATTERY, BELT, CABLE, CONNECTOR, CRANK_SENSOR, FUEL_PUMP, GLOW_PLUG, RELAY, STARTER,
};
use super::{ANY, GASOLINE, LIRREN, Template, fix};

#[rustfmt::skip]
pub(super) const TEMPLATES: &[Template] = &[
    Template {
        symptom: "start.no-crank",
        weight: 3,
        makes: ANY,
        words: &[
            "Nothing happens when I turn the key, only a click",
            "Would not start this morning, not a sound",
            "Lights work but it will not turn over",
        ],
        checks: &[
            "interview-reproduce",
            "terminals-resting-voltage",
            "voltage-drop-cranking",
            "starter-control",
        ],
        fixes: &[
            fix("terminal-corroded", "battery-terminals-clean", 3, 3, [3, 18, 3, 6],
                "Terminals taken off, cleaned, greased and tightened; drop under cranking measured again"),
            fix("cable-resistance", "battery-cable-replace", 2, 3, [6, 28, 6, 6],
                "Positive cable replaced; drop under 0.2 V afterwards").replaced(&CABLE),
            fix("starter-motor", "starter-replace", 3, 4, [22, 30, 18, 8],
                "Starter motor replaced").with(&STARTER, ReplacedRebuilt),
            fix("start-control", "start-relay-replace", 2, 4, [4, 14, 4, 6],
                "Start relay replaced, control voltage present").replaced(&RELAY),
        ],
    },
    Template {
        symptom: "start.slow-crank",
        weight: 2,
        makes: ANY,
        words: &["Turns over slowly in the morning", "Engine drags when starting"],
        checks: &["terminals-resting-voltage", "battery-load", "voltage-drop-cranking"],
        fixes: &[
            fix("battery-worn", "battery-replace", 4, 2, [4, 16, 4, 6],
                "Battery replaced, charging voltage confirmed").replaced(&BATTERY),
            fix("ground-poor", "ground-clean", 2, 3, [5, 22, 5, 6],
                "Ground strap cleaned to bare metal and refitted"),
        ],
    },
    Template {
        symptom: "start.crank-no-start",
        weight: 2,
        makes: ANY,
        words: &["Turns over but does not catch", "Cranks and cranks, no start"],
        checks: &["read-codes", "fuel-pressure", "plug-coil", "relative-compression"],
        fixes: &[
            fix("fuel-pump", "fuel-pump-replace", 2, 2, [25, 35, 25, 10],
                "Fuel pump replaced, pressure within limits").replaced(&FUEL_PUMP),
            fix("sensor-crank-cam", "crank-sensor-replace", 3, 3, [15, 15, 10, 8],
                "Crank sensor replaced, signal steady").replaced(&CRANK_SENSOR),
            fix("fuse-relay", "pump-relay-replace", 1, 2, [3, 12, 3, 6],
                "Pump relay replaced").replaced(&RELAY),
        ],
    },
    Template {
        symptom: "start.hard-cold",
        weight: 2,
        makes: LIRREN,
        words: &["Hard to start on cold mornings, smokes at first", "Needs many tries when cold"],
        checks: &["read-codes", "glow-current", "injector-return", "battery-load"],
        fixes: &[
            fix("glow-plug", "glow-plugs-replace", 4, 2, [12, 30, 10, 8],
                "Glow plug replaced, all currents alike").replaced(&GLOW_PLUG),
            fix("battery-worn", "battery-replace", 1, 4, [4, 16, 4, 6],
                "Battery replaced").replaced(&BATTERY),
        ],
    },
    Template {
        symptom: "start.hard-hot",
        weight: 1,
        makes: GASOLINE,
        words: &["Will not restart when hot", "Starts badly after a short stop"],
        checks: &["interview-reproduce", "read-codes", "fuel-pressure"],
        fixes: &[
            fix("sensor-crank-cam", "crank-sensor-replace", 3, 2, [15, 15, 10, 8],
                "Crank sensor replaced, hot restart tried three times").replaced(&CRANK_SENSOR),
            fix("fuel-pump", "fuel-pump-replace", 1, 3, [25, 35, 25, 10],
                "Fuel pump replaced, holding pressure good").replaced(&FUEL_PUMP),
        ],
    },
    Template {
        symptom: "charge.light",
        weight: 2,
        makes: ANY,
        words: &["Red battery light stays on", "Battery light glows at idle"],
        checks: &["visual-under-hood", "charging-voltage", "terminals-resting-voltage"],
        fixes: &[
            fix("belt-slack", "drive-belt-replace", 3, 1, [8, 20, 8, 6],
                "Drive belt replaced").replaced(&BELT),
            fix("alternator-fault", "alternator-replace", 3, 2, [20, 35, 20, 8],
                "Alternator replaced, 14.2 V at 1,100 rpm").with(&ALTERNATOR, ReplacedRebuilt),
            fix("connector-corroded", "connector-clean", 1, 3, [5, 18, 4, 6],
                "Regulator plug cleaned and sealed").cleaned(&CONNECTOR),
        ],
    },
];
