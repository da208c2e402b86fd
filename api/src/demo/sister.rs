//! The sister shops of a large demo group: ordinary work only, written down
//! more fully than at Four Sycamores.

use super::catalog::check_minutes;
use super::catalog::parts::{AIR_FILTER, CABIN_FILTER};
use super::dice::Dice;
use super::planned::Planned;
use super::sheet::{Minutes, Sheet, Step, part_line};
use analytics::words::{Disposition, Finding, PartRole};

/// A sister shop, and who leads it and stands at its counter: all invented.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SisterShop {
    pub code: &'static str,
    pub name: &'static str,
    pub manager: &'static str,
    pub adviser: &'static str,
}

/// The shops of the group at most, Four Sycamores among them.
pub const MOST_SHOPS: usize = SISTERS.len() + 1;

const fn sister(
    code: &'static str,
    name: &'static str,
    manager: &'static str,
    adviser: &'static str,
) -> SisterShop {
    SisterShop { code, name, manager, adviser }
}

#[rustfmt::skip]
const SISTERS: [SisterShop; 19] = [
    sister("quillbank", "Quillbank Motor Works", "Isaura Brandwick", "Leofric Passmoor"),
    sister("tannerfold", "Tannerfold Motor Works", "Oswin Cardamy", "Petronel Ashgrove"),
    sister("brackwater", "Brackwater Motor Works", "Mirabel Fenholt", "Ruvim Saltersby"),
    sister("hollowmere", "Hollowmere Motor Works", "Casimir Dunleigh", "Thessaly Marchbank"),
    sister("ninefords", "Ninefords Motor Works", "Ottilie Garrowby", "Evander Lisle-Hart"),
    sister("pepperstile", "Pepperstile Motor Works", "Florian Hexted", "Zenobia Wray"),
    sister("larkenshaw", "Larkenshaw Motor Works", "Jessamy Ironmoor", "Auberon Tilney"),
    sister("copperslade", "Copperslade Motor Works", "Benedek Jarrowin", "Liesel Quarmby"),
    sister("wintercote", "Wintercote Motor Works", "Hesper Kilbraith", "Dorian Eastlake"),
    sister("grindlebrook", "Grindlebrook Motor Works", "Ludovic Lathbury", "Sunniva Croft"),
    sister("saltmarrow", "Saltmarrow Motor Works", "Philomel Mossgrave", "Tancred Ulverby"),
    sister("emberlow", "Emberlow Motor Works", "Gideon Nettlefield", "Rosalba Heathcote"),
    sister("thistleforth", "Thistleforth Motor Works", "Verena Orchardson", "Kasimir Blyth"),
    sister("dovershaw", "Dovershaw Motor Works", "Amadeo Pellington", "Wilhelma Strand"),
    sister("hazelrigg-end", "Hazelrigg End Motor Works", "Ingrith Quenby", "Fabian Mereworth"),
    sister("ottermouth", "Ottermouth Motor Works", "Roderic Ravenscar", "Elspeth Vance"),
    sister("kestrelgate", "Kestrelgate Motor Works", "Calliope Swinburn", "Jorah Netherby"),
    sister("millbarrow", "Millbarrow Motor Works", "Lambert Thornaby", "Ysolde Farrant"),
    sister("yewcastle", "Yewcastle Motor Works", "Seraphine Underhay", "Matthias Cole-Deering"),
];

/// The sister shop of a number, from 1.
#[must_use]
pub fn sister_shop(number: usize) -> Option<SisterShop> {
    SISTERS.get(number.checked_sub(1)?).copied()
}

/// What is looked at first, whatever the complaint.
const FIRST_LOOKS: [&str; 4] =
    ["interview-reproduce", "visual-under-hood", "read-codes", "bulletin-recall"];

/// Writes a visit down as the sister shops do: what they look at first as checks
/// of their own, what was in the way of the work as a part, and the time as
/// diagnosis and repair, with the proof apart where nothing was diagnosed.
pub(super) fn write_fully(visit: &mut Planned, dice: &mut Dice) {
    for sheet in &mut visit.sheets {
        if sheet.symptom.is_some() {
            look_first(sheet, dice);
        }
        if sheet.is_line() && dice.percent(14) {
            let (part, disposition) = match dice.percent(50) {
                true => (&AIR_FILTER, Disposition::RemovedRefitted),
                false => (&CABIN_FILTER, Disposition::TestedLeft),
            };
            sheet.parts.push(part_line(part, disposition, PartRole::Bystander, dice));
        }
        sheet.minutes = in_two(sheet.minutes, dice.percent(8));
    }
}

fn look_first(sheet: &mut Sheet, dice: &mut Dice) {
    let own: Vec<&str> = sheet.steps.iter().map(|step| step.check).collect();
    let wanted = dice.between(1, 3);
    let looks = FIRST_LOOKS.iter().filter(|look| !own.contains(*look)).take(wanted as usize);
    let mut steps: Vec<Step> = looks
        .map(|look| {
            let finding = if dice.percent(8) { Finding::Inconclusive } else { Finding::Normal };
            Step::new(look, finding, dice.about(check_minutes(look)))
        })
        .collect();
    steps.append(&mut sheet.steps);
    sheet.checked(steps);
}

/// Diagnosis and repair; where only one of them has minutes, or the proof is
/// written by itself, the proof stays apart.
fn in_two(minutes: Minutes, proof_apart: bool) -> Minutes {
    let Minutes { diagnosis, access, repair, reassembly, proof } = minutes;
    let apart = proof_apart || diagnosis == 0;
    let (done, proof) = match apart {
        true => (access + repair + reassembly, proof),
        false => (access + repair + reassembly + proof, 0),
    };
    Minutes { diagnosis, access: 0, repair: done, reassembly: 0, proof }
}
