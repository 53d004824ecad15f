//! Networks, wire, decisions and distances against published tables, exact fractions, networkx and worked examples.
//!
//! No value here comes from the code under test: tables are printed ones or were computed elsewhere, and what is worked by
//! hand says how.

use std::collections::BTreeSet;

use backshell::graph::{EdgeError, Nets, Network};
use backshell::units::{
    Bound, Decision, Distance, Quantity, Reading, SEVEN_STRANDS_LEAST, STRANDED_MOST, Unit, at_least, at_most, awg_area_mm2,
    awg_diameter_mm, awg_of_area, awg_of_ratio, break_from_both_ends, break_from_sibling, copper_clad_ratio,
    copper_ohm_per_metre, lay_factor, p_conform_at_most, tinned_most,
};
use serde::Deserialize;

use crate::references::{python, table};

#[track_caller]
fn near(found: impl Into<Option<f64>>, expected: f64, relative: f64) {
    let found = found.into().unwrap();
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} instead of {expected}");
}

fn random() -> impl FnMut(u64) -> u64 {
    let mut state = 0x5eed_u64;
    move |n| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % n
    }
}

// --- networks ---

/// Edges, and what is known of them as exact fractions: (a, b, numerator, denominator).
type Named = (&'static str, u32, Vec<(u32, u32, f64)>, Vec<(u32, u32, f64, f64)>);

fn named() -> Vec<Named> {
    let cube = [[0, 1], [0, 2], [0, 4], [1, 3], [1, 5], [2, 3], [2, 6], [3, 7], [4, 5], [4, 6], [5, 7], [6, 7]];
    // four power wires of 0.060 ohm, each with a contact of 0.030 ohm at either end, between 0 and 1
    let wires = |count: u32| {
        (0..count)
            .flat_map(|wire| {
                let (left, right) = (2 + 2 * wire, 3 + 2 * wire);
                [(0, left, 0.030), (left, right, 0.060), (right, 1, 0.030)]
            })
            .collect::<Vec<_>>()
    };
    vec![
        ("three grounds and a shell", 2, vec![(0, 1, 0.1), (0, 1, 0.1), (0, 1, 0.1), (0, 1, 0.01)], vec![(0, 1, 1.0, 130.0)]),
        (
            "Wheatstone bridge",
            4,
            vec![(0, 2, 1.0), (0, 3, 2.0), (2, 1, 3.0), (3, 1, 4.0), (2, 3, 5.0)],
            vec![(0, 1, 170.0, 71.0), (2, 3, 105.0, 71.0)],
        ),
        (
            "unit cube",
            8,
            cube.iter().map(|edge| (edge[0], edge[1], 1.0)).collect(),
            vec![(0, 1, 7.0, 12.0), (0, 3, 3.0, 4.0), (0, 7, 5.0, 6.0)],
        ),
        (
            // J1, J2, J3 and the splice
            "harness with a splice",
            4,
            vec![(0, 3, 0.05), (3, 1, 0.08), (3, 2, 0.12), (1, 2, 0.30)],
            vec![(0, 1, 0.1172, 1.0), (0, 2, 0.1412, 1.0), (1, 2, 0.12, 1.0), (0, 3, 0.05, 1.0)],
        ),
        ("four power wires", 10, wires(4), vec![(0, 1, 0.03, 1.0)]),
        ("four power wires, one open", 10, wires(3), vec![(0, 1, 0.04, 1.0)]),
    ]
}

#[test]
fn named_networks_to_their_exact_fractions() {
    for (name, n, edges, known) in named() {
        let network = Network::new(n, edges).unwrap();
        for (a, b, above, below) in known {
            println!("{name}: {a}-{b}");
            near(network.effective(a, b), above / below, 1e-14);
            near(network.effective(b, a), above / below, 1e-14);
        }
    }
}

/// (network, edge, a, b, ohm): each resistance after the loss of an edge, by series and parallel.
#[test]
fn named_networks_with_an_edge_gone() {
    let networks = named();
    let without = |at: usize, edge, a, b| {
        let (_, n, edges, _) = &networks[at];
        Network::new(*n, edges.clone()).unwrap().without(edge, a, b)
    };
    near(without(0, 0, 0, 1), 1.0 / 120.0, 1e-14);
    near(without(0, 3, 0, 1), 0.1 / 3.0, 1e-14);
    near(without(1, 4, 0, 1), 2.4, 1e-14);
    near(without(1, 0, 0, 1), 14.0 / 3.0, 1e-14);
    near(without(3, 3, 0, 1), 0.13, 1e-14);
    near(without(3, 1, 0, 1), 0.47, 1e-14);
    near(without(4, 4, 0, 1), 0.04, 1e-14);
    assert_eq!(without(3, 0, 0, 1), None);
}

#[test]
fn bridges_of_small_networks() {
    let bridges = |n, edges: &[(u32, u32)]| Network::new(n, edges.iter().map(|(a, b)| (*a, *b, 1.0))).unwrap().bridges();
    // a path
    assert_eq!(bridges(4, &[(0, 1), (1, 2), (2, 3)]), [0, 1, 2]);
    // a triangle with a tail
    assert_eq!(bridges(5, &[(0, 1), (1, 2), (2, 0), (2, 3), (3, 4)]), [3, 4]);
    // two squares joined by one edge
    let squares = [(0, 1), (1, 2), (2, 3), (3, 0), (4, 5), (5, 6), (6, 7), (7, 4), (3, 4)];
    assert_eq!(bridges(8, &squares), [8]);
    // the star of a splice
    assert_eq!(bridges(4, &[(0, 1), (0, 2), (0, 3)]), [0, 1, 2]);
    // two parallel wires, then one
    assert_eq!(bridges(3, &[(0, 1), (0, 1), (1, 2)]), [2]);
    assert_eq!(bridges(3, &[(1, 2), (0, 1), (1, 0)]), [0]);
    // a node joined to itself, and nothing at all
    assert_eq!(bridges(2, &[(0, 0), (0, 1), (1, 1)]), [1]);
    assert!(bridges(0, &[]).is_empty());
    // a tie doubles a resistor
    assert!(Network::new(2, [(0, 1, 1.0), (0, 1, 0.0)]).unwrap().bridges().is_empty());
}

#[test]
fn ties_loops_and_what_is_not_there() {
    // 0 =tie= 1 -1 ohm- 2 =tie= 3, and 1 -1 ohm- 3: half an ohm
    let network = Network::new(5, [(0, 1, 0.0), (1, 2, 1.0), (2, 3, 0.0), (1, 3, 1.0), (1, 1, 7.0), (2, 2, 0.0)]).unwrap();
    near(network.effective(0, 3), 0.5, 1e-15);
    assert_eq!(network.effective(0, 1), Some(0.0));
    assert_eq!(network.effective(2, 3), Some(0.0));
    assert_eq!(network.effective(2, 2), Some(0.0));
    assert_eq!(network.effective(4, 4), Some(0.0));
    assert_eq!(network.effective(0, 4), None);
    assert_eq!(network.effective(0, 5), None);
    assert_eq!(network.effective(5, 5), None);
    // without the tie at the right, the two resistors end apart
    near(network.without(2, 0, 3), 1.0, 1e-15);
    assert_eq!(network.without(2, 2, 3), Some(2.0));
    assert_eq!(network.without(0, 0, 3), None);
    near(network.without(4, 0, 3), 0.5, 1e-15);
    assert_eq!(network.without(6, 0, 3), None);
    assert_eq!(network.bridges(), [0]);
    for wrong in [-1.0, f64::NAN, f64::INFINITY, 1e-16, 1e19] {
        assert_eq!(Network::new(2, [(0, 1, wrong)]).err(), Some(EdgeError::Resistance(0)), "{wrong}");
    }
    assert_eq!(Network::new(2, [(0, 1, 1.0), (2, 1, 1.0)]).err(), Some(EdgeError::NoSuchNode(1)));
    assert!(Network::new(2, [(0, 1, -0.0)]).is_ok());
}

/// A million edges: no recursion, and no more than linear work for chains.
#[test]
fn long_networks() {
    let n = 1_000_000;
    let chain = Network::new(n, (1..n).map(|node| (node - 1, node, 0.001))).unwrap();
    assert_eq!(chain.bridges().len(), 999_999);
    near(chain.effective(0, n - 1), 999.999, 1e-9);
    assert_eq!(chain.without(500_000, 0, n - 1), None);
    let ring = Network::new(n, (0..n).map(|node| (node, (node + 1) % n, 0.001))).unwrap();
    assert!(ring.bridges().is_empty());
    near(ring.effective(0, n / 2), 250.0, 1e-9);
}

/// A ladder of unit resistors reads, from its end, a quotient of Fibonacci numbers (a textbook continued fraction).
#[test]
fn ladders_to_fibonacci_numbers() {
    let (mut above, mut below) = (2.0, 1.0); // one section: series 1, shunt 1
    for sections in 1_u32..=30 {
        // node 0 is the return; 1 is the input; each section adds a series and a shunt resistor
        let edges = (0..sections).flat_map(|s| [(1 + s, 2 + s, 1.0), (2 + s, 0, 1.0)]);
        near(Network::new(sections + 2, edges).unwrap().effective(0, 1), above / below, 1e-13);
        // 1 + (1 parallel to x) = (2x + 1)/(x + 1)
        (above, below) = (2.0 * above + below, above + below);
    }
}

#[derive(Debug)]
struct Random {
    nodes: u32,
    edges: Vec<(u32, u32, f64)>,
    wide: bool,
}

fn random_networks() -> Vec<Random> {
    let mut random = random();
    let mut small = |n: u64| u32::try_from(random(n)).unwrap();
    (0..400)
        .map(|number| {
            let wide = number >= 300;
            let nodes = 1 + small(12);
            let count = small(u64::from(nodes) * 2 + 2);
            let edges = (0..count)
                .map(|_| {
                    let (a, b) = (small(u64::from(nodes)), small(u64::from(nodes)));
                    let digits = f64::from(1 + small(999));
                    let ohm = match small(if wide { 10 } else { 8 }) {
                        0 if number % 3 == 0 => 0.0,
                        8 => digits * 1e6,
                        9 => digits * 1e-6,
                        power => digits * 10_f64.powi(i32::try_from(power % 4).unwrap() - 3),
                    };
                    (a, b, ohm)
                })
                .collect();
            Random { nodes, edges, wide }
        })
        .collect()
}

/// Random multigraphs, with parallel edges, ties and loops, against networkx and exact fractions.
#[test]
fn networks_against_networkx() {
    let mut lines = String::new();
    let mut all = random_networks();
    all.extend(named().into_iter().map(|(_, nodes, edges, _)| Random { nodes, edges, wide: false }));
    for Random { nodes, edges, wide } in &all {
        let network = Network::new(*nodes, edges.iter().copied()).unwrap();
        let pairs: Vec<(u32, u32)> = (0..*nodes).step_by(2).map(|a| (a, (a * 7 + 3) % nodes)).chain([(0, nodes - 1)]).collect();
        let effective: Vec<_> = pairs.iter().map(|(a, b)| (a, b, network.effective(*a, *b))).collect();
        let without: Vec<_> = (0..edges.len())
            .step_by(3)
            .map(|edge| {
                let (a, b) = if edge % 2 == 0 { (edges[edge].0, edges[edge].1) } else { (0, nodes - 1) };
                (edge, a, b, network.without(edge, a, b))
            })
            .collect();
        let line = serde_json::json!({"nodes": nodes, "edges": edges, "bridges": network.bridges(),
            "effective": effective, "without": without, "wide": wide});
        lines.push_str(&line.to_string());
        lines.push('\n');
    }
    if let Some((agreed, text)) = python("check_networks.py", &[], &lines) {
        println!("{text}");
        assert!(agreed, "{text}");
        assert!(text.contains(&format!("{} networks", all.len())), "{text}");
    }
}

/// Foster's theorem: over all edges, effective resistance by own resistance adds up to nodes less components.
#[test]
fn foster_sum_of_random_networks() {
    let mut tried = 0;
    for Random { nodes, edges, .. } in random_networks() {
        if edges.iter().any(|edge| edge.2 == 0.0) {
            continue;
        }
        let network = Network::new(nodes, edges.iter().copied()).unwrap();
        let components = Nets::new(nodes as usize, edges.iter().map(|edge| (edge.0, edge.1))).members().len();
        let sum: f64 = edges.iter().map(|(a, b, ohm)| network.effective(*a, *b).unwrap() / ohm).sum();
        let expected = f64::from(nodes) - f64::from(u32::try_from(components).unwrap());
        assert!((sum - expected).abs() < 1e-12, "{sum} instead of {expected}");
        tried += 1;
    }
    assert!(tried > 200, "{tried}");
}

/// An edge is a bridge exactly if its loss parts its own ends; and no loss lowers a resistance (Rayleigh).
#[test]
fn bridges_part_their_ends() {
    for Random { nodes, edges, .. } in random_networks() {
        let network = Network::new(nodes, edges.iter().copied()).unwrap();
        let bridges: BTreeSet<usize> = network.bridges().into_iter().collect();
        for (edge, (a, b, _)) in edges.iter().enumerate() {
            let left = network.without(edge, *a, *b);
            assert_eq!(left.is_none(), bridges.contains(&edge), "edge {edge} of {edges:?}");
            if let Some(left) = left {
                assert!(left >= network.effective(*a, *b).unwrap() * (1.0 - 1e-12), "edge {edge} of {edges:?}");
            }
        }
    }
}

// --- wire ---

#[derive(Debug, Deserialize)]
struct Gauge {
    awg: f64,
    mm2: f64,
    ohm_per_km: f64,
    printed_ohm_per_1000ft: f64,
    printed_circular_mil: f64,
    handbook_ohm_per_1000ft: Option<f64>,
    source: String,
}

const KFT_PER_KM: f64 = 1.0 / 0.3048;

fn awg(number: f64) -> Quantity {
    Quantity::new(number, Unit::Awg)
}

fn ohm_per_km(gauge: &Quantity, celsius: f64) -> f64 {
    1000.0 * copper_ohm_per_metre(gauge, celsius).unwrap()
}

/// To 1e-4 where the exact formula was computed; printed tables to 0.1 % (they have three or four figures); the handbook's
/// to 1.5 %, as it rounds diameters to 0.1 mil first.
#[test]
fn wire_tables() {
    let rows: Vec<Gauge> = table("wire.csv");
    assert_eq!(rows.len(), 17);
    for row in &rows {
        assert!(!row.source.is_empty(), "{row:?}");
        near(awg_area_mm2(row.awg), row.mm2, 1e-4);
        let found = ohm_per_km(&awg(row.awg), 20.0);
        near(found, row.ohm_per_km, 1e-4);
        near(found, row.printed_ohm_per_1000ft * KFT_PER_KM, 1e-3);
        // a circular mil is the area of a circle of 0.001 inch
        near(awg_area_mm2(row.awg), row.printed_circular_mil * 5.067_075e-4, 1e-3);
        if let Some(handbook) = row.handbook_ohm_per_1000ft {
            near(found, handbook * KFT_PER_KM, 0.015);
        }
        near(ohm_per_km(&Quantity::new(row.mm2, Unit::SquareMillimetre), 20.0), row.ohm_per_km, 1e-4);
        near(awg_of_area(row.mm2), row.awg, 1e-4);
        for other in &rows {
            near(awg_of_ratio(&awg(row.awg), other.ohm_per_km / row.ohm_per_km), other.awg, 1e-4);
        }
    }
}

#[derive(Debug, Deserialize)]
struct Class {
    mm2: f64,
    class_1_plain: f64,
    coated_solid_or_stranded: f64,
    class_2_plain: f64,
    class_5_plain: f64,
    class_5_coated: f64,
    source: String,
}

/// The limits of IEC 60228 lie above copper of the nominal area: 4 to 8 % for classes 1 and 2, to 20 % for class 5.
#[test]
fn iec_60228_limits() {
    let rows: Vec<Class> = table("iec60228.csv");
    assert_eq!(rows.len(), 10);
    for row in rows {
        assert!(!row.source.is_empty(), "{row:?}");
        let found = ohm_per_km(&Quantity::new(row.mm2, Unit::SquareMillimetre), 20.0);
        for plain in [row.class_1_plain, row.class_2_plain] {
            assert!((1.04..1.08).contains(&(plain / found)), "{row:?}: {found}");
        }
        assert!((1.10..1.16).contains(&(row.class_5_plain / found)), "{row:?}: {found}");
        assert!((row.class_1_plain..row.class_5_coated).contains(&row.coated_solid_or_stranded), "{row:?}");
        assert!((row.class_5_plain..found * 1.20).contains(&row.class_5_coated), "{row:?}: {found}");
    }
}

#[test]
fn resistance_at_temperature() {
    for (celsius, expected) in
        [(-40.0, 64.357), (0.0, 77.596), (25.0, 85.870), (60.0, 97.454), (75.0, 102.418), (85.0, 105.728), (105.0, 112.347)]
    {
        near(ohm_per_km(&awg(24.0), celsius), expected, 1e-5);
    }
    // 2 m of 28 AWG, one way; 100 m of 24 AWG, the loop
    near(2.0 * ohm_per_km(&awg(28.0), 20.0) / 1000.0, 0.425_84, 1e-4);
    near(0.2 * ohm_per_km(&awg(24.0), 60.0), 19.491, 1e-4);
    // 3 A through 1 m of 22 AWG: 158.89 mV
    near(3.0 * ohm_per_km(&awg(22.0), 20.0), 158.89, 1e-4);
}

/// ASTM B258 fixes 36 AWG at 5 mil and 4/0 at 460 mil; the sizes between are in geometric progression.
#[test]
fn gauges_from_end_to_end() {
    near(awg_diameter_mm(36.0), 5.0 * 0.0254, 1e-14);
    near(awg_diameter_mm(-3.0), 460.0 * 0.0254, 1e-14);
    let mut number = -3.0;
    while number < 56.0 {
        near(awg_diameter_mm(number).unwrap() / awg_diameter_mm(number + 1.0).unwrap(), 1.122_932, 1e-6);
        let back = awg_of_area(awg_area_mm2(number).unwrap()).unwrap();
        assert!((back - number).abs() < 1e-9, "{number}: {back}");
        number += 1.0;
    }
    assert_eq!(awg_of_area(awg_area_mm2(56.0).unwrap()).map(f64::round), Some(56.0));
    for outside in [-3.001, 56.001, f64::NAN, f64::INFINITY] {
        assert_eq!(awg_area_mm2(outside), None, "{outside}");
    }
    for gauge in [awg(57.0), Quantity::new(0.0, Unit::SquareMillimetre), Quantity::new(1.0, Unit::Ohm), awg(f64::NAN)] {
        assert_eq!(copper_ohm_per_metre(&gauge, 20.0), None, "{gauge:?}");
        assert_eq!(awg_of_ratio(&gauge, 1.0), None, "{gauge:?}");
    }
    // a limit is no size
    assert_eq!(copper_ohm_per_metre(&awg(24.0).with_bound(Bound::Above), 20.0), None);
    for outside in [-66.0, 201.0, f64::NAN] {
        assert_eq!(copper_ohm_per_metre(&awg(24.0), outside), None, "{outside}");
    }
    for outside in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e30] {
        assert_eq!(awg_of_ratio(&awg(24.0), outside), None, "{outside}");
    }
}

