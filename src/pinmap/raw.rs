//! The TOML files as they are written: every entry with its span, nothing checked yet.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use serde::Deserialize;
use serde::de::DeserializeOwned;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::finding::Problem;
use crate::text::{Source, Span, visible};

use super::Role;
use super::rows::LongLists;

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawConnector {
    pub name: Spanned<String>,
    pub title: String,
    pub standard: String,
    #[serde(default)]
    pub sides: Vec<String>,
    #[serde(default)]
    pub rows: Vec<Vec<Spanned<String>>>,
    pub pins: Vec<Spanned<RawPin>>,
    #[serde(default)]
    pub sources: BTreeMap<String, String>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawPin {
    pub pin: Spanned<String>,
    pub name: String,
    pub role: Role,
    pub pair: Option<String>,
    pub far: Option<RawFunction>,
    pub drains: Option<OneOrMore>,
    #[serde(default)]
    pub checked: Vec<Spanned<String>>,
    #[serde(default)]
    pub from_memory: bool,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawFunction {
    pub name: String,
    pub role: Role,
    pub pair: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(untagged)]
pub(super) enum OneOrMore {
    One(String),
    More(Vec<String>),
}

impl OneOrMore {
    pub fn into_vec(self) -> Vec<String> {
        match self {
            OneOrMore::One(one) => vec![one],
            OneOrMore::More(more) => more,
        }
    }
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawCable {
    pub name: Spanned<String>,
    pub title: String,
    pub standard: String,
    pub ends: Vec<Spanned<RawEnd>>,
    pub conductors: Vec<Spanned<RawLink>>,
    #[serde(default)]
    pub common: Vec<Spanned<RawGroup>>,
    #[serde(default)]
    pub unconnected: Vec<Spanned<RawUnconnected>>,
    #[serde(default)]
    pub components: Vec<Spanned<RawPart>>,
    #[serde(default)]
    pub excluded: Vec<Spanned<RawExcluded>>,
    #[serde(default)]
    pub limits: Vec<Spanned<RawLimit>>,
    #[serde(default)]
    pub link_rates: Vec<Spanned<RawLinkRates>>,
    /// Connectors that are written in the cable's own file.
    #[serde(default)]
    pub connector: Vec<RawConnector>,
    #[serde(default)]
    pub notes: Vec<String>,
    #[serde(default)]
    pub sources: BTreeMap<String, String>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawEnd {
    pub end: Spanned<String>,
    pub connector: Spanned<String>,
    pub side: Option<Spanned<String>>,
    /// Which of the connector's two sets of names holds, where the side isn't called like it.
    pub port: Option<Spanned<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawLink {
    pub signal: String,
    pub points: Vec<Spanned<String>>,
    pub common: Option<Spanned<String>>,
    #[serde(default)]
    pub optional: bool,
    pub when: Option<Spanned<String>>,
    #[serde(default)]
    pub checked: Vec<Spanned<String>>,
    #[serde(default)]
    pub from_memory: bool,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawGroup {
    pub name: String,
    pub pairing: super::Pairing,
    pub why: String,
    #[serde(default)]
    pub checked: Vec<Spanned<String>>,
    #[serde(default)]
    pub from_memory: bool,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawUnconnected {
    pub point: Spanned<String>,
    pub why: String,
    #[serde(default)]
    pub one_end_shield: bool,
    #[serde(default)]
    pub checked: Vec<Spanned<String>>,
    #[serde(default)]
    pub from_memory: bool,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawPart {
    pub kind: Spanned<String>,
    pub points: Vec<Spanned<String>>,
    pub value: Option<Spanned<String>>,
    pub tolerance: Option<Spanned<String>>,
    #[serde(default)]
    pub optional: bool,
    pub why: Option<String>,
    #[serde(default)]
    pub checked: Vec<Spanned<String>>,
    #[serde(default)]
    pub from_memory: bool,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawExcluded {
    pub kind: Spanned<String>,
    pub points: Vec<Spanned<String>>,
    #[serde(default)]
    pub place_decides: bool,
    pub why: String,
    #[serde(default)]
    pub checked: Vec<Spanned<String>>,
    #[serde(default)]
    pub from_memory: bool,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawLimit {
    pub of: super::Limited,
    #[serde(default)]
    pub signals: Vec<Spanned<String>>,
    pub value: Spanned<String>,
    #[serde(default)]
    pub per_metre: bool,
    pub share: Option<Spanned<String>>,
    pub why: String,
    #[serde(default)]
    pub checked: Vec<Spanned<String>>,
    #[serde(default)]
    pub from_memory: bool,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawLinkRates {
    pub ladder: Spanned<String>,
    pub lanes: Vec<Spanned<String>>,
    pub impedance: Spanned<String>,
    #[serde(default)]
    pub checked: Vec<Spanned<String>>,
    #[serde(default)]
    pub from_memory: bool,
}

/// The most errors that are told of one file as written.
const MOST: usize = 20;

/// Reads one file as written.
///
/// # Errors
/// What can't be read, each at its place: an entry with an error is left out, and the others are read on.
pub(super) fn read<T: DeserializeOwned>(source: &Arc<Source>) -> Result<T, Vec<Problem>> {
    let text = source.text();
    if let Ok(read) = toml::from_str(text) {
        return Ok(read);
    }
    let (mut root, mut errors) = DeTable::parse_recoverable(text);
    if errors.is_empty() {
        while errors.len() < MOST
            && let Err(error) = T::deserialize(toml::Deserializer::from(root.clone()))
        {
            let at = error.span();
            errors.push(error);
            if !at.is_some_and(|at| leave_out(root.get_mut(), &at)) {
                break;
            }
        }
    }
    errors.truncate(MOST);
    errors.sort_by_key(|error| error.span().map_or(0, |span| span.start));
    let what = format!("the pin map {}", visible(source.name()));
    Err(errors.iter().map(|error| Problem::toml(&what, source, error)).collect())
}

/// Reads one file as written whose long lists were cut out; none where anything is wrong.
pub(super) fn read_short<T: DeserializeOwned>(lists: &LongLists<'_>) -> Option<T> {
    let short = lists.short();
    let root = DeTable::parse(&short).ok()?;
    T::deserialize(toml::Deserializer::from(lists.moved(root))).ok()
}

/// Takes the entry, or else the key, that holds an error out of a file; false where there is none.
fn leave_out(root: &mut DeTable<'_>, at: &Range<usize>) -> bool {
    for (_, value) in root.iter_mut() {
        if let DeValue::Array(entries) = value.get_mut()
            && let Some(nth) = entries.iter().position(|entry| holds(entry, at))
        {
            *entries = entries.iter().enumerate().filter(|(at, _)| *at != nth).map(|(_, entry)| entry.clone()).collect();
            return true;
        }
    }
    let key = root.iter().map(|(key, _)| key).find(|key| key.span() == *at).cloned();
    key.is_some_and(|key| root.remove(&key).is_some())
}

/// Whether a place lies in a value, or in what belongs to it: a `[[table]]` spans its heading alone.
fn holds(value: &Spanned<DeValue<'_>>, at: &Range<usize>) -> bool {
    let inside = |span: Range<usize>| span.start <= at.start && at.end <= span.end;
    let deeper = |table: &DeTable<'_>| table.iter().any(|(key, value)| inside(key.span()) || holds(value, at));
    inside(value.span()) || value.get_ref().as_table().is_some_and(deeper)
}

/// The place of a spanned value.
pub(super) fn place<T>(value: &Spanned<T>) -> Span {
    value.span().into()
}
