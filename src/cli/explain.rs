//! `backshell explain`.

use std::io::{self, Write};

use clap::Args;

use crate::finding::Code;
use crate::report::{explained_list, explained_page};

use super::settings::settings;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The code of a finding, such as `pair.reversed`; without one, the list of codes
    code: Option<String>,
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    let Some(wanted) = &arguments.code else {
        write!(out, "{}", explained_list(settings().columns()))?;
        return Ok(0);
    };
    if let Some(code) = Code::parse(wanted) {
        match settings().width() {
            Some(width) => write!(out, "{}", explained_page(code, width))?,
            None => write!(out, "{}", code.page().text())?,
        }
        return Ok(0);
    }
    let near = Code::ALL
        .iter()
        .map(|code| (strsim::damerau_levenshtein(code.text(), wanted), code.text()))
        .min()
        .filter(|(distance, _)| *distance <= 4);
    let hint = near.map_or_else(|| "`backshell explain` lists them".to_owned(), |(_, code)| format!("did you mean `{code}`?"));
    super::complain(&format!("no code `{}`; {hint}", crate::text::visible(wanted)));
    Ok(2)
}
