//! The options of a sampling plan, which every command shares that decides a lot.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::finding::Problem;
use crate::lot::bench::LotPlan;
use crate::lot::plan::{AQLS, Inspection, Level, Standing, read_history};
use crate::lot::{Asked, Summary};
use crate::text::{Source, read_whole, visible};

#[derive(Debug, Args)]
pub(super) struct Sampling {
    /// How many units the lot has; without it, those that were tested are the lot, and `watch` decides nothing
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    pub(super) size: Option<u64>,
    /// The sampling plan; without it ISO 2859-1 where `--size` is given, else every unit
    #[arg(long, value_enum)]
    plan: Option<Plan>,
    /// The acceptance quality limit in percent: 0.65, 1.0, 1.5, 2.5 or 4.0
    #[arg(long, value_name = "PERCENT", default_value = "1.0", value_parser = aql)]
    aql: f64,
    /// The inspection level: I, II, III, S-1, S-2, S-3 or S-4
    #[arg(long, default_value = "II", value_parser = level)]
    level: Level,
    /// How strict the inspection is; without it, as `--history` says, else normal
    #[arg(long, value_enum)]
    inspection: Option<Strict>,
    /// How the lots before came out: a line each, `accepted` or `not-accepted`, oldest first
    #[arg(long, value_name = "FILE")]
    history: Option<PathBuf>,
    /// The confidence of `--plan zero`, in percent
    #[arg(long, value_name = "PERCENT", default_value = "95", value_parser = percent)]
    confidence: f64,
    /// The share that may be bad at most, for `--plan zero`, in percent
    #[arg(long, value_name = "PERCENT", default_value = "5", value_parser = percent)]
    quality: f64,
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
    let value: f64 = written.parse().map_err(|_| "expected a number".to_owned())?;
    let known = AQLS.into_iter().find(|known| (known - value).abs() < 1e-9);
    known.ok_or_else(|| "the tables have 0.65, 1.0, 1.5, 2.5 and 4.0".to_owned())
}

fn level(written: &str) -> Result<Level, String> {
    let known = Level::ALL.into_iter().find(|level| level.name().eq_ignore_ascii_case(written));
    known.ok_or_else(|| format!("the levels are {}", Level::ALL.map(Level::name).join(", ")))
}

fn percent(written: &str) -> Result<f64, String> {
    let value: f64 = written.parse().map_err(|_| "expected a number".to_owned())?;
    if value > 0.0 && value < 100.0 { Ok(value / 100.0) } else { Err("expected a number between 0 and 100".to_owned()) }
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
            Plan::Iso2859 => Asked::Iso { level: self.level, aql: self.aql, inspection },
            Plan::Zero => Asked::Zero { confidence: self.confidence, quality: self.quality },
            Plan::All => Asked::All,
        }
    }

    /// How the lots before came out, where a file says it.
    ///
    /// # Errors
    /// A file that can't be read or used.
    pub(super) fn history(&self) -> Result<Option<Standing>, Vec<Problem>> {
        let Some(path) = &self.history else { return Ok(None) };
        let source = named(path).map_err(|problem| vec![problem])?;
        read_history(&source).map(|history| Some(history.standing()))
    }

    /// The lot that is still being tested, where its size is said.
    ///
    /// # Errors
    /// A plan without the size of the lot; a file that can't be read or used.
    pub(super) fn running(&self) -> Result<Option<LotPlan>, Vec<Problem>> {
        let Some(size) = self.size else {
            let said =
                [("plan", self.plan.is_some()), ("inspection", self.inspection.is_some()), ("history", self.history.is_some())];
            let Some((word, _)) = said.into_iter().find(|(_, said)| *said) else { return Ok(None) };
            let problem = Problem::new(format!("`--{word}` decides nothing while it isn't known how many units the lot has"));
            return Err(vec![problem.help("give the size of the whole lot with `--size N`")]);
        };
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
            Problem::new(format!("a lot of {size} units, of which {tested} were tested"))
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
