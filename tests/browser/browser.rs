//! Chromium, driven by WebDriver: a person's eyes and fingers.

use std::cell::Cell;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::support::Client;
use crate::support::folder::Folder;

/// As WebDriver names the reference to an element.
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";
/// How long anything may take to be seen.
const PATIENCE: Duration = Duration::from_secs(15);

/// Pixels of a picture's height: Chromium refuses much longer ones.
const LONGEST: u64 = 8_000;

const ARGUMENTS: [&str; 9] = [
    "--headless=new",
    // Tests may run as root, for whom Chromium has no sandbox.
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
];

/// A browser with nothing kept from before, and one page.
pub struct Browser {
    driver: Child,
    client: Client,
    /// The driver's address of it.
    session: String,
    /// Of the server that addresses lie at.
    base: String,
    _profile: Folder,
    /// Whether pages run script here.
    scripted: Cell<bool>,
    /// Taps made: a choice from a list is two, a field typed into is one.
    pub taps: Cell<u32>,
}

/// The driver and the port it listens on.
fn start_driver() -> std::io::Result<(Child, String)> {
    let mut command = Command::new("chromedriver");
    command.arg("--port=0").stdin(Stdio::null()).stderr(Stdio::null());
    let mut child = command.stdout(Stdio::piped()).spawn()?;
    let said = BufReader::new(child.stdout.take().expect("piped above"));
    let port = said.lines().map_while(Result::ok).find_map(|line| {
        let (_, port) = line.split_once("started successfully on port ")?;
        Some(port.trim_end_matches('.').to_owned())
    });
    match port {
        Some(port) => Ok((child, port)),
        None => {
            drop(child.kill());
            Err(std::io::Error::other("the driver ended before it listened"))
        }
    }
}

/// Whether there is a browser; the test says that it is skipped, and fails
/// where everything is to be tested.
#[expect(clippy::disallowed_methods, reason = "whether all is tested, only the environment knows")]
pub fn there_is_one() -> bool {
    match Command::new("chromedriver").arg("--version").output() {
        Ok(_) => true,
        Err(error) => {
            assert!(std::env::var("CI").is_err(), "no chromedriver: {error}");
            eprintln!("skipped: no chromedriver: {error}");
            false
        }
    }
}

impl Browser {
    pub fn open(base: &str) -> Self {
        let (driver, port) = start_driver().unwrap();
        let profile = Folder::new();
        let mut arguments: Vec<String> = ARGUMENTS.map(str::to_owned).to_vec();
        arguments.push(format!("--user-data-dir={}", profile.path().display()));
        let wanted = json!({ "capabilities": { "alwaysMatch": {
            "goog:chromeOptions": { "args": arguments },
            "goog:loggingPrefs": { "browser": "ALL" },
        } } });
        let client = Client::new(&format!("http://127.0.0.1:{port}"));
        let answer = client.call("POST", "/session").json(&wanted).send().expect(200).json();
        let session = format!("/session/{}", answer["value"]["sessionId"].as_str().unwrap());
        let client = client.within(session.clone());
        let (base, scripted, taps) = (base.to_owned(), Cell::new(true), Cell::new(0));
        let browser = Self { driver, client, session, base, _profile: profile, scripted, taps };
        browser.size(1280, 900);
        browser
    }

    /// A command; the error's kind where the driver refuses it.
    fn try_ask(&self, path: &str, body: &Value) -> Result<Value, String> {
        let answer = self.client.call("POST", path).json(body).send();
        let value = answer.json()["value"].take();
        match answer.status {
            200 => Ok(value),
            _ => Err(format!("{}: {}", value["error"], value["message"])),
        }
    }

    #[track_caller]
    fn ask(&self, path: &str, body: &Value) -> Value {
        self.try_ask(path, body).unwrap_or_else(|error| panic!("{path} {body}: {error}"))
    }

    /// A command of Chromium's own protocol.
    #[track_caller]
    pub fn command(&self, name: &str, parameters: Value) -> Value {
        self.ask("goog/cdp/execute", &json!({ "cmd": name, "params": parameters }))
    }

