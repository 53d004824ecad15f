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
use crate::netlist::{Form, Forms, Part, parse_part};
use crate::pinmap::Cable;
use crate::text::{Source, Span, visible};

use super::parts::{Cutter, Input, Names, Piece, name_hash, readable, unit_line};
use super::whole_file::check_whole;
use super::{Checker, Head, UnitReport};

/// What the caller may decide about a check.
#[derive(Clone, Debug, Default)]
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
    /// Whether each report keeps the record of its unit, for a lot.
    pub record: bool,
    /// Which file is read how.
    pub forms: Forms,
}

/// The verdicts of one part of a file.
#[derive(Debug)]
pub struct Batch {
    /// The text that the labels of these units lie in.
    pub source: Arc<Source>,
    /// The verdicts, in the order of the file.
    pub reports: Vec<UnitReport>,
    /// What could not be used.
    pub problems: Vec<Problem>,
    /// How many units have no verdict because of that.
    pub unjudged: usize,
}

/// How a file came out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
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
pub(super) fn no_verdicts(name: &str, problem: Problem) -> Batch {
    Batch { source: Source::new(name, ""), reports: Vec::new(), problems: vec![problem], unjudged: 0 }
}

pub(super) fn hand_over(batch: Batch, each: &mut impl FnMut(Batch)) -> Outcome {
    let outcome = Outcome::of(&batch);
    each(batch);
    outcome
}

fn check_input(name: &str, folder: &Path, input: &mut Input, options: &Options, each: &mut impl FnMut(Batch)) -> Outcome {
    let unreadable = |error: io::Error| no_verdicts(name, Problem::new(format!("{}: can't be read: {error}", visible(name))));
    let mut names = Names::default();
    let mut cutter = Cutter::new(input);
    let first = match cutter.next() {
        Ok(Some(piece)) => piece,
        Ok(None) => return Outcome::default(),
        Err(error) => return hand_over(unreadable(error), each),
    };
    if let Some(problem) = no_text(name, &first.bytes) {
        return hand_over(no_verdicts(name, problem), each);
    }
    names.scan(&first);
    let mut worker = Worker::new(name, folder, options);
    if cutter.done {
        if names.has_suspects() {
            names.compare(&first);
        }
        let head = worker.head(&first);
        let batch = worker.check(first, head, &names);
        return hand_over(or_empty(name, batch), each);
    }
    // a long file: first every name, then part after part
    loop {
        match cutter.next() {
            Ok(Some(piece)) => names.scan(&piece),
            Ok(None) => break,
            Err(error) => return hand_over(unreadable(error), each),
        }
    }
    if names.has_suspects()
        && let Err(error) = compare_names(input, &mut names)
    {
        return hand_over(unreadable(error), each);
    }
    if let Err(error) = input.rewind() {
        return hand_over(unreadable(error), each);
    }
    let head = worker.head(&first);
    let mut cutter = Cutter::new(input);
    if let Err(error) = cutter.next() {
        return hand_over(unreadable(error), each);
    }
    let mut outcome = hand_over(worker.check(first, Arc::clone(&head), &names), each);
    let rest = side_by_side(
        &mut cutter,
        &head,
        &names,
        || Worker::new(name, folder, options),
        |batch| {
            let one = hand_over(batch, each);
            outcome.add(one);
        },
    );
    if let Err(error) = rest {
        outcome.add(hand_over(unreadable(error), each));
    }
    outcome
}

/// Goes through the input once more, for names that may be alike.
fn compare_names(input: &mut Input, names: &mut Names) -> io::Result<()> {
    input.rewind()?;
    let mut cutter = Cutter::new(input);
    while let Some(piece) = cutter.next()? {
        names.compare(&piece);
    }
    Ok(())
}

/// A file that begins with bytes that no text in UTF-8 has.
pub(super) fn no_text(name: &str, bytes: &[u8]) -> Option<Problem> {
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
pub(super) fn or_empty(name: &str, mut batch: Batch) -> Batch {
    if batch.reports.is_empty() && batch.problems.is_empty() && batch.unjudged == 0 {
        batch.problems.push(nothing_in(name));
    }
    batch
}

/// A file that holds no unit.
pub(super) fn nothing_in(name: &str) -> Problem {
    Problem::new(format!("{}: no unit and no fact in this file", visible(name)))
        .help("a netlist needs a `cable` line, and lines such as `A.1 B.12`")
}

/// Bytes that are not UTF-8.
pub(super) fn not_utf8(source: &Arc<Source>, at: Span) -> Problem {
    Problem::new("bytes that are not UTF-8").at(source, at, "this can't be read as text")
}

/// Two units of one name: the `unit` line that says it again, and the one that said it first.
pub(super) fn two_of_a_name(name: &str, again: (&Arc<Source>, Span), first: (&Arc<Source>, Span)) -> Problem {
    Problem::new(format!("a unit named twice: {}", visible(name)))
        .at(again.0, again.1, "named again here")
        .at(first.0, first.1, "first named here")
        .help("two units of one name can't be told apart; neither gets a verdict")
}

/// Checks the pieces on every core and gives the batches in their order; at most two pieces a core are in memory.
fn side_by_side(
    cutter: &mut Cutter<'_>,
    head: &Arc<HeadLines>,
    names: &Names,
    new_worker: impl Fn() -> Worker + Sync,
    mut each: impl FnMut(Batch),
) -> io::Result<()> {
    let cores = thread::available_parallelism().map_or(1, usize::from).min(16);
    let (send, receive) = mpsc::channel::<(Piece, mpsc::SyncSender<Batch>)>();
    let queue = Arc::new(std::sync::Mutex::new(receive));
    thread::scope(|scope| {
        for _ in 0..cores {
            let queue = Arc::clone(&queue);
            let new_worker = &new_worker;
            scope.spawn(move || {
                let mut worker = new_worker();
                worker.silence();
                loop {
                    let job = match queue.lock() {
                        Ok(queue) => queue.recv(),
                        Err(_) => break,
                    };
                    let Ok((piece, to)) = job else { break };
                    let batch = worker.check(piece, Arc::clone(head), names);
                    if to.send(batch).is_err() {
                        break;
                    }
                }
            });
        }
        let mut waiting: VecDeque<mpsc::Receiver<Batch>> = VecDeque::new();
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
                && let Some(batch) = waiting.pop_front().and_then(|from| from.recv().ok())
            {
                each(batch);
            }
        };
        drop(send);
        for from in waiting {
            if let Ok(batch) = from.recv() {
                each(batch);
            }
        }
        result
    })
}

