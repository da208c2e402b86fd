//! The second wall between the shops: PostgreSQL itself gives a transaction that is
//! for one shop no row of another, whatever the query forgets to ask.

use diesel::connection::SimpleConnection;
use diesel::prelude::*;

use crate::cli::copy::filled;
use crate::house::migrations::known;
use crate::support::folder::Folder;
use crate::support::visit::open;
use crate::support::{Place, Program, Shops};

/// Asked before the shop is known, or moved for all shops of a group at once.
const UNWALLED: [&str; 2] = ["role_grant", "settings_stamp"];

/// Tables whose rows are a shop's.
fn walled() -> Vec<String> {
    let of_shop = |columns: &[(String, String)]| columns.iter().any(|(name, _)| name == "shop_id");
    let tables = known().into_iter().filter(|(_, columns)| of_shop(columns));
    let mut names: Vec<String> = tables.map(|(name, _)| name).collect();
    for name in UNWALLED {
        let at = names.iter().position(|known| known == name).expect(name);
        names.remove(at);
    }
    assert!(names.len() > 30, "{names:?}");
    names
}

#[derive(QueryableByName)]
struct Counted {
    #[diesel(sql_type = diesel::sql_types::BigInt)]
    rows: i64,
    #[diesel(sql_type = diesel::sql_types::BigInt)]
    of_shop: i64,
}

/// Works in a transaction that is for these rows, or says nothing.
fn within<T>(
    conn: &mut PgConnection,
    reach: Option<&str>,
    work: impl FnOnce(&mut PgConnection) -> QueryResult<T>,
) -> QueryResult<T> {
    let reach = reach.map(|reach| format!("SET LOCAL onetrip.shop = '{reach}'"));
    conn.batch_execute(&format!("BEGIN; {}", reach.unwrap_or_default())).unwrap();
    let answer = work(conn);
    conn.batch_execute(if answer.is_ok() { "COMMIT" } else { "ROLLBACK" }).unwrap();
    answer
}

/// All rows that such a transaction finds without asking for a shop, and the shop's.
fn found(conn: &mut PgConnection, table: &str, reach: Option<&str>, shop: i32) -> (i64, i64) {
    let asked = format!(
        "SELECT count(*) AS rows, count(*) FILTER (WHERE shop_id = {shop}) AS of_shop FROM {table}"
    );
    let counted = within(conn, reach, |conn| diesel::sql_query(asked).get_result::<Counted>(conn));
    counted.map(|counted| (counted.rows, counted.of_shop)).unwrap()
}

#[test]
fn a_query_that_forgets_the_shop_finds_only_its_rows() {
    let Some(place) = Place::empty_postgres() else { return };
    let folder = Folder::new();
    let copy = folder.path().join("copy");
    let copy = copy.to_str().unwrap();
    Program::new(&filled(), &["export", "--all", copy, "--with-secrets"]).must("");
    Program::new(&place, &["import", "--all", copy]).must("");
    let mut conn = PgConnection::establish(&place.data()).unwrap();
    let shops: Vec<i32> = place
        .lines("SELECT id::text AS line FROM shop")
        .iter()
        .map(|id| id.parse().unwrap())
        .collect();
    assert!(shops.len() > 2);
    for table in walled() {
        let all = place.count(&format!("FROM {table}"));
        assert!(all > 0, "{table} is empty");
        assert_eq!(found(&mut conn, &table, Some("all"), 0).0, all, "{table}");
        assert_eq!(found(&mut conn, &table, None, 0).0, 0, "{table} without a word");
        let mut seen = 0;
        for shop in &shops {
            let (rows, own) = found(&mut conn, &table, Some(&shop.to_string()), *shop);
            let there = place.count(&format!("FROM {table} WHERE shop_id = {shop}"));
            assert_eq!((rows, own), (there, there), "{table}, shop {shop}");
            seen += rows;
        }
        assert_eq!(seen, all, "{table}");
    }
}

/// Nor does it write for another shop.
#[test]
fn a_row_of_another_shop_is_not_written() {
    let Some(place) = Place::postgres() else { return };
    let mut conn = PgConnection::establish(&place.data()).unwrap();
    let insert = "INSERT INTO part_policy (shop_id, part) VALUES (1, 'walled')";
    let mut write = |reach: &str| {
        within(&mut conn, Some(reach), |conn| diesel::sql_query(insert).execute(conn))
    };
    assert!(write("2").unwrap_err().to_string().contains("row-level security"));
    assert_eq!(write("1"), Ok(1));
}

/// A request in a shop asks for that shop alone: it goes on where nobody may ask for
/// all any more.
#[test]
fn a_request_in_a_shop_reaches_no_further() {
    let Some(place) = Place::postgres() else { return };
    let shops = Shops::open(place);
    let manager = shops.person("manager.north");
    let (order, job) = open(&manager, "WALL 1", "engine.stalls");
    let only = "current_setting('onetrip.shop', true) = shop_id::text";
    for table in walled() {
        shops.place.run(&format!("ALTER POLICY one_shop ON {table} USING ({only})"));
    }
    for path in ["vehicles", "people", "codes", "changes", "comebacks", "plans", "rules", "stock"] {
        manager.get(path).expect(200);
    }
    assert_eq!(manager.get("orders").expect(200).json()["items"].as_array().unwrap().len(), 1);
    manager
        .post(&format!("jobs/{job}/checks"), &serde_json::json!({ "code": "road-test" }))
        .expect(201);
    manager
        .settle(&format!("jobs/{job}"), "closure", &crate::support::visit::repaired("air-filter"))
        .expect(200);
    manager.settle(&format!("orders/{order}"), "closure", &serde_json::json!({})).expect(200);
    manager.get("reports/weekly").expect(200);
    // What runs across shops finds nothing now.
    let mut conn = PgConnection::establish(&shops.place.data()).unwrap();
    assert_eq!(found(&mut conn, "vehicle", Some("all"), 0), (0, 0));
}
