//! How complaints were diagnosed, as pages.

use crate::support::shops::visitor;
use crate::support::{Place, Server};

const SHOP: &str = "/shops/four-sycamores";

#[test]
fn one_complaint_is_a_tree_and_an_order() {
    let place = Place::demo().copied();
    let server = Server::start(&place);
    let manager = visitor(&server.base, "piotr", "demo four sycamores");
    let all = manager.get(&format!("{SHOP}/paths?as_of=2026-10-11")).expect(200).body;
    let (_, rest) = all.split_once("/paths?symptom=").expect("a complaint to choose");
    let symptom = rest.split(['&', '"']).next().unwrap();
    let asked = format!("symptom={symptom}&as_of=2026-10-11");

    let page = manager.get(&format!("{SHOP}/paths?{asked}")).expect(200).body;
    let file = format!("{SHOP}/paths?{asked}&format=csv&table=tree");
    let lines = manager.get(&file).expect(200).body.lines().count();
    assert!(lines > 2, "{lines}");
    // A branch for each line of the file, the first one's jobs a press away.
    assert_eq!(page.matches("class=\"tree-bars\"").count(), lines - 1);
    let (_, tree) = page.split_once("<ul class=\"branches\">").unwrap();
    assert!(tree.contains("path_starts=") && tree.contains("cause found on"), "{tree}");

    let page = manager.get(&format!("{SHOP}/check-order?{asked}")).expect(200).body;
    assert!(page.contains("<b>Our usual order and the advised one</b>"), "{page}");
    assert!(page.contains("<b>The advised order, check by check</b>"), "{page}");
    assert!(page.contains(" a free look that you do on ") || page.contains("Nothing has to"));
}
