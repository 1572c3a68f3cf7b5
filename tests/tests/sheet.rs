//! The sheet of a case in a browser: nothing is asked for and nothing fails, two pages hold it, and it can be
//! read by day, by night and in grey.
//!
//! Chromium is spoken to through a pipe, in the `DevTools` protocol; where it is not installed (Debian:
//! `apt-get install chromium`) the test says so and passes.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

use cupwright::{Console, Exit, Progress, Style, main_with};
use serde_json::{Value, json};

/// Width and height of the papers a sheet is printed on, in inches.
const PAPERS: [(&str, f64, f64); 2] = [("A4", 8.27, 11.69), ("Letter", 8.5, 11.0)];
/// WCAG 2.2, success criterion 1.4.3: text against what is behind it, at level AA.
const LEAST_CONTRAST: f64 = 4.5;

/// The least contrast of any text outside drawings, and that text.
const CONTRAST: &str = r#"(() => {
  const parts = s => s.match(/[\d.]+/g).map(Number);
  const light = ([r, g, b]) => { const f = c => { c /= 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; };
    return 0.2126 * f(r) + 0.7152 * f(g) + 0.0722 * f(b); };
  const behind = e => { for (; e; e = e.parentElement) { const c = parts(getComputedStyle(e).backgroundColor);
    if (c.length < 4 || c[3] > 0) return c; } return [255, 255, 255]; };
  let worst = [99, ''];
  for (const e of document.querySelectorAll('body *')) {
    if (e.closest('svg') || ![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) continue;
    const [a, b] = [light(parts(getComputedStyle(e).color)), light(behind(e))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < worst[0]) worst = [ratio, e.tagName + ' ' + e.textContent.slice(0, 40)];
  }
  return worst;
})()"#;

/// Elements that are broader than what holds them.
const CLIPPED: &str = r#"[...document.querySelectorAll('.table, .told, .shown, section, body')]
  .filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.className + ' ' + e.textContent.slice(0, 60))"#;

struct Browser {
    child: Child,
    asks: ChildStdin,
    told: BufReader<ChildStdout>,
    session: Option<String>,
    count: u64,
    /// What it told without being asked.
    events: Vec<Value>,
}

impl Browser {
    /// A browser with nothing open; `None` where there is none on this machine.
    fn start(profile: &Path) -> Option<Self> {
        let found = ["chromium", "chromium-browser"].into_iter().find(|name| {
            let version = Command::new(name).arg("--version").output();
            version.is_ok_and(|ran| ran.status.success())
        })?;
        // The protocol runs over the descriptors 3 and 4.
        let mut child = Command::new("sh")
            .args(["-c", "exec \"$0\" \"$@\" 3<&0 4>&1 >/dev/null 2>&1", found])
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-quic",
                "--no-first-run",
                "--disable-background-networking",
                "--disable-component-update",
                "--disable-sync",
                "--remote-debugging-pipe",
            ])
            .arg(format!("--user-data-dir={}", profile.display()))
            .arg("about:blank")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let asks = child.stdin.take().unwrap();
        let told = BufReader::new(child.stdout.take().unwrap());
        let mut browser = Self {
            child,
            asks,
            told,
            session: None,
            count: 0,
            events: vec![],
        };
        let target = browser.ask("Target.createTarget", &json!({"url": "about:blank"}));
        let target = json!({"targetId": target["targetId"], "flatten": true});
        let session = browser.ask("Target.attachToTarget", &target);
        browser.session = session["sessionId"].as_str().map(String::from);
        Some(browser)
    }

    fn ask(&mut self, method: &str, parameters: &Value) -> Value {
        self.count += 1;
        let mut question = json!({"id": self.count, "method": method, "params": parameters});
        if let Some(session) = &self.session {
            question["sessionId"] = json!(session);
        }
        self.asks
            .write_all(question.to_string().as_bytes())
            .unwrap();
        self.asks.write_all(b"\0").unwrap();
        self.asks.flush().unwrap();
        loop {
            let answer = self.hear();
            if answer["id"] == self.count {
                assert!(answer["error"].is_null(), "{method}: {answer}");
                return answer["result"].clone();
            }
            self.events.push(answer);
        }
    }

    fn hear(&mut self) -> Value {
        let mut message = Vec::new();
        self.told.read_until(0, &mut message).unwrap();
        assert_eq!(message.pop(), Some(0), "the browser went away");
        serde_json::from_slice(&message).unwrap()
    }

    /// Opens a file and waits until it has loaded.
    fn open(&mut self, file: &Path) {
        for domain in ["Page", "Network", "Log", "Runtime"] {
            self.ask(&format!("{domain}.enable"), &json!({}));
        }
        let url = format!("file://{}", file.display());
        self.ask("Page.navigate", &json!({"url": url}));
        while self.of("Page.loadEventFired").is_empty() {
            let event = self.hear();
            self.events.push(event);
        }
    }

    /// What was told by this name.
    fn of(&self, method: &str) -> Vec<&Value> {
        let events = self.events.iter().filter(|e| e["method"] == method);
        events.map(|event| &event["params"]).collect()
    }

    fn value(&mut self, expression: &str) -> Value {
        let asked = json!({"expression": expression, "returnByValue": true});
        self.ask("Runtime.evaluate", &asked)["result"]["value"].clone()
    }

    fn scheme(&mut self, scheme: &str) {
        let feature = json!({"name": "prefers-color-scheme", "value": scheme});
        self.ask(
            "Emulation.setEmulatedMedia",
            &json!({"features": [feature]}),
        );
    }

    /// The whole page, 1280 wide, as letters of base 64.
    fn picture(&mut self) -> String {
        let asked = json!({"captureBeyondViewport": true, "format": "png"});
        let shot = self.ask("Page.captureScreenshot", &asked);
        shot["data"].as_str().unwrap().into()
    }

    /// The sheet on this paper, as a PDF.
    fn print(&mut self, (_, width, height): (&str, f64, f64)) -> Vec<u8> {
        let paper = json!({
            "paperWidth": width, "paperHeight": height, "printBackground": true, "preferCSSPageSize": false,
            "marginTop": 0.4, "marginBottom": 0.4, "marginLeft": 0.4, "marginRight": 0.4,
        });
        let printed = self.ask("Page.printToPDF", &paper);
        bytes(printed["data"].as_str().unwrap())
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ended = self.child.kill();
        let _reaped = self.child.wait();
    }
}

