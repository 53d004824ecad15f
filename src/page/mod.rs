//! The bench in a browser: the last verdict to be read from afar, its picture and repair, the lots, and the tests before it.
//!
//! [`Page::open`] listens, [`Page::show`] takes each event of the bench, [`Page::close`] ends it. The server has a thread of its
//! own; the bench never waits for a browser.
//!
//! # What is served
//!
//! Only `GET`, and only what is listed here; no request names a file or reaches the bench. One reads the record, where one is
//! kept: the tests of a unit, by a connection of SQLite that can't write.
//!
//! | path | what |
//! |---|---|
//! | `/`, `/page.css`, `/page.js`, `/icon.svg` | the page, from the program itself |
//! | `/events` | what happens, as server-sent events (WHATWG HTML, section 9.2): `state` with JSON, `beat` every four seconds, `end` |
//! | `/picture/NUMBER` | the picture of a test as SVG |
//! | `/unit?name=NAME` | what the record has of the units of that name, as JSON |
//!
//! # Limits
//!
//! [`CONNECTIONS`] connections at once, a head of at most 16 KiB that must be there within ten seconds, one request a
//! connection, ten minutes for each (a browser takes up its events where they ended). [`TESTS_KEPT`] tests, [`UNITS_SHOWN`] pictures
//! of a file, [`PICTURES_KEPT`] bytes of pictures and [`LOTS_SHOWN`] lots are kept; the older ones go. They are those of this run; of
//! earlier ones the record gives the last [`ROWS_SHOWN`] tests of a unit, one question at a time.
//!
//! Pictures need what joins what, so units of a reel that are like one before are checked the long way while a page is served.
//!
//! # Why hyper alone
//!
//! There are seven paths and one method. What matters is around them: the time that a head may take, the number of
//! connections, the end of them. These are set where connections are accepted, below any router.

mod answer;
mod board;
mod guard;
mod history;
mod running;
mod serve;
mod test;

pub use board::{LOTS_SHOWN, PICTURES_KEPT, TESTS_KEPT, UNITS_SHOWN};
pub use guard::{TOKEN_LEAST, TOKEN_MOST};
pub use history::ROWS_SHOWN;
pub use serve::CONNECTIONS;

use std::net::SocketAddr;
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;

use tokio::sync::watch;

use crate::finding::Problem;
use crate::lot::bench::{Event, Outcome, Running, Taken};
use crate::text::visible;

use board::Board;
use guard::Guard;
use history::History;

/// What there is before the first event.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct Start<'a> {
    /// The folder's name, to be shown.
    pub folder: &'a str,
    /// How many files were taken before.
    pub files: usize,
    /// The last of them.
    pub latest: Option<&'a Taken>,
    /// The lot that is being tested, where its size was said.
    pub running: Option<Running>,
    /// The record in which earlier tests of a unit are looked up, and nothing else; none where none is kept.
    pub record: Option<&'a Path>,
}

impl<'a> Start<'a> {
    /// The folder's name, to be shown.
    #[must_use]
    pub fn with_folder(self, folder: &'a str) -> Self {
        Self { folder, ..self }
    }

    /// How many files were taken before.
    #[must_use]
    pub fn with_files(self, files: usize) -> Self {
        Self { files, ..self }
    }

    /// The last of them.
    #[must_use]
    pub fn with_latest(self, latest: &'a Taken) -> Self {
        Self { latest: Some(latest), ..self }
    }

    /// The lot that is being tested, where its size was said.
    #[must_use]
    pub fn with_running(self, running: Running) -> Self {
        Self { running: Some(running), ..self }
    }

    /// The record in which earlier tests of a unit are looked up, and nothing else; none where none is kept.
    #[must_use]
    pub fn with_record(self, record: &'a Path) -> Self {
        Self { record: Some(record), ..self }
    }
}

/// A page that is being served.
pub struct Page {
    address: SocketAddr,
    shared: Arc<Shared>,
    /// The number of what happened last; the end of it ends the server.
    news: watch::Sender<u64>,
    server: JoinHandle<()>,
}

/// What the bench writes and the server reads.
struct Shared {
    board: Mutex<Board>,
    guard: Guard,
    history: History,
}

impl Shared {
    fn board(&self) -> MutexGuard<'_, Board> {
        self.board.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Page {
    /// Listens. Port 0 takes any that is free.
    ///
    /// # Errors
    /// An address that other machines can reach, without a token; a token that can be guessed; an address that can't be had.
    pub fn open(address: SocketAddr, token: Option<&str>, start: &Start<'_>) -> Result<Page, Problem> {
        let guard = Guard::new(address, token)?;
        let lost = |error: std::io::Error| {
            Problem::new(format!("the page can't be served on {address}: {error}")).help("another port may be free; 0 takes any")
        };
        let (listener, runtime) = serve::listen(address).map_err(lost)?;
        let address = listener.local_addr().map_err(lost)?;
        let board = Board::new(start, before_words(start));
        let shared = Arc::new(Shared { board: Mutex::new(board), guard: guard.at(address), history: History::of(start.record) });
        let (news, heard) = watch::channel(0);
        let server = std::thread::Builder::new()
            .name("page".to_owned())
            .spawn({
                let shared = Arc::clone(&shared);
                move || runtime.block_on(serve::serve(listener, shared, heard))
            })
            .map_err(lost)?;
        Ok(Page { address, shared, news, server })
    }

    /// Where it listens.
    #[must_use]
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Shows an event to every browser, and to those that come later.
    pub fn show(&self, event: &Event) {
        let number = self.shared.board().take(event);
        self.news.send_replace(number);
    }

    /// Says to every browser that the bench has ended, and stops; after a second whoever doesn't listen.
    pub fn close(self) {
        drop(self.news);
        // a server that panicked has stopped too
        let _ = self.server.join();
    }
}

fn before_words(start: &Start<'_>) -> Option<String> {
    let (files, latest) = (start.files, start.latest?);
    let outcome = match latest.outcome {
        Outcome::Renamed => "renamed",
        outcome => outcome.call(),
    };
    Some(format!("{files} taken before; the last was {}: {outcome}", visible(&latest.name)))
}
