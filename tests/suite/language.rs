//! The netlist language: every line, its figures, its spans and its errors.

use backshell::netlist::{self, FactKind, Netlist, Origin, Scope, View};
use backshell::text::Source;
use backshell::units::{Bound, Quantity, Tolerance, Unit};

fn read(text: &str) -> Netlist {
    let read = netlist::parse(&Source::new("language.netlist", text));
    assert!(read.problems.is_empty(), "{:?}", read.problems.iter().map(|problem| &problem.message).collect::<Vec<_>>());
    read
}

fn problems(text: &str) -> Vec<String> {
    let read = netlist::parse(&Source::new("language.netlist", text));
    read.problems.iter().map(|problem| format!("{} / {}", problem.message, problem.help.clone().unwrap_or_default())).collect()
}

fn figure(text: &str) -> Quantity {
    let read = read(&format!("A.1 B.1 {text}"));
    read.figures[0].quantity
}

#[test]
fn every_header_line() {
    let text = "cable displayport\nsource drawing\nscope listed\nlength 6 ft\ngauge 0.05 mm2\ntemperature 22.5 C\nrated HBR3\n\
                price 12.50 EUR\nlot R7\nsupplier \"Quillon Looms\"\ntype S/FTP\ntested 2031-03-14\noperator \"M. Aster\"\n\
                uncertainty 0.02 ohm\nend A source\nend P1 sink\n\
                datum \"face to face\"\nview wiring-side\nconnector A displayport\nA.1 B.12\n";
    let read = read(text);
    let head = &read.head;
    let said = |word: &Option<netlist::Setting<netlist::Word>>| read.source.slice(word.unwrap().value).to_owned();
    assert_eq!(said(&head.cable), "displayport");
    assert_eq!(said(&head.supplier), "Quillon Looms");
    assert_eq!(said(&head.kind), "S/FTP");
    assert_eq!(said(&head.tested), "2031-03-14");
    assert_eq!(said(&head.operator), "M. Aster");
    assert_eq!(said(&head.rated), "HBR3");
    assert_eq!(said(&head.lot), "R7");
    assert_eq!(head.origin.unwrap().value, Origin::Drawing);
    assert_eq!(head.scope.unwrap().value, Scope::Listed);
    // 1 ft = 0.3048 m exactly (international foot, 1959)
    assert!((head.length.unwrap().value.value - 1.8288).abs() < 1e-12);
    assert_eq!(head.gauge.unwrap().value, Quantity::new(0.05, Unit::SquareMillimetre));
    assert_eq!(head.temperature.unwrap().value, Quantity::new(22.5, Unit::Celsius));
    assert_eq!(head.uncertainty.unwrap().value, Quantity::new(0.02, Unit::Ohm));
    let price = head.price.unwrap().value;
    assert_eq!((price.amount, read.source.slice(price.currency)), (12.5, "EUR"));
    assert_eq!(head.ends.len(), 2);
    assert_eq!(read.source.slice(head.ends[1].side), "sink");
    assert_eq!(said(&head.datum), "face to face");
    assert_eq!(head.view.unwrap().value, View::WiringSide);
    assert_eq!(read.source.slice(head.connectors[0].side), "displayport");
}

#[test]
fn every_fact_line() {
    let text = "A.1 B.12 0.412 ohm\nA.2 B.11 A.5 B.8 A.shell B.shell\nopen A.20 B.20\napart A.1 A.3\nisolation A.1 A.3 >500 Mohm\n\
                resistor A.A5 A.A4 56 kohm +/- 5%\ncapacitor A.1 A.2 10nF\ndiode A.1 A.2\npair A.1 A.3 screen A.2\npair A.4 A.6\n\
                conductor \"brown\" A.1 B.12 28 AWG\ncapacitance A.1 142 pF\nsparameters A.1 A.3 B.12 B.10 lane0.s4p\nsparameters A.1 A.3 B.12 B.10 \"traces/lane 0.s4p\"\n";
    let read = read(text);
    let kinds: Vec<&str> = read
        .facts
        .iter()
        .map(|fact| match fact.kind {
            FactKind::Join { .. } => "join",
            FactKind::Open { .. } => "open",
            FactKind::Apart { .. } => "apart",
            FactKind::Isolation { .. } => "isolation",
            FactKind::Component { kind, .. } => kind.word(),
            FactKind::Pair { points } if points.count == 3 => "screened pair",
            FactKind::Pair { .. } => "pair",
            FactKind::Conductor { .. } => "conductor",
            FactKind::Capacitance { .. } => "capacitance",
            FactKind::SParameters { .. } => "sparameters",
            _ => "unknown",
        })
        .collect();
    assert_eq!(
        kinds,
        [
            "join",
            "join",
            "open",
            "apart",
            "isolation",
            "resistor",
            "capacitor",
            "diode",
            "screened pair",
            "pair",
            "conductor",
            "capacitance",
            "sparameters",
            "sparameters"
        ]
    );
    // spans are those of the line, and points keep their text
    assert_eq!(read.source.slice(read.facts[1].span), "A.2 B.11 A.5 B.8 A.shell B.shell");
    let last = read.points.last().unwrap();
    assert_eq!((last.end(&read.source), last.pin(&read.source)), ("B", "10"));
}

