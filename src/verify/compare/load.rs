//! A whole netlist, with its header lines and what can't be used of it.

use std::collections::HashMap;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};

use crate::finding::Problem;
use crate::netlist::{Netlist, parse};
use crate::text::{Source, Span, visible};

use super::super::Head;
use super::super::parts::{Input, readable};
use super::super::stream::{no_text, not_utf8, nothing_in, two_of_a_name};

/// A netlist with everything that comparing needs of its file.
#[derive(Debug)]
pub(super) struct Loaded {
    /// Where the paths of cable files start.
    pub(super) folder: PathBuf,
    /// What was read; units that can't be used are marked as broken.
    pub(super) netlist: Netlist,
    /// Its header lines.
    pub(super) head: Head,
    /// What can't be used.
    pub(super) problems: Vec<Problem>,
}

/// Reads a file; `-` is the standard input.
pub(super) fn file(path: &Path) -> Result<Loaded, Problem> {
    let name = path.display().to_string();
    let input = Input::open(path).map_err(|why| Problem::new(format!("{}: {why}", visible(&name))))?;
    read(&name, path.parent().unwrap_or(Path::new("")), input)
}

/// Reads a text that is already in memory.
pub(super) fn text(name: &str, text: &str) -> Result<Loaded, Problem> {
    read(name, Path::new(""), Input::Memory(Cursor::new(text.as_bytes().to_vec())))
}

fn read(name: &str, folder: &Path, input: Input) -> Result<Loaded, Problem> {
    let shown = visible(name);
    let mut bytes = Vec::new();
    if let Err(error) = input.take(u64::from(u32::MAX)).read_to_end(&mut bytes) {
        return Err(Problem::new(format!("{shown}: can't be read: {error}")));
    }
    if bytes.len() >= u32::MAX as usize {
        return Err(Problem::new(format!("{shown}: too large to be compared whole (4 GiB or more)")));
    }
    if let Some(problem) = no_text(name, &bytes) {
        return Err(problem);
    }
    let (text, bad) = readable(bytes);
    let source = Source::new(name, text);
    let mut netlist = parse(&source);
    let mut problems = std::mem::take(&mut netlist.problems);
    problems.extend(bad.iter().map(|at| not_utf8(&source, *at)));
    let starts: Vec<u32> = netlist.units.iter().map(|unit| unit.line.start).chain([u32::MAX]).collect();
    for (unit, span) in netlist.units.iter_mut().zip(starts.windows(2)) {
        // what can't be read above the first unit touches them all
        let touched = |bad: &Span| bad.start < starts[0] || (span[0]..span[1]).contains(&bad.start);
        unit.broken |= netlist.head_broken || bad.iter().any(touched);
    }
    names_once(&mut netlist, &mut problems);
    if netlist.units.is_empty() && problems.is_empty() {
        problems.push(nothing_in(name));
    }
    problems.sort_by_key(|problem| problem.labels.first().map_or((0, 0), |label| (1, label.span.start)));
    let head = Head::of(&netlist);
    Ok(Loaded { folder: folder.to_path_buf(), netlist, head, problems })
}

/// Two units of one name can't be told apart: neither is compared.
fn names_once(netlist: &mut Netlist, problems: &mut Vec<Problem>) {
    let mut first: HashMap<&str, usize> = HashMap::new();
    let mut again: Vec<[usize; 2]> = Vec::new();
    for (at, unit) in netlist.units.iter().enumerate() {
        let Some(name) = netlist.name_of(unit) else { continue };
        let met = *first.entry(name).or_insert(at);
        if met != at {
            again.push([met, at]);
        }
    }
    for pair in again {
        let [one, two] = pair.map(|at| (&netlist.source, netlist.units[at].line));
        let name = netlist.name_of(&netlist.units[pair[1]]).unwrap_or_default();
        problems.push(two_of_a_name(name, two, one));
        for at in pair {
            netlist.units[at].broken = true;
        }
    }
}
