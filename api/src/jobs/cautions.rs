//! The usual cautions beside the work. Never in place of the vehicle maker's
//! procedure, local codes and licensed practice.

use analytics::words::JobKind;

/// A caution: what it is about, what counts most, what else to do, and where
/// that comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    pub about: &'static str,
    pub first: &'static str,
    pub text: &'static str,
    pub source: &'static str,
    /// Systems beside whose work it stands; empty: beside all work.
    systems: &'static [&'static str],
}

/// What stands over all cautions.
pub const FIRST: &str = "The vehicle maker's procedure, local codes and licensed practice come \
    first. These are reminders beside them.";

const fn caution(
    about: &'static str,
    first: &'static str,
    text: &'static str,
    source: &'static str,
    systems: &'static [&'static str],
) -> Caution {
    Caution { about, first, text, source, systems }
}

/// What maintenance and preparation may lead to, whatever they are charged as.
const UPKEEP: &[&str] = &["lubrication", "wheels-tires", "brakes"];

const ALL: &[Caution] = &[
    caution(
        "Raised vehicle",
        "Never under a vehicle that only a jack holds.",
        "Rated stands on hard level ground, at the maker's lift points, wheels on the floor chocked. \
         Shake it gently before going under. On a lift: within its load, locks engaged, nobody inside.",
        "HSE INDG434, HSG261",
        &[],
    ),
    caution(
        "Running engine",
        "Hands, hair, rings and loose clothes away from belts and fan.",
        "An electric fan can start with the key out. Park brake on, wheels chocked.",
        "29 CFR 1910.147 and 1910.212; common practice",
        &[],
    ),
    caution(
        "Running it indoors",
        "Exhaust hose to the outside, always: an open door is not enough.",
        "At headache or dizziness everyone goes out, and help is called.",
        "29 CFR 1910.1000, Table Z-1; NIOSH criteria for carbon monoxide, 1972",
        &[],
    ),
    caution(
        "Air line and cleaners",
        "Never at skin or clothes; below 30 psi at the nozzle, eyes covered.",
        "Chip guard on. Read the sheet of the cleaner: air, gloves, goggles. No chlorinated one near \
         welding or flame. Rags in a lidded metal bin.",
        "29 CFR 1910.242(b), 1910.1200",
        &[],
    ),
    caution(
        "Road test",
        "Wheel nuts to torque and checked again before the road.",
        "A licensed driver, plates, no phone. After brake work pump the pedal firm and try it at \
         walking pace first.",
        "common practice",
        &[],
    ),
    caution(
        "High voltage",
        "Only trained people; cables are usually orange.",
        "Key locked away from the vehicle, isolate, lock, wait the maker's time, prove it dead with \
         a tester before touching; the pack itself stays live. Rated gloves in date.",
        "HSE, electric and hybrid vehicles; 29 CFR 1910.137",
        &[],
    ),
    caution(
        "Battery",
        "Charging gives off hydrogen: air the place, no sparks, no flame.",
        "Charger off before joining or removing clamps, tools off the top. Face shield, gloves, water \
         for the eyes in reach.",
        "29 CFR 1926.441",
        &[
            "start-charge",
            "lighting-body-electric",
            "driver-aids",
            "hybrid-hv",
            "electric",
            "start",
        ],
    ),
    caution(
        "Hot cooling system",
        "Let it cool, an hour at least, before the cap is touched.",
        "Cloth over the cap, turn to the first stop, let the pressure out, then open.",
        "WorkSafeBC",
        &["cooling", "engine", "climate"],
    ),
    caution(
        "Hot oil, exhaust and turbo",
        "Long gloves, eye protection, face away from the drain.",
        "Used oil harms skin: no rags in pockets, wash with cleaner, never with fuel.",
        "HSE, skin at work",
        &["engine", "lubrication", "exhaust-emission", "transmission", "driveline"],
    ),
    caution(
        "Brake and clutch dust",
        "Treat it as asbestos unless proved otherwise: no air line, no dry brush.",
        "Low-pressure wet wash or a filtered enclosure.",
        "29 CFR 1910.1001, Appendix F",
        &["brakes", "wheels-tires", "transmission", "driveline"],
    ),
    caution(
        "Fuel",
        "Drain it outside or well aired, never over a pit.",
        "A closed retriever, the can bonded. Vapor is heavier than air and travels: no work light, heater \
         or charger near.",
        "HSE OC 803/71",
        &["fuel-air", "ignition", "engine", "exhaust-emission"],
    ),
    caution(
        "Springs and struts",
        "A rated compressor with its guard, and nobody in line with the spring.",
        "Belts and hoods under spring load: the same.",
        "common practice",
        &["suspension", "steering"],
    ),
    caution(
        "Tires",
        "Stand out of the path of a burst, even with a cage.",
        "Clip-on chuck, long hose, gauge. Split rims only in a cage.",
        "29 CFR 1910.177",
        &["wheels-tires", "suspension", "steering"],
    ),
    caution(
        "Airbags and belt tensioners",
        "The maker's power-down and wait first.",
        "Carry a module trim side away from you and set it down trim side up. No test light or \
         ohmmeter on it.",
        "HSE, airbags and pretensioners",
        &["steering", "body-trim", "driver-aids", "lighting-body-electric"],
    ),
    caution(
        "Refrigerant",
        "Trained and certified recovery only.",
        "Goggles and gloves; some of the gases burn.",
        "40 CFR 82, subpart B",
        &["climate"],
    ),
];

