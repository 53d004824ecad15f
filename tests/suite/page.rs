//! The bench in a browser: what it tells, what it keeps to itself, and whom it refuses.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Stdio};
use std::time::Duration;

use serde_json::Value;

use crate::scratch::{Scratch, command, lead, leads, text};

const TOKEN: &str = "dome-refit-bench-7";

/// A bench with its page.
struct Served {
    child: Child,
    address: String,
}

impl Drop for Served {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

fn served(folder: &Path, more: &[&str]) -> Served {
    let mut command = command();
    command.arg("watch").arg(folder).args(["--quiet", "0"]).args(more);
    if !more.contains(&"--serve") {
        command.args(["--serve", "127.0.0.1:0"]);
    }
    let mut child = command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
    let mut line = String::new();
    BufReader::new(child.stderr.take().unwrap()).read_line(&mut line).unwrap();
    let address = line.split_once("http://").unwrap_or_else(|| panic!("{line}")).1.split('/').next().unwrap().to_owned();
    Served { child, address }
}

impl Served {
    fn port(&self) -> &str {
        self.address.rsplit_once(':').unwrap().1
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(("127.0.0.1", self.port().parse().unwrap())).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        stream
    }

    /// Sends these bytes; gives the status, the head in lower case and the body.
    fn raw(&self, request: &str) -> (u16, String, String) {
        let mut stream = self.connect();
        stream.write_all(request.as_bytes()).unwrap();
        let mut bytes = Vec::new();
        let mut piece = [0; 4096];
        // a stream of events has no end: its head is enough
        while let Ok(read @ 1..) = stream.read(&mut piece) {
            bytes.extend_from_slice(&piece[..read]);
            if bytes.windows(17).any(|window| window == b"text/event-stream") && bytes.windows(4).any(|end| end == b"\r\n\r\n") {
                break;
            }
        }
        let answer = text(&bytes);
        let (head, body) = answer.split_once("\r\n\r\n").unwrap_or_else(|| panic!("{request}: {answer:?}"));
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        (status, head.to_ascii_lowercase(), body.to_owned())
    }

    fn get(&self, path: &str, headers: &str) -> (u16, String, String) {
        self.raw(&format!("GET {path} HTTP/1.1\r\nHost: {}\r\n{headers}\r\n", self.address))
    }

    fn events(&self, headers: &str) -> Events {
        let mut stream = self.connect();
        write!(stream, "GET /events HTTP/1.1\r\nHost: {}\r\n{headers}\r\n", self.address).unwrap();
        let mut lines = BufReader::new(stream);
        let mut head = String::new();
        while !head.ends_with("\r\n\r\n") {
            assert!(lines.read_line(&mut head).unwrap() > 0, "{head}");
        }
        assert!(head.starts_with("HTTP/1.1 200") && head.contains("text/event-stream"), "{head}");
        Events { lines, id: String::new() }
    }
}

/// A stream of events, read line by line. Sizes of chunks stand between them, and are no lines of events.
struct Events {
    lines: BufReader<TcpStream>,
    id: String,
}

impl Events {
    /// The next event but for beats; none at the end.
    fn next(&mut self) -> Option<(String, Value)> {
        let mut name = String::new();
        loop {
            let mut line = String::new();
            if self.lines.read_line(&mut line).unwrap() == 0 {
                return None;
            }
            match line.trim_end().split_once(": ") {
                Some(("event", said)) => name = said.to_owned(),
                Some(("id", said)) => self.id = said.to_owned(),
                Some(("data", said)) if name != "beat" => return Some((name, serde_json::from_str(said).unwrap())),
                _ => {}
            }
        }
    }

