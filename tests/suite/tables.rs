//! The other forms of a netlist: from-to tables and print-outs read by rules. They give the facts that the language
//! gives, at the places where they stand; what a spreadsheet spoils is found.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use backshell::netlist::{self, Damage, FactKind, Field, Form, Forms, Header, Netlist, Origin, Rules, TableOptions};
use backshell::report::{JsonReport, Terminal, Writer};
use backshell::text::{Source, Span};
use backshell::verify::{Options, Outcome, check_file};
use proptest::prelude::*;

use crate::references::python;

fn table(text: &str, options: &TableOptions) -> Netlist {
    netlist::read(&Source::new("table.csv", text), Form::Table(options, None), &[])
}

fn with_ends() -> TableOptions {
    TableOptions::default().with_ends("A", "B")
}

fn messages(netlist: &Netlist) -> Vec<String> {
    netlist.problems.iter().map(|problem| problem.message.clone()).collect()
}

/// The facts of every unit as the language writes them, sorted.
fn facts(netlist: &Netlist) -> BTreeMap<String, Vec<String>> {
    let mut units: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut unit = String::new();
    for line in netlist::print(netlist).lines().filter(|line| !line.is_empty() && !line.starts_with("source ")) {
        match line.strip_prefix("unit ") {
            Some(name) => name.clone_into(&mut unit),
            None => units.entry(unit.clone()).or_default().push(line.to_owned()),
        }
    }
    units.values_mut().for_each(|lines| lines.sort());
    units
}

/// Both texts state the same, without a problem.
fn same(csv: &str, options: &TableOptions, language: &str) {
    let read = table(csv, options);
    assert_eq!(messages(&read), [""; 0], "{csv}");
    let wanted = netlist::parse(&Source::new("x.netlist", language));
    assert!(wanted.problems.is_empty(), "{language}");
    assert_eq!(facts(&read), facts(&wanted), "{csv}");
    places(&read);
}

/// Every place lies in the file; points and units stand where they are said to stand.
fn places(netlist: &Netlist) {
    let text = netlist.source.text();
    let inside = |span: Span| assert!(text.get(span.range()).is_some(), "{span:?} in {text:?}");
    netlist.facts.iter().for_each(|fact| inside(fact.span));
    netlist.figures.iter().for_each(|figure| inside(figure.span));
    netlist.units.iter().for_each(|unit| inside(unit.line));
    for point in &netlist.points {
        inside(point.span);
        let (read, written) = (point.text(&netlist.source), netlist.source.written(point.span));
        assert!(read.ends_with(written) || !written.is_empty(), "{read} at {written:?}");
        assert!(!point.end(&netlist.source).is_empty() && !point.pin(&netlist.source).is_empty(), "{read}");
    }
    for label in netlist.problems.iter().flat_map(|problem| &problem.labels) {
        assert!(label.source.text().get(label.span.range()).is_some(), "{label:?}");
    }
}

#[test]
fn delimiters_line_ends_and_quotation_marks() {
    let language = "unit R7-1\nA.1 B.12 0.412 ohm\nA.2 B.11\nopen A.20\nunit R7-2\nA.1 B.12\n";
    for delimiter in [",", ";", "\t"] {
        for end in ["\n", "\r\n", "\r"] {
            for start in ["", "\u{feff}"] {
                let text =
                    ["unit,from,to,ohm", "R7-1,A.1,B.12,0.412", "R7-1,A.2,B.11,", "", ",,,", "R7-1,A.20,open", "R7-2,A.1,B.12,"];
                let text = format!("{start}{}", text.join(end).replace(',', delimiter));
                same(&text, &TableOptions::default(), language);
                same(&format!("{text}{end}"), &TableOptions::default(), language);
            }
        }
    }
    same("sep=;\nunit;from;to\nR7,A.1;A.1;B.1\n", &TableOptions::default(), "unit R7,A.1\nA.1 B.1\n");
    // each wire with its size, which the language states on its `conductor` line
    let gauges = "from,to,wire,gauge\nA.1,B.12,brown,24 AWG\nA.2,B.11,green,0.25 mm2\n";
    same(gauges, &TableOptions::default(), "conductor brown A.1 B.12 24 AWG\nconductor green A.2 B.11 0.25 mm2\n");
    let without = table("from,to,gauge\nA.1,B.12,24 AWG\n", &TableOptions::default());
    assert_eq!(messages(&without), ["a gauge without its wire"]);
    let quoted = "\"unit\",\"from\",\"to\",\"ohm\",\"note\"\r\n\"R7 \"\"1\"\"\",A.1,B.12,,\r\n";
    assert_eq!(messages(&table(quoted, &TableOptions::default())), ["a name that can't be used"], "no netlist can write it");
    let quoted = "\"unit\",\"from\",\"to\",\"ohm\",\"note\"\r\n\"R7, 1\",\"A.1\",\" B.12 \",\"412 mohm\",\"two\r\nlines, \"\"so\"\" to say\"\r\n";
    same(quoted, &TableOptions::default(), "unit \"R7, 1\"\nA.1 B.12 0.412 ohm\n");
}