/// Base 64, RFC 4648, back to bytes.
fn bytes(text: &str) -> Vec<u8> {
    let value = |letter: u8| match letter {
        b'A'..=b'Z' => letter - b'A',
        b'a'..=b'z' => letter - b'a' + 26,
        b'0'..=b'9' => letter - b'0' + 52,
        b'+' => 62,
        _ => 63,
    };
    let letters: Vec<_> = text.bytes().filter(|b| *b != b'=').map(value).collect();
    let group = |four: &[u8]| {
        let bits = four
            .iter()
            .fold(0_u32, |bits, six| bits << 6 | u32::from(*six));
        let bits = bits << (6 * (4 - four.len()));
        bits.to_be_bytes()[1..four.len()].to_vec()
    };
    letters.chunks(4).flat_map(group).collect()
}

/// The pages of a PDF: its objects of the type Page (ISO 32000, 7.7.3.3).
fn pages(pdf: &[u8]) -> usize {
    let text = String::from_utf8_lossy(pdf);
    let types = text.split("/Type /Page").skip(1);
    types.filter(|rest| !rest.starts_with('s')).count()
}

fn written_sheet(folder: &Path) -> std::path::PathBuf {
    let case = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../assets/cases/demonstration.ron"
    );
    let picture = concat!(env!("CARGO_MANIFEST_DIR"), "/../assets/pictures/wall.png");
    let out = folder.join("out");
    let (mut told, mut err) = (Vec::new(), Vec::new());
    let mut console = Console {
        out: &mut told,
        err: &mut err,
        style: Style::Plain,
        progress: Progress::Hidden,
    };
    let asked = [
        "cupwright",
        "run",
        case,
        "--out",
        out.to_str().unwrap(),
        "--picture",
        picture,
    ];
    assert_eq!(
        main_with(asked, &mut console),
        Exit::Done,
        "{}",
        String::from_utf8_lossy(&err)
    );
    out.join("sheet.html")
}

#[test]
fn a_sheet_asks_for_nothing_prints_on_two_pages_and_is_read_by_day_and_night() {
    let place = tempfile::tempdir().unwrap();
    let Some(mut browser) = Browser::start(&place.path().join("profile")) else {
        eprintln!("SKIPPED: no chromium on this machine, so the sheet was not opened in a browser");
        return;
    };
    let sheet = written_sheet(place.path());
    let shots = std::env::temp_dir().join("cupwright-sheet");
    std::fs::create_dir_all(&shots).unwrap();
    let size = json!({"width": 1280, "height": 900, "deviceScaleFactor": 1, "mobile": false});
    browser.ask("Emulation.setDeviceMetricsOverride", &size);
    browser.open(&sheet);
    let mut seen = vec![];
    for scheme in ["light", "dark"] {
        browser.scheme(scheme);
        let worst = browser.value(CONTRAST);
        assert!(
            worst[0].as_f64().unwrap() >= LEAST_CONTRAST,
            "{scheme}: {worst}"
        );
        assert_eq!(browser.value(CLIPPED), json!([]), "{scheme}");
        let picture = browser.picture();
        std::fs::write(shots.join(format!("{scheme}.png")), bytes(&picture)).unwrap();
        seen.push(picture);
    }
    assert_ne!(seen[0], seen[1], "the dark sheet is another");
    for paper in PAPERS {
        let pdf = browser.print(paper);
        std::fs::write(shots.join(format!("{}.pdf", paper.0)), &pdf).unwrap();
        assert!(
            (1..=2).contains(&pages(&pdf)),
            "{}: {} pages",
            paper.0,
            pages(&pdf)
        );
    }
    browser.scheme("light");
    let grey = "document.documentElement.style.filter = 'grayscale(1)'";
    browser.value(grey);
    let picture = browser.picture();
    std::fs::write(shots.join("grey.png"), bytes(&picture)).unwrap();
    eprintln!("pictures of the sheet are in {}", shots.display());

    for told in [
        "Log.entryAdded",
        "Runtime.consoleAPICalled",
        "Runtime.exceptionThrown",
    ] {
        assert_eq!(browser.of(told), Vec::<&Value>::new(), "{told}");
    }
    let own = format!("file://{}", sheet.display());
    let requests = browser.of("Network.requestWillBeSent");
    let addresses: Vec<_> = requests
        .iter()
        .map(|r| r["request"]["url"].as_str().unwrap())
        .collect();
    assert!(addresses.contains(&own.as_str()), "{addresses:?}");
    let strays: Vec<_> = addresses
        .iter()
        .filter(|url| **url != own && !url.starts_with("data:"))
        .collect();
    assert!(strays.is_empty(), "{strays:?}");
}

#[test]
fn pages_are_counted_and_not_their_tree() {
    let pdf = b"<< /Type /Pages /Count 2 >> << /Type /Page /Parent 1 0 R >> << /Type /Page\n>>";
    assert_eq!(pages(pdf), 2);
    assert_eq!(bytes("Zm9vYg=="), b"foob");
}
