//! What is measured by the clock, with a clock that the test sets.

use chrono::{DateTime, Duration, NaiveDateTime, Utc};

use crate::support::folder::Folder;
use crate::support::html::{form, form_with};
use crate::support::shops::{PASSWORD, visitor};
use crate::support::{Answer, Client, Place, Server};

/// A server whose time the test sets.
struct Bench<'a> {
    server: Server,
    place: &'a Place,
    folder: Folder,
    /// A day later than the tests' people were made.
    start: DateTime<Utc>,
}

impl<'a> Bench<'a> {
    fn new(place: &'a Place) -> Self {
        let folder = Folder::new();
        let file = folder.path().join("clock");
        let start = crate::support::now() + Duration::days(1);
        std::fs::write(&file, start.to_rfc3339()).unwrap();
        let server = Server::with(place, &["--clock-file", file.to_str().unwrap()]);
        Self { server, place, folder, start }
    }

    fn at(&self, minute: i64) -> String {
        (self.start + Duration::minutes(minute)).to_rfc3339()
    }

    fn set(&self, minute: i64) {
        std::fs::write(self.folder.path().join("clock"), self.at(minute)).unwrap();
    }

    fn visitor(&self, name: &str) -> Client {
        visitor(&self.server.base, name, PASSWORD).within("/shops/north".to_owned())
    }

    fn minutes(&self) -> Vec<String> {
        self.place.lines(
            "SELECT code || ' ' || COALESCE(CAST(minutes AS TEXT), '-') AS line FROM job_check \
             ORDER BY seq",
        )
    }
}

fn tap(client: &Client, page: &Answer, code: &str, finding: &str) -> Answer {
    let offer = form_with(page, "/checks", &format!("value=\"{code}\""));
    offer.fill("finding", finding).follow(client)
}

fn one_tap_measures_the_minutes(place: &Place) {
    let bench = Bench::new(place);
    let adviser = bench.visitor("adviser.north");
    let page = adviser.get("write-up").expect(200);
    let form_up = form(&page, "/write-up").fill("plate", "TC 1").fill("complaint", "it stalls");
    form_up.fill("symptom", "engine.stalls").fill("kind", "complaint").follow(&adviser);
    let job = place.lines("SELECT id AS line FROM job").remove(0);
    let at = format!("jobs/{job}");
    let technician = bench.visitor("technician.north");
    let page = technician.get(&at).expect(200);
    // Before the clock runs nothing is measured.
    let page = tap(&technician, &page, "read-codes", "normal");
    bench.set(10);
    let page = form(&page, "/labor").fill("activity", "diagnosis").follow(&technician);
    bench.set(17);
    let page = tap(&technician, &page, "interview-reproduce", "abnormal");
    bench.set(22);
    let page = tap(&technician, &page, "road-test", "normal");
    assert!(page.body.contains("Road test: normal, 5 min."), "{}", page.body);
    // Taken back and put back, it keeps its minutes, and the next is measured
    // from when it was made.
    bench.set(23);
    let page = form(&page, "/removal").follow(&technician);
    bench.set(24);
    let page = form(&page, "/return").follow(&technician);
    bench.set(30);
    let page = tap(&technician, &page, "visual-under-hood", "normal");
    // While the repair is under way no check is in hand.
    bench.set(40);
    let page = form(&page, "/labor").fill("activity", "repair").follow(&technician);
    bench.set(45);
    tap(&technician, &page, "bulletin-recall", "normal");
    let measured = [
        "read-codes -",
        "interview-reproduce 7",
        "road-test 5",
        "visual-under-hood 8",
        "bulletin-recall -",
    ];
    assert_eq!(bench.minutes(), measured);
    // A tap that was kept while the shop could not be reached tells no time.
    bench.set(50);
    let page = technician.get(&at).expect(200);
    let page = form(&page, "/labor").fill("activity", "diagnosis").follow(&technician);
    bench.set(80);
    let more = form_with(&page, "/checks", "name=\"minutes\"").fill("code", "compression");
    let late =
        more.fill("finding", "normal").add("measured", "yes").add("tapped_at", &bench.at(60));
    late.follow(&technician);
    assert_eq!(bench.minutes().last().unwrap(), "compression -");
}

/// What was kept in the browser for want of a net comes late, and counts from
/// when it was tapped; a browser whose clock is wrong is not believed.
fn a_late_tap_counts_from_then(place: &Place) {
    let bench = Bench::new(place);
    let adviser = bench.visitor("adviser.north");
    let page = adviser.get("write-up").expect(200);
    let form_up = form(&page, "/write-up").fill("plate", "TC 2").fill("complaint", "it stalls");
    form_up.fill("symptom", "engine.stalls").fill("kind", "complaint").follow(&adviser);
    let job = place.lines("SELECT id AS line FROM job").remove(0);
    let at = format!("jobs/{job}");
    let technician = bench.visitor("technician.north");
    bench.set(60);
    let page = technician.get(&at).expect(200);
    let start = form(&page, "/labor").fill("activity", "diagnosis");
    start.add("tapped_at", &bench.at(20)).follow(&technician);
    bench.set(70);
    let page = technician.get(&at).expect(200);
    let start = form(&page, "/labor").fill("activity", "repair");
    start.add("tapped_at", &bench.at(50)).follow(&technician);
    bench.set(80);
    let page = technician.get(&at).expect(200);
    form(&page, "/stop").add("tapped_at", &bench.at(500)).follow(&technician);
    // Without a zone, to the microsecond; the two databases part day and time each in its way.
    let minute = |text: &str| {
        let text = text.replace('T', " ");
        let at = NaiveDateTime::parse_from_str(&text, "%Y-%m-%d %H:%M:%S%.f").unwrap();
        (at.and_utc() - bench.start + Duration::seconds(30)).num_minutes()
    };
    let columns = "CAST(started_at AS TEXT) || '|' || CAST(ended_at AS TEXT)";
    let lines = place.lines(&format!(
        "SELECT {columns} AS line FROM labor_entry ORDER BY labor_entry.started_at"
    ));
    let times: Vec<(i64, i64)> = lines
        .iter()
        .map(|line| line.split_once('|').unwrap())
        .map(|(from, to)| (minute(from), minute(to)))
        .collect();
    assert_eq!(times, [(20, 50), (50, 80)]);
}

#[test]
fn a_late_tap_counts_from_then_on_sqlite() {
    a_late_tap_counts_from_then(&Place::sqlite());
}

#[test]
fn a_late_tap_counts_from_then_on_postgres() {
    if let Some(place) = Place::postgres() {
        a_late_tap_counts_from_then(&place);
    }
}

#[test]
fn one_tap_measures_the_minutes_on_sqlite() {
    one_tap_measures_the_minutes(&Place::sqlite());
}

#[test]
fn one_tap_measures_the_minutes_on_postgres() {
    if let Some(place) = Place::postgres() {
        one_tap_measures_the_minutes(&place);
    }
}
