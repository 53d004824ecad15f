//! The numbers behind a lot: sampling plans against published tables, bounds and tests against scipy and by enumeration.

use std::collections::BTreeMap;

use backshell::lot::plan::{
    AQLS, Cell, History, Inspection, LETTERS, Level, LotResult, accept_binomial, accept_hypergeometric, accept_lot, cell, letter,
    quality_at, read_history, risks, sample_size, single, zero_acceptance, zero_acceptance_of_lot,
};
use backshell::lot::{
    Normality, Robust, Spread, capability, clopper_pearson, cpk_lower, fit, lower_bound, proves, runs_lower_tail, split_test,
    trend_z, upper_bound,
};
use backshell::text::Source;
use serde_json::json;

use crate::references::python;

fn spread(values: &[f64]) -> Spread {
    let mut spread = Spread::default();
    values.iter().for_each(|value| spread.add(*value));
    spread
}

fn near(value: f64, expected: f64, digits: f64) {
    assert!((value - expected).abs() <= digits, "{value} is not {expected}");
}

// ------------------------------------------------------------------ ISO 2859-1

/// Down a column: arrows down, then the plans in their order, then arrows up. One step right is one letter up.
#[test]
fn columns_of_the_tables_have_their_structure() {
    let expected: [(Inspection, &[u64], &str, usize); 3] = [
        (Inspection::Normal, &[0, 1, 2, 3, 5, 7, 10, 14, 21], "0^v12345678", 5),
        (Inspection::Tightened, &[0, 1, 2, 3, 5, 8, 12, 18], "0vv1234567", 6),
        (Inspection::Reduced, &[0, 0, 1, 1, 2, 3, 5, 7, 10], "0^v12345678", 5),
    ];
    for (inspection, accepts, sequence, first) in expected {
        for (aql, percent) in AQLS.into_iter().enumerate() {
            let start = first - aql;
            for (row, letter) in LETTERS.into_iter().enumerate() {
                let place = row.checked_sub(start);
                let found = cell(inspection, row, aql).unwrap();
                let wanted = match place.map(|place| sequence.chars().nth(place)) {
                    None => 'v',
                    Some(None) => '^',
                    Some(Some(sign)) => sign,
                };
                let words = format!("{inspection:?}, {letter} at {percent}: {found:?}");
                match (wanted, found) {
                    ('v', Cell::Below) | ('^', Cell::Above) => {}
                    (digit, Cell::Plan(accept, reject)) if digit.is_ascii_digit() => {
                        let nth = digit.to_digit(10).unwrap() as usize;
                        assert_eq!(accept, accepts[nth], "{words}");
                        assert!(reject > accept && (inspection == Inspection::Reduced || reject == accept + 1), "{words}");
                    }
                    _ => panic!("{words}, expected {wanted}"),
                }
            }
        }
    }
}

/// The plans of MIL-STD-105E table II-A for level II, their arrows followed, as (lot, sample, acceptance number) by AQL. `*`
/// means that some or all lots of the row are tested whole.
const RESOLVED: &str = "
8       20/0* 13/0* 8/0* 5/0* 3/0
15      20/0* 13/0* 8/0 5/0 3/0
25      20/0 13/0 8/0 5/0 3/0
50      20/0 13/0 8/0 5/0 13/1
90      20/0 13/0 8/0 20/1 13/1
150     20/0 13/0 32/1 20/1 20/2
280     20/0 50/1 32/1 32/2 32/3
500     80/1 50/1 50/2 50/3 50/5
1200    80/1 80/2 80/3 80/5 80/7
3200    125/2 125/3 125/5 125/7 125/10
10000   200/3 200/5 200/7 200/10 200/14
35000   315/5 315/7 315/10 315/14 315/21
150000  500/7 500/10 500/14 500/21 315/21
500000  800/10 800/14 800/21 500/21 315/21
9999999 1250/14 1250/21 800/21 500/21 315/21";

