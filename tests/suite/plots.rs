//! Pictures of curves and eyes: they show the figures where the axes say, nothing overlaps, and no data break them.

use std::collections::BTreeSet;

use backshell::report::picture::{Bounds, Form, Kind, Scene, Shape, Step};
use backshell::report::plot::{Curve, EyePicture, Limit, LossPicture, ProfilePicture, Side, Spot, plot_svg};
use proptest::prelude::*;

// ------------------------------------------------------------------------------------------- some pictures

fn loss(curves: Vec<Curve>, limit: Option<(&[[f64; 2]], Side)>) -> LossPicture {
    let picture = LossPicture::new("Dome link 7", "Insertion loss", curves);
    match limit {
        Some((points, side)) => picture.with_limit(Limit::new(Curve::new("of the drawing", points.to_vec()), side)),
        None => picture,
    }
}

/// A loss that rises with the root of the frequency and ripples.
fn rippled(name: &str, count: u32, factor: f64) -> Curve {
    let point = |nth: u32| {
        let gigahertz = 0.02 * f64::from(nth + 1);
        [gigahertz * 1e9, factor * (1.8 * gigahertz.sqrt() + 0.3 * gigahertz + 0.2 * (gigahertz * 4.0).sin())]
    };
    Curve::new(name, (0..count).map(point).collect())
}

fn profile(spots: Vec<Spot>) -> ProfilePicture {
    let ohm = |metres: f64| 100.0 + if (0.4..0.43).contains(&metres) { 19.0 } else { metres };
    let points = (0..700).map(|nth| f64::from(nth) * 0.002).map(|metres| [metres, ohm(metres)]).collect();
    let picture = ProfilePicture::new("Impedance along dome link 7", vec![Curve::new("pair 1", points)]);
    spots.into_iter().fold(picture.with_nominal([90.0, 110.0]), ProfilePicture::with_spot)
}

fn spot(metres: f64, ohm: f64, words: &str) -> Spot {
    Spot::new(metres, ohm, words)
}

/// An eye of Gaussian traces with one echo.
fn eye(columns: u16, rows: u16) -> EyePicture {
    let mut densities = Vec::new();
    for row in 0..rows {
        for column in 0..columns {
            let (time, level) = (f64::from(column) / f64::from(columns) - 0.5, f64::from(row) / f64::from(rows) * 2.4 - 1.2);
            let edge = (std::f64::consts::PI * time).cos();
            let traces =
                [1.0, 0.9, -0.9, -1.0].map(|rail| (-0.5 * ((level - rail * (1.0 - (1.0 - edge).powi(2))) / 0.03).powi(2)).exp());
            #[allow(clippy::cast_possible_truncation)]
            densities.push(traces.iter().sum::<f64>() as f32);
        }
    }
    EyePicture::new("Eye of dome link 7 at 8.1 Gbit/s", usize::from(columns), densities)
        .with_amplitudes([-1.2, 1.2])
        .with_amplitude("Amplitude, share of the launched step")
        .with_mask(vec![[-0.25, 0.0], [-0.1, 0.3], [0.1, 0.3], [0.25, 0.0], [0.1, -0.3], [-0.1, -0.3]])
        .with_contour(Curve::new("error ratio 1e-12", vec![[-0.4, 0.0], [0.0, 0.7], [0.4, 0.0], [0.0, -0.7], [-0.4, 0.0]]))
}

/// The same eye with other densities.
fn eye_of(columns: usize, densities: Vec<f32>) -> EyePicture {
    let mut picture = eye(2, 2);
    (picture.columns, picture.densities) = (columns, densities);
    picture
}

/// With another mask and one contour.
fn lined(mut picture: EyePicture, mask: Vec<[f64; 2]>, contour: Vec<[f64; 2]>) -> EyePicture {
    picture.contours = vec![Curve::new("1e-9", contour)];
    picture.with_mask(mask)
}

