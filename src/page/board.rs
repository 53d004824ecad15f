//! What is to be seen: the file that was taken last, the tests before it, the lots. All of it is bounded.

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;
use std::time::Instant;

use serde::Serialize;

use crate::finding::Problem;
use crate::lot::bench::{Count, Event, LotKey, Outcome, TakenFile};
use crate::text::visible;

use super::Start;
use super::running::RunningLot;
use super::test::{Test, tests};

/// So many tests are kept for the page.
pub const TESTS_KEPT: usize = 300;

/// So many units of one file are shown; the worst of them.
pub const UNITS_SHOWN: usize = 20;

/// So many bytes of pictures are kept.
pub const PICTURES_KEPT: usize = 32 << 20;

/// So many lots are shown, those that were tested last.
pub const LOTS_SHOWN: usize = 12;

/// So many other events are shown.
const NOTES_KEPT: usize = 12;

/// The file that was taken last, or what stopped it from being taken.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Shown {
    /// Counts all that happened.
    number: u64,
    call: &'static str,
    kind: &'static str,
    file: String,
    /// How many units have a verdict, and how many have none.
    units: usize,
    unjudged: usize,
    /// The numbers of the tests that are shown, the worst first.
    tests: Vec<u64>,
    /// What can't be used, in words.
    problems: Vec<String>,
    same_as: Vec<String>,
    #[serde(skip)]
    at: Instant,
}

/// Something that isn't a verdict.
#[derive(Clone, Debug, Serialize)]
struct NoteLine {
    number: u64,
    text: String,
}

/// How a lot stands.
#[derive(Clone, Debug, Serialize)]
struct Lot {
    number: u64,
    lot: Option<String>,
    supplier: Option<String>,
    units: usize,
    conforms: usize,
    fails: usize,
    inconclusive: usize,
}

/// Everything that the page shows.
pub(super) struct Board {
    number: u64,
    folder: String,
    /// Whether there is a record.
    record: bool,
    running: Option<RunningLot>,
    /// What was taken before this run, in a sentence.
    before: Option<String>,
    shown: Option<Shown>,
    tests: VecDeque<Test>,
    pictures: VecDeque<(u64, Arc<str>)>,
    picture_bytes: usize,
    lots: BTreeMap<LotKey, Lot>,
    notes: VecDeque<NoteLine>,
    folder_lost: Option<String>,
}

/// What a browser is told.
#[derive(Serialize)]
struct Message<'a> {
    /// Whether it replaces all that was told before.
    whole: bool,
    folder: &'a str,
    before: Option<&'a str>,
    folder_lost: Option<&'a str>,
    tests_kept: usize,
    shown: Option<&'a Shown>,
    /// How long ago that was.
    shown_seconds_ago: Option<u64>,
    tests: Vec<Told<'a>>,
    lots: Vec<&'a Lot>,
    running: Option<&'a RunningLot>,
    /// Whether earlier tests of a unit can be asked for.
    record: bool,
    notes: &'a VecDeque<NoteLine>,
}

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    test: &'a Test,
    seconds_ago: u64,
}

impl Board {
    pub fn new(start: &Start<'_>, before: Option<String>) -> Self {
        Board {
            number: 0,
            folder: short(start.folder),
            record: start.record.is_some(),
            running: start.running.as_ref().map(RunningLot::of),
            before,
            shown: None,
            tests: VecDeque::new(),
            pictures: VecDeque::new(),
            picture_bytes: 0,
            lots: BTreeMap::new(),
            notes: VecDeque::new(),
            folder_lost: None,
        }
    }

    /// The number of what happened last.
    pub fn number(&self) -> u64 {
        self.number
    }

    /// Takes note of an event; gives its number.
    pub fn take(&mut self, event: &Event) -> u64 {
        match event {
            Event::Taken(file) => self.file(file),
            Event::Unreadable { name, problem } => {
                self.number += 1;
                self.shown = Some(Shown {
                    number: self.number,
                    call: Outcome::Unread.call(),
                    kind: kind(Outcome::Unread),
                    file: short(name),
                    units: 0,
                    unjudged: 0,
                    tests: Vec::new(),
                    problems: vec![words(problem)],
                    same_as: Vec::new(),
                    at: Instant::now(),
                });
            }
            Event::Renamed { from, to } => self.note(format!("{} was renamed to {}; not tested again", short(from), short(to))),
            Event::WrittenAgain { name } => {
                self.note(format!("{} was written again with the same content; not counted again", short(name)));
            }
            Event::LeftAlone { name } => self.note(format!("{} left alone: by its name it is no netlist", short(name))),
            Event::FolderLost(problem) => {
                self.number += 1;
                self.folder_lost = Some(words(problem));
            }
            Event::FolderBack => {
                self.folder_lost = None;
                self.note("the folder can be read again".to_owned());
            }
        }
        self.number
    }

