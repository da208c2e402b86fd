//! Texts that would run as script, in every field that takes a text, looked at on
//! every page by every role: none runs, and the policy has nothing to hold back.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};

use crate::browser::{Browser, there_is_one};
use crate::expected::{ROLES, Who, who};
use crate::look;
use crate::routes::{self, Route};
use crate::support::client::encoded;
use crate::support::examples::Examples;
use crate::support::folder::Folder;
use crate::support::shops::PASSWORD;
use crate::support::{Place, Program, Shops};

const PUBLISHED: &str = include_str!("../../fixtures/naughty/strings.json");

/// Tags that can run script, with what runs it.
const TAGS: [&str; 18] = [
    "<script>canary()</script>",
    "<img src=x onerror=canary()>",
    "<svg onload=canary()>",
    "<svg><script>canary()</script></svg>",
    "<svg><animate onbegin=canary() attributeName=x dur=1s>",
    "<body onload=canary()>",
    "<details open ontoggle=canary()>",
    "<input autofocus onfocus=canary()>",
    "<video><source onerror=canary()></video>",
    "<iframe srcdoc='<script>parent.canary()</script>'></iframe>",
    "<a href=javascript:canary() autofocus>x</a>",
    "<form><button formaction=javascript:canary()>x</form>",
    "<math><mtext><img src=x onerror=canary()>",
    "<style>@import'x';*{background:url(x)}</style>",
    "<b style=background:url(x)>x</b>",
    "<meta http-equiv=refresh content='0;url=javascript:canary()'>",
    "<base href=//x.test/>",
    "<object data=javascript:canary()></object>",
];
/// What would end the place where the text stands.
const WAYS_OUT: [&str; 10] = [
    "",
    "\">",
    "'>",
    "</bdi>",
    "</textarea>",
    "</title>",
    "</option></select>",
    "-->",
    "</script>",
    "]]>",
];
/// Without a tag of their own: out of an attribute, out of a script, into an address,
/// into a template.
const OTHERS: [&str; 14] = [
    "\" onfocus=canary() autofocus x=\"",
    "' onmouseover=canary() x='",
    "` onmouseover=canary() x=`",
    "\" style=\"background:url(x)\" x=\"",
    "';canary();//",
    "\";canary();//",
    "\\\";canary();//",
    "${canary()}",
    "{{constructor.constructor('canary()')()}}",
    "javascript:canary()",
    "JaVaScRiPt&colon;canary()",
    "data:text/html,<script>canary()</script>",
    "&lt;img src=x onerror=canary()&gt;",
    "&#60;img src=x onerror=canary()&#62;",
];

fn payloads() -> Vec<String> {
    let published: Vec<String> = serde_json::from_str(PUBLISHED).unwrap();
    let published = published.into_iter().filter(|text| {
        let text = text.to_lowercase();
        text.contains("script") || text.contains("onerror") || text.contains("alert(")
    });
    let ours = TAGS.into_iter().flat_map(|tag| WAYS_OUT.map(|out| format!("{out}{tag}")));
    let others = OTHERS.map(str::to_owned);
    let mut all: Vec<String> = published.chain(ours).chain(others).collect();
    // Far apart, so that a field's neighbors hold other kinds.
    all.sort_by_key(|text| (text.len() * 7919) % 101);
    all
}

/// Notes whatever runs, and whatever the policy holds back, before any page's own
/// script.
const WATCH: &str = "window.seen = [];
    for (const name of ['alert', 'confirm', 'prompt', 'canary'])
        window[name] = (...told) => { window.seen.push(name + ' ' + told.join()); };
    addEventListener('securitypolicyviolation', (it) => window.seen.push(
        'policy ' + it.effectiveDirective + ' ' + it.blockedURI + ' ' + it.sample), true);";

/// What would run later, or lead elsewhere: handlers in attributes, script without a
/// file, addresses that are script, and elements that no page has.
const LOOK: &str = "const wrong = [...window.seen];
    for (const it of document.querySelectorAll('*')) {
        for (const { name, value } of it.attributes) {
            if (name.startsWith('on')) wrong.push('handler ' + name + '=' + value);
            if (/^\\s*(javascript|vbscript)/i.test(value) && ['href', 'src', 'action',
                'formaction', 'data', 'xlink:href'].includes(name)) wrong.push(name + '=' + value);
        }
    }
    const none = 'iframe, object, embed, base, marquee, video, audio, math, style, '
        + 'script:not([src]), meta[http-equiv], b[style], svg script, animate';
    for (const it of document.querySelectorAll(none)) wrong.push('element ' + it.outerHTML);
    return wrong;";