#[test]
fn resolved_plans() {
    let mut cells = 0;
    for row in RESOLVED.lines().filter(|row| !row.is_empty()) {
        let mut words = row.split_whitespace();
        let lot: u64 = words.next().unwrap().parse().unwrap();
        for (written, aql) in words.zip(AQLS) {
            let (n, accept) = written.trim_end_matches('*').split_once('/').unwrap();
            let (n, accept): (u64, u64) = (n.parse().unwrap(), accept.parse().unwrap());
            let plan = single(lot, Level::II, aql, Inspection::Normal).unwrap();
            assert_eq!((plan.n, plan.accept, plan.reject), (n.min(lot), accept, accept + 1), "{lot} at {aql}");
            assert_eq!(plan.every_unit, n >= lot, "{lot} at {aql}");
            cells += 1;
        }
    }
    assert_eq!(cells, 75);
    // the common slip: after an arrow the sample size is that of the plan it leads to
    let plan = single(60, Level::II, 2.5, Inspection::Normal).unwrap();
    assert_eq!((plan.lot_letter, plan.letter, plan.n, plan.accept), ('E', 'F', 20, 1));
    assert_eq!(single(1, Level::II, 1.0, Inspection::Normal), None);
    assert_eq!(single(100, Level::II, 1.1, Inspection::Normal), None);
}

/// Tightened plans as rejection numbers, from the reproduction of MIL-STD-105E table II-B by the US National Institute of
/// Building Sciences; rows G to L, all of whose cells are plans or arrows down. 0 is an arrow.
#[test]
fn tightened_table_as_reproduced() {
    let rows: [(char, [u64; 5]); 6] = [
        ('G', [1, 0, 0, 2, 3]),
        ('H', [0, 0, 2, 3, 4]),
        ('J', [0, 2, 3, 4, 6]),
        ('K', [2, 3, 4, 6, 9]),
        ('L', [3, 4, 6, 9, 13]),
        ('F', [0, 1, 0, 0, 2]),
    ];
    for (letter, rejects) in rows {
        let row = LETTERS.iter().position(|known| *known == letter).unwrap();
        for (aql, wanted) in rejects.into_iter().enumerate() {
            let found = match cell(Inspection::Tightened, row, aql).unwrap() {
                Cell::Plan(_, reject) => reject,
                _ => 0,
            };
            assert_eq!(found, wanted, "{letter} at {}", AQLS[aql]);
        }
    }
}

/// The worked example of D. C. Montgomery, Introduction to Statistical Quality Control (from memory): lots of 2,000, AQL 0.65 %,
/// level II: letter K; normal 125 with 2, tightened 125 with 1, reduced 50 with 1, rejected from 3 on.
#[test]
fn handbook_example_of_a_plan() {
    let plan = |inspection| {
        let plan = single(2000, Level::II, 0.65, inspection).unwrap();
        (plan.letter, plan.n, plan.accept, plan.reject)
    };
    assert_eq!(plan(Inspection::Normal), ('K', 125, 2, 3));
    assert_eq!(plan(Inspection::Tightened), ('K', 125, 1, 2));
    assert_eq!(plan(Inspection::Reduced), ('K', 50, 1, 3));
}

#[test]
fn code_letters() {
    let at = |lot, level| LETTERS[letter(lot, level)];
    for (lot, letters) in [(2, "AAAAAAB"), (51, "BBCCCEF"), (1200, "CCEFGJK"), (3201, "CDFGJLM"), (500_001, "DEHKNQR")] {
        let found: String = Level::ALL.iter().map(|level| at(lot, *level)).collect();
        assert_eq!(found, letters, "{lot}");
    }
    // no level tests more than one above it, and none tests less of a larger lot
    for pair in [1, 8, 9, 15, 16, 50, 90, 91, 1200, 1201, 10_000, 150_001, 900_000].windows(2) {
        for levels in Level::ALL.windows(2) {
            assert!(letter(pair[1], levels[0]) <= letter(pair[1], levels[1]));
            assert!(letter(pair[0], levels[0]) <= letter(pair[1], levels[0]));
        }
    }
}

