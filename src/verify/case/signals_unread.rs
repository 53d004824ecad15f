//! In place of [`signals`](self), where the crate is built without the feature `signal`: no S-parameters are read.

use std::path::Path;

use super::Case;

/// Nothing, since nothing is read.
#[derive(Debug, Default)]
pub(in crate::verify) struct Signals;

impl Signals {
    pub fn in_folder(_: &Path) -> Self {
        Signals
    }
}

impl Case<'_> {
    /// The contacts at which S-parameters were measured, as far as anybody looked: none.
    pub(in crate::verify) fn measured_contacts(&self) -> Vec<u32> {
        Vec::new()
    }
}
