//! Cumulative incidence on two data sets; expected numbers from R survival,
//! cmprsk and etm.

use std::collections::BTreeMap;

use analytics::stats::competing::{Exit, Incidence};

use crate::files::{Folder, close, close_within, tell};

fn check(folder: &Folder, name: &str, groups: usize) {
    let case = folder.case(name);
    let (header, rows) = folder.table(case["input"].as_str().unwrap());
    let column = |key: &str| {
        let name = case["columns"][key].as_str()?;
        header.iter().position(|column| column == name)
    };
    let (time, cause, group) = (column("time").unwrap(), column("cause").unwrap(), column("group"));
    let mut exits: BTreeMap<&str, Vec<Exit<u8>>> = BTreeMap::new();
    for row in &rows {
        let cause: u8 = row[cause].parse().unwrap();
        exits.entry(group.map_or("all", |group| &row[group])).or_default().push(Exit {
            time: row[time].parse().unwrap(),
            cause: (cause > 0).then_some(cause),
            count: 1,
        });
    }
    assert_eq!(exits.len(), groups);
    // The Greenwood-type column; the infinitesimal jackknife's is the same,
    // Aalen's is another formula.
    let se_rel = case["tolerance"]["se_rel"].as_f64().unwrap();
    for (group, exits) in exits {
        let incidence = Incidence::new(exits);
        let expected = &case["expected"][group];
        assert_eq!(incidence.event_free().units(), expected["n"].as_i64().unwrap());
        for (i, time) in expected["times"].as_array().unwrap().iter().enumerate() {
            let time = i32::try_from(time.as_i64().unwrap()).unwrap();
            let what = format!("{group} at {time}");
            let free = incidence.event_free().at(time).survival;
            let at_risk = incidence.event_free().at_risk(time);
            assert_eq!(at_risk, expected["n_risk"][i].as_i64().unwrap(), "{what}");
            close(&case, &what, free, expected["event_free"][i].as_f64().unwrap());
            for cause in [1, 2] {
                let expected = &expected[format!("cause_{cause}")];
                let events = incidence.events_by(&cause, i32::MAX);
                assert_eq!(events, expected["events"].as_i64().unwrap());
                let (what, ours) = (format!("{what}, {cause}"), incidence.at(&cause, time));
                close(&case, &what, ours.share, expected["cif"][i].as_f64().unwrap());
                let error = ours.standard_error().unwrap();
                let theirs = expected["se_greenwood_etm"][i].as_f64().unwrap();
                close_within(&case, &what, (error, theirs), (0.0, se_rel));
            }
        }
    }
    tell(name);
}

#[test]
fn monoclonal_gammopathy_by_sex() {
    check(&Folder::own(), "o08-cif-mgus2-by-sex", 2);
}

#[test]
fn shock_absorbers() {
    let name = "o07-cif-shock-absorber";
    let Some(folder) = Folder::outside(name) else { return };
    check(&folder, name, 1);
}
