//! Orders beyond the straight road: what was agreed to, what is charged, what
//! is corrected and voided, and whether the odometer runs on.

use serde_json::{Value, json};

use crate::support::visit::{finish, open, text, write_up};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    amounts_agreed_to_are_kept,
    charges_beyond_the_amount_are_told,
    a_void_order_counts_nowhere,
    a_void_order_needs_its_work_at_rest,
    corrections_are_marked,
    an_odometer_runs_on,
    a_promise_lies_ahead,
);

fn of(whole: &Value, list: &str, field: &str) -> Vec<Value> {
    whole[list].as_array().unwrap().iter().map(|item| item[field].clone()).collect()
}

fn amounts_agreed_to_are_kept(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let mut visit = write_up("OR 1", "engine.stalls");
    visit["authorized_minor"] = json!(10_000);
    let order = adviser.post("orders", &visit).expect(201).json();
    assert_eq!(of(&order, "authorizations", "amount_minor"), [json!(10_000)]);
    assert_eq!(of(&order, "authorizations", "authorized_by"), [json!("not recorded")]);
    let thing = format!("orders/{}", text(&order["id"]));
    let at = format!("{thing}/authorizations");
    let more = json!({
        "amount_minor": 25_000, "authorized_by": "Zoë Nyqvist", "authorized_how": "telephone",
        "note": "battery, too",
    });
    let made = adviser.post(&at, &more).expect(201).json();
    assert_eq!((&made["amount_minor"], &made["note"]), (&json!(25_000), &json!("battery, too")));
    // Written down late: it was agreed to before the one that stands.
    let opened = chrono::DateTime::parse_from_rfc3339(text(&order["opened_at"])).unwrap();
    let mut late = more.clone();
    late["amount_minor"] = json!(9_000);
    late["authorized_at"] = json!((opened - chrono::Duration::hours(1)).to_rfc3339());
    adviser.post(&at, &late).expect(201);
    let now = adviser.get(&thing).expect(200).json();
    assert_eq!(
        (&now["authorized_minor"], &now["authorized_how"]),
        (&json!(25_000), &json!("telephone"))
    );
    assert_eq!(
        of(&now, "authorizations", "amount_minor"),
        [json!(9_000), json!(10_000), json!(25_000)]
    );
    let now = adviser.patch(&thing, &json!({ "authorized_minor": 30_000 })).expect(200).json();
    assert_eq!(now["authorizations"].as_array().unwrap().len(), 4);
    let now = adviser.patch(&thing, &json!({ "authorized_minor": null })).expect(200).json();
    assert_eq!(now["authorizations"].as_array().unwrap().len(), 4);
    assert!(now["charges"]["authorized_minor"].is_null());

    let odd = json!({ "amount_minor": -1, "authorized_by": " ", "authorized_how": "phone" });
    assert_eq!(adviser.post(&at, &odd).pointers(), ["/amount_minor", "/authorized_by"]);
    let mut ahead = more.clone();
    ahead["authorized_at"] = json!((opened + chrono::Duration::hours(1)).to_rfc3339());
    assert_eq!(adviser.post(&at, &ahead).pointers(), ["/authorized_at"]);
}