#[test]
fn every_column() {
    let text = "Unit;From End;from;TO_END;To;Wire;Pair;Screen;Ohm;note\n\
                R7-1;A;1;B;12;brown;lane 0;2;0,412;crossed\n\
                R7-1;B;10;A;3;blue;lane 0;A.2;;\n\
                R7-1;A;4;B;9;;;;<0,5 ohm;\n";
    // a screen's point stands whole, or as a pin at the end of `from`
    let options = TableOptions::default().with_decimal_comma(true);
    let language = "unit R7-1\nA.1 B.12 0.412 ohm\nconductor brown A.1 B.12\nconductor blue B.10 A.3\nA.4 B.9 <0.5 ohm\n\
                    pair A.1 A.3 screen A.2\n";
    same(text, &options, language);
    let parts = "from,to,part\nA.A5,A.A4,resistor 56 kohm +/- 5%\nA.1,A.2,Diode\nA.3,A.4,capacitor 10 nF\n";
    same(parts, &TableOptions::default(), "resistor A.A5 A.A4 56 kohm +/- 5%\ndiode A.1 A.2\ncapacitor A.3 A.4 10 nF\n");
    same("from,to,mohm\n1,12,412\n2,11,0.4 ohm\n", &with_ends(), "A.1 B.12 412 mohm\nA.2 B.11 0.4 ohm\n");
}

#[test]
fn headings_that_are_called_otherwise() {
    let columns = vec![
        (Field::From, "Pin A".to_owned()),
        (Field::To, "pin b".to_owned()),
        (Field::Unit, "Serial No.".to_owned()),
        (Field::Note, "Signal".to_owned()),
        (Field::Note, "from".to_owned()),
    ];
    let options = columns.into_iter().fold(with_ends(), |options, (field, heading)| options.with_column(field, heading));
    same("serial no.,PIN_A,Pin B,Signal,from\nR7-1,1,12,ML0+,shelf 3\n", &options, "unit R7-1\nA.1 B.12\n");
    for (text, wanted) in [
        ("unit,from,too\nR7,A.1,B.1\n", "a column that isn't known"),
        ("unit,from\nR7,A.1\n", "no column `to` in this table"),
        ("from,to,TO\nA.1,B.1,B.2\n", "two columns for `to`"),
        ("A.1,B.1\nA.2,B.2\n", "a from-to table without its heading row"),
        ("from,to,R\nA.1,B.1,0.4\n", "a column that isn't known"),
        ("from,to,MOHM\nA.1,B.1,400\n", "a column of another unit, read as `mohm`"),
    ] {
        assert_eq!(messages(&table(text, &TableOptions::default())), [wanted], "{text}");
        assert!(table(text, &TableOptions::default()).head_broken);
    }
    let options = TableOptions::default().with_column(Field::Ohm, "R [mΩ]");
    let read = table("from,to,R [mΩ]\nA.1,B.1,400\n", &options);
    assert_eq!(messages(&read), ["a column of another unit, read as `ohm`"]);
    let options = TableOptions::default().with_column(Field::From, "Pin Z");
    let read = table("from,to\nA.1,B.1\n", &options);
    assert_eq!(messages(&read)[0], "a column that isn't known", "a field that was mapped is no other column");
    let unnamed = table("from,,to,\nA.1,,B.1,\nA.2,short to A.3,B.2,\n", &TableOptions::default());
    assert_eq!(messages(&unnamed), ["a cell outside of the columns that have a heading"]);
    assert!(unnamed.units[0].broken);
    assert_eq!(messages(&table("from,to\n,\n", &TableOptions::default())), ["a table without rows"]);
    assert_eq!(table("", &TableOptions::default()).problems.len(), 1);
    assert_eq!(table("\n,,\n\n", &TableOptions::default()).problems.len(), 1);
}

/// A wire list is a drawing, figures are measured; the header decides.
#[test]
fn where_a_table_comes_from() {
    let origin = |text: &str, header: Option<&str>| {
        let header = header.map(|text| Header::read(&Source::new("h.netlist", text), Path::new("")).unwrap());
        let options = TableOptions::default();
        let read = netlist::read(&Source::new("table.csv", text), Form::Table(&options, header.as_ref()), &[]);
        assert_eq!(messages(&read), [""; 0]);
        read.head.origin.unwrap().value
    };
    let (wires, figures) = ("from,to\nA.1,B.1\n", "from,to,ohm\nA.1,B.1,0.4\n");
    assert_eq!(origin(wires, None), Origin::Drawing);
    assert_eq!(origin(wires, Some("length 2 m")), Origin::Drawing);
    assert_eq!(origin(wires, Some("source measured")), Origin::Measured);
    assert_eq!(origin(figures, None), Origin::Measured);
    assert_eq!(origin(figures, Some("source drawing")), Origin::Drawing);
    let comma = TableOptions::default().with_decimal_comma(true);
    assert_eq!(
        messages(&table("from;to;mohm\nA.1;B.1;1.382\n", &comma)),
        ["a point in a figure, among figures with a decimal comma"]
    );
}

/// The rows of a unit need not stand together; what each says is found where it stands.
#[test]
fn mixed_units() {
    let text = "from,to,unit,pair\nA.1,B.1,R1,x\nA.1,B.1,R2,x\nA.2,B.2,R1,x\nA.2,open,R3,\nA.2,B.2,R2,x\n";
    same(
        text,
        &TableOptions::default(),
        "unit R1\nA.1 B.1\nA.2 B.2\npair A.1 A.2\nunit R2\nA.1 B.1\nA.2 B.2\npair A.1 A.2\nunit R3\nopen A.2\n",
    );
    let read = table(text, &TableOptions::default());
    let rows: Vec<&str> = read.facts_of(&read.units[1]).iter().map(|fact| read.source.slice(fact.span)).collect();
    assert_eq!(rows, ["A.1,B.1", "A.2,B.2", "x"]);
    let second = read.facts_of(&read.units[1])[1];
    assert_eq!(read.source.position(second.span.start).line, 6);
    assert!(matches!(second.kind, FactKind::Join { points, .. } if points.count == 2));
}

