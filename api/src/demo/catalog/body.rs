//! Electrical, body, hybrid, driver aids.

use super::parts::{
    BULB, CAMERA, CELL_BLOCK, CONNECTOR, CONTROL_MODULE, DOOR_SEAL, FAN_FILTER, LOCK, WINDOW_MOTOR,
};
use super::{ANY, GASOLINE, LIRREN, OSTRELLE, Template, fix};

#[rustfmt::skip]
pub(super) const TEMPLATES: &[Template] = &[
    Template {
        symptom: "electric.light-out",
        weight: 6,
        makes: ANY,
        words: &["One headlight is out", "Brake light does not work"],
        checks: &["visual-under-hood"],
        fixes: &[
            fix("fuse-relay", "bulb-replace", 5, 1, [4, 10, 4, 4],
                "Bulb replaced, aim checked").replaced(&BULB),
            fix("connector-corroded", "light-connector-clean", 2, 1, [6, 15, 5, 4],
                "Bulb socket cleaned").cleaned(&CONNECTOR),
        ],
    },
    Template {
        symptom: "electric.accessory",
        weight: 4,
        makes: ANY,
        words: &["Window goes down and stays down, sometimes", "Wipers stop by themselves", "Door unlocks itself"],
        checks: &["interview-reproduce", "read-codes", "network-wiggle"],
        fixes: &[
            fix("wire-chafed", "door-loom-repair", 3, 3, [20, 35, 15, 10],
                "Broken wire in the door loom repaired"),
            fix("connector-corroded", "door-connector-clean", 2, 3, [18, 22, 14, 10],
                "Door plug cleaned").cleaned(&CONNECTOR),
            fix("module-fault", "window-motor-replace", 2, 2, [18, 25, 14, 8],
                "Window motor replaced").replaced(&WINDOW_MOTOR),
            fix("module-fault", "door-lock-replace", 1, 2, [18, 25, 14, 8],
                "Door lock replaced").replaced(&LOCK),
        ],
    },
    Template {
        symptom: "electric.network",
        weight: 3,
        makes: ANY,
        words: &["All the lights come on, then go", "Christmas tree on the dash now and then"],
        checks: &["interview-reproduce", "read-codes", "terminals-resting-voltage", "network-wiggle"],
        fixes: &[
            fix("connector-loose", "network-connector-fix", 3, 4, [15, 30, 12, 15],
                "Loose pin found by wiggle test, terminal replaced").replaced(&CONNECTOR),
            fix("wire-chafed", "network-wire-repair", 2, 4, [20, 40, 15, 15],
                "Chafed pair repaired"),
            fix("module-fault", "module-replace", 1, 4, [15, 45, 12, 15],
                "Body control module replaced and coded").replaced(&CONTROL_MODULE),
        ],
    },
    Template {
        symptom: "body.water-in",
        weight: 2,
        makes: ANY,
        words: &["Wet carpet after rain"],
        checks: &["interview-reproduce", "visual-underneath"],
        fixes: &[
            fix("seal-body", "body-drains-clean", 3, 2, [15, 25, 12, 15],
                "Blocked drain cleared, water test dry"),
            fix("seal-body", "door-seal-replace", 2, 2, [8, 25, 6, 15],
                "Door seal replaced, water test dry").replaced(&DOOR_SEAL),
        ],
    },
    Template {
        symptom: "body.wind-rattle",
        weight: 4,
        makes: ANY,
        words: &["Whistles above fifty", "Something buzzes behind the dash"],
        checks: &["road-test"],
        fixes: &[
            fix("left-loose", "trim-fasten", 4, 1, [6, 18, 4, 10],
                "Loose trim fastened"),
            fix("seal-body", "door-seal-replace", 1, 1, [6, 20, 4, 10],
                "Door seal replaced").replaced(&DOOR_SEAL),
        ],
    },
    Template {
        symptom: "hybrid.ready-fault",
        weight: 2,
        makes: OSTRELLE,
        words: &["Will not go ready, message to see a shop"],
        checks: &["read-codes", "terminals-resting-voltage", "hv-isolation-test"],
        fixes: &[
            fix("connector-loose", "auxiliary-connector-fix", 2, 2, [10, 20, 8, 10],
                "Loose auxiliary plug secured"),
            fix("hv-isolation", "isolation-repair", 1, 3, [40, 50, 40, 20],
                "Damp high-voltage plug replaced by the trained technician; isolation within limits"),
        ],
    },
    Template {
        symptom: "hybrid.range-low",
        weight: 1,
        makes: OSTRELLE,
        words: &["Battery fan is loud and range is short"],
        checks: &["read-codes", "visual-underneath"],
        fixes: &[
            fix("air-filter", "battery-fan-filter-replace", 3, 2, [15, 15, 12, 10],
                "Fan filter replaced").replaced(&FAN_FILTER),
            fix("hv-cell-weak", "cell-block-replace", 1, 2, [50, 50, 50, 20],
                "Weak cell block replaced by the trained technician").replaced(&CELL_BLOCK),
        ],
    },
    Template {
        symptom: "aids.warning",
        weight: 3,
        makes: GASOLINE | LIRREN,
        words: &["Camera warning comes on in sun", "Radar says unavailable"],
        checks: &["read-codes", "bulletin-recall", "road-test"],
        fixes: &[
            fix("not-calibrated", "camera-calibrate", 3, 3, [10, 45, 5, 15],
                "Camera calibrated on the target stand"),
            fix("software", "software-update", 2, 2, [2, 40, 2, 10],
                "Control software brought up to date"),
            fix("module-fault", "camera-replace", 1, 3, [10, 40, 10, 20],
                "Camera replaced and calibrated").replaced(&CAMERA),
        ],
    },
];