/// The risk that a lot as good as the AQL is rejected is nearly the same wherever a table has the same plan by its acceptance and
/// rejection number, since one step right goes with one letter up: a cell that was typed wrong falls out of its family.
#[test]
fn producers_risk_of_every_cell_is_in_family() {
    let mut plans = 0;
    for inspection in [Inspection::Normal, Inspection::Tightened, Inspection::Reduced] {
        let mut families: BTreeMap<(u64, u64), Vec<(f64, String)>> = BTreeMap::new();
        for (row, letter) in LETTERS.into_iter().enumerate() {
            for (column, aql) in AQLS.into_iter().enumerate() {
                let Some(Cell::Plan(accept, reject)) = cell(inspection, row, column) else { continue };
                let risk = 1.0 - accept_binomial(sample_size(inspection, row), reject - 1, aql / 100.0);
                families.entry((accept, reject)).or_default().push((risk, format!("{inspection:?} {letter} at {aql}")));
                plans += 1;
            }
        }
        for (plan, risks) in families {
            let middle = (risks.iter().map(|(risk, _)| risk.ln()).sum::<f64>() / risks.len() as f64).exp();
            for (risk, cell) in risks {
                // the nearest wrong acceptance number in the same row changes the risk more than this
                assert!((0.6..=1.6).contains(&(risk / middle)), "{cell}: {risk}, its family {plan:?} {middle}");
            }
            if inspection == Inspection::Normal {
                let (low, high) = if plan.0 == 0 { (0.11, 0.125) } else { (0.007, 0.095) };
                assert!((low..=high).contains(&middle), "{plan:?}: {middle}");
            }
        }
    }
    // nine plans down each column of II-A and II-C, eight of II-B, none cut off at the bottom
    assert_eq!(plans, 5 * (9 + 8 + 9));
}

#[test]
fn operating_points() {
    // 0.65 F, 1.0 J, 2.5 J, 4.0 L of the normal table, in percent: at 95, 50 and 10 % acceptance (scipy)
    for (n, accept, aql, risk, points) in [
        (20, 0, 0.65, 12.228, [0.2561, 3.4064, 10.8749]),
        (80, 2, 1.0, 4.655, [1.0298, 3.3285, 6.5160]),
        (80, 5, 2.5, 1.521, [3.3165, 7.0581, 11.2850]),
        (200, 14, 4.0, 1.525, [4.6797, 7.3218, 9.9089]),
    ] {
        near(risks(None, n, accept, aql).producer * 100.0, risk, 5e-4);
        for (probability, point) in [0.95, 0.5, 0.1].into_iter().zip(points) {
            near(quality_at(n, accept, probability) * 100.0, point, 5e-5);
        }
    }
    near(accept_hypergeometric(500, 5, 50, 1), 0.919_424, 1e-6);
    near(accept_hypergeometric(1000, 50, 80, 2), 0.218_645, 1e-6);
    near(accept_hypergeometric(100, 1, 20, 0), 0.8, 1e-12);
    // a small lot is counted exactly, a large one isn't worth it
    near(accept_lot(Some(100), 20, 0, 0.05), 0.319_309, 1e-6);
    near(accept_lot(Some(100_000), 20, 0, 0.05), accept_binomial(20, 0, 0.05), 0.0);
    assert_eq!(accept_hypergeometric(10, 20, 30, 40), 1.0);
    near(accept_hypergeometric(10, 10, 5, 4), 0.0, 1e-12);
}

#[test]
fn zero_acceptance_plans() {
    for (confidence, quality, n) in [
        (0.95, 0.05, 59),
        (0.95, 0.01, 299),
        (0.90, 0.10, 22),
        (0.90, 0.05, 45),
        (0.90, 0.01, 230),
        (0.99, 0.01, 459),
        (0.95, 0.10, 29),
        (0.95, 0.001, 2995),
    ] {
        assert_eq!(zero_acceptance(0, confidence, quality).unwrap().n, n, "{confidence} {quality}");
    }
    for (accept, confidence, quality, n) in [(1, 0.95, 0.05, 93), (2, 0.95, 0.05, 124), (1, 0.90, 0.10, 38), (1, 0.95, 0.01, 473)]
    {
        assert_eq!(zero_acceptance(accept, confidence, quality).unwrap().n, n);
    }
    // of a lot of 20, two bad ones are too many: 18 good ones and two unknown could hide them, 16 of 20 leave 3.2 %
    let plan = zero_acceptance_of_lot(20, 0.95, 0.05).unwrap();
    assert!(accept_hypergeometric(20, 2, plan.n, 0) <= 0.05 && accept_hypergeometric(20, 2, plan.n - 1, 0) > 0.05);
    assert_eq!(plan.n, 16);
    assert!(zero_acceptance_of_lot(3, 0.95, 0.05).unwrap().every_unit);
    assert!(zero_acceptance_of_lot(1_000_000, 0.95, 0.05).unwrap().n <= 59);
    assert!(zero_acceptance(0, 1.0, 0.05).is_none() && zero_acceptance(0, 0.95, 0.0).is_none());
}

