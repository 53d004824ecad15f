//! From-to tables, read by their headings, and checked where they have a row.

use std::sync::{Arc, LazyLock};

use backshell::netlist::{self, Form, Forms, Header, TableOptions};
use backshell::verify::check_file;

use super::netlist::round_trip;
use super::{everything, show, source, text, told, with_file};

/// The header that tables can't state.
pub static HEADER: LazyLock<Arc<Header>> = LazyLock::new(|| {
    let source = source("lead.netlist", "cable xlr3\nlength 2 m\ngauge 24 AWG\n");
    Arc::new(Header::read(&source, "".as_ref()).unwrap())
});

static OPTIONS: LazyLock<[TableOptions; 2]> =
    LazyLock::new(|| [TableOptions::default(), TableOptions::default().with_decimal_comma(true).with_ends("A", "B")]);

pub fn table(bytes: &[u8]) {
    if let Some(text) = text(bytes) {
        let mut any = false;
        for options in OPTIONS.iter() {
            let read = netlist::read(&source("file", text), Form::Table(options, Some(&HEADER)), &[]);
            show(&read.problems);
            if read.problems.is_empty() {
                round_trip(&read);
            }
            any |= !read.units.is_empty();
        }
        if !any {
            return;
        }
    }
    let forms = Forms::default().with_table(OPTIONS[1].clone()).with_header(Arc::clone(&HEADER));
    let options = everything().with_forms(forms);
    with_file("table.csv", bytes, |path| told(|each| check_file(path, &options, each)));
}