/// Pictures of plain and of hard data.
fn every_scene() -> Vec<(String, Scene)> {
    let mut all: Vec<(String, Scene)> = Vec::new();
    let limit: &[[f64; 2]] = &[[0.1e9, 1.0], [2.5e9, 4.0], [5e9, 6.0], [10e9, 11.0]];
    let mut add = |name: &str, scene: Scene| all.push((name.to_owned(), scene));
    for (name, points) in [
        ("nothing", vec![]),
        ("one point", vec![[1e9, 2.0]]),
        ("one point at zero", vec![[0.0, 0.0]]),
        ("flat", (0..50).map(|nth| [f64::from(nth) * 1e8, 3.0]).collect()),
        ("upright", (0..50).map(|nth| [1e9, f64::from(nth)]).collect()),
        ("all lost", vec![[f64::NAN, 1.0], [1e9, f64::INFINITY]]),
        ("holes", (0..50).map(|nth| [f64::from(nth) * 1e8, if nth % 7 == 3 { f64::NAN } else { f64::from(nth) }]).collect()),
        ("huge", vec![[1e9, -1e29], [2e9, 9e29], [3e9, 1e300]]),
        ("tiny", vec![[1e-9, 1e-29], [2e-9, 9e-29]]),
        ("minute steps", vec![[1e9, 1.0], [1e9 + 1e-6, 1.0 + 1e-15]]),
        ("below zero", vec![[-3e9, -5.0], [1e9, -2.0]]),
        ("many", (0..60_000).map(|nth| [f64::from(nth) * 1e5, f64::from(nth % 97)]).collect()),
        ("there and back", (0..900).map(|nth| [f64::from(nth % 30) * 1e8, f64::from(nth % 31)]).collect()),
    ] {
        for limit in [None, Some((limit, Side::AtMost)), Some((limit, Side::AtLeast)), Some((&limit[..1], Side::AtMost))] {
            add(name, loss(vec![Curve::new("pair 1", points.clone())], limit).scene());
        }
        let bare = ProfilePicture::new(name, vec![Curve::new("pair 1", points.clone())]);
        let spots = points.iter().map(|point| spot(point[0], point[1], "crushed"));
        add(name, spots.fold(bare, ProfilePicture::with_spot).scene());
        add(name, lined(eye(20, 10), points.clone(), points).scene());
    }
    let long = "the impedance of a very long name <&> ".repeat(20);
    let curves: Vec<Curve> = (0..9).map(|nth| rippled(&format!("{long}{nth}\u{1b}[31m"), 400, 1.0 + f64::from(nth))).collect();
    let mut wordy = loss(curves, Some((limit, Side::AtMost)));
    (wordy.title, wordy.what) = (long.clone(), long.clone());
    add("long words", wordy.scene());
    add("profile", profile(vec![spot(0.41, 119.4, "squeezed"), spot(0.43, 109.0, ""), spot(1.39, 101.39, &long)]).scene());
    add("crowded", profile((0..30).map(|nth| spot(0.5 + 0.004 * f64::from(nth), 100.5, "")).collect()).scene());
    add("corners", profile([0.0, 1.398].map(|metres| spot(metres, 101.0, "")).to_vec()).scene());
    add("eye", eye(256, 200).scene());
    for (name, picture) in [
        ("no densities", eye_of(2, vec![])),
        ("no columns", eye_of(0, eye(2, 2).densities)),
        ("too many columns", eye_of(usize::MAX, eye(2, 2).densities)),
        ("a row too short", eye_of(7, eye(10, 10).densities)),
        ("nothing but zero", eye_of(10, vec![0.0; 100])),
        ("not finite", eye_of(2, vec![f32::NAN, f32::INFINITY, -1.0, f32::MIN_POSITIVE])),
        ("the same everywhere", eye_of(10, vec![f32::MAX; 100])),
        ("no time", eye(10, 10).with_times([f64::NAN, 0.5]).with_amplitudes([0.0, 0.0])),
        ("backwards", eye(10, 10).with_times([0.5, -0.5])),
    ] {
        add(name, picture.scene());
    }
    all
}

// ------------------------------------------------------------------------------------------- what holds for all

fn texts(scene: &Scene) -> Vec<(&Shape, &str)> {
    scene
        .shapes
        .iter()
        .filter_map(|shape| if let Form::Text { text, .. } = &shape.form { Some((shape, text.as_str())) } else { None })
        .collect()
}

