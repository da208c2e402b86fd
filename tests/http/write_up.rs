//! Writing up at the counter, without scripts: the customer's words first, the
//! vehicle by one field.

use serde_json::json;

use crate::support::html::{Form, form, plain};
use crate::support::visit::{finish, open, text};
use crate::support::{Answer, Client, Shops, on_each_database};

on_each_database!(
    a_vehicle_is_looked_up_and_nothing_typed_is_lost,
    a_number_settles_the_vehicle_without_looking,
    more_than_one_may_be_meant,
    the_earlier_job_stands_beside_the_question,
    several_complaints_on_one_order,
    promised_and_agreed_by_one_tap,
    an_order_says_who_waits_for_what,
    an_order_on_paper,
    a_life_of_visits,
);

const VIN: &str = "1G4AH59H45G118341";
const WORDS: &str = "dies at the lights, since Monday";

fn sheet(page: &Answer) -> Form {
    form(page, "/write-up").fill("kind", "complaint")
}

/// Presses the button that looks the vehicle up.
#[track_caller]
fn look(client: &Client, sheet: Form) -> Answer {
    sheet.fill("look", "yes").send(client).expect(200)
}

fn a_vehicle_is_looked_up_and_nothing_typed_is_lost(shops: &Shops) {
    let program = shops.person("adviser.north");
    let body = json!({ "vehicle": { "vin": VIN, "make": "Corvane" }, "odometer_in": 81_200,
        "odometer_unit": "mi", "jobs": [{ "complaint": "squeals" }] });
    let order = program.post("orders", &body).expect(201).json();
    let adviser = shops.visitor("adviser.north", "north");
    let page = adviser.get("write-up").expect(200);
    let typed = sheet(&page).fill("complaint", WORDS).fill("happens_when", "idle");
    let found = look(&adviser, typed.fill("known", "5g118341").fill("customer_name", "Imre"));
    assert!(plain(&found.body).contains(WORDS) && found.body.contains("value=\"Imre\""));
    let id = text(&order["vehicle_id"]);
    assert!(found.body.contains(&format!("name=\"vehicle_id\" value=\"{id}\"")), "{}", found.body);
    assert!(found.body.contains("value=\"idle\" checked"), "{}", found.body);
    // What stands on the vehicle stands beside the write-up.
    assert!(found.body.contains("Last read: 81,200 mi"), "{}", found.body);
    assert!(found.body.contains("<option value=\"[mi_i]\" selected>"), "{}", found.body);
    assert!(found.body.contains("This vehicle is here now"), "{}", found.body);
    assert_eq!(shops.place.count("FROM repair_order"), 1);
    let written = sheet(&found).fill("complaint", WORDS).follow(&adviser);
    assert!(plain(&written.body).contains(WORDS));
    assert_eq!(shops.place.count("FROM vehicle"), 1);

    // Not known: described with the number that was looked for.
    let missed = look(&adviser, sheet(&page).fill("known", "1g4ah59h35g118341"));
    assert!(missed.body.contains("name=\"vin\" value=\"1G4AH59H35G118341\""), "{}", missed.body);
    let missed = look(&adviser, sheet(&page).fill("known", "WU 7"));
    assert!(missed.body.contains("name=\"plate\" value=\"WU 7\""), "{}", missed.body);
    assert!(!missed.body.contains("name=\"known\""));
    // A look from elsewhere is no look.
    sheet(&page).without("form_token").fill("look", "yes").send(&adviser).expect(403);
}

fn a_number_settles_the_vehicle_without_looking(shops: &Shops) {
    let adviser = shops.visitor("adviser.north", "north");
    let page = adviser.get("write-up").expect(200);
    let send = |known: &str| {
        let page = adviser.get("write-up").expect(200);
        sheet(&page).fill("known", known).fill("complaint", WORDS).send(&adviser)
    };
    send("ab-12 cd").expect(303);
    send("AB12CD").expect(303);
    // Also by a scanner that reads the label's letter along.
    send(&format!("I{VIN}")).expect(303);
    send(VIN).expect(303);
    assert_eq!(
        shops.place.lines("SELECT COALESCE(plate, vin) AS line FROM vehicle ORDER BY 1"),
        [VIN, "AB-12 CD"]
    );
    assert_eq!(shops.place.count("FROM repair_order"), 4);
    // One field against the other is a question, not a guess.
    let odd = sheet(&page).fill("known", "AB 12 CD").fill("plate", "XY 1").fill("complaint", WORDS);
    let shown = odd.send(&adviser).expect(422);
    assert!(shown.body.contains("another VIN or plate"), "{}", shown.body);
    let none = sheet(&page).fill("complaint", WORDS).send(&adviser).expect(422);
    assert!(plain(&none.body).contains(WORDS));
}

