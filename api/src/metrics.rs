//! What the server has done, as numbers that a collector reads (the Prometheus
//! text format). Labels are the routes' patterns: never an id.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use actix_web::body::MessageBody;
use actix_web::dev::{Server, ServiceRequest, ServiceResponse};
use actix_web::middleware::Next;
use actix_web::{App as Actix, HttpResponse, HttpServer, web};

use crate::app::App;
use crate::routes;

/// Upper edges of the durations, in milliseconds.
const EDGES_MS: [u64; 11] = [1, 2, 5, 10, 25, 50, 100, 250, 500, 1_000, 5_000];

/// The pattern of addresses that no route takes.
const NOWHERE: &str = "none";

/// Requests of one method, route and class of status.
#[derive(Debug, Clone, Default)]
struct Series {
    count: u64,
    micros: u64,
    /// Requests up to each edge.
    within: [u64; EDGES_MS.len()],
}

type Key = (String, &'static str, u16);

/// Everything counted since the start.
#[derive(Debug, Default)]
pub struct Metrics(Mutex<BTreeMap<Key, Series>>);

impl Metrics {
    fn note(&self, key: Key, took: Duration) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let series = all.entry(key).or_default();
        let micros = u64::try_from(took.as_micros()).unwrap_or(u64::MAX);
        series.count += 1;
        series.micros = series.micros.saturating_add(micros);
        for (edge, within) in EDGES_MS.iter().zip(&mut series.within) {
            *within += u64::from(micros <= edge * 1_000);
        }
    }

    /// The text that collectors read.
    #[must_use]
    pub fn text(&self) -> String {
        let name = "onetrip_http_request_duration_seconds";
        let mut text = format!(
            "# HELP onetrip_build_info The running program.\n\
             # TYPE onetrip_build_info gauge\n\
             onetrip_build_info{{version=\"{}\"}} 1\n\
             # HELP {name} Requests answered, by route, method and class of status.\n\
             # TYPE {name} histogram\n",
            env!("CARGO_PKG_VERSION")
        );
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        for ((method, route, class), series) in &*all {
            let labels = format!("method=\"{method}\",route=\"{route}\",status=\"{class}xx\"");
            let edges = EDGES_MS.iter().map(|edge| decimal(edge * 1_000));
            let buckets = edges.zip(&series.within).map(|(edge, count)| (edge, *count));
            for (edge, count) in buckets.chain([("+Inf".to_owned(), series.count)]) {
                text += &format!("{name}_bucket{{{labels},le=\"{edge}\"}} {count}\n");
            }
            // Writing into a String cannot fail.
            let _written = writeln!(text, "{name}_sum{{{labels}}} {}", decimal(series.micros));
            let _written = writeln!(text, "{name}_count{{{labels}}} {}", series.count);
        }
        text
    }
}

/// Microseconds as seconds, without a float on the way.
fn decimal(micros: u64) -> String {
    format!("{}.{:06}", micros / 1_000_000, micros % 1_000_000)
}

/// Counts a request with what it took; does nothing where metrics are off.
///
/// # Errors
/// Those of the framework.
pub async fn measure(
    req: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    let metrics = req.app_data::<web::Data<App>>().and_then(|app| app.metrics.clone());
    let Some(metrics) = metrics else { return next.call(req).await };
    // An answer to HEAD is the one to GET without its body.
    let method = match req.method().as_str() {
        "HEAD" => "GET".to_owned(),
        known @ ("GET" | "POST" | "PUT" | "PATCH" | "DELETE") => known.to_owned(),
        // Anybody may make words up: they get one label together.
        _ => "other".to_owned(),
    };
    let route = routes::find(&method, req.path()).map_or(NOWHERE, |found| found.route.path);
    let begun = Instant::now();
    let answer = next.call(req).await?;
    metrics.note((method, route, answer.status().as_u16() / 100), begun.elapsed());
    Ok(answer)
}

async fn shown(metrics: web::Data<Arc<Metrics>>) -> HttpResponse {
    HttpResponse::Ok().content_type("text/plain; version=0.0.4").body(metrics.text())
}

/// Binds the metrics' own address; it serves `/metrics` and nothing else.
///
/// # Errors
/// Where the address cannot be bound.
pub fn bind(metrics: Arc<Metrics>, address: &str) -> std::io::Result<Server> {
    let data = web::Data::new(metrics);
    let server = HttpServer::new(move || {
        Actix::new().app_data(data.clone()).route("/metrics", web::get().to(shown))
    });
    Ok(server.workers(1).disable_signals().bind(address)?.run())
}

#[cfg(test)]
mod tests {
    use super::*;

    // The text format's own rules: buckets are cumulative, +Inf equals _count.
    #[test]
    fn durations_fall_into_every_bucket_above_them() {
        let metrics = Metrics::default();
        let key = || ("GET".to_owned(), "/api/v1/shops/{shop}/orders", 2);
        metrics.note(key(), Duration::from_millis(2));
        metrics.note(key(), Duration::from_millis(7));
        metrics.note(key(), Duration::from_secs(9));
        let text = metrics.text();
        let labels = "method=\"GET\",route=\"/api/v1/shops/{shop}/orders\",status=\"2xx\"";
        for (edge, count) in [("0.001000", 0), ("0.002000", 1), ("0.010000", 2), ("5.000000", 2)] {
            assert!(
                text.contains(&format!("_bucket{{{labels},le=\"{edge}\"}} {count}\n")),
                "{edge}: {text}"
            );
        }
        assert!(text.contains(&format!("_bucket{{{labels},le=\"+Inf\"}} 3\n")), "{text}");
        assert!(text.contains(&format!("_sum{{{labels}}} 9.009000\n")), "{text}");
        assert!(text.contains(&format!("_count{{{labels}}} 3\n")), "{text}");
    }
}