/// What one row does wrong costs its unit the verdict, and no other.
#[test]
fn what_a_row_can_do_wrong() {
    for (row, wanted) in [
        ("R2,A.1,12,,,,", "a pin without its end"),
        ("R2,A.1,B.1.2,,,,", "this isn't a point"),
        ("R2,A.1,,,,,", "a row without its `to`"),
        ("R2,open,B.1,,,,", "`open` instead of a point"),
        ("R2,A.1,open,0.4,,,", "a conductor that ends nowhere"),
        ("R2,A.1,open,,red,,", "a conductor that ends nowhere"),
        ("R2,A.1,B.1,0.4,,,A.7", "a screen without its pair"),
        ("R2,A.1,B.1,12 pF,,,", "the wrong kind of figure"),
        ("R2,A.1,B.1,-1,,,", "a figure out of range"),
        ("R2,A.1,B.1,OL,,,", "a figure is missing"),
        ("R2,A.1,B.1,\"0,41\",,,", "a comma inside a number"),
        ("R2,A.1,B.1,1 Mohm so,,,", "something after the figure can't be read"),
        ("R2,A.1,B.1,01. Feb,,,", "a cell that looks like a date"),
        ("R2,A.1,B.1,,,lane,", "a pair of 1 rows"),
        ("R2\u{a0},A.1,B.1,,,,", "a name that can't be used"),
        ("R2,A.1,B.1,,,,,7", "a cell outside of the columns that have a heading"),
        ("R2,A.1,B.1,,\"re\nd\",,", "a name that can't be used"),
        ("R2,A.1,\"B.1\"x,,,,", "something stands after the closing quotation mark"),
    ] {
        let text = format!("unit,from,to,ohm,wire,pair,screen\nR1,A.1,B.1,,,,\n{row}\nR3,A.1,B.1,,,,\n");
        let read = table(&text, &TableOptions::default());
        assert_eq!(messages(&read), [wanted], "{row}");
        places(&read);
        let broken: Vec<&str> =
            read.units.iter().filter(|unit| unit.broken || read.head_broken).filter_map(|unit| read.name_of(unit)).collect();
        // after a wrong quotation mark, nobody knows where rows begin
        let expected = if wanted.contains("quotation") {
            vec!["R1", "R3"]
        } else if row.contains('\u{a0}') {
            vec!["R2\u{a0}"]
        } else {
            vec!["R2"]
        };
        assert_eq!(broken, expected, "{row}");
    }
}

/// Common practice, no source: how spreadsheets show what they take for dates and numbers, in English and German.
#[test]
fn words_that_a_spreadsheet_makes() {
    for word in [
        "10-Jun",
        "Jun-10",
        "10. Jun",
        "10.Jun",
        "10-Jun-26",
        "10. Juni 2026",
        "Jun 2026",
        "06.10.2026",
        "6/10/2026",
        "06/10/26",
        "2026-06-10",
        "2026-06-10 00:00:00",
        "10.06.2026 00:00",
        "1-Mrz",
        "Okt 06",
        "1-Mär",
        "Dez 22",
        "06-10-26",
        "Sept-1",
    ] {
        let word = word.replace("Juni", "June");
        assert!(matches!(Damage::of(&word), Some(Damage::Date(may_be)) if !may_be.is_empty()), "{word}");
    }
    let date = |word| match Damage::of(word) {
        Some(Damage::Date(may_be)) => may_be,
        other => panic!("{word}: {other:?}"),
    };
    assert_eq!(date("10-Jun"), ["6-10", "10-6", "JUN10"]);
    assert_eq!(date("2026-06-10"), ["6-10", "10-6"]);
    let exponent = |word| Damage::of(word);
    assert_eq!(exponent("2.20E+02"), Some(Damage::Exponent(vec!["22E1".to_owned(), "220".to_owned()])));
    assert_eq!(exponent("2.2E+2"), exponent("2.20E+02"));
    assert_eq!(exponent("2,20E+02"), exponent("2.20E+02"));
    // 22 times ten to the first power is 220
    assert_eq!(Damage::of_name("1.23457E+12"), Some(Damage::Shortened(13, 6)));
    // a binary64 keeps 15 decimal digits (ISO C, DBL_DIG)
    assert_eq!(Damage::of_name("1234567890123450"), Some(Damage::Rounded));
    assert_eq!(Damage::of_name("123456789012340"), None);
    for word in ["\"", "″", "〃", "''", "do.", "do", "Ditto", "-\"-", "- ″ -", ",,", "„", "—\"—", "dito", "idem"] {
        assert_eq!(Damage::of(word), Some(Damage::Ditto), "{word}");
    }
    for word in ["1-8 straight", "A1..A4", "1 to 8", "A.1-A.8", "A.1 - A.8", "1 – 8", "1…8", "all grounds", "1 bis 8", "A.1..A.8"]
    {
        assert_eq!(Damage::of(word), Some(Damage::Range), "{word}");
    }
    for word in ["1, 2", "A.1/A.2", "1;2", "1 2", "3\n4", "1 & 2"] {
        assert_eq!(Damage::of(word), Some(Damage::List), "{word}");
    }
    assert_eq!(Damage::of_unknown_pin("1-8"), Some(Damage::Range));
    for word in [
        "1",
        "01",
        "A1",
        "shell",
        "6-10",
        "22E1",
        "1-2-3",
        "D+",
        "-",
        "B12",
        "1E2",
        "Jun",
        "mar",
        "RX-",
        "12-Pin",
        "99-Jun-77x",
        "DEC-0042",
        "R7-0001",
        "10-6",
        "2026",
        "12345678901234567",
    ] {
        assert_eq!(Damage::of(word), None, "{word}");
    }
}

