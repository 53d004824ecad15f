//! A whole file, in parts: reading, checking and handing over the verdicts in the order of the file.
//!
//! A part ends just before a `unit` line, so that memory depends on the longest unit and not on the file. Parts are
//! checked side by side on the machine's cores.

use std::collections::VecDeque;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc;
use std::thread;

use crate::finding::{Problem, Verdict};
use crate::netlist::{Form, Forms};
use crate::pinmap::Cable;
use crate::text::{Digest, Digester, Source, Span, visible};

use crate::verify::Check;
use crate::verify::UnitReport;

use super::names::{AT_ONCE, Names, Twice, hashes};
use super::parts::{Cutter, Input, Piece};
use super::whole_file::check_whole;
use super::worker::Worker;

/// What the caller may decide about a check.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct Options {
    /// The cable to check against, in place of what the netlist says; a path is taken from the current folder.
    pub cable: Option<String>,
    /// Folders of a user's own cables and connectors.
    pub maps: Vec<PathBuf>,
    /// Cables that are in memory already; they are found by their names before any other.
    pub known: Vec<Arc<Cable>>,
    /// Whether to work out what the facts of each unit show.
    pub coverage: bool,
    /// Whether each report keeps what joins what, for a picture.
    pub wiring: bool,
    /// Whether each report keeps what was measured.
    pub measured: bool,
    /// Whether each report keeps what a lot needs of its unit.
    pub lot: bool,
    /// Whether each report says what the netlist says of the unit itself, and each batch the digest of its file.
    pub about: bool,
    /// Which file is read how.
    pub forms: Forms,
    /// Checks of the caller's own, which run after all others: they can add findings, and take none away. With one, every unit
    /// goes the long way, since nothing is known of what it looks at.
    pub own_checks: Vec<Check>,
    /// Whether every unit goes the long way, even one that is like one before. It changes no report; tests compare both ways.
    pub long_way: bool,
}

impl Options {
    /// The cable to check against, in place of what the netlist says; a path is taken from the current folder.
    #[must_use]
    pub fn with_cable(self, cable: impl Into<String>) -> Self {
        Self { cable: Some(cable.into()), ..self }
    }

    /// One more folder of a user's own cables and connectors.
    #[must_use]
    pub fn with_map(mut self, map: impl Into<PathBuf>) -> Self {
        self.maps.push(map.into());
        self
    }

    /// One more cable that is in memory already; it is found by its name before any other.
    #[must_use]
    pub fn with_known(mut self, known: Arc<Cable>) -> Self {
        self.known.push(known);
        self
    }

    /// Whether to work out what the facts of each unit show.
    #[must_use]
    pub fn with_coverage(self, coverage: bool) -> Self {
        Self { coverage, ..self }
    }

    /// Whether each report keeps what joins what, for a picture.
    #[must_use]
    pub fn with_wiring(self, wiring: bool) -> Self {
        Self { wiring, ..self }
    }

    /// Whether each report keeps what was measured.
    #[must_use]
    pub fn with_measured(self, measured: bool) -> Self {
        Self { measured, ..self }
    }

    /// Whether each report keeps what a lot needs of its unit.
    #[must_use]
    pub fn with_lot(self, lot: bool) -> Self {
        Self { lot, ..self }
    }

    /// Whether each report says what the netlist says of the unit itself, and each batch the digest of its file.
    #[must_use]
    pub fn with_about(self, about: bool) -> Self {
        Self { about, ..self }
    }

    /// Which file is read how.
    #[must_use]
    pub fn with_forms(self, forms: Forms) -> Self {
        Self { forms, ..self }
    }

    /// One more check of the caller's own, which runs after all others: it can add findings, and take none away. With
    /// one, every unit goes the long way, since nothing is known of what it looks at.
    #[must_use]
    pub fn with_own_check(mut self, own_check: Check) -> Self {
        self.own_checks.push(own_check);
        self
    }

    /// Whether every unit goes the long way, even one that is like one before. It changes no report; tests compare both ways.
    #[must_use]
    pub fn with_long_way(self, long_way: bool) -> Self {
        Self { long_way, ..self }
    }
}

/// The verdicts of one part of a file.
#[derive(Debug)]
#[non_exhaustive]
pub struct Batch {
    /// The text that the labels of these units lie in.
    pub source: Arc<Source>,
    /// The verdicts, in the order of the file.
    pub reports: Vec<UnitReport>,
    /// What could not be used.
    pub problems: Vec<Problem>,
    /// How many units have no verdict because of that.
    pub unjudged: usize,
    /// The digest of the whole file as it was read, where it was asked for.
    pub digest: Option<Digest>,
}

impl Batch {
    /// No unit, but these problems, as of something that belongs to no netlist.
    #[must_use]
    pub fn of_problems(problems: Vec<Problem>) -> Self {
        Self { source: Source::new("", ""), reports: Vec::new(), problems, unjudged: 0, digest: None }
    }
}

/// How a file came out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Outcome {
    /// Units that conform.
    pub conforms: usize,
    /// Units that fail.
    pub fails: usize,
    /// Units that can't be decided.
    pub inconclusive: usize,
    /// Units without a verdict, since their input can't be used.
    pub unjudged: usize,
    /// Problems of the input.
    pub problems: usize,
}