#[test]
fn copper_clad_aluminium() {
    near(copper_clad_ratio(0.10), 1.5408, 1e-4);
    near(copper_clad_ratio(0.15), 1.4959, 1e-4);
    near(copper_clad_ratio(0.10).unwrap() * ohm_per_km(&awg(24.0), 20.0), 129.76, 1e-4);
    near(copper_clad_ratio(0.15).unwrap() * ohm_per_km(&awg(24.0), 20.0), 125.98, 1e-4);
    near(copper_clad_ratio(0.0), 1.0 / 0.61, 1e-15);
    for outside in [-0.01, 1.01, f64::NAN] {
        assert_eq!(copper_clad_ratio(outside), None);
    }
    // 24 AWG of copper-clad aluminium with 10 % of copper passes for a little less than 26 AWG of copper
    let seen = awg_of_ratio(&awg(24.0), 1.5408).unwrap();
    assert!((25.8..26.0).contains(&seen), "{seen}");
}

#[test]
fn tinning_and_stranding() {
    // ASTM B33-04, table 2, at the borders of its bands, in inch; the factors computed over 0.15328
    for (inch, expected) in [
        (0.460, 1.0239),
        (0.290, 1.0239),
        (0.289, 1.0292),
        (0.103, 1.0292),
        (0.1019, 1.0399), // 10 AWG
        (0.0201, 1.0399), // 24 AWG
        (0.0200, 1.0620),
        (0.0111, 1.0620),
        (0.0110, 1.0735),
        (0.0030, 1.0735),
    ] {
        near(tinned_most(inch * 25.4), expected, 1e-4);
    }
    near(tinned_most(awg_diameter_mm(24.0).unwrap()), 1.0399, 1e-4);
    near(tinned_most(awg_diameter_mm(25.0).unwrap()), 1.0620, 1e-4);
    for outside in [0.461, 0.0029, 0.0, -1.0, f64::NAN] {
        assert_eq!(tinned_most(outside * 25.4), None, "{outside}");
    }
    for (ratio, expected) in [(8.0, 1.0743), (10.0, 1.0482), (12.0, 1.0337), (16.0, 1.0191), (20.0, 1.0123)] {
        near(lay_factor(ratio), expected, 1e-4);
    }
    for outside in [0.0, -8.0, f64::NAN] {
        assert_eq!(lay_factor(outside), None);
    }
    // seven strands of 36, 34 and 32 AWG, sold as 28, 26 and 24 AWG: (strand, size, ohm/km without lay, with 2 %)
    for (strand, size, bare, laid) in [(36.0, 28.0, 194.44, 198.32), (34.0, 26.0, 122.28, 124.73), (32.0, 24.0, 76.90, 78.44)] {
        near(ohm_per_km(&awg(strand), 20.0) / 7.0, bare, 1e-4);
        near(ohm_per_km(&awg(strand), 20.0) / 7.0 * STRANDED_MOST, laid, 1e-4);
        near(ohm_per_km(&awg(size), 20.0) * SEVEN_STRANDS_LEAST, bare, 1e-3);
    }
}