/// Digits that are gone are given away by the neighbours; a pin that was written with its end is safe.
#[test]
fn digits_that_are_gone() {
    let broken = |text: &str| {
        let read = table(text, &with_ends());
        places(&read);
        (messages(&read), read.units.iter().filter(|unit| unit.broken).count())
    };
    let zeros = "fewer digits than the others: leading zeros may be lost".to_owned();
    let lost_e = "a whole number among pins with an E between digits".to_owned();
    assert_eq!(broken("unit,from,to\nR1,01,a\nR2,1,a\nR3,10,a\n"), (vec![zeros.clone()], 1));
    assert_eq!(broken("unit,from,to\nR1,01,a\nR2,A.1,a\nR3,a,1\n"), (vec![], 0), "written with its end; the other end");
    assert_eq!(broken("unit,from,to\nR1,22E1,a\nR2,220,a\nR3,2200,a\nR4,230,a\n"), (vec![lost_e.clone(); 2], 2));
    assert_eq!(broken("unit,from,to\nR1,2E3,a\nR2,20,a\nR3,2,a\nR4,A.20,a\n"), (vec![lost_e], 1));
    // a unit whose name may be another one damaged takes that one's verdict too
    assert_eq!(broken("unit,from,to\n08,1,1\n8,2,2\n09,1,1\n"), (vec![zeros], 2));
    assert_eq!(broken("unit,from,to\n6-10,1,1\n06. Okt,2,2\n6-11,1,1\n").1, 2);
    assert_eq!(broken("unit,from,to\n1234567890123,1,1\n1.23457E+12,2,2\n123,1,1\n").1, 2);
}

/// Rows without a unit belong to the one above or below; where units are mixed, to any.
#[test]
fn rows_without_their_unit() {
    let broken = |text: &str| {
        let read = table(text, &TableOptions::default());
        read.units.iter().map(|unit| unit.broken || read.head_broken).collect::<Vec<_>>()
    };
    assert_eq!(broken("unit,from,to\nR1,A.1,B.1\nR2,A.1,B.1\n,A.2,B.2\nR3,A.1,B.1\nR4,A.1,B.1\n"), [false, true, true, false]);
    assert_eq!(broken("unit,from,to\nR1,A.1,B.1\nR2,A.1,B.1\n〃,A.2,B.2\nR3,A.1,B.1\n"), [false, true, true]);
    assert_eq!(broken("unit,from,to\n,A.1,B.1\nR2,A.1,B.1\nR3,A.1,B.1\n"), [true, false]);
    assert_eq!(broken("unit,from,to\nR1,A.1,B.1\nR2,A.1,B.1\nR3,A.1,B.1\n,A.2,B.2\nR1,A.3,B.3\n"), [true, true, true]);
}

/// A netlist that was typed from a spoilt table: what can't be read, and pins that no connector has, are explained.
#[test]
fn damage_in_a_netlist() {
    for (line, message, help) in [
        ("open A.1..A.8", "a blank is missing", "one row for each conductor"),
        ("A.1-A.8 B.1-B.8", "a blank is missing", "one row for each conductor"),
        ("A.1 do.", "a point without its pin", "what it stands for"),
        ("A.1 〃", "something at the end of the line can't be read", "what it stands for"),
        ("open A.1,A.2", "a blank is missing", "one row for each of them"),
        ("A.10-Jun B.1", "xlr-3 has no contact 10-Jun", "set the column to text"),
        ("A.1-3 B.1", "xlr-3 has no contact 1-3", "a range instead of rows"),
    ] {
        let mut problems = Vec::new();
        let text = format!("cable xlr3\nsource drawing\n{line}\n");
        backshell::verify::check_text("x", &text, &Options::default(), |batch| problems.extend(batch.problems));
        let [problem] = &problems[..] else { panic!("{line}: {problems:?}") };
        assert_eq!(problem.message, message, "{line}");
        assert!(problem.help.as_deref().unwrap_or_default().contains(help), "{line}: {problem:?}");
    }
}

// ---------------------------------------------------------------------- print-outs

fn rules(text: &str) -> Arc<Rules> {
    let read = Rules::read(&Source::new("rules.toml", text));
    Arc::new(read.unwrap_or_else(|problems| panic!("{:?}", problems.iter().map(|problem| &problem.message).collect::<Vec<_>>())))
}

fn printed(text: &str, rules: &Rules) -> Netlist {
    let read = netlist::read(&Source::new("print.txt", text), Form::PrintOut(rules, None), &[]);
    places(&read);
    read
}

const EVERY_RULE: &str = r#"
point = '(?:(?<end>J\d)[-:])?(?<pin>\w+)'
from-end = "A"
to-end = "B"
value-unit = "mohm"
decimal-comma = true

[ends]
J1 = "A"
J2 = "B"

[pins]
SH = "shell"

[units]
Ohms = "ohm"

[[rule]]
match = '(?i)cable (?<unit>.+)'

[[rule]]
match = '(?<from>\S+) to (?<to>\S+)(?: *= *(?<value>\S+)(?: (?<measure>Ohms))?)?(?: *\[(?<wire>[^\]]+)\])?'