    /// The first state that shows this file, with all the tests that were told on the way.
    fn until(&mut self, file: &str) -> (Value, Vec<Value>) {
        let mut tests = Vec::new();
        loop {
            let (name, state) = self.next().unwrap();
            assert_eq!(name, "state");
            tests.extend(state["tests"].as_array().unwrap().iter().cloned());
            if state["shown"]["file"] == file {
                return (state, tests);
            }
        }
    }
}

fn drop_in(folder: &Path, name: &str, content: &str) {
    let part = folder.join(".new");
    std::fs::write(&part, content).unwrap();
    std::fs::rename(&part, folder.join(name)).unwrap();
}

#[test]
fn a_verdict_arrives_while_a_browser_looks_on() {
    let scratch = Scratch::new("page");
    let folder = scratch.folder("in");
    let bench = served(&folder, &[]);
    let mut events = bench.events("");
    let (_, first) = events.next().unwrap();
    assert_eq!((&first["whole"], &first["shown"]), (&Value::Bool(true), &Value::Null));

    drop_in(&folder, "a.netlist", &lead("M-01", "M1", true));
    let (state, tests) = events.until("a.netlist");
    assert_eq!((state["shown"]["call"].as_str(), state["shown"]["kind"].as_str()), (Some("CONFORMS"), Some("conforms")));
    assert_eq!((tests.len(), &tests[0]["unit"], &tests[0]["attempt"]), (1, &"M-01".into(), &1.into()));
    let after_first = events.id.clone();

    drop_in(&folder, "b.netlist", &lead("M-01", "M1", false));
    let (state, tests) = events.until("b.netlist");
    assert_eq!(state["shown"]["call"], "FAILS");
    assert_eq!(state["shown"]["tests"], Value::from(vec![tests[0]["number"].clone()]));
    let test = &tests[0];
    assert_eq!((&test["attempt"], &test["findings"][0]["code"]), (&2.into(), &"pair.reversed".into()));
    assert!(test["findings"][0]["remedy"].as_str().is_some_and(|remedy| !remedy.is_empty()));
    // each unit counts by its last test
    let lot = &state["lots"][0];
    assert_eq!((&lot["lot"], &lot["units"], &lot["fails"], &lot["conforms"]), (&"M1".into(), &1.into(), &1.into(), &0.into()));

    let (status, head, picture) = bench.get(test["picture"].as_str().unwrap(), "");
    assert_eq!(status, 200);
    assert!(head.contains("image/svg+xml") && head.contains("sandbox") && picture.contains("<svg"), "{head}");

    // whoever comes back hears what it missed, whoever comes anew everything
    let mut again = bench.events(&format!("Last-Event-ID: {after_first}\r\n"));
    let (_, missed) = again.next().unwrap();
    assert_eq!((&missed["whole"], missed["tests"].as_array().unwrap().len()), (&Value::Bool(false), 1));
    for from_elsewhere in ["", "Last-Event-ID: 1-1\r\n", "Last-Event-ID: 99\r\n", "Last-Event-ID: x-y\r\n"] {
        let (_, all) = bench.events(from_elsewhere).next().unwrap();
        assert_eq!((&all["whole"], all["tests"].as_array().unwrap().len()), (&Value::Bool(true), 2), "{from_elsewhere}");
    }

    // what has no verdict never leaves an older verdict standing
    drop_in(&folder, "c.netlist", "cable no-such\nunit M-09\nA.1 B.1\n");
    let (state, _) = events.until("c.netlist");
    assert_eq!((&state["shown"]["call"], &state["shown"]["units"]), (&"CAN'T TELL".into(), &0.into()));
    assert!(state["shown"]["problems"][0].as_str().is_some_and(|problem| problem.contains("no-such")), "{state}");

    // other events are told too, and a lost folder above all
    drop_in(&folder, "notes.docx", "");
    let (_, state) = events.next().unwrap();
    assert!(state["notes"][0]["text"].as_str().unwrap().starts_with("notes.docx left alone"), "{state}");
    std::fs::rename(&folder, scratch.path("away")).unwrap();
    let (_, state) = events.next().unwrap();
    assert!(state["folder_lost"].as_str().is_some_and(|words| words.contains("can't be read")), "{state}");
    std::fs::rename(scratch.path("away"), &folder).unwrap();
    let (_, state) = events.next().unwrap();
    assert_eq!(state["folder_lost"], Value::Null);
}

#[test]
fn what_is_kept_is_bounded() {
    use backshell::page::{TESTS_KEPT, UNITS_SHOWN};
    let scratch = Scratch::new("page-reel");
    let folder = scratch.folder("in");
    let bench = served(&folder, &[]);
    let mut events = bench.events("");
    events.next().unwrap();
    drop_in(&folder, "reel.netlist", &leads("D", TESTS_KEPT + 150));
    let (state, tests) = events.until("reel.netlist");
    assert_eq!((tests.len(), state["shown"]["units"].as_u64()), (TESTS_KEPT, Some(TESTS_KEPT as u64 + 150)));
    assert_eq!(state["shown"]["tests"].as_array().unwrap().len(), UNITS_SHOWN);
    // the worst first, and those have pictures
    let failing = (TESTS_KEPT + 150) / 3;
    assert!(tests[..failing].iter().all(|test| test["kind"] == "fails") && tests[failing]["kind"] == "conforms");
    let pictures = tests.iter().filter(|test| !test["picture"].is_null()).count();
    assert_eq!(pictures, UNITS_SHOWN);
    assert!(tests[..UNITS_SHOWN].iter().all(|test| bench.get(test["picture"].as_str().unwrap(), "").0 == 200));
    let numbers: Vec<u64> = tests.iter().map(|test| test["number"].as_u64().unwrap()).collect();
    assert!(numbers.windows(2).all(|pair| pair[0] > pair[1]));
    drop_in(&folder, "one.netlist", &lead("E-01", "M1", true));
    events.until("one.netlist");
    let (_, all) = bench.events("").next().unwrap();
    assert_eq!((all["tests"].as_array().unwrap().len(), &all["tests"][0]["unit"]), (TESTS_KEPT, &"E-01".into()));
}

/// Names from files come as JSON on one line, and the page has no way to take them for markup.
#[test]
fn hostile_names_stay_text() {
    let scratch = Scratch::new("page-hostile");
    let folder = scratch.folder("in");
    let bench = served(&folder, &["--lot", "</script>\u{202e}\n\nevent: end"]);
    let mut events = bench.events("");
    events.next().unwrap();
    let name = "<img src=x onerror=alert(1)>&\"'.netlist";
    drop_in(&folder, name, "cable xlr3\nunit \"<script>alert(2)</script>\"\nsupplier \"<b>\"\nA.1 B.1\nA.2 B.3\nA.3 B.2\n");
    let (state, tests) = events.until(name);
    assert_eq!(tests[0]["unit"], "<script>alert(2)</script>");
    assert_eq!(state["lots"][0]["lot"], "</script>\\u{202e}\\u{a}\\u{a}event: end");
    let (_, head, picture) = bench.get(tests[0]["picture"].as_str().unwrap(), "");
    assert!(!picture.contains("<script") && picture.contains("&lt;script"), "{picture}");
    assert!(head.contains("content-security-policy: default-src 'none'; style-src 'unsafe-inline'"), "{head}");

    let (_, head, page) = bench.get("/", "");
    assert!(head.contains("default-src 'none'; script-src 'self'") && !head.contains("unsafe"), "{head}");
    assert!(head.contains("x-content-type-options: nosniff") && head.contains("frame-ancestors 'none'"), "{head}");
    // nothing from outside, nothing within lines
    for (path, kind) in
        [("/", "text/html"), ("/page.js", "text/javascript"), ("/page.css", "text/css"), ("/icon.svg", "image/svg")]
    {
        let (status, head, body) = bench.get(path, "");
        assert!(status == 200 && head.contains(kind) && !body.is_empty(), "{path}: {head}");
        let outside = body.replace("http://www.w3.org/2000/svg", "");
        assert!(!outside.contains("http:") && !outside.contains("https:") && !outside.contains("@import"), "{path}");
        for way_in in ["innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "Function("] {
            assert!(!body.contains(way_in), "{path}: {way_in}");
        }
    }
    for within in ["<style", " style=", "onclick", "onload", "onerror", "javascript:"] {
        assert!(!page.contains(within), "{within}");
    }
    assert_eq!(page.matches("<script").count(), 1);
}

#[test]
fn nothing_else_is_served_and_nothing_changes() {
    let scratch = Scratch::new("page-refused");
    let folder = scratch.folder("in");
    let secret = scratch.file("secret.txt", "the lot of the dome");
    let bench = served(&folder, &[]);
    drop_in(&folder, "a.netlist", &lead("M-01", "M1", true));
    bench.events("").until("a.netlist");
    let before = std::fs::read(folder.join(".backshell-seen")).unwrap();

    let secret = secret.display().to_string();
    let paths = [
        "/../secret.txt",
        "/%2e%2e/secret.txt",
        "/picture/../../secret.txt",
        "/picture/..%2fsecret.txt",
        "/a.netlist",
        "//a.netlist",
        "/.backshell-seen",
        "/picture/",
        "/picture/+1",
        "/picture/1/",
        "/picture/99",
        "/picture/99999999999999999999999",
        "/page.html",
        "/events/",
        "/Events",
        "/%00",
        &secret,
    ];
    for path in paths {
        let (status, _, body) = bench.get(path, "");
        assert!(status == 404 && !body.contains("dome") && !body.contains("xlr3"), "{path}: {status} {body}");
    }
    for method in ["POST", "PUT", "DELETE", "PATCH", "HEAD", "OPTIONS", "TRACE", "CONNECT", "PROPFIND"] {
        for path in ["/", "/events", "/picture/1"] {
            let path = if method == "CONNECT" { &bench.address } else { path };
            let request = format!("{method} {path} HTTP/1.1\r\nHost: {}\r\nContent-Length: 0\r\n\r\n", bench.address);
            let (status, head, _) = bench.raw(&request);
            assert!(matches!(status, 405 | 421), "{method} {path}: {head}");
        }
    }
    // names that lead here and aren't ours, as after DNS rebinding
    let port = bench.port();
    let hosts = [
        "dome.example".to_owned(),
        format!("dome.example:{port}"),
        format!("127.0.0.1.dome.example:{port}"),
        "127.0.0.1".to_owned(),
        "localhost:1".to_owned(),
        format!("10.0.0.7:{port}"),
        format!("localhost.:{port}"),
        String::new(),
        format!(":{port}"),
        format!("user@127.0.0.1:{port}"),
        format!("[::1:{port}"),
        format!("0.0.0.0:{port}"),
    ];
    for host in hosts {
        let (status, ..) = bench.raw(&format!("GET /events HTTP/1.1\r\nHost: {host}\r\n\r\n"));
        assert!(matches!(status, 400 | 421), "{host}: {status}");
    }
    let both = format!("GET / HTTP/1.1\r\nHost: {}\r\nHost: dome.example\r\n\r\n", bench.address);
    let proxy = format!("GET http://dome.example/ HTTP/1.1\r\nHost: {}\r\n\r\n", bench.address);
    for request in [both.as_str(), &proxy, "GET / HTTP/1.1\r\n\r\n", "GET / HTTP/1.0\r\n\r\n"] {
        assert_eq!(bench.raw(request).0, 421, "{request}");
    }
    for ours in [format!("localhost:{port}"), format!("LocalHost:{port}"), format!("127.0.0.1:{port}"), format!("[::1]:{port}")] {
        assert_eq!(bench.raw(&format!("GET / HTTP/1.1\r\nHost: {ours}\r\n\r\n")).0, 200, "{ours}");
    }
    // another site may lead to the page, and may not read it
    assert_eq!(bench.get("/events", "Sec-Fetch-Site: cross-site\r\n").0, 403);
    assert_eq!(bench.get("/picture/1", "Sec-Fetch-Site: same-site\r\n").0, 403);
    let (status, head, _) = bench.get("/", "Sec-Fetch-Site: cross-site\r\n");
    assert!(status == 200 && head.contains("cross-origin-resource-policy: same-origin"), "{head}");
    assert!(!head.contains("access-control-allow"));
    // a head without end, and bytes that are no request
    let long = format!("GET / HTTP/1.1\r\nHost: {}\r\nX: {}\r\n\r\n", bench.address, "x".repeat(64 << 10));
    for request in [long.as_str(), "\u{0}\u{1}\r\n\r\n", "GET\r\n\r\n"] {
        let mut stream = bench.connect();
        stream.write_all(request.as_bytes()).ok();
        let mut bytes = Vec::new();
        stream.read_to_end(&mut bytes).ok();
        assert!(bytes.is_empty() || text(&bytes).starts_with("HTTP/1.1 4"), "{}", text(&bytes));
    }
    assert_eq!(std::fs::read(folder.join(".backshell-seen")).unwrap(), before);
}

#[test]
fn connections_are_bounded() {
    let scratch = Scratch::new("page-many");
    let bench = served(&scratch.0, &[]);
    let mut streams: Vec<Events> = (0..backshell::page::CONNECTIONS).map(|_| bench.events("")).collect();
    assert!(streams.iter_mut().all(|stream| stream.next().is_some()));
    let mut more = bench.connect();
    let mut bytes = Vec::new();
    write!(more, "GET / HTTP/1.1\r\nHost: {}\r\n\r\n", bench.address).ok();
    more.read_to_end(&mut bytes).ok();
    assert!(bytes.is_empty());
    // once somebody goes, another may come: it is noticed at the next beat
    drop(streams.pop());
    let mut came = false;
    for _ in 0..100 {
        std::thread::sleep(Duration::from_millis(200));
        let mut stream = bench.connect();
        bytes.clear();
        write!(stream, "GET / HTTP/1.1\r\nHost: {}\r\n\r\n", bench.address).ok();
        stream.read_to_end(&mut bytes).ok();
        came = bytes.starts_with(b"HTTP/1.1 200");
        if came {
            break;
        }
    }
    assert!(came);
}

#[test]
fn a_token_where_one_is_set() {
    let scratch = Scratch::new("page-token");
    let bench = served(&scratch.0, &["--token", TOKEN]);
    for path in [
        "/",
        "/events",
        "/page.js",
        "/picture/1",
        "/nowhere",
        "/?token=",
        "/?token=dome-refit-bench-8",
        "/?token=dome-refit-bench-77",
    ] {
        assert_eq!(bench.get(path, "").0, 401, "{path}");
    }
    let cookie = format!("backshell-{}", bench.port());
    let wrong = [
        format!("Cookie: {cookie}=dome-refit-bench-8\r\n"),
        format!("Cookie: {cookie}=\r\n"),
        format!("Cookie: other={TOKEN}\r\n"),
        "Authorization: Bearer dome\r\n".to_owned(),
        format!("Authorization: Basic {TOKEN}\r\n"),
    ];
    for headers in wrong {
        assert_eq!(bench.get("/", &headers).0, 401, "{headers}");
    }
    let (status, head, _) = bench.get(&format!("/?token={TOKEN}"), "");
    assert!(status == 303 && head.contains("location: /\r\n"), "{head}");
    assert!(head.contains(&format!("set-cookie: {cookie}={TOKEN}; httponly; samesite=strict")), "{head}");
    for headers in [format!("Cookie: a=b; {cookie}={TOKEN}\r\n"), format!("Authorization: Bearer {TOKEN}\r\n")] {
        assert_eq!(bench.get("/", &headers).0, 200);
        assert!(bench.events(&headers).next().is_some());
    }
}

#[test]
fn other_machines_only_with_a_token() {
    let scratch = Scratch::new("page-open");
    let refused = |arguments: &[&str], words: &str| {
        let output = command().arg("watch").arg(&scratch.0).arg("--once").args(arguments).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let said = text(&output.stderr);
        assert!(said.contains(words), "{arguments:?}: {said}");
    };
    refused(&["--serve", "0.0.0.0:0"], "can be reached by other machines");
    refused(&["--serve", "[::]:0"], "can be reached by other machines");
    refused(&["--serve", "192.0.2.7:8080"], "can be reached by other machines");
    refused(&["--serve", "0.0.0.0:0", "--token", "short"], "16 to 128");
    refused(&["--serve", "0.0.0.0:0", "--token", "a secret with spaces in it"], "16 to 128");
    refused(&["--serve", "127.0.0.1:0", "--token", ""], "16 to 128");
    refused(&["--token", TOKEN], "--serve");
    refused(&["--serve", "dome.example:80"], "invalid");
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    refused(&["--serve", &taken.local_addr().unwrap().to_string()], "can't be served on");

    let bench = served(&scratch.0, &["--serve", "0.0.0.0:0", "--token", TOKEN]);
    let port = bench.port();
    let with =
        |host: &str| bench.raw(&format!("GET / HTTP/1.1\r\nHost: {host}:{port}\r\nAuthorization: Bearer {TOKEN}\r\n\r\n")).0;
    assert_eq!((with("127.0.0.1"), with("192.0.2.7"), with("dome.example")), (200, 200, 421));
    assert_eq!(bench.raw(&format!("GET / HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n")).0, 401);
}

/// With `--once` the bench says that it has ended; what stands on the terminal is the same with a page and without.
#[test]
fn the_end_is_said() {
    let scratch = Scratch::new("page-once");
    let folder = scratch.folder("in");
    let bench_of = |more: &[&str]| {
        std::fs::write(folder.join("a.netlist"), lead("M-01", "M1", false)).unwrap();
        let mut command = command();
        command.arg("watch").arg(&folder).args(["--once", "--quiet", "2"]).args(more);
        command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
    };
    let mut child = bench_of(&["--serve", "127.0.0.1:0"]);
    let mut line = String::new();
    let mut said = BufReader::new(child.stderr.take().unwrap());
    said.read_line(&mut line).unwrap();
    assert!(line.starts_with("backshell: the page is at http://127.0.0.1:"), "{line}");
    let address = line.trim().split_once("http://").unwrap().1.trim_end_matches('/').to_owned();
    let mut stream = TcpStream::connect(&address).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
    write!(stream, "GET /events HTTP/1.1\r\nHost: {address}\r\n\r\n").unwrap();
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).unwrap();
    let told = text(&bytes);
    assert!(told.contains("\"call\":\"FAILS\"") && told.contains("event: end\n") && told.ends_with("0\r\n\r\n"), "{told}");
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    std::fs::remove_file(folder.join(".backshell-seen")).unwrap();
    assert_eq!(text(&output.stdout), text(&bench_of(&[]).wait_with_output().unwrap().stdout));
}

/// What an earlier run recorded is found by its name, and looking changes nothing.
#[cfg(feature = "record")]
#[test]
fn earlier_tests_come_from_the_record() {
    let scratch = Scratch::new("page-record");
    let (first, folder) = (scratch.folder("first"), scratch.folder("in"));
    let record = scratch.path("dome.db");
    let hostile = "<b>&\"/../..%2f\u{202e}";
    drop_in(&first, "a.netlist", &lead("M-01", "M1", false));
    drop_in(&first, "b.netlist", &lead("M-01", "M2", true));
    drop_in(&first, "c.netlist", &lead(&format!("\"{}\"", hostile.replace('"', "")), "M1", true));
    drop_in(&first, "d.netlist", &std::fs::read_to_string("netlists/faults/power.short.netlist").unwrap());
    let mut once = command();
    once.arg("watch").arg(&first).args(["--once", "--quiet", "0", "--record"]).arg(&record);
    assert_eq!(once.output().unwrap().status.code(), Some(1));
    let before = std::fs::read(&record).unwrap();
    let bench = served(&folder, &["--record", record.to_str().unwrap()]);
    assert_eq!(bench.events("").next().unwrap().1["record"], true);
    let ask = |path: &str| {
        let (status, head, body) = bench.get(path, "");
        assert!(head.contains("no-store") && head.contains("cross-origin-resource-policy: same-origin"), "{head}");
        (status, serde_json::from_str::<Value>(&body).unwrap_or_default())
    };
    let (status, answer) = ask("/unit?name=M-01");
    assert_eq!((status, &answer["total"], &answer["problem"]), (200, &2.into(), &Value::Null));
    let test = |nth: usize| &answer["tests"][nth];
    assert_eq!((&test(0)["lot"], &test(0)["call"], &test(0)["attempt"]), (&"M2".into(), &"CONFORMS".into(), &1.into()));
    assert_eq!((&test(1)["lot"], &test(1)["call"], &test(1)["kind"]), (&"M1".into(), &"FAILS".into(), &"fails".into()));
    assert!(test(1)["findings"][0].as_str().unwrap().starts_with("pair.reversed: "));
    assert_eq!(ask("/unit?name=d").1["tests"][0]["call"], "DO NOT CONNECT");
    let written: String = hostile.replace('"', "").bytes().map(|byte| format!("%{byte:02x}")).collect();
    let answer = ask(&format!("/unit?name={written}")).1;
    assert_eq!((&answer["total"], &answer["unit"]), (&1.into(), &"<b>&/../..%2f\\u{202e}".into()));
    // case counts, and nothing else is found
    for name in ["m-01", "M-0", "%25", "..%2f..%2fdome.db", "M-01'%20OR%20'1'='1", "M-01&name=d"] {
        assert_eq!(ask(&format!("/unit?name={name}")).1["total"], 0, "{name}");
    }
    let long = "x".repeat(1001);
    for path in
        ["/unit", "/unit?", "/unit?name=", "/unit?name=%ff", "/unit?file=dome.db", "/unit/M-01", &format!("/unit?name={long}")]
    {
        assert_eq!(ask(path).0, 404, "{path:.40}");
    }
    assert_eq!(bench.get("/unit?name=M-01", "Sec-Fetch-Site: cross-site\r\n").0, 403);
    for method in ["POST", "PUT", "DELETE"] {
        let request = format!("{method} /unit?name=M-01 HTTP/1.1\r\nHost: {}\r\nContent-Length: 0\r\n\r\n", bench.address);
        assert_eq!(bench.raw(&request).0, 405);
    }
    assert_eq!(bench.raw("GET /unit?name=M-01 HTTP/1.1\r\nHost: dome.example\r\n\r\n").0, 421);
    assert_eq!(std::fs::read(&record).unwrap(), before);
    // what this run records is found with it
    drop_in(&folder, "e.netlist", &lead("M-01", "M1", true));
    bench.events("").until("e.netlist");
    let answer = ask("/unit?name=M-01").1;
    assert_eq!((&answer["total"], &answer["tests"][0]["attempt"]), (&3.into(), &2.into()));
    // the last of many, with their number
    let mut events = bench.events("");
    for nth in 0..60 {
        drop_in(&folder, &format!("f{nth}.netlist"), &lead("M-02", "M1", true));
        events.until(&format!("f{nth}.netlist"));
    }
    let answer = ask("/unit?name=M-02").1;
    let shown = answer["tests"].as_array().unwrap().len();
    assert_eq!((&answer["total"], shown), (&60.into(), backshell::page::ROWS_SHOWN));

    // a record that went away is said, and without one there is nothing to ask
    std::fs::rename(&record, scratch.path("away.db")).unwrap();
    assert!(ask("/unit?name=M-01").1["problem"].as_str().unwrap().contains("can't be opened"));
    assert!(!record.exists(), "a look-up made a record");
    let with_token = served(&scratch.folder("other"), &["--token", TOKEN]);
    assert_eq!(with_token.get("/unit?name=M-01", "").0, 401);
    let (status, _, body) = with_token.get("/unit?name=M-01", &format!("Authorization: Bearer {TOKEN}\r\n"));
    assert!(status == 200 && body.contains("No record is kept"), "{body}");
}

/// The lot that is being tested goes along with its units, and is there at the start.
#[test]
fn the_decision_so_far_arrives() {
    let scratch = Scratch::new("page-lot");
    let folder = scratch.folder("in");
    let none = served(&scratch.folder("other"), &[]);
    assert_eq!(none.events("").next().unwrap().1["running"], Value::Null);
    let bench = served(&folder, &["--size", "3", "--plan", "all"]);
    let mut events = bench.events("");
    let running = |state: &Value| {
        let running = &state["running"];
        let facts = ["words", "kind"].map(|key| running[key].as_str().unwrap().to_owned());
        (facts.join(" "), ["tested", "sample", "size"].map(|key| running[key].as_u64().unwrap()))
    };
    assert_eq!(running(&events.next().unwrap().1), ("NOT ENOUGH UNITS YET waiting".to_owned(), [0, 3, 3]));
    for nth in 1..=3_u64 {
        drop_in(&folder, &format!("{nth}.netlist"), &lead(&format!("M-{nth}"), "M1", true));
        let state = events.until(&format!("{nth}.netlist")).0;
        let words = if nth < 3 { "NOT ENOUGH UNITS YET waiting" } else { "ACCEPT conforms" };
        assert_eq!(running(&state), (words.to_owned(), [nth, 3, 3]));
    }
    drop_in(&folder, "4.netlist", &lead("M-3", "M1", false));
    let state = events.until("4.netlist").0;
    assert_eq!(running(&state), ("REJECT fails".to_owned(), [3, 3, 3]), "{state}");
}
