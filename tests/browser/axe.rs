//! axe-core's rules, applied to the page as it stands.

use serde_json::{Value, json};

use crate::browser::Browser;

/// Others' work, as it came: see vendor/third_party.toml.
const SOURCE: &str = include_str!("vendor/axe.min.js");

const RULES: &str = "axe.run(document, {
    runOnly: { type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] },
    rules: { 'target-size': { enabled: true } },
    resultTypes: ['violations'], preload: false, iframes: false,
}).then((found) => found.violations.flatMap((rule) => rule.nodes.map((node) =>
    rule.id + ': ' + node.target.join(' ') + ': ' + node.failureSummary.split('\\n').slice(1).join('; '))))";

/// What the rules find on the page: the rule, the element, and why.
pub fn findings(browser: &Browser) -> Vec<String> {
    let there = "return typeof axe === 'object' && typeof axe.run === 'function'";
    if browser.run(there) != Value::Bool(true) {
        browser.command("Runtime.evaluate", json!({ "expression": SOURCE }));
    }
    let found = browser.promised(RULES);
    found.as_array().unwrap().iter().map(|line| line.as_str().unwrap().to_owned()).collect()
}
