//! Two netlists with a line `----` between them, compared; without it, a netlist with itself.

use backshell::report::{CompareJson, CompareTerminal, CompareWriter};
use backshell::verify::{CompareOptions, compare_texts};

use super::{halves, text};

pub fn compare(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let (first, second) = halves(text, text);
    let options = CompareOptions::default().with_every_contact(true);
    let (mut people, mut programs) = (Vec::new(), Vec::new());
    let mut terminal = CompareTerminal::new(&mut people, false, true);
    let mut json = CompareJson::new(&mut programs).unwrap();
    let done = compare_texts(("one", first), ("other", second), &options, |pair| {
        terminal.pair(&pair).unwrap();
        json.pair(&pair).unwrap();
    });
    terminal.finish(&done).unwrap();
    json.finish(&done).unwrap();
}
