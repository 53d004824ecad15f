//! The catalogue, and one map as a table with its sources.

use std::fmt::Write as _;
use std::path::PathBuf;

use crate::pinmap::{Cable, Catalogue, Limited, OwnFile, Pairing, cable_names};
use crate::text::visible;
use crate::units::{Quantity, Unit};

use super::page::Page;
use super::terminal::WIDTH;

/// The catalogue: a line a cable, or more where its title is wider than so many columns.
#[must_use]
pub fn catalogue_table(catalogue: &mut Catalogue, width: usize) -> String {
    let names: Vec<&str> = cable_names().collect();
    let longest = names.iter().map(|name| name.len()).max().unwrap_or(0);
    let mut out = Page::new(width);
    for name in names {
        let title = catalogue.cable(name, std::path::Path::new("")).map_or_else(|_| String::new(), |cable| cable.title.clone());
        out.paragraph(&format!("{name:longest$}  "), &title);
    }
    out.into_text()
}

/// The cables and connectors of one's own folders: a line each, as in the catalogue.
#[must_use]
pub fn own_table(files: &[(PathBuf, OwnFile)]) -> String {
    let rows = files.iter().map(|(path, file)| {
        let (name, title) = match file {
            OwnFile::Cable(cable) => (&cable.name, &cable.title),
            OwnFile::Connector(connector) => (&connector.name, &connector.title),
        };
        let path = visible(&path.display().to_string()).into_owned();
        [visible(name).into_owned(), visible(title).into_owned(), path]
    });
    let mut out = String::new();
    table(&mut out, ["your own", "what it is", "file"], rows.collect());
    out
}

/// One map: its ends, its conductors, what must be left alone, its parts, its known miswirings and its sources.
#[must_use]
pub fn map_page(cable: &Cable) -> String {
    map_page_within(cable, WIDTH)
}

/// The same with texts of so many columns; tables keep theirs.
#[must_use]
pub fn map_page_within(cable: &Cable, width: usize) -> String {
    let mut out = Page::new(width);
    out.paragraph("", &format!("{}: {}", cable.name, cable.title));
    out.paragraph("", &format!("Standard: {}", cable.standard));
    for end in &cable.ends {
        let side = end.side.as_ref().map(|side| format!(", {side}")).unwrap_or_default();
        out.paragraph("", &format!("End {}{side}: {}", end.name, end.connector.title));
    }
    out.push_str("\n");
    let rows = cable.links.iter().map(|link| {
        let points: Vec<&str> = link.points.iter().map(|point| cable.text(*point)).collect();
        let mut remarks: Vec<String> = Vec::new();
        let function = cable.function(link.points[0]);
        if let Some(pair) = &function.pair {
            remarks.push(format!("pair {pair}"));
        } else {
            remarks.push(function.role.words().to_owned());
        }
        if link.when_screened {
            remarks.push("only in a screened cable".to_owned());
        } else if link.optional {
            remarks.push("may be missing".to_owned());
        }
        if let Some(group) = link.group {
            remarks.push(format!("may be commoned ({})", cable.groups[group].name));
        }
        let sources = sources(&link.provenance.checked, link.provenance.from_memory);
        [points.join(" "), link.signal.clone(), remarks.join(", "), sources]
    });
    table(&mut out, ["points", "signal", "what it is", "sources"], rows.collect());
    if !cable.unconnected.is_empty() {
        out.push_str("\nTo be left unconnected\n");
        let rows = cable.unconnected.iter().map(|rule| {
            let signal = cable.function(rule.point).name.clone();
            let sources = sources(&rule.provenance.checked, rule.provenance.from_memory);
            [cable.text(rule.point).to_owned(), signal, rule.why.clone(), sources]
        });
        table(&mut out, ["point", "signal", "why", "sources"], rows.collect());
    }
    if !cable.parts.is_empty() {
        out.push_str("\nParts in the plugs\n");
        let rows = cable.parts.iter().map(|part| {
            let value = part.value.map(|value| value.short()).unwrap_or_default();
            let value = if value.is_empty() { value } else { format!(" {value}") };
            let series = if cable.is_in_series(part) { ", in series" } else { "" };
            let what = format!("{}{value}{series}{}", part.kind.word(), if part.optional { ", may be missing" } else { "" });
            let points = format!("{} {}", cable.text(part.points[0]), cable.text(part.points[1]));
            [points, what, part.why.clone(), sources(&part.provenance.checked, part.provenance.from_memory)]
        });
        table(&mut out, ["points", "part", "why", "sources"], rows.collect());
    }
    if !cable.excluded.is_empty() {
        out.push_str("\nParts that don't belong there\n");
        let rows = cable.excluded.iter().map(|part| {
            let points = format!("{} {}", cable.text(part.points[0]), cable.text(part.points[1]));
            let what = format!("{}{}", part.kind.word(), if part.place_decides { ", but at the end of a bus" } else { "" });
            [points, what, part.why.clone(), sources(&part.provenance.checked, part.provenance.from_memory)]
        });
        table(&mut out, ["points", "part", "why", "sources"], rows.collect());
    }
    if !cable.limits.is_empty() {
        out.push_str("\nLimits\n");
        let rows = cable.limits.iter().map(|limit| {
            let of = match limit.of {
                Limited::Conductor => "conductor, at most",
                Limited::Unbalance => "unbalance of a pair, at most",
                Limited::Isolation => "isolation, at least",
            };
            let signals = if limit.signals.is_empty() { "all".to_owned() } else { limit.signals.join(" ") };
            let mut value = Quantity::new(limit.ohm, Unit::Ohm).short();
            if limit.per_metre {
                value.push_str(" per metre");
            }
            if limit.percent > 0.0 {
                let _ = write!(value, " or {} %", limit.percent);
            }
            let sources = sources(&limit.provenance.checked, limit.provenance.from_memory);
            [of.to_owned(), signals, value, limit.why.clone(), sources]
        });
        table(&mut out, ["limit of", "signals", "value", "why", "sources"], rows.collect());
    }
    for group in &cable.groups {
        let pairing = match group.pairing {
            Pairing::Own => "where they are not commoned, each must reach its own partner",
            Pairing::Any => "each must reach some contact of the group at every other end",
        };
        out.push_str("\n");
        out.paragraph("", &format!("Group {}: {}; {pairing}", group.name, group.why));
    }
    if !cable.notes.is_empty() {
        out.push_str("\nKnown miswirings\n");
        for note in &cable.notes {
            out.paragraph("- ", note);
        }
    }
    out.push_str("\nSources\n");
    for (key, text) in &cable.sources {
        out.paragraph("- ", &format!("{key}: {text}"));
    }
    out.push_str("- mem: from memory or derived, no published table seen\n");
    out.into_text()
}

fn sources(checked: &[String], from_memory: bool) -> String {
    let mut keys = checked.to_vec();
    if from_memory {
        keys.push("mem".to_owned());
    }
    keys.join(" ")
}

/// Columns as wide as their widest entry; the last one is left ragged.
pub(super) fn table<const N: usize>(out: &mut impl std::fmt::Write, heading: [&str; N], rows: Vec<[String; N]>) {
    let mut widths = heading.map(|word| word.chars().count());
    for row in &rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.chars().count());
        }
    }
    let mut line = |cells: [&str; N]| {
        let mut text = String::new();
        for (cell, width) in cells.iter().zip(widths) {
            let _ = write!(text, "{cell:width$}  ");
        }
        let _ = writeln!(out, "{}", text.trim_end());
    };
    line(heading);
    for row in &rows {
        line(std::array::from_fn(|at| row[at].as_str()));
    }
}
