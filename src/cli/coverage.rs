//! `backshell coverage`.

use std::io::{self, Write};
use std::path::PathBuf;

use clap::Args;

use crate::report::{CoverageReport, coverage_entry, coverage_schema, coverage_text_within, probe_plan_within};
use crate::verify::{Batch, Options, check_file, check_text};

use super::check::Format;
use super::input::Input;
use super::settings::settings;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Netlists; without one, the plan for a whole cable starts from nothing
    #[arg(value_name = "NETLIST", required_unless_present_any = ["cable", "print_schema"])]
    netlists: Vec<PathBuf>,
    #[command(flatten)]
    input: Input,
    /// Print the probe pairs that are left, as lines to fill in
    #[arg(long)]
    plan: bool,
    /// How to report
    #[arg(long, value_enum, default_value_t = Format::Human)]
    format: Format,
    /// Print the JSON Schema of `--format json` and stop
    #[arg(long)]
    print_schema: bool,
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    if arguments.print_schema {
        writeln!(out, "{}", coverage_schema())?;
        return Ok(0);
    }
    let options = match arguments.input.options(&arguments.netlists) {
        Ok(options) => Options { coverage: true, ..options },
        Err(problems) => return super::unusable(&problems),
    };
    let mut seen = Seen { arguments, out, entries: Vec::new(), last: (String::new(), String::new()), status: 0, done: Ok(()) };
    if arguments.netlists.is_empty() {
        check_text("plan", "scope stated\nunit plan\n", &options, |batch| seen.batch("plan", &batch));
    }
    for path in &arguments.netlists {
        check_file(path, &options, |batch| seen.batch(&path.display().to_string(), &batch));
    }
    seen.finish()
}

struct Seen<'a, W: Write> {
    arguments: &'a Arguments,
    out: &'a mut W,
    entries: Vec<crate::report::CoverageEntry>,
    /// The unit that was shown last, and its text without the name: most units of a reel are alike.
    last: (String, String),
    status: u8,
    done: io::Result<()>,
}

impl<W: Write> Seen<'_, W> {
    fn batch(&mut self, file: &str, batch: &Batch) {
        if self.done.is_ok() {
            self.done = self.try_batch(file, batch);
        }
    }

    fn try_batch(&mut self, file: &str, batch: &Batch) -> io::Result<()> {
        for problem in &batch.problems {
            self.status = 2;
            write!(io::stderr().lock(), "{}", settings().problem_text(problem))?;
        }
        for report in &batch.reports {
            let Some(coverage) = report.coverage.as_deref() else { continue };
            let hidden = coverage.rows.iter().any(|row| row.sight != crate::verify::Sight::Seen);
            if hidden || !coverage.joins.whole() || !coverage.apart.whole() || !coverage.parts.whole() {
                self.status = self.status.max(1);
            }
            if self.arguments.plan {
                let cable = self.arguments.netlists.is_empty().then(|| self.arguments.input.cable()).flatten();
                write!(self.out, "{}", probe_plan_within(report, cable, settings().columns()))?;
            } else if self.arguments.format == Format::Json {
                self.entries.extend(coverage_entry(file, report));
            } else {
                let text = coverage_text_within(report, settings().columns());
                let (name, body) = text.split_once(" against ").unwrap_or(("", &text));
                if body == self.last.1 {
                    writeln!(self.out, "{name} as {}", self.last.0)?;
                } else {
                    writeln!(self.out, "{text}")?;
                    self.last = (name.to_owned(), body.to_owned());
                }
            }
        }
        Ok(())
    }

    fn finish(self) -> io::Result<u8> {
        self.done?;
        if self.arguments.format == Format::Json && !self.arguments.plan {
            let report = CoverageReport::new(self.entries);
            writeln!(self.out, "{}", serde_json::to_string_pretty(&report)?)?;
        }
        Ok(self.status)
    }
}
