//! Pages that say why nothing was written hold the same rules.

use crate::browser::Browser;
use crate::look;
use crate::stage::{PASSWORD, SHOP, Stage, Things, in_a_browser, name_of};

in_a_browser!(what_is_refused_is_said_well);

/// Sends a form with nothing in it, past what the browser would hold back.
fn send_empty(browser: &Browser, address: &str, button: &str) {
    browser.size(390, 844);
    browser.go(address);
    look::unfold(browser);
    browser.run(
        "document.querySelectorAll('form').forEach((it) => { it.noValidate = true; });
        document.querySelectorAll('form input[name=name]').forEach((it) => { it.value = ''; });",
    );
    browser.tap(button);
    browser.until("why it is refused", || (browser.count(".refused") > 0).then_some(()));
}

fn what_is_refused_is_said_well(stage: &Stage) {
    let things = Things::make(stage);
    let job = format!("jobs/{}", things.jobs[0]);
    let forms = [
        ("adviser", "write-up", "#write-up button[name=then][value=order]"),
        ("technician", &job, "#close-form [data-step=close]"),
        ("manager", "week", ".proposal[open] form.decide button[value=yes]"),
        ("administrator", "settings", "form#settings button.main"),
        ("administrator", "people", "form[action$='/people'] button.main"),
    ];
    let browser = stage.browser();
    // Without script the answer is a page of its own.
    browser.script(false);
    let mut wrong = Vec::new();
    for (role, page, button) in forms {
        browser.sign_in(name_of(role), PASSWORD);
        send_empty(&browser, &format!("/shops/{SHOP}/{page}"), button);
        look::unfold(&browser);
        // The rules run as script.
        browser.script(true);
        let found = [
            look::on_a_phone(&browser),
            look::by_rules(&browser, 390, false),
            look::by_rules(&browser, 1280, true),
        ];
        wrong.extend(found.concat().into_iter().map(|line| format!("{page}: {line}")));
        browser.dark(false);
        browser.script(false);
    }
    browser.go("/sign-in");
    browser.type_in("[name=sign_in_name]", "nobody");
    browser.type_in("[name=password]", "of all these four words");
    browser.tap("main form button");
    browser.until("why it is refused", || (browser.count(".refused") > 0).then_some(()));
    browser.script(true);
    wrong.extend(look::by_rules(&browser, 390, false));
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
