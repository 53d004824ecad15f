//! The TOML files as they are written: every entry with its span, nothing checked yet.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Deserialize;
use serde::de::DeserializeOwned;
use toml::Spanned;

use crate::finding::Problem;
use crate::text::{Source, Span};

use super::Role;

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

/// Reads one file as written.
pub(super) fn read<T: DeserializeOwned>(source: &Arc<Source>) -> Result<T, Problem> {
    toml::from_str(source.text()).map_err(|error| Problem::toml(&format!("the pin map {}", source.name()), source, &error))
}

/// The place of a spanned value.
pub(super) fn place<T>(value: &Spanned<T>) -> Span {
    value.span().into()
}
