//! The code lists a new shop starts with. A shop edits its own copies; these
//! tables only fill them the first time.

use analytics::words::{Access, Curable};

pub use super::whens::WHENS;

/// A system of the vehicle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SystemCode {
    pub code: &'static str,
    pub label: &'static str,
}

/// What the customer complains of, on which system.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SymptomCode {
    pub code: &'static str,
    /// Code of a [`SYSTEMS`] line.
    pub system: &'static str,
    pub label: &'static str,
}

/// Why a complaint was there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CauseCode {
    pub code: &'static str,
    pub label: &'static str,
    /// `physical` (something on the vehicle), `workmanship` (work done before,
    /// ours or another's), `supply` (a part as supplied), `none` (nothing wrong).
    pub kind: &'static str,
    /// Whether cleaning can cure it.
    pub curable: Curable,
}

/// A diagnostic step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CheckCode {
    pub code: &'static str,
    pub label: &'static str,
    /// Hands-on minutes to start from: estimates, until the shop's own medians
    /// replace them.
    pub minutes: i32,
    /// Minutes of waiting beside them.
    pub waiting_minutes: i32,
    /// What must be open or ready before. Of a check of the shop's own nothing is
    /// known.
    pub access: Access,
}

/// Why a vehicle came back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ComebackReason {
    pub code: &'static str,
    pub label: &'static str,
    /// Whose doing it is taken to be: `shop_work`, `shop_process`, `supplier`,
    /// `customer_choice`, `none`.
    pub attribution: &'static str,
}

const fn system(code: &'static str, label: &'static str) -> SystemCode {
    SystemCode { code, label }
}

const fn symptom(code: &'static str, system: &'static str, label: &'static str) -> SymptomCode {
    SymptomCode { code, system, label }
}

const fn cause(
    code: &'static str,
    label: &'static str,
    kind: &'static str,
    curable: Curable,
) -> CauseCode {
    CauseCode { code, label, kind, curable }
}

const fn check(
    code: &'static str,
    label: &'static str,
    minutes: i32,
    waiting_minutes: i32,
    access: Access,
) -> CheckCode {
    CheckCode { code, label, minutes, waiting_minutes, access }
}

const fn reason(
    code: &'static str,
    label: &'static str,
    attribution: &'static str,
) -> ComebackReason {
    ComebackReason { code, label, attribution }
}

/// The systems of a vehicle.
#[rustfmt::skip]
pub const SYSTEMS: &[SystemCode] = &[
    system("start-charge", "Starting and charging"),
    system("engine", "Engine"),
    system("fuel-air", "Fuel and air"),
    system("ignition", "Ignition"),
    system("cooling", "Cooling"),
    system("lubrication", "Lubrication"),
    system("exhaust-emission", "Exhaust and emission control"),
    system("transmission", "Transmission and clutch"),
    system("driveline", "Driveline"),
    system("brakes", "Brakes"),
    system("steering", "Steering"),
    system("suspension", "Suspension"),
    system("wheels-tires", "Wheels and tires"),
    system("climate", "Heating and air conditioning"),
    system("lighting-body-electric", "Lighting and body electric"),
    system("body-trim", "Body and trim"),
    system("hybrid-hv", "Hybrid and high voltage"),
    system("driver-aids", "Driver aids"),
];