#[test]
fn quantities() {
    assert_eq!(figure("0.412 ohm"), Quantity::new(0.412, Unit::Ohm));
    assert_eq!(figure("412mohm"), Quantity::new(0.412, Unit::Ohm));
    assert_eq!(figure("412 m\u{3a9}"), Quantity::new(0.412, Unit::Ohm));
    assert_eq!(figure("412 m\u{2126}"), Quantity::new(0.412, Unit::Ohm));
    assert_eq!(figure(">200 Mohm"), Quantity::new(200e6, Unit::Ohm).with_bound(Bound::Above));
    assert_eq!(figure("< 1 kohm"), Quantity::new(1e3, Unit::Ohm).with_bound(Bound::Below));
    let with = |tolerance| Quantity::new(56e3, Unit::Ohm).with_tolerance(tolerance);
    assert_eq!(figure("56 kohm +/- 5%"), with(Tolerance::Percent(5.0)));
    assert_eq!(figure("56kohm+/-5%"), with(Tolerance::Percent(5.0)));
    assert_eq!(figure("56 kohm +/- 2.8 kohm"), with(Tolerance::Absolute(2800.0)));
    assert_eq!(figure("5.6e4 ohm"), Quantity::new(56e3, Unit::Ohm));
    assert_eq!(figure(".5 ohm"), Quantity::new(0.5, Unit::Ohm));
}

/// Numbers are read as exactly as the standard library reads them.
#[test]
fn numbers_are_rounded_once() {
    for text in ["0.1", "0.3", "123456789.123456", "1e14", "900719925474099.3", "0.000001", "4.9406564584124654e-10", "1e-7"] {
        assert_eq!(figure(&format!("{text} ohm")).value, text.parse::<f64>().unwrap(), "{text}");
    }
    assert_eq!(figure("1 mohm").value, 1e-3);
    assert_eq!(figure("0.3 mohm").value, 0.3e-3);
    assert_eq!(figure("47 Gohm").value, 47e9);
}

#[test]
fn what_bad_lines_get() {
    let one = |text: &str| {
        let found = problems(text);
        assert_eq!(found.len(), 1, "{text}: {found:?}");
        found[0].clone()
    };
    assert!(one("opne A.1").contains("did you mean `open`"));
    assert!(one("A.1 B.1 0.4 Ohm").contains("did you mean `ohm`"));
    assert!(one("A.1 B.1 0,4 ohm").starts_with("a comma inside a number"));
    assert!(one("A.1 B.1 0.4").starts_with("unknown unit"));
    assert!(one("A.1").contains("open A.1"));
    assert!(one("A.1 B.2 B.3 4 ohm").starts_with("a resistance stands between two points"));
    assert!(one("unit").starts_with("a word is missing"));
    assert!(one("unit \"R7").starts_with("a quotation mark is never closed"));
    assert!(one("length 3 ohm").starts_with("the wrong kind of figure"));
    assert!(one("length 0 m").starts_with("a length must be above zero"));
    assert!(one("lot R7\nlot R8").starts_with("the same header line twice"));
    assert!(one("A.1\u{1}B.2").starts_with("a blank is missing"));
    assert!(one("1.A B.2").starts_with("unknown word"));
}

#[test]
fn an_error_costs_its_line_and_its_unit_only() {
    let text = "cable xlr3\nunit a\nA.1 B.1\nnonsense\nunit b\nA.1 B.1\n";
    let read = netlist::parse(&Source::new("x", text));
    assert_eq!(read.problems.len(), 1);
    assert_eq!(read.units.iter().map(|unit| unit.broken).collect::<Vec<_>>(), [true, false]);
    assert_eq!(read.facts.len(), 2);
}

#[test]
fn lines_and_columns_count_characters_and_offsets_bytes() {
    let text = "\u{feff}cable xlr3\r\nsupplier \"Ωµ\" x\r\n";
    let read = netlist::parse(&Source::new("x", text));
    let label = &read.problems[0].labels[0];
    let at = label.source.position(label.span.start);
    assert_eq!((at.line, at.column), (2, 15));
    assert_eq!(at.offset, text.find(" x\r").unwrap() as u64 + 1);
    let first = read.source.position(3);
    assert_eq!((first.line, first.column), (1, 1), "a byte order mark is no character");
}
