//! How many of something, in words.

use std::fmt::Display;

/// One thing or several: `1 unit`, `2 units`, `0 units`.
pub(crate) fn count<N: Display + PartialEq + From<u8>>(n: N, one: &str, many: &str) -> String {
    let word = if n == N::from(1) { one } else { many };
    format!("{n} {word}")
}
