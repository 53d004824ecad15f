//! A table or a print-out: read whole, then checked unit by unit.

use std::collections::HashSet;
use std::io::{self, Read};
use std::path::Path;
use std::sync::Arc;

use crate::finding::Problem;
use crate::netlist::{Form, Forms, Netlist, read};
use crate::text::{Digest, Source, Span, visible};

use crate::verify::{Batch, Checker, Head, Options, Outcome};

use super::parts::{Input, readable};
use super::stream::{hand_over, no_text, no_verdicts, or_empty};

/// How many units are handed over at a time.
const UNITS: usize = 512;

/// The longest file whose places fit a span.
const MOST_BYTES: usize = u32::MAX as usize - 1;

/// Reads a whole file, `-` the standard input, in the form that it has; memory grows with the file.
///
/// Units that share a name are not looked for in a file of the netlist language.
///
/// # Errors
/// A file that can't be read, or is no text.
pub fn read_file(path: &Path, forms: &Forms) -> Result<Netlist, Problem> {
    let name = path.display().to_string();
    let input = Input::open(path).map_err(|why| Problem::new(format!("{}: {why}", visible(&name))))?;
    read_whole(&name, input, forms.of(path), false).map(|(netlist, _)| netlist)
}

/// Reads a text that is already in memory.
pub(in crate::verify) fn read_text(name: &str, text: &[u8], form: Form<'_>) -> Result<Netlist, Problem> {
    read_whole(name, text, form, false).map(|(netlist, _)| netlist)
}

/// The netlist and, where it is asked for, the digest of the bytes that it was read from.
fn read_whole(name: &str, mut input: impl Read, form: Form<'_>, with_digest: bool) -> Result<(Netlist, Option<Digest>), Problem> {
    let mut bytes = Vec::new();
    input
        .read_to_end(&mut bytes)
        .map_err(|error: io::Error| Problem::new(format!("{}: can't be read: {error}", visible(name))))?;
    if let Some(problem) = no_text(name, &bytes) {
        return Err(problem);
    }
    if bytes.len() > MOST_BYTES {
        let problem = Problem::new(format!("{}: larger than 4 GiB", visible(name)));
        return Err(problem.help("a table is read whole: hand it over in parts, each with its heading"));
    }
    let digest = with_digest.then(|| Digest::of(&bytes));
    let (text, bad) = readable(bytes);
    Ok((read(&Source::new(name, text), form, &bad), digest))
}

/// Checks every unit of a table or a print-out; memory grows with the file.
pub(in crate::verify) fn check_whole(
    name: &str,
    path: &Path,
    input: &mut Input,
    form: Form<'_>,
    options: &Options,
    each: &mut impl FnMut(Batch),
) -> Outcome {
    let (mut netlist, digest) = match read_whole(name, input, form, options.about) {
        Ok(read) => read,
        Err(problem) => return hand_over(no_verdicts(name, problem), each),
    };
    let own = path.parent().unwrap_or(Path::new(""));
    let folder = form.header().map_or(own, |header| &header.folder);
    let mut checker = Checker::new(folder.to_path_buf(), options);
    let head = Head::of(&netlist);
    let unread = std::mem::take(&mut netlist.problems);
    // what was said of a place when it was read isn't said again when the map doesn't know it
    let said: HashSet<Span> = unread.iter().flat_map(|problem| &problem.labels).map(|label| label.span).collect();
    let is_new = |problem: &Problem| problem.labels.first().is_none_or(|label| !said.contains(&label.span));
    let mut outcome = Outcome::default();
    let mut units = netlist.units.chunks(UNITS).peekable();
    let batch = || Batch { source: Arc::clone(&netlist.source), reports: Vec::new(), problems: Vec::new(), unjudged: 0, digest };
    let mut last = batch();
    while let Some(some) = units.next() {
        for unit in some {
            match checker.check(&head, &netlist, unit) {
                Ok(report) if !netlist.head_broken => last.reports.push(report),
                Ok(_) => last.unjudged += 1,
                Err(problems) => {
                    last.unjudged += 1;
                    last.problems.extend(problems.into_iter().filter(is_new));
                }
            }
        }
        if units.peek().is_some() {
            outcome.add(hand_over(std::mem::replace(&mut last, batch()), each));
        }
    }
    // what was counted only has no place, and comes last
    last.problems.extend(unread);
    last.problems.sort_by_key(|problem| match problem.labels.first() {
        Some(label) if Arc::ptr_eq(&label.source, &netlist.source) => (1, label.span.start),
        Some(_) => (0, 0),
        None => (2, 0),
    });
    outcome.add(hand_over(or_empty(name, last), each));
    outcome
}
