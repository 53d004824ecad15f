//! In place of `link`, where the crate is built without the feature `signal`: a file of S-parameters that is named as evidence
//! and not read leaves the unit undecided.

use crate::finding::{Code, Sink};
use crate::netlist::FactKind;

use crate::verify::case::Case;

/// Reports each named file as unread.
pub(in crate::verify) fn check(case: &Case<'_>, sink: &mut Sink) {
    for (line, fact) in case.lines() {
        let FactKind::SParameters { .. } = fact.kind else { continue };
        let message = "the S-parameters of this pair weren't read: this build of the program leaves signals out";
        let mut finding = case.finding(Code::LinkUnread, &case.numbers(fact), message);
        finding.labels = vec![case.at(line, "named here")];
        "what the file would have shown was not looked at; the unit can't be called fit for its rate"
            .clone_into(&mut finding.why);
        "check it with a build that has the feature `signal`, or take the line out".clone_into(&mut finding.remedy);
        "the netlist names the file as evidence".clone_into(&mut finding.source);
        finding.leave_undecided();
        sink.report(finding);
    }
}
