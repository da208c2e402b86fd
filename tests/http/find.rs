//! Finding by whatever is in hand.

use serde_json::json;

use crate::support::visit::{finish, open, text, write_up};
use crate::support::{Answer, Client, Shops, on_each_database};

on_each_database!(
    a_number_leads_straight_there,
    a_vin_and_its_end,
    a_plate_however_it_is_written,
    names_and_words,
    nothing_of_another_shop,
    what_every_reader_may_find,
    no_more_than_a_page_holds,
);

const VIN: &str = "1G4AH59H45G118341";

/// Opens an order on the vehicle for the customer: its id, its number, the
/// vehicle's id.
fn visit(client: &Client, vehicle: serde_json::Value, customer: &str) -> (String, String, String) {
    let mut body = write_up("F 1", "engine.stalls");
    body["vehicle"] = vehicle;
    body["customer_name"] = json!(customer);
    let order = client.post("orders", &body).expect(201).json();
    let of = |name: &str| text(&order[name]).to_owned();
    (of("id"), of("order_no"), of("vehicle_id"))
}

/// Where the search leads at once.
#[track_caller]
fn straight(client: &Client, q: &str) -> String {
    client.get(&format!("find?q={q}")).expect(303).header("location").to_owned()
}

#[track_caller]
fn listed(client: &Client, q: &str) -> Answer {
    client.get(&format!("find?q={q}")).expect(200)
}

fn a_number_leads_straight_there(shops: &Shops) {
    let program = shops.person("adviser.north");
    let (order, job) = open(&program, "FN 1", "engine.stalls");
    let number = text(&program.get(&format!("orders/{order}")).json()["order_no"]).to_owned();
    let adviser = shops.visitor("adviser.north", "north");
    let place = format!("/shops/north/orders/{order}");
    assert_eq!(straight(&adviser, &number), place);
    assert_eq!(straight(&adviser, &format!("%23{number}")), place);
    assert_eq!(straight(&adviser, &format!("{number}/1")), format!("/shops/north/jobs/{job}"));
    // Who is still typing is led nowhere.
    let page = adviser.get(&format!("find?q={number}&list=yes")).expect(200);
    assert!(page.body.contains(&place), "{}", page.body);
    let page = listed(&adviser, &format!("{number}/9"));
    assert!(page.body.contains("Nothing in this shop"), "{}", page.body);
    // A void order is found, too, and says so.
    let void = json!({ "reason": "written up twice" });
    program.settle(&format!("orders/{order}"), "void", &void).expect(200);
    let page = adviser.get(&format!("find?q={number}&list=yes")).expect(200);
    assert!(page.body.contains(">void</span>"), "{}", page.body);
}

fn a_vin_and_its_end(shops: &Shops) {
    let program = shops.person("adviser.north");
    let (order, _, vehicle) =
        visit(&program, json!({ "vin": VIN, "make": "Corvane", "model": "Linnet" }), "Zoë Nyqvist");
    let adviser = shops.visitor("adviser.north", "north");
    let place = format!("/shops/north/vehicles/{vehicle}");
    for q in [VIN, "1g4ah59h4-5g118341", "I1G4AH59H45G118341", "5G118341", "5g%20118341"] {
        assert_eq!(straight(&adviser, q), place, "{q}");
    }
    // Four places may be another vehicle's next week: shown, not gone to.
    let page = listed(&adviser, "8341");
    assert!(page.body.contains(&place), "{}", page.body);
    assert!(page.body.contains(&format!("/shops/north/orders/{order}")), "{}", page.body);
    // Two vehicles that end so are both shown.
    visit(&program, json!({ "vin": "1G4AH59H35G118341" }), "Imre");
    let page = listed(&adviser, "5G118341");
    assert_eq!(page.body.matches("/shops/north/vehicles/").count(), 2, "{}", page.body);
    for wild in ["%25%25%25", "_________", "41"] {
        let page = listed(&adviser, wild);
        assert!(!page.body.contains("/shops/north/vehicles/"), "{wild}: {}", page.body);
    }
}

