//! The report as one HTML file: well-formed, inert whatever the names are, below 5 MB, and never a certificate for a bad unit.

use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Output};

use backshell::finding::Code;
use backshell::lot::Asked;
use backshell::report::{HtmlFace, HtmlReport, HtmlSaid, LotOptions, lot_report};
use backshell::verify::{Options, check_text};
use roxmltree::{Document, ParsingOptions};

const SOUND: &str = "A.1 B.1\nA.2 B.2\nA.3 B.3\n";

/// The page of a netlist in memory.
fn page(text: &str, face: HtmlFace, size: Option<u64>) -> Result<String, String> {
    let options = Options::default().with_lot(true).with_about(true).with_wiring(true).with_measured(true);
    let mut html = HtmlReport::new();
    check_text("dome.netlist", text, &options, |batch| html.batch(Path::new("dome.netlist"), &batch));
    let mut lot = LotOptions::new(Asked::All);
    lot.size = size;
    html.page(&lot_report(html.summary(), &lot, &[]), &HtmlSaid::default(), face)
}

fn report(text: &str) -> String {
    page(text, HtmlFace::Report, None).unwrap()
}

/// The page as XML, so that every element is closed and every attribute quoted.
fn parse(page: &str) -> Document<'_> {
    let options = ParsingOptions { allow_dtd: true, ..ParsingOptions::default() };
    Document::parse_with_options(page, options).unwrap_or_else(|error| panic!("{error}: {}", &page[..page.len().min(2_000)]))
}

