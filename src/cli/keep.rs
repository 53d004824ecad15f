//! `--record FILE`: what every command takes that keeps verdicts.

use std::io;

use clap::Args;

use crate::finding::Problem;
use crate::verify::{Batch, Options};

/// Where verdicts are kept.
#[derive(Debug, Args)]
pub(super) struct Keep {
    /// Keep every verdict in this record (an SQLite file; made where it isn't there): `backshell record` asks it
    #[cfg(feature = "record")]
    #[arg(long, value_name = "FILE")]
    record: Option<std::path::PathBuf>,
}

impl Keep {
    /// The record that was named, where this program keeps one.
    #[cfg(feature = "page")]
    pub(super) fn named(&self) -> Option<&std::path::Path> {
        #[cfg(feature = "record")]
        return self.path();
        #[cfg(not(feature = "record"))]
        None
    }
}

#[cfg(feature = "record")]
mod with_record {
    use std::io::Write;
    use std::path::Path;
    use std::time::SystemTime;

    use super::super::settings::settings;
    use super::{Batch, Keep, Options, Problem, io};
    use crate::lot::record::Recorder;
    use crate::text::{count, visible};

    /// So many units that were tested before are named.
    const NAMED: usize = 20;

    impl Keep {
        /// The record that was named.
        pub(in super::super) fn path(&self) -> Option<&Path> {
            self.record.as_deref().or(settings().record.as_deref())
        }

        /// The record of a check with these options, where one was named.
        pub(in super::super) fn open(&self, options: &Options) -> Result<Option<Keeper>, Problem> {
            let recorder = self.path().map(|path| Recorder::new(path, options)).transpose()?;
            Ok(recorder.map(|recorder| Keeper { recorder, again: 0 }))
        }
    }

    /// Keeps the batches of a check, and says on the error stream what was tested before.
    pub(in super::super) struct Keeper {
        recorder: Recorder,
        /// How many units were tested before.
        again: usize,
    }

    impl Keeper {
        /// Once this returns, the verdicts of the batch are kept.
        pub(in super::super) fn batch(&mut self, file: &str, batch: &Batch) -> Result<(), Problem> {
            let Some((recorded, entries)) = self.recorder.batch(file, batch, SystemTime::now())? else { return Ok(()) };
            for (at, before) in &recorded.before {
                self.again += 1;
                if let Some(entry) = entries.get(*at).filter(|_| self.again <= NAMED) {
                    let attempt = before.attempt.saturating_add(1);
                    let unit = visible(&entry.unit);
                    let last = format!("attempt {} at {}: {}", before.attempt, visible(&before.time), visible(&before.verdict));
                    super::super::complain(&format!("{unit}: {}, attempt {attempt}; {last}", entry.verdict.word()));
                }
            }
            Ok(())
        }

        /// Says what was kept.
        pub(in super::super) fn finish(&self) -> io::Result<()> {
            let mut out = io::stderr().lock();
            if self.again > NAMED {
                writeln!(out, "backshell: {} tested before", count(self.again - NAMED, "more unit was", "more units were"))?;
            }
            let name = visible(self.recorder.name());
            match self.recorder.head() {
                Some(head) => writeln!(
                    out,
                    "recorded: {} in {name}; its head is row {}, {}",
                    count(self.recorder.rows(), "verdict", "verdicts"),
                    head.number,
                    head.digest
                ),
                None => writeln!(out, "recorded: nothing in {name}"),
            }
        }
    }
}

#[cfg(feature = "record")]
pub(super) use with_record::Keeper;

/// Without a record there is nothing that keeps.
#[cfg(not(feature = "record"))]
pub(super) enum Keeper {}

#[cfg(not(feature = "record"))]
impl Keep {
    pub(super) fn open(&self, _: &Options) -> Result<Option<Keeper>, Problem> {
        Ok(None)
    }
}

#[cfg(not(feature = "record"))]
impl Keeper {
    pub(super) fn batch(&mut self, _: &str, _: &Batch) -> Result<(), Problem> {
        match *self {}
    }

    pub(super) fn finish(&self) -> io::Result<()> {
        match *self {}
    }
}