/// The header of a file, and whether it can be used.
struct HeadLines {
    head: Head,
    broken: bool,
}

/// Checks pieces.
struct Worker {
    name: String,
    checker: Checker,
    later: bool,
}

impl Worker {
    fn new(name: &str, folder: &Path, options: &Options) -> Self {
        Worker { name: name.to_owned(), checker: Checker::new(PathBuf::from(folder), options), later: false }
    }

    /// Problems of the header were reported with the first piece.
    fn silence(&mut self) {
        self.later = true;
    }

    fn head(&self, first: &Piece) -> Arc<HeadLines> {
        let (text, _) = readable(first.bytes.clone());
        // the header ends at the first unit; only that much is kept
        let end = memchr::memmem::find_iter(text.as_bytes(), b"unit").find_map(|at| unit_line(text.as_bytes(), at));
        let header = &text[..end.unwrap_or(text.len())];
        let netlist = parse_part(&Source::new(self.name.clone(), header), Part::Whole);
        // a fact above the first unit belongs to none, so that none of them is complete
        let stray = end.is_some() && !netlist.facts.is_empty();
        let broken = netlist.head_broken || stray;
        Arc::new(HeadLines { head: Head::of(&netlist), broken })
    }

    fn check(&mut self, piece: Piece, head: Arc<HeadLines>, names: &Names) -> Batch {
        let (text, bad) = readable(piece.bytes);
        let source = Source::part(self.name.clone(), text, piece.offset, piece.line);
        let mut netlist = parse_part(&source, piece.part);
        let mut problems = std::mem::take(&mut netlist.problems);
        for at in &bad {
            problems.push(not_utf8(&source, *at));
        }
        let mut batch = Batch { source: Arc::clone(&source), reports: Vec::new(), problems, unjudged: 0 };
        batch.reports.reserve(netlist.units.len());
        for at in 0..netlist.units.len() {
            let (attempt, line) = (netlist.units[at].attempt, netlist.units[at].line);
            let name = netlist.name_of(&netlist.units[at]);
            let hash = name.map(|name| name_hash(name.as_bytes(), attempt));
            if let Some(hash) = hash.filter(|hash| names.again.contains(hash)) {
                self.named_twice(&mut batch, name.unwrap_or_default(), line, names.first.get(&hash).copied());
                netlist.units[at].broken = true;
            }
            let next = netlist.units.get(at + 1).map_or(u32::MAX, |next| next.line.start);
            let unit = &netlist.units[at];
            if bad.iter().any(|bad| bad.start >= unit.line.start && bad.start < next) {
                netlist.units[at].broken = true;
            }
            match self.checker.check(&head.head, &netlist, &netlist.units[at]) {
                Ok(report) if !head.broken => batch.reports.push(report),
                Ok(_) => batch.unjudged += 1,
                Err(problems) => {
                    batch.unjudged += 1;
                    batch
                        .problems
                        .extend(problems.into_iter().filter(|problem| !self.later || !concerns_head(problem, &head.head)));
                }
            }
        }
        // those of another file, such as a map, keep their order among themselves
        batch.problems.sort_by_key(|problem| match problem.labels.first() {
            Some(label) if Arc::ptr_eq(&label.source, &source) => (1, label.span.start),
            _ => (0, 0),
        });
        batch
    }

    fn named_twice(&self, batch: &mut Batch, name: &str, line: Span, first: Option<(u64, u64)>) {
        let Some((offset, lines_before)) = first else { return };
        if batch.source.position(line.start).line == lines_before + 1 {
            return; // this is the first of them
        }
        // the first may lie in another part: its line reads like this one
        let text = batch.source.slice(line).to_owned();
        let len = text.len();
        let earlier = Source::part(self.name.clone(), text, offset, lines_before);
        let problem = two_of_a_name(name, (&batch.source, line), (&earlier, Span::new(0, len)));
        batch.problems.push(problem);
    }
}

fn concerns_head(problem: &Problem, head: &Head) -> bool {
    problem.labels.first().is_none_or(|label| Arc::ptr_eq(&label.source, &head.source))
        || problem.message.starts_with("no cable line")
}