/// The hands of whoever reads: every field is entered, everything pointed at.
const TOUCH: &str =
    "for (const it of document.querySelectorAll('input, textarea, select, button, a, summary'))
        for (const name of ['mouseover', 'focus', 'focusin', 'mouseenter'])
            it.dispatchEvent(new Event(name, { bubbles: true }));";

fn wrong_on(browser: &Browser) -> Vec<String> {
    look::unfold(browser);
    browser.run(TOUCH);
    let found = browser.run(LOOK);
    let lines = found.as_array().unwrap().iter().map(|line| line.as_str().unwrap().to_owned());
    lines.chain(browser.complaints().into_iter().filter(|line| line.contains("Policy"))).collect()
}

/// The line of the table that an address belongs to.
fn route_of(address: &str) -> Option<Route> {
    let path = address.split(['?', '#']).next().unwrap();
    let fits = |route: &Route| {
        let (ours, theirs): (Vec<&str>, Vec<&str>) =
            (route.path.split('/').collect(), path.split('/').collect());
        ours.len() == theirs.len()
            && ours
                .iter()
                .zip(&theirs)
                .all(|(ours, theirs)| ours.starts_with('{') || ours == theirs)
    };
    let mut fitting: Vec<Route> = routes::all()
        .into_iter()
        .filter(|route| route.method == "GET" && !route.is_api() && fits(route))
        .collect();
    // The line with the fewest open places.
    fitting.sort_by_key(|route| route.path.matches('{').count());
    fitting.into_iter().next()
}

/// Where pages of the table lie that nothing may link to yet.
fn filled(route: &Route, told: &BTreeMap<String, String>) -> Option<String> {
    let names = [
        ("{shop}", "shop_code"),
        ("{order}", "order"),
        ("{job}", "job"),
        ("{vehicle}", "vehicle"),
        ("{comeback}", "comeback"),
        ("{person}", "new_person"),
        ("{rule}", "rule"),
        ("{plan}", "plan"),
        ("{sheet}", "reading_sheet"),
        ("{list}", "reading_list"),
    ];
    let path = names.iter().fold(route.path.clone(), |path, (place, name)| {
        told.get(*name).map_or_else(|| path.clone(), |value| path.replace(place, value))
    });
    (!path.contains('{')).then_some(path)
}

fn may(route: &Route, role: &str) -> bool {
    match who(route).expect("written down") {
        Who::Anybody | Who::SignedIn => true,
        Who::Roles(roles) => roles.contains(&role),
    }
}

/// Pages of each kind that somebody looks at: more by who sees most of them, and many
/// where the long form is asked for.
#[expect(clippy::disallowed_methods, reason = "who runs the tests says how long")]
fn most(role: &str) -> usize {
    match std::env::var("ONETRIP_FAULTS") {
        Ok(form) if form == "long" => 25,
        _ if role == "manager" => 2,
        _ => 1,
    }
}

const NO_PAGES: [&str; 7] = [
    "/livez",
    "/readyz",
    "/openapi.json",
    "/assets/{file}",
    "/sw.js",
    "/problems/{kind}",
    "/offline",
];

/// Follows every link from page to page; what is wrong by the page, and the routes
/// that were seen.
fn walk(
    browser: &Browser,
    role: &str,
    told: &BTreeMap<String, String>,
    wrong: &mut Vec<String>,
) -> (usize, BTreeSet<String>) {
    let of_table = routes::all();
    let pages = of_table.iter().filter(|route| {
        let page = route.method == "GET" && !route.is_api();
        page && may(route, role) && !NO_PAGES.contains(&route.path.as_str())
    });
    let mut waiting: Vec<String> = pages.filter_map(|route| filled(route, told)).collect();
    let mut times: BTreeMap<String, usize> = BTreeMap::new();
    let (mut seen, mut looked) = (BTreeSet::new(), 0);
    while let Some(address) = waiting.pop() {
        let Some(route) = route_of(&address) else { continue };
        let page = !NO_PAGES.contains(&route.path.as_str()) && route.path != "/sign-in";
        let count = times.entry(route.path.clone()).or_default();
        if !page || *count >= most(role) || !seen.insert(address.clone()) {
            continue;
        }
        *count += 1;
        looked += 1;
        browser.go(&address);
        wrong.extend(
            wrong_on(browser).into_iter().map(|line| format!("{address} by {role}: {line}")),
        );
        let links = browser.run(
            "return [...document.querySelectorAll('a[href]')].filter((it) => it.origin === location.origin)
                .map((it) => it.pathname + it.search)",
        );
        waiting
            .extend(links.as_array().unwrap().iter().map(|link| link.as_str().unwrap().to_owned()));
    }
    (looked, times.into_keys().collect())
}

