//! What every command that reads netlists takes: the files, and how each is read.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;

use crate::finding::Problem;
use crate::netlist::{Field, Form, Forms, Header, Rules, TableOptions};
use crate::text::{Source, read_whole, visible};
use crate::verify::Options;

use super::settings::settings;

/// How netlists are read, and what holds for all of them.
#[derive(Debug, Args)]
pub(super) struct Input {
    /// Check against this cable, whatever the netlist says: a catalogue name, or the path of a cable file
    #[arg(long, value_name = "CABLE")]
    cable: Option<String>,
    /// A folder of your own cables and connectors: NAME.toml in it is found as the catalogue's are
    #[arg(long, value_name = "FOLDER")]
    maps: Vec<PathBuf>,
    /// Read every file but a .netlist as a from-to table, as .csv and .tsv are
    #[arg(long, help_heading = "Tables and print-outs", conflicts_with = "rule")]
    table: bool,
    /// The column of a table that holds FIELD: from, to, from-end, to-end, unit, ohm, mohm, wire, gauge, pair, screen, part or note
    #[arg(long, help_heading = "Tables and print-outs", value_name = "FIELD=HEADING", value_parser = column)]
    column: Vec<(Field, String)>,
    /// The ends that bare pins in the columns `from` and `to` belong to, as in `A,B`
    #[arg(long, help_heading = "Tables and print-outs", value_name = "FROM,TO", value_parser = ends)]
    ends: Option<(String, String)>,
    /// Figures in tables have a comma before the decimals
    #[arg(long, help_heading = "Tables and print-outs")]
    decimal_comma: bool,
    /// Read print-outs (files that end neither in .netlist nor in .csv or .tsv) by the rules of this file
    #[arg(long, help_heading = "Tables and print-outs", value_name = "FILE.toml")]
    rule: Option<PathBuf>,
    /// A netlist of header lines (cable, length, source …) that hold for the tables and print-outs
    #[arg(long, help_heading = "Tables and print-outs", value_name = "FILE.netlist", conflicts_with = "set")]
    header: Option<PathBuf>,
    /// A header line that holds for the tables and print-outs, as in `--set "length 2 m"`
    #[arg(long, help_heading = "Tables and print-outs", value_name = "LINE")]
    set: Vec<String>,
}

fn column(written: &str) -> Result<(Field, String), String> {
    let (name, heading) = written.split_once('=').ok_or("expected FIELD=HEADING, as in `from=Pin A`")?;
    let field = Field::parse(name)
        .ok_or_else(|| format!("no field `{}`; the fields are {}", visible(name), Field::ALL.map(Field::name).join(", ")))?;
    if heading.trim().is_empty() {
        return Err("expected a heading after `=`, as in `from=Pin A`".to_owned());
    }
    Ok((field, heading.trim().to_owned()))
}

fn ends(written: &str) -> Result<(String, String), String> {
    let (from, to) = written.split_once(',').ok_or("expected two ends, as in `A,B`")?;
    let (from, to) = (from.trim(), to.trim());
    match [from, to].into_iter().find(|end| !TableOptions::is_end(end)) {
        Some(wrong) => Err(format!("`{}` isn't an end: a letter, then letters, digits, `_` or `-`", visible(wrong))),
        None => Ok((from.to_owned(), to.to_owned())),
    }
}

impl Input {
    /// The cable that was named on the command line.
    pub(super) fn cable(&self) -> Option<&str> {
        self.cable.as_deref()
    }

    /// Whether files that don't end in `.netlist`, `.csv` or `.tsv` are read too.
    pub(super) fn reads_all(&self) -> bool {
        self.table || self.rule.is_some()
    }

    /// What holds for a check of these files.
    ///
    /// # Errors
    /// A rule file or header that can't be used, or an option that none of the files has a use for.
    pub(super) fn options(&self, files: &[PathBuf]) -> Result<Options, Vec<Problem>> {
        self.options_for(Some(files))
    }