/// Symptoms, by system and how they show.
#[rustfmt::skip]
pub const SYMPTOMS: &[SymptomCode] = &[
    symptom("start.no-crank", "start-charge", "Nothing, or one click, when starting"),
    symptom("start.slow-crank", "start-charge", "Engine turns over slowly"),
    symptom("start.crank-no-start", "start-charge", "Engine turns over but does not fire"),
    symptom("start.hard-cold", "start-charge", "Hard to start when cold"),
    symptom("start.hard-hot", "start-charge", "Hard to start when hot"),
    symptom("charge.battery-flat", "start-charge", "Battery goes flat while parked"),
    symptom("charge.light", "start-charge", "Charge warning light stays on"),
    symptom("engine.idle-rough", "fuel-air", "Idles unevenly"),
    symptom("engine.idle-high", "fuel-air", "Idles too fast"),
    symptom("engine.stalls", "fuel-air", "Dies at idle or when coming to a stop"),
    symptom("engine.misfire", "ignition", "Jerks or shakes under load"),
    symptom("engine.hesitates", "fuel-air", "Hesitates when pulling away"),
    symptom("engine.low-power", "engine", "Low power, does not pull"),
    symptom("engine.surges", "fuel-air", "Engine speed rises and falls by itself"),
    symptom("engine.knock", "engine", "Deep knock from the engine"),
    symptom("engine.tick", "engine", "Light tapping from the top of the engine"),
    symptom("engine.belt-squeal", "engine", "Belt squeals"),
    symptom("engine.light", "exhaust-emission", "Check-engine light on"),
    symptom("engine.uses-oil", "lubrication", "Uses oil"),
    symptom("engine.oil-leak", "lubrication", "Oil drips"),
    symptom("engine.oil-pressure", "lubrication", "Oil light on, or low oil gauge"),
    symptom("fuel.uses-fuel", "fuel-air", "Uses much fuel"),
    symptom("fuel.smell", "fuel-air", "Smells of fuel"),
    symptom("cooling.overheats", "cooling", "Runs hot"),
    symptom("cooling.cold-heater", "cooling", "Never gets warm, or no heat inside"),
    symptom("cooling.coolant-loss", "cooling", "Loses coolant"),
    symptom("exhaust.smoke-blue", "exhaust-emission", "Blue smoke"),
    symptom("exhaust.smoke-white", "exhaust-emission", "White smoke"),
    symptom("exhaust.smoke-black", "exhaust-emission", "Black smoke"),
    symptom("exhaust.noise", "exhaust-emission", "Exhaust blows or rattles"),
    symptom("exhaust.filter-light", "exhaust-emission", "Particulate filter light on"),
    symptom("trans.slips", "transmission", "Transmission slips"),
    symptom("trans.harsh-shift", "transmission", "Shifts with a jerk"),
    symptom("trans.wont-engage", "transmission", "No drive, or a gear will not go in"),
    symptom("clutch.chatter", "transmission", "Clutch chatters or drags"),
    symptom("driveline.clunk", "driveline", "Clunk when taking up drive"),
    symptom("driveline.vibration", "driveline", "Vibration that follows road speed"),
    symptom("brakes.noise", "brakes", "Brakes squeal or grind"),
    symptom("brakes.pull", "brakes", "Pulls to one side when braking"),
    symptom("brakes.pulsates", "brakes", "Pedal or wheel pulsates when braking"),
    symptom("brakes.soft-pedal", "brakes", "Long or soft brake pedal"),
    symptom("brakes.drag", "brakes", "Brake binds, wheel gets hot"),
    symptom("brakes.light", "brakes", "Brake or anti-lock light on"),
    symptom("steering.wanders", "steering", "Wanders or pulls to one side"),
    symptom("steering.vibration", "steering", "Steering wheel shakes at speed"),
    symptom("steering.heavy", "steering", "Steering is heavy"),
    symptom("steering.play", "steering", "Free play or knock in the steering"),
    symptom("suspension.knock", "suspension", "Knocks over bumps"),
    symptom("tires.wear", "wheels-tires", "Tires wear unevenly"),
    symptom("tires.pressure", "wheels-tires", "Loses air, or tire pressure light on"),
    symptom("climate.no-cold", "climate", "Air conditioning does not cool"),
    symptom("climate.smell", "climate", "Smell inside, or windows fog up"),
    symptom("electric.light-out", "lighting-body-electric", "A light does not work"),
    symptom("electric.accessory", "lighting-body-electric", "Window, lock, wiper or radio fault"),
    symptom("electric.network", "lighting-body-electric", "Many warning lights at once"),
    symptom("body.water-in", "body-trim", "Water gets inside"),
    symptom("body.wind-rattle", "body-trim", "Wind noise or rattle"),
    symptom("hybrid.ready-fault", "hybrid-hv", "Will not go ready to drive"),
    symptom("hybrid.range-low", "hybrid-hv", "Low electric range, or battery fan loud"),
    symptom("aids.warning", "driver-aids", "Camera or radar warning"),
];

