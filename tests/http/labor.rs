//! One person works on one thing at a time.

use chrono::{DateTime, Duration, FixedOffset};
use serde_json::{Value, json};

use crate::support::visit::{open, text};
use crate::support::{Shops, on_each_database};

on_each_database!(
    stretches_never_overlap,
    starts_at_once_leave_one_running,
    a_running_entry_holds_the_job_open
);

fn stretch(opened: DateTime<FixedOffset>, from: i64, to: i64) -> Value {
    let at = |minutes: i64| (opened - Duration::minutes(minutes)).to_rfc3339();
    json!({ "activity": "diagnosis", "started_at": at(from), "ended_at": at(to) })
}

fn stretches_never_overlap(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (order, job) = open(&technician, "LA 1", "engine.stalls");
    let (_, second) = open(&technician, "LA 2", "engine.stalls");
    let opened = technician.get(&format!("orders/{order}")).json()["opened_at"].clone();
    let opened = DateTime::parse_from_rfc3339(text(&opened)).unwrap();
    let record = |job: &str, from: i64, to: i64| {
        technician.post(&format!("jobs/{job}/labor"), &stretch(opened, from, to))
    };
    record(&job, 60, 40).expect(201);
    record(&second, 40, 30).expect(201);
    for (from, to) in [(70, 50), (50, 45), (41, 39), (90, 10), (60, 40)] {
        record(&second, from, to).problem(409, "conflict");
    }
    record(&second, 90, 60).expect(201);
    assert_eq!(record(&job, 10, 20).pointers(), ["/ended_at"]);
    let ahead = json!({ "started_at": (opened + Duration::hours(1)).to_rfc3339() });
    assert_eq!(technician.post(&format!("jobs/{job}/labor"), &ahead).pointers(), ["/started_at"]);
    // Somebody else has the same hour free.
    let helper = shops.person("helper.north");
    helper.post(&format!("jobs/{job}/labor"), &stretch(opened, 60, 40)).expect(201);
    let stranger = shops.person("technician.south").get("/api/v1/me").json()["id"].clone();
    let lent = json!({ "person_id": stranger });
    technician.post(&format!("jobs/{job}/labor"), &lent).problem(403, "forbidden");
    let adviser = shops.person("adviser.north");
    assert_eq!(adviser.post(&format!("jobs/{job}/labor"), &lent).pointers(), ["/person_id"]);
}

fn starts_at_once_leave_one_running(shops: &Shops) {
    let technician = shops.person("technician.north");
    let jobs: Vec<String> = (0..4)
        .map(|number| open(&technician, &format!("LA 3{number}"), "engine.stalls").1)
        .collect();
    let mut statuses: Vec<u16> = std::thread::scope(|scope| {
        let start = |job: &String| technician.post(&format!("jobs/{job}/labor"), &json!({})).status;
        let threads: Vec<_> = jobs.iter().map(|job| scope.spawn(move || start(job))).collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    statuses.sort_unstable();
    assert_eq!(statuses, [201, 409, 409, 409]);
    assert_eq!(shops.place.count("FROM labor_entry WHERE ended_at IS NULL"), 1);
}

fn a_running_entry_holds_the_job_open(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (_, job) = open(&technician, "LA 4", "engine.stalls");
    let at = format!("jobs/{job}");
    let entry = technician.post(&format!("{at}/labor"), &json!({})).expect(201).json();
    let declined = json!({ "outcome": "declined" });
    assert_eq!(technician.settle(&at, "closure", &declined).pointers(), ["/labor"]);
    let stop = format!("{at}/labor/{}/stop", text(&entry["id"]));
    technician.post(&stop, &json!({})).expect(200);
    technician.post(&stop, &json!({})).problem(409, "conflict");
    technician.settle(&at, "closure", &declined).expect(200);

    let (_, job) = open(&technician, "LA 5", "engine.stalls");
    let at = format!("jobs/{job}");
    for (passed, taken) in [(false, 422), (true, 200)] {
        let proof = json!({ "how": "road_test", "passed": passed });
        technician.post(&format!("{at}/proofs"), &proof).expect(201);
        let close = crate::support::visit::repaired("air-filter");
        let answer = technician.settle(&at, "closure", &close).expect(taken);
        if taken == 422 {
            assert_eq!(answer.pointers(), ["/proofs"]);
        }
    }
}