/// What every page must keep to.
fn examine(page: &str) -> String {
    let document = parse(page);
    let mut ids = std::collections::HashSet::new();
    for node in document.descendants().filter(roxmltree::Node::is_element) {
        let tag = node.tag_name().name();
        assert!(!["script", "iframe", "object", "embed", "link", "img", "form", "base", "foreignObject"].contains(&tag), "{tag}");
        for attribute in node.attributes() {
            let (name, value) = (attribute.name(), attribute.value());
            assert!(!name.starts_with("on") && name != "src" && name != "style", "{tag} {name}");
            assert!(name != "href" || value.starts_with('#'), "{value}");
            assert!(name != "id" || ids.insert(value.to_owned()), "{value} twice");
            assert!(!value.contains("javascript:"), "{value}");
        }
        if tag == "table" {
            let has = |wanted: &str| node.descendants().any(|inner| inner.has_tag_name(("http://www.w3.org/1999/xhtml", wanted)));
            assert!(has("caption") && has("th"), "a table without caption or heads");
        }
    }
    let count = |wanted: &str| document.descendants().filter(|node| node.tag_name().name() == wanted).count();
    assert_eq!((count("main"), count("h1"), count("header"), count("footer")), (1, 1, 1, 1));
    for style in document.descendants().filter(|node| node.tag_name().name() == "style") {
        let rules = style.text().unwrap();
        assert!(!rules.contains("url(") && !rules.contains("@import"), "the style asks for something");
    }
    let main = document.descendants().find(|node| node.tag_name().name() == "body").unwrap();
    let words: Vec<&str> = main.descendants().filter(roxmltree::Node::is_text).filter_map(|node| node.text()).collect();
    words.join(" ").split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn every_netlist_makes_a_sound_page_of_each_face() {
    for path in crate::snapshots::netlists() {
        let text = String::from_utf8_lossy(&std::fs::read(&path).unwrap()).into_owned();
        for face in [HtmlFace::Report, HtmlFace::NonConformance, HtmlFace::Certificate] {
            if let Ok(page) = page(&text, face, None) {
                examine(&page);
            }
        }
    }
}

#[test]
fn hostile_names_do_nothing() {
    let long = "x".repeat(10_000);
    let names = [
        "<script>alert(1)</script>",
        "'><img src=x onerror=alert(1)>",
        "&lt;/style&gt;</style><style>*{display:none}</style>",
        "]]>--><!--",
        "\u{202e}gnirts\u{202c}\u{2066}x",
        "\u{5d0}\u{5d1}\u{5d2}",
        &long,
    ];
    for name in names {
        let swap = "A.1 B.1\nA.2 B.3\nA.3 B.2\n";
        let text = format!(
            "cable xlr3\nlot \"{name}\"\nsupplier \"{name}\"\noperator \"{name}\"\nunit \"{name}\"\n{swap}unit two\n{SOUND}"
        );
        let one = text.split("unit two").next().unwrap().to_owned();
        let sound = format!("cable xlr3\nlot \"{name}\"\nunit \"{name}\"\n{SOUND}");
        let mut made = 0;
        for (text, face) in [
            (&text, HtmlFace::Report),
            (&one, HtmlFace::Report),
            (&text, HtmlFace::NonConformance),
            (&sound, HtmlFace::Certificate),
        ] {
            let Ok(page) = page(text, face, None) else { continue };
            made += 1;
            let words = examine(&page);
            assert!(!page.contains("<script") && !page.contains("<img"));
            assert!(
                !page.chars().any(|c| matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')),
                "a mark that turns the text"
            );
            assert!(page.len() < 200_000, "{}", page.len());
            let start: String = name.chars().filter(|c| c.is_ascii_alphabetic()).take(3).collect();
            assert!(words.contains(&start), "{start} is lost");
        }
        assert_eq!(made, 4, "{name:.40}");
    }
}

#[test]
fn ten_thousand_units_fit() {
    for hostile in [false, true] {
        let mut text = "cable xlr3\nlot R7\n".to_owned();
        for unit in 0..10_000 {
            let name = if hostile { format!("{}&{unit}", "&<\"".repeat(60)).replace('"', "'") } else { format!("R7-{unit:05}") };
            let facts = if hostile || unit % 7 == 3 { "A.1 B.1\nA.2 B.3\nA.3 B.2\n" } else { SOUND };
            let _ = write!(text, "unit \"{name}\"\n{facts}");
        }
        let page = report(&text);
        assert!(page.len() < 5_000_000, "{}", page.len());
        let words = examine(&page);
        assert!(words.contains("10000"), "the count is missing");
        if hostile {
            assert!(words.contains("more that don't conform aren't listed"), "what is left out isn't said");
        } else {
            for unit in [3, 9_992] {
                assert!(words.contains(&format!("R7-{unit:05}")), "{unit}");
            }
            assert!(words.contains("24 of the 1429 tests"), "{words:.3000}");
        }
    }
}

#[test]
fn danger_stands_above_all() {
    let text = std::fs::read_to_string("netlists/reel7.netlist").unwrap();
    let words = examine(&report(&text));
    let at = |word: &str| words.find(word).unwrap_or_else(|| panic!("no {word}"));
    assert!(at("DO NOT CONNECT") < at("REJECT"));
    assert!(at("Before anything is connected") < at("Unit by unit"));
    assert!(at("Before it is repaired and measured again") < at("test the whole cable again, every contact"));
    // the place with its line
    assert!(words.contains("A.1 B.10 0.466 ohm"));
    // where it comes from
    for said in ["tested 2031-03-14", "operator \"M. Aster\"", "lot R7", "Not said anywhere"] {
        assert!(words.contains(said), "{said}");
    }
}

#[test]
fn the_paper_has_no_date_of_its_own() {
    let text = format!("cable xlr3\n{SOUND}");
    assert_eq!(report(&text), report(&text));
    assert!(!report(&text).contains("<dt>Date</dt>"));
}

#[test]
fn no_certificate_for_what_does_not_conform() {
    let certificate = |text: &str, size| page(text, HtmlFace::Certificate, size);
    let sound = format!("cable xlr3\nunit one\n{SOUND}unit two\n{SOUND}");
    let page = certificate(&sound, None).unwrap();
    let words = examine(&page);
    for said in ["Not valid until it is signed", "What wasn't tested", "Signature", "one", "two"] {
        assert!(words.contains(said), "{said}");
    }
    for (bad, size) in [
        (format!("cable xlr3\nunit one\n{SOUND}unit two\nA.1 B.1\nA.2 B.3\nA.3 B.2\n"), None),
        (format!("cable xlr3\nunit one\n{SOUND}unit two\nA.1 B.1\n"), None),
        // a unit that can't be read
        (format!("cable xlr3\nunit one\n{SOUND}unit two\nA.1 B.nowhere\n"), None),
        // a drawing
        (format!("cable xlr3\nsource drawing\nunit one\n{SOUND}"), None),
        // too few of the lot for the plan
        (sound.clone(), Some(50)),
        (String::new(), None),
    ] {
        let refused = certificate(&bad, size);
        assert!(refused.as_ref().is_err_and(|why| why.starts_with("no certificate: ")), "{bad}");
    }
    // what is inconclusive isn't certified either
    let text = std::fs::read_to_string("netlists/faults/shield.from-memory.netlist").unwrap();
    assert!(certificate(&text, None).is_err());
}

#[test]
fn a_person_decides_on_the_non_conformance_report() {
    let text = std::fs::read_to_string("netlists/reel7.netlist").unwrap();
    let page = page(&text, HtmlFace::NonConformance, Some(200)).unwrap();
    let words = examine(&page);
    for said in [
        "Containment",
        "Requirement",
        "Actual",
        "Evidence",
        "Proposed cause",
        "Disposition",
        "Use as is",
        "Decided by",
        "of 200 units",
    ] {
        assert!(words.contains(said), "{said}");
    }
    let document = parse(&page);
    let boxes = document.descendants().filter(|node| node.attribute("class") == Some("tick-box"));
    assert!(boxes.clone().count() >= 12 && boxes.into_iter().all(|tick| tick.text().is_none()), "a box is ticked");
    assert!(page.contains(Code::PowerEndToEnd.text()));
    let sound = format!("cable xlr3\n{SOUND}");
    assert!(self::page(&sound, HtmlFace::NonConformance, None).unwrap_err().contains("every unit conforms"));
}

#[test]
fn a_small_page() {
    let page = report("cable xlr3\nlot R7\nA.1 B.1\nA.2 B.3\nA.3 B.2\n");
    // the style is another file, and the picture has snapshots of its own
    let (head, rest) = page.split_once("<style>").unwrap();
    let (_, rest) = rest.split_once("</style>").unwrap();
    let (before, rest) = rest.split_once("<svg").unwrap();
    let (_, after) = rest.split_once("</svg>").unwrap();
    let page = [head, before, after].concat().replace(env!("CARGO_PKG_VERSION"), "VERSION");
    insta::assert_snapshot!("html_small", page.replace("><", ">\n<"));
}

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_backshell")).arg("report").args(arguments).output().unwrap()
}

#[test]
fn the_command() {
    let folder = std::env::temp_dir().join(format!("backshell-html-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let file = |name: &str, text: &str| {
        let path = folder.join(name);
        std::fs::write(&path, text).unwrap();
        path.display().to_string()
    };
    let good = file("good.netlist", &format!("cable xlr3\n{SOUND}"));
    let bad = file("bad.netlist", "cable xlr3\nA.1 B.1\nA.2 B.3\nA.3 B.2\n");
    let to = folder.join("page.html").display().to_string();
    for (arguments, status, written) in [
        (vec![good.as_str(), "-o", &to, "--date", "2031-03-15"], 0, true),
        (vec![&bad, "-o", &to], 1, true),
        (vec![&bad, "-o", &to, "--face", "certificate"], 1, false),
        (vec![&good, "-o", &to, "--face", "certificate"], 0, true),
        (vec![&good, "-o", &to, "--face", "non-conformance"], 2, false),
        (vec![&bad, "-o", &to, "--face", "non-conformance"], 1, true),
        (vec![&good, "-o", &to, "--size", "90", "--plan", "iso-2859"], 1, true),
        (vec!["nowhere.netlist", "-o", &to], 2, true),
    ] {
        std::fs::remove_file(&to).ok();
        let ran = run(&arguments);
        assert_eq!(ran.status.code(), Some(status), "{arguments:?}: {}", String::from_utf8_lossy(&ran.stderr));
        assert_eq!(Path::new(&to).exists(), written, "{arguments:?}");
        if written {
            examine(&std::fs::read_to_string(&to).unwrap());
        } else {
            assert!(!ran.stderr.is_empty());
        }
    }
    std::fs::remove_dir_all(&folder).ok();
}

#[test]
fn a_certificate_says_what_it_is_careful_about() {
    let text = std::fs::read_to_string("netlists/faults/coverage.commoned.netlist").unwrap();
    let words = examine(&page(&text, HtmlFace::Certificate, None).unwrap());
    assert!(words.contains("Cautions that fail no unit"), "{words}");
}