// By hand: 168.00 of labor and two parts at 69.00 are 306.00; what the shop's
// guarantee pays is not the customer's.
fn charges_beyond_the_amount_are_told(shops: &Shops) {
    let manager = shops.person("manager.north");
    let mut visit = write_up("OR 2", "engine.misfire");
    visit["authorized_minor"] = json!(25_000);
    let order = manager.post("orders", &visit).expect(201).json();
    let (id, job) = (text(&order["id"]), text(&order["jobs"][0]["id"]));
    let none = json!({ "authorized_minor": 25_000, "charged_minor": 0, "over_minor": 0 });
    assert_eq!(order["charges"], none);
    for (amount, payer) in [(16_800, Value::Null), (90_000, json!("own_guarantee"))] {
        let operation = json!({ "code": "coil", "labor_amount_minor": amount, "payer": payer });
        manager.post(&format!("jobs/{job}/operations"), &operation).expect(201);
    }
    let part = json!({
        "name": "coil", "disposition": "replaced_new", "quantity_hundredths": 200,
        "unit_price_minor": 6_900,
    });
    manager.post(&format!("jobs/{job}/parts"), &part).expect(201);
    for (who, charged, over) in [
        ("adviser.north", json!(30_600), json!(5_600)),
        ("owner.riverside", json!(30_600), json!(5_600)),
        ("technician.north", Value::Null, Value::Null),
    ] {
        let seen = shops.person(who).get(&format!("orders/{id}")).expect(200).json();
        let charges = &seen["charges"];
        assert_eq!((&charges["charged_minor"], &charges["over_minor"]), (&charged, &over), "{who}");
        let agreed = if who == "technician.north" { Value::Null } else { json!(25_000) };
        assert_eq!(charges["authorized_minor"], agreed, "{who}");
        assert_eq!(seen["authorized_minor"], agreed, "{who}");
        assert_eq!(seen["authorizations"][0]["amount_minor"], agreed, "{who}");
        assert_eq!(seen["authorizations"][0]["authorized_by"], "not recorded", "{who}");
        let listed = shops.person(who).get("orders").expect(200).json();
        assert_eq!(listed["items"][0]["authorized_minor"], agreed, "{who}");
    }
    let told = "$56.00 more than authorized: ask the customer first";
    let page = shops.visitor("adviser.north", "north").get(&format!("orders/{id}")).expect(200);
    assert!(page.body.contains(told), "{}", page.body);
    let page = shops.visitor("technician.north", "north").get(&format!("orders/{id}")).expect(200);
    assert!(!page.body.contains("more than authorized") && !page.body.contains("250.00"));
    // It is told, and blocks nothing.
    finish(&manager, id, job, "air-filter");
}

fn void(client: &Client, order: &str) -> crate::support::Answer {
    client.settle(&format!("orders/{order}"), "void", &json!({ "reason": "opened twice" }))
}

fn a_void_order_counts_nowhere(shops: &Shops) {
    let (adviser, manager) = (shops.person("adviser.north"), shops.person("manager.north"));
    let (first, first_job) = open(&adviser, "OR 3", "engine.stalls");
    let day = text(&finish(&adviser, &first, &first_job, "air-filter")["closed_on"]).to_owned();
    let (second, second_job) = open(&adviser, "OR 3", "engine.stalls");
    let proposed = || adviser.get("comebacks").json()["items"].as_array().unwrap().len();
    assert_eq!(proposed(), 1);
    let thing = format!("orders/{second}");
    assert_eq!(adviser.settle(&thing, "void", &json!({ "reason": " " })).pointers(), ["/reason"]);
    let gone = void(&adviser, &second).expect(200).json();
    assert_eq!((&gone["status"], &gone["order_no"]), (&json!("void"), &json!("2")));
    assert_eq!(gone["void_reason"], "opened twice");
    assert!(gone["voided_at"].is_string() && gone["comebacks"] == json!([]));
    assert_eq!(proposed(), 0);
    void(&adviser, &second).problem(409, "conflict");
    for (place, body) in [
        (format!("{thing}/jobs"), json!({ "complaint": "squeals" })),
        (format!("jobs/{second_job}/checks"), json!({ "code": "road-test" })),
        (
            format!("{thing}/authorizations"),
            json!({
                "amount_minor": 1, "authorized_by": "A", "authorized_how": "phone",
            }),
        ),
    ] {
        manager.post(&place, &body).problem(409, "conflict");
    }
    manager.patch(&thing, &json!({ "customer_name": "A" })).problem(409, "conflict");

    let counted = || {
        let report = manager.get(&format!("reports/comebacks?as_of={day}")).expect(200).json();
        report["total"]["share"]["count"].clone()
    };
    assert_eq!(counted(), 1);
    void(&adviser, &first).problem(403, "forbidden");
    let gone = void(&manager, &first).expect(200).json();
    assert!(gone["closed_at"].is_null() && gone["corrected_at"].is_string());
    assert_eq!(counted(), 0);
    // The numbers go on without a gap.
    let (third, _) = open(&adviser, "OR 3", "engine.stalls");
    let third = adviser.get(&format!("orders/{third}")).json();
    assert_eq!((&third["order_no"], &third["comebacks"]), (&json!("3"), &json!([])));
    let voided = "FROM record_change WHERE record = 'order' AND action = 'voided'";
    assert_eq!(shops.place.count(voided), 2);
    let words = "SELECT after_json AS line FROM record_change WHERE action = 'voided'";
    assert!(shops.place.lines(words).iter().all(|line| line.contains("opened twice")));
}

