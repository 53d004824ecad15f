//! Control characters from a file must not reach the terminal as they are.

use std::borrow::Cow;

/// The text with every control character spelled as its Unicode escape, for use inside a message.
///
/// ```
/// assert_eq!(backshell::text::visible("R7\u{1b}[2J"), "R7\\u{1b}[2J");
/// ```
#[must_use]
pub fn visible(text: &str) -> Cow<'_, str> {
    if !text.chars().any(is_unsafe) {
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
    let odd = |b: u8| u32::from((b < 0x20) & (b != b'\n') & (b != b'\t') & (b != b'\r') | (b == 0x7f) | (b == 0xc2));
    bytes.iter().map(|b| odd(*b)).sum::<u32>() > 0
}

/// Replaces the control characters of a snippet, byte for byte, so that offsets into it stay true.
///
/// Line ends and tabs stay. C1 controls (two bytes in UTF-8) become two question marks.
pub(super) fn blank_controls(bytes: &mut [u8]) {
    let mut i = 0;
    while i < bytes.len() {
        let b = bytes[i];
        if (b < 0x20 && !matches!(b, b'\n' | b'\t' | b'\r')) || b == 0x7f {
            bytes[i] = b'?';
        } else if b == 0xc2 && bytes.get(i + 1).is_some_and(|next| *next < 0xa0) {
            bytes[i] = b'?';
            bytes[i + 1] = b'?';
        }
        i += 1;
    }
}

/// Control characters, the marks that turn the direction of writing, and the two that no XML may hold.
fn is_unsafe(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        || matches!(c, '\u{fffe}' | '\u{ffff}')
}
