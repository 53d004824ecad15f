//! How far a long run is: one line on the error stream, where that is a terminal.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

use crate::text::count;

/// The line; nothing where the error stream isn't a terminal.
pub(super) struct Progress {
    bar: ProgressBar,
    files: usize,
    done: std::cell::Cell<usize>,
}

impl Progress {
    /// For so many files.
    pub(super) fn new(files: usize) -> Self {
        let bar = ProgressBar::new_spinner();
        if let Ok(style) = ProgressStyle::with_template("{spinner} units: {pos}, {msg}, {elapsed}") {
            bar.set_style(style);
        }
        bar.set_message(format!("0 of {}", count(files, "file", "files")));
        bar.enable_steady_tick(Duration::from_millis(200));
        Progress { bar, files, done: std::cell::Cell::new(0) }
    }

    /// So many more units.
    pub(super) fn units(&self, units: usize) {
        self.bar.inc(units as u64);
    }

    /// One more file.
    pub(super) fn file(&self) {
        self.done.set(self.done.get() + 1);
        self.bar.set_message(format!("{} of {}", self.done.get(), count(self.files, "file", "files")));
    }

    /// Takes the line away.
    pub(super) fn done(&self) {
        self.bar.finish_and_clear();
    }
}