// --- decisions ---

/// ILAC-G8:09/2019, 4.2, with an upper limit of 1.0 and u = 0.05, so w = U = 0.1. Conditional passes and fails, which lie
/// within U of the limit, are both inconclusive.
#[test]
fn guard_band_table() {
    for (value, probability, decision) in [
        (0.9, 0.977_250, Decision::Conforms),
        (0.95, 0.841_345, Decision::Inconclusive),
        (1.0, 0.500_000, Decision::Inconclusive),
        (1.02, 0.344_578, Decision::Inconclusive),
        (1.1, 0.022_750, Decision::Inconclusive),
    ] {
        assert_eq!(at_most(value, 1.0, 0.1), decision, "{value}");
        assert_eq!(at_least(-value, -1.0, 0.1), decision, "{value}");
        let found = p_conform_at_most(value, 1.0, 0.05).unwrap();
        assert!((found - probability).abs() < 5e-7, "{value}: {found}");
    }
    for (value, decision) in [(0.899, Decision::Conforms), (0.901, Decision::Inconclusive), (1.101, Decision::Fails)] {
        assert_eq!(at_most(value, 1.0, 0.1), decision, "{value}");
    }
    // without uncertainty: a plain comparison
    assert_eq!(at_most(1.0, 1.0, 0.0), Decision::Conforms);
    assert_eq!(at_most(1.001, 1.0, 0.0), Decision::Fails);
    assert_eq!(at_least(1.0, 1.0, 0.0), Decision::Conforms);
    assert_eq!(at_least(0.999, 1.0, 0.0), Decision::Fails);
}