/// Causes. Wear is not cured by cleaning; dirt may be.
#[rustfmt::skip]
pub const CAUSES: &[CauseCode] = &[
    cause("battery-worn", "Battery worn out", "physical", Curable::No),
    cause("terminal-corroded", "Battery terminal corroded", "physical", Curable::Depends),
    cause("cable-resistance", "Cable with high resistance", "physical", Curable::No),
    cause("ground-poor", "Poor ground connection", "physical", Curable::Yes),
    cause("alternator-fault", "Alternator fault", "physical", Curable::No),
    cause("belt-slack", "Drive belt loose or worn", "physical", Curable::No),
    cause("key-off-drain", "Current drain with the key off", "physical", Curable::No),
    cause("starter-motor", "Starter motor fault", "physical", Curable::No),
    cause("start-control", "Fault in the start control circuit", "physical", Curable::No),
    cause("immobilizer", "Immobilizer fault", "physical", Curable::No),
    cause("oil-level", "Oil level too low or too high", "physical", Curable::No),
    cause("oil-wrong-grade", "Wrong grade of oil", "physical", Curable::No),
    cause("oil-aerated", "Air in the oil", "physical", Curable::No),
    cause("oil-pump", "Oil pump weak", "physical", Curable::No),
    cause("bearing-worn", "Engine bearing worn", "physical", Curable::No),
    cause("lifter-dirty", "Valve lifter dirty", "physical", Curable::Depends),
    cause("lifter-worn", "Valve lifter worn", "physical", Curable::No),
    cause("rocker-pushrod", "Rocker or pushrod bent or worn", "physical", Curable::No),
    cause("cam-worn", "Camshaft lobe worn", "physical", Curable::No),
    cause("valve-burnt", "Valve burned", "physical", Curable::No),
    cause("valve-guide-seal", "Valve guide or stem seal worn", "physical", Curable::No),
    cause("rings-worn", "Piston rings worn", "physical", Curable::No),
    cause("head-gasket", "Head gasket leaks", "physical", Curable::No),
    cause("timing-drive", "Timing chain or belt worn or slipped", "physical", Curable::No),
    cause("mount-broken", "Engine mount broken", "physical", Curable::No),
    cause("breather-blocked", "Crankcase breather blocked", "physical", Curable::Yes),
    cause("seal-gasket-leak", "Seal or gasket leaks", "physical", Curable::No),
    cause("air-filter", "Air filter blocked", "physical", Curable::No),
    cause("intake-leak", "Intake leaks air", "physical", Curable::No),
    cause("throttle-dirty", "Throttle body dirty", "physical", Curable::Depends),
    cause("idle-valve-stuck", "Idle air valve sticks", "physical", Curable::Depends),
    cause("air-meter", "Mass airflow sensor fault", "physical", Curable::No),
    cause("injector-dirty", "Injector dirty", "physical", Curable::Depends),
    cause("injector-leak", "Injector leaks", "physical", Curable::No),
    cause("fuel-pump", "Fuel pump weak", "physical", Curable::No),
    cause("fuel-filter", "Fuel filter blocked", "physical", Curable::No),
    cause("fuel-quality", "Bad or wrong fuel", "physical", Curable::No),
    cause("plug-worn", "Spark plug worn", "physical", Curable::No),
    cause("coil-failed", "Ignition coil failed", "physical", Curable::No),
    cause("sensor-crank-cam", "Crank or cam sensor fault", "physical", Curable::No),
    cause("sensor-other", "Other sensor fault", "physical", Curable::No),
    cause("glow-plug", "Glow plug or its control failed", "physical", Curable::No),
    cause("turbo-leak", "Boost leak or turbocharger fault", "physical", Curable::No),
    cause("egr-dirty", "EGR valve dirty", "physical", Curable::Depends),
    cause("exhaust-blocked", "Exhaust or filter blocked", "physical", Curable::No),
    cause("coolant-low", "Coolant low", "physical", Curable::No),
    cause("thermostat", "Thermostat stuck", "physical", Curable::No),
    cause("water-pump", "Water pump leaks or worn", "physical", Curable::No),
    cause("radiator-blocked", "Radiator blocked", "physical", Curable::Yes),
    cause("fan-control", "Fan or its control faulty", "physical", Curable::No),
    cause("hose-or-cap", "Hose or cap leaks", "physical", Curable::No),
    cause("clutch-worn", "Clutch worn", "physical", Curable::No),
    cause("trans-fluid", "Transmission fluid low, old or wrong", "physical", Curable::No),
    cause("trans-internal", "Fault inside the transmission", "physical", Curable::No),
    cause("joint-worn", "CV or driveshaft joint worn", "physical", Curable::No),
    cause("wheel-bearing", "Wheel bearing worn", "physical", Curable::No),
    cause("pad-worn", "Brake pad or lining worn", "physical", Curable::No),
    cause("rotor-out-of-true", "Brake rotor out of true (runout)", "physical", Curable::No),
    cause("caliper-stuck", "Brake caliper sticks", "physical", Curable::Depends),
    cause("brake-fluid-air", "Brake fluid old, low, or air in it", "physical", Curable::No),
    cause("tire-pressure", "Tire pressure wrong", "physical", Curable::No),
    cause("tire-fault", "Tire damaged or worn", "physical", Curable::No),
    cause("wheel-balance", "Wheel out of balance", "physical", Curable::No),
    cause("wheel-bent", "Wheel rim bent", "physical", Curable::No),
    cause("alignment", "Wheel alignment out", "physical", Curable::No),
    cause("ball-joint", "Ball joint or tie-rod end worn", "physical", Curable::No),
    cause("bushing-worn", "Suspension bushing worn", "physical", Curable::No),
    cause("shock-leak", "Shock absorber or strut leaks", "physical", Curable::No),
    cause("spring-broken", "Spring broken", "physical", Curable::No),
    cause("steering-rack", "Steering rack worn or leaking", "physical", Curable::No),
    cause("wire-chafed", "Wire chafed or broken", "physical", Curable::No),
    cause("connector-loose", "Connector loose", "physical", Curable::No),
    cause("connector-corroded", "Connector corroded", "physical", Curable::Depends),
    cause("fuse-relay", "Fuse or relay failed", "physical", Curable::No),
    cause("module-fault", "Control module fault", "physical", Curable::No),
    cause("software", "Software out of date or wrong", "physical", Curable::No),
    cause("refrigerant-low", "Refrigerant low", "physical", Curable::No),
    cause("seal-body", "Body seal or drain at fault", "physical", Curable::No),
    cause("hv-isolation", "High-voltage isolation low", "physical", Curable::No),
    cause("hv-cell-weak", "Weak cell block in the high-voltage battery", "physical", Curable::No),
    cause("left-loose", "Left loose", "workmanship", Curable::No),
    cause("misassembled", "Put together wrongly", "workmanship", Curable::No),
    cause("wrong-adjustment", "Wrong adjustment", "workmanship", Curable::No),
    cause("not-calibrated", "Not calibrated or learned after work", "workmanship", Curable::No),
    cause("damaged-in-work", "Damaged during work", "workmanship", Curable::No),
    cause("cleaning-incomplete", "Cleaning not complete", "workmanship", Curable::Yes),
    cause("part-defective-new", "New part defective", "supply", Curable::No),
    cause("part-wrong", "Wrong part supplied", "supply", Curable::No),
    cause("rebuilt-poor", "Rebuilt part poor", "supply", Curable::No),
    cause("normal-behavior", "Normal behavior of the vehicle", "none", Curable::No),
    cause("driver-use", "The way the vehicle is used", "none", Curable::No),
    cause("outside-influence", "Outside influence", "none", Curable::No),
    cause("not-found", "Cause not found", "none", Curable::No),
];

