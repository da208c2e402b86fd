//! Every route, JSON and page, in one table: what is not here cannot be
//! reached, and what each line demands is enforced before its handler runs.

mod tree;

use actix_web::Scope;
use actix_web::http::Method;
use actix_web::web::{self, ServiceConfig};

use tree::Tree;

use crate::domain::role::Permission as P;
use crate::{
    attendance, auth, bench, changes, codes, comebacks, docs, enquiries, find, followups, house,
    jobs, orders, people, plans, preparation, reports, rules, shops, system, vehicles, warnings,
};

/// Who may use a route.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Access {
    /// Anybody.
    Public,
    /// Anybody who is signed in; in a shop's address, who has a role there.
    SignedIn,
    /// Who signed in with a password: no token, no PIN.
    InPerson,
    /// Who has a role that may do it.
    May(P),
}

/// A line of the table.
#[derive(Debug, Clone, Copy)]
pub struct Route {
    pub method: &'static str,
    pub path: &'static str,
    pub access: Access,
}

impl Route {
    /// Programs carry tokens, pages a session's cookie.
    #[must_use]
    pub fn is_api(&self) -> bool {
        self.path.starts_with("/api/")
    }

    /// Whether a write there can be tried: what is no part of a shop's record
    /// (sessions, passwords) cannot.
    #[must_use]
    pub fn takes_dry_run(&self) -> bool {
        self.method != "GET" && self.path.starts_with("/api/v1/shops")
    }
}

/// A line that takes a request, and the shop its address names.
#[derive(Debug, Clone)]
pub struct Found {
    pub route: &'static Route,
    pub shop: Option<String>,
}

/// The line that takes a method at an address.
#[must_use]
pub fn find(method: &str, path: &str) -> Option<Found> {
    let (route, shop) = Tree::of_table().find(path, |route| route.method == method)?;
    Some(Found { route, shop: shop.map(str::to_owned) })
}

/// The methods that some line takes at an address.
#[must_use]
pub fn methods(path: &str) -> Vec<&'static str> {
    let mut methods = Vec::new();
    // Nothing is taken, so that every line that fits is looked at.
    let none = Tree::of_table().find(path, |route| {
        methods.push(route.method);
        false
    });
    debug_assert!(none.is_none());
    methods
}

/// What the lines of one thing of a shop begin with: they are registered
/// together, so that the framework tries a few beginnings and then the few lines
/// of one, in place of all. No beginning is the beginning of another.
fn beginning(path: &str) -> &str {
    let shop = "{shop}/";
    let Some(start) = path.find(shop).map(|at| at + shop.len()) else { return "" };
    let rest = path.get(start..).unwrap_or_default();
    let end = rest.find('/').map_or(path.len(), |at| start + at);
    path.get(..end).unwrap_or(path)
}

/// Registers a line below its beginning; the address is what is left of it.
type Registration = Box<dyn FnOnce(Scope, &str) -> Scope>;

