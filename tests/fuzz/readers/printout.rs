//! Print-outs and the rules that read them: the rules, a line `----`, the print-out. Without that line it is all print-out, read
//! by the rules of `netlists/rules/cue-bench.toml`, and all rules too.

use std::sync::{Arc, LazyLock};

use backshell::netlist::{self, Form, Forms, Rules};
use backshell::verify::check_file;

use super::netlist::round_trip;
use super::table::HEADER;
use super::{everything, halves, show, source, text, told, with_file};

static RULES: LazyLock<Arc<Rules>> =
    LazyLock::new(|| Arc::new(Rules::read(&source("rules", include_str!("../../../netlists/rules/cue-bench.toml"))).unwrap()));

pub fn printout(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return check(&RULES, bytes) };
    let (rules, lines) = halves(text, text);
    match Rules::read(&source("rules", rules)) {
        Ok(rules) => read(&Arc::new(rules), lines),
        Err(problems) => show(&problems),
    }
    if rules.len() == text.len() {
        read(&RULES, text);
    }
}

fn read(rules: &Arc<Rules>, lines: &str) {
    let read = netlist::read(&source("file", lines), Form::PrintOut(rules, Some(&HEADER)), &[]);
    show(&read.problems);
    if read.problems.is_empty() {
        round_trip(&read);
    }
    if !read.units.is_empty() {
        check(rules, lines.as_bytes());
    }
}

fn check(rules: &Arc<Rules>, lines: &[u8]) {
    let forms = Forms::default().with_rules(Arc::clone(rules)).with_header(Arc::clone(&HEADER));
    let options = everything().with_forms(forms);
    with_file("print-out.txt", lines, |path| told(|each| check_file(path, &options, each)));
}