/// Checks, with estimated hands-on minutes.
#[rustfmt::skip]
pub const CHECKS: &[CheckCode] = &[
    check("interview-reproduce", "Ask the customer and reproduce", 10, 0, Access::None),
    check("road-test", "Road test", 15, 0, Access::None),
    check("read-codes", "Read codes and freeze frame", 8, 0, Access::None),
    check("bulletin-recall", "Look up bulletins and recalls", 8, 0, Access::None),
    check("visual-under-hood", "Look under the hood, levels", 8, 0, Access::None),
    check("visual-underneath", "Look underneath on the lift", 12, 0, Access::Lift),
    check("terminals-resting-voltage", "Battery terminals and resting voltage", 6, 0, Access::None),
    check("battery-load", "Battery load or conductance test", 8, 0, Access::None),
    check("gravity-six-cells", "Electrolyte gravity of six cells", 12, 0, Access::None),
    check("charging-voltage", "Charging voltage and ripple", 8, 0, Access::None),
    check("voltage-drop-cranking", "Voltage drops while cranking", 12, 0, Access::Light),
    check("key-off-drain", "Current drain with the key off", 15, 20, Access::None),
    check("drain-trace", "Trace a drain fuse by fuse", 40, 0, Access::None),
    check("starter-control", "Control voltage at the starter", 12, 0, Access::Light),
    check("fuel-pressure", "Fuel pressure", 20, 0, Access::Light),
    check("intake-smoke", "Smoke test of the intake", 20, 0, Access::Light),
    check("plug-coil", "Look at plugs and coils, swap them", 25, 0, Access::Light),
    check("relative-compression", "Relative compression by starter current", 10, 0, Access::None),
    check("compression", "Compression of all cylinders", 45, 0, Access::PlugsOut),
    check("cylinder-leakage", "Leakage of one cylinder", 30, 0, Access::PlugsOut),
    check("vacuum-gauge", "Intake vacuum", 8, 0, Access::Light),
    check("oil-pressure", "Oil pressure by gauge", 25, 0, Access::Light),
    check("stethoscope", "Locate a noise by stethoscope", 10, 0, Access::None),
    check("valve-cover-off", "Valve cover off, look", 50, 0, Access::Cover),
    check("lifter-leak-down", "Leak-down of one lifter", 20, 0, Access::Deep),
    check("cooling-pressure", "Cooling system pressure, and cap", 15, 0, Access::None),
    check("coolant-test", "Coolant freeze point and gas test", 10, 0, Access::None),
    check("thermostat-temperature", "Thermostat by temperature", 15, 0, Access::None),
    check("dye-leak", "Dye and light for leaks", 30, 0, Access::None),
    check("brake-strip", "Take apart and measure one axle's brakes", 30, 0, Access::Wheels),
    check("rotor-runout", "Rotor runout and thickness, one axle", 25, 0, Access::Wheels),
    check("shake-down", "Shake down steering and suspension", 15, 0, Access::Lift),
    check("alignment-measure", "Measure the alignment", 35, 0, Access::Rack),
    check("balance-runout", "Balance and runout of four wheels", 40, 0, Access::Wheels),
    check("injector-return", "Injector return flow, diesel", 30, 0, Access::Light),
    check("glow-current", "Glow plug current", 12, 0, Access::Light),
    check("network-wiggle", "Network and connectors, wiggle test", 30, 0, Access::Varies),
    check("cranking-look", "Listen and watch the lights while cranking", 4, 0, Access::None),
    check("engine-by-hand", "Turn the engine over by hand", 8, 0, Access::Light),
    check("fuel-immobilizer-look", "Fuel in the tank, immobilizer light", 3, 0, Access::None),
    check("crank-signal", "Crank sensor signal", 15, 0, Access::Light),
    check("belt-look", "Drive belt: tension and wear", 4, 0, Access::None),
    check("oil-condition", "Oil: grade, age, foam", 5, 0, Access::None),
    check("oil-consumption", "Fill, mark, drive, and measure the oil used", 25, 0, Access::None),
    check("breather-look", "Crankcase breather", 6, 0, Access::Light),
    check("intake-valve-look", "Look at the intake valves", 30, 0, Access::PlugsOut),
    check("radiator-airflow", "Radiator, shutters and airflow", 8, 0, Access::None),
    check("fan-run", "Run the fan", 10, 0, Access::None),
    check("tire-pressures", "Tire pressures, every wheel", 5, 0, Access::None),
    check("wheel-drag", "Spin each wheel, feel for drag and heat", 8, 0, Access::Lift),
    check("wheel-look", "Wheels: mud, nuts, bent rims", 8, 0, Access::None),
    check("hub-face", "Clean the hub face, measure again", 15, 0, Access::Wheels),
    check("hv-isolation-test", "High-voltage isolation", 30, 0, Access::Trained),
];