/// Nothing leaves the frame, no text lies over another, and no mark over a mark; a figure stands in its mark.
#[test]
fn nothing_overlaps() {
    for (name, scene) in every_scene() {
        let frame = Bounds { x0: 0.0, y0: 0.0, x1: scene.width, y1: scene.height };
        for shape in &scene.shapes {
            let Bounds { x0, y0, x1, y1 } = shape.bounds;
            assert!([x0, y0, x1, y1].iter().all(|edge| edge.is_finite()), "{name}: {shape:?}");
            assert!(frame.holds(&shape.bounds), "{name}: {} leaves the frame: {:?}", shape.class, shape.bounds);
        }
        let solid: Vec<&Shape> = scene.shapes.iter().filter(|shape| matches!(shape.kind, Kind::Text | Kind::Mark)).collect();
        for (nth, a) in solid.iter().enumerate() {
            for b in &solid[nth + 1..] {
                assert!(!a.bounds.overlaps(&b.bounds), "{name}: {a:?} lies over {b:?}");
            }
        }
        for (nth, shape) in scene.shapes.iter().enumerate().filter(|(_, shape)| shape.kind == Kind::Inscription) {
            assert!(scene.shapes[nth - 1].bounds.holds(&shape.bounds), "{name}: {shape:?}");
        }
        assert!(texts(&scene).iter().all(|(_, text)| !text.chars().any(char::is_control)), "{name}");
    }
}

/// Well-formed, self-contained, small, the same twice, and with its texts as texts.
#[test]
fn the_document() {
    for (name, scene) in every_scene() {
        let document = plot_svg(&scene);
        let parsed = roxmltree::Document::parse(&document).unwrap_or_else(|error| panic!("{name}: {error}"));
        let written: Vec<&str> =
            parsed.descendants().filter(|node| node.has_tag_name("text")).filter_map(|node| node.text()).collect();
        let wanted: Vec<&str> = texts(&scene).into_iter().map(|(_, text)| text).collect();
        assert_eq!(written, wanted, "{name}");
        let root = parsed.root_element();
        assert_eq!(root.attribute("width"), Some("800"));
        assert!(!document.contains("href") && !document.contains("NaN") && !document.contains("inf"), "{name}");
        assert!(document.len() < 400_000, "{name}: {} bytes", document.len());
        // every class that is used has its style
        let styles = parsed.descendants().find(|node| node.has_tag_name("style")).unwrap().text().unwrap();
        for class in parsed.descendants().filter_map(|node| node.attribute("class")).flat_map(str::split_whitespace) {
            let plain = ["head", "note", "number", "label"].contains(&class);
            assert!(plain || styles.contains(&format!(".{class}")), "{name}: no style for {class}");
        }
    }
    let twice: BTreeSet<String> = (0..2).map(|_| plot_svg(&eye(256, 200).scene())).collect();
    assert_eq!(twice.len(), 1);
}

/// Noise is what an eye takes most bytes for.
#[test]
fn noise_stays_small() {
    let mut state = 1_u64;
    let mut random = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f32::from(u16::try_from((state >> 33) % 60_000).unwrap()) / 4_000.0
    };
    for columns in [50, 344, 1000] {
        let densities = (0..columns * 300).map(|_| random().exp()).collect();
        let document = plot_svg(&eye_of(columns, densities).scene());
        assert!(document.len() < 400_000, "{columns} columns: {} bytes", document.len());
    }
}

/// What tells lines and fields apart is there without colour too.
#[test]
fn readable_in_grey() {
    let document = plot_svg(&eye(20, 10).scene());
    let rule = |class: &str| {
        let from = document.find(&format!("\n.{class}{{")).or_else(|| document.find(&format!("}}.{class}{{"))).unwrap();
        document[from..].split(['{', '}']).nth(if document[from..].starts_with('}') { 2 } else { 1 }).unwrap().to_owned()
    };
    let grey = |rule: &str| {
        let hex = &rule[rule.find('#').unwrap() + 1..][..6];
        let part = |at: usize| f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap());
        (0.2126 * part(0) + 0.7152 * part(2) + 0.0722 * part(4)) / 255.0
    };
    let steps: Vec<f64> = (1..=8).map(|nth| grey(&rule(&format!("d{nth}")))).collect();
    assert!(steps[0] < 0.95 && steps.windows(2).all(|two| two[1] < two[0] - 0.05), "{steps:?}");
    let swatches: Vec<f64> = (1..=8).map(|nth| grey(&rule(&format!("s{nth}")))).collect();
    assert_eq!(steps, swatches);
    let dashes: BTreeSet<String> = (1..=4)
        .map(|nth| rule(&format!("curve{nth}")))
        .map(|rule| rule.split(';').find(|part| part.starts_with("stroke-dasharray")).unwrap_or("solid").to_owned())
        .collect();
    assert_eq!(dashes.len(), 4, "{dashes:?}");
}

