//! Signals: whether the lanes carry the rate that the cable is sold for, where their S-parameters were measured.

use crate::finding::{Code, Finding, Label, Sink};
use crate::netlist::FactKind;
use crate::pinmap::Lane as PairedLane;
use crate::signal::rates::{self, Carries};
use crate::text::visible;

use crate::verify::case::Case;
use crate::verify::case::link_grades::LinkGrade;

/// Reports files that can't be used, and a rated rate that isn't carried.
pub(in crate::verify) fn check(case: &Case<'_>, sink: &mut Sink) {
    if !case.facts().iter().any(|fact| matches!(fact.kind, FactKind::SParameters { .. })) {
        return;
    }
    for problem in &case.signal_files().problems {
        let mut finding = about(case, Code::LinkUnread, problem.message.clone(), problem.labels.clone());
        "what the file would have shown was not looked at; the unit can't be called fit for its rate"
            .clone_into(&mut finding.why);
        finding.remedy = match &problem.help {
            Some(help) => format!("{help}; or take the line out"),
            None => "put the file where the line says, or take the line out".to_owned(),
        };
        "the netlist names the file as evidence".clone_into(&mut finding.source);
        finding.leave_undecided();
        sink.report(finding);
    }
    for link in case.link_grades() {
        sink.report_if(rate_finding(case, link));
    }
    sink.report_if(unknown_rate(case));
}

/// A rated word that no ladder of the cable knows, while lanes were measured: they can't be held against it.
fn unknown_rate(case: &Case<'_>) -> Option<Finding> {
    let files = &case.signal_files().files;
    let said = case.given.get(|settings| settings.rated).filter(|_| !files.is_empty())?;
    if case.link_grades().iter().any(|link| link.grade.rated.is_some()) {
        return None;
    }
    let known = case.named.link_rates.iter().filter_map(|link| rates::ladder(&link.ladder)).flat_map(|ladder| &ladder.rates);
    let known: Vec<&str> = known.map(|rate| rate.name.as_str()).collect();
    let message =
        format!("the lanes were measured, and can't be held against `rated {}`: no rate of that name", visible(said.text()));
    let mut finding = about(case, Code::LinkRate, message, files.iter().map(|file| file.label.clone()).collect());
    "whether the cable is fit for its rate wasn't judged".clone_into(&mut finding.why);
    finding.remedy = match known.is_empty() {
        true => "look at the files by themselves: `backshell signal`".to_owned(),
        false => format!("write one of these: {}", known.join(", ")),
    };
    rates::STANDING.clone_into(&mut finding.source);
    finding.leave_undecided();
    Some(finding)
}

fn rate_finding(case: &Case<'_>, link: &LinkGrade) -> Option<Finding> {
    let rated = link.grade.rated.as_ref()?;
    let ladder = rates::ladder(&link.grade.ladder)?;
    let rate = ladder.rate(&rated.name)?;
    let reached = match &rated.reached {
        Some(name) => format!("the highest rate that all measured lanes carry is {name}"),
        None => "no rate of the link is carried by all measured lanes".to_owned(),
    };
    let result = link.grade.rates.iter().find(|result| result.name == rated.name)?;
    let (message, undecided) = match &rated.carries {
        Carries::No(why) => {
            let least = result.lanes.iter().filter_map(|lane| lane.headroom).fold(f64::INFINITY, f64::min);
            // an own estimate, or a mask from memory, fails a unit only where it is far off: an eye half as open as it should be
            let sure = rate.has_source() || least < -0.5;
            (format!("the rated {} isn't carried: {why}; {reached}", rated.name), !sure)
        }
        Carries::NotJudged(why) => (format!("whether the rated {} is carried can't be told: {why}; {reached}", rated.name), true),
        Carries::Yes if !link.missing.is_empty() => {
            let lanes = link.missing.join(", ");
            (format!("the rated {} needs more lanes than were measured: nothing is known of {lanes}", rated.name), true)
        }
        Carries::Yes => return None,
    };
    let lanes = result.lanes.iter().zip(&link.labels);
    let missed: Vec<Label> = lanes.filter(|(lane, _)| !lane.carries.yes()).map(|(_, label)| label.clone()).collect();
    let labels = if missed.is_empty() { link.labels.clone() } else { missed };
    let mut finding = about(case, Code::LinkRate, message, labels);
    if rated.carries.yes() {
        // nothing is wrong where it was measured: what is told lies at the lanes that were not
        let unknown = |lane: &&PairedLane| link.missing.contains(&lane.name);
        let lanes = case.named.link_rates.iter().filter(|own| own.ladder == ladder.name).flat_map(|own| &own.lanes);
        let points: Vec<u32> = lanes.filter(unknown).flat_map(|lane| [lane.near, lane.far].concat()).collect();
        finding = Finding { labels: finding.labels, ..case.finding(Code::LinkRate, &points, finding.message) };
    }
    "at a higher rate than its worst lane carries, a link makes errors, or its training falls back to a lower one"
        .clone_into(&mut finding.why);
    "find the cause with `backshell diagnose`; or sell and use the cable at the rate that it carries"
        .clone_into(&mut finding.remedy);
    finding.source = format!("{}; {}", result.judged_by, rates::STANDING);
    if undecided {
        finding.leave_undecided();
    }
    Some(finding)
}

fn about(case: &Case<'_>, code: Code, message: String, labels: Vec<Label>) -> Finding {
    let mut points: Vec<u32> = Vec::new();
    for fact in case.facts().iter().filter(|fact| matches!(fact.kind, FactKind::SParameters { .. })) {
        let shown = labels.iter().any(|label| label.span.start >= fact.span.start && label.span.end() <= fact.span.end());
        if shown {
            points.extend(case.numbers(fact).iter());
        }
    }
    Finding { labels, ..case.finding(code, &points, message) }
}