#[test]
fn switching() {
    let history = |results: &str| {
        let lots = results.chars().map(|c| LotResult::new(c.eq_ignore_ascii_case(&'a')).with_original(c.is_ascii_lowercase()));
        History::new(lots.collect()).standing()
    };
    for (results, inspection, stopped) in [
        ("", Inspection::Normal, false),
        ("aaaa", Inspection::Normal, false),
        ("naaaan", Inspection::Normal, false),
        ("naaan", Inspection::Tightened, false),
        ("nn", Inspection::Tightened, false),
        // lots that are handed in again don't count
        ("nNNN", Inspection::Normal, false),
        ("nnaaaa", Inspection::Tightened, false),
        ("nnaaaaa", Inspection::Normal, false),
        ("nnaaaaan", Inspection::Normal, false),
        ("nnanananan", Inspection::Tightened, false),
        ("nnananananan", Inspection::Tightened, true),
    ] {
        let standing = history(results);
        assert_eq!((standing.inspection, standing.stopped), (inspection, stopped), "{results}: {}", standing.why);
    }
    assert!(history("aaaaaaaaaa").may_reduce && !history("naaaaaaaaa").may_reduce);
    let source = Source::new("h.txt", "accepted C1\n\n# all\nnot-accepted C2 # open\nnot-accepted again C2\nrefused C3\n");
    let problems = read_history(&source).unwrap_err();
    assert_eq!(problems.len(), 1);
    assert_eq!(source.slice(problems[0].labels[0].span), "refused");
    let source = Source::new("h.txt", "accepted C1\nnot-accepted C2\nnot-accepted again C2\n");
    let read = read_history(&source).unwrap();
    assert_eq!(
        read.lots.iter().map(|lot| (lot.accepted, lot.original)).collect::<Vec<_>>(),
        [(true, true), (false, true), (false, false)]
    );
}

// ------------------------------------------------------------------ bounds, capability, outliers

#[test]
fn bounds() {
    // NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1 (from memory): 4 of 20 at 90 %
    let (low, high) = clopper_pearson(4, 20, 0.90);
    near(low, 0.071_354, 1e-6);
    near(high, 0.401_029, 1e-6);
    for (found, of, low, high) in [(0, 59, 0.0, 0.060_609), (2, 50, 0.004_881, 0.137_138), (10, 10, 0.691_503, 1.0)] {
        let interval = clopper_pearson(found, of, 0.95);
        near(interval.0, low, 1e-6);
        near(interval.1, high, 1e-6);
    }
    near(upper_bound(0, 3, 0.95), 0.631_597, 1e-6);
    near(upper_bound(2, 125, 0.90), 0.042_016, 1e-6);
    assert_eq!(upper_bound(0, 0, 0.95), 1.0);
    assert_eq!(upper_bound(3, 2, 0.95), 1.0);
    assert_eq!(lower_bound(0, 0, 0.95), 0.0);
    // no confidence, or one out of range, bounds nothing
    for confidence in [0.0, 1.0, -0.5, 1.5, f64::NAN] {
        assert_eq!((upper_bound(0, 9, confidence), lower_bound(9, 9, confidence)), (1.0, 0.0), "{confidence}");
        assert_eq!((upper_bound(2, 9, confidence), lower_bound(2, 9, confidence)), (1.0, 0.0), "{confidence}");
    }
    assert_eq!(proves(0, 3, 0.95), "3 good samples out of 3 allow up to 63 % defective at 95 % confidence (one-sided)");
    assert_eq!(proves(0, 299, 0.95), "299 good samples out of 299 allow up to 1.00 % defective at 95 % confidence (one-sided)");
}

#[test]
fn capability_of_ten_samples() {
    let values = spread(&[0.91, 0.94, 0.92, 0.97, 0.95, 0.93, 0.96, 0.94, 0.92, 0.96]);
    let found = capability(&values, Some(0.85), Some(1.05)).unwrap();
    near(found.mean, 0.94, 1e-12);
    near(found.deviation, 0.02, 1e-12);
    near(found.cp.unwrap(), 5.0 / 3.0, 1e-9);
    near(found.cpk, 1.5, 1e-9);
    near(found.cpk_lower, 0.8932, 5e-5);
    near(found.ppm, 3.4167, 5e-4);
    assert_eq!(found.normality, Normality::TooFew);
    assert!(capability(&values, None, None).is_none());
    assert!(capability(&spread(&[0.5, 0.5]), None, Some(1.0)).is_none());
    assert!(cpk_lower(1.33, 1, 0.95) == f64::NEG_INFINITY);
}

