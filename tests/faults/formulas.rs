//! No cell of a file for a spreadsheet is run by it, and what was taken out comes
//! back in as it was.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

use super::scale::trials;
use super::support::examples::Examples;
use super::support::folder::Folder;
use super::support::{Place, Program, Shops, on_each_database};

on_each_database!(no_cell_is_a_formula, what_is_taken_out_comes_back);

/// What a formula begins with, and what could stand before it unseen.
const TRIGGERS: [&str; 12] =
    ["=", "+", "-", "@", "\t=", "\r=", "\n=", "＝", "＋", "－", "＠", "'="];

/// A text that a spreadsheet would run; each is another one.
fn formulas() -> impl FnMut() -> String {
    let mut number = 0;
    move || {
        number += 1;
        format!("{}HYPERLINK(\"http://x.test/{number}\")", TRIGGERS[number % TRIGGERS.len()])
    }
}

/// Whether a spreadsheet would run the cell: it begins like a formula and is no
/// number.
fn runs(cell: &str) -> bool {
    let begins =
        cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '\0', '＝', '＋', '－', '＠']);
    let digits = cell.trim_start_matches(['-', '+']);
    let number = digits.starts_with(|c: char| c.is_ascii_digit()) && cell.parse::<f64>().is_ok();
    begins && !number
}

/// Cells of a file: those that would run, and those that hold what was planted.
fn looked_through(text: &str) -> (Vec<String>, usize) {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    let mut found = (Vec::new(), 0);
    for record in reader.records() {
        for cell in record.unwrap().iter() {
            if runs(cell) {
                found.0.push(cell.to_owned());
            }
            found.1 += usize::from(cell.contains("HYPERLINK("));
        }
    }
    found
}

fn no_cell_is_a_formula(shops: &Shops) {
    let mut examples = Examples::of(shops);
    let poisoned = examples.poison(shops, formulas());
    let manager = shops.person("manager.north");
    let document = manager.get("/openapi.json").expect(200).json();
    let (mut files, mut cells, mut plain) = (0, 0, 0);
    for step in examples.steps() {
        let request = examples.request(shops, step);
        let path = &document["paths"][&request.operation.path]["get"];
        if request.operation.method != "GET"
            || path["responses"]["200"]["content"].get("text/csv").is_none()
        {
            continue;
        }
        let joined = if request.address.contains('?') { '&' } else { '?' };
        let ask = |more: &str| {
            let address = format!("{}{joined}format=csv{more}", request.address);
            request.client.get(&address).expect(200).body
        };
        let (running, held) = looked_through(&ask("&spreadsheet=true"));
        assert!(running.is_empty(), "{}: {running:?}", request.name);
        plain += looked_through(&ask("")).0.len();
        cells += held;
        files += 1;
    }
    // A file for programs has them as they are: so they would have been seen.
    assert!(files > 20 && cells > 20 && plain > 10, "{files} {cells} {plain}");
    let folder = Folder::new();
    let out = folder.path().join("out");
    export(&shops.place, &out, &["--spreadsheet"]);
    for entry in std::fs::read_dir(&out).unwrap() {
        let path = entry.unwrap().path();
        let (running, held) = looked_through(&std::fs::read_to_string(&path).unwrap());
        assert!(running.is_empty(), "{}: {running:?}", path.display());
        cells += held;
        if trials(0, 1) == 1 {
            opened_in_an_office(&path);
        }
    }
    println!("{} texts planted, {cells} cells hold one, none would run", poisoned.len());
}

/// Opened by an office program, where there is one: no cell is a formula.
fn opened_in_an_office(file: &Path) {
    let folder = Folder::new();
    let mut command = Command::new("soffice");
    command.args(["--headless", "--convert-to", "fods", "--outdir"]).arg(folder.path()).arg(file);
    let Ok(output) = command.output() else {
        println!("there is no soffice: {} was not opened in one", file.display());
        return;
    };
    assert!(output.status.success(), "{output:?}");
    let name = format!("{}.fods", file.file_stem().unwrap().to_str().unwrap());
    let sheet = std::fs::read_to_string(folder.path().join(name)).unwrap();
    assert!(!sheet.contains("table:formula"), "{}", file.display());
}

/// Only one shop of the record has orders.
fn export(place: &Place, to: &Path, more: &[&str]) {
    let arguments = [&["export", to.to_str().unwrap(), "--shop", "north"][..], more].concat();
    Program::new(place, &arguments).must("");
}

fn contents(folder: &Path) -> BTreeMap<String, String> {
    let read = |entry: std::io::Result<std::fs::DirEntry>| {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        (name, std::fs::read_to_string(path).unwrap())
    };
    std::fs::read_dir(folder).unwrap().map(read).collect()
}

fn what_is_taken_out_comes_back(shops: &Shops) {
    Examples::of(shops).poison(shops, formulas());
    let folder = Folder::new();
    let first = folder.path().join("first");
    export(&shops.place, &first, &[]);
    for more in [&[][..], &["--spreadsheet"]] {
        let (out, again) = (folder.path().join("out"), folder.path().join("again"));
        export(&shops.place, &out, more);
        let other = Place::empty_sqlite();
        let arguments = ["import", out.to_str().unwrap(), "--zone", "America/Chicago"];
        Program::new(&other, &arguments).must("");
        export(&other, &again, &[]);
        let (one, two) = (contents(&first), contents(&again));
        assert_eq!(one.keys().collect::<Vec<_>>(), two.keys().collect::<Vec<_>>());
        for (name, text) in &one {
            assert_eq!(text, &two[name], "{name} {more:?}");
        }
        for folder in [&out, &again] {
            std::fs::remove_dir_all(folder).unwrap();
        }
    }
}
