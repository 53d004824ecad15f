//! Every reader of input, as a function that takes any bytes and panics where something doesn't hold that must hold for all.
//!
//! `tests/fuzz/main.rs` calls them with what libFuzzer makes up; `tests/suite/fuzz_corpus.rs` with what was kept.

mod compare;
mod files;
mod lot;
mod map;
mod netlist;
mod printout;
mod table;
mod touchstone;
mod words;

use std::path::PathBuf;
use std::sync::{Arc, LazyLock};

use backshell::finding::Problem;
use backshell::report::{JsonReport, Terminal, Writer, problem_text_within};
use backshell::text::Source;
use backshell::verify::{Batch, Options, Outcome};

/// A reader, and the name of its folder in `tests/fuzz/corpus/`.
pub struct Reader {
    pub name: &'static str,
    pub run: fn(&[u8]),
}

pub const ALL: &[Reader] = &[
    Reader { name: "cable", run: map::cable },
    Reader { name: "causes", run: files::causes },
    Reader { name: "check", run: netlist::check },
    Reader { name: "compare", run: compare::compare },
    Reader { name: "connector", run: map::connector },
    Reader { name: "history", run: lot::history },
    Reader { name: "ladder", run: files::ladder },
    Reader { name: "netlist", run: netlist::netlist },
    Reader { name: "part", run: lot::part },
    Reader { name: "printout", run: printout::printout },
    Reader { name: "seen", run: lot::seen },
    Reader { name: "settings", run: files::settings },
    Reader { name: "table", run: table::table },
    Reader { name: "touchstone", run: touchstone::touchstone },
    Reader { name: "words", run: words::words },
];

/// The bytes as text, where they are text.
fn text(bytes: &[u8]) -> Option<&str> {
    std::str::from_utf8(bytes).ok()
}

/// The text as a file of that name.
fn source(name: &str, text: &str) -> Arc<Source> {
    Source::new(name, text)
}

/// The text before and after a line `----`; where there is none, the second is `otherwise`.
fn halves<'t>(text: &'t str, otherwise: &'t str) -> (&'t str, &'t str) {
    text.split_once("----\n").unwrap_or((text, otherwise))
}

/// Every problem can be shown: its labels lie in their sources.
fn show(problems: &[Problem]) {
    for problem in problems {
        assert!(!problem_text_within(problem, false, 100).is_empty());
    }
}

/// What is told to people and to programs about a file that `check` reads.
fn told(check: impl FnOnce(&mut dyn FnMut(Batch)) -> Outcome) -> [String; 2] {
    let (mut people, mut programs) = (Vec::new(), Vec::new());
    {
        let mut terminal = Terminal::new(&mut people, false);
        let mut json = JsonReport::new(&mut programs).unwrap();
        let outcome = check(&mut |batch| {
            terminal.batch("file", &batch).unwrap();
            json.batch("file", &batch).unwrap();
        });
        terminal.finish(&outcome).unwrap();
        json.finish(&outcome).unwrap();
    }
    [people, programs].map(|bytes| String::from_utf8(bytes).unwrap())
}

/// Everything that a report can hold.
fn everything() -> Options {
    Options::default().with_coverage(true).with_wiring(true).with_measured(true).with_lot(true).with_about(true)
}

/// A folder for files of this process. Threads of a test have one each.
static FOLDER: LazyLock<PathBuf> = LazyLock::new(|| {
    let folder = std::env::temp_dir().join(format!("backshell-readers-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    folder
});

/// The bytes as a file, for readers that take one; it is removed afterwards.
fn with_file<T>(name: &str, bytes: &[u8], then: impl FnOnce(&std::path::Path) -> T) -> T {
    let path = FOLDER.join(name);
    std::fs::write(&path, bytes).unwrap();
    let result = then(&path);
    std::fs::remove_file(&path).unwrap();
    result
}
