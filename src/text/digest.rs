//! SHA-256 (FIPS 180-4) of bytes, as a name for exactly these bytes.

use std::fmt;

use sha2::{Digest as _, Sha256};

/// The SHA-256 of some bytes; written as 64 hexadecimal digits in lower case.
///
/// ```
/// use backshell::text::Digest;
///
/// let abc = Digest::of(b"abc");
/// assert_eq!(abc.to_string(), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
/// assert_eq!(Digest::parse(&abc.to_string()), Some(abc));
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Digest([u8; 32]);

impl Digest {
    /// The digest of bytes that are all there.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        Digest(Sha256::digest(bytes).into())
    }

    /// The 32 bytes.
    #[must_use]
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// Reads 64 hexadecimal digits, of either case.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.as_bytes();
        if text.len() != 64 {
            return None;
        }
        let mut bytes = [0; 32];
        for (to, pair) in bytes.iter_mut().zip(text.chunks_exact(2)) {
            let [high, low] = [pair[0], pair[1]].map(|digit| char::from(digit).to_digit(16));
            *to = u8::try_from(high? << 4 | low?).ok()?;
        }
        Some(Digest(bytes))
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

/// Takes bytes piece by piece.
#[derive(Clone, Debug, Default)]
pub struct Digester(Sha256);

impl Digester {
    /// Takes the next bytes.
    pub fn take(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// The digest of all that was taken.
    #[must_use]
    pub fn finish(self) -> Digest {
        Digest(self.0.finalize().into())
    }
}
