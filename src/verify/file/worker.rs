//! Checks the pieces of a file, unit by unit.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::finding::Problem;
use crate::netlist::{Part, UnitReader, parse_part};
use crate::text::{Digest, Source, Span};

use crate::verify::{Batch, Checker, Head, Options};

use super::names::Names;
use super::parts::{Piece, readable, unit_line};
use super::repeats::{Met, Repeats};
use super::stream::{not_utf8, two_of_a_name};

/// The header of a file, and whether it can be used.
pub(in crate::verify) struct HeadLines {
    head: Head,
    broken: bool,
    /// The digest of the file, where it was asked for.
    digest: Option<Digest>,
}

/// Checks pieces, and keeps what it learns from one to the next.
pub(in crate::verify) struct Worker {
    name: String,
    checker: Checker,
    /// The units that others may be like; none where the reports hold what differs even so.
    repeats: Option<Repeats>,
    later: bool,
    /// How many units the last piece had.
    units: usize,
}

impl Worker {
    pub fn new(name: &str, folder: &Path, options: &Options) -> Self {
        let Options { coverage, wiring, measured, about, long_way, ref own_checks, .. } = *options;
        let repeats = (!(coverage || wiring || measured || about || long_way || !own_checks.is_empty())).then(Repeats::default);
        Worker { name: name.to_owned(), checker: Checker::new(PathBuf::from(folder), options), repeats, later: false, units: 0 }
    }

    /// Problems of the header were reported with the first piece.
    pub fn silence(&mut self) {
        self.later = true;
    }

    pub fn head(&self, first: &Piece, digest: Option<Digest>) -> HeadLines {
        // the header ends at the first unit; only that much is kept
        let end = memchr::memmem::find_iter(&first.bytes, b"unit").find_map(|at| unit_line(&first.bytes, at));
        let (header, _) = readable(first.bytes[..end.unwrap_or(first.bytes.len())].to_vec());
        let netlist = parse_part(&Source::new(self.name.clone(), header), Part::Whole);
        // a fact above the first unit belongs to none, so that none of them is complete
        let stray = end.is_some() && !netlist.facts.is_empty();
        let broken = netlist.head_broken || stray;
        HeadLines { head: Head::of(&netlist), broken, digest }
    }

    pub fn check(&mut self, piece: Piece, head: &HeadLines, names: &Names) -> Batch {
        let (text, bad) = readable(piece.bytes);
        let source = Source::part(self.name.clone(), text, piece.offset, piece.line);
        let (reports, problems) = (Vec::with_capacity(self.units), Vec::new());
        let mut batch = Batch { source: Arc::clone(&source), reports, problems, unjudged: 0, digest: head.digest };
        let mut reader = UnitReader::new(&source, piece.part);
        let text = source.text().as_bytes();
        loop {
            let start = reader.at();
            let mut worth_keeping = None;
            if let Some(repeats) = self.repeats.as_mut().filter(|_| bad.is_empty() && start < text.len()) {
                match repeats.meet(&source, &mut reader, |name, attempt| !names.is_shared(name, attempt)) {
                    Met::Like(report, next) => {
                        if head.broken {
                            batch.unjudged += 1;
                        } else {
                            batch.reports.push(report);
                        }
                        reader.skip_to(next);
                        continue;
                    }
                    Met::New { worth_keeping: outline } => worth_keeping = outline,
                }
            }
            if !reader.next_unit() {
                break;
            }
            self.one(&mut reader, (start, &bad), head, names, worth_keeping, &mut batch);
        }
        self.units = batch.reports.len() + batch.reports.len() / 16;
        let mut problems = reader.take_problems();
        problems.extend(bad.iter().map(|at| not_utf8(&source, *at)));
        problems.append(&mut batch.problems);
        batch.problems = problems;
        // those of another file, such as a map, keep their order among themselves
        batch.problems.sort_by_key(|problem| match problem.labels.first() {
            Some(label) if Arc::ptr_eq(&label.source, &source) => (1, label.span.start),
            _ => (0, 0),
        });
        batch
    }

    /// Checks the unit that was read last, whose line starts at `start`.
    fn one(
        &mut self,
        reader: &mut UnitReader<'_>,
        (start, bad): (usize, &[Span]),
        head: &HeadLines,
        names: &Names,
        worth_keeping: Option<u64>,
        batch: &mut Batch,
    ) {
        let next = u32::try_from(reader.at()).unwrap_or(u32::MAX);
        let netlist = reader.netlist();
        let Some(unit) = netlist.units.first() else { return };
        let (line, attempt) = (unit.line, unit.attempt);
        let shared = netlist.name_of(unit).filter(|name| names.is_shared(name, attempt));
        if let Some(name) = shared {
            self.named_twice(batch, name, line, names.first(name, attempt));
        }
        if shared.is_some() || bad.iter().any(|bad| bad.start >= line.start && bad.start < next) {
            reader.break_unit();
        }
        let netlist = reader.netlist();
        let Some(unit) = netlist.units.first() else { return };
        let report = match (worth_keeping, &mut self.repeats) {
            (Some(outline), Some(repeats)) => {
                let (report, rules) = self.checker.check_and_watch(&head.head, netlist, unit);
                if let (Ok(report), Some(rules)) = (&report, rules) {
                    repeats.keep(outline, (netlist, unit, start), rules, report);
                }
                report
            }
            _ => self.checker.check(&head.head, netlist, unit),
        };
        match report {
            Ok(report) if !head.broken => batch.reports.push(report),
            Ok(_) => batch.unjudged += 1,
            Err(problems) => {
                batch.unjudged += 1;
                batch.problems.extend(problems.into_iter().filter(|problem| !self.later || !concerns_head(problem, &head.head)));
            }
        }
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
