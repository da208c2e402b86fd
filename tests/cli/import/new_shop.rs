//! What a shop that the files name first is made with.

use std::fs;

use super::history::{History, each_database, told};
use crate::support::{Place, Program};

#[test]
fn a_new_shop_must_be_told_where_it_is() {
    each_database(|place| {
        let history = History::small();
        let folder = history.files.to_str().unwrap();
        let run = |more: &[&str]| {
            let arguments = [&["import", folder][..], more].concat();
            told(&Program::new(place, &arguments).run(""))
        };
        for more in [&[][..], &["--dry-run"]] {
            let words = run(more).ended(2);
            assert!(words.contains("new shop NORTH: say where it is, with --zone"), "{words}");
            assert!(words.contains("nothing was imported"), "{words}");
        }
        let new = ["--zone", "America/Chicago", "--labor-cost", "90.00", "--rate", "140", "--name"];
        let words = run(&[&new[..], &["North Road"]].concat()).ended(0);
        assert!(words.contains("labor cost 90.00 and posted rate 140.00"), "{words}");
        let made = "FROM shop WHERE name = 'North Road' AND posted_rate_minor = 14000";
        assert_eq!(place.count(made), 1);
        // What is said of a shop that is there is not taken, and that is told.
        let words = run(&["--zone", "UTC", "--labor-cost", "90", "--window", "30"]).ended(0);
        assert!(
            words.contains(
                "NORTH is there already, with time zone America/Chicago; --zone was not used"
            ),
            "{words}"
        );
        assert!(words.contains("comeback window 90; --window was not used"), "{words}");
        assert!(!words.contains("--labor-cost was not used"), "{words}");
        assert_eq!(place.count("FROM shop WHERE window_days = 90"), 1);
        run(&[]).ended(0);
    });
}

#[test]
fn a_refused_new_shop_makes_no_record() {
    let place = Place::empty_sqlite();
    let history = History::small();
    let arguments = ["import", history.files.to_str().unwrap()];
    told(&Program::new(&place, &arguments).run("")).ended(2);
    assert_eq!(fs::read_dir(place.data()).unwrap().count(), 0);
}