/// The greatest chance of a false accept, by guard band over U (ILAC-G8), and the z of JCGM 106:2012, table 1.
#[test]
fn probabilities_of_conformity() {
    for (share, risk) in [(0.0, 0.5), (0.5, 0.158_655), (0.825, 0.049_471), (1.0, 0.022_750), (1.5, 0.001_350)] {
        let found = 1.0 - p_conform_at_most(1.0 - share * 0.1, 1.0, 0.05).unwrap();
        assert!((found - risk).abs() < 5e-7, "{share}: {found}");
    }
    for (probability, z) in [(0.80, 0.8416), (0.90, 1.2816), (0.95, 1.6449), (0.99, 2.3263), (0.999, 3.0902)] {
        let found = p_conform_at_most(-z, 0.0, 1.0).unwrap();
        assert!((found - probability).abs() < 2e-5, "{z}: {found}");
        let mirrored = p_conform_at_most(z, 0.0, 1.0).unwrap();
        assert!((mirrored - (1.0 - probability)).abs() < 2e-5, "{z}: {mirrored}");
    }
    // the Zener diode of JCGM 106: limit -5.40 V, measured -5.47 V, u = 0.05 V (published, from memory: 0.92)
    let zener = p_conform_at_most(-5.47, -5.40, 0.05).unwrap();
    assert!((zener - 0.919_243).abs() < 5e-7, "{zener}");
    // one-sided parts of a million at Cpk 1.33 and 2: the tail keeps its digits
    for (sigmas, ppm) in [(3.0 * 1.33, 33.04), (6.0, 0.000_99)] {
        near(p_conform_at_most(sigmas, 0.0, 1.0).map(|p| p * 1e6), ppm, 5e-3);
    }
    assert_eq!(p_conform_at_most(1.0, 1.0, 0.0), Some(1.0));
    assert_eq!(p_conform_at_most(1.1, 1.0, 0.0), Some(0.0));
    for (value, limit, u) in [(f64::NAN, 1.0, 0.1), (1.0, f64::NAN, 0.1), (1.0, 1.0, f64::NAN), (1.0, 1.0, -0.1)] {
        assert_eq!(p_conform_at_most(value, limit, u), None);
    }
}