    /// What holds for a check of files that aren't there yet.
    ///
    /// # Errors
    /// A rule file or header that can't be used.
    pub(super) fn options_for_later(&self) -> Result<Options, Vec<Problem>> {
        self.options_for(None)
    }

    fn options_for(&self, files: Option<&[PathBuf]>) -> Result<Options, Vec<Problem>> {
        let maps = if self.maps.is_empty() { &settings().maps } else { &self.maps };
        let mut problems: Vec<Problem> = maps.iter().filter_map(|folder| no_folder(folder)).collect();
        let rules = self.rule.as_deref().map(|path| named_file(path).and_then(|source| Rules::read(&source)));
        let header = match (&self.header, self.set.is_empty()) {
            (Some(path), _) => {
                let folder = path.parent().unwrap_or(Path::new(""));
                Some(named_file(path).and_then(|source| Header::read(&source, folder)))
            }
            (None, false) => Some(Header::read(&Source::new("--set", self.set.join("\n")), Path::new(""))),
            (None, true) => None,
        };
        let rules = rules.and_then(|read| read.map_err(|why| problems.extend(why)).ok());
        let header = header.and_then(|read| read.map_err(|why| problems.extend(why)).ok());
        let forms = Forms {
            table: TableOptions { columns: self.column.clone(), ends: self.ends.clone(), decimal_comma: self.decimal_comma },
            all_tables: self.table,
            rules: rules.map(Arc::new),
            header: header.map(Arc::new),
        };
        if let Some(files) = files.filter(|_| problems.is_empty()) {
            problems = self.without_use(&forms, files);
        }
        if problems.is_empty() {
            Ok(Options { cable: self.cable.clone(), maps: maps.clone(), forms, ..Options::default() })
        } else {
            Err(problems)
        }
    }

    /// Options that none of the files has a use for: whoever gave one expects that it holds.
    fn without_use(&self, forms: &Forms, files: &[PathBuf]) -> Vec<Problem> {
        let count = |test: fn(&Form<'_>) -> bool| files.iter().filter(|path| test(&forms.of(path))).count();
        let tables = count(|form| matches!(form, Form::Table(..)));
        let apart = count(|form| !matches!(form, Form::Netlist));
        let for_tables = !self.column.is_empty() || self.ends.is_some() || self.decimal_comma || self.table;
        let mut problems = Vec::new();
        if for_tables && tables == 0 {
            problems.push(
                Problem::new(
                    "`--table`, `--column`, `--ends` and `--decimal-comma` are for from-to tables, and no file is read as one",
                )
                .help("a table ends in .csv or .tsv; `--table` reads other files as tables too"),
            );
        }
        if forms.rules.is_some() && apart == tables {
            problems.push(Problem::new("no file is read by the rules of `--rule`").help(
                "files that end in .netlist, .csv or .tsv are read as what they are: rename the print-out, to .txt or .log",
            ));
        }
        if forms.header.is_some() && apart == 0 {
            problems.push(
                Problem::new("`--header` and `--set` are for tables and print-outs, and no file is read as one")
                    .help("a netlist has header lines of its own: write them there"),
            );
        }
        problems
    }
}

/// A folder of `--maps` that isn't there: whoever names one expects that it is looked into.
fn no_folder(folder: &Path) -> Option<Problem> {
    let shown = folder.display().to_string();
    (!folder.is_dir()).then(|| Problem::new(format!("--maps {}: no such folder", visible(&shown))))
}

/// A file that an option names.
pub(super) fn named_file(path: &Path) -> Result<Arc<Source>, Vec<Problem>> {
    let name = path.display().to_string();
    match read_whole(path) {
        Ok(text) => Ok(Source::new(name, text)),
        Err(why) => Err(vec![Problem::new(format!("{} {why}", visible(&name)))]),
    }
}
