//! Adds a check of one's own: the dome asks that every conductor's resistance was measured, which no map does.
//!
//! `cargo run --example own_check`

#![allow(clippy::print_stdout)]

use backshell::finding::{Code, Finding, Sink, Verdict};
use backshell::netlist::FactKind;
use backshell::verify::{Case, Check, Options, check_text};

/// The check, with the name that records keep of it.
pub const EVERY_FIGURE: Check = Check::new("dome.every-figure", every_figure);

/// A join without a figure leaves the unit undecided: the code is the one of the catalogue that comes nearest.
fn every_figure(case: &Case<'_>, sink: &mut Sink) {
    for (at, fact) in case.lines() {
        if let FactKind::Join { figure: None, .. } = fact.kind {
            let mut finding: Finding = case
                .finding(Code::CoverageBlind, &case.numbers(fact), "no resistance was measured here")
                .with_label(case.at(at, "no figure"))
                .with_why("the dome's runs are long, and a conductor that is merely joined may be too thin")
                .with_remedy("measure it with four wires, and write the figure on the line")
                .with_source("dome refit, order 7");
            finding.leave_undecided();
            sink.report(finding);
        }
    }
}

/// The verdict on each unit of a text, with the check among the others.
pub fn verdicts(text: &str) -> Vec<Verdict> {
    let options = Options::default().with_own_check(EVERY_FIGURE);
    let mut all = Vec::new();
    check_text("dome.netlist", text, &options, |batch| all.extend(batch.reports.iter().map(|report| report.verdict)));
    all
}

fn main() {
    let text = "cable xlr3\nunit M-1\nA.1 B.1 0.1 ohm\nA.2 B.2 0.1 ohm\nA.3 B.3 0.1 ohm\nunit M-2\nA.1 B.1\nA.2 B.2\nA.3 B.3\n";
    println!("{:?}", verdicts(text));
}