#[test]
fn rounding_at_the_edge_and_doubts() {
    // in binary, 0.1 + 0.2 is above 0.3
    assert_eq!(at_most(0.1, 0.3, 0.2), Decision::Conforms);
    assert_eq!(at_least(0.3, 0.1, 0.2), Decision::Conforms);
    // 0.29 is 0.26 + 0.03 and 0.23 is 0.26 - 0.03; either way of the edge by a thousandth of a percent is seen
    assert_eq!(at_most(0.26, 0.29, 0.03), Decision::Conforms);
    assert_eq!(at_most(0.26, 0.23, 0.03), Decision::Inconclusive);
    assert_eq!(at_most(0.26, 0.289_99, 0.03), Decision::Inconclusive);
    assert_eq!(at_most(0.26, 0.229_99, 0.03), Decision::Fails);
    // in tenths and hundredths, where integers know the answer
    for value in 0_i32..60 {
        for limit in 0..60 {
            for guard in [0, 1, 7, 10] {
                let expected = if value + guard <= limit {
                    Decision::Conforms
                } else if value - guard > limit {
                    Decision::Fails
                } else {
                    Decision::Inconclusive
                };
                for scale in [10.0, 100.0, 1e6] {
                    let [v, l, g] = [value, limit, guard].map(|figure| f64::from(figure) / scale);
                    assert_eq!(at_most(v, l, g), expected, "{v} at most {l}, +- {g}");
                    assert_eq!(at_least(-v, -l, g), expected, "{v} at most {l}, +- {g}, mirrored");
                }
            }
        }
    }
    for [value, limit, guard] in [
        [f64::NAN, 1.0, 0.1],
        [f64::INFINITY, 1.0, 0.1],
        [f64::NEG_INFINITY, 1.0, 0.1],
        [1.0, f64::NAN, 0.1],
        [1.0, f64::INFINITY, 0.1],
        [0.1, 1.0, f64::NAN],
        [0.1, 1.0, f64::INFINITY],
        [0.1, 1.0, -0.1],
    ] {
        assert_eq!(at_most(value, limit, guard), Decision::Inconclusive, "{value} {limit} {guard}");
        assert_eq!(at_least(value, limit, guard), Decision::Inconclusive, "{value} {limit} {guard}");
    }
}