#[test]
fn a_robust_z_sees_what_three_sigma_cannot() {
    let values = [1.02, 0.98, 1.01, 0.99, 1.0, 1.03, 0.97, 1.95];
    let robust = Robust::of(&spread(&values)).unwrap();
    near(robust.median, 1.005, 1e-12);
    near(robust.scale, 0.029_652, 1e-6);
    near(robust.z(1.95), 31.870, 5e-4);
    // more than half are equal: the mean distance has to do
    let robust = Robust::of(&spread(&[1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.2])).unwrap();
    assert!(robust.by_mean);
    near(robust.scale, 1.253_314 * 0.2 / 7.0, 1e-7);
    let robust = Robust::of(&spread(&[1.0, 1.0, 1.0])).unwrap();
    assert_eq!((robust.scale, robust.z(1.0)), (0.0, 0.0));
}

#[test]
fn spreads_stay_small_and_close() {
    let mut all = Spread::default();
    let mut values: Vec<f64> = (0..20_000_u32).map(|n| 0.4 + f64::from(n.wrapping_mul(7919) % 20_000) * 1e-6).collect();
    values.iter().for_each(|value| all.add(*value));
    assert_eq!(all.count(), 20_000);
    assert!(!all.is_exact() && all.values().count() <= 256);
    values.sort_by(f64::total_cmp);
    near(all.median().unwrap(), values[10_000], 1e-4);
    let mut few = Spread::default();
    [0.451, 0.451, 0.0, -0.0, f64::NAN, -1.0].iter().for_each(|value| few.add(*value));
    assert_eq!(few.values().collect::<Vec<_>>(), [(0.0, 2), (0.451, 2)]);
    assert_eq!(few.median(), Some(0.2255));
    assert_eq!(Spread::default().median(), None);
}

// ------------------------------------------------------------------ tests along the serial numbers

/// Every order of so many bad among so many, as bits.
fn orders(bad: u32, units: u32) -> impl Iterator<Item = u32> {
    (0_u32..1 << units).filter(move |order| order.count_ones() == bad)
}

#[test]
fn runs_by_enumeration() {
    for (bad, good) in [(1_u32, 1_u32), (2, 5), (4, 4), (3, 8), (6, 5)] {
        let n = bad + good;
        let runs: Vec<u64> =
            orders(bad, n).map(|order| 1 + u64::from(((order ^ (order >> 1)) & ((1 << (n - 1)) - 1)).count_ones())).collect();
        for most in 1..=u64::from(n) {
            let share = runs.iter().filter(|runs| **runs <= most).count() as f64 / runs.len() as f64;
            near(runs_lower_tail(u64::from(bad), u64::from(good), most), share, 1e-12);
        }
    }
    assert_eq!(runs_lower_tail(0, 5, 1), 1.0);
}

#[test]
fn splits_and_trends_by_enumeration() {
    let series: Vec<(u64, u64)> = [(1, 0), (1, 0), (1, 0), (1, 1), (1, 1), (1, 0), (1, 1), (1, 1)].to_vec();
    // from the fourth on 4 of 5: 5 ways of 70 to have all four there
    let (at, later, p) = split_test(&series).unwrap();
    assert_eq!((at, later), (3, true));
    near(p, 5.0 / 70.0, 1e-12);
    let mirrored: Vec<(u64, u64)> = series.iter().rev().copied().collect();
    let (at, later, p) = split_test(&mirrored).unwrap();
    assert_eq!((at, later), (5, false));
    near(p, 5.0 / 70.0, 1e-12);
    assert_eq!(split_test(&[(5, 2)]), None);
    // the variance of the trend over every order
    let sums: Vec<f64> =
        orders(4, 8).map(|order| (0..8).filter(|bit| order >> bit & 1 == 1).map(f64::from).sum::<f64>() - 14.0).collect();
    let deviation = (sums.iter().map(|sum| sum * sum).sum::<f64>() / sums.len() as f64).sqrt();
    let spaced: Vec<(u64, f64, u64)> = series.iter().enumerate().map(|(at, (units, bad))| (*units, at as f64, *bad)).collect();
    near(trend_z(&spaced).unwrap(), (3.0 + 4.0 + 6.0 + 7.0 - 14.0) / deviation, 1e-12);
    assert_eq!(trend_z(&[(3, 0.0, 0), (3, 1.0, 0)]), None);
}

