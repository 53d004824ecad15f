//! The decision table of the trade: what each cause looks like, row by row. Two rows that share what was seen must not be told
//! apart by it, and each row as a whole must lead to its cause.

use backshell::diagnosis::{Applies, Claim, Model, infer};

use super::{model, observed};

/// What the columns are in the file of causes: the sign, its normal state, and the others.
const COLUMNS: [(&str, &str, &str, &[&str]); 10] = [
    ("MAP", "map", "right", &["wrong"]),
    ("R4", "siblings", "alike", &["one-high"]),
    ("ZC", "impedance", "as-rated", &["one-off", "two-off", "all-off"]),
    ("XT", "crosstalk", "low", &["two-pairs", "many"]),
    ("RL", "place", "nowhere", &["one-end", "middle", "whole-run"]),
    ("IL", "loss", "as-expected", &["above"]),
    ("SK", "balance", "balanced", &["skewed", "converts"]),
    ("SH", "shell", "bonded", &["open"]),
    ("FX", "movement", "steady", &["changes"]),
    ("LN", "lengths", "all", &["long-only", "short-worse"]),
];

type Row = (&'static str, [char; 10], &'static [(&'static str, &'static str)]);

/// A row: the cause, its cells in the order of the columns, and what tells its abnormal cells from those of others.
///
/// N normal, X abnormal, ? may be either, . not informative; in the last column A: all lengths, L: long ones, S: short ones.
/// Typed from a table that was put together from public texts on fault-finding; the order and some cells are inference.
const ROWS: [Row; 14] = [
    ("wiring", ['X', 'X', '.', '.', 'X', 'X', '?', '?', '?', 'A'], &[]),
    (
        "split-pair",
        ['N', 'N', 'X', 'X', 'X', '?', '?', 'N', 'N', 'L'],
        &[("impedance", "two-off"), ("crosstalk", "two-pairs"), ("place", "whole-run")],
    ),
    ("termination", ['N', 'N', 'N', 'X', 'X', 'N', '?', 'N', '?', 'S'], &[("place", "one-end")]),
    ("joint", ['N', 'X', 'N', 'N', '?', '?', 'N', 'N', 'X', '.'], &[]),
    ("loss", ['N', '?', 'N', 'N', 'N', 'X', 'N', 'N', 'N', 'L'], &[]),
    ("shell", ['N', 'N', 'N', 'N', 'N', 'N', 'N', 'X', '?', '.'], &[]),
    ("intermittent", ['N', '?', 'N', 'N', '?', '?', 'N', '?', 'X', '.'], &[]),
    (
        "wrong-type",
        ['N', 'N', 'X', 'X', 'X', '?', 'X', 'N', 'N', 'A'],
        &[("impedance", "all-off"), ("crosstalk", "many"), ("place", "whole-run")],
    ),
    ("component", ['.', '.', '.', '.', 'N', 'N', 'N', 'N', 'N', 'A'], &[("parts", "wrong")]),
    ("skew", ['N', 'N', '?', '?', 'N', 'N', 'X', 'N', 'N', 'L'], &[("balance", "skewed")]),
    ("aluminium", ['N', '.', 'N', 'N', 'N', '?', 'N', 'N', 'N', 'L'], &[("level", "clad")]),
    ("ground", ['?', '?', 'N', 'N', 'N', 'N', 'N', '?', '?', '.'], &[("grounds", "missing")]),
    ("crush", ['N', 'N', 'X', '?', 'X', 'X', '?', '?', '?', '.'], &[("impedance", "one-off"), ("place", "middle")]),
    ("not-the-cable", ['N', 'N', 'N', 'N', 'N', 'N', 'N', 'N', '?', 'A'], &[("swap", "same-fault")]),
];

/// The states that a cell stands for; none where it says nothing.
fn states(column: usize, cell: char) -> Option<Vec<&'static str>> {
    let (_, _, normal, others) = COLUMNS[column];
    match cell {
        'N' | 'A' => Some(vec![normal]),
        'X' => Some(others.to_vec()),
        'L' => Some(vec!["long-only"]),
        'S' => Some(vec!["short-worse"]),
        _ => None,
    }
}

/// In the table, loss above the expected one and loss beyond the link are one column.
fn of_column(cause: &str, column: usize) -> &'static str {
    if COLUMNS[column].0 == "IL" && cause == "loss" { "reach" } else { COLUMNS[column].1 }
}

fn fits(model: &Model, cause: &str, sign: &str, states: &[&str]) -> f64 {
    let (sign, cause) = (model.sign(sign).unwrap(), model.cause(cause).unwrap());
    let states = states.iter().map(|state| model.signs[sign].state(state).unwrap());
    states.map(|state| model.causes[cause].likelihood[sign][state]).sum()
}