/// The files that the command line makes for a browser: no policy is sent with them.
fn files(browser: &Browser, place: &Place, wrong: &mut Vec<String>) -> usize {
    let folder = Folder::new();
    let reports = ["weekly", "comebacks", "reuse", "paths", "labor", "checks", "repeats", "jobs"];
    for report in reports {
        let arguments = ["report", report, "--shop", "north", "--format", "html"];
        let file = folder.path().join(format!("{report}.html"));
        std::fs::write(&file, Program::new(place, &arguments).must("")).unwrap();
        browser.open_file(&file);
        let found = browser.run(&LOOK.replace("math, style,", "math,"));
        let lines = found.as_array().unwrap().iter().map(Value::to_string);
        wrong.extend(lines.map(|line| format!("{report}.html: {line}")));
    }
    reports.len()
}

/// A page that took a text for its own would be seen.
fn has_teeth(browser: &Browser) {
    browser.go("/sign-in");
    for (broken, seen) in [
        ("<img src=x onerror=canary()>", "handler"),
        ("<a href=javascript:canary()>x</a>", "href=javascript"),
        ("<style>b{}</style>", "policy style-src"),
    ] {
        let put = format!("document.querySelector('main').innerHTML = {}", json!(broken));
        browser.run(&put);
        let found = browser.until("what the page took for its own", || {
            let found = wrong_on(browser).join(", ");
            found.contains(seen).then_some(found)
        });
        assert!(found.contains(seen), "{found}");
    }
}

fn no_script_of_others_runs(place: Place) {
    let shops = Shops::open(place);
    let payloads = payloads();
    assert!(payloads.len() >= 300, "{}", payloads.len());
    let mut examples = Examples::of(&shops);
    let mut at = 0;
    let poisoned = examples.poison(&shops, || {
        at += 1;
        payloads[at % payloads.len()].clone()
    });
    let spread: BTreeSet<&String> = poisoned.iter().map(|(_, text)| text).collect();
    let manager = shops.person("manager.north");
    // The others go where one text has room for many: a complaint each.
    for chunk in payloads.chunks(50) {
        let items: Vec<Value> = chunk
            .iter()
            .map(|text| {
                json!({
                    "vehicle": { "plate": format!("XS {}", text.len()), "make": "Ashlar" },
                    "jobs": [{ "symptom": "engine.stalls", "complaint": text }],
                    "customer_name": text.chars().take(150).collect::<String>(),
                })
            })
            .collect();
        let answer = manager.post("orders/batch", &json!({ "items": items }));
        assert!(answer.status < 300, "{}", answer.body);
    }
    let mut told = examples.told.clone();
    told.insert("shop_code".to_owned(), "north".to_owned());
    let browser = Browser::open(shops.base());
    browser.command("Page.enable", json!({}));
    browser.command("Page.addScriptToEvaluateOnNewDocument", json!({ "source": WATCH }));
    has_teeth(&browser);
    let (mut wrong, mut looked, mut missed) = (Vec::new(), 0, Vec::new());
    for role in ROLES {
        let at = if ["owner", "administrator"].contains(&role) { "riverside" } else { "north" };
        browser.sign_in(&format!("{role}.{at}"), PASSWORD);
        browser.complaints();
        for text in payloads.iter().step_by(40) {
            browser.go(&format!("/shops/north/find?q={}", encoded(text)));
            wrong.extend(
                wrong_on(&browser).into_iter().map(|line| format!("find {text} by {role}: {line}")),
            );
        }
        let (count, seen) = walk(&browser, role, &told, &mut wrong);
        looked += count;
        let page = |route: &Route| {
            route.method == "GET" && !route.is_api() && !NO_PAGES.contains(&route.path.as_str())
        };
        let owed = routes::all().into_iter().filter(|route| page(route) && may(route, role));
        missed.extend(
            owed.filter(|route| !seen.contains(&route.path) && route.path != "/sign-in")
                .map(|route| format!("{} by {role}", route.path)),
        );
    }
    let files = files(&browser, &shops.place, &mut wrong);
    assert!(wrong.is_empty(), "{} things run:\n{}", wrong.len(), wrong.join("\n"));
    assert!(missed.is_empty(), "not looked at: {missed:?}");
    println!(
        "{} payloads, {} of them in {} fields; {looked} pages and {files} files: nothing ran",
        payloads.len(),
        spread.len(),
        poisoned.len()
    );
    assert!(poisoned.len() > 80 && looked > 150, "{} {looked}", poisoned.len());
}

#[test]
fn no_script_of_others_runs_on_sqlite() {
    if there_is_one() {
        no_script_of_others_runs(Place::sqlite());
    }
}