impl Outcome {
    /// Units with a verdict.
    #[must_use]
    pub fn units(&self) -> usize {
        self.conforms + self.fails + self.inconclusive
    }

    /// Adds another outcome.
    pub fn add(&mut self, other: Outcome) {
        self.conforms += other.conforms;
        self.fails += other.fails;
        self.inconclusive += other.inconclusive;
        self.unjudged += other.unjudged;
        self.problems += other.problems;
    }

    /// The exit status: 0 where every unit conforms, 1 where one fails or can't be decided, 2 where the input can't be
    /// used.
    #[must_use]
    pub fn status(&self) -> u8 {
        if self.problems > 0 || self.unjudged > 0 || self.units() == 0 { 2 } else { u8::from(self.fails + self.inconclusive > 0) }
    }

    /// How one part of a file came out.
    #[must_use]
    pub fn of(batch: &Batch) -> Self {
        let count = |verdict| batch.reports.iter().filter(|report| report.verdict == verdict).count();
        Outcome {
            conforms: count(Verdict::Conforms),
            fails: count(Verdict::Fails),
            inconclusive: count(Verdict::Inconclusive),
            unjudged: batch.unjudged,
            problems: batch.problems.len(),
        }
    }
}

/// Checks every unit of a text that is already in memory.
pub fn check_text(name: &str, text: &str, options: &Options, mut each: impl FnMut(Batch)) -> Outcome {
    let mut input = Input::Memory(io::Cursor::new(text.as_bytes().to_vec()));
    check_input(name, Path::new(""), &mut input, options, &mut each)
}

/// Checks every unit of a file; `-` is the standard input.
///
/// Verdicts come in the order of the file, a part at a time; memory stays bounded however long the file is, but for the
/// standard input, tables and print-outs, which are kept whole.
pub fn check_file(path: &Path, options: &Options, mut each: impl FnMut(Batch)) -> Outcome {
    let name = path.display().to_string();
    match Input::open(path) {
        Ok(mut input) => match options.forms.of(path) {
            Form::Netlist => check_input(&name, path.parent().unwrap_or(Path::new("")), &mut input, options, &mut each),
            form => check_whole(&name, path, &mut input, form, options, &mut each),
        },
        Err(why) => {
            let problem = Problem::new(format!("{}: {why}", visible(&name)));
            hand_over(no_verdicts(&name, problem), &mut each)
        }
    }
}

/// A batch that only says why there is no verdict.
pub(in crate::verify) fn no_verdicts(name: &str, problem: Problem) -> Batch {
    Batch { source: Source::new(name, ""), reports: Vec::new(), problems: vec![problem], unjudged: 0, digest: None }
}

pub(in crate::verify) fn hand_over(batch: Batch, each: &mut impl FnMut(Batch)) -> Outcome {
    let outcome = Outcome::of(&batch);
    each(batch);
    outcome
}

fn check_input(name: &str, folder: &Path, input: &mut Input, options: &Options, each: &mut impl FnMut(Batch)) -> Outcome {
    let unreadable = |error: io::Error| no_verdicts(name, Problem::new(format!("{}: can't be read: {error}", visible(name))));
    let mut cutter = Cutter::new(input);
    let first = match cutter.next() {
        Ok(Some(piece)) => piece,
        Ok(None) => return Outcome::default(),
        Err(error) => return hand_over(unreadable(error), each),
    };
    if let Some(problem) = no_text(name, &first.bytes) {
        return hand_over(no_verdicts(name, problem), each);
    }
    let mut digester = options.about.then(Digester::default);
    if let Some(digester) = &mut digester {
        digester.take(&first.bytes);
    }
    let mut worker = Worker::new(name, folder, options);
    if cutter.done {
        let head = worker.head(&first, digester.map(Digester::finish));
        let mut search = Twice::with_room_for(0);
        search.take(&hashes(&first.bytes));
        search.needs_another_round();
        let mut names = Names::from(search);
        names.locate(&first);
        let batch = worker.check(first, &head, &names);
        return hand_over(or_empty(name, batch), each);
    }
    // a long file: first every name, then part after part
    let names = match shared_names(cutter, &first, digester.as_mut()) {
        Ok(names) => names,
        Err(error) => return hand_over(unreadable(error), each),
    };
    let head = worker.head(&first, digester.map(Digester::finish));
    if let Err(error) = input.rewind() {
        return hand_over(unreadable(error), each);
    }
    let mut cutter = Cutter::new(input);
    if let Err(error) = cutter.next() {
        return hand_over(unreadable(error), each);
    }
    let mut outcome = hand_over(worker.check(first, &head, &names), each);
    let rest = side_by_side(
        &mut cutter,
        || {
            let mut worker = Worker::new(name, folder, options);
            worker.silence();
            let (head, names) = (&head, &names);
            move |piece| worker.check(piece, head, names)
        },
        |batch, cutter| {
            let source = Arc::clone(&batch.source);
            outcome.add(hand_over(batch, each));
            // where nobody keeps the text, its memory takes the next piece
            if let Some(source) = Arc::into_inner(source) {
                cutter.give_back(source.into_text().into_bytes());
            }
        },
    );
    if let Err(error) = rest {
        outcome.add(hand_over(unreadable(error), each));
    }
    outcome
}