// --- distances ---

#[track_caller]
fn distance(found: Option<Distance>, metres: f64, uncertainty: f64, beyond: f64) {
    let found = found.unwrap();
    for (found, expected) in [(found.metres, metres), (found.uncertainty, uncertainty), (found.beyond, beyond)] {
        assert!((found - expected).abs() < 1e-12, "{found} instead of {expected}");
    }
}

#[test]
fn breaks_from_both_ends() {
    let pf = |value: f64, relative| Reading::new(value * 1e-12, relative);
    // 150 and 92.5 pF on 5 m: 61.86 % of the way
    let found = break_from_both_ends(Reading::new(5.0, 0.0), pf(150.0, 0.0), pf(92.5, 0.0));
    near(found.map(|found| found.metres), 3.0928, 1e-5);
    near(found.map(|found| found.metres / 5.0), 0.6186, 1e-4);
    // in the middle of 10 m, 2 % each: half of sqrt(2) times 2 %, of 5 m; with 1 % of length sqrt(3) %
    distance(break_from_both_ends(Reading::new(10.0, 0.0), pf(100.0, 0.02), pf(100.0, 0.02)), 5.0, 0.05 * 2_f64.sqrt(), 0.0);
    distance(break_from_both_ends(Reading::new(10.0, 0.01), pf(100.0, 0.02), pf(100.0, 0.02)), 5.0, 0.05 * 3_f64.sqrt(), 0.0);
    // at a quarter, 3 and 4 %: three quarters of 5 %, of 1 m
    distance(break_from_both_ends(Reading::new(4.0, 0.0), pf(25.0, 0.03), pf(75.0, 0.04)), 1.0, 0.0375, 0.0);
    // seen from the other end it is the rest, with the same uncertainty
    distance(break_from_both_ends(Reading::new(4.0, 0.0), pf(75.0, 0.04), pf(25.0, 0.03)), 3.0, 0.0375, 0.0);
    // at either end
    distance(break_from_both_ends(Reading::new(4.0, 0.01), pf(0.0, 0.03), pf(75.0, 0.04)), 0.0, 0.0, 0.0);
    distance(break_from_both_ends(Reading::new(4.0, 0.01), pf(75.0, 0.03), pf(0.0, 0.04)), 4.0, 0.04, 0.0);
    let good = Reading::new(1.0, 0.1);
    for wrong in [Reading::new(-1.0, 0.1), Reading::new(f64::NAN, 0.1), Reading::new(1.0, -0.1), Reading::new(1.0, f64::NAN)] {
        assert_eq!(break_from_both_ends(wrong, good, good), None);
        assert_eq!(break_from_both_ends(good, wrong, good), None);
        assert_eq!(break_from_both_ends(good, good, wrong), None);
    }
    let none = Reading::new(0.0, 0.1);
    assert_eq!(break_from_both_ends(none, good, good), None);
    assert_eq!(break_from_both_ends(good, none, none), None);
}