/// Checks that take no tools and narrow the search whatever they find: a shop that
/// does them does them first (common practice).
pub const FREE_LOOKS: &[&str] =
    &["interview-reproduce", "road-test", "visual-under-hood", "read-codes", "bulletin-recall"];

/// Reasons for a comeback, and whose doing each is taken to be at first.
#[rustfmt::skip]
pub const COMEBACK_REASONS: &[ComebackReason] = &[
    reason("misdiagnosis", "The cause found was not the cause", "shop_work"),
    reason("diagnosis-incomplete", "Diagnosis stopped at the first fault", "shop_work"),
    reason("second-cause-present", "A second cause was present", "none"),
    reason("workmanship", "The work was not done well", "shop_work"),
    reason("part-defective", "A part supplied was defective", "supplier"),
    reason("part-wrong", "A wrong part was supplied", "supplier"),
    reason("part-reused-failed", "A part put back failed", "shop_work"),
    reason("not-repaired", "Not repaired: declined, no authority, no part", "customer_choice"),
    reason("intermittent-not-reproduced", "Comes and goes, could not be reproduced", "none"),
    reason("calibration-missed", "Calibration or learning was missed", "shop_work"),
    reason("sublet-work", "Work done by another business", "supplier"),
    reason("unrelated-same-symptom", "Same symptom, another cause since", "none"),
    reason("new-fault", "A new fault", "none"),
    reason("customer-expectation", "The customer expected something else", "customer_choice"),
    reason("normal-behavior-not-explained", "Normal behavior was not explained", "shop_process"),
    reason("write-up-unclear", "The write-up was unclear", "shop_process"),
    reason("caused-by-outside", "Caused from outside: fuel, impact, tampering", "none"),
    reason("not-yet-known", "Not yet known", "none"),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_first_is_on_the_list_and_opens_nothing() {
        for look in FREE_LOOKS {
            let listed = CHECKS.iter().find(|check| check.code == *look);
            assert_eq!(listed.map(|check| check.access), Some(Access::None), "{look}");
        }
    }
}
