//! The adviser's and the manager's forms: authorization, voiding, correcting,
//! the vehicle, what came after the hand-over.

use serde_json::json;

use crate::support::html::form;
use crate::support::visit::{finish, open, text};
use crate::support::{Shops, on_each_database};

on_each_database!(
    an_order_by_its_forms,
    a_void_order_asks_for_no_work,
    a_job_leads_to_what_came_after_it,
    a_vehicle_by_its_forms,
    after_the_hand_over_by_its_forms,
    a_planned_visit_by_the_form,
);

fn an_order_by_its_forms(shops: &Shops) {
    let (adviser, manager) = (shops.person("adviser.north"), shops.person("manager.north"));
    let (order, job) = open(&adviser, "FR 1", "engine.stalls");
    let place = format!("orders/{order}");
    let visitor = shops.visitor("adviser.north", "north");
    let page = visitor.get(&place).expect(200);
    let agreed = form(&page, "/authorizations").fill("amount_minor", "250.00");
    let refused = agreed.send(&visitor).expect(422);
    assert!(refused.body.contains("value=\"250.00\""), "{}", refused.body);
    let agreed = form(&refused, "/authorizations").fill("authorized_by", "Zoë Nyqvist");
    let page = agreed.fill("authorized_how", "telephone").follow(&visitor);
    assert!(page.body.contains("<b>$250.00</b> by"), "{}", page.body);
    form(&page, "/front")
        .fill("customer_name", "Imre")
        .fill("odometer_in", "81,200")
        .follow(&visitor);
    let now = adviser.get(&place).json();
    assert_eq!((&now["customer_name"], &now["odometer_in"]), (&json!("Imre"), &json!(81_200)));
    assert_eq!(now["authorized_minor"], 25_000);

    finish(&adviser, &order, &job, "air-filter");
    let page = visitor.get(&place).expect(200);
    assert!(!page.body.contains("Void this order"));
    let visitor = shops.visitor("manager.north", "north");
    let page = visitor.get(&place).expect(200);
    let page = form(&page, "/front").fill("odometer_out", "81 210").follow(&visitor);
    assert!(page.body.contains("<dt>Corrected</dt>"), "{}", page.body);
    assert!(form(&page, "/void").send(&visitor).expect(422).body.contains("Reason:"));
    let page = form(&page, "/void").fill("reason", "written up twice").follow(&visitor);
    assert!(page.body.contains("written up twice") && page.body.contains(", void</h1>"));
    assert_eq!(manager.get(&place).json()["status"], "void");
}

fn a_void_order_asks_for_no_work(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, job) = open(&adviser, "FR 6", "engine.stalls");
    let visitor = shops.visitor("adviser.north", "north");
    let job = format!("jobs/{job}");
    assert!(visitor.get(&job).expect(200).body.contains("nobody leads it yet"));
    let page = visitor.get(&format!("orders/{order}")).expect(200);
    let page = form(&page, "/void").fill("reason", "written up twice").follow(&visitor);
    let job = visitor.get(&job).expect(200);
    assert!(job.body.contains("The order was voided."), "{}", job.body);
    for page in [page, job] {
        assert!(!page.body.contains("nobody leads it yet"), "{}", page.body);
        assert!(page.body.contains("<span class=\"state done\">void</span>"), "{}", page.body);
    }
}

fn a_job_leads_to_what_came_after_it(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, job) = open(&adviser, "FR 7", "engine.stalls");
    let visitor = shops.visitor("technician.north", "north");
    let place = format!("jobs/{job}");
    let after = format!("/shops/north/{place}/after");
    assert!(!visitor.get(&place).expect(200).body.contains(&after));
    finish(&adviser, &order, &job, "air-filter");
    let page = visitor.get(&place).expect(200);
    let main = page.body.split_once("<main").expect("a page").1;
    assert!(main.contains(&after) && !main.contains("yet."), "{main}");
    visitor.get(&after).expect(200);
}

fn a_vehicle_by_its_forms(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, _) = open(&adviser, "FR 2", "engine.stalls");
    let order = adviser.get(&format!("orders/{order}")).json();
    let place = format!("vehicles/{}", text(&order["vehicle_id"]));
    let visitor = shops.visitor("technician.north", "north");
    let page = visitor.get(&place).expect(200);
    assert!(page.body.contains("here now"));
    let change = form(&page, "/change").fill("make", "Corvane").fill("sold_on", "2199-01-01");
    let refused = change.send(&visitor).expect(422);
    assert!(refused.body.contains("value=\"Corvane\""));
    let day = text(&order["opened_on"]).to_owned();
    let page = form(&refused, "/change").fill("sold_on", &day).follow(&visitor);
    assert!(page.body.contains("Corvane") && page.body.contains("<dt>Sold</dt>"));
    let reset = form(&page, "/odometer-resets").fill("odometer_unit", "km");
    assert!(reset.send(&visitor).expect(422).body.contains("Reading after:"));
    let page = reset.fill("reading_before", "181,206").fill("reading_after", "12").follow(&visitor);
    assert!(page.body.contains("181,206 km before, 12 km after"), "{}", page.body);
}

fn after_the_hand_over_by_its_forms(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, job) = open(&adviser, "FR 3", "engine.stalls");
    finish(&adviser, &order, &job, "air-filter");
    let place = format!("jobs/{job}/after");
    let visitor = shops.visitor("adviser.north", "north");
    let page = visitor.get(&place).expect(200);
    let told = form(&page, "/outside-return").fill("told", "not_fixed");
    let page = told.fill("reason", "misdiagnosis").follow(&visitor);
    assert!(page.body.contains("<b>not fixed</b>"), "{}", page.body);
    assert!(!page.body.contains("Withdraw it") && !page.body.contains("Add the pay-back"));
    let visitor = shops.visitor("manager.north", "north");
    let page = visitor.get(&place).expect(200);
    let page = form(&page, "/outside-return/removal").follow(&visitor);
    assert!(page.body.contains("Nothing was told"));
    let paid = form(&page, "/pay-backs").fill("supplier", "Tarn Parts");
    assert!(paid.send(&visitor).expect(422).body.contains("value=\"Tarn Parts\""));
    let page = paid.fill("amount_minor", "41.50").follow(&visitor);
    assert!(page.body.contains("<b>$41.50</b>"), "{}", page.body);
    let page = form(&page, "/removal").follow(&visitor);
    assert!(!page.body.contains("$41.50"));
}

fn a_planned_visit_by_the_form(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, job) = open(&adviser, "FR 4", "engine.stalls");
    let close = json!({ "outcome": "planned_second_visit", "correction": "part ordered" });
    adviser.settle(&format!("jobs/{job}"), "closure", &close).expect(200);
    let done = adviser.settle(&format!("orders/{order}"), "closure", &json!({})).expect(200).json();
    let visitor = shops.visitor("adviser.north", "north");
    let page = visitor.get(&format!("write-up?vehicle={}", text(&done["vehicle_id"]))).expect(200);
    let visit = form(&page, "/write-up").fill("second_visit_of_job_id", &job);
    let visit = visit.fill("kind", "complaint").fill("symptom", "engine.stalls");
    let page = visit.fill("complaint", "to have the part fitted").follow(&visitor);
    assert!(page.body.contains("planned second visit"), "{}", page.body);
    assert!(!page.body.contains("Was in before for this?"));
    assert_eq!(shops.place.count("FROM planned_visit"), 1);
}
