//! The parts of the demo shop, with invented numbers and prices.

use analytics::words::Serviceable;

/// A part as the shop buys it.
#[derive(Debug, Clone, Copy)]
pub(in crate::demo) struct Part {
    pub no: &'static str,
    pub name: &'static str,
    /// Positions on the vehicle; empty where there is only one.
    pub places: &'static [&'static str],
    /// Minor units, of one.
    pub cost: i64,
    pub price: i64,
    pub serviceable: Serviceable,
}

const fn part(
    no: &'static str,
    name: &'static str,
    places: &'static [&'static str],
    cost: i64,
) -> Part {
    Part {
        no,
        name,
        places,
        cost,
        // A markup of half, common practice.
        price: cost + cost / 2,
        serviceable: Serviceable::Alone,
    }
}

const fn assembly(mut part: Part) -> Part {
    part.serviceable = Serviceable::AssemblyOnly;
    part
}

const AXLES: &[&str] = &["front", "rear"];
const SIDES: &[&str] = &["left", "right"];
const CORNERS: &[&str] = &["front left", "front right", "rear left", "rear right"];
pub(in crate::demo) const CYLINDERS: &[&str] =
    &["cylinder 1", "cylinder 2", "cylinder 3", "cylinder 4"];

macro_rules! parts {
    ($($name:ident = $value:expr;)+) => {
        $(pub(in crate::demo) const $name: Part = $value;)+
    };
}

#[rustfmt::skip]
parts! {
    // The parts of the planted stories: no ordinary job touches them.
    IDLE_VALVE = part("IAV-100", "idle air valve", &["intake"], 8500);
    COIL = part("COIL-20", "ignition coil", CYLINDERS, 6200);
    ARM_BUSH = part("BSH-41", "front lower control arm bushing", SIDES, 2400);
    // Out only by deep work, and sold only whole.
    LIFTER = assembly(part("LFT-08", "hydraulic lifter", CYLINDERS, 6000));

    BATTERY = part("BAT-60", "battery", &[], 11800);
    CABLE = part("CBL-05", "battery cable", &["positive", "negative"], 3600);
    STARTER = part("STR-12", "starter motor", &[], 17500);
    RELAY = part("RLY-30", "relay", &["fuse box"], 1400);
    ALTERNATOR = part("ALT-90", "alternator", &[], 24500);
    BELT = part("BLT-06", "drive belt", &[], 3200);
    CRANK_SENSOR = part("SNS-14", "crank sensor", &[], 4800);
    GLOW_PLUG = part("GLW-04", "glow plug", CYLINDERS, 2100);
    FUEL_PUMP = part("FPM-22", "fuel pump", &["tank"], 16800);
    FUEL_FILTER = part("FFL-03", "fuel filter", &[], 2200);
    INJECTOR = part("INJ-11", "fuel injector", CYLINDERS, 9600);
    PLUGS = part("PLG-44", "spark plug", CYLINDERS, 1100);
    THROTTLE = part("THR-70", "throttle body", &["intake"], 19500);
    AIR_FILTER = part("AFL-02", "air filter", &[], 1900);
    AIR_METER = part("AMT-08", "mass airflow sensor", &["intake"], 13200);
    INTAKE_HOSE = part("IHS-15", "intake hose", &["intake"], 3900);
    EGR_VALVE = part("EGR-31", "EGR valve", &["intake"], 15400);
    OXYGEN_SENSOR = part("SNS-02", "oxygen sensor", &["bank 1"], 8700);
    TIMING_SET = part("TMG-50", "timing set", &[], 14900);
    ROCKER_SEAL = part("GSK-21", "valve cover gasket", &["bank 1"], 2700);
    CRANK_SEAL = part("GSK-33", "crankshaft seal", AXLES, 1900);
    OIL_SENDER = part("SNS-40", "oil pressure sender", &[], 2600);
    BREATHER = part("BRT-09", "breather valve", &[], 2300);
    ENGINE_MOUNT = part("MNT-18", "engine mount", SIDES, 7400);
    TURBO_HOSE = part("IHS-62", "boost hose", SIDES, 5200);
    WATER_PUMP = part("WPM-27", "water pump", &[], 8900);
    THERMOSTAT = part("THM-13", "thermostat", &[], 3100);
    FAN = part("FAN-16", "cooling fan", &[], 14200);
    COOLANT_HOSE = part("CHS-19", "coolant hose", &["upper", "lower"], 2900);
    RADIATOR = part("RAD-36", "radiator", &[], 18800);
    HEAD_GASKET = part("GSK-55", "head gasket", &["bank 1"], 7600);
    MUFFLER = part("EXH-25", "muffler", &["rear"], 12300);
    DIESEL_FILTER = part("DPF-07", "particulate filter", &[], 61000);
    CLUTCH = part("CLT-17", "clutch set", &[], 21500);
    MOUNT_TRANS = part("MNT-23", "transmission mount", &[], 6800);
    SHIFT_VALVE = assembly(part("TRV-29", "valve body", &[], 33000));
    SHAFT_JOINT = part("CVJ-38", "CV joint", CORNERS, 9900);
    WHEEL_BEARING = part("BRG-46", "wheel bearing", CORNERS, 7900);
    PADS = part("PAD-52", "brake pads", AXLES, 4600);
    DISC = part("DSC-53", "brake rotor", CORNERS, 5400);
    CALIPER = part("CLP-54", "brake caliper", CORNERS, 10900);
    WHEEL_SENSOR = part("SNS-57", "wheel speed sensor", CORNERS, 4400);
    TIRE = part("TIR-61", "tire", CORNERS, 8800);
    TIRE_VALVE = part("TPV-64", "tire valve with sensor", CORNERS, 3700);
    TIE_ROD = part("TRE-66", "tie-rod end", SIDES, 3400);
    BALL_JOINT = part("BJT-68", "ball joint", SIDES, 4900);
    STEERING_RACK = assembly(part("RCK-71", "steering rack", &[], 42000));
    SHOCK = part("SHK-73", "shock absorber", CORNERS, 8300);
    ANTI_ROLL_LINK = part("LNK-74", "sway bar link", SIDES, 2800);
    COMPRESSOR = part("ACC-75", "air conditioning compressor", &[], 29800);
    CABIN_FILTER = part("CFL-76", "cabin filter", &[], 1800);
    BULB = part("BLB-77", "bulb", &["left", "right", "rear left", "rear right"], 700);
    WINDOW_MOTOR = part("WMT-78", "window motor", SIDES, 9200);
    LOCK = assembly(part("LCK-79", "door lock", CORNERS, 8600));
    CONTROL_MODULE = part("CTM-80", "control module", &["body"], 27500);
    CONNECTOR = part("CON-81", "connector", &["engine bay", "floor", "door"], 1200);
    DOOR_SEAL = part("SEL-83", "door seal", CORNERS, 4200);
    FAN_FILTER = part("HVF-85", "battery fan filter", &[], 2600);
    CELL_BLOCK = assembly(part("HVB-86", "cell block", &["block 3", "block 7"], 31000));
    CAMERA = part("CAM-88", "front camera", &[], 36500);
    OIL_FILTER = part("OFL-01", "oil filter", &[], 900);
}