[[rule]]
match = 'net (?<net>.+)'
end = "A"

[[rule]]
match = 'nothing at (?<open>.+)'
end = "B"

[[rule]]
match = 'ins (?<from>\S+) (?<to>\S+) (?<value>.+)'
fact = "isolation"
value-unit = "Mohm"
to-end = "A"

[[rule]]
match = 'R (?<from>\S+) (?<to>\S+) (?<value>.+)'
fact = "resistor"
to-end = "A"

[[rule]]
match = 'C (?<from>\S+) (?<to>\S+) (?<value>.+)'
fact = "capacitor"

[[rule]]
match = 'D (?<from>\S+) (?<to>\S+)'
fact = "diode"

[[rule]]
match = 'cap (?<from>\S+) (?<value>.+)'
fact = "capacitance"

[[rule]]
match = '(?<unit>R\d-\d+): (?<from>\S+)/(?<to>\S+)'

[[ignore]]
match = '\*+'
why = "a ruled line"
"#;

#[test]
fn every_rule() {
    let rules = rules(&EVERY_RULE.replace("\\\\", "\\"));
    let text = "****\r\nCABLE R7 one\r\n1 to 12 = 412\r\n  J2-10 to J1-3 = 0,4 Ohms [blue]\nSH to SH\n2 to 11 [red]\n\
                net 2, 5; J2:8  SH\nnothing at 20 J1-20\nins 1 3 >500\nR A5 A4 56 kohm +/- 5%\nC 1 2 10 nF\nD 1 2\ncap J2-1 142 pF\n";
    let language = "unit \"R7 one\"\nA.1 B.12 412 mohm\nB.10 A.3 0.4 ohm\nconductor blue B.10 A.3\nA.shell B.shell\n\
                    conductor red A.2 B.11\nA.2 A.5 B.8 A.shell\nopen B.20 A.20\nisolation A.1 A.3 >500 Mohm\n\
                    resistor A.A5 A.A4 56 kohm +/- 5%\ncapacitor A.1 B.2 10 nF\ndiode A.1 B.2\ncapacitance B.1 142 pF\n";
    let read = printed(text, &rules);
    assert_eq!(messages(&read), [""; 0]);
    assert_eq!(facts(&read), facts(&netlist::parse(&Source::new("x", language))));
    let lines: Vec<&str> = read.facts.iter().map(|fact| read.source.slice(fact.span)).collect();
    assert_eq!(lines[1], "J2-10 to J1-3 = 0,4 Ohms [blue]");
    let units = printed("R7-1: 1/1\nR7-2: 1/1\nR7-1: 2/2\n", &rules);
    let wanted = netlist::parse(&Source::new("x", "unit R7-1\nA.1 B.1\nA.2 B.2\nunit R7-2\nA.1 B.1\n"));
    assert_eq!(facts(&units), facts(&wanted));
    assert_eq!(facts(&printed("1 to 1\n", &rules)), facts(&netlist::parse(&Source::new("x", "A.1 B.1\n"))));
}

/// No line is left out that no rule names, and what it may have said costs the verdict of its unit.
#[test]
fn lines_that_cannot_be_used() {
    let rules = rules(&EVERY_RULE.replace("\\\\", "\\"));
    let said = |text: &str| {
        let read = printed(text, &rules);
        (messages(&read), read.units.iter().map(|unit| unit.broken || read.head_broken).collect::<Vec<_>>())
    };
    let unread = "a line that no rule reads".to_owned();
    assert_eq!(
        said("cable 1\n1 to 1\ncable 2\n1 to 1 FAIL\ncable 3\n1 to 1\n"),
        (vec![unread.clone()], vec![false, true, false])
    );
    assert_eq!(said("title\ncable 1\n1 to 1\ncable 2\n"), (vec![unread.clone()], vec![true, true]), "above every unit");
    assert_eq!(said("R7-1: 1/1\nR7-2: 1/?\nR7-3: 1/1\n").1, [false, true, false]);
    assert_eq!(said("R7-1: 1/1\nR7-2: 1/1\nR7-3 1/1\nR7-4: 1/1\nR7-5: 1/1\n"), (vec![unread], vec![false, true, true, false]));
    assert_eq!(
        said("cable 1\n1 to 1\ncable 2\n2 to 2\ncable 1\n2 to 2\n"),
        (vec!["a unit named twice".to_owned()], vec![true, false])
    );
    assert_eq!(said("1 to 1\ncable 2\n2 to 2\n").0, ["a fact above the first unit line belongs to no unit"]);
    assert_eq!(said("R7-1: 1/1\n2 to 2\n").0, ["a fact that belongs to no unit"]);
    assert_eq!(said("cable 1\n1 to J3-1\n").0, ["a line that no rule reads"; 0], "an end without another name keeps its own");
    assert_eq!(said("cable 1\n1 to 1 = OL\n").0.len(), 1);
    assert_eq!(said("cable 1\nnet 1\n").0, ["a net needs two points or more"]);
    assert_eq!(said("cable 1\nR 1 2 3 pF\n").0, ["the wrong kind of figure"]);
    let two = self::rules("[[rule]]\nmatch = '(?<from>\\S+) (?<to>\\S+)'\n[[ignore]]\nmatch = 'A.*'\nwhy = 'test'\n");
    assert_eq!(messages(&printed("A.1 B.1\n", &two)), ["a line that two rules read"]);
    assert_eq!(messages(&printed("7 7\n", &two)), ["a pin without its end"]);
    let one_word = self::rules("from-end = 'A'\nto-end = 'B'\n[[rule]]\nmatch = '(?<from>(?<to>\\d+)) ok'\n");
    assert_eq!(messages(&printed("7 ok\n", &one_word)), ["one word for both points"]);
    let bare = self::rules("[[rule]]\nmatch = '(?<from>\\S+) (?<to>\\S+) (?<value>\\S+)'\n");
    assert_eq!(messages(&printed("A.1 B.1 0.4\n", &bare)), ["unknown unit"], "no unit is guessed");
    let bytes = netlist::read(&Source::new("x", "cable 1\n1 to ?\n"), Form::PrintOut(&rules, None), &[Span::new(13, 14)]);
    assert_eq!(messages(&bytes), ["bytes that are not UTF-8"]);
    assert!(bytes.units[0].broken);
}

