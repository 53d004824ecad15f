//! `backshell watch --serve`: the bench in a browser.

use std::net::SocketAddr;

use clap::Args;

use crate::finding::Problem;
use crate::lot::bench::Event;
use crate::page::{Page, Start};
use crate::verify::Options;

/// Whether a browser may look on, and which.
#[derive(Debug, Args)]
pub(super) struct Serve {
    /// Show the bench in a browser at this address, as in `127.0.0.1:8080`; port 0 takes any that is free
    #[arg(long, value_name = "ADDRESS:PORT")]
    serve: Option<SocketAddr>,
    /// The secret that a browser must bring, as `/?token=SECRET`; needed for an address that other machines can reach
    #[arg(long, value_name = "SECRET", requires = "serve")]
    token: Option<String>,
}

/// The page, where one is served.
pub(super) struct Served(Option<Page>);

impl Serve {
    /// The options of the check, with what pictures need where there is a page.
    pub(super) fn options(&self, options: Options) -> Options {
        Options { wiring: options.wiring || self.serve.is_some(), ..options }
    }

    /// Opens the page and says on the error stream where it is.
    pub(super) fn open(&self, start: &Start<'_>) -> Result<Served, Problem> {
        let Some(address) = self.serve else { return Ok(Served(None)) };
        let page = Page::open(address, self.token.as_deref(), start)?;
        let token = if self.token.is_some() { "?token=SECRET" } else { "" };
        super::super::complain(&format!("the page is at http://{}/{token}", page.address()));
        Ok(Served(Some(page)))
    }
}

impl Served {
    pub(super) fn show(&self, event: &Event) {
        if let Some(page) = &self.0 {
            page.show(event);
        }
    }

    pub(super) fn close(self) {
        if let Some(page) = self.0 {
            page.close();
        }
    }
}