fn a_plate_however_it_is_written(shops: &Shops) {
    let program = shops.person("adviser.north");
    let (_, _, vehicle) = visit(&program, json!({ "plate": "ab-12 cd" }), "Imre");
    let adviser = shops.visitor("adviser.north", "north");
    for q in ["AB12CD", "ab%2012.cd", "a-b-1-2-c-d"] {
        assert_eq!(straight(&adviser, q), format!("/shops/north/vehicles/{vehicle}"), "{q}");
    }
    assert!(listed(&adviser, "2CD").body.contains(&vehicle));
    // Of two that bore the plate the page shows both, the write-up means the one
    // that was not sold.
    let day = text(&program.get("orders").json()["items"][0]["opened_on"]).to_owned();
    let sold = json!({ "sold_on": day });
    program.patch(&format!("vehicles/{vehicle}"), &sold).expect(200);
    let vin = json!({ "vin": "11111111111111111", "plate": "AB 12 CD" });
    let other = text(&program.post("vehicles", &vin).expect(201).json()["id"]).to_owned();
    let page = listed(&adviser, "AB12CD");
    assert!(page.body.contains(&vehicle) && page.body.contains(&other), "{}", page.body);
    let page = adviser.get("write-up?find=AB12CD").expect(200);
    assert!(page.body.contains(&format!("value=\"{other}\"")), "{}", page.body);
}

fn names_and_words(shops: &Shops) {
    let program = shops.person("adviser.north");
    let vehicle =
        json!({ "plate": "NW 1", "make": "Corvane", "model": "Linnet", "model_year": 2016 });
    let (first, ..) = visit(&program, vehicle, "Zoë O'Hara");
    let (second, ..) = visit(&program, json!({ "plate": "NW 2", "make": "Tarn" }), "ÉVA Nyqvist");
    let adviser = shops.visitor("adviser.north", "north");
    for (q, has, hasnt) in [
        ("o%27hara", &first, &second),
        ("hara%20zo%C3%AB", &first, &second),
        ("nyqvist", &second, &first),
        ("%C3%A9va", &second, &first),
    ] {
        let page = listed(&adviser, q);
        assert!(page.body.contains(has.as_str()), "{q}: {}", page.body);
        assert!(!page.body.contains(hasnt.as_str()), "{q}");
    }
    let vehicles = |q: &str| listed(&adviser, q).body.matches("/shops/north/vehicles/").count();
    assert_eq!(vehicles("corvane"), 1);
    assert_eq!(vehicles("LINNET%202016"), 1);
    assert_eq!(vehicles("linnet%202015"), 0);
    // What people write is text on the page.
    visit(&program, json!({ "plate": "NW 3" }), "<b>Quill</b>");
    assert!(!listed(&adviser, "quill").body.contains("<b>Quill"));
    // Newest first.
    let (third, ..) = visit(&program, json!({ "plate": "NW 2" }), "Éva Nyqvist");
    let body = listed(&adviser, "nyqvist").body;
    assert!(body.find(&third).unwrap() < body.find(&second).unwrap());
    assert!(listed(&adviser, "").body.contains("scanner"));
}

fn nothing_of_another_shop(shops: &Shops) {
    let sister = shops.person_at("adviser.south", "south");
    let (order, number, vehicle) =
        visit(&sister, json!({ "vin": VIN, "plate": "NO 1", "make": "Corvane" }), "Zoë Nyqvist");
    let adviser = shops.visitor("adviser.north", "north");
    for q in [number.as_str(), VIN, "NO1", "nyqvist", "corvane"] {
        let page = listed(&adviser, q);
        assert!(!page.body.contains(&order) && !page.body.contains(&vehicle), "{q}");
    }
    assert_eq!(adviser.get("/shops/south/find?q=1").status, 404);
}

fn what_every_reader_may_find(shops: &Shops) {
    let program = shops.person("adviser.north");
    let (order, job) = open(&program, "ER 1", "engine.stalls");
    finish(&program, &order, &job, "air-filter");
    for who in ["technician.north", "manager.north", "owner.riverside"] {
        let visitor = shops.visitor(who, "north");
        let page = visitor.get("find?q=ER1&list=yes").expect(200);
        assert!(page.body.contains("ER 1"), "{who}: {}", page.body);
        // Only who writes work is offered a write-up.
        assert_eq!(page.body.contains("Write it up"), who != "owner.riverside", "{who}");
    }
    shops.visitor("administrator.riverside", "north").get("find?q=ER1").expect(403);
}

fn no_more_than_a_page_holds(shops: &Shops) {
    let program = shops.person("adviser.north");
    for turn in 0..51 {
        visit(&program, json!({ "plate": format!("MP {turn}"), "make": "Corvane" }), "Ode Quill");
    }
    let adviser = shops.visitor("adviser.north", "north");
    let page = listed(&adviser, "quill");
    assert_eq!(page.body.matches("class=\"no\"").count(), 50);
    assert!(page.body.contains("there are more"), "{}", page.body);
    let page = listed(&adviser, "corvane");
    assert_eq!(page.body.matches("/shops/north/vehicles/").count(), 50);
}