#[test]
fn rule_files_that_cannot_be_used() {
    let source = Source::new("netlists/rules/broken.toml", std::fs::read_to_string("netlists/rules/broken.toml").unwrap());
    let problems = Rules::read(&source).unwrap_err();
    let text: String = problems.iter().map(|problem| backshell::report::problem_text(problem, false)).collect();
    insta::assert_snapshot!("broken_rules", text);
    for (text, wanted) in [
        ("", "has no rule"),
        ("[[rule]]\nmatch = '('\n", "can't be used"),
        ("[[rule]]\nmatch = '(?<unit>x{1000}{1000}{1000})'\n", "can't be used"),
        ("[[rule]]\n", "can't be read"),
        ("[[rules]]\nmatch = ''\n", "can't be read"),
        ("[[ignore]]\nmatch = '.*'\n", "can't be read"),
        ("[pins]\nSH = 'a b'\n[[rule]]\nmatch = '(?<open>.*)'\n", "a name that can't be used"),
    ] {
        let problems = Rules::read(&Source::new("x.toml", text)).unwrap_err();
        assert!(problems[0].message.contains(wanted), "{text}: {}", problems[0].message);
    }
}

// ---------------------------------------------------------------------- whole files

fn cue_forms(rules: Option<&str>) -> Forms {
    let path = Path::new("netlists/tables/dome-cue.netlist");
    let header = Source::new(path.display().to_string(), std::fs::read_to_string(path).unwrap());
    let header = Header::read(&header, path.parent().unwrap()).unwrap();
    let rules = rules.map(|path| self::rules(&std::fs::read_to_string(path).unwrap()));
    let mut forms = Forms::default().with_table(with_ends()).with_header(Arc::new(header));
    forms.rules = rules;
    forms
}

fn checked(path: &str, forms: Forms, mut writer: impl Writer) -> Outcome {
    let options = Options::default().with_forms(forms);
    let outcome = check_file(Path::new(path), &options, |batch| writer.batch(path, &batch).unwrap());
    writer.finish(&outcome).unwrap();
    outcome
}

fn shown(path: &str, forms: Forms) -> (Outcome, String) {
    let mut out = Vec::new();
    let outcome = checked(path, forms, Terminal::new(&mut out, false));
    (outcome, String::from_utf8(out).unwrap())
}

#[test]
fn every_damaged_table() {
    let mut files: Vec<String> = std::fs::read_dir("netlists/tables/damage")
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".csv"))
        .collect();
    files.sort();
    assert!(files.len() > 10);
    for file in files {
        let (outcome, text) = shown(&format!("netlists/tables/damage/{file}"), cue_forms(None));
        assert_eq!(outcome.status(), 2, "{file}: {text}");
        // a table is a drawing: units that are whole may be asked for their pairs
        assert_eq!(outcome.fails, 0, "{file}: a unit that is damaged has no verdict");
        insta::assert_snapshot!(format!("damage__{}", file.trim_end_matches(".csv")), text);
    }
}

#[test]
fn tables_and_print_outs_for_people_and_programs() {
    let (outcome, text) = shown("netlists/tables/cue-drawing.csv", cue_forms(None));
    assert_eq!(outcome.status(), 0, "{text}");
    let mut forms = cue_forms(None);
    let heading = |field, name: &str| (field, name.to_owned());
    forms.table.columns = vec![
        heading(Field::Unit, "Prüfling"),
        heading(Field::From, "Klemme A"),
        heading(Field::To, "Klemme B"),
        heading(Field::Milliohm, "R [mOhm]"),
    ];
    forms.table.decimal_comma = true;
    let (outcome, text) = shown("netlists/tables/cue-measured.csv", forms.clone());
    assert_eq!((outcome.conforms, outcome.fails, outcome.problems), (1, 2, 0));
    insta::assert_snapshot!("table", text);
    let mut out = Vec::new();
    checked("netlists/tables/cue-measured.csv", forms, JsonReport::new(&mut out).unwrap());
    let report: serde_json::Value = serde_json::from_slice(&out).unwrap();
    let text = std::fs::read_to_string("netlists/tables/cue-measured.csv").unwrap();
    let label = &report["units"][1]["findings"][0]["labels"][0];
    let at = usize::try_from(label["offset"].as_u64().unwrap()).unwrap();
    assert!(text[at..].starts_with("6-9;6-10;1410,5"), "an offset into the file as it is");
    assert_eq!(label["line"], 16);

    let (outcome, text) = shown("netlists/printouts/cue-bench.txt", cue_forms(Some("netlists/rules/cue-bench.toml")));
    assert_eq!((outcome.conforms, outcome.fails, outcome.problems), (1, 2, 0));
    insta::assert_snapshot!("print_out", text);
    let (outcome, text) = shown("netlists/printouts/cue-bench-unread.txt", cue_forms(Some("netlists/rules/cue-bench.toml")));
    assert_eq!((outcome.conforms, outcome.unjudged, outcome.problems), (1, 2, 3));
    insta::assert_snapshot!("print_out_unread", text);
}

