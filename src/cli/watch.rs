//! `backshell watch`.

#[cfg(feature = "page")]
mod serve;

use std::io::{self, Write};
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::time::{Duration, Instant, SystemTime};

use clap::Args;

use crate::finding::Problem;
use crate::lot::bench::{Bench, Event, Memory, Outcome, QUIET, Seen, Settings};
use crate::report::BenchScreen;
use crate::text::visible;

use super::input::Input;
use super::keep::Keep;
use super::sampling::Sampling;
use super::settings::settings;
#[cfg(feature = "page")]
use crate::page::Start;
#[cfg(feature = "page")]
use serve::Serve;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The folder into which the tester writes; folders in it aren't looked into
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
    #[command(flatten)]
    input: Input,
    #[command(flatten)]
    keep: Keep,
    #[command(flatten)]
    sampling: Sampling,
    /// The lot of units that say nothing of theirs; with `--size`, the lot that is decided
    #[arg(long, value_name = "LOT")]
    lot: Option<String>,
    /// The supplier of units that say nothing of theirs
    #[arg(long, value_name = "NAME")]
    supplier: Option<String>,
    /// How long a file must stay as it is before it is taken, in seconds
    #[arg(long, value_name = "SECONDS", value_parser = seconds, default_value = "1")]
    quiet: Duration,
    /// Take what is there, wait until none of it changes any more, and end
    #[arg(long)]
    once: bool,
    #[cfg(feature = "page")]
    #[command(flatten)]
    serve: Serve,
}

fn seconds(written: &str) -> Result<Duration, String> {
    let seconds: f64 = written.parse().map_err(|_| "expected seconds, as in `1` or `0.5`".to_owned())?;
    Some(seconds)
        .filter(|seconds| (0.0..=3600.0).contains(seconds))
        .map(Duration::from_secs_f64)
        .ok_or_else(|| "expected 0 to 3600 seconds".to_owned())
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    let options = match arguments.input.options_for_later() {
        Ok(options) => options,
        Err(problems) => return super::unusable(&problems),
    };
    #[cfg(feature = "page")]
    let options = arguments.serve.options(options);
    if !arguments.folder.is_dir() {
        let folder = arguments.folder.display().to_string();
        return super::unusable(&[Problem::new(format!("{}: no such folder", visible(&folder)))]);
    }
    let plan = match arguments.sampling.running() {
        Ok(plan) => plan,
        Err(problems) => return super::unusable(&problems),
    };
    let (lot, supplier) = (arguments.lot.clone(), arguments.supplier.clone());
    let settings = Settings { options, quiet: arguments.quiet, lot, supplier, plan };
    #[cfg(feature = "record")]
    if let Some(path) = arguments.keep.path() {
        use crate::lot::record::{BenchRecord, Record, options_text};
        let applied = options_text(&settings.options);
        let memory = Record::open_or_new(path).and_then(|record| BenchRecord::new(record, &arguments.folder, applied));
        return with(arguments, memory.and_then(|memory| Bench::new(arguments.folder.clone(), settings, memory)), out);
    }
    let memory = Seen::open(&arguments.folder);
    with(arguments, memory.and_then(|memory| Bench::new(arguments.folder.clone(), settings, memory)), out)
}

/// Watches until the process ends, or with `--once` until all is taken.
///
/// Nothing catches Ctrl-C: every file is kept before it is shown, in one step that the system finishes or undoes, so that any
/// moment is a good one to end.
fn with<M: Memory>(arguments: &Arguments, bench: Result<Bench<M>, Problem>, out: &mut impl Write) -> io::Result<u8> {
    let mut bench = match bench {
        Ok(bench) => bench,
        Err(problem) => return super::unusable(&[problem]),
    };
    let folder = arguments.folder.display().to_string();
    #[cfg(feature = "page")]
    let start = Start {
        folder: &folder,
        files: bench.files(),
        latest: bench.latest(),
        running: bench.running(),
        record: arguments.keep.named(),
    };
    #[cfg(feature = "page")]
    let page = match arguments.serve.open(&start) {
        Ok(page) => page,
        Err(problem) => return super::unusable(&[problem]),
    };
    let mut screen = BenchScreen::new(out).width(settings().width()).colour(settings().colour());
    screen.start(&folder, bench.files(), bench.latest())?;
    if let Some(running) = bench.running() {
        screen.running(&running)?;
    }
    let start = Instant::now();
    let mut status = 0;
    loop {
        let looked = Instant::now();
        let mut shown = Ok(());
        let done = bench.look(start.elapsed(), SystemTime::now, |event| {
            status = status.max(status_of(&event));
            shown = screen.event(&event);
            #[cfg(feature = "page")]
            page.show(&event);
            if shown.is_ok() { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
        });
        shown?;
        if let Err(problem) = done {
            return super::unusable(&[problem]);
        }
        if arguments.once && bench.is_idle() {
            #[cfg(feature = "page")]
            page.close();
            return Ok(status);
        }
        std::thread::sleep(rest(arguments.quiet, looked.elapsed()));
    }
}

/// How long to rest until the next look: a fifth of the quiet time, and never less than four times as long as a look takes.
fn rest(quiet: Duration, look: Duration) -> Duration {
    (quiet / 5).clamp(Duration::from_millis(10), QUIET / 5).max(look * 4)
}

fn status_of(event: &Event) -> u8 {
    match event {
        Event::Taken(file) => match file.outcome {
            _ if file.batches.iter().any(|batch| !batch.problems.is_empty() || batch.unjudged > 0) => 2,
            Outcome::Conforms | Outcome::Renamed => 0,
            Outcome::Fails | Outcome::DoNotConnect | Outcome::CantTell => 1,
            Outcome::Unread => 2,
        },
        Event::Unreadable { .. } | Event::FolderLost(_) => 2,
        Event::Renamed { .. } | Event::WrittenAgain { .. } | Event::LeftAlone { .. } | Event::FolderBack => 0,
    }
}
