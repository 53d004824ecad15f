//! What the S-parameters of a unit tell; nothing is read before it is asked for.

use std::cell::OnceCell;
use std::path::{Path, PathBuf};

use crate::netlist::FactKind;

use super::Case;
use super::link_grades::{self, LinkGrade};
use super::signal_files::SignalFiles;

/// What the S-parameters of a unit tell.
#[derive(Debug, Default)]
pub(in crate::verify) struct Signals {
    /// The folder that paths are taken from.
    pub folder: PathBuf,
    files: OnceCell<SignalFiles>,
    grades: OnceCell<Vec<LinkGrade>>,
}

impl Signals {
    pub fn in_folder(folder: &Path) -> Self {
        Signals { folder: folder.to_owned(), ..Signals::default() }
    }

    /// The grades, where they were worked out.
    pub fn into_grades(self) -> Vec<LinkGrade> {
        self.grades.into_inner().unwrap_or_default()
    }
}

impl<'a> Case<'a> {
    /// The Touchstone files that the unit names.
    pub(in crate::verify) fn signal_files(&self) -> &'a SignalFiles {
        let signals = self.evidence.signals;
        let read = || SignalFiles::of(self.netlist, self.unit, &signals.folder, Some((self.bound, self.measured)));
        signals.files.get_or_init(read)
    }

    /// The contacts at which S-parameters were measured; empty, without looking at any file, where the unit names none.
    pub(in crate::verify) fn measured_contacts(&self) -> Vec<u32> {
        if !self.facts().iter().any(|fact| matches!(fact.kind, FactKind::SParameters { .. })) {
            return Vec::new();
        }
        let files = self.signal_files().files.iter();
        let facts = files.filter_map(|file| self.netlist.facts.get(file.fact as usize));
        facts.flat_map(|fact| self.numbers(fact).into_owned()).collect()
    }

    /// The links of which lanes were measured, with the rates that these carry.
    pub(in crate::verify) fn link_grades(&self) -> &'a [LinkGrade] {
        self.evidence.signals.grades.get_or_init(|| link_grades::grades(self))
    }
}
