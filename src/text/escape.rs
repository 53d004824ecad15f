//! Control characters from a file must not reach the terminal as they are.

use std::borrow::Cow;

/// The text with every control character spelled as its Unicode escape, for use inside a message.
///
/// ```
/// assert_eq!(backshell::text::visible("R7\u{1b}[2J"), "R7\\u{1b}[2J");
/// ```
#[must_use]
pub fn visible(text: &str) -> Cow<'_, str> {
    let plain = text.bytes().all(|b| matches!(b, b' '..=b'~'));
    if plain || !text.chars().any(is_unsafe) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        if is_unsafe(c) {
            out.extend(c.escape_unicode());
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// Whether there may be anything to blank: a plain count, which the compiler turns into wide instructions.
pub(super) fn has_controls(bytes: &[u8]) -> bool {
    let odd = |b: u8| {
        let control = (b < 0x20) & (b != b'\n') & (b != b'\t') & (b != b'\r') | (b == 0x7f);
        // the first bytes, in UTF-8, of the other characters that are not safe
        u32::from(control | (b == 0xc2) | (b == 0xd8) | (b == 0xe2) | (b == 0xef))
    };
    bytes.iter().map(|b| odd(*b)).sum::<u32>() > 0
}

/// The bytes of a snippet with a question mark for each byte of a character that isn't safe, so that offsets into it stay
/// true. Line ends and tabs stay.
pub(super) fn blanked(text: &str) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    let unsafe_here = text.char_indices().filter(|(_, c)| is_unsafe(*c) && !matches!(c, '\n' | '\t' | '\r'));
    for (at, c) in unsafe_here {
        bytes[at..at + c.len_utf8()].fill(b'?');
    }
    bytes
}

/// Control characters, the marks that turn the direction of writing, and the two that no XML may hold.
fn is_unsafe(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        || matches!(c, '\u{fffe}' | '\u{ffff}')
}
