//! axe-core's rules, applied to the page as it stands.

use serde_json::{Value, json};

use crate::browser::Browser;

/// Others' work, as it came: see vendor/third_party.toml.
const SOURCE: &str = include_str!("vendor/axe.min.js");

/// The levels that pages must hold, and what is usual besides.
const ALL: &str = "{
    runOnly: { type: 'tag', values:
        ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] },
    rules: { 'target-size': { enabled: true } },
}";
/// What depends on colors alone.
const COLORS: &str =
    "{ runOnly: { type: 'rule', values: ['color-contrast', 'link-in-text-block'] } }";

const RUN: &str = "axe.run(document, {
    ...CHOSEN, resultTypes: ['violations'], preload: false, iframes: false,
}).then((found) => found.violations.flatMap((rule) => rule.nodes.map((node) =>
    rule.id + ': ' + node.target.join(' ') + ': '
        + node.failureSummary.split('\\n').slice(1).join('; '))))";

/// What the rules find on the page: the rule, the element, and why. By night
/// only colors are other than by day.
pub fn findings(browser: &Browser, dark: bool) -> Vec<String> {
    let there = "return typeof axe === 'object' && typeof axe.run === 'function'";
    if browser.run(there) != Value::Bool(true) {
        browser.command("Runtime.evaluate", json!({ "expression": SOURCE }));
    }
    let found = browser.promised(&RUN.replace("CHOSEN", if dark { COLORS } else { ALL }));
    found.as_array().unwrap().iter().map(|line| line.as_str().unwrap().to_owned()).collect()
}