// ------------------------------------------------------------------------------------------- the truth of it

fn way(shape: &Shape) -> Vec<(f64, f64)> {
    let Form::Path(steps) = &shape.form else { return Vec::new() };
    let points =
        steps.iter().filter_map(|step| if let Step::Move(x, y) | Step::Line(x, y) = step { Some((*x, *y)) } else { None });
    points.collect()
}

/// A curve passes where the labels of its axes stand.
#[test]
fn curves_keep_to_their_axes() {
    let points: Vec<[f64; 2]> = (0..=10).map(|nth| [f64::from(nth) * 1e9, f64::from(nth)]).collect();
    let scene = loss(vec![Curve::new("pair 1", points)], None).scene();
    let curve = scene.shapes.iter().find(|shape| shape.class == "curve1").unwrap();
    let way = way(curve);
    assert_eq!(way.len(), 11);
    let ticks: Vec<(&Shape, &str)> = texts(&scene).into_iter().filter(|(shape, _)| shape.class == "tick").collect();
    let mut seen = 0;
    for (shape, text) in ticks {
        let value: usize = text.parse().unwrap();
        let bounds = shape.bounds;
        let (x, y) = way[value];
        let (middle_x, middle_y) = ((bounds.x0 + bounds.x1) / 2.0, (bounds.y0 + bounds.y1) / 2.0);
        // those below the plot count the frequency, those beside it the loss
        let off = if bounds.y0 > 432.0 { middle_x - x } else { middle_y - y };
        assert!(off.abs() < 1.5, "{text}: {off}");
        seen += 1;
    }
    assert!(seen >= 10, "{seen} labels");
    assert!(texts(&scene).iter().any(|(_, text)| *text == "Frequency, GHz"));
}

/// A loss below zero, which only a faulty calibration gives, is drawn where it is.
#[test]
fn a_gain_is_shown() {
    let points = [[1e9, -2.0], [2e9, 8.0]];
    let scene = loss(vec![Curve::new("pair 1", points.to_vec())], None).scene();
    let way = way(scene.shapes.iter().find(|shape| shape.class == "curve1").unwrap());
    assert!(way[0].1 < 431.0 && way[1].1 > 73.0, "{way:?}");
    let zero = texts(&scene).into_iter().find(|(shape, text)| *text == "0" && shape.bounds.y1 < 440.0).unwrap().0.bounds;
    assert!(zero.y1 < way[0].1, "the gain lies below zero");
}

fn says(scene: &Scene, words: &str) -> bool {
    texts(scene).iter().any(|(_, text)| text.contains(words))
}