/// A file that begins with bytes that no text in UTF-8 has.
pub(in crate::verify) fn no_text(name: &str, bytes: &[u8]) -> Option<Problem> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Some(Problem::new(format!("{}: this is text in UTF-16, not UTF-8", visible(name))).help(
            "save it once more as UTF-8: a spreadsheet offers \"CSV UTF-8\" among the file types, an editor the encoding",
        ));
    }
    bytes.iter().take(8192).any(|b| *b == 0).then(|| {
        Problem::new(format!("{}: this is not a text file", visible(name)))
            .help("a netlist is plain text in UTF-8; save a spreadsheet or a word processor's file as text first")
    })
}

/// A file without any unit is not a reel in order.
pub(in crate::verify) fn or_empty(name: &str, mut batch: Batch) -> Batch {
    if batch.reports.is_empty() && batch.problems.is_empty() && batch.unjudged == 0 {
        batch.problems.push(nothing_in(name));
    }
    batch
}

/// A file that holds no unit.
pub(in crate::verify) fn nothing_in(name: &str) -> Problem {
    Problem::new(format!("{}: no unit and no fact in this file", visible(name)))
        .help("a netlist needs a `cable` line, and lines such as `A.1 B.12`")
}

/// Bytes that are not UTF-8.
pub(in crate::verify) fn not_utf8(source: &Arc<Source>, at: Span) -> Problem {
    Problem::new("bytes that are not UTF-8").at(source, at, "this can't be read as text")
}

/// Two units of one name: the `unit` line that says it again, and the one that said it first.
pub(in crate::verify) fn two_of_a_name(name: &str, again: (&Arc<Source>, Span), first: (&Arc<Source>, Span)) -> Problem {
    Problem::new(format!("a unit named twice: {}", visible(name)))
        .at(again.0, again.1, "named again here")
        .at(first.0, first.1, "first named here")
        .help("two units of one name can't be told apart; neither gets a verdict")
}

/// The names that units of a file share, whose first piece was cut already, and taken by the digester where there is one; leaves
/// the input anywhere.
fn shared_names(mut cutter: Cutter<'_>, first: &Piece, mut digester: Option<&mut Digester>) -> io::Result<Names> {
    let mut search = Twice::with_room_for(AT_ONCE);
    search.take(&hashes(&first.bytes));
    loop {
        side_by_side(
            &mut cutter,
            || |piece: Piece| (hashes(&piece.bytes), piece.bytes),
            |(hashes, bytes), cutter| {
                search.take(&hashes);
                if let Some(digester) = &mut digester {
                    digester.take(&bytes);
                }
                cutter.give_back(bytes);
            },
        )?;
        digester = None;
        if !search.needs_another_round() {
            break;
        }
        cutter.again()?;
    }
    let mut names = Names::from(search);
    if !names.are_unlike() {
        cutter.again()?;
        while let Some(piece) = cutter.next()? {
            names.locate(&piece);
            cutter.give_back(piece.bytes);
        }
    }
    Ok(names)
}

/// Works on the pieces on every core and gives what comes of them in their order; at most two pieces a core are in memory.
fn side_by_side<W: FnMut(Piece) -> R, R: Send>(
    cutter: &mut Cutter<'_>,
    new_worker: impl Fn() -> W + Sync,
    mut each: impl FnMut(R, &mut Cutter<'_>),
) -> io::Result<()> {
    let cores = thread::available_parallelism().map_or(1, usize::from).min(16);
    let (send, receive) = mpsc::channel::<(Piece, mpsc::SyncSender<R>)>();
    let queue = Arc::new(std::sync::Mutex::new(receive));
    thread::scope(|scope| {
        for _ in 0..cores {
            let queue = Arc::clone(&queue);
            let new_worker = &new_worker;
            scope.spawn(move || {
                let mut work = new_worker();
                loop {
                    let job = match queue.lock() {
                        Ok(queue) => queue.recv(),
                        Err(_) => break,
                    };
                    let Ok((piece, to)) = job else { break };
                    if to.send(work(piece)).is_err() {
                        break;
                    }
                }
            });
        }
        let mut waiting: VecDeque<mpsc::Receiver<R>> = VecDeque::new();
        let result = loop {
            match cutter.next() {
                Ok(Some(piece)) => {
                    let (to, from) = mpsc::sync_channel(1);
                    if send.send((piece, to)).is_err() {
                        break Ok(());
                    }
                    waiting.push_back(from);
                }
                Ok(None) => break Ok(()),
                Err(error) => break Err(error),
            }
            if waiting.len() >= 2 * cores
                && let Some(done) = waiting.pop_front().and_then(|from| from.recv().ok())
            {
                each(done, cutter);
            }
        };
        drop(send);
        for from in waiting {
            if let Ok(done) = from.recv() {
                each(done, cutter);
            }
        }
        result
    })
}
