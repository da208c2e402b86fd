//! Cooling, climate.

use analytics::words::Disposition::RemovedRefitted;

use super::parts::{
    CABIN_FILTER, COMPRESSOR, CONNECTOR, FAN, HEAD_GASKET, RADIATOR, RELAY, THERMOSTAT,
};
use super::{ANY, Template, fix};

#[rustfmt::skip]
pub(super) const TEMPLATES: &[Template] = &[
    Template {
        symptom: "cooling.overheats",
        weight: 3,
        makes: ANY,
        words: &["Gauge goes to red in traffic", "Runs hot on the hill"],
        checks: &["visual-under-hood", "cooling-pressure", "thermostat-temperature", "coolant-test"],
        fixes: &[
            fix("radiator-blocked", "radiator-clean", 2, 1, [15, 30, 15, 15],
                "Radiator fins cleaned").cleaned(&RADIATOR),
            fix("thermostat", "thermostat-replace", 3, 3, [15, 20, 15, 15],
                "Thermostat replaced").replaced(&THERMOSTAT),
            fix("fan-control", "fan-replace", 2, 3, [15, 25, 15, 15],
                "Cooling fan replaced").replaced(&FAN),
            fix("head-gasket", "head-gasket-replace", 1, 4, [90, 80, 90, 20],
                "Head gasket replaced").replaced(&HEAD_GASKET)
                .beside(&THERMOSTAT, RemovedRefitted),
        ],
    },
    Template {
        symptom: "cooling.cold-heater",
        weight: 3,
        makes: ANY,
        words: &["No heat inside", "Needle never leaves the cold end"],
        checks: &["visual-under-hood", "thermostat-temperature"],
        fixes: &[
            fix("thermostat", "thermostat-replace", 3, 2, [15, 20, 15, 15],
                "Thermostat replaced, warm in eight minutes").replaced(&THERMOSTAT),
            fix("coolant-low", "coolant-fill-bleed", 2, 1, [4, 25, 4, 15],
                "Filled, bled, no leak found under pressure"),
        ],
    },
    Template {
        symptom: "climate.no-cold",
        weight: 3,
        makes: ANY,
        words: &["Blows warm air", "Air conditioning gave up"],
        checks: &["visual-under-hood", "read-codes", "dye-leak"],
        fixes: &[
            fix("refrigerant-low", "refrigerant-recharge", 4, 3, [5, 45, 5, 8],
                "Leak sealed, system evacuated and filled by weight"),
            fix("fuse-relay", "compressor-relay-replace", 2, 2, [4, 12, 4, 8],
                "Compressor relay replaced").replaced(&RELAY),
            fix("module-fault", "compressor-replace", 1, 3, [40, 50, 40, 10],
                "Compressor replaced").replaced(&COMPRESSOR),
        ],
    },
    Template {
        symptom: "climate.smell",
        weight: 2,
        makes: ANY,
        words: &["Musty smell from the vents", "Windows mist up all the time"],
        checks: &["interview-reproduce", "visual-under-hood"],
        fixes: &[
            fix("air-filter", "cabin-filter-replace", 4, 1, [5, 10, 5, 4],
                "Cabin filter replaced").replaced(&CABIN_FILTER),
            fix("connector-corroded", "fan-connector-clean", 1, 2, [10, 15, 8, 6],
                "Fan plug cleaned, all speeds work").cleaned(&CONNECTOR),
        ],
    },
];
