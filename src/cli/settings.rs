//! What holds for the whole run: the options that every command has, and the user's own file of settings behind them.
//!
//! The command line wins. The file is the one of `--config`, else `backshell/config.toml` in the user's folder of
//! configuration (XDG Base Directory Specification 0.8: `$XDG_CONFIG_HOME`, else `$HOME/.config`). None is ever taken from
//! the current folder or from beside a netlist: what comes with a delivery must not set how it is checked. No key can leave
//! out a check, or change a limit.

use std::fmt::Write as _;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

use clap::{Args, ValueEnum};
use serde::{Deserialize, Serialize};
use toml::Spanned;

use crate::finding::Problem;
use crate::report::problem_text_within;
use crate::text::{Source, Span};

use super::input::named_file;

/// Columns that a text may be wrapped to.
const COLUMNS: std::ops::RangeInclusive<i64> = 40..=1000;

/// The columns of texts and problems where nothing is said.
const WIDTH: usize = 100;

/// The options that every command has.
#[derive(Debug, Args)]
#[command(next_help_heading = "In every command")]
pub(super) struct Shared {
    /// Colour: on a terminal (unless NO_COLOR is set), always, or never [default: auto]
    #[arg(long, value_enum, global = true, value_name = "WHEN", display_order = 1000)]
    colour: Option<Colour>,
    /// Break texts for people at so many columns, 40 to 1000; tables, pictures and lines of the input keep their length
    #[arg(long, global = true, value_name = "COLUMNS", display_order = 1001,
        value_parser = clap::value_parser!(i64).range(COLUMNS))]
    width: Option<i64>,
    /// Take settings from this file instead of your own; `backshell config` shows what is in force
    #[arg(long, global = true, value_name = "FILE.toml", display_order = 1002, conflicts_with = "no_config")]
    config: Option<PathBuf>,
    /// Take no settings from any file
    #[arg(long, global = true, display_order = 1003)]
    no_config: bool,
}

/// When to colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
enum Colour {
    /// On a terminal, and never where `NO_COLOR` is set (no-color.org)
    #[default]
    Auto,
    /// Everywhere
    Always,
    /// Nowhere
    Never,
}

/// The file, as it is written.
#[derive(Debug, Default, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct Raw {
    colour: Option<Colour>,
    width: Option<Spanned<i64>>,
    #[serde(default)]
    maps: Vec<Spanned<PathBuf>>,
    record: Option<Spanned<PathBuf>>,
    causes: Option<Spanned<PathBuf>>,
}

/// What is in force.
#[derive(Debug, Default, Serialize)]
pub struct Settings {
    colour: Colour,
    width: Option<usize>,
    /// Folders of cables, where `--maps` names none.
    pub(super) maps: Vec<PathBuf>,
    /// The record, where `--record` names none.
    pub(super) record: Option<PathBuf>,
    /// The file of causes, where `--causes` names none.
    pub(super) causes: Option<PathBuf>,
    /// The file that was read.
    #[serde(skip)]
    file: Option<PathBuf>,
}

static IN_FORCE: OnceLock<Settings> = OnceLock::new();

/// What is in force in this run.
pub(super) fn settings() -> &'static Settings {
    IN_FORCE.get_or_init(Settings::default)
}

impl Shared {
    /// Puts the options and the file in force, once, before the command runs.
    ///
    /// # Errors
    /// A file that can't be used. The options are in force then, too.
    pub(super) fn put_in_force(&self) -> Result<(), Vec<Problem>> {
        let (read, problems) = match self.file().map(|path| Settings::read_file(&path)).transpose() {
            Ok(read) => (read.unwrap_or_default(), Vec::new()),
            Err(problems) => (Settings::default(), problems),
        };
        let width = self.width.and_then(|width| usize::try_from(width).ok());
        let settings = Settings { colour: self.colour.unwrap_or(read.colour), width: width.or(read.width), ..read };
        let _ = IN_FORCE.set(settings);
        if problems.is_empty() { Ok(()) } else { Err(problems) }
    }

    /// The file of settings: the one that was named, else the user's own where there is one.
    fn file(&self) -> Option<PathBuf> {
        if self.no_config {
            return None;
        }
        self.config.clone().or_else(|| own_file().filter(|path| path.exists()))
    }
}