    /// The page is as wide and high as on such a screen.
    pub fn size(&self, width: u32, height: u32) {
        let screen = json!({
            "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600,
        });
        self.command("Emulation.setDeviceMetricsOverride", screen);
    }

    pub fn dark(&self, dark: bool) {
        let value = if dark { "dark" } else { "light" };
        let feature = json!({ "features": [{ "name": "prefers-color-scheme", "value": value }] });
        self.command("Emulation.setEmulatedMedia", feature);
    }

    /// Whether pages may run script.
    pub fn script(&self, on: bool) {
        self.command("Emulation.setScriptExecutionDisabled", json!({ "value": !on }));
        self.scripted.set(on);
    }

    /// Takes the network away, or gives it back.
    pub fn network(&self, there: bool) {
        self.command("Network.enable", json!({}));
        let conditions = json!({
            "offline": !there, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1,
        });
        self.command("Network.emulateNetworkConditions", conditions);
    }

    #[track_caller]
    pub fn go(&self, address: &str) {
        let url = format!("{}{address}", self.base);
        self.ask("url", &json!({ "url": url }));
    }

    /// Opens a file of this machine.
    #[track_caller]
    pub fn open_file(&self, file: &std::path::Path) {
        self.ask("url", &json!({ "url": format!("file://{}", file.display()) }));
    }

    /// Where the page is: its address from the host on.
    pub fn place(&self) -> String {
        let url = self.run("return location.href");
        url.as_str().unwrap().trim_start_matches(&self.base).to_owned()
    }

    /// What a function body answers on the page.
    #[track_caller]
    pub fn run(&self, body: &str) -> Value {
        self.ask("execute/sync", &json!({ "script": body, "args": [] }))
    }

    /// What a promise on the page comes to.
    #[track_caller]
    pub fn promised(&self, expression: &str) -> Value {
        let parameters =
            json!({ "expression": expression, "awaitPromise": true, "returnByValue": true });
        let mut answer = self.command("Runtime.evaluate", parameters);
        assert!(answer["exceptionDetails"].is_null(), "{answer}");
        answer["result"]["value"].take()
    }

    /// How the text begins that is seen in the page's main part.
    pub fn words(&self) -> String {
        let main = "return (document.querySelector('main') || document.body).innerText";
        self.run(main).as_str().unwrap_or("").chars().take(2_000).collect()
    }

    /// Warnings and errors of the console since the last look, with what the
    /// content policy held back.
    pub fn complaints(&self) -> Vec<String> {
        let log = self.ask("se/log", &json!({ "type": "browser" }));
        let entries = log.as_array().unwrap().iter();
        entries
            .filter(|entry| ["WARNING", "SEVERE"].contains(&entry["level"].as_str().unwrap()))
            .map(|entry| entry["message"].as_str().unwrap().to_owned())
            .collect()
    }

    /// Looks again and again until it is there.
    #[track_caller]
    pub fn until<T>(&self, what: &str, look: impl Fn() -> Option<T>) -> T {
        let until = Instant::now() + PATIENCE;
        loop {
            if let Some(found) = look() {
                return found;
            }
            if Instant::now() > until {
                panic!("{what} is not to be seen at {}:\n{}", self.place(), self.words());
            }
            sleep(Duration::from_millis(40));
        }
    }

    /// The number of elements that are shown.
    pub fn count(&self, css: &str) -> usize {
        let script = "return [...document.querySelectorAll(arguments[0])]
            .filter((it) => it.checkVisibility()).length";
        let answer = self.ask("execute/sync", &json!({ "script": script, "args": [css] }));
        usize::try_from(answer.as_u64().unwrap()).unwrap()
    }

    /// The first element shown that fits and has the words in it, once the page
    /// is ready and nothing is on its way.
    fn find(&self, css: &str, words: &str) -> Option<String> {
        let script = "const [css, words, scripted] = arguments;
            if (scripted && document.scripts.length && !document.documentElement.hasAttribute('data-script')) return null;
            if (document.querySelector('form[aria-busy=true]')) return null;
            const found = [...document.querySelectorAll(css)].find((it) => it.checkVisibility()
                && (it.innerText || it.value || '').includes(words));
            // As a person does, clear of what sticks to the edges.
            found?.scrollIntoView({ block: 'center', behavior: 'instant' });
            return found || null";
        let body = json!({ "script": script, "args": [css, words, self.scripted.get()] });
        let found = self.try_ask("execute/sync", &body).ok()?;
        found[ELEMENT].as_str().map(str::to_owned)
    }