#[test]
fn breaks_from_a_sound_sibling() {
    let pf = |value: f64, relative| Reading::new(value * 1e-12, relative);
    // 150 pF where 5 m at 50.5 pF/m would have 252.5 pF: 2.9703 m; less 5 pF of fixture in both, 145 of 247.5 pF
    let found = break_from_sibling(Reading::new(5.0, 0.0), pf(150.0, 0.0), pf(252.5, 0.0));
    near(found.map(|found| found.metres), 2.9703, 1e-4);
    // a quarter of 4 m, with 3, 4 and 12 %: 13 % of 1 m
    distance(break_from_sibling(Reading::new(4.0, 0.03), pf(25.0, 0.04), pf(100.0, 0.12)), 1.0, 0.13, 0.0);
    // more than the sibling has: 10 % beyond 2 m; the uncertainty is that of 2.2 m
    distance(break_from_sibling(Reading::new(2.0, 0.03), pf(110.0, 0.04), pf(100.0, 0.0)), 2.0, 0.11, 0.2);
    distance(break_from_sibling(Reading::new(2.0, 0.03), pf(0.0, 0.04), pf(100.0, 0.0)), 0.0, 0.0, 0.0);
    let (good, none) = (Reading::new(1.0, 0.1), Reading::new(0.0, 0.1));
    assert_eq!(break_from_sibling(none, good, good), None);
    assert_eq!(break_from_sibling(good, good, none), None);
    assert_eq!(break_from_sibling(good, Reading::new(-1.0, 0.1), good), None);
    assert_eq!(break_from_sibling(good, good, Reading::new(f64::INFINITY, 0.1)), None);
}