    fn note(&mut self, text: String) {
        self.number += 1;
        self.notes.push_front(NoteLine { number: self.number, text });
        self.notes.truncate(NOTES_KEPT);
    }

    fn file(&mut self, file: &TakenFile) {
        let tested = tests(file, self.number, TESTS_KEPT, UNITS_SHOWN);
        let numbers = tested.iter().take(UNITS_SHOWN).map(|(test, _)| test.number).collect();
        // the first is the worst: it goes in last, so that it is the newest
        for (test, picture) in tested.into_iter().rev() {
            if let Some(picture) = picture {
                self.picture_bytes += picture.len();
                self.pictures.push_back((test.number, picture.into()));
            }
            self.number = self.number.max(test.number);
            self.tests.push_front(test);
        }
        self.tests.truncate(TESTS_KEPT);
        while self.picture_bytes > PICTURES_KEPT
            && let Some((_, gone)) = self.pictures.pop_front()
        {
            self.picture_bytes -= gone.len();
        }
        self.number += 1;
        for (key, count) in &file.lots {
            self.lots.insert(key.clone(), lot(self.number, key, count));
        }
        while self.lots.len() > LOTS_SHOWN
            && let Some(oldest) = self.lots.iter().min_by_key(|(_, lot)| lot.number).map(|(key, _)| key.clone())
        {
            self.lots.remove(&oldest);
        }
        if let Some(running) = &file.running {
            self.running = Some(RunningLot::of(running));
        }
        let problems = file.batches.iter().flat_map(|batch| &batch.problems);
        self.shown = Some(Shown {
            number: self.number,
            call: file.outcome.call(),
            kind: kind(file.outcome),
            file: short(&file.name),
            units: file.units.len(),
            unjudged: file.unjudged,
            tests: numbers,
            problems: problems.take(UNITS_SHOWN).map(words).collect(),
            same_as: file.same_as.iter().take(UNITS_SHOWN).map(|name| short(name)).collect(),
            at: Instant::now(),
        });
    }

    /// A picture that is still kept.
    pub fn picture(&self, number: u64) -> Option<Arc<str>> {
        self.pictures.iter().find(|(own, _)| *own == number).map(|(_, picture)| Arc::clone(picture))
    }

    /// What whoever knows everything up to `since` must still be told, as JSON on one line.
    pub fn message(&self, since: Option<u64>) -> String {
        let known = since.unwrap_or(0);
        let ago = |at: Instant| at.elapsed().as_secs();
        let new = self.tests.iter().take_while(|test| test.number > known);
        let mut lots: Vec<&Lot> = self.lots.values().collect();
        lots.sort_by_key(|lot| std::cmp::Reverse(lot.number));
        let message = Message {
            whole: since.is_none(),
            folder: &self.folder,
            before: self.before.as_deref(),
            folder_lost: self.folder_lost.as_deref(),
            tests_kept: TESTS_KEPT,
            shown: self.shown.as_ref(),
            shown_seconds_ago: self.shown.as_ref().map(|shown| ago(shown.at)),
            tests: new.map(|test| Told { test, seconds_ago: ago(test.at) }).collect(),
            lots,
            running: self.running.as_ref(),
            record: self.record,
            notes: &self.notes,
        };
        // plain data: this can't fail, and an empty message would be ignored
        serde_json::to_string(&message).unwrap_or_default()
    }
}

fn lot(number: u64, key: &LotKey, count: &Count) -> Lot {
    Lot {
        number,
        lot: key.lot.as_deref().map(short),
        supplier: key.supplier.as_deref().map(short),
        units: count.units,
        conforms: count.conforms,
        fails: count.fails,
        inconclusive: count.inconclusive,
    }
}

/// The shape that stands beside the words.
pub(super) fn kind(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Conforms => "conforms",
        Outcome::Fails => "fails",
        Outcome::DoNotConnect => "stop",
        Outcome::CantTell | Outcome::Unread | Outcome::Renamed => "cant-tell",
    }
}

/// A problem on one line, with the line of the file where it shows.
fn words(problem: &Problem) -> String {
    let mut out = String::new();
    if let Some(label) = problem.labels.first() {
        out.push_str(&format!("line {}: ", label.source.position(label.span.start).line));
    }
    out.push_str(&problem.message);
    if let Some(help) = &problem.help {
        out.push_str("; ");
        out.push_str(help);
    }
    short(&out)
}

/// A text made safe to show, at most so long that a page of them stays small.
pub(super) fn short(text: &str) -> String {
    const MOST: usize = 600;
    let clean = visible(text);
    match clean.char_indices().nth(MOST) {
        None => clean.into_owned(),
        Some((end, _)) => format!("{}…", &clean[..end]),
    }
}
