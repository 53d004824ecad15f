//! The canonical form of a netlist.

use std::fmt::Write as _;

use crate::text::{Source, Span};

use super::model::{FactKind, Netlist, PointRange};
use super::settings::{Origin, Settings};

/// Writes a netlist in its canonical form: one blank between words, figures in base units with every digit, comments
/// left out. Reading the result gives the same facts.
///
/// ```
/// use backshell::{netlist, text::Source};
/// let read = netlist::parse(&Source::new("x", "A.1\tB.12 412mohm # lane 0\nopen  A.20"));
/// assert_eq!(netlist::print(&read), "A.1 B.12 0.412 ohm\nopen A.20\n");
/// ```
#[must_use]
pub fn print(netlist: &Netlist) -> String {
    let mut out = String::with_capacity(netlist.source.text().len());
    settings(&mut out, &netlist.head_source, &netlist.head);
    for unit in &netlist.units {
        if let Some(name) = unit.name {
            if !out.is_empty() {
                out.push('\n');
            }
            let attempt = if unit.attempt > 1 { format!(" attempt {}", unit.attempt) } else { String::new() };
            let _ = writeln!(out, "unit {}{attempt}", quoted(netlist.source.slice(name)));
        }
        if let Some(own) = &unit.settings {
            settings(&mut out, &netlist.source, own);
        }
        for fact in netlist.facts_of(unit) {
            write_fact(&mut out, netlist, &fact.kind);
            out.push('\n');
        }
    }
    out
}

fn settings(out: &mut String, source: &Source, settings: &Settings) {
    let mut line = |keyword: &str, value: &str| {
        let _ = writeln!(out, "{keyword} {value}");
    };
    let words = [
        ("cable", &settings.cable),
        ("rated", &settings.rated),
        ("lot", &settings.lot),
        ("supplier", &settings.supplier),
        ("type", &settings.kind),
        ("tested", &settings.tested),
        ("operator", &settings.operator),
        ("datum", &settings.datum),
    ];
    for (keyword, setting) in words {
        if let Some(setting) = setting {
            line(keyword, &quoted(source.slice(setting.value)));
        }
    }
    if let Some(origin) = settings.origin {
        line("source", if origin.value == Origin::Drawing { "drawing" } else { "measured" });
    }
    if let Some(view) = settings.view {
        line("view", view.value.word());
    }
    if let Some(scope) = settings.scope {
        line("scope", scope.value.word());
    }
    if let Some(action) = settings.action {
        line("action", action.value.word());
    }
    let figures = [
        ("length", settings.length),
        ("gauge", settings.gauge),
        ("temperature", settings.temperature),
        ("uncertainty", settings.uncertainty),
    ];
    for (keyword, setting) in figures {
        if let Some(setting) = setting {
            line(keyword, &setting.value.to_string());
        }
    }
    if let Some(price) = settings.price {
        line("price", &format!("{} {}", price.value.amount, source.slice(price.value.currency)));
    }
    for (keyword, ends) in [("end", &settings.ends), ("connector", &settings.connectors)] {
        for end in ends {
            line(keyword, &format!("{} {}", quoted(source.slice(end.end)), quoted(source.slice(end.side))));
        }
    }
}

fn write_fact(out: &mut String, netlist: &Netlist, kind: &FactKind) {
    let text = |span: Span| quoted(netlist.source.slice(span));
    match *kind {
        FactKind::Join { points, figure } => {
            write_points(out, netlist, points);
            if let Some(figure) = figure.and_then(|id| netlist.figure(id)) {
                let _ = write!(out, " {}", figure.quantity);
            }
        }
        FactKind::Open { points } => {
            out.push_str("open ");
            write_points(out, netlist, points);
        }
        FactKind::Apart { points } => {
            out.push_str("apart ");
            write_points(out, netlist, points);
        }
        FactKind::Isolation { points, figure } => {
            out.push_str("isolation ");
            write_points(out, netlist, points);
            write_figure(out, netlist, Some(figure));
        }
        FactKind::Component { kind, points, figure } => {
            let _ = write!(out, "{} ", kind.word());
            write_points(out, netlist, points);
            write_figure(out, netlist, figure);
        }
        FactKind::Pair { points } => {
            let conductors = PointRange { count: 2, ..points };
            out.push_str("pair ");
            write_points(out, netlist, conductors);
            if points.count == 3 {
                out.push_str(" screen ");
                write_points(out, netlist, PointRange { first: points.first + 2, count: 1 });
            }
        }
        FactKind::Conductor { label, points, gauge } => {
            let _ = write!(out, "conductor {} ", text(label));
            write_points(out, netlist, points);
            write_figure(out, netlist, gauge);
        }
        FactKind::Capacitance { points, figure } => {
            out.push_str("capacitance ");
            write_points(out, netlist, points);
            write_figure(out, netlist, Some(figure));
        }
        FactKind::SParameters { points, path } => {
            out.push_str("sparameters ");
            write_points(out, netlist, points);
            let _ = write!(out, " {}", text(path));
        }
    }
}

fn write_points(out: &mut String, netlist: &Netlist, points: PointRange) {
    for (i, point) in netlist.points_of(points).iter().enumerate() {
        if i > 0 {
            out.push(' ');
        }
        out.push_str(point.text(&netlist.source));
    }
}

fn write_figure(out: &mut String, netlist: &Netlist, figure: Option<super::FigureId>) {
    if let Some(figure) = figure.and_then(|id| netlist.figure(id)) {
        let _ = write!(out, " {}", figure.quantity);
    }
}

/// A text as the language writes it: bare where it can be.
#[must_use]
pub fn quoted(text: &str) -> String {
    let bare = !text.is_empty() && !text.contains([' ', '\t', '\r', '#', '"']);
    if bare { text.to_owned() } else { format!("\"{text}\"") }
}