    /// Acts on an element as soon as it can be acted on.
    #[track_caller]
    fn act(&self, css: &str, words: &str, verb: &str, body: &Value) {
        let mut refused = String::new();
        let until = Instant::now() + PATIENCE;
        while Instant::now() < until {
            if let Some(element) = self.find(css, words) {
                match self.try_ask(&format!("element/{element}/{verb}"), body) {
                    Ok(_) => return,
                    Err(error) => refused = error,
                }
            }
            sleep(Duration::from_millis(40));
        }
        panic!("no {verb} on {css} {words:?} at {}: {refused}\n{}", self.place(), self.words());
    }

    fn tapped(&self, times: u32) {
        self.taps.set(self.taps.get() + times);
    }

    /// Taps the first element shown that fits.
    #[track_caller]
    pub fn tap(&self, css: &str) {
        self.tap_on(css, "");
    }

    /// Taps the first that fits and has the words on it.
    #[track_caller]
    pub fn tap_on(&self, css: &str, words: &str) {
        self.act(css, words, "click", &json!({}));
        self.tapped(1);
    }

    /// Types in place of what stands in a field.
    #[track_caller]
    pub fn type_in(&self, css: &str, text: &str) {
        self.act(css, "", "clear", &json!({}));
        self.act(css, "", "value", &json!({ "text": text }));
        self.tapped(1);
    }

    /// Chooses from a list by the value.
    #[track_caller]
    pub fn choose(&self, css: &str, value: &str) {
        let option =
            json!({ "using": "css selector", "value": format!("option[value='{value}']") });
        self.until(&format!("{value} in {css}"), || {
            let list = self.find(css, "")?;
            let found = self.try_ask(&format!("element/{list}/element"), &option).ok()?;
            let element = found[ELEMENT].as_str()?;
            self.try_ask(&format!("element/{element}/click"), &json!({})).ok()
        });
        self.tapped(2);
    }

    /// The page as a picture at that width, down to where it gets too long.
    pub fn picture(&self, width: u32) -> Vec<u8> {
        let height = self.run("return document.documentElement.scrollHeight").as_u64().unwrap();
        self.size(width, u32::try_from(height.clamp(900, LONGEST)).unwrap());
        let answer = self.command("Page.captureScreenshot", json!({ "format": "png" }));
        from_base64(answer["data"].as_str().unwrap())
    }

    pub fn sign_in(&self, name: &str, password: &str) {
        self.command("Network.clearBrowserCookies", json!({}));
        self.go("/sign-in");
        self.type_in("[name=sign_in_name]", name);
        self.type_in("[name=password]", password);
        self.tap("main form button");
        self.until("the way in", || (!self.place().starts_with("/sign-in")).then_some(()));
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        drop(self.client.call("DELETE", &self.session).try_send());
        drop(self.driver.kill());
        drop(self.driver.wait());
    }
}

/// What base 64 stands for.
fn from_base64(text: &str) -> Vec<u8> {
    let value = |sign: u8| match sign {
        b'A'..=b'Z' => Some(sign - b'A'),
        b'a'..=b'z' => Some(sign - b'a' + 26),
        b'0'..=b'9' => Some(sign - b'0' + 52),
        b'+' => Some(62),
        b'/' => Some(63),
        _ => None,
    };
    let (mut bytes, mut held, mut bits) = (Vec::with_capacity(text.len() * 3 / 4), 0_u32, 0);
    for six in text.bytes().filter_map(value) {
        held = (held << 6 | u32::from(six)) & 0xff_ffff;
        bits += 6;
        if bits >= 8 {
            bits -= 8;
            bytes.push((held >> bits & 0xff) as u8);
        }
    }
    bytes
}
