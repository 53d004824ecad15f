//! Touchstone files that are written here, in every form, and read back; and any bytes.
//!
//! What a matrix says is checked by its definition: ports are driven, and the waves at them must be those that the
//! scattering matrix gives. No formula of the program is used for that.

use std::fmt::Write;

use backshell::signal::touchstone::{self, Touchstone};
use backshell::signal::{Complex64, Network};
use backshell::text::Source;
use proptest::prelude::*;

/// How a file is written.
#[derive(Clone, Copy, Debug)]
struct Form {
    keywords: bool,
    unit: usize,
    format: usize,
    /// 0 full, 1 lower, 2 upper.
    layout: usize,
    row_by_row: bool,
    reference_in_option: bool,
    crlf: bool,
    bom: bool,
    capitals: bool,
    comments: bool,
    end: bool,
}

const UNITS: [(&str, f64); 4] = [("Hz", 1.0), ("kHz", 1e3), ("MHz", 1e6), ("GHz", 1e9)];
const FORMATS: [&str; 3] = ["RI", "MA", "DB"];

/// What a file holds: matrices of a kind, row by row, in SI units.
#[derive(Clone, Debug)]
struct Content {
    kind: char,
    frequencies: Vec<f64>,
    reference: Vec<f64>,
    matrices: Vec<Vec<Complex64>>,
    noise: usize,
}

impl Content {
    fn ports(&self) -> usize {
        self.reference.len()
    }
}

/// The file. Version 1 figures other than S are normalised; `form` must suit the content.
fn write(content: &Content, form: Form) -> String {
    let ports = content.ports();
    let mut lines: Vec<String> = Vec::new();
    let references = content.reference.iter().map(f64::to_string).collect::<Vec<_>>().join(" ");
    let alike = content.reference.iter().all(|ohm| *ohm == content.reference[0]);
    let stated = if form.reference_in_option && alike { content.reference[0].to_string() } else { references.clone() };
    let option = |ohm: &str| format!("# {} {} {} R {ohm}", UNITS[form.unit].0, content.kind, FORMATS[form.format]);
    let case = |text: String| if form.capitals { text.to_ascii_uppercase() } else { text };
    if form.keywords {
        lines.push("[Version] 2.0".into());
        lines.push(case(option(if form.reference_in_option { &stated } else { "3" })));
        lines.push(case(format!("[Number of Ports] {ports}")));
        if ports == 2 {
            lines.push(case(format!("[Two-Port Data Order] {}", if form.row_by_row { "12_21" } else { "21_12" })));
        }
        lines.push(case(format!("[Number of Frequencies] {}", content.frequencies.len())));
        if content.noise > 0 {
            lines.push(format!("[Number of Noise Frequencies] {}", content.noise));
        }
        if !form.reference_in_option {
            lines.push(case(format!("[Reference] {}", references.replacen(' ', "\n", 1))));
        }
        lines.push(case(format!("[Matrix Format] {}", ["Full", "Lower", "Upper"][form.layout])));
        lines.push(case("[Begin Information]\n[Made] for a test\n[End Information]".to_owned()));
        lines.push(case("[Network Data]".to_owned()));
    } else {
        lines.push(case(option(&stated)));
    }
    for (hertz, matrix) in content.frequencies.iter().zip(&content.matrices) {
        record(*hertz / UNITS[form.unit].1, matrix, content, form, &mut lines);
    }
    if content.noise > 0 && form.keywords {
        lines.push("[Noise Data]".into());
    }
    let lowest = content.frequencies[0] / UNITS[form.unit].1;
    for row in 0..content.noise {
        let fraction = (row + 1) as f64 / (content.noise + 1) as f64;
        lines.push(format!("{} 1.5 0.3 -40 0.2", lowest * fraction));
    }
    if form.keywords && form.end {
        lines.push(case("[End]".to_owned()));
    }
    if form.comments {
        lines.iter_mut().for_each(|line| line.push_str(" ! 7 8 9 [End] #"));
        lines.insert(0, "! dome refit".into());
        lines.insert(1, String::new());
    }
    let text = lines.join("\n");
    let text = if form.crlf { text.replace('\n', "\r\n") } else { text };
    if form.bom { format!("\u{feff}{text}") } else { text }
}

fn record(frequency: f64, matrix: &[Complex64], content: &Content, form: Form, lines: &mut Vec<String>) {
    let ports = content.ports();
    let ohm = content.reference[0];
    let mut line = frequency.to_string();
    let mut on_line = 0;
    for row in 0..ports {
        for column in 0..ports {
            if (form.layout == 1 && column > row) || (form.layout == 2 && column < row) {
                continue;
            }
            let turned = ports == 2 && form.layout == 0 && !(form.keywords && form.row_by_row);
            let (to, from) = if turned { (column, row) } else { (row, column) };
            let mut value = matrix[to * ports + from];
            if !form.keywords {
                // Touchstone 2.0, compatibility notes: version 1 figures are those of a reference of 1 ohm
                value *= match (content.kind, to, from) {
                    ('Z', ..) | ('H', 0, 0) | ('G', 1, 1) => 1.0 / ohm,
                    ('Y', ..) | ('H', 1, 1) | ('G', 0, 0) => ohm,
                    _ => 1.0,
                };
            }
            let (one, two) = match form.format {
                0 => (value.re, value.im),
                1 => (value.norm(), value.arg().to_degrees()),
                _ => (20.0 * value.norm().log10(), value.arg().to_degrees()),
            };
            if on_line == 4 || (on_line > 0 && ports > 2 && column == if form.layout == 2 { row } else { 0 }) {
                lines.push(std::mem::take(&mut line));
                on_line = 0;
            }
            write!(line, " {one} {two:e}").unwrap();
            on_line += 1;
        }
    }
    lines.push(line);
}

