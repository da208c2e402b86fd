//! What the service is measured against: a bare handler that inserts the rows
//! of a close through a pool, in a transaction of its own, and answers 200. No
//! session, no decision, no list, no answer beyond that.

use actix_web::{App, HttpResponse, HttpServer, web};
use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use diesel::r2d2::{ConnectionManager, CustomizeConnection, Pool};
use diesel::sqlite::SqliteConnection;
use serde_json::Value;

use super::schema::{
    idempotency_key, job, job_check, part_use, record_change, repair_order, shop_counter,
};

type Connections = Pool<ConnectionManager<SqliteConnection>>;

/// The pragmas of the service's own connections.
#[derive(Debug)]
struct Pragmas;

impl CustomizeConnection<SqliteConnection, diesel::r2d2::Error> for Pragmas {
    fn on_acquire(&self, conn: &mut SqliteConnection) -> Result<(), diesel::r2d2::Error> {
        conn.batch_execute(
            "PRAGMA busy_timeout = 5000; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; \
             PRAGMA foreign_keys = ON; PRAGMA cache_size = -65536;",
        )
        .map_err(diesel::r2d2::Error::QueryError)
    }
}

/// Whose closes they are: the same person for all.
#[derive(Clone)]
struct Served {
    pool: Connections,
    person: String,
}

/// Serves the folder's record on a free port, and says which.
pub fn serve(folder: &str, person: String) {
    let manager = ConnectionManager::new(format!("{folder}/onetrip.sqlite"));
    let pool = Pool::builder()
        .max_size(8)
        .connection_customizer(Box::new(Pragmas))
        .build(manager)
        .unwrap();
    let served = Served { pool, person };
    actix_web::rt::System::new().block_on(async move {
        let app = move || {
            App::new()
                .app_data(web::Data::new(served.clone()))
                .route("/shops/{shop}/jobs/{job}/closure", web::post().to(close))
        };
        let server = HttpServer::new(app).workers(2).bind("127.0.0.1:0").unwrap();
        println!("http://{}", server.addrs()[0]);
        server.run().await.unwrap();
    });
}

async fn close(
    served: web::Data<Served>,
    place: web::Path<(i32, String)>,
    asked: actix_web::HttpRequest,
    body: web::Json<Value>,
) -> HttpResponse {
    let (shop, job) = place.into_inner();
    let key = asked.headers().get("idempotency-key").unwrap().to_str().unwrap().to_owned();
    let done = web::block(move || {
        let mut conn = served.pool.get().map_err(|error| error.to_string())?;
        conn.immediate_transaction(|conn| insert(conn, &served.person, (shop, &job, &key), &body))
            .map_err(|error| error.to_string())
    })
    .await
    .unwrap();
    match done {
        Ok(()) => HttpResponse::Ok().json(serde_json::json!({ "outcome": "repaired" })),
        Err(error) => HttpResponse::ServiceUnavailable().body(error),
    }
}

fn id() -> String {
    uuid::Uuid::now_v7().to_string()
}

fn word<'a>(of: &'a Value, name: &str) -> Option<&'a str> {
    of.get(name).and_then(Value::as_str)
}

/// The rows of a close.
fn insert(
    conn: &mut SqliteConnection,
    person: &str,
    (shop, job_id, key): (i32, &str, &str),
    body: &Value,
) -> QueryResult<()> {
    let now = chrono::Utc::now().naive_utc();
    let number: i64 = diesel::update(shop_counter::table.find(shop))
        .set(shop_counter::change_no.eq(shop_counter::change_no + 1_i64))
        .returning(shop_counter::change_no)
        .get_result(conn)?;
    let mut line = 0;
    let mut note = |conn: &mut SqliteConnection, record: &str, id: &str, after: &Value| {
        line += 1;
        diesel::insert_into(record_change::table)
            .values((
                record_change::shop_id.eq(shop),
                record_change::change_no.eq(number),
                record_change::line.eq(line),
                record_change::changed_at.eq(now),
                record_change::person_id.eq(person),
                record_change::record.eq(record),
                record_change::record_id.eq(id),
                record_change::action.eq("added"),
                record_change::job_id.eq(job_id),
                record_change::correction.eq(false),
                record_change::after_json.eq(after.to_string()),
            ))
            .execute(conn)
    };
    for (seq, check) in (1_i32..).zip(body["checks"].as_array().unwrap()) {
        let id = id();
        diesel::insert_into(job_check::table)
            .values((
                job_check::shop_id.eq(shop),
                job_check::id.eq(&id),
                job_check::job_id.eq(job_id),
                job_check::seq.eq(seq),
                job_check::code.eq(word(check, "code").unwrap()),
                job_check::finding.eq(word(check, "finding")),
                job_check::typed_at_close.eq(true),
                job_check::version.eq(1),
            ))
            .execute(conn)?;
        note(conn, "check", &id, check)?;
    }
    for (place, part) in (1_i32..).zip(body["parts"].as_array().unwrap()) {
        let id = id();
        diesel::insert_into(part_use::table)
            .values((
                part_use::shop_id.eq(shop),
                part_use::id.eq(&id),
                part_use::job_id.eq(job_id),
                part_use::line.eq(place),
                part_use::part_no.eq(word(part, "part_no")),
                part_use::name.eq(word(part, "name").unwrap()),
                part_use::quantity_hundredths.eq(100_i64),
                part_use::disposition.eq(word(part, "disposition").unwrap()),
                part_use::role.eq(word(part, "role")),
                part_use::version.eq(1),
            ))
            .execute(conn)?;
        note(conn, "part_use", &id, part)?;
    }
    note(conn, "job", job_id, body)?;
    let order: String = diesel::update(job::table.find((shop, job_id)))
        .set((
            job::outcome.eq(word(body, "outcome")),
            job::cause.eq(word(body, "cause")),
            job::cause_state.eq("confirmed"),
            job::cause_how.eq(word(body, "cause_how")),
            job::correction.eq(word(body, "correction")),
            job::finished_at.eq(now),
            job::change_no.eq(number),
            job::version.eq(job::version + 1),
        ))
        .returning(job::order_id)
        .get_result(conn)?;
    diesel::update(repair_order::table.find((shop, order)))
        .set((
            repair_order::change_no.eq(number),
            repair_order::version.eq(repair_order::version + 1),
        ))
        .execute(conn)?;
    diesel::insert_into(idempotency_key::table)
        .values((
            idempotency_key::person_id.eq(person),
            idempotency_key::route.eq(format!("POST {job_id}")),
            idempotency_key::key.eq(key),
            idempotency_key::request_hash.eq(job_id),
            idempotency_key::status.eq(200),
            idempotency_key::body.eq(body.to_string()),
            idempotency_key::created_at.eq(now),
        ))
        .execute(conn)?;
    Ok(())
}
