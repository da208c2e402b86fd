//! What a browser or program says of itself, as short as people say it.

/// Browsers by what only they say; those that others name, too, come later.
const BROWSERS: [(&str, &str); 5] = [
    ("Firefox/", "Firefox"),
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
];

/// Systems, in the same order.
const SYSTEMS: [(&str, &str); 6] = [
    ("Windows", "Windows"),
    ("Android", "Android"),
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Mac OS", "Mac"),
    ("Linux", "Linux"),
];

/// `Chrome on Linux`; of a program, its name without version.
#[must_use]
pub fn short(agent: &str) -> String {
    let named = |names: &[(&str, &'static str)]| {
        names.iter().find(|(sign, _)| agent.contains(sign)).map(|(_, name)| *name)
    };
    match (named(&BROWSERS), named(&SYSTEMS)) {
        (Some(browser), Some(system)) => format!("{browser} on {system}"),
        (Some(browser), None) => browser.to_owned(),
        (None, _) => agent.split(['/', ' ']).next().unwrap_or(agent).to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn browsers_by_name_and_system() {
        for (agent, told) in [
            (
                "Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 (KHTML, like Gecko) \
                 Chrome/140.0.0.0 Safari/537.36",
                "Chrome on Linux",
            ),
            (
                "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) \
                 Chrome/140.0.0.0 Safari/537.36 Edg/140.0.0.0",
                "Edge on Windows",
            ),
            (
                "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) AppleWebKit/605.1.15 \
                 (KHTML, like Gecko) Version/18.0 Mobile/15E148 Safari/604.1",
                "Safari on iPhone",
            ),
            (
                "Mozilla/5.0 (Android 15; Mobile; rv:140.0) Gecko/140.0 Firefox/140.0",
                "Firefox on Android",
            ),
            ("Python-urllib/3.13", "Python-urllib"),
            ("tablet program", "tablet"),
            ("", ""),
        ] {
            assert_eq!(short(agent), told);
        }
    }
}