/// The worst point, worked by hand.
#[test]
fn the_worst_point() {
    let said = |curve: &[[f64; 2]], limit: &[[f64; 2]], side: Side, words: &str| {
        let scene = loss(vec![Curve::new("pair 1", curve.to_vec())], Some((limit, side))).scene();
        assert!(says(&scene, words), "{words}: {:?}", texts(&scene).into_iter().map(|(_, text)| text).collect::<Vec<_>>());
        scene
    };
    let limit = [[1e9, 2.0], [3e9, 6.0]];
    // 2 GHz: 4 dB allowed, 3.5 there; 3 GHz: 6 allowed, 5 there; 4 GHz isn't judged
    let curve = [[1e9, 1.0], [2e9, 3.5], [3e9, 5.0], [4e9, 50.0]];
    said(&curve, &limit, Side::AtMost, "worst point: 3.5 dB at 2 GHz, 0.5 dB of room to the limit");
    said(&curve, &limit, Side::AtLeast, "worst point: 1 dB at 1 GHz, 1 dB beyond the limit");
    // a step in the limit: the stricter side counts
    let step = [[1e9, 2.0], [2e9, 2.0], [2e9, 6.0], [3e9, 6.0]];
    said(&[[2e9, 3.0]], &step, Side::AtMost, "1 dB beyond the limit");
    said(&[[2e9, 3.0]], &step, Side::AtLeast, "3 dB beyond the limit");
    // where the limit bends between two points of the curve: 3 dB at 2 GHz against 2.5
    let bend = [[1e9, 5.0], [2e9, 2.5], [3e9, 5.0]];
    said(&[[1e9, 2.0], [3e9, 4.0]], &bend, Side::AtMost, "worst point: 3 dB at 2 GHz, 0.5 dB beyond the limit");
    // the limit's corners in any order
    said(&curve, &[[3e9, 6.0], [1e9, 2.0]], Side::AtMost, "0.5 dB of room");
    said(&[[7e9, 1.0]], &limit, Side::AtMost, "No point of a curve lies within the frequencies of the limit");
    // of many curves, the one is named
    let curves = vec![rippled("pair 1", 100, 1.0), rippled("pair 2", 100, 3.0)];
    assert!(says(&loss(curves, Some((&[[0.1e9, 3.0], [2e9, 4.0]], Side::AtMost))).scene(), "beyond the limit, pair 2"));
    // the ring stands at the point
    let scene =
        said(&[[0.0, 0.0], [5e9, 5.0], [10e9, 5.0]], &[[1e9, 6.0], [6e9, 5.5]], Side::AtMost, "5 dB at 6 GHz, 0.5 dB of room");
    let ring = scene.shapes.iter().find(|shape| shape.class == "spot").unwrap().bounds;
    assert!(((ring.x0 + ring.x1) / 2.0 - (72.0 + 688.0 * 0.6)).abs() < 0.5, "{ring:?}");
}

/// What can't be drawn is said, and leaves a hole.
#[test]
fn what_is_left_out_is_said() {
    let points = [[1e9, 1.0], [2e9, 2.0], [3e9, f64::NAN], [4e9, 4.0], [5e9, f64::INFINITY], [6e9, 6.0], [7e9, 7.0]];
    let scene = loss(vec![Curve::new("pair 1", points.to_vec())], None).scene();
    assert!(says(&scene, "Left out: 2 points of pair 1"));
    let lines = scene.shapes.iter().filter(|shape| shape.class == "curve1" && way(shape).len() == 2 && shape.bounds.y1 < 440.0);
    assert_eq!(lines.count(), 2, "two stretches");
    assert_eq!(scene.shapes.iter().filter(|shape| shape.class == "dot1").count(), 1, "and a point alone");
    let limit = [[1e9, 2.0], [f64::NAN, 1.0], [3e9, 6.0]];
    assert!(says(&loss(vec![], Some((&limit, Side::AtMost))).scene(), "Left out: 1 point of the limit"));
    let scene =
        profile((0..15).map(|nth| spot(0.09 * f64::from(nth), 100.0, "")).chain([spot(0.1, f64::NAN, "")]).collect()).scene();
    assert!(says(&scene, "Left out: 3 further places.") && says(&scene, "Left out: 1 point of the places"));
    let scene = eye_of(2, vec![1.0, f32::NAN, -1.0, 0.0]).scene();
    assert!(says(&scene, "Left out: 2 densities"));
}

/// Many points are thinned, and the extremes stay.
#[test]
fn peaks_stay() {
    let mut points: Vec<[f64; 2]> = (0..100_000).map(|nth| [f64::from(nth) * 1e5, 1.0]).collect();
    points[43_210][1] = 9.0;
    points[77_777][1] = -3.0;
    let scene = loss(vec![Curve::new("pair 1", points)], None).scene();
    let curve = scene.shapes.iter().find(|shape| shape.class == "curve1").unwrap();
    let way = way(curve);
    assert!(way.len() < 3_000, "{}", way.len());
    let high = way.iter().min_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
    let low = way.iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
    assert!((high.0 - (72.0 + 688.0 * 0.4321)).abs() < 0.5 && (low.0 - (72.0 + 688.0 * 0.77777)).abs() < 0.5, "{high:?} {low:?}");
}

