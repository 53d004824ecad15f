//! The options of a sampling plan, which every command shares that decides a lot.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::finding::Problem;
use crate::lot::bench::LotPlan;
use crate::lot::plan::{AQLS, Inspection, Level, Standing, read_history};
use crate::lot::{Asked, Summary};
use crate::text::{Source, count, read_whole, visible};

#[derive(Debug, Args)]
pub(super) struct Sampling {
    /// How many units the whole lot has; without it, `lot` and `report` take those that were tested for the lot, and `watch` shows no decision
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    pub(super) size: Option<u64>,
    /// The sampling plan; without it ISO 2859-1 where `--size` is given, else every unit
    #[arg(long, value_enum)]
    plan: Option<Plan>,
    /// The acceptance quality limit in percent: 0.65, 1.0, 1.5, 2.5 or 4.0; 1.0 where it isn't said
    #[arg(long, value_name = "PERCENT", value_parser = aql)]
    aql: Option<f64>,
    /// The inspection level: I, II, III, S-1, S-2, S-3 or S-4; II where it isn't said
    #[arg(long, value_parser = level)]
    level: Option<Level>,
    /// How strict the inspection is; without it, as `--history` says, else normal
    #[arg(long, value_enum)]
    inspection: Option<Strict>,
    /// How the lots before came out: a line each, `accepted` or `not-accepted`, oldest first
    #[arg(long, value_name = "FILE")]
    history: Option<PathBuf>,
    /// The confidence of `--plan zero`, 50 to 99.99 percent; 95 where it isn't said
    #[arg(long, value_name = "PERCENT", value_parser = confidence)]
    confidence: Option<f64>,
    /// The share that may be bad at most, for `--plan zero`, up to 50 percent; 5 where it isn't said
    #[arg(long, value_name = "PERCENT", value_parser = quality)]
    quality: Option<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Plan {
    /// Single sampling by ISO 2859-1
    #[value(name = "iso-2859")]
    Iso2859,
    /// No failure allowed, by confidence and quality
    Zero,
    /// Every unit of the lot, and none may fail
    All,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Strict {
    /// Normal inspection
    Normal,
    /// Tightened inspection
    Tightened,
    /// Reduced inspection
    Reduced,
}

fn aql(written: &str) -> Result<f64, String> {
    let value = number(written)?;
    let known = AQLS.into_iter().find(|known| (known - value).abs() < 1e-9);
    known.ok_or_else(|| "the tables have 0.65, 1.0, 1.5, 2.5 and 4.0".to_owned())
}

fn level(written: &str) -> Result<Level, String> {
    let known = Level::ALL.into_iter().find(|level| level.name().eq_ignore_ascii_case(written));
    known.ok_or_else(|| format!("the levels are {}", Level::ALL.map(Level::name).join(", ")))
}

/// Below 50 % a plan shows less than a coin does; above 99.99 % it asks for nearly every unit (common practice, no source).
fn confidence(written: &str) -> Result<f64, String> {
    let value = number(written)?;
    let sound = (50.0..=99.99).contains(&value);
    sound.then_some(value / 100.0).ok_or_else(|| "a confidence is 50 to 99.99 percent; 90 and 95 are usual".to_owned())
}

/// A lot of which more than half may be bad needs no plan (common practice, no source).
fn quality(written: &str) -> Result<f64, String> {
    let value = number(written)?;
    let sound = value > 0.0 && value <= 50.0;
    sound.then_some(value / 100.0).ok_or_else(|| "the share that may be bad is above 0 and up to 50 percent".to_owned())
}

fn number(written: &str) -> Result<f64, String> {
    written.parse().map_err(|_| "expected a number, as in `95` or `2.5`".to_owned())
}

impl Sampling {
    /// The plan that was asked for.
    pub(super) fn asked(&self, history: Option<&Standing>) -> Asked {
        let plan = self.plan.unwrap_or(if self.size.is_some() { Plan::Iso2859 } else { Plan::All });
        let inspection = match self.inspection {
            Some(Strict::Normal) => Inspection::Normal,
            Some(Strict::Tightened) => Inspection::Tightened,
            Some(Strict::Reduced) => Inspection::Reduced,
            None => history.map_or(Inspection::Normal, |standing| standing.inspection),
        };
        match plan {
            Plan::Iso2859 => Asked::Iso { level: self.level.unwrap_or(Level::II), aql: self.aql.unwrap_or(1.0), inspection },
            Plan::Zero => Asked::Zero { confidence: self.confidence.unwrap_or(0.95), quality: self.quality.unwrap_or(0.05) },
            Plan::All => Asked::All,
        }
    }

    /// The first option that was given and says nothing without the size of the lot; `--plan all` says what is done anyway, but
    /// not of a lot that is still being tested.
    fn needs_size(&self, running: bool) -> Option<Problem> {
        if self.size.is_some() {
            return None;
        }
        let given = [
            ("plan", self.plan.is_some_and(|plan| running || plan != Plan::All)),
            ("aql", self.aql.is_some()),
            ("level", self.level.is_some()),
            ("inspection", self.inspection.is_some()),
            ("history", self.history.is_some()),
            ("confidence", self.confidence.is_some()),
            ("quality", self.quality.is_some()),
        ];
        let (word, _) = given.into_iter().find(|(_, given)| *given)?;
        let problem = Problem::new(format!("`--{word}` decides nothing while it isn't known how many units the lot has"));
        Some(problem.help("add the size of the whole lot, those that weren't tested included: `--size N`"))
    }

    /// How the lots before came out, where a file says it.
    ///
    /// # Errors
    /// A plan without the size of the lot; a file that can't be read or used.
    pub(super) fn history(&self) -> Result<Option<Standing>, Vec<Problem>> {
        if let Some(problem) = self.needs_size(false) {
            return Err(vec![problem]);
        }
        let Some(path) = &self.history else { return Ok(None) };
        let source = named(path).map_err(|problem| vec![problem])?;
        read_history(&source).map(|history| Some(history.standing()))
    }

    /// The lot that is still being tested, where its size is said.
    ///
    /// # Errors
    /// A plan without the size of the lot; a file that can't be read or used.
    pub(super) fn running(&self) -> Result<Option<LotPlan>, Vec<Problem>> {
        if let Some(problem) = self.needs_size(true) {
            return Err(vec![problem]);
        }
        let Some(size) = self.size else { return Ok(None) };
        let history = self.history()?;
        Ok(Some(LotPlan { size, asked: self.asked(history.as_ref()), history }))
    }

    /// Whether the size of the lot fits what was read.
    pub(super) fn fits(&self, summary: &Summary) -> Option<Problem> {
        let size = self.size?;
        if summary.groups.len() > 1 {
            let problem =
                Problem::new(format!("`--size {size}` is for one lot, and these units are of {} kinds", summary.groups.len()));
            return Some(
                problem.help("a lot is of one cable, type, supplier, lot name, rate and length: decide them one by one"),
            );
        }
        let tested = summary.tally().units() + summary.unjudged;
        (tested > size).then(|| {
            Problem::new(format!("a lot of {}, of which {tested} were tested", count(size, "unit", "units")))
                .help("say how many units the whole lot has, those that were tested included")
        })
    }
}

/// A file that an option names.
pub(super) fn named(path: &Path) -> Result<std::sync::Arc<Source>, Problem> {
    let name = path.display().to_string();
    match read_whole(path) {
        Ok(text) => Ok(Source::new(name, text)),
        Err(why) => Err(Problem::new(format!("{} {why}", visible(&name)))),
    }
}
