//! A part of a lot as a file: what one bench hands over to be merged.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::finding::{Code, Problem};
use crate::text::{Source, Span, visible};

use super::summary::Summary;

/// The name of this form of a part.
pub const PART_SCHEMA: &str = "backshell.lot-part/1";

#[derive(Serialize)]
struct Written<'a> {
    schema: &'a str,
    summary: &'a Summary,
}

#[derive(Deserialize)]
struct Read {
    schema: String,
    summary: Summary,
}

/// A summary as JSON. Equal summaries give the same bytes.
///
/// ```
/// use backshell::lot::{Summary, read_part, write_part};
/// use backshell::text::Source;
/// let text = write_part(&Summary::default());
/// assert_eq!(read_part(&Source::new("part.json", text)).unwrap(), Summary::default());
/// ```
#[must_use]
pub fn write_part(summary: &Summary) -> String {
    let mut text = serde_json::to_string(&Written { schema: PART_SCHEMA, summary }).unwrap_or_default();
    text.push('\n');
    text
}

/// Reads what [`write_part`] wrote.
///
/// # Errors
/// What isn't such a part: other JSON, another form, a code that this program doesn't know.
pub fn read_part(source: &Arc<Source>) -> Result<Summary, Problem> {
    let name = source.name().to_owned();
    let what = format!("{} is no part of a lot", visible(&name));
    let read: Read = serde_json::from_str(source.text()).map_err(|error| {
        let line = source.text().split_inclusive('\n').take(error.line().saturating_sub(1)).map(str::len).sum::<usize>();
        let at = (line + error.column().saturating_sub(1)).min(source.text().len());
        Problem::new(what.clone())
            .at(source, Span::new(at, at), error.to_string())
            .help("`--part-out FILE` writes a part; merge only such files")
    })?;
    if read.schema != PART_SCHEMA {
        let found = format!("{what}: it says `{}`, not `{PART_SCHEMA}`", visible(&read.schema));
        return Err(Problem::new(found).help("parts of another version can't be merged: make them again with this one"));
    }
    let mut summary = read.summary;
    if let Some(code) = summary.groups.values().flat_map(|group| group.codes.keys()).find(|code| Code::parse(code).is_none()) {
        return Err(Problem::new(format!("{what}: no such code as `{}`", visible(code))));
    }
    summary.settle();
    Ok(summary)
}
