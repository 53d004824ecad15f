//! A whole netlist, with its header lines and what can't be used of it.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use crate::finding::Problem;
use crate::netlist::{Form, Forms, Netlist};

use crate::verify::Head;
use crate::verify::file::stream::{nothing_in, two_of_a_name};
use crate::verify::file::whole_file::{read_file, read_text};

/// A netlist with everything that comparing needs of its file.
#[derive(Debug)]
pub(in super::super) struct Loaded {
    /// Where the paths of cable files start.
    pub(in super::super) folder: PathBuf,
    /// What was read; units that can't be used are marked as broken.
    pub(in super::super) netlist: Netlist,
    /// Its header lines.
    pub(in super::super) head: Head,
    /// What can't be used.
    pub(in super::super) problems: Vec<Problem>,
}

/// Reads a file, `-` the standard input, in the form that it has.
pub(in super::super) fn file(path: &Path, forms: &Forms) -> Result<Loaded, Problem> {
    let name = path.display().to_string();
    let form = forms.of(path);
    let own = path.parent().unwrap_or(Path::new(""));
    let folder = form.header().map_or(own, |header| &header.folder).to_path_buf();
    read_file(path, forms).map(|netlist| loaded(&name, folder, netlist))
}

/// Reads a text that is already in memory.
pub(in super::super) fn text(name: &str, text: &str) -> Result<Loaded, Problem> {
    let netlist = read_text(name, text.as_bytes(), Form::Netlist)?;
    Ok(loaded(name, PathBuf::new(), netlist))
}

fn loaded(name: &str, folder: PathBuf, mut netlist: Netlist) -> Loaded {
    let mut problems = std::mem::take(&mut netlist.problems);
    for unit in &mut netlist.units {
        // what can't be read above the first unit touches them all
        unit.broken |= netlist.head_broken;
    }
    names_once(&mut netlist, &mut problems);
    if netlist.units.is_empty() && problems.is_empty() {
        problems.push(nothing_in(name));
    }
    problems.sort_by_key(|problem| problem.labels.first().map_or((0, 0), |label| (1, label.span.start)));
    let head = Head::of(&netlist);
    Loaded { folder, netlist, head, problems }
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
