//! What an eye and a thumb would find wrong with a page.

use serde_json::Value;

use crate::axe;
use crate::browser::Browser;

/// A screen that pages must fit on.
pub const NARROW: u32 = 360;

/// Buttons and fields that are shown, too small for a thumb: those of a label
/// count with it.
const SMALL: &str = "const shown = (it) => it.checkVisibility({ visibilityProperty: true });
    const size = (it) => [it, it.closest('label'), it.id && document.querySelector(`label[for='${it.id}']`)]
        .filter((part) => part && shown(part))
        .reduce((most, part) => Math.max(most, part.getBoundingClientRect().height), 0);
    return [...document.querySelectorAll(
        'button, summary, select, textarea, input:not([type=hidden]), a.button')]
        .filter((it) => shown(it) && size(it) < 44)
        .map((it) => `${it.tagName.toLowerCase()}[${it.name || it.className}] `
            + `${(it.innerText || '').slice(0, 30)} is ${Math.round(size(it))} px high`)";

/// What sticks out to the right, where the page can be pushed sideways.
const SIDEWAYS: &str = "const most = MOST, root = document.documentElement;
    if (root.scrollWidth <= most) return [];
    const wide = [...document.querySelectorAll('body *')].filter((it) =>
        it.getBoundingClientRect().right > most + 1 && !it.closest('.scroll'));
    return [`${root.scrollWidth} px on ${most}: ` + wide.slice(0, 3).map((it) =>
        it.tagName.toLowerCase() + (it.id ? '#' + it.id : '') + '.' + it.getAttribute('class')).join(', ')]";

/// The sum of what moved after it was first painted.
const SHIFTS: &str = "new Promise((done) => {
    let sum = 0;
    new PerformanceObserver((list) => list.getEntries().forEach((it) => sum += it.value))
        .observe({ type: 'layout-shift', buffered: true });
    setTimeout(() => done(sum), 60);
})";

fn lines(value: &Value) -> Vec<String> {
    value.as_array().unwrap().iter().map(|line| line.as_str().unwrap().to_owned()).collect()
}

/// What is wrong with how the page came: refused, complaints of the console,
/// something moved.
pub fn arrival(browser: &Browser) -> Vec<String> {
    let status = "return performance.getEntriesByType('navigation')[0].responseStatus";
    let status = browser.run(status);
    let mut wrong = browser.complaints();
    if status != 200 {
        wrong.push(format!("status {status}"));
    }
    let moved = browser.promised(SHIFTS);
    if moved != 0 {
        wrong.push(format!("moved by {moved} while it came"));
    }
    wrong
}

/// All that is folded is opened.
pub fn unfold(browser: &Browser) {
    browser.run("document.querySelectorAll('details').forEach((it) => { it.open = true; })");
}

/// What is wrong for a thumb on a small screen.
pub fn on_a_phone(browser: &Browser) -> Vec<String> {
    browser.size(NARROW, 740);
    [
        lines(&browser.run(&SIDEWAYS.replace("MOST", &NARROW.to_string()))),
        lines(&browser.run(SMALL)),
    ]
    .concat()
}

/// What is wrong for eyes and readers, at a width, by day or night.
pub fn by_rules(browser: &Browser, width: u32, dark: bool) -> Vec<String> {
    browser.size(width, 900);
    browser.dark(dark);
    axe::findings(browser, dark)
}
