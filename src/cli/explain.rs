//! `backshell explain`.

use std::io::{self, Write};

use clap::Args;

use crate::finding::Code;
use crate::report::{explained_list, explained_page, explained_verdict};

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
    let lower = wanted.to_lowercase();
    if let Some(code) = Code::parse(&lower) {
        match settings().width() {
            Some(width) => write!(out, "{}", explained_page(code, width))?,
            None => write!(out, "{}", code.page().text())?,
        }
        return Ok(0);
    }
    if let Some(text) = explained_verdict(&lower, settings().columns()) {
        write!(out, "{text}")?;
        return Ok(0);
    }
    super::complain(&format!("no code `{}`; {}", crate::text::visible(wanted), hint(&lower)));
    Ok(2)
}

/// What may have been meant: the codes that begin so, else the one that is written nearly so.
fn hint(wanted: &str) -> String {
    let codes = || Code::ALL.iter().map(|code| code.text());
    let begin: Vec<String> = codes().filter(|code| code.starts_with(wanted)).map(|code| format!("`{code}`")).collect();
    match &begin[..] {
        [] => {}
        [only] => return format!("did you mean {only}?"),
        _ if begin.len() < Code::ALL.len() => return format!("these begin so: {}", begin.join(", ")),
        _ => return "`backshell explain` lists them".to_owned(),
    }
    let near = codes().map(|code| (strsim::damerau_levenshtein(code, wanted), code)).min();
    near.filter(|(distance, _)| *distance <= 4)
        .map_or_else(|| "`backshell explain` lists them".to_owned(), |(_, code)| format!("did you mean `{code}`?"))
}
