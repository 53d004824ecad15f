//! Whole files: cut in parts, read, checked on every core, and handed over in the order of the file.

mod names;
mod parts;
mod repeats;
pub(in crate::verify) mod stream;
pub(in crate::verify) mod whole_file;
mod worker;

pub use names::Twice;
pub use stream::{Batch, Options, Outcome, check_file, check_text};
pub use whole_file::read_file;
