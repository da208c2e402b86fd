//! Texts that break programs: a published list, and more of our own.

use rand::Rng;
use rand_chacha::ChaCha8Rng;

const PUBLISHED: &str = include_str!("../../fixtures/naughty/strings.json");

/// What the list has not: order of writing, signs of several parts, controls, length.
const OWN: [&str; 30] = [
    "مرحبا Bay 3",
    "שלום (4)",
    "\u{202e}drow",
    "\u{2067}abc\u{2069}",
    "می\u{200c}خواهم",
    "👩\u{200d}🔧",
    "🇺🇸🏴\u{e0067}\u{e0062}\u{e007f}",
    "e\u{301}",
    "\u{1e9b}\u{323}",
    "\u{212b}ngstro\u{308}m",
    "\u{1100}\u{1161}\u{11a8}",
    "𝔘𝔫𝔦𝔠𝔬𝔡𝔢",
    "𠜎𠜱𠝹",
    "a\u{0}b",
    "\u{0}",
    "bell\u{7}",
    "escape\u{1b}[31m",
    "del\u{7f}",
    "c1\u{85}",
    "\u{fdd0}",
    "\u{ffff}",
    "\u{10ffff}",
    "\u{fffd}",
    "line\nbreak",
    "tab\tstop",
    "carriage\r\nreturn",
    "ﬁ ½ ① ﷺ",
    "İıſK",
    "a\u{315}\u{300}\u{5ae}\u{301}b",
    "plain words",
];

/// Every text.
pub fn naughty() -> Vec<String> {
    let mut texts: Vec<String> = serde_json::from_str(PUBLISHED).unwrap();
    assert_eq!(texts.len(), 485);
    texts.extend(OWN.map(str::to_owned));
    texts.push("x".repeat(64 * 1024));
    texts.push("🔧".repeat(16 * 1024));
    texts.push("e\u{301}".repeat(150));
    texts
}

/// A few of them, another few every time; all where there are no more.
pub fn some<'a, T>(dice: &mut ChaCha8Rng, of: &'a [T], count: usize) -> Vec<&'a T> {
    if count >= of.len() {
        return of.iter().collect();
    }
    (0..count).map(|_| &of[dice.random_range(0..of.len())]).collect()
}
