//! The way out, and back in.

use std::fs;
use std::path::Path;

use super::history::{History, each_database, export, import, state};
use crate::support::Place;
use crate::support::folder::Folder;

pub fn read_all(folder: &Path) -> Vec<(String, String)> {
    let mut files: Vec<(String, String)> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| {
            (
                path.file_name().unwrap().to_string_lossy().into_owned(),
                fs::read_to_string(path).unwrap(),
            )
        })
        .collect();
    files.sort();
    files
}

#[test]
fn an_export_comes_back_as_it_was() {
    each_database(|place| {
        let history = History::small();
        // A currency of three decimals (ISO 4217: KWD), a text over two lines,
        // one that a spreadsheet would run, and a second operation.
        history.mend("jobs.csv", "140.00,own", "140.125,own");
        history.mend("jobs.csv", "oil changed", "=1+1");
        history.mend("jobs.csv", "shakes at the lights", "\"shakes\r\nat the lights\"");
        history.put(
            "operations.csv",
            &[
                "order_no,job_no,line,operation,flat_rate_hours,billed_hours,labor_amount,payer",
                "A-0415,1,2,DIAG,0.5,,70.005,customer",
            ],
        );
        history.import(place, &["--currency", "KWD", "--zone", "Asia/Kuwait"]).ended(0);
        let before = state(place);
        let out = Folder::new();
        let first = out.path().join("first");
        let words = export(place, &first, &[]).ended(0);
        assert!(words.contains("--zone Asia/Kuwait --currency KWD"), "{words}");
        import(place, &first, &["--update"]).ended(0);
        assert_eq!(state(place), before, "its own export changes nothing");

        let other = Place::empty_sqlite();
        import(&other, &first, &["--currency", "KWD", "--zone", "Asia/Kuwait"]).ended(0);
        let second = out.path().join("second");
        export(&other, &second, &[]).ended(0);
        assert_eq!(read_all(&second), read_all(&first));
        let jobs = fs::read_to_string(first.join("jobs.csv")).unwrap();
        assert!(jobs.contains(",=1+1,") && jobs.contains("140.125"), "{jobs}");
        let sheet = out.path().join("sheet");
        export(place, &sheet, &["--spreadsheet"]).ended(0);
        let jobs = fs::read_to_string(sheet.join("jobs.csv")).unwrap();
        assert!(jobs.contains(",'=1+1,") && jobs.contains(",140.125,"), "{jobs}");
        let checks = fs::read_to_string(sheet.join("checks.csv")).unwrap();
        assert!(checks.contains(",-1.5,V,"), "a plain number stays one: {checks}");
        import(place, &sheet, &["--update"]).ended(0);
        assert_eq!(state(place), before, "what was added for the spreadsheet is gone again");
        assert_eq!(read_all(&first).len(), 6, "operations.csv is needed here");
        assert_eq!(other.count("FROM part_return"), 1);
    });
}

#[test]
fn several_shops_come_and_go_in_subfolders() {
    let place = Place::empty_sqlite();
    for shop in ["NORTH", "SOUTH"] {
        let history = History::small();
        let path = history.files.join("orders.csv");
        let text = fs::read_to_string(&path).unwrap().replace("NORTH", shop);
        fs::write(path, text).unwrap();
        history.import(&place, &[]).ended(0);
    }
    // The same numbers in two shops are different orders.
    assert_eq!(place.count("FROM repair_order WHERE order_no = 'A-0415'"), 2);
    let before = state(&place);
    let out = Folder::new();
    let all = out.path().join("all");
    export(&place, &all, &[]).ended(0);
    assert!(all.join("1-NORTH/orders.csv").exists() && all.join("2-SOUTH/labor.csv").exists());
    import(&place, &all, &[]).ended(0);
    assert_eq!(state(&place), before);
    let words = export(&place, &all, &[]).ended(2);
    assert!(words.contains("is not empty"), "{words}");
    let one = out.path().join("one");
    export(&place, &one, &["--shop", "SOUTH"]).ended(0);
    assert!(fs::read_to_string(one.join("orders.csv")).unwrap().contains(",SOUTH,"));
    assert!(
        export(&place, &out.path().join("no"), &["--shop", "WEST"])
            .ended(2)
            .contains("NORTH, SOUTH")
    );
}