fn register(config: &mut ServiceConfig, lines: Vec<(&'static str, Registration)>) {
    let mut begun: Vec<(&str, Scope)> = Vec::new();
    for (path, registration) in lines {
        let beginning = beginning(path);
        let rest = path.strip_prefix(beginning).unwrap_or_default();
        let place = begun.iter().position(|(known, _)| *known == beginning);
        let scope = place.map_or_else(|| web::scope(beginning), |at| begun.swap_remove(at).1);
        begun.push((beginning, registration(scope, rest)));
    }
    // Below no beginning any address fits: what is left comes last.
    begun.sort_by_key(|(beginning, _)| beginning.is_empty());
    for (_, scope) in begun {
        config.service(scope);
    }
}

macro_rules! routes {
    ($($method:ident $path:literal $access:expr => $handler:path;)+) => {
        /// Every route.
        pub const TABLE: &[Route] = &[
            $(Route { method: stringify!($method), path: $path, access: $access }),+
        ];

        /// Registers every route.
        pub fn configure(config: &mut ServiceConfig) {
            register(config, vec![$((
                $path,
                Box::new(|scope: Scope, rest: &str| {
                    scope.route(rest, web::method(Method::$method).to($handler))
                }),
            )),+]);
        }
    };
}

routes! {
    GET "/livez" Access::Public => system::live;
    GET "/readyz" Access::Public => system::ready;
    GET "/openapi.json" Access::Public => system::document;
    GET "/docs" Access::Public => docs::page::reference;
    GET "/problems/{kind}" Access::Public => system::problem;
    GET "/assets/{file}" Access::Public => system::asset;
    GET "/sw.js" Access::Public => system::worker;
    GET "/offline" Access::Public => system::offline;

    POST "/api/v1/sessions" Access::Public => auth::http::sign_in;
    DELETE "/api/v1/sessions/current" Access::InPerson => auth::http::sign_out;
    GET "/api/v1/me" Access::SignedIn => auth::http::me;
    PUT "/api/v1/me/password" Access::InPerson => auth::http_own::change_password;
    PUT "/api/v1/me/pin" Access::InPerson => auth::http_own::set_pin;
    GET "/api/v1/me/sessions" Access::InPerson => auth::http_own::sessions;
    DELETE "/api/v1/me/sessions" Access::InPerson => auth::http_own::end_others;
    DELETE "/api/v1/me/sessions/{session}" Access::InPerson => auth::http_own::end_session;
    GET "/api/v1/me/tokens" Access::InPerson => auth::http_token::list_own;
    POST "/api/v1/me/tokens" Access::InPerson => auth::http_token::make;
    DELETE "/api/v1/me/tokens/{token}" Access::InPerson => auth::http_token::revoke_own;
    GET "/api/v1/tokens" Access::May(P::KeepTokens) => auth::http_token::list;
    DELETE "/api/v1/tokens/{token}" Access::May(P::KeepTokens) => auth::http_token::revoke;
    GET "/api/v1/shops" Access::SignedIn => shops::http::list;
    POST "/api/v1/shops" Access::May(P::WriteShops) => shops::http::make;
    GET "/api/v1/shops/{shop}" Access::SignedIn => shops::http::read;
    PATCH "/api/v1/shops/{shop}" Access::May(P::WriteShops) => shops::http::change;
    GET "/api/v1/shops/{shop}/people" Access::May(P::ReadPeople) => people::http::list;
    POST "/api/v1/shops/{shop}/people" Access::May(P::WritePeople) => people::http::add;
    GET "/api/v1/shops/{shop}/people/{person}" Access::May(P::ReadPeople) => people::http_account::read;
    PATCH "/api/v1/shops/{shop}/people/{person}" Access::May(P::WritePeople) => people::http_account::change;
    POST "/api/v1/shops/{shop}/people/{person}/roles" Access::May(P::WritePeople) => people::http_account::grant;
    DELETE "/api/v1/shops/{shop}/people/{person}/roles/{role}" Access::May(P::WritePeople) => people::http_account::take;
    GET "/api/v1/shops/{shop}/people/{person}/sessions" Access::May(P::WritePeople) => people::http_account::sessions;
    DELETE "/api/v1/shops/{shop}/people/{person}/sessions/{session}" Access::May(P::WritePeople) => people::http_account::end_session;
    GET "/api/v1/shops/{shop}/tablets" Access::May(P::ReadPeople) => auth::http_tablet::list;
    POST "/api/v1/shops/{shop}/tablets" Access::May(P::WritePeople) => auth::http_tablet::enroll;
    DELETE "/api/v1/shops/{shop}/tablets/{tablet}" Access::May(P::WritePeople) => auth::http_tablet::revoke;
    GET "/api/v1/shops/{shop}/codes" Access::May(P::ReadCodes) => codes::http::list;
    POST "/api/v1/shops/{shop}/codes" Access::May(P::WriteCodes) => codes::http::add;
    GET "/api/v1/shops/{shop}/code-lists" Access::May(P::ReadCodes) => codes::http::lists;
    GET "/api/v1/shops/{shop}/codes/{list}/{code}" Access::May(P::ReadCodes) => codes::http::read;
    PATCH "/api/v1/shops/{shop}/codes/{list}/{code}" Access::May(P::WriteCodes) => codes::http::change;
    POST "/api/v1/shops/{shop}/codes/{list}/{code}/merge" Access::May(P::WriteCodes) => codes::http::merge;
    GET "/api/v1/shops/{shop}/plans" Access::May(P::ReadRules) => plans::http::list;
    POST "/api/v1/shops/{shop}/plans" Access::May(P::WriteRules) => plans::http::make;
    GET "/api/v1/shops/{shop}/starting-plans" Access::May(P::ReadRules) => plans::http::starting;
    GET "/api/v1/shops/{shop}/plans/{plan}" Access::May(P::ReadRules) => plans::http::read;
    POST "/api/v1/shops/{shop}/plans/{plan}/versions" Access::May(P::WriteRules) => plans::http::revise;
    POST "/api/v1/shops/{shop}/plans/{plan}/proposals" Access::May(P::WriteRules) => plans::http::propose;
    POST "/api/v1/shops/{shop}/plans/{plan}/versions/{version}/decision" Access::May(P::WriteRules) => plans::http::decide;
    POST "/api/v1/shops/{shop}/plans/{plan}/withdrawal" Access::May(P::WriteRules) => plans::http::withdraw;
    GET "/api/v1/shops/{shop}/jobs/{job}/plan" Access::May(P::ReadRules) => plans::http::of_job;
    GET "/api/v1/shops/{shop}/changes" Access::May(P::ReadRecord) => changes::http::feed;
    GET "/api/v1/shops/{shop}/audit" Access::May(P::ReadAudit) => changes::http::audit;
    GET "/api/v1/shops/{shop}/rules" Access::May(P::ReadRules) => rules::http::list;
    POST "/api/v1/shops/{shop}/rules" Access::May(P::WriteRules) => rules::http::take;
    GET "/api/v1/shops/{shop}/rules/{rule}" Access::May(P::ReadRules) => rules::http::read;
    PATCH "/api/v1/shops/{shop}/rules/{rule}" Access::May(P::WriteRules) => rules::http_settle::change;
    POST "/api/v1/shops/{shop}/rules/{rule}/review" Access::May(P::WriteRules) => rules::http_settle::review;
    POST "/api/v1/shops/{shop}/rules/{rule}/withdrawal" Access::May(P::WriteRules) => rules::http_settle::withdraw;
    GET "/api/v1/shops/{shop}/jobs/{job}/rules" Access::May(P::ReadRules) => rules::http_job::list;
    PUT "/api/v1/shops/{shop}/jobs/{job}/rules/{rule}" Access::May(P::WriteWork) => rules::http_job::answer;
    DELETE "/api/v1/shops/{shop}/jobs/{job}/rules/{rule}" Access::May(P::WriteWork) => rules::http_job::remove;
    GET "/api/v1/shops/{shop}/vehicles" Access::May(P::ReadRecord) => vehicles::http::list;
    POST "/api/v1/shops/{shop}/vehicles" Access::May(P::WriteWork) => vehicles::http::add;
    GET "/api/v1/shops/{shop}/vehicles/{vehicle}" Access::May(P::ReadRecord) => vehicles::http::read;
    GET "/api/v1/shops/{shop}/orders" Access::May(P::ReadRecord) => orders::http::list;
    POST "/api/v1/shops/{shop}/orders" Access::May(P::WriteWork) => orders::http::open;
    POST "/api/v1/shops/{shop}/orders/batch" Access::May(P::WriteWork) => orders::http_batch::open;
    GET "/api/v1/shops/{shop}/orders/{order}" Access::May(P::ReadRecord) => orders::http::read;
    PATCH "/api/v1/shops/{shop}/orders/{order}" Access::May(P::WriteFront) => orders::http::change;
    POST "/api/v1/shops/{shop}/orders/{order}/jobs" Access::May(P::WriteWork) => orders::http::add_job;
    POST "/api/v1/shops/{shop}/orders/{order}/closure" Access::May(P::WriteWork) => orders::http::close;
    GET "/api/v1/shops/{shop}/jobs/{job}" Access::May(P::ReadRecord) => jobs::http::read;
    PATCH "/api/v1/shops/{shop}/jobs/{job}" Access::May(P::WriteWork) => jobs::http::change;
    POST "/api/v1/shops/{shop}/jobs/{job}/closure" Access::May(P::WriteWork) => jobs::http::close;
    POST "/api/v1/shops/{shop}/jobs/{job}/checks" Access::May(P::WriteWork) => jobs::http_work::add_check;
    DELETE "/api/v1/shops/{shop}/jobs/{job}/checks/{id}" Access::May(P::WriteWork) => jobs::http_work::remove_check;
    POST "/api/v1/shops/{shop}/jobs/{job}/parts" Access::May(P::WriteWork) => jobs::http_work::add_part_use;
    DELETE "/api/v1/shops/{shop}/jobs/{job}/parts/{id}" Access::May(P::WriteWork) => jobs::http_work::remove_part_use;
    POST "/api/v1/shops/{shop}/jobs/{job}/operations" Access::May(P::WriteWork) => jobs::http_work::add_operation;
    DELETE "/api/v1/shops/{shop}/jobs/{job}/operations/{id}" Access::May(P::WriteWork) => jobs::http_work::remove_operation;
    POST "/api/v1/shops/{shop}/jobs/{job}/labor" Access::May(P::WriteWork) => jobs::http_work::start_labor;
    POST "/api/v1/shops/{shop}/jobs/{job}/labor/{id}/stop" Access::May(P::WriteWork) => jobs::http_work::stop_labor;
    POST "/api/v1/shops/{shop}/jobs/{job}/proofs" Access::May(P::WriteWork) => jobs::http_work::add_proof;
    POST "/api/v1/shops/{shop}/jobs/{job}/reopening" Access::May(P::WriteWork) => jobs::http::reopen;
    POST "/api/v1/shops/{shop}/jobs/{job}/people" Access::May(P::WriteWork) => jobs::http_people::assign;
    DELETE "/api/v1/shops/{shop}/jobs/{job}/people/{person}" Access::May(P::WriteWork) => jobs::http_people::unassign;
    POST "/api/v1/shops/{shop}/jobs/{job}/waits" Access::May(P::WriteWork) => jobs::http_people::start_wait;
    POST "/api/v1/shops/{shop}/jobs/{job}/waits/{id}/end" Access::May(P::WriteWork) => jobs::http_people::end_wait;
    POST "/api/v1/shops/{shop}/jobs/{job}/sublets" Access::May(P::WriteWork) => jobs::http_sublets::add;
    PATCH "/api/v1/shops/{shop}/jobs/{job}/sublets/{id}" Access::May(P::WriteWork) => jobs::http_sublets::change;
    DELETE "/api/v1/shops/{shop}/jobs/{job}/sublets/{id}" Access::May(P::WriteWork) => jobs::http_sublets::remove;
    PATCH "/api/v1/shops/{shop}/jobs/{job}/checks/{id}" Access::May(P::WriteWork) => jobs::http_change::change_check;
    PATCH "/api/v1/shops/{shop}/jobs/{job}/parts/{id}" Access::May(P::WriteWork) => jobs::http_change::change_part_use;
    PATCH "/api/v1/shops/{shop}/jobs/{job}/operations/{id}" Access::May(P::WriteWork) => jobs::http_change::change_operation;
    PATCH "/api/v1/shops/{shop}/jobs/{job}/labor/{id}" Access::May(P::WriteWork) => jobs::http_labor::change;
    DELETE "/api/v1/shops/{shop}/jobs/{job}/labor/{id}" Access::May(P::WriteWork) => jobs::http_labor::remove;
    GET "/api/v1/shops/{shop}/attendance" Access::May(P::ReadOwnLabor) => attendance::http::list;
    PUT "/api/v1/shops/{shop}/attendance/{person}/{day}" Access::May(P::WriteAttendance) => attendance::http::set;
    DELETE "/api/v1/shops/{shop}/attendance/{person}/{day}" Access::May(P::WriteAttendance) => attendance::http::remove;
    GET "/api/v1/shops/{shop}/comebacks" Access::May(P::ReadRecord) => comebacks::http::list;
    POST "/api/v1/shops/{shop}/comebacks" Access::May(P::LinkComeback) => comebacks::http::link;
    GET "/api/v1/shops/{shop}/comebacks/{comeback}" Access::May(P::ReadRecord) => comebacks::http::read;
    POST "/api/v1/shops/{shop}/comebacks/{comeback}/decision" Access::May(P::DecideComeback) => comebacks::http::decide;
    PATCH "/api/v1/shops/{shop}/vehicles/{vehicle}" Access::May(P::WriteWork) => vehicles::http::change;
    POST "/api/v1/shops/{shop}/vehicles/{vehicle}/odometer-resets" Access::May(P::WriteWork) => vehicles::http::reset_odometer;
    GET "/api/v1/shops/{shop}/reading-lists" Access::May(P::ReadRules) => preparation::http_lists::list;
    POST "/api/v1/shops/{shop}/reading-lists" Access::May(P::WriteRules) => preparation::http_lists::make;
    GET "/api/v1/shops/{shop}/reading-lists/{list}" Access::May(P::ReadRules) => preparation::http_lists::read;
    POST "/api/v1/shops/{shop}/reading-lists/{list}/versions" Access::May(P::WriteRules) => preparation::http_lists::change;
    POST "/api/v1/shops/{shop}/reading-lists/{list}/withdrawal" Access::May(P::WriteRules) => preparation::http_lists::withdraw;
    GET "/api/v1/shops/{shop}/reading-sheets" Access::May(P::ReadRecord) => preparation::http_sheets::list;
    POST "/api/v1/shops/{shop}/reading-sheets" Access::May(P::WriteWork) => preparation::http_sheets::begin;
    GET "/api/v1/shops/{shop}/reading-sheets/{sheet}" Access::May(P::ReadRecord) => preparation::http_sheets::read;
    POST "/api/v1/shops/{shop}/reading-sheets/{sheet}/readings" Access::May(P::WriteWork) => preparation::http_sheets::take;
    POST "/api/v1/shops/{shop}/reading-sheets/{sheet}/pass" Access::May(P::WriteWork) => preparation::http_sheets::pass;
    GET "/api/v1/shops/{shop}/stock" Access::May(P::ReadRecord) => preparation::http_stock::list;
    POST "/api/v1/shops/{shop}/stock" Access::May(P::WriteWork) => preparation::http_stock::add;
    POST "/api/v1/shops/{shop}/stock/{stock}/departure" Access::May(P::WriteWork) => preparation::http_stock::leave;
    GET "/api/v1/shops/{shop}/reports/hand-over" Access::May(P::ReadAdvice) => reports::http::hand_over;
    POST "/api/v1/shops/{shop}/orders/{order}/authorizations" Access::May(P::WriteFront) => orders::http::authorize;
    POST "/api/v1/shops/{shop}/orders/{order}/void" Access::May(P::WriteFront) => orders::http::void;
    POST "/api/v1/shops/{shop}/jobs/{job}/outside-return" Access::May(P::LinkComeback) => comebacks::http::tell_outside;
    DELETE "/api/v1/shops/{shop}/jobs/{job}/outside-return" Access::May(P::DecideComeback) => comebacks::http::withdraw_outside;
    POST "/api/v1/shops/{shop}/jobs/{job}/pay-backs" Access::May(P::DecideComeback) => comebacks::http::add_pay_back;
    DELETE "/api/v1/shops/{shop}/jobs/{job}/pay-backs/{id}" Access::May(P::DecideComeback) => comebacks::http::remove_pay_back;
    GET "/api/v1/shops/{shop}/follow-ups/due" Access::May(P::WriteFront) => followups::http::due;
    GET "/api/v1/shops/{shop}/follow-ups/summary" Access::May(P::WriteFront) => followups::http::summary;
    GET "/api/v1/shops/{shop}/follow-ups" Access::May(P::ReadRecord) => followups::http::list;
    POST "/api/v1/shops/{shop}/jobs/{job}/follow-ups" Access::May(P::LinkComeback) => followups::http::add;
    DELETE "/api/v1/shops/{shop}/jobs/{job}/follow-ups/{id}" Access::May(P::LinkComeback) => followups::http::remove;
    GET "/api/v1/shops/{shop}/comebacks/{comeback}/enquiry" Access::May(P::ReadRecord) => enquiries::http::read;
    POST "/api/v1/shops/{shop}/comebacks/{comeback}/enquiry" Access::May(P::DecideComeback) => enquiries::http::begin;
    PATCH "/api/v1/shops/{shop}/comebacks/{comeback}/enquiry" Access::May(P::DecideComeback) => enquiries::http::change;
    PUT "/api/v1/shops/{shop}/comebacks/{comeback}/enquiry/statement" Access::May(P::WriteWork) => enquiries::http::say;
    POST "/api/v1/shops/{shop}/comebacks/{comeback}/enquiry/closure" Access::May(P::DecideComeback) => enquiries::http::close;
    POST "/api/v1/shops/{shop}/comebacks/{comeback}/enquiry/reopening" Access::May(P::DecideComeback) => enquiries::http::reopen;
    GET "/api/v1/shops/{shop}/enquiries/trend" Access::May(P::ReadRules) => enquiries::http::trend;
    GET "/api/v1/shops/{shop}/actions" Access::May(P::ReadRules) => enquiries::http_action::list;
    POST "/api/v1/shops/{shop}/actions" Access::May(P::WriteRules) => enquiries::http_action::add;
    GET "/api/v1/shops/{shop}/actions/{action}" Access::May(P::ReadRules) => enquiries::http_action::read;
    PATCH "/api/v1/shops/{shop}/actions/{action}" Access::May(P::WriteRules) => enquiries::http_action::change;
    POST "/api/v1/shops/{shop}/actions/{action}/ending" Access::May(P::WriteRules) => enquiries::http_action::end;
    POST "/api/v1/shops/{shop}/actions/{action}/reopening" Access::May(P::WriteRules) => enquiries::http_action::reopen;
    POST "/api/v1/shops/{shop}/actions/{action}/verification" Access::May(P::WriteRules) => enquiries::http_action::verify;
    GET "/api/v1/shops/{shop}/reports/weekly" Access::May(P::ReadReports) => reports::http::weekly;
    GET "/api/v1/shops/{shop}/reports/comebacks" Access::May(P::ReadReports) => reports::http::comebacks;
    GET "/api/v1/shops/{shop}/reports/reuse" Access::May(P::ReadAdvice) => reports::http::reuse;
    GET "/api/v1/shops/{shop}/reports/paths" Access::May(P::ReadAdvice) => reports::http::paths;
    GET "/api/v1/shops/{shop}/reports/labor" Access::May(P::ReadOwnLabor) => reports::http::labor;
    GET "/api/v1/shops/{shop}/reports/compare" Access::May(P::ReadOwnLabor) => reports::http::compare;
    GET "/api/v1/shops/{shop}/reports/checks" Access::May(P::ReadAdvice) => reports::http::checks;
    GET "/api/v1/shops/{shop}/reports/repeats" Access::May(P::ReadReports) => reports::http::repeats;
    GET "/api/v1/shops/{shop}/reports/pattern" Access::May(P::ReadReports) => reports::http::pattern;
    GET "/api/v1/shops/{shop}/reports/bench" Access::May(P::ReadAdvice) => reports::http::bench;
    GET "/api/v1/shops/{shop}/reports/effect" Access::May(P::ReadReports) => reports::http::effect;
    GET "/api/v1/shops/{shop}/reports/warnings" Access::May(P::ReadReports) => reports::http::warnings;
    GET "/api/v1/shops/{shop}/reports/estimate" Access::May(P::ReadAdvice) => reports::http::estimate;
    GET "/api/v1/shops/{shop}/warning-silences" Access::May(P::ReadReports) => warnings::http::list;
    POST "/api/v1/shops/{shop}/warning-silences" Access::May(P::WriteRules) => warnings::http::add;
    POST "/api/v1/shops/{shop}/warning-silences/{silence}/end" Access::May(P::WriteRules) => warnings::http::end;
    GET "/api/v1/shops/{shop}/part-policies" Access::May(P::ReadAdvice) => shops::http_parts::list;
    GET "/api/v1/shops/{shop}/part-policies/{part}" Access::May(P::ReadAdvice) => shops::http_parts::read;
    PUT "/api/v1/shops/{shop}/part-policies/{part}" Access::May(P::WriteRules) => shops::http_parts::set;
    DELETE "/api/v1/shops/{shop}/part-policies/{part}" Access::May(P::WriteRules) => shops::http_parts::remove;
    GET "/api/v1/shops/{shop}/reports/jobs" Access::May(P::ReadRecord) => reports::http::jobs;

    GET "/" Access::SignedIn => system::home;
    GET "/sign-in" Access::Public => auth::page::form;
    POST "/sign-in" Access::Public => auth::page::sign_in;
    POST "/sign-out" Access::SignedIn => auth::page::sign_out;
    GET "/first-account" Access::Public => auth::page_first::form;
    POST "/first-account" Access::Public => auth::page_first::create;
    GET "/tablet" Access::Public => auth::page_tablet::door;
    POST "/tablet" Access::Public => auth::page_tablet::come_in;
    GET "/me" Access::InPerson => auth::page_own::show;
    POST "/me/password" Access::InPerson => auth::page_own::password;
    POST "/me/pin" Access::InPerson => auth::page_own::pin;
    POST "/me/tokens" Access::InPerson => auth::page_own::make_token;
    POST "/me/tokens/{token}/removal" Access::InPerson => auth::page_own::revoke_token;
    POST "/me/sessions/others" Access::InPerson => auth::page_own::end_others;
    POST "/me/sessions/{session}/removal" Access::InPerson => auth::page_own::end_session;
    GET "/group/labor" Access::May(P::ReadReports) => reports::page_group::labor;
    GET "/house" Access::May(P::ReadHouse) => house::page::show;
    POST "/house/shops" Access::May(P::WriteShops) => house::page::add_shop;
    GET "/house/access" Access::May(P::KeepTokens) => auth::page_access::list;
    POST "/house/tokens/{token}/removal" Access::May(P::KeepTokens) => auth::page_access::revoke;
    POST "/house/sessions/{session}/removal" Access::May(P::KeepTokens) => auth::page_access::end;
    GET "/shops/{shop}/today" Access::May(P::ReadRecord) => orders::page_today::today;
    GET "/shops/{shop}/write-up" Access::May(P::WriteWork) => orders::page_write_up::form;
    POST "/shops/{shop}/write-up" Access::May(P::WriteWork) => orders::page_write_up::write_up;
    GET "/shops/{shop}/find" Access::May(P::ReadRecord) => find::page::find;
    GET "/shops/{shop}/orders/{order}" Access::May(P::ReadRecord) => orders::page_order::order;
    GET "/shops/{shop}/orders/{order}/paper" Access::May(P::ReadRecord) => orders::page_paper::paper;
    POST "/shops/{shop}/orders/{order}/jobs" Access::May(P::WriteWork) => orders::page_forms::add_job;
    POST "/shops/{shop}/orders/{order}/front" Access::May(P::WriteFront) => orders::page_front::change;
    POST "/shops/{shop}/orders/{order}/closure" Access::May(P::WriteWork) => orders::page_forms::close;
    GET "/shops/{shop}/jobs/{job}" Access::May(P::ReadRecord) => jobs::page::job;
    POST "/shops/{shop}/jobs/{job}/plan" Access::May(P::WriteWork) => jobs::page_forms::plan;
    POST "/shops/{shop}/jobs/{job}/checks" Access::May(P::WriteWork) => jobs::page_forms::add_check;
    POST "/shops/{shop}/jobs/{job}/checks/{id}/removal" Access::May(P::WriteWork) => jobs::page_forms::remove_check;
    POST "/shops/{shop}/jobs/{job}/parts" Access::May(P::WriteWork) => jobs::page_forms::add_part;
    POST "/shops/{shop}/jobs/{job}/parts/{id}/removal" Access::May(P::WriteWork) => jobs::page_forms::remove_part;
    POST "/shops/{shop}/jobs/{job}/operations" Access::May(P::WriteWork) => jobs::page_forms::add_operation;
    POST "/shops/{shop}/jobs/{job}/operations/{id}/removal" Access::May(P::WriteWork) => jobs::page_forms::remove_operation;
    POST "/shops/{shop}/jobs/{job}/labor" Access::May(P::WriteWork) => jobs::page_forms::start_labor;
    POST "/shops/{shop}/jobs/{job}/labor/{id}/stop" Access::May(P::WriteWork) => jobs::page_forms::stop_labor;
    POST "/shops/{shop}/jobs/{job}/proofs" Access::May(P::WriteWork) => jobs::page_forms::add_proof;
    POST "/shops/{shop}/jobs/{job}/proofs/{id}/removal" Access::May(P::WriteWork) => jobs::page_tap::remove_proof;
    POST "/shops/{shop}/jobs/{job}/checks/{id}/return" Access::May(P::WriteWork) => jobs::page_tap::return_check;
    POST "/shops/{shop}/jobs/{job}/parts/{id}/return" Access::May(P::WriteWork) => jobs::page_tap::return_part;
    POST "/shops/{shop}/jobs/{job}/operations/{id}/return" Access::May(P::WriteWork) => jobs::page_tap::return_operation;
    POST "/shops/{shop}/jobs/{job}/cause" Access::May(P::WriteWork) => jobs::page_tap::name_cause;
    POST "/shops/{shop}/jobs/{job}/closure" Access::May(P::WriteWork) => jobs::page_forms::close;
    POST "/shops/{shop}/jobs/{job}/reopening" Access::May(P::WriteWork) => jobs::page_correct::reopen;
    POST "/shops/{shop}/jobs/{job}/correction" Access::May(P::Correct) => jobs::page_correct::correct;
    POST "/shops/{shop}/jobs/{job}/people" Access::May(P::WriteWork) => jobs::page_crew::assign;
    POST "/shops/{shop}/jobs/{job}/people/{person}/removal" Access::May(P::WriteWork) => jobs::page_crew::unassign;
    POST "/shops/{shop}/jobs/{job}/waits" Access::May(P::WriteWork) => jobs::page_crew::start_wait;
    POST "/shops/{shop}/jobs/{job}/waits/{id}/end" Access::May(P::WriteWork) => jobs::page_crew::end_wait;
    POST "/shops/{shop}/jobs/{job}/sublets" Access::May(P::WriteWork) => jobs::page_crew::add_sublet;
    POST "/shops/{shop}/jobs/{job}/sublets/{id}" Access::May(P::WriteWork) => jobs::page_crew::change_sublet;
    POST "/shops/{shop}/jobs/{job}/sublets/{id}/removal" Access::May(P::WriteWork) => jobs::page_crew::remove_sublet;
    POST "/shops/{shop}/jobs/{job}/labor/{id}/times" Access::May(P::WriteWork) => jobs::page_labor::change;
    POST "/shops/{shop}/jobs/{job}/labor/{id}/removal" Access::May(P::WriteWork) => jobs::page_labor::remove;
    POST "/shops/{shop}/jobs/{job}/checks/{id}/change" Access::May(P::WriteWork) => jobs::page_lines::change_check;
    POST "/shops/{shop}/jobs/{job}/parts/{id}/change" Access::May(P::WriteWork) => jobs::page_lines::change_part;
    POST "/shops/{shop}/jobs/{job}/operations/{id}/change" Access::May(P::WriteWork) => jobs::page_lines::change_operation;
    GET "/shops/{shop}/attendance" Access::May(P::ReadAttendance) => attendance::page::week;
    POST "/shops/{shop}/attendance" Access::May(P::WriteAttendance) => attendance::page::write;
    GET "/shops/{shop}/comebacks" Access::May(P::ReadRecord) => comebacks::page::list;
    GET "/shops/{shop}/comebacks/{comeback}" Access::May(P::ReadRecord) => comebacks::page::one;
    POST "/shops/{shop}/comebacks/{comeback}/decision" Access::May(P::DecideComeback) => comebacks::page::decide;
    POST "/shops/{shop}/comebacks/{comeback}/customer" Access::May(P::LinkComeback) => comebacks::page::customer;
    POST "/shops/{shop}/orders/{order}/authorizations" Access::May(P::WriteFront) => orders::page_forms::authorize;
    POST "/shops/{shop}/orders/{order}/void" Access::May(P::WriteFront) => orders::page_forms::void;
    GET "/shops/{shop}/vehicles/{vehicle}" Access::May(P::ReadRecord) => vehicles::page::one;
    POST "/shops/{shop}/vehicles/{vehicle}/change" Access::May(P::WriteWork) => vehicles::page::change;
    POST "/shops/{shop}/vehicles/{vehicle}/odometer-resets" Access::May(P::WriteWork) => vehicles::page::reset_odometer;
    GET "/shops/{shop}/preparation" Access::May(P::ReadRecord) => preparation::page::show;
    POST "/shops/{shop}/preparation/sheets" Access::May(P::WriteWork) => preparation::page_act::begin;
    GET "/shops/{shop}/preparation/sheets/{sheet}" Access::May(P::ReadRecord) => preparation::page_sheet::one;
    POST "/shops/{shop}/preparation/sheets/{sheet}/readings" Access::May(P::WriteWork) => preparation::page_act::take;
    POST "/shops/{shop}/preparation/sheets/{sheet}/pass" Access::May(P::WriteWork) => preparation::page_act::pass;
    POST "/shops/{shop}/preparation/stock" Access::May(P::WriteWork) => preparation::page_act::add;
    POST "/shops/{shop}/preparation/stock/{stock}/departure" Access::May(P::WriteWork) => preparation::page_act::leave;
    POST "/shops/{shop}/preparation/lists" Access::May(P::WriteRules) => preparation::page_list_act::make;
    GET "/shops/{shop}/preparation/lists/{list}" Access::May(P::ReadRules) => preparation::page_list::one;
    POST "/shops/{shop}/preparation/lists/{list}/lines" Access::May(P::WriteRules) => preparation::page_list_act::change;
    POST "/shops/{shop}/preparation/lists/{list}/withdrawal" Access::May(P::WriteRules) => preparation::page_list_act::withdraw;
    GET "/shops/{shop}/hand-over-readings" Access::May(P::ReadAdvice) => reports::page_more::hand_over;
    GET "/shops/{shop}/jobs/{job}/after" Access::May(P::ReadRecord) => comebacks::page_after::job;
    POST "/shops/{shop}/jobs/{job}/outside-return" Access::May(P::LinkComeback) => comebacks::page_after::tell;
    POST "/shops/{shop}/jobs/{job}/outside-return/removal" Access::May(P::DecideComeback) => comebacks::page_after::withdraw;
    POST "/shops/{shop}/jobs/{job}/pay-backs" Access::May(P::DecideComeback) => comebacks::page_after::add_pay_back;
    POST "/shops/{shop}/jobs/{job}/pay-backs/{id}/removal" Access::May(P::DecideComeback) => comebacks::page_after::remove_pay_back;
    GET "/shops/{shop}/calls" Access::May(P::WriteFront) => followups::page::calls;
    POST "/shops/{shop}/jobs/{job}/calls" Access::May(P::LinkComeback) => followups::page::add;
    POST "/shops/{shop}/jobs/{job}/calls/{id}/removal" Access::May(P::LinkComeback) => followups::page::remove;
    GET "/shops/{shop}/comebacks/{comeback}/enquiry" Access::May(P::ReadRecord) => enquiries::page::one;
    POST "/shops/{shop}/comebacks/{comeback}/enquiry" Access::May(P::DecideComeback) => enquiries::page::save;
    POST "/shops/{shop}/comebacks/{comeback}/enquiry/statement" Access::May(P::WriteWork) => enquiries::page::say;
    POST "/shops/{shop}/comebacks/{comeback}/enquiry/actions" Access::May(P::WriteRules) => enquiries::page::agree;
    POST "/shops/{shop}/comebacks/{comeback}/enquiry/closure" Access::May(P::DecideComeback) => enquiries::page::close;
    GET "/shops/{shop}/actions" Access::May(P::ReadRules) => enquiries::page_action::actions;
    POST "/shops/{shop}/actions" Access::May(P::WriteRules) => enquiries::page_action::add;
    POST "/shops/{shop}/actions/{action}/ending" Access::May(P::WriteRules) => enquiries::page_action::end;
    POST "/shops/{shop}/actions/{action}/verification" Access::May(P::WriteRules) => enquiries::page_action::verify;
    GET "/shops/{shop}/week" Access::May(P::ReadReports) => reports::page_week::week;
    POST "/shops/{shop}/week" Access::May(P::DecideComeback) => reports::page_week::decide;
    GET "/shops/{shop}/warnings" Access::May(P::ReadReports) => warnings::page::warnings;
    POST "/shops/{shop}/warnings" Access::May(P::WriteRules) => warnings::page::silence;
    POST "/shops/{shop}/warnings/{silence}/end" Access::May(P::WriteRules) => warnings::page::end;
    GET "/shops/{shop}/bench" Access::May(P::ReadAdvice) => bench::page::in_hand;
    GET "/shops/{shop}/parts-times" Access::May(P::ReadAdvice) => shops::page_parts::list;
    POST "/shops/{shop}/parts-times" Access::May(P::WriteRules) => shops::page_parts::write;
    POST "/shops/{shop}/parts-times/removal" Access::May(P::WriteRules) => shops::page_parts::remove;
    GET "/shops/{shop}/comeback-shares" Access::May(P::ReadReports) => reports::page::comebacks;
    GET "/shops/{shop}/reuse" Access::May(P::ReadAdvice) => reports::page::reuse;
    GET "/shops/{shop}/paths" Access::May(P::ReadAdvice) => reports::page::paths;
    GET "/shops/{shop}/compare" Access::May(P::ReadOwnLabor) => reports::page_more::compare;
    GET "/shops/{shop}/check-order" Access::May(P::ReadAdvice) => reports::page_checks::checks;
    GET "/shops/{shop}/plans" Access::May(P::ReadRules) => plans::page_list::list;
    POST "/shops/{shop}/plans" Access::May(P::WriteRules) => plans::page_act::make;
    GET "/shops/{shop}/plans/new" Access::May(P::WriteRules) => plans::page::new;
    GET "/shops/{shop}/plans/starting/{symptom}" Access::May(P::ReadRules) => plans::page_list::offered;
    GET "/shops/{shop}/plans/{plan}" Access::May(P::ReadRules) => plans::page::plan;
    POST "/shops/{shop}/plans/{plan}/versions" Access::May(P::WriteRules) => plans::page_act::revise;
    POST "/shops/{shop}/plans/{plan}/proposals" Access::May(P::WriteRules) => plans::page_act::propose;
    POST "/shops/{shop}/plans/{plan}/decision" Access::May(P::WriteRules) => plans::page_act::decide;
    POST "/shops/{shop}/plans/{plan}/withdrawal" Access::May(P::WriteRules) => plans::page_act::withdraw;
    GET "/shops/{shop}/repeats" Access::May(P::ReadReports) => reports::page_more::repeats;
    GET "/shops/{shop}/time-pattern" Access::May(P::ReadReports) => reports::page_more::pattern;
    GET "/shops/{shop}/bench-readings" Access::May(P::ReadAdvice) => reports::page_more::bench;
    GET "/shops/{shop}/rules" Access::May(P::ReadRules) => rules::page::list;
    POST "/shops/{shop}/rules" Access::May(P::WriteRules) => rules::page_new::take;
    GET "/shops/{shop}/rules/new" Access::May(P::WriteRules) => rules::page_new::form;
    GET "/shops/{shop}/rules/{rule}" Access::May(P::ReadRules) => rules::page_one::one;
    POST "/shops/{shop}/rules/{rule}/change" Access::May(P::WriteRules) => rules::page_act::change;
    POST "/shops/{shop}/rules/{rule}/review" Access::May(P::WriteRules) => rules::page_act::review;
    POST "/shops/{shop}/rules/{rule}/withdrawal" Access::May(P::WriteRules) => rules::page_act::withdraw;
    POST "/shops/{shop}/jobs/{job}/rules/{rule}" Access::May(P::WriteWork) => jobs::page_rules::answer;
    POST "/shops/{shop}/jobs/{job}/rules/{rule}/removal" Access::May(P::WriteWork) => jobs::page_rules::take_back;
    GET "/shops/{shop}/people" Access::May(P::ReadPeople) => people::page::list;
    POST "/shops/{shop}/people" Access::May(P::WritePeople) => people::page::add;
    GET "/shops/{shop}/people/{person}" Access::May(P::ReadPeople) => people::page_account::one;
    POST "/shops/{shop}/people/{person}" Access::May(P::WritePeople) => people::page_account::change;
    POST "/shops/{shop}/people/{person}/password" Access::May(P::WritePeople) => people::page_account::password;
    POST "/shops/{shop}/people/{person}/pin" Access::May(P::WritePeople) => people::page_account::pin;
    POST "/shops/{shop}/people/{person}/active" Access::May(P::WritePeople) => people::page_account::active;
    POST "/shops/{shop}/people/{person}/roles" Access::May(P::WritePeople) => people::page_account::grant;
    POST "/shops/{shop}/people/{person}/roles/{role}/removal" Access::May(P::WritePeople) => people::page_account::take;
    POST "/shops/{shop}/people/{person}/sessions/removal" Access::May(P::WritePeople) => people::page_account::end_sessions;
    GET "/shops/{shop}/settings" Access::May(P::WriteShops) => shops::page::settings;
    POST "/shops/{shop}/settings" Access::May(P::WriteShops) => shops::page::change;
    GET "/shops/{shop}/tablets" Access::May(P::ReadPeople) => auth::page_tablet::list;
    POST "/shops/{shop}/tablets" Access::May(P::WritePeople) => auth::page_tablet::enroll;
    POST "/shops/{shop}/tablets/{tablet}/removal" Access::May(P::WritePeople) => auth::page_tablet::revoke;
    GET "/shops/{shop}/codes" Access::May(P::ReadCodes) => codes::page::list;
    POST "/shops/{shop}/codes" Access::May(P::WriteCodes) => codes::page_forms::add;
    POST "/shops/{shop}/codes/change" Access::May(P::WriteCodes) => codes::page_forms::change;
    POST "/shops/{shop}/codes/retirement" Access::May(P::WriteCodes) => codes::page_forms::retire;
    POST "/shops/{shop}/codes/merge" Access::May(P::WriteCodes) => codes::page_forms::merge;
    GET "/shops/{shop}/history" Access::May(P::ReadAudit) => changes::page::history;
    GET "/shops/{shop}/labor" Access::May(P::ReadOwnLabor) => reports::page_labor::labor;
    GET "/shops/{shop}/closed-jobs" Access::May(P::ReadRecord) => reports::page_jobs::jobs;
}