fn form() -> impl Strategy<Value = Form> {
    (any::<[bool; 8]>(), 0..4usize, 0..3usize, 0..3usize).prop_map(|(flags, unit, format, layout)| Form {
        keywords: flags[0],
        unit,
        format,
        layout,
        row_by_row: flags[1],
        reference_in_option: flags[2],
        crlf: flags[3],
        bom: flags[4],
        capitals: flags[5],
        comments: flags[6],
        end: flags[7],
    })
}

fn content(kinds: &'static [char], most_ports: usize) -> impl Strategy<Value = Content> {
    let kind = proptest::sample::select(kinds);
    (kind, 1..=most_ports, 1..5usize, any::<bool>(), 0..3usize).prop_flat_map(|(kind, ports, rows, alike, noise)| {
        let ports = if matches!(kind, 'G' | 'H') { 2 } else { ports };
        let frequencies = proptest::collection::btree_set(1u64..40_000_000_000, rows..=rows);
        let reference = proptest::collection::vec(1.0..200.0f64, ports..=ports);
        let value = (0.001..1.0f64, -3.1..3.1f64).prop_map(|(norm, angle)| Complex64::from_polar(norm, angle));
        let matrices = proptest::collection::vec(proptest::collection::vec(value, ports * ports), rows..=rows);
        (frequencies, reference, matrices).prop_map(move |(frequencies, reference, matrices)| Content {
            kind,
            frequencies: frequencies.into_iter().map(|hertz| hertz as f64).collect(),
            reference: if alike { vec![reference[0]; ports] } else { reference },
            matrices,
            noise: if ports == 2 { noise } else { 0 },
        })
    })
}

/// Changes form and content so that they suit each other.
fn suited(mut content: Content, mut form: Form) -> (Content, Form) {
    let ports = content.ports();
    if !form.keywords || matches!(content.kind, 'G' | 'H') {
        form.layout = 0;
    }
    if !form.keywords && content.kind != 'S' {
        content.reference = vec![content.reference[0]; ports];
    }
    if form.layout != 0 {
        for matrix in &mut content.matrices {
            for cell in 0..ports * ports {
                matrix[cell] = matrix[cell.min(cell % ports * ports + cell / ports)];
            }
        }
    }
    (content, form)
}

fn read(text: &str, ports: Option<usize>) -> Result<Touchstone, TestCaseError> {
    touchstone::read(&Source::new("x", text), ports).map_err(|problems| {
        let messages: Vec<String> = problems.into_iter().map(|problem| problem.message).collect();
        TestCaseError::fail(format!("{messages:?}\n{text}"))
    })
}

fn multiplied(matrix: &[Complex64], by: &[Complex64]) -> Vec<Complex64> {
    matrix.chunks(by.len()).map(|row| row.iter().zip(by).map(|(cell, value)| cell * value).sum()).collect()
}

/// Voltages and currents at all ports when the `drive`th of what drives them is 1.
fn driven(kind: char, matrix: &[Complex64], drive: usize, ports: usize) -> (Vec<Complex64>, Vec<Complex64>) {
    let mut unit = vec![Complex64::ZERO; ports];
    unit[drive] = 1.0.into();
    let answer = multiplied(matrix, &unit);
    match kind {
        'Z' => (answer, unit),
        'Y' => (unit, answer),
        'H' => (vec![answer[0], unit[1]], vec![unit[0], answer[1]]),
        'G' => (vec![unit[0], answer[1]], vec![answer[0], unit[1]]),
        other => unreachable!("{other}"),
    }
}