fn more_than_one_may_be_meant(shops: &Shops) {
    let program = shops.person("adviser.north");
    for vin in [VIN, "1G4AH59H35G118341"] {
        program.post("vehicles", &json!({ "vin": vin })).expect(201);
    }
    let adviser = shops.visitor("adviser.north", "north");
    let page = adviser.get("write-up").expect(200);
    let typed = || sheet(&page).fill("known", "5G118341").fill("complaint", WORDS);
    let which = typed().send(&adviser).expect(422);
    assert_eq!(which.body.matches("name=\"pick\"").count(), 2, "{}", which.body);
    assert_eq!(shops.place.count("FROM repair_order"), 0);
    let which = look(&adviser, typed());
    assert_eq!(which.body.matches("name=\"pick\"").count(), 2, "{}", which.body);
    let id = which.body.split("name=\"pick\" value=\"").nth(1).unwrap();
    let id = id.split('"').next().unwrap().to_owned();
    let known = sheet(&which).fill("pick", &id).fill("complaint", WORDS).send(&adviser).expect(200);
    sheet(&known).fill("complaint", WORDS).follow(&adviser);
    assert_eq!(shops.place.lines("SELECT vehicle_id AS line FROM repair_order"), [id]);
    // While somebody types nothing is taken, only offered.
    let offered = adviser.get("write-up?known=5G118341").expect(200);
    assert_eq!(offered.body.matches("name=\"pick\"").count(), 2, "{}", offered.body);
    let offered = adviser.get(&format!("write-up?known={VIN}")).expect(200);
    assert!(!offered.body.contains("name=\"vehicle_id\""));
}

fn the_earlier_job_stands_beside_the_question(shops: &Shops) {
    let program = shops.person("adviser.north");
    let (order, job) = open(&program, "WU 3", "engine.stalls");
    let part =
        json!({ "name": "throttle body", "disposition": "cleaned_reused", "role": "suspect" });
    program.post(&format!("jobs/{job}/parts"), &part).expect(201);
    finish(&program, &order, &job, "throttle-dirty");
    let adviser = shops.visitor("adviser.north", "north");
    let page = adviser.get("write-up?find=wu3").expect(200);
    for word in [
        "In before for this?",
        "earlier today",
        "within 60 days",
        "throttle body",
        "cleaned and reused",
    ] {
        assert!(page.body.contains(word), "{word}: {}", page.body);
    }
    let sheet = sheet(&page).fill("complaint", WORDS).fill("symptom", "engine.stalls");
    let written = sheet.fill("in_before_job_id", &job).follow(&adviser);
    assert!(written.body.contains("Was in before for this?"), "{}", written.body);
    assert_eq!(shops.place.count("FROM comeback WHERE customer_says"), 1);
    // A technician does not link: what was done is shown all the same.
    let technician = shops.visitor("technician.north", "north");
    let page = technician.get("write-up?find=wu3").expect(200);
    assert!(!page.body.contains("in_before_job_id") && page.body.contains("Earlier visits"));
}

fn several_complaints_on_one_order(shops: &Shops) {
    let adviser = shops.visitor("adviser.north", "north");
    let page = adviser.get("write-up").expect(200);
    let first = sheet(&page).fill("plate", "WU 4").fill("complaint", WORDS).fill("then", "another");
    let place = first.send(&adviser).expect(303).header("location").to_owned();
    assert!(place.ends_with("&add=job#add-job"), "{place}");
    let next = adviser.get(place.split('#').next().unwrap()).expect(200);
    let (_, adding) = next.body.split_once("id=\"add-job\"").unwrap();
    assert!(adding.contains("<details class=\"more adding\" open>"), "{adding}");
    let job = |page: &Answer, words: &str| {
        form(page, "/jobs").fill("kind", "complaint").fill("complaint", words)
    };
    let place = job(&next, "squeals").fill("then", "another").send(&adviser).expect(303);
    let place = place.header("location").to_owned();
    assert!(place.ends_with("&add=job#add-job"), "{place}");
    let next = adviser.get(place.split('#').next().unwrap()).expect(200);
    let last = job(&next, "pulls").fill("then", "order").follow(&adviser);
    assert!(last.body.contains("id=\"job-3\""), "{}", last.body);
    assert_eq!(shops.place.count("FROM repair_order"), 1);
}