fn a_void_order_needs_its_work_at_rest(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (first, first_job) = open(&manager, "OR 4", "engine.stalls");
    finish(&manager, &first, &first_job, "air-filter");
    let (second, second_job) = open(&manager, "OR 4", "engine.stalls");
    let labor = format!("jobs/{second_job}/labor");
    let entry = manager.post(&labor, &json!({ "activity": "diagnosis" })).expect(201).json();
    void(&manager, &second).problem(409, "conflict");
    manager.post(&format!("{labor}/{}/stop", text(&entry["id"])), &json!({})).expect(200);
    let id = text(&manager.get("comebacks").json()["items"][0]["id"]).to_owned();
    let decide = |confirm: bool, reason: &str| {
        let decision = json!({ "confirm": confirm, "reason": reason });
        manager.settle(&format!("comebacks/{id}"), "decision", &decision)
    };
    decide(true, "part-reused-failed").expect(200);
    for order in [&first, &second] {
        void(&manager, order).problem(409, "conflict");
    }
    decide(false, "new-fault").expect(200);
    void(&manager, &second).expect(200);
    // Nothing is written to an order that is void, or comes back with it.
    decide(true, "part-reused-failed").problem(409, "conflict");
    decide(false, "new-fault").problem(409, "conflict");
    let day = manager.get(&format!("orders/{second}")).json()["opened_on"].clone();
    let paid = json!({ "supplier": "Tarn Parts", "amount_minor": 1, "paid_on": day });
    manager.post(&format!("jobs/{second_job}/pay-backs"), &paid).problem(409, "conflict");
    let told = json!({ "told": "not_fixed", "told_on": day });
    manager.post(&format!("jobs/{second_job}/outside-return"), &told).problem(409, "conflict");
}

fn corrections_are_marked(shops: &Shops) {
    let (adviser, manager) = (shops.person("adviser.north"), shops.person("manager.north"));
    let mut visit = write_up("OR 5", "engine.stalls");
    visit["odometer_in"] = json!(81_200);
    let order = adviser.post("orders", &visit).expect(201).json();
    let (id, job) = (text(&order["id"]).to_owned(), text(&order["jobs"][0]["id"]).to_owned());
    let thing = format!("orders/{id}");
    let early = json!({ "odometer_out": 81_300 });
    assert_eq!(adviser.patch(&thing, &early).pointers(), ["/odometer_out"]);
    finish(&adviser, &id, &job, "air-filter");
    let right =
        json!({ "customer_name": "Imre", "odometer_out": 81_210, "odometer_unit": "[mi_i]" });
    adviser.patch(&thing, &right).problem(409, "conflict");
    let job_was = manager.get(&format!("jobs/{job}")).tag();
    let now = manager.patch(&thing, &right).expect(200).json();
    assert_eq!((&now["customer_name"], &now["odometer_out"]), (&json!("Imre"), &json!(81_210)));
    assert_eq!((&now["status"], &now["odometer_unit"]), (&json!("closed"), &json!("[mi_i]")));
    assert!(now["corrected_at"].is_string());
    assert_ne!(manager.get(&format!("jobs/{job}")).tag(), job_was);
    let backward = json!({ "odometer_out": 81_199 });
    assert_eq!(manager.patch(&thing, &backward).pointers(), ["/odometer_out"]);
    let agreed = json!({ "amount_minor": 500, "authorized_by": "Imre", "authorized_how": "phone" });
    let at = format!("{thing}/authorizations");
    adviser.post(&at, &agreed).problem(409, "conflict");
    manager.post(&at, &agreed).expect(201);
    let marked = shops.place.lines(
        "SELECT record || ' ' || action AS line FROM record_change WHERE correction ORDER BY change_no, line",
    );
    assert_eq!(marked, ["order changed", "authorization added", "order changed"]);
}

