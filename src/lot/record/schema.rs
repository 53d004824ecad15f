//! The file itself: how it is opened, made and refused.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, ErrorCode, OpenFlags, TransactionBehavior};

use crate::finding::Problem;
use crate::text::visible;

/// `BSHL`: what the header of the file says that it is.
const APPLICATION: i64 = 0x4253_484c;

/// The version of the tables.
const VERSION: i64 = 1;

/// How long a batch waits for other processes that write.
const PATIENCE: Duration = Duration::from_secs(60);

/// How long whoever only looks on waits for them.
const GLANCE: Duration = Duration::from_secs(2);

/// The tables, statement by statement, as the file keeps them.
pub(super) const TABLES: [&str; 11] = [
    "CREATE TABLE verdict (
  number INTEGER PRIMARY KEY,
  time TEXT NOT NULL,
  unit TEXT NOT NULL,
  attempt INTEGER NOT NULL,
  lot TEXT,
  supplier TEXT,
  type TEXT,
  cable TEXT NOT NULL,
  map TEXT NOT NULL,
  origin TEXT NOT NULL,
  verdict TEXT NOT NULL,
  hazard INTEGER NOT NULL,
  findings TEXT NOT NULL,
  file TEXT NOT NULL,
  file_digest TEXT NOT NULL,
  unit_digest TEXT NOT NULL,
  header TEXT NOT NULL,
  options TEXT NOT NULL,
  program TEXT NOT NULL,
  digest TEXT NOT NULL
) STRICT",
    "CREATE INDEX verdict_of_unit ON verdict (unit, lot, supplier)",
    "CREATE INDEX verdict_of_lot ON verdict (lot, supplier)",
    "CREATE INDEX verdict_of_supplier ON verdict (supplier)",
    "CREATE TRIGGER verdict_next BEFORE INSERT ON verdict
WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM verdict)
BEGIN SELECT raise(ABORT, 'a row of a record has the next number'); END",
    "CREATE TRIGGER verdict_kept BEFORE DELETE ON verdict
BEGIN SELECT raise(ABORT, 'no row is removed from a record'); END",
    "CREATE TRIGGER verdict_unchanged BEFORE UPDATE ON verdict
BEGIN SELECT raise(ABORT, 'no row of a record is changed'); END",
    "CREATE TABLE taken (
  number INTEGER PRIMARY KEY,
  time TEXT NOT NULL,
  folder TEXT NOT NULL,
  name TEXT NOT NULL,
  digest TEXT NOT NULL,
  modified TEXT NOT NULL,
  units INTEGER NOT NULL,
  outcome TEXT NOT NULL
) STRICT",
    "CREATE INDEX taken_of_name ON taken (folder, name)",
    "CREATE TRIGGER taken_kept BEFORE DELETE ON taken
BEGIN SELECT raise(ABORT, 'no row is removed from a record'); END",
    "CREATE TRIGGER taken_unchanged BEFORE UPDATE ON taken
BEGIN SELECT raise(ABORT, 'no row of a record is changed'); END",
];

/// An open record.
#[derive(Debug)]
pub struct Record {
    pub(super) connection: Connection,
    /// The path as it was given, for messages.
    pub(super) name: String,
}

impl Record {
    /// Opens a record, and makes it where there is no such file, or an empty one.
    ///
    /// # Errors
    /// A file that isn't a record, or is one of a newer version; one that can't be opened, read or written.
    pub fn open_or_new(path: &Path) -> Result<Self, Problem> {
        let mut record = Self::connect(path, OpenFlags::SQLITE_OPEN_CREATE)?;
        if record.is_new()? {
            record.make()?;
        }
        record.must_be_ours()?;
        Ok(record)
    }

    /// Opens a record that is there.
    ///
    /// # Errors
    /// As for [`open_or_new`](Self::open_or_new); a file that isn't there, or is empty.
    pub fn open(path: &Path) -> Result<Self, Problem> {
        let record = Self::connect(path, OpenFlags::empty())?;
        record.must_be_ours()?;
        // only now: what a killed process left must have been rolled back first
        record.checked(record.connection.pragma_update(None, "query_only", true))?;
        Ok(record)
    }

    /// Opens a record that is there without any way to write it, and waits for others that write two seconds at most: for whoever
    /// looks on. What a killed process left isn't put right.
    ///
    /// # Errors
    /// As for [`open`](Self::open); a record that must be put right first.
    pub fn open_read_only(path: &Path) -> Result<Self, Problem> {
        let record = Self::connected(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        record.checked(record.connection.busy_timeout(GLANCE))?;
        record.must_be_ours()?;
        Ok(record)
    }

    /// The path as it was given.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    fn connect(path: &Path, create: OpenFlags) -> Result<Self, Problem> {
        Self::connected(path, OpenFlags::SQLITE_OPEN_READ_WRITE | create)
    }