fn promised_and_agreed_by_one_tap(shops: &Shops) {
    let adviser = shops.visitor("adviser.north", "north");
    let page = adviser.get("write-up").expect(200);
    let pick = page.body.split("name=\"promised_pick\" value=\"").last().unwrap();
    let pick = pick.split('"').next().unwrap().to_owned();
    let sheet = || sheet(&page).fill("plate", "WU 5").fill("complaint", WORDS);
    let agreed = sheet().fill("promised_pick", &pick).fill("authorized_minor", "250.00");
    let agreed = agreed.fill("customer_name", "Imre").fill("authorized_how_pick", "by telephone");
    let order = agreed.follow(&adviser);
    assert!(order.body.contains("The order is open."), "{}", order.body);
    assert!(order.body.contains("<b>$250.00</b> by <bdi>Imre</bdi>"), "{}", order.body);
    let kept = "SELECT authorized_by || ', ' || authorized_how AS line FROM repair_order";
    assert_eq!(shops.place.lines(kept), ["Imre, by telephone"]);
    assert_eq!(shops.place.count("FROM repair_order WHERE promised_at IS NOT NULL"), 1);
    let odd = sheet().fill("promised_pick", "soon").send(&adviser).expect(422);
    assert!(odd.body.contains("choose a time of the list"), "{}", odd.body);
}

fn an_order_says_who_waits_for_what(shops: &Shops) {
    let program = shops.person("adviser.north");
    let (order, job) = open(&program, "WU 6", "engine.stalls");
    let wait =
        json!({ "waiting_for": "part", "note": "coil on order", "expected_on": "2199-01-01" });
    program.post(&format!("jobs/{job}/waits"), &wait).expect(201);
    let visitor = shops.visitor("adviser.north", "north");
    let page = visitor.get(&format!("orders/{order}")).expect(200);
    for word in ["Job 1</a> waits for <b>a part</b>", "coil on order", "2199", "0 of 1 ended"] {
        assert!(page.body.contains(word), "{word}: {}", page.body);
    }
}

fn an_order_on_paper(shops: &Shops) {
    let program = shops.person("manager.north");
    let (order, job) = open(&program, "WU 8", "engine.stalls");
    let part = json!({ "name": "throttle body", "disposition": "replaced_new", "role": "suspect",
        "unit_cost_minor": 7_777, "unit_price_minor": 9_900 });
    program.post(&format!("jobs/{job}/parts"), &part).expect(201);
    let place = format!("orders/{order}/paper");
    let page = |who: &str| shops.visitor(who, "north").get(&place).expect(200);
    // What it cost the shop is on no paper, whoever prints it.
    for who in ["manager.north", "adviser.north", "technician.north"] {
        let page = page(who);
        let prices = who != "technician.north";
        assert!(plain(&page.body).contains("it shakes at the lights"), "{}", page.body);
        assert!(page.body.contains("Never under a vehicle that only a jack holds"), "{who}");
        assert!(!page.body.contains("77.77"), "{who}: {}", page.body);
        assert_eq!(page.body.contains("99.00"), prices, "{who}: {}", page.body);
        assert_eq!(page.body.contains("Charged to the customer"), prices, "{who}");
    }
    finish(&program, &order, &job, "throttle-dirty");
    let page = page("adviser.north");
    assert!(page.body.contains("cleaned and refitted"), "{}", page.body);
    assert!(!page.body.contains("only a jack holds"), "the work is done: {}", page.body);
    shops.visitor("adviser.south", "south").get(&place).expect(404);
}

fn a_life_of_visits(shops: &Shops) {
    let program = shops.person("adviser.north");
    let visit = |odometer: i64| {
        let body = json!({ "vehicle": { "plate": "WU 9" }, "odometer_in": odometer,
            "odometer_unit": "mi",
            "jobs": [{ "symptom": "engine.stalls", "complaint": WORDS }] });
        program.post("orders", &body).expect(201).json()
    };
    let first = visit(81_200);
    let job = text(&first["jobs"][0]["id"]).to_owned();
    let part =
        json!({ "name": "throttle body", "disposition": "cleaned_reused", "role": "suspect" });
    program.post(&format!("jobs/{job}/parts"), &part).expect(201);
    finish(&program, text(&first["id"]), &job, "throttle-dirty");
    visit(81_320);
    let place = format!("vehicles/{}", text(&first["vehicle_id"]));
    let page = shops.visitor("technician.north", "north").get(&place).expect(200);
    for word in [
        "here now",
        "81,200 mi",
        "81,320 mi",
        "0 days and 120 mi after the visit before",
        "throttle body",
        "cleaned and reused",
        "Perhaps back for 1/1",
        "Perhaps did not hold: 2/1",
        "not decided yet",
    ] {
        assert!(page.body.contains(word), "{word}: {}", page.body);
    }
}