#[test]
fn a_line_over_lengths() {
    let two = fit(&[(1.0, 0.25), (3.0, 0.65)]).unwrap();
    near(two.intercept, 0.05, 1e-12);
    near(two.slope, 0.2, 1e-12);
    assert!(two.half_widths.is_none() && two.caution().is_some());
    let three = fit(&[(1.0, 0.25), (2.0, 0.46), (3.0, 0.65)]).unwrap();
    assert!(three.half_widths.is_some() && three.caution().unwrap().contains("three points are too few"));
    assert!(fit(&[(1.0, 0.25)]).is_none() && fit(&[(2.0, 0.25), (2.0, 0.3)]).is_none());
}

// ------------------------------------------------------------------ scipy

#[test]
fn statistics_against_scipy() {
    let mut lines = Vec::new();
    let mut say =
        |what: &str, of: serde_json::Value, value: f64| lines.push(json!({"what": what, "of": of, "value": value}).to_string());
    for n in [1_u64, 3, 8, 20, 125, 1250] {
        for accept in [0, 1, 2, 5, 21] {
            for share in [0.0065, 0.04, 0.3, 0.9] {
                if accept < n {
                    say("binomial", json!([n, accept, share]), accept_binomial(n, accept, share));
                }
            }
        }
        for found in [0, 1, n / 2, n] {
            for confidence in [0.9, 0.95, 0.999] {
                say("upper", json!([found, n, confidence]), upper_bound(found, n, confidence));
                let (low, high) = clopper_pearson(found, n, confidence);
                say("low", json!([found, n, confidence]), low);
                say("high", json!([found, n, confidence]), high);
            }
        }
    }
    for (lot, bad, n) in [(10_u64, 3_u64, 4_u64), (100, 5, 20), (500, 25, 50), (20_000, 300, 315)] {
        for accept in [0, 1, 2, 5] {
            say("hypergeometric", json!([lot, bad, n, accept]), accept_hypergeometric(lot, bad, n, accept));
        }
    }
    let drifting: Vec<(u64, u64)> = (0..40).map(|at| (3, u64::from(at > 27))).collect();
    let (at, _, p) = split_test(&drifting).unwrap();
    say("split", json!([120, 12, 120 - 3 * at, 12]), p);
    let spaced: Vec<(u64, f64, u64)> =
        (0_u32..30).map(|at| (4, f64::from(at), u64::from(at % 7 > 3) + u64::from(at > 20))).collect();
    say("trend", json!([spaced]), trend_z(&spaced).unwrap());
    let values: Vec<f64> = (0..60_u32).map(|n| 0.45 + f64::from(n * n % 37) * 0.001).collect();
    let found = capability(&spread(&values), None, Some(0.52)).unwrap();
    say("deviation", json!([values]), found.deviation);
    say("normal tail", json!([values, 0.52]), found.ppm);
    say("mad", json!([values]), Robust::of(&spread(&values)).unwrap().scale);
    match found.normality {
        Normality::NothingAgainst(p) | Normality::NotNormal(p) => say("jarque-bera", json!([values]), p),
        other => panic!("{other:?}"),
    }
    let points = [(2.0, 0.13), (5.0, 0.29), (10.0, 0.551), (20.0, 1.078)];
    let line = fit(&points).unwrap();
    let (a, b) = line.half_widths.unwrap();
    for (which, value) in [("intercept", line.intercept), ("slope", line.slope), ("intercept half", a), ("slope half", b)] {
        say("line", json!([points, which]), value);
    }
    let count = lines.len();
    if let Some((agreed, text)) = python("check_lot.py", &[], &(lines.join("\n") + "\n")) {
        println!("{text}");
        assert!(agreed, "{text}");
        assert!(text.contains(&format!("{count} values agree")), "{text}");
    }
}