#[test]
fn the_file_of_causes_says_what_the_table_says() {
    let model = model();
    for (cause, cells, _) in ROWS {
        for (column, cell) in cells.into_iter().enumerate() {
            let sign = of_column(cause, column);
            let normal = if sign == "reach" { "within" } else { COLUMNS[column].2 };
            let abnormal = 1.0 - fits(&model, cause, sign, &[normal]);
            let fine = match cell {
                'N' => abnormal <= 0.20,
                'X' => abnormal >= 0.35,
                '?' => abnormal >= 0.04,
                'L' => fits(&model, cause, sign, &["long-only"]) >= 0.4,
                'S' => fits(&model, cause, sign, &["short-worse"]) >= 0.4,
                'A' => fits(&model, cause, sign, &["all"]) >= 0.5,
                _ => true,
            };
            assert!(fine, "{cause}, {}: {cell} in the table, {abnormal:.2} abnormal in the file", COLUMNS[column].0);
        }
    }
}

#[test]
fn two_rows_that_share_what_was_seen_cannot_be_separated_by_it() {
    let model = model();
    let mut pairs = 0;
    for (at, (one, cells, _)) in ROWS.iter().enumerate() {
        for (other, others, _) in &ROWS[..at] {
            let shared: Vec<(&str, Vec<&str>)> = (0..COLUMNS.len())
                .filter(|column| cells[*column] == others[*column] && of_column(one, *column) == of_column(other, *column))
                .filter_map(|column| Some((COLUMNS[column].1, states(column, cells[column])?)))
                .collect();
            if shared.is_empty() {
                continue;
            }
            pairs += 1;
            let list: Vec<(&str, &[&str])> = shared.iter().map(|(sign, states)| (*sign, states.as_slice())).collect();
            let diagnosis = infer(&model, &observed(&model, &list), Applies::ALL, true);
            let Claim::CannotSeparate(causes) = &diagnosis.claim else {
                panic!("{one} and {other} share {list:?}, and the claim is {:?}", diagnosis.claim)
            };
            // what both share doesn't take sides between them: neither is ruled out against the other
            let by_evidence = |name: &str| {
                let cause = model.cause(name).unwrap();
                let ranked = diagnosis.ranked.iter().find(|one| one.cause == Some(cause)).unwrap();
                list.iter().map(|(sign, states)| fits(&model, name, sign, states)).product::<f64>() * ranked.prior
                    / model.causes[cause].prior
            };
            let factor = by_evidence(one) / by_evidence(other);
            assert!((0.1..=10.0).contains(&factor), "{one} and {other} share {list:?}: {factor:.2}");
            let first = causes[0];
            if [one, other].iter().any(|name| model.cause(name) == Some(first)) {
                assert!(
                    [one, other].iter().all(|name| causes.contains(&model.cause(name).unwrap())),
                    "{one} and {other}: {causes:?}"
                );
            }
            let next = diagnosis.between.expect("a measurement that tells them apart");
            assert!(next.bits > 0.01, "{one} and {other}: {next:?}");
        }
    }
    assert!(pairs > 75, "{pairs}");
}

#[test]
fn two_rows_alone_are_told_apart_by_the_measurement_that_is_proposed() {
    // of a file with two causes only, the proposal must be one that separates them
    let text = Model::embedded_text();
    let whole = model();
    for (at, (one, ..)) in ROWS.iter().enumerate() {
        for (other, ..) in &ROWS[..at] {
            let mut two = Model::read(&backshell::text::Source::new("causes.toml", text)).unwrap();
            two.causes.retain(|cause| cause.name == *one || cause.name == *other);
            let map = observed(&whole, &[("siblings", &["alike"])]);
            let diagnosis = infer(&two, &map, Applies::ALL, true);
            let next = diagnosis.next[0];
            let tells = two.measurements[next.measurement].signs.iter().any(|sign| {
                let [a, b] = [0, 1].map(|cause| &two.causes[cause].likelihood[*sign]);
                a.iter().zip(b).any(|(a, b)| (a / b).max(b / a) > 4.0)
            });
            assert!(tells, "{one} and {other}: {}", two.measurements[next.measurement].name);
        }
    }
}

#[test]
fn each_row_as_a_whole_leads_to_its_cause() {
    let model = model();
    for (cause, cells, own) in ROWS {
        let mut list: Vec<(&str, Vec<&str>)> = Vec::new();
        for (column, cell) in cells.into_iter().enumerate() {
            let sign = of_column(cause, column);
            let Some(states) = states(column, cell) else { continue };
            let states = if sign == "reach" { vec!["beyond"] } else { states };
            if !own.iter().any(|(seen, _)| *seen == sign) {
                list.push((sign, states));
            }
        }
        list.extend(own.iter().map(|(sign, state)| (*sign, vec![*state])));
        // what the table takes for granted: a known-good cable works in its place, unless the row says otherwise
        if cause != "not-the-cable" {
            list.push(("swap", vec!["cured"]));
        }
        let list: Vec<(&str, &[&str])> = list.iter().map(|(sign, states)| (*sign, states.as_slice())).collect();
        let diagnosis = infer(&model, &observed(&model, &list), Applies::ALL, true);
        let first = &model.causes[diagnosis.ranked[0].cause.unwrap()].name;
        assert_eq!(first, cause, "{list:?}");
    }
}