/// The waves that belong to voltages and currents are those of the scattering matrix.
fn agrees(network: &Network, row: usize, voltage: &[Complex64], current: &[Complex64]) -> Result<(), TestCaseError> {
    let wave = |sign: f64| -> Vec<Complex64> {
        let ports = network.reference().iter().zip(voltage.iter().zip(current));
        ports.map(|(ohm, (v, i))| (v + sign * ohm * i) / (2.0 * ohm.sqrt())).collect()
    };
    let (into, out) = (wave(1.0), wave(-1.0));
    let given = multiplied(network.matrix(row), &into);
    let scale: f64 = into.iter().chain(&out).chain(network.matrix(row)).map(|value| value.norm()).fold(1.0, f64::max);
    match out.iter().zip(&given).all(|(one, other)| (one - other).norm() < 1e-9 * scale * scale) {
        true => Ok(()),
        false => Err(TestCaseError::fail(format!("{out:?} leave, and the matrix says {given:?}"))),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    /// Any network, written in any form, reads back the same, and by its lines alone.
    #[test]
    fn scattering_round_trip(content in content(&['S'], 8), form in form()) {
        let (content, form) = suited(content, form);
        let text = write(&content, form);
        let back = read(&text, None)?;
        prop_assert_eq!(&back.network, &read(&text, Some(content.ports()))?.network);
        prop_assert_eq!(back.network.reference(), content.reference.as_slice());
        prop_assert_eq!(back.noise_rows, content.noise);
        prop_assert_eq!(back.network.frequencies().len(), content.frequencies.len());
        for (one, other) in back.network.frequencies().iter().zip(&content.frequencies) {
            prop_assert!((one - other).abs() < 1e-12 * other);
        }
        for (row, matrix) in content.matrices.iter().enumerate() {
            let tolerance = if form.format == 0 { 0.0 } else { 1e-13 };
            for (one, other) in back.network.matrix(row).iter().zip(matrix) {
                prop_assert!((one - other).norm() <= tolerance, "{one} {other}\n{text}");
            }
        }
    }

    /// Impedances, admittances and hybrid figures in any form mean what they are defined to mean.
    #[test]
    fn other_parameters_by_their_definition(content in content(&['Z', 'Y', 'G', 'H'], 6), form in form()) {
        let (content, form) = suited(content, form);
        let text = write(&content, form);
        let back = read(&text, None)?;
        for (row, matrix) in content.matrices.iter().enumerate() {
            for drive in 0..content.ports() {
                let (voltage, current) = driven(content.kind, matrix, drive, content.ports());
                agrees(&back.network, row, &voltage, &current)?;
            }
        }
    }

    /// The same voltages and currents belong to a network at any references.
    #[test]
    fn renormalised_by_definition(content in content(&['Z', 'Y'], 6), form in form(), to in proptest::collection::vec(0.1..500.0f64, 6)) {
        let (content, form) = suited(content, form);
        let to = &to[..content.ports()];
        let Some(network) = read(&write(&content, form), None)?.network.renormalised(to) else {
            return Err(TestCaseError::reject("singular"));
        };
        prop_assert_eq!(network.reference(), to);
        for (row, matrix) in content.matrices.iter().enumerate() {
            for drive in 0..content.ports() {
                let (voltage, current) = driven(content.kind, matrix, drive, content.ports());
                agrees(&network, row, &voltage, &current)?;
            }
        }
    }

    /// No bytes make it panic, every problem lies in the file, and what is read is never without figures.
    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..300), ports in proptest::option::of(0..12usize)) {
        inspect(&String::from_utf8_lossy(&bytes), ports)?;
    }

    /// The same for what looks like a file.
    #[test]
    fn any_words(words in proptest::collection::vec(word(), 0..60), ports in proptest::option::of(0..12usize)) {
        inspect(&words.concat(), ports)?;
    }

    /// The same for a file with one stretch changed for another.
    #[test]
    fn damaged(content in content(&['S', 'Z', 'H'], 4), form in form(), at in 0.0..1.0f64, cut in 0..9usize, new in word()) {
        let (content, form) = suited(content, form);
        let mut text = write(&content, form);
        let at = (at * text.len() as f64) as usize;
        let end = (at + cut).min(text.len());
        if text.is_char_boundary(at) && text.is_char_boundary(end) {
            text.replace_range(at..end, &new);
        }
        inspect(&text, Some(content.ports()))?;
    }
}

fn word() -> impl Strategy<Value = String> {
    prop_oneof![
        8 => "-?[0-9]{1,3}(\\.[0-9]{1,2})?(e-?[0-9]{1,3})? ",
        3 => Just("\n".to_owned()),
        1 => Just("\r".to_owned()),
        1 => proptest::sample::select(&["# ", "!", "[End]", "[Version] 2.0\n", "[Network Data]\n", "[Noise Data]\n", "R ", "H ", "dB "][..])
            .prop_map(str::to_owned),
        1 => proptest::sample::select(&["[Number of Ports] ", "[Reference] ", "[Mixed-Mode Order] ", "[Matrix Format] Lower\n", "[Number of Frequencies] 1\n", "D1,2 ", "C1,2 ", "S0 ", "[Begin Information]\n"][..])
            .prop_map(str::to_owned),
        1 => Just("# MHz S RI R 50\n".to_owned()),
        1 => "\\PC{0,4}",
    ]
}

fn inspect(text: &str, ports: Option<usize>) -> Result<(), TestCaseError> {
    match touchstone::read(&Source::new("x", text), ports) {
        Ok(read) => {
            prop_assert!(!read.network.frequencies().is_empty());
            if let Some(ports) = ports {
                prop_assert_eq!(read.network.ports(), ports);
            }
        }
        Err(problems) => {
            prop_assert!(!problems.is_empty());
            for label in problems.iter().flat_map(|problem| &problem.labels) {
                prop_assert!(text.get(label.span.range()).is_some(), "{:?} in {text:?}", label.span);
            }
            problems.iter().for_each(|problem| drop(backshell::report::problem_text(problem, false)));
        }
    }
    Ok(())
}
