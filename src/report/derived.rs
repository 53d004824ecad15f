//! A derived cable as a TOML file, with every row marked for review.

use std::fmt::Write as _;

use crate::netlist::Scope;
use crate::text::visible;
use crate::units::{Quantity, Unit};
use crate::verify::{Derived, DerivedConnector, DerivedEnd, DerivedPin};

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}

/// The TOML file of a derived cable. Each row is marked as from memory, and what the sample can't tell as `TODO`.
#[must_use]
pub fn derived_map(derived: &Derived) -> String {
    let what = if derived.is_drawing { "a drawing" } else { "a sample" };
    let mut out = format!(
        "# Derived from {}, {what} that was taken to be good. Each TODO wants a look, and goes when it had one.\n\
         # As long as a row says `from-memory`, what breaks it is a question, and no failure: the unit is inconclusive. A row that\n\
         # you checked says so in place of it, as in `checked = [\"ORDER\"]`, with a line at the end of this file for each such word:\n\
         # [sources]\n\
         # ORDER = \"drawing and order of the dome refit\"\n\
         # What {what} can't tell: what each contact is for (`role`), which grounds are wires of their own though they are joined,\n\
         # what may be missing, and what else than it would do as well.\n",
        derived.from
    );
    out.push_str(match derived.scope {
        Scope::All => "",
        Scope::Listed => "# TODO only the contacts that are named were probed: of any other contact nothing is known.\n",
        Scope::Stated => {
            "# TODO only what the lines state was probed: two contacts of which no line says whether they are joined are taken to be apart.\n"
        }
    });
    let _ = writeln!(out, "name = {}", quoted(&derived.name));
    let _ = writeln!(out, "title = {} # TODO what it is, in words", quoted(&derived.name));
    let _ = writeln!(out, "standard = {} # TODO the drawing or the standard", quoted(&format!("derived from {}", derived.from)));
    out.push_str("ends = [\n");
    for end in &derived.ends {
        end_entry(&mut out, end);
    }
    out.push_str("]\nconductors = [\n");
    for row in &derived.rows {
        let points: Vec<String> = row.points.iter().map(|point| quoted(point)).collect();
        let _ = write!(
            out,
            "  {{ signal = {}, points = [{}], from-memory = true }}, # TODO review",
            quoted(&row.signal),
            points.join(", ")
        );
        for remark in &row.remarks {
            let _ = write!(out, "; {remark}");
        }
        out.push('\n');
        if row.commoned {
            out.push_str(
                "  # TODO several contacts at one end: where they are wires of their own that a plug commons, write a row for each, \
                 with `common`\n",
            );
        }
    }
    out.push_str("]\n");
    if !derived.alone.is_empty() {
        out.push_str("unconnected = [\n");
        for (point, named) in &derived.alone {
            let why = if *named { "open in the sample" } else { "not named in the sample" };
            let _ = writeln!(
                out,
                "  {{ point = {}, why = {}, from-memory = true }}, # TODO must it be open, or may it be wired?",
                quoted(point),
                quoted(why)
            );
        }
        out.push_str("]\n");
    }
    parts(&mut out, derived);
    if let Some(ohm) = derived.most_ohm {
        let most = Quantity::new(ohm, Unit::Ohm).short();
        let _ = writeln!(out, "# TODO the most that a conductor of it measured is {most}; a limit is yours to set, as in");
        let _ = writeln!(
            out,
            "# limits = [{{ of = \"conductor\", value = {}, why = \"the order says so\", from-memory = true }}]",
            quoted(&most)
        );
    }
    for end in &derived.ends {
        if let DerivedConnector::New { name, title, pins } = &end.connector {
            connector(&mut out, name, title.as_deref(), pins, derived);
        }
    }
    out
}

fn end_entry(out: &mut String, end: &DerivedEnd) {
    let (connector, port) = match &end.connector {
        DerivedConnector::Known { connector, port } => (connector.name.as_str(), port.as_ref()),
        DerivedConnector::New { name, .. } => (name.as_str(), None),
    };
    let _ = write!(out, "  {{ end = {}, connector = {}", quoted(&end.name), quoted(connector));
    if let Some(side) = &end.side {
        let _ = write!(out, ", side = {}", quoted(side));
    }
    if let Some((port, _)) = port {
        let _ = write!(out, ", port = {}", quoted(port));
    }
    out.push_str(" },");
    if let DerivedConnector::Known { connector, .. } = &end.connector
        && !connector.file.name().starts_with("catalogue/")
    {
        let _ = write!(out, " # from {}: keep it beside this file, or in the folder of `--maps`", visible(connector.file.name()));
    }
    if port.is_some_and(|(_, said)| !said) {
        out.push_str(" # TODO which port: it decides what the contacts are called");
    }
    out.push('\n');
}

fn parts(out: &mut String, derived: &Derived) {
    if derived.parts.is_empty() {
        return;
    }
    out.push_str("components = [\n");
    for part in &derived.parts {
        let [a, b] = part.points.each_ref().map(|point| quoted(point));
        let kind = part.kind.word();
        match part.value {
            Some(value) => {
                let value = Quantity::new(value.value, value.unit).short();
                let _ = writeln!(
                    out,
                    "  {{ kind = \"{kind}\", points = [{a}, {b}], value = {}, tolerance = \"{} %\", from-memory = true }}, # TODO the \
                     value that was ordered, and what it may be off",
                    quoted(&value),
                    part.percent
                );
            }
            None => {
                let _ = writeln!(out, "  {{ kind = \"{kind}\", points = [{a}, {b}], from-memory = true }}, # TODO review");
            }
        }
    }
    out.push_str("]\n");
}

fn connector(out: &mut String, name: &str, title: Option<&str>, pins: &[DerivedPin], derived: &Derived) {
    let _ = write!(
        out,
        "\n# TODO the sample says which contacts it has joined or named, not which ones the connector has: add the others here, and \
         under `unconnected`.\n# TODO `rows` draws the contact field: rows = [[\"1\", \"2\"], [\"3\", \"4\"]], as seen at the mating face\n\
         [[connector]]\nname = {}\ntitle = {} # TODO what it is, in words\nstandard = {}\npins = [\n",
        quoted(name),
        quoted(title.unwrap_or(name)),
        quoted(&format!("derived from {}", derived.from)),
    );
    for pin in pins {
        let (role, todo) = match (&pin.pair, &pin.drains, pin.pin.as_str()) {
            (Some((_, true)), ..) => ("pair+", "TODO which of the two is plus"),
            (Some((_, false)), ..) => ("pair-", "TODO which of the two is plus"),
            (None, Some(_), pin) if pin != "shell" => ("drain", "TODO review"),
            (None, _, "shell") => ("shell", "TODO review"),
            _ if pin.signal.is_none() => ("unused", "TODO the role"),
            _ => ("signal", "TODO the role: signal, ground, supply, return, detect, earth …"),
        };
        let _ = write!(
            out,
            "  {{ pin = {}, name = {}, role = \"{role}\"",
            quoted(&pin.pin),
            quoted(pin.signal.as_deref().unwrap_or("open"))
        );
        if let Some((pair, _)) = &pin.pair {
            let _ = write!(out, ", pair = {}", quoted(pair));
        }
        if let Some(pair) = pin.drains.as_ref().filter(|_| role == "drain") {
            let _ = write!(out, ", drains = {}", quoted(pair));
        }
        let _ = writeln!(out, ", from-memory = true }}, # {todo}");
    }
    out.push_str("]\n");
}