    fn connected(path: &Path, how: OpenFlags) -> Result<Self, Problem> {
        let name = path.display().to_string();
        let ordinary = std::fs::metadata(path).map(|about| about.is_file());
        if let Ok(false) = ordinary {
            return Err(Problem::new(format!("{}: is no ordinary file, so that it can't be a record", visible(&name))));
        }
        if !begins_as_database(path).map_err(|error| unopened(&name, &error))? {
            return Err(no_record(&name));
        }
        let flags = OpenFlags::SQLITE_OPEN_NO_MUTEX | how;
        let connection = Connection::open_with_flags(plain(path), flags).map_err(|error| problem(&name, &error))?;
        let record = Record { connection, name };
        record.checked(record.connection.busy_timeout(PATIENCE))?;
        let settings = [("synchronous", "EXTRA"), ("trusted_schema", "OFF"), ("recursive_triggers", "ON")];
        for (name, value) in settings {
            record.checked(record.connection.pragma_update(None, name, value))?;
        }
        Ok(record)
    }

    fn number(&self, pragma: &str) -> Result<i64, Problem> {
        self.checked(self.connection.pragma_query_value(None, pragma, |row| row.get(0)))
    }

    fn is_new(&self) -> Result<bool, Problem> {
        self.checked(is_empty(&self.connection))
    }

    fn make(&mut self) -> Result<(), Problem> {
        let name = self.name.clone();
        let mut make = || -> rusqlite::Result<()> {
            let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            // another process may have been first
            if is_empty(&transaction)? {
                transaction.pragma_update(None, "application_id", APPLICATION)?;
                transaction.pragma_update(None, "user_version", VERSION)?;
                TABLES.iter().try_for_each(|statement| transaction.execute_batch(statement))?;
            }
            transaction.commit()
        };
        make().map_err(|error| problem(&name, &error))
    }

    fn must_be_ours(&self) -> Result<(), Problem> {
        let shown = visible(&self.name);
        if self.number("application_id")? != APPLICATION {
            return Err(no_record(&self.name));
        }
        match self.number("user_version")? {
            VERSION => Ok(()),
            newer if newer > VERSION => Err(Problem::new(format!(
                "{shown}: this record has version {newer} of its tables, and this program knows version {VERSION}"
            ))
            .help("use the newer program that wrote it; nothing was changed")),
            other => Err(Problem::new(format!("{shown}: {other} is no version of a record")).help("nothing was changed")),
        }
    }

    /// A result with the error in words.
    pub(super) fn checked<T>(&self, result: rusqlite::Result<T>) -> Result<T, Problem> {
        result.map_err(|error| problem(&self.name, &error))
    }
}

/// Whether a database holds nothing and says nothing of itself: a file that was just made, or one without a byte.
fn is_empty(connection: &Connection) -> rusqlite::Result<bool> {
    let number = |pragma: &str| connection.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
    let tables: i64 = connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    Ok(tables == 0 && number("application_id")? == 0 && number("user_version")? == 0)
}

/// Whether a file begins as every SQLite database does, is empty, or isn't there. SQLite itself takes a short file of anything
/// for an empty database, and writes over it.
fn begins_as_database(path: &Path) -> io::Result<bool> {
    const START: &[u8] = b"SQLite format 3\0";
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(true),
        Err(error) => return Err(error),
    };
    let mut start = Vec::with_capacity(START.len());
    file.take(START.len() as u64).read_to_end(&mut start)?;
    Ok(start.is_empty() || start == START)
}

fn unopened(name: &str, error: &io::Error) -> Problem {
    Problem::new(format!("{}: the record can't be opened: {error}", visible(name)))
}

/// The path so that SQLite takes it for nothing but a path: it has names of its own, such as `:memory:`.
fn plain(path: &Path) -> PathBuf {
    if path.is_absolute() { path.to_path_buf() } else { Path::new(".").join(path) }
}

fn no_record(name: &str) -> Problem {
    Problem::new(format!("{}: this file isn't a record of backshell", visible(name)))
        .help("name a new file, or a record; nothing was changed")
}

/// What went wrong with a record, in words.
pub(super) fn problem(name: &str, error: &rusqlite::Error) -> Problem {
    let shown = visible(name);
    let code = error.sqlite_error_code();
    let detail = error.to_string();
    let (what, help) = match code {
        Some(ErrorCode::NotADatabase) => return no_record(name),
        Some(ErrorCode::DiskFull) => (
            "the disk is full, and this batch isn't recorded",
            "make room, then check the same files again; the rows that were recorded before are safe",
        ),
        Some(ErrorCode::SystemIoFailure) => (
            "the disk refuses to write or to read, and this batch isn't recorded",
            "is it full, over its quota, or gone? The rows that were recorded before are safe where the disk is",
        ),
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            ("another program holds the record", "end that program, or wait for it, then try again")
        }
        Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => {
            ("the record can't be written", "make the file and its folder writable; SQLite keeps a journal beside the file")
        }
        Some(ErrorCode::CannotOpen) => ("the record can't be opened", "does the file exist, and may it be read and written?"),
        Some(ErrorCode::DatabaseCorrupt) => {
            ("the record is damaged", "keep the file as it is; take a copy of it from before, and compare")
        }
        _ => ("the record can't be used", "keep the file as it is"),
    };
    Problem::new(format!("{shown}: {what} ({})", visible(&detail))).help(help)
}
