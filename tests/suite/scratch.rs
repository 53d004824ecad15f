//! What the tests of records and benches share: a folder of one's own, netlists, and the command.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use backshell::finding::Problem;
use backshell::lot::bench::Seen;

/// A folder of one's own, removed at the end.
pub struct Scratch(pub PathBuf);

impl Scratch {
    pub fn new(name: &str) -> Self {
        static NEXT: AtomicUsize = AtomicUsize::new(0);
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let folder = std::env::temp_dir().join(format!("backshell-{name}-{}-{number}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        Scratch(folder)
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    pub fn file(&self, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
        let path = self.0.join(name);
        std::fs::write(&path, content).unwrap();
        path
    }

    pub fn folder(&self, name: &str) -> PathBuf {
        let path = self.0.join(name);
        std::fs::create_dir_all(&path).unwrap();
        path
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        std::fs::remove_dir_all(&self.0).ok();
    }
}

/// A microphone lead: sound, reversed, or with a line that isn't one.
pub fn lead(unit: &str, lot: &str, good: bool) -> String {
    let wires = if good { "A.2 B.2\nA.3 B.3" } else { "A.2 B.3\nA.3 B.2" };
    format!("cable xlr3\nlot {lot}\nsupplier \"Quillon Looms\"\nunit {unit}\nA.1 B.1\n{wires}\n")
}

/// A reel of such leads, one in three reversed.
pub fn leads(name: &str, units: usize) -> String {
    let mut text = "cable xlr3\nlot M1\nsupplier \"Quillon Looms\"\n".to_owned();
    for nth in 0..units {
        let wires = if nth % 3 == 2 { "A.2 B.3\nA.3 B.2" } else { "A.2 B.2\nA.3 B.3" };
        text.push_str(&format!("unit {name}-{nth:05}\nA.1 B.1\n{wires}\n"));
    }
    text
}

pub fn command() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_backshell"));
    command.env_remove("NO_COLOR").env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"));
    command
}

pub fn run<S: AsRef<std::ffi::OsStr>>(arguments: &[S]) -> Output {
    command().args(arguments).output().unwrap()
}

pub fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// The command under a limit on the size of the files that it writes, in blocks of 1024 bytes.
#[cfg(unix)]
pub fn run_limited(blocks: usize, arguments: &[&Path]) -> Output {
    Command::new("bash")
        .args(["-c", "trap '' XFSZ; ulimit -f \"$0\"; exec \"$@\"", &blocks.to_string(), env!("CARGO_BIN_EXE_backshell")])
        .args(arguments)
        .output()
        .unwrap()
}

/// The list of the files that a bench has seen, opened once whoever held it lets go: another test's process, between its fork and
/// its own program, still holds what this process had open.
pub fn seen_in(folder: &Path) -> Result<Seen, Problem> {
    let opened = (0..100).find_map(|_| {
        let opened = Seen::open(folder).ok();
        if opened.is_none() {
            std::thread::sleep(Duration::from_millis(20));
        }
        opened
    });
    opened.map_or_else(|| Seen::open(folder), Ok)
}