fn an_odometer_runs_on(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let visit = |plate: &str, reading: i64, unit: Value| {
        let mut visit = write_up(plate, "engine.stalls");
        visit["odometer_in"] = json!(reading);
        visit["odometer_unit"] = unit;
        adviser.post("orders", &visit).expect(201).json()
    };
    let first = visit("OR 6", 50_000, json!("miles"));
    assert_eq!(first["odometer_unit"], "[mi_i]");
    // The vehicle counts as it did; another one as the shop's last.
    let second = visit("OR 6", 49_999, Value::Null);
    assert_eq!(second["odometer_unit"], "[mi_i]");
    assert!(text(&second["odometer_warning"]).contains("50,000 mi"), "{second}");
    // The lower reading is not the measure of the next one.
    let third = visit("OR 6", 49_999, Value::Null);
    assert!(text(&third["odometer_warning"]).contains("50,000 mi"), "{third}");
    // Nor is the vehicle written up again without a word.
    let open: Vec<&Value> =
        third["open_orders"].as_array().unwrap().iter().map(|other| &other["order_no"]).collect();
    assert_eq!(open, [&first["order_no"], &second["order_no"]]);
    assert_eq!(first["open_orders"], json!([]));
    let counter = shops.visitor("adviser.north", "north");
    let page = counter.get(&format!("write-up?vehicle={}", text(&first["vehicle_id"]))).expect(200);
    assert!(page.body.contains("This vehicle is here now"), "{}", page.body);
    let page = counter.get(&format!("orders/{}", text(&third["id"]))).expect(200);
    assert!(page.body.contains("another open order"), "{}", page.body);
    assert_eq!(visit("OR 7", 10, Value::Null)["odometer_unit"], "[mi_i]");
    assert!(visit("OR 6", 70_000, json!("km"))["odometer_warning"].is_null());
    assert!(first["odometer_warning"].is_null());

    let vehicle = format!("vehicles/{}", text(&first["vehicle_id"]));
    let resets = format!("{vehicle}/odometer-resets");
    let reset = json!({
        "reset_on": first["opened_on"], "reading_before": 50_100, "reading_after": 12,
        "odometer_unit": "mi", "note": "cluster replaced",
    });
    let made = adviser.post(&resets, &reset).expect(201).json();
    assert_eq!((&made["odometer_unit"], &made["reading_after"]), (&json!("[mi_i]"), &json!(12)));
    let shown = adviser.get(&vehicle).expect(200).json();
    assert_eq!(shown["odometer_resets"], json!([made]));
    assert!(visit("OR 6", 40, json!("mi"))["odometer_warning"].is_null());
    assert!(visit("OR 6", 5, json!("mi"))["odometer_warning"].is_string());
    let odd = json!({ "reset_on": "2199-01-01", "reading_after": -1, "odometer_unit": "ell" });
    assert_eq!(
        adviser.post(&resets, &odd).pointers(),
        ["/reset_on", "/reading_after", "/odometer_unit"]
    );
}

fn a_promise_lies_ahead(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let mut visit = write_up("OR 8", "engine.stalls");
    visit["promised_at"] = json!("2020-03-02T14:05:00Z");
    assert_eq!(adviser.post("orders", &visit).pointers(), ["/promised_at"]);
    let soon = crate::support::now() + chrono::Duration::hours(3);
    visit["promised_at"] = json!(soon.to_rfc3339());
    adviser.post("orders", &visit).expect(201);
}
