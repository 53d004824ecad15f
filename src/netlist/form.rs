//! The forms in which a netlist arrives: the language itself, a from-to table, the print-out of a tester.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span};

use super::printout;
use super::rules::Rules;
use super::table::{self, TableOptions, not_text};
use super::{Netlist, Settings, parse};

/// How one file is to be read.
#[derive(Clone, Copy, Debug)]
#[non_exhaustive]
pub enum Form<'f> {
    /// The netlist language.
    Netlist,
    /// A from-to table, with the header lines that go with it.
    Table(&'f TableOptions, Option<&'f Header>),
    /// A print-out, read by rules, with the header lines that go with it.
    PrintOut(&'f Rules, Option<&'f Header>),
}

impl<'f> Form<'f> {
    /// The header lines that were given apart.
    #[must_use]
    pub fn header(&self) -> Option<&'f Header> {
        match *self {
            Form::Netlist => None,
            Form::Table(_, header) | Form::PrintOut(_, header) => header,
        }
    }
}

/// Which file is read how.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct Forms {
    /// How tables are read.
    pub table: TableOptions,
    /// True where every file but a `.netlist` is a table.
    pub all_tables: bool,
    /// How print-outs are read.
    pub rules: Option<Arc<Rules>>,
    /// The header lines of tables and print-outs, which can't state them.
    pub header: Option<Arc<Header>>,
}

impl Forms {
    /// How tables are read.
    #[must_use]
    pub fn with_table(self, table: TableOptions) -> Self {
        Self { table, ..self }
    }

    /// True where every file but a `.netlist` is a table.
    #[must_use]
    pub fn with_all_tables(self, all_tables: bool) -> Self {
        Self { all_tables, ..self }
    }

    /// How print-outs are read.
    #[must_use]
    pub fn with_rules(self, rules: Arc<Rules>) -> Self {
        Self { rules: Some(rules), ..self }
    }

    /// The header lines of tables and print-outs, which can't state them.
    #[must_use]
    pub fn with_header(self, header: Arc<Header>) -> Self {
        Self { header: Some(header), ..self }
    }

    /// How a file is read: `.netlist` is the language, `.csv` and `.tsv` are tables, and whatever else is a print-out
    /// where there are rules, or else the language.
    #[must_use]
    pub fn of(&self, path: &Path) -> Form<'_> {
        let header = self.header.as_deref();
        match (Ending::of(path), &self.rules) {
            (Some(Ending::Netlist), _) => Form::Netlist,
            (Some(Ending::Table), _) => Form::Table(&self.table, header),
            _ if self.all_tables => Form::Table(&self.table, header),
            (_, Some(rules)) => Form::PrintOut(rules, header),
            (_, None) => Form::Netlist,
        }
    }
}

/// What the name of a file says of its form.
#[derive(Clone, Copy)]
enum Ending {
    Netlist,
    Table,
}

impl Ending {
    fn of(path: &Path) -> Option<Self> {
        let extension = path.extension().and_then(OsStr::to_str).map(str::to_ascii_lowercase);
        match extension.as_deref() {
            Some("netlist") => Some(Ending::Netlist),
            Some("csv" | "tsv") => Some(Ending::Table),
            _ => None,
        }
    }
}

/// Whether a file is named as a netlist or a table is: it ends in `.netlist`, `.csv` or `.tsv`, in capitals or not.
#[must_use]
pub fn is_named_as_input(path: &Path) -> bool {
    Ending::of(path).is_some()
}

/// Header lines that stand apart from the facts.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Header {
    /// The text that their spans lie in.
    pub source: Arc<Source>,
    /// What they say.
    pub settings: Settings,
    /// The folder that the path of a cable file is taken from.
    pub folder: PathBuf,
}

impl Header {
    /// Reads header lines, as they stand at the top of a netlist.
    ///
    /// # Errors
    /// What can't be read, or is no header line.
    pub fn read(source: &Arc<Source>, folder: &Path) -> Result<Self, Vec<Problem>> {
        let mut netlist = parse(source);
        if let Some(unit) = netlist.units.first() {
            let problem = Problem::new("only header lines can stand here")
                .at(source, unit.line, "this belongs to a unit")
                .help("the units and their facts come from the table or the print-out");
            netlist.problems.push(problem);
        }
        if !netlist.problems.is_empty() {
            return Err(netlist.problems);
        }
        Ok(Header { source: Arc::clone(source), settings: netlist.head, folder: folder.to_path_buf() })
    }
}

/// Reads a whole text in its form. `bad` lists the places whose bytes are no text; what they touch has no verdict.
#[must_use]
pub fn read(source: &Arc<Source>, form: Form<'_>, bad: &[Span]) -> Netlist {
    match form {
        Form::Netlist => {
            let mut netlist = parse(source);
            for at in bad {
                netlist.problems.push(not_text(source, *at));
                match netlist.units.iter_mut().rfind(|unit| unit.line.start <= at.start) {
                    Some(unit) => unit.broken = true,
                    None => netlist.head_broken = true,
                }
            }
            netlist
        }
        Form::Table(options, header) => table::read(source, options, header, bad),
        Form::PrintOut(rules, header) => printout::read(source, rules, header, bad),
    }
}