/// Where the user's own file is looked for; relative folders are to be ignored by the specification.
fn own_file() -> Option<PathBuf> {
    let folder = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|folder| folder.is_absolute());
    let folder = folder("XDG_CONFIG_HOME").or_else(|| Some(folder("HOME")?.join(".config")))?;
    Some(folder.join("backshell").join("config.toml"))
}

impl Settings {
    fn read_file(path: &Path) -> Result<Self, Vec<Problem>> {
        let source = named_file(path)?;
        let settings = Settings::read(&source, path.parent().unwrap_or(Path::new("")))?;
        Ok(Settings { file: Some(path.to_owned()), ..settings })
    }

    /// Reads the text of a file of settings; its paths are taken from `folder`.
    ///
    /// # Errors
    /// Every problem of the file, each at its place: what isn't TOML, an unknown key, a value out of range, a path without
    /// anything there.
    pub fn read(source: &Arc<Source>, folder: &Path) -> Result<Self, Vec<Problem>> {
        let raw: Raw = toml::from_str(source.text()).map_err(|error| vec![Problem::toml("the settings", source, &error)])?;
        let mut problems = Vec::new();
        let mut wrong = |span, label: &str, help: &str| problems.push(problem(source, span, label).help(help));
        let width = raw.width.as_ref().and_then(|width| {
            let columns = usize::try_from(*width.get_ref()).ok().filter(|_| COLUMNS.contains(width.get_ref()));
            if columns.is_none() {
                wrong(width.span(), "not a number of columns", "write 40 to 1000");
            }
            columns
        });
        for maps in &raw.maps {
            if !folder.join(maps.get_ref()).is_dir() {
                wrong(maps.span(), "no such folder", "a path is read from the folder of the settings");
            }
        }
        if let Some(causes) = raw.causes.as_ref().filter(|causes| !folder.join(causes.get_ref()).is_file()) {
            wrong(causes.span(), "no such file", "a path is read from the folder of the settings");
        }
        if let Some(record) = raw.record.as_ref().filter(|_| !cfg!(feature = "record")) {
            wrong(record.span(), "this program keeps no record", "it was built without the cargo feature `record`");
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        let from = |path: Spanned<PathBuf>| folder.join(path.into_inner());
        Ok(Settings {
            colour: raw.colour.unwrap_or_default(),
            width,
            maps: raw.maps.into_iter().map(from).collect(),
            record: raw.record.map(from),
            causes: raw.causes.map(from),
            file: None,
        })
    }

    /// Whether the standard output is coloured.
    pub(super) fn colour(&self) -> bool {
        self.colours(io::stdout().is_terminal())
    }

    fn colours(&self, terminal: bool) -> bool {
        match self.colour {
            Colour::Always => true,
            Colour::Never => false,
            Colour::Auto => terminal && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty()),
        }
    }

    /// The columns that were asked for.
    pub(super) fn width(&self) -> Option<usize> {
        self.width
    }

    /// The columns of texts: those that were asked for, or the usual ones.
    pub(super) fn columns(&self) -> usize {
        self.width.unwrap_or(WIDTH)
    }

    /// A problem, as the error stream takes it.
    pub(super) fn problem_text(&self, problem: &Problem) -> String {
        problem_text_within(problem, self.colours(io::stderr().is_terminal()), self.columns())
    }
}

fn problem(source: &Arc<Source>, span: std::ops::Range<usize>, label: &str) -> Problem {
    Problem::new("the settings can't be used").at(source, Span::from(span), label)
}

/// `backshell config`: what is in force, as a file that says the same.
pub(super) fn show(out: &mut impl Write) -> io::Result<u8> {
    let settings = settings();
    let mut text = match &settings.file {
        Some(path) => format!("# from {}, and the command line\n", crate::text::visible(&path.display().to_string())),
        None => "# from the command line alone: there is no file of settings\n".to_owned(),
    };
    match toml::to_string(settings) {
        Ok(written) => text.push_str(&written),
        Err(error) => {
            let _ = writeln!(text, "# can't be written as TOML: {error}");
        }
    }
    out.write_all(text.as_bytes())?;
    Ok(0)
}
