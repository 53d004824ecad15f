//! What is kept of lots: parts to be merged, the history for a plan, and what a bench has taken from a folder.

use backshell::lot::bench::{STATE_FILE, Seen};
use backshell::lot::plan::{Inspection, Level, read_history};
use backshell::lot::{Asked, read_part, write_part};
use backshell::report::{LotOptions, lot_report, lot_text};

use super::{show, source, text, with_file};

pub fn part(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let summary = match read_part(&source("part.json", text)) {
        Ok(summary) => summary,
        Err(problem) => return show(&[problem]),
    };
    let again = read_part(&source("again.json", &write_part(&summary))).unwrap();
    assert_eq!(write_part(&again), write_part(&summary));
    let mut twice = summary.clone();
    twice.merge(again);
    let iso = Asked::Iso { level: Level::II, aql: 1.5, inspection: Inspection::Normal };
    for (summary, asked) in [(&summary, Asked::All), (&twice, iso)] {
        let options = LotOptions::new(asked);
        let report = lot_report(summary, &options, &[]);
        assert!(!lot_text(&report).is_empty());
        serde_json::to_string(&report).unwrap();
    }
}

pub fn history(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    match read_history(&source("history", text)) {
        Ok(history) => assert!(!history.standing().why.is_empty()),
        Err(problems) => show(&problems),
    }
}

pub fn seen(bytes: &[u8]) {
    with_file(STATE_FILE, bytes, |path| {
        if let Err(problem) = Seen::open(path.parent().unwrap()) {
            show(&[problem]);
        }
    });
}
