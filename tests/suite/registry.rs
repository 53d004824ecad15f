//! What holds for every code, every page and every example of a fault.

use std::collections::BTreeSet;

use backshell::finding::{Code, Page};
use backshell::verify::{CHECKS, Options, check_file};

#[test]
fn codes_are_unique_and_well_formed() {
    let mut seen = BTreeSet::new();
    for code in Code::ALL {
        let text = code.text();
        assert!(seen.insert(text), "{text} twice");
        assert!(text.bytes().all(|b| b.is_ascii_lowercase() || matches!(b, b'.' | b'-')), "{text}");
        assert_eq!(Code::parse(text), Some(*code));
    }
    assert_eq!(Code::parse("no.such-code"), None);
}

#[test]
fn every_code_has_its_page() {
    for code in Code::ALL {
        let page = code.page();
        let text = page.text();
        assert!(text.starts_with(&format!("# {code}: ")), "{code}");
        let headings: Vec<&str> = text.lines().filter_map(|line| line.strip_prefix("## ")).collect();
        assert_eq!(headings[..6], Page::HEADINGS, "{code}");
        assert!(headings.len() == 6 || headings[6..] == ["Caution"], "{code}");
        assert!((10..=76).contains(&page.summary().chars().count()), "{code}: {}", page.summary());
        assert!(!page.summary().starts_with('#'), "{code} has no summary");
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{code}");
    }
    // no page without a code
    let pages = std::fs::read_dir("src/finding/pages").unwrap();
    for page in pages {
        let name = page.unwrap().path().file_stem().unwrap().to_string_lossy().into_owned();
        assert!(Code::parse(&name).is_some(), "the page {name} has no code");
    }
}

/// Each code is shown by an example in `netlists/`, and nothing there is left without a finding.
#[test]
fn every_code_has_an_example() {
    let mut shown = BTreeSet::new();
    for path in crate::snapshots::netlists() {
        check_file(&path, &Options::default(), |batch| {
            shown.extend(batch.reports.iter().flat_map(|report| &report.findings).map(|finding| finding.code.text()));
        });
    }
    for code in Code::ALL {
        assert!(shown.contains(code.text()), "no example of {code} in netlists/");
    }
}

#[test]
fn checks_are_named_once() {
    let names: BTreeSet<&str> = CHECKS.iter().map(|check| check.name).collect();
    assert_eq!(names.len(), CHECKS.len());
}
