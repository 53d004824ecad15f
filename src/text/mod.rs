//! Files as text: byte spans, the line table, the escaping of control characters, and digests of bytes.
//!
//! The rest of the crate keeps only byte offsets. Lines and columns are worked out here, once a file and on demand.

mod count;
mod digest;
mod escape;
mod file;
mod readings;
mod source;
mod span;

pub(crate) use count::count;
pub use digest::{Digest, Digester};
pub use escape::visible;
pub use file::read_whole;
pub use readings::Readings;
pub use source::{Position, Source};
pub use span::Span;