/// Densities lie where their time and amplitude say, and the darkest is the largest.
#[test]
fn densities_in_their_places() {
    // two columns and two rows, from the lowest amplitude up
    let picture = EyePicture::new("Eye", 2, vec![0.0, 1.0, 1e-6, 0.0]).with_amplitudes([-1.2, 1.2]);
    let scene = picture.scene();
    let part = |class: &str| scene.shapes.iter().find(|shape| shape.class.split(' ').any(|own| own == class)).map(way);
    let dark = part("d8").unwrap();
    assert!(dark.iter().all(|(x, y)| *x >= 416.0 && *y > 252.0), "the peak is late and low: {dark:?}");
    let light = part("d1").unwrap();
    assert!(light.iter().all(|(x, y)| *x <= 416.0 && *y < 252.0), "the rest is early and high: {light:?}");
    assert_eq!(dark.len(), 2 * 90);
    assert!((2..8).all(|nth| part(&format!("d{nth}")).is_none()));
    assert!(says(&scene, "from 1e-6 of the peak"));
    // times that run backwards turn the picture round
    let turned = picture.with_times([0.5, -0.5]).scene();
    let dark = turned.shapes.iter().find(|shape| shape.class.starts_with("d8")).map(way).unwrap();
    assert!(dark.iter().all(|(x, y)| *x <= 416.0 && *y > 252.0), "the peak is early: {dark:?}");
    // a single hot cell of a fine grid isn't lost
    let mut densities = vec![1e-3_f32; 2000 * 1000];
    densities[700 * 2000 + 500] = 1.0;
    let scene = eye_of(2000, densities).scene();
    let hot = scene.shapes.iter().find(|shape| shape.class.starts_with("d8")).unwrap();
    let (x, y) = way(hot)[0];
    assert!((x - (72.0 + 688.0 * 0.25)).abs() <= 4.0 && (y - (432.0 - 360.0 * 0.7)).abs() <= 4.0, "{x} {y}");
}

#[test]
fn snapshots() {
    let points: Vec<[f64; 2]> = (0..8).map(|nth| [f64::from(nth) * 1e9, f64::from(nth) * 0.8]).collect();
    let curves = vec![Curve::new("pair 1", points)];
    insta::assert_snapshot!("plot__loss", plot_svg(&loss(curves, Some((&[[1e9, 3.0], [6e9, 5.0]], Side::AtMost))).scene()));
    let mut small = profile(vec![spot(0.41, 119.4, "squeezed"), spot(1.2, 101.2, "far plug")]);
    small.curves[0].points.retain(|point| (0.38..0.45).contains(&point[0]));
    insta::assert_snapshot!("plot__profile", plot_svg(&small.scene()));
    insta::assert_snapshot!("plot__eye", plot_svg(&eye(8, 6).scene()));
}

fn figure() -> impl Strategy<Value = f64> {
    prop_oneof![4 => -100.0..100.0, 2 => 0.0..2e10, 1 => any::<f64>(), 1 => Just(0.0), 1 => Just(f64::NAN)]
}

fn figures() -> impl Strategy<Value = Vec<[f64; 2]>> {
    proptest::collection::vec([figure(), figure()], 0..40)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_figures(curve in figures(), other in figures(), limit in figures(), least: bool, band in [figure(), figure()],
                   columns in 0usize..20, densities in proptest::collection::vec(any::<f32>(), 0..200)) {
        let side = if least { Side::AtLeast } else { Side::AtMost };
        let curves = vec![Curve::new("pair 1", curve.clone()), Curve::new("pair 2", other.clone())];
        let spots = other.iter().map(|point| spot(point[0], point[1], "kink"));
        let profile = spots.fold(ProfilePicture::new("", curves.clone()).with_nominal(band), ProfilePicture::with_spot);
        for scene in [
            loss(curves, Some((&limit, side))).scene(),
            profile.scene(),
            lined(eye_of(columns, densities).with_times(band).with_amplitudes(band), limit, curve).scene(),
        ] {
            let frame = Bounds { x0: 0.0, y0: 0.0, x1: scene.width, y1: scene.height };
            for shape in &scene.shapes {
                prop_assert!(frame.holds(&shape.bounds), "{:?}", shape);
            }
            let texts: Vec<&Shape> = scene.shapes.iter().filter(|shape| matches!(shape.kind, Kind::Text | Kind::Mark)).collect();
            for (nth, a) in texts.iter().enumerate() {
                for b in &texts[nth + 1..] {
                    prop_assert!(!a.bounds.overlaps(&b.bounds), "{:?} lies over {:?}", a, b);
                }
            }
            let document = plot_svg(&scene);
            prop_assert!(roxmltree::Document::parse(&document).is_ok());
        }
    }
}
