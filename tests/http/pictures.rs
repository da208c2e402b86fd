//! Pictures beside tables, a report as one file, the jobs behind a number.

use crate::support::html::links;
use crate::support::visit::{finish, open, text};
use crate::support::{Program, Shops, on_each_database};

on_each_database!(
    a_report_is_one_file_with_the_pictures_of_its_page,
    the_jobs_behind_a_number_are_told_in_plain_words,
    a_line_opens_to_its_jobs_once,
);

/// Jobs of one complaint, handed over: the day.
fn visits(shops: &Shops, count: usize) -> String {
    let manager = shops.person("manager.north");
    let mut day = String::new();
    for number in 0..count {
        let (order, job) = open(&manager, &format!("PI {number}"), "engine.misfire");
        day = text(&finish(&manager, &order, &job, "air-filter")["closed_on"]).to_owned();
    }
    day
}

fn drawings(html: &str) -> Vec<&str> {
    html.split("<svg class=\"chart")
        .skip(1)
        .filter_map(|rest| rest.split("</svg>").next())
        .collect()
}

fn a_report_is_one_file_with_the_pictures_of_its_page(shops: &Shops) {
    let day = visits(shops, 2);
    let visitor = shops.visitor("manager.north", "north");
    let asked = format!("comeback-shares?by=symptom&as_of={day}");
    let page = visitor.get(&asked).expect(200).body;
    assert!(drawings(&page).len() >= 2, "{page}");
    let lead = format!("/shops/north/{asked}&format=html");
    assert!(links(&page).contains(&lead), "{page}");
    let answer = visitor.get(&format!("{asked}&format=html")).expect(200);
    assert!(answer.header("content-disposition").starts_with("attachment;"));
    let printed = Program::new(
        &shops.place,
        &[
            "report",
            "comebacks",
            "--shop",
            "north",
            "--by",
            "symptom",
            "--as-of",
            &day,
            "--format",
            "html",
        ],
    )
    .must("");
    assert_eq!(answer.body, printed);
    for drawing in drawings(&page) {
        assert!(printed.contains(drawing), "{drawing}");
    }
    for word in ["http:", "https:", "href=", "src=", "url(", "<script"] {
        assert!(!printed.contains(word), "{word}");
    }
    // The API knows no such form.
    shops.person("manager.north").get("reports/comebacks?format=html").problem(422, "invalid");
}

fn the_jobs_behind_a_number_are_told_in_plain_words(shops: &Shops) {
    let day = visits(shops, 52);
    let visitor = shops.visitor("manager.north", "north");
    let asked =
        format!("closed-jobs?kind=complaint&symptom=engine.misfire&clocked=false&as_of={day}");
    let first = visitor.get(&asked).expect(200).body;
    for said in ["kind of job: complaint", "complaint: ", "without punched time", "1 to 50 of 52"] {
        assert!(first.contains(said), "{said}: {first}");
    }
    let second = format!("/shops/north/{asked}&page=2");
    assert!(links(&first).contains(&second), "{first}");
    let rest = visitor.get(&format!("{asked}&page=2")).expect(200).body;
    assert!(rest.contains("51 to 52 of 52") && rest.contains("PI "), "{rest}");
    assert_eq!(rest.matches("<tr role=\"row\"><td").count(), 2);
    // The file is of all of them, whatever the page.
    let file = links(&rest).into_iter().find(|link| link.ends_with("format=csv")).unwrap();
    assert!(!file.contains("page="), "{file}");
    let file = visitor.get(file.strip_prefix("/shops/north/").unwrap()).expect(200).body;
    assert_eq!(file.lines().count(), 53);
}

fn a_line_opens_to_its_jobs_once(shops: &Shops) {
    let day = visits(shops, 1);
    let visitor = shops.visitor("manager.north", "north");
    let page = visitor.get(&format!("labor?as_of={day}")).expect(200).body;
    let line = page.split("<tr role=\"row\"><td").nth(1).unwrap().split("</tr>").next().unwrap();
    let behind: Vec<String> =
        links(line).into_iter().filter(|link| link.contains("closed-jobs")).collect();
    let apart: std::collections::BTreeSet<&String> = behind.iter().collect();
    assert!(!behind.is_empty() && apart.len() == behind.len(), "{behind:?}");
}