/// Those that stand beside the work on a system, its own first, and all the
/// others. Without a system only those of all work stand beside it; maintenance
/// is taken to drain oil and to take wheels off.
#[must_use]
pub fn beside(kind: JobKind, system: Option<&str>) -> (Vec<Caution>, Vec<Caution>) {
    let of_kind = match (kind, system) {
        (JobKind::Maintenance | JobKind::Preparation, None) => UPKEEP,
        _ => &[],
    };
    let (mut beside, others): (Vec<Caution>, Vec<Caution>) =
        ALL.iter().copied().partition(|caution| {
            caution.systems.is_empty()
                || system.is_some_and(|system| caution.systems.contains(&system))
                || of_kind.iter().any(|system| caution.systems.contains(system))
        });
    // Stable: the rest stays in the order of the list.
    beside.sort_by_key(|caution| caution.systems.is_empty());
    (beside, others)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::codes::starting::SYSTEMS;

    #[test]
    fn every_system_is_one_of_the_starting_list() {
        // Two are how imported symptoms begin, whose list knows no system.
        let own = ["electric", "start"];
        for caution in ALL {
            for system in caution.systems {
                let listed = SYSTEMS.iter().any(|known| known.code == *system);
                assert!(listed || own.contains(system), "{system}");
            }
        }
    }

    #[test]
    fn each_system_has_a_caution_of_its_own_and_none_is_lost() {
        let (of_all_work, _) = beside(JobKind::Complaint, None);
        for system in SYSTEMS {
            let (beside, others) = beside(JobKind::Complaint, Some(system.code));
            assert!(beside.len() > of_all_work.len(), "{}", system.code);
            assert_eq!(beside.len() + others.len(), ALL.len());
        }
    }

    #[test]
    fn maintenance_is_warned_of_hot_oil() {
        for (kind, warned) in [(JobKind::Maintenance, true), (JobKind::Complaint, false)] {
            let (beside, _) = beside(kind, None);
            let hot_oil = beside.iter().any(|caution| caution.about.starts_with("Hot oil"));
            assert_eq!(hot_oil, warned);
        }
    }

    #[test]
    fn a_raised_vehicle_and_high_voltage_stand_beside_all_work() {
        let (beside, _) = beside(JobKind::Complaint, Some("cooling"));
        for about in ["Raised vehicle", "High voltage", "Road test", "Hot cooling system"] {
            assert!(beside.iter().any(|caution| caution.about == about), "{about}");
        }
    }
}
