//! Where verdicts are in the record.

use schemars::JsonSchema;
use serde::{Serialize, Serializer};

use crate::text::Digest;

/// The last row of a record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Head {
    /// Its number; zero where there is no row.
    pub number: i64,
    /// Its digest, which stands for it and for all rows before it.
    #[serde(serialize_with = "as_text")]
    #[schemars(with = "String")]
    pub digest: Digest,
}

impl Head {
    /// The row of this number, with the digest that stands for it and for all rows before it.
    #[must_use]
    pub fn new(number: i64, digest: Digest) -> Self {
        Self { number, digest }
    }
}

fn as_text<S: Serializer>(digest: &Digest, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(digest)
}

/// A batch that is in the record.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Recorded {
    /// The number of its first row.
    pub first: i64,
    /// The head of the record with it.
    pub head: Head,
    /// For each of its rows, which attempt it is.
    pub attempts: Vec<i64>,
    /// For each unit that was tested before, its place in the batch and its last attempt.
    pub before: Vec<(usize, Before)>,
}

/// An earlier attempt of a unit.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Before {
    /// Which attempt it was, from 1.
    pub attempt: i64,
    /// When it was recorded.
    pub time: String,
    /// Its verdict.
    pub verdict: String,
}

impl Before {
    /// An attempt of this number, from 1, when it was recorded, and the word of its verdict.
    #[must_use]
    pub fn new(attempt: i64, time: impl Into<String>, verdict: impl Into<String>) -> Self {
        Self { attempt, time: time.into(), verdict: verdict.into() }
    }
}