/// First order by brute force: the root of the summed squares of what each reading's own deviation does.
#[test]
fn uncertainty_is_what_small_deviations_do() {
    let mut random = random();
    let mut share = || f64::from(u32::try_from(1 + random(999)).unwrap()) / 1000.0;
    for _ in 0..200 {
        let (length, c1, c2) = (10.0 * share(), 1e-10 * share(), 1e-10 * share());
        let relative = [1e-6 * share(), 1e-6 * share(), 1e-6 * share()];
        let [l, a, b] = [(length, relative[0]), (c1, relative[1]), (c2, relative[2])].map(|(v, r)| Reading::new(v, r));
        let both = |l: f64, a: f64, b: f64| l * a / (a + b);
        let sibling = |l: f64, a: f64, b: f64| l * a / b;
        let spread = |f: &dyn Fn(f64, f64, f64) -> f64| {
            let here = f(length, c1, c2);
            let [dl, da, db] = relative.map(|relative| 1.0 + relative);
            [f(length * dl, c1, c2), f(length, c1 * da, c2), f(length, c1, c2 * db)]
                .iter()
                .map(|there| (there - here).powi(2))
                .sum::<f64>()
                .sqrt()
        };
        near(break_from_both_ends(l, a, b).map(|found| found.uncertainty), spread(&both), 1e-4);
        near(break_from_sibling(l, a, b).map(|found| found.uncertainty), spread(&sibling), 1e-4);
    }
}