/// Every form comes whole from a file too, for whatever else is to be done with its facts.
#[test]
fn whole_files() {
    let read = |path: &str, rules| backshell::verify::read_file(Path::new(path), &cue_forms(rules));
    let netlist = read("netlists/reel7.netlist", None).unwrap();
    assert_eq!((netlist.units.len(), netlist.problems.len()), (10, 0));
    let damaged = read("netlists/invalid/not-utf8.netlist", None).unwrap();
    assert!(messages(&damaged).contains(&"bytes that are not UTF-8".to_owned()));
    assert!(damaged.units.iter().any(|unit| unit.broken) || damaged.head_broken);
    let table = read("netlists/tables/cue-drawing.csv", None).unwrap();
    assert_eq!((table.units.len(), table.head.length.unwrap().value.value), (1, 40.0));
    assert_eq!(table.head_source.slice(table.head.cable.unwrap().line), "cable     ../cables/dome-cue.toml");
    assert_eq!(read("netlists/printouts/cue-bench.txt", Some("netlists/rules/cue-bench.toml")).unwrap().units.len(), 3);
    assert!(read("netlists/tables/damage/utf16.csv", None).unwrap_err().message.contains("UTF-16"));
    assert!(read("netlists/missing.csv", None).is_err());
}

// ---------------------------------------------------------------------- properties

/// A unit of a table: its rows as `(from, to, ohm, wire)`; `to` is none where the point is open.
type Rows = Vec<(u32, Option<u32>, Option<u32>, Option<String>)>;

fn rows() -> impl Strategy<Value = Rows> {
    let wire = proptest::option::of("w[a-z]{1,5}( [a-z#;,]{1,3})?");
    proptest::collection::vec((proptest::option::of(1_u32..40), proptest::option::of(0_u32..5000), wire), 1..12).prop_map(
        |rows| {
            let rows = (1..).zip(rows).map(|(pin, (to, ohm, wire))| match to {
                Some(to) => (pin, Some(to), ohm, wire),
                None => (pin, None, None, None),
            });
            rows.collect()
        },
    )
}

/// The same units in the language and as a table, whose form the seed chooses.
fn both(units: &[Rows], seed: u64) -> (String, String, TableOptions) {
    let bit = |n: u32| seed >> n & 1 == 1;
    let delimiter = [",", ";", "\t"][usize::try_from(seed % 3).unwrap()];
    let end = if bit(3) { "\r\n" } else { "\n" };
    let (bare, comma) = (bit(4), bit(5) && delimiter != ",");
    let cell = |text: String| {
        let quoted = text.contains([',', ';', '\t', '"']) || bit(6);
        if quoted { format!("\"{}\"", text.replace('"', "\"\"")) } else { text }
    };
    let mut columns = ["unit", "from", "to", "Ohm", "wire", "note"];
    columns.rotate_left(usize::try_from(seed >> 8 & 7).unwrap() % 6);
    let mut language = String::new();
    let mut lines = vec![columns.join(delimiter)];
    let mut all: Vec<(usize, Vec<String>)> = Vec::new();
    for (nth, rows) in units.iter().enumerate() {
        language += &format!("unit R7-{nth}\n");
        for (at, (from, to, ohm, wire)) in rows.iter().enumerate() {
            let (a, b) = (format!("A.{from}"), to.map_or("open".to_owned(), |to| format!("B.{to}")));
            let figure = ohm.map(|milliohm| format!("{}.{:03}", milliohm / 1000, milliohm % 1000));
            match (to, &figure, wire) {
                (None, ..) => language += &format!("open {a}\n"),
                (_, Some(figure), _) => language += &format!("{a} {b} {figure} ohm\n"),
                (_, None, None) => language += &format!("{a} {b}\n"),
                _ => {}
            }
            if let (Some(_), Some(wire)) = (to, wire) {
                language += &format!("conductor \"{wire}\" {a} {b}\n");
            }
            let pin =
                |point: String| if bare { point.split_once('.').map_or(point.clone(), |(_, pin)| pin.to_owned()) } else { point };
            let figure = figure.unwrap_or_default();
            let cells: Vec<String> = columns
                .iter()
                .map(|column| match *column {
                    "unit" => format!("R7-{nth}"),
                    "from" => pin(a.clone()),
                    "to" => pin(b.clone()),
                    "Ohm" => {
                        if comma {
                            figure.replace('.', ",")
                        } else {
                            figure.clone()
                        }
                    }
                    "wire" => wire.clone().unwrap_or_default(),
                    _ => "say \"so\", twice".to_owned(),
                })
                .map(cell)
                .collect();
            all.push((if bit(7) { at } else { 0 }, cells));
        }
    }
    // row by row of every unit, where the rows of a unit don't stand together
    all.sort_by_key(|(at, _)| *at);
    lines.extend(all.into_iter().map(|(_, cells)| cells.join(delimiter)));
    let start = if bit(11) { "\u{feff}" } else { "" };
    let options = if bare { with_ends() } else { TableOptions::default() }.with_decimal_comma(comma);
    (language, format!("{start}{}{end}", lines.join(end)), options)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    /// The same facts come from the language and from a table, whatever its form.
    #[test]
    fn a_table_states_what_the_netlist_states(units in proptest::collection::vec(rows(), 1..4), seed in any::<u64>()) {
        let (language, csv, options) = both(&units, seed);
        let (wanted, read) = (netlist::parse(&Source::new("x", language)), table(&csv, &options));
        prop_assert_eq!(messages(&wanted), Vec::<String>::new());
        prop_assert_eq!(messages(&read), Vec::<String>::new(), "{}", csv);
        prop_assert_eq!(facts(&read), facts(&wanted), "{}", csv);
        let figures = |netlist: &Netlist| netlist.figures.iter().map(|figure| figure.quantity.value).sum::<f64>();
        prop_assert!((figures(&read) - figures(&wanted)).abs() < 1e-9);
        places(&read);
    }

    /// No bytes make the reader of tables panic, and every place lies in the file.
    #[test]
    fn any_table(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        places(&table(&String::from_utf8_lossy(&bytes), &with_ends()));
    }

    #[test]
    fn any_cells(cells in proptest::collection::vec("[AB]\\.[0-9]{1,2}|[0-9E+.-]{1,6}|\"|\"[,\\n\"]|open|[,;\\r\\n ]{1,3}|\\PC{0,6}", 0..60)) {
        let text = format!("unit,from,to,ohm,wire,pair,screen,part,from-end\n{}", cells.join(","));
        places(&table(&text, &with_ends()));
        let text = format!("from;to;unit\n{}", cells.concat());
        places(&table(&text, &with_ends().with_decimal_comma(true)));
    }

    /// No rule file and no print-out makes the reader panic.
    #[test]
    fn any_rules(pattern in "[(?<>a-z)|.*+\\[\\]\\\\]{0,20}", text in "\\PC{0,40}") {
        let file = format!("[[rule]]\nmatch = '(?<from>\\S+) (?<to>{pattern})'\n{text}");
        match Rules::read(&Source::new("x.toml", file)) {
            Ok(rules) => places(&printed(&text, &rules)),
            Err(problems) => problems.iter().flat_map(|problem| &problem.labels).for_each(|label| {
                assert!(label.source.text().get(label.span.range()).is_some(), "{label:?}");
            }),
        }
    }

    #[test]
    fn any_print_out(lines in proptest::collection::vec("(cable |net |ins |R |C |nothing at )?(J[12][-:])?\\PC{0,5}( to )?[A-Z0-9=. ]{0,9}", 0..12)) {
        printed(&lines.join("\n"), &rules(&EVERY_RULE.replace("\\\\", "\\")));
    }
}

