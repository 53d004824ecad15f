//! `backshell diagnose`.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use crate::diagnosis::{Claim, Model, Statement, gather, infer, observed_list};
use crate::finding::{Problem, Verdict};
use crate::report::{DiagnosisEntry, DiagnosisReport, diagnosis_entry, diagnosis_schema, diagnosis_text, diagnosis_text_within};
use crate::text::visible;
use crate::verify::{Batch, Options, UnitReport, check_file};

use super::check::Format;
use super::input::{Input, named_file};
use super::settings::settings;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Netlists, from-to tables (.csv, .tsv) or print-outs of cables that ring out and yet fail; `-` reads the standard input
    #[arg(value_name = "NETLIST", required_unless_present_any = ["print_schema", "print_causes"])]
    netlists: Vec<PathBuf>,
    #[command(flatten)]
    input: Input,
    /// Only this unit
    #[arg(long, value_name = "NAME")]
    unit: Option<String>,
    /// Something that was seen at the link, as in `swap=cured`; `list` shows what can be said
    #[arg(long, value_name = "WORD=VALUE", value_parser = observed)]
    observed: Vec<Observed>,
    /// Priors and likelihoods of your own, in place of those that come with the program
    #[arg(long, value_name = "FILE.toml")]
    causes: Option<PathBuf>,
    /// Print the file of causes that comes with the program, to change it, and stop
    #[arg(long)]
    print_causes: bool,
    /// How to report
    #[arg(long, value_enum, default_value_t = Format::Human)]
    format: Format,
    /// Print the JSON Schema of `--format json` and stop
    #[arg(long)]
    print_schema: bool,
}

/// What `--observed` was given.
#[derive(Clone, Debug)]
enum Observed {
    List,
    Said(Statement),
}

fn observed(text: &str) -> Result<Observed, String> {
    if text == "list" {
        return Ok(Observed::List);
    }
    let said = Statement::parse(text).map(Observed::Said);
    said.ok_or_else(|| "expected WORD=VALUE, as in `swap=cured`, or `list`".to_owned())
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    if arguments.print_schema {
        writeln!(out, "{}", diagnosis_schema())?;
        return Ok(0);
    }
    if arguments.print_causes {
        write!(out, "{}", Model::embedded_text())?;
        return Ok(0);
    }
    let read = match arguments.causes.as_ref().or(settings().causes.as_ref()) {
        Some(path) => named_file(path).and_then(|source| Model::read(&source)),
        None => Model::embedded(),
    };
    let model = match read {
        Ok(model) => model,
        Err(problems) => return super::unusable(&problems),
    };
    if arguments.observed.iter().any(|said| matches!(said, Observed::List)) {
        write!(out, "{}", observed_list(&model, settings().columns()))?;
        return Ok(0);
    }
    let options = match arguments.input.options(&arguments.netlists) {
        Ok(options) => Options { coverage: true, wiring: true, measured: true, ..options },
        Err(problems) => return super::unusable(&problems),
    };
    let mut seen = Seen { arguments, model: &model, out, entries: Vec::new(), units: 0, status: 0, done: Ok(()) };
    for path in &arguments.netlists {
        check_file(path, &options, |batch| seen.batch(path, &batch));
    }
    seen.finish()
}

struct Seen<'a, W: Write> {
    arguments: &'a Arguments,
    model: &'a Model,
    out: &'a mut W,
    entries: Vec<DiagnosisEntry>,
    units: usize,
    status: u8,
    done: io::Result<()>,
}

impl<W: Write> Seen<'_, W> {
    fn batch(&mut self, path: &Path, batch: &Batch) {
        if self.done.is_ok() {
            self.done = self.try_batch(path, batch);
        }
    }

    fn try_batch(&mut self, path: &Path, batch: &Batch) -> io::Result<()> {
        self.complain(&batch.problems)?;
        for report in &batch.reports {
            let wanted = self.arguments.unit.as_ref().is_none_or(|unit| report.unit.as_ref() == Some(unit));
            if wanted {
                self.units += 1;
                self.unit(path, report)?;
            }
        }
        Ok(())
    }

    fn unit(&mut self, path: &Path, report: &UnitReport) -> io::Result<()> {
        let file = path.display().to_string();
        if report.is_drawing {
            let name = report.unit.as_deref().map_or_else(|| "the unit".into(), visible);
            let problem =
                Problem::new(format!("{}: {name} is a drawing: only a cable that was measured can be diagnosed", visible(&file)));
            return self.complain(&[problem.help("measure it, and say `source measured`")]);
        }
        let said: Vec<Statement> = self
            .arguments
            .observed
            .iter()
            .filter_map(|observed| match observed {
                Observed::Said(said) => Some(said.clone()),
                Observed::List => None,
            })
            .collect();
        #[cfg(feature = "signal")]
        if let Some(measured) = report.measured.as_deref() {
            self.complain(&measured.problems)?;
        }
        #[cfg(feature = "signal")]
        let (figures, notes) = crate::diagnosis::figures(report);
        #[cfg(not(feature = "signal"))]
        let (figures, notes) = (Vec::new(), vec!["this build of the program reads no S-parameters".to_owned()]);
        let mut evidence = match gather(self.model, report, &figures, &said) {
            Ok(evidence) => evidence,
            Err(problems) => return self.complain(&problems),
        };
        evidence.notes.extend(notes);
        let plug_in = !report.findings.iter().any(|finding| finding.hazard);
        let diagnosis = infer(self.model, &evidence.observations, evidence.applies, plug_in);
        if report.verdict == Verdict::Fails || !matches!(diagnosis.claim, Claim::PointsTo(_)) {
            self.status = self.status.max(1);
        }
        match self.arguments.format {
            Format::Json => self.entries.push(diagnosis_entry(&file, self.model, report, &evidence, &diagnosis)),
            Format::Human => {
                let text = match settings().width() {
                    Some(columns) => diagnosis_text_within(self.model, report, &evidence, &diagnosis, columns),
                    None => diagnosis_text(self.model, report, &evidence, &diagnosis),
                };
                writeln!(self.out, "{text}")?;
            }
        }
        Ok(())
    }

    fn complain(&mut self, problems: &[Problem]) -> io::Result<()> {
        for problem in problems {
            self.status = 2;
            write!(io::stderr().lock(), "{}", settings().problem_text(problem))?;
        }
        Ok(())
    }

    fn finish(mut self) -> io::Result<u8> {
        std::mem::replace(&mut self.done, Ok(()))?;
        if let (0, Some(unit)) = (self.units, &self.arguments.unit) {
            let problem = Problem::new(format!("--unit {}: no such unit in these files", visible(unit)));
            self.complain(&[problem])?;
        }
        if self.arguments.format == Format::Json {
            let report = DiagnosisReport::new(self.entries);
            writeln!(self.out, "{}", serde_json::to_string_pretty(&report)?)?;
        }
        Ok(self.status)
    }
}
