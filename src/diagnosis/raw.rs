//! A file of causes as it is written: every entry with its span, nothing checked yet.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Deserialize;
use toml::Spanned;

use crate::finding::Problem;
use crate::text::{Source, visible};

use super::model::OnlyWith;

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawModel {
    pub doubt: Spanned<f64>,
    pub stays: Spanned<f64>,
    #[serde(default)]
    pub sign: Vec<Spanned<RawSign>>,
    #[serde(default)]
    pub measurement: Vec<Spanned<RawMeasurement>>,
    #[serde(default)]
    pub cause: Vec<Spanned<RawCause>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawSign {
    pub name: Spanned<String>,
    pub asks: String,
    pub only_with: Option<OnlyWith>,
    pub states: Vec<Spanned<RawState>>,
    pub usual: Spanned<Vec<f64>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawState {
    pub name: Spanned<String>,
    pub words: String,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawMeasurement {
    pub name: Spanned<String>,
    pub words: String,
    pub needs: String,
    pub minutes: Spanned<f64>,
    pub signs: Vec<Spanned<String>>,
    pub caution: Option<String>,
    #[serde(default)]
    pub plugged_in: bool,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawCause {
    pub name: Spanned<String>,
    pub words: String,
    pub prior: Spanned<f64>,
    pub remedy: String,
    pub only_with: Option<OnlyWith>,
    #[serde(default)]
    pub at_an_end: bool,
    pub locate: Option<String>,
    pub stays_until: Option<Spanned<String>>,
    #[serde(default)]
    pub seen: BTreeMap<Spanned<String>, Spanned<Vec<f64>>>,
}

/// Reads a file as written.
///
/// # Errors
/// What can't be read, at its place.
pub(super) fn read(source: &Arc<Source>) -> Result<RawModel, Vec<Problem>> {
    let what = format!("the file of causes {}", visible(source.name()));
    toml::from_str(source.text()).map_err(|error| vec![Problem::toml(&what, source, &error)])
}