/// The cells of random files against those that Python's csv module reads.
#[test]
fn cells_against_python() {
    let mut state = 0x7ab1e_u64;
    let mut random = |n: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from((state >> 33) % n).unwrap()
    };
    let notes =
        ["", "plain", "a \"quoted\" word", "one, two; three", "two\nlines", "two\r\nlines", "ends in \"\"", "tab\there", "#7"];
    let mut lines = String::new();
    for _ in 0..300 {
        let delimiter = [",", ";", "\t"][random(3)];
        let end = ["\n", "\r\n"][random(2)];
        let mut columns = ["unit", "from", "to", "wire", "note", "note"];
        columns.swap(random(6), random(6));
        let mut text = format!("{}{}{end}", ["", "\u{feff}"][random(2)], columns.join(delimiter));
        for row in 0..=random(12) {
            let cells: Vec<String> = columns
                .iter()
                .map(|column| {
                    let cell = match *column {
                        "unit" => format!("R{},  {}", row % 3, ["a", "b;"][random(2)]),
                        "from" => format!("A.{row}"),
                        "to" => format!("B.{}", random(30)),
                        "wire" => format!("no. {row}, {}", ["red", "blue/white", "5mm; long"][random(3)]),
                        _ => notes[random(9)].to_owned(),
                    };
                    let quoted = cell.contains([',', ';', '\t', '"', '\n', '\r']) || random(3) == 0;
                    let cell = if quoted { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell };
                    if quoted || random(4) > 0 { cell } else { format!(" {cell} ") }
                })
                .collect();
            text += &format!("{}{}", cells.join(delimiter), if random(9) == 0 { format!("{end}{end}") } else { end.to_owned() });
        }
        let read = table(&text, &TableOptions::default());
        assert_eq!(messages(&read), [""; 0], "{text}");
        // a row with a wire is one fact
        let mut rows: Vec<(u32, Vec<&str>)> = Vec::new();
        for unit in &read.units {
            for fact in read.facts_of(unit) {
                let FactKind::Conductor { label, points, .. } = fact.kind else { panic!("{text}") };
                let points = read.points_of(points);
                let word = |span| read.source.written(span);
                let cells = vec![read.name_of(unit).unwrap(), word(points[0].span), word(points[1].span), word(label)];
                rows.push((fact.span.start, cells));
            }
        }
        rows.sort();
        let rows: Vec<Vec<&str>> = rows.into_iter().map(|(_, cells)| cells).collect();
        lines.push_str(&serde_json::json!({"text": text, "delimiter": delimiter, "rows": rows}).to_string());
        lines.push('\n');
    }
    if let Some((agreed, text)) = python("check_csv.py", &[], &lines) {
        println!("{text}");
        assert!(agreed, "{text}");
        assert!(text.contains("300 files"), "{text}");
    }
}
