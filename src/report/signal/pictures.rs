//! The pictures of a cable's pairs: loss, return loss, impedance along the cable, eyes.

use crate::signal::rates::{Carries, EyeRule, Judged, Ladder, Lane, Limits, Quantity, Rate, eye_picture};
use crate::signal::{Curve, Settings};

use super::super::plot::{self, EyePicture, Limit, LossPicture, ProfilePicture, Side, Spot, plot_svg};
use super::SignalReport;

/// A picture with a name for its file, without folder or ending.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct NamedPicture {
    /// The name: letters, digits and hyphens.
    pub name: String,
    /// The SVG document.
    pub svg: String,
}

/// Every picture of a report. The eye of each lane is that of the rated rate, else of the highest that the lane carries, else
/// of the slowest that could be judged. `lanes` are those that were graded, in the same order.
#[must_use]
pub fn signal_pictures(report: &SignalReport, lanes: &[Lane], ladder: Option<&Ladder>, settings: &Settings) -> Vec<NamedPicture> {
    let mut all = vec![losses(report, ladder), returns(report, ladder)];
    all.extend(along(report, settings));
    if let Some(ladder) = ladder {
        for (at, lane) in lanes.iter().enumerate() {
            all.extend(eye(report, ladder, at, lane));
        }
    }
    all
}

/// A curve of the analysis as one of a picture.
fn drawn(name: &str, curve: &Curve) -> plot::Curve {
    plot::Curve::new(name, curve.points().map(|(x, y)| [x, y]).collect())
}

/// The curve of each lane.
fn of_lanes(report: &SignalReport, curve: impl Fn(&crate::signal::PairAnalysis) -> &Curve) -> Vec<plot::Curve> {
    let files = report.files.iter().flat_map(|file| file.lanes.iter().zip(&file.analysis.pairs));
    files.map(|(name, pair)| drawn(name, curve(pair))).collect()
}

fn losses(report: &SignalReport, ladder: Option<&Ladder>) -> NamedPicture {
    let limit = ladder.and_then(|ladder| loss_limit(rate(report, ladder)?));
    let picture = LossPicture {
        title: "Insertion loss".to_owned(),
        what: "Insertion loss".to_owned(),
        curves: of_lanes(report, |pair| &pair.insertion_loss),
        limit,
    };
    NamedPicture { name: "loss".to_owned(), svg: plot_svg(&picture.scene()) }
}

fn returns(report: &SignalReport, ladder: Option<&Ladder>) -> NamedPicture {
    let rule = ladder.and_then(|ladder| match &rate(report, ladder)?.judged {
        Judged::Lines(rule) => limit_line(rule.limits, Quantity::ReturnLoss, Side::AtLeast),
        Judged::Eye(_) => None,
    });
    let picture = LossPicture {
        title: "Return loss of the near end".to_owned(),
        what: "Return loss".to_owned(),
        curves: of_lanes(report, |pair| &pair.return_loss_near),
        limit: rule,
    };
    NamedPicture { name: "return-loss".to_owned(), svg: plot_svg(&picture.scene()) }
}

/// The rate that pictures are about: the rated one, else the highest that all lanes carry, else the slowest.
fn rate<'l>(report: &SignalReport, ladder: &'l Ladder) -> Option<&'l Rate> {
    let grade = report.grade.as_ref()?;
    let rated = grade.rated.as_ref().map(|rated| rated.name.as_str());
    let highest = || grade.lanes.first().and_then(|count| count.highest.as_deref());
    let name = rated.or_else(highest);
    name.and_then(|name| ladder.rate(name)).or_else(|| ladder.rates.first())
}

fn loss_limit(rate: &Rate) -> Option<Limit> {
    match &rate.judged {
        Judged::Lines(rule) => limit_line(rule.limits, Quantity::InsertionLoss, Side::AtMost),
        Judged::Eye(rule) => {
            // one figure at one frequency: drawn as a short line around it
            let loss = rule.loss.as_ref()?;
            let at = loss.mhz * 1e6;
            let curve = plot::Curve::new(format!("limit for {}", rate.name), vec![[0.97 * at, loss.db], [1.03 * at, loss.db]]);
            Some(Limit { curve, side: Side::AtMost })
        }
    }
}

/// A published line over its range, from one frequency to the next a little higher.
fn limit_line(limits: Limits, quantity: Quantity, side: Side) -> Option<Limit> {
    let (from, to) = limits.range();
    let steps = 200;
    let points: Vec<[f64; 2]> = (0..=steps)
        .filter_map(|at| {
            let mhz = from * (to / from).powf(f64::from(at) / f64::from(steps));
            Some([mhz * 1e6, limits.at(quantity, mhz)?])
        })
        .collect();
    (!points.is_empty()).then(|| Limit { curve: plot::Curve::new(limits.source(), points), side })
}

fn along(report: &SignalReport, settings: &Settings) -> Option<NamedPicture> {
    let files = report.files.iter().flat_map(|file| file.lanes.iter().zip(&file.analysis.pairs));
    let (mut curves, mut spots) = (Vec::new(), Vec::new());
    for (name, pair) in files {
        let Some(impedance) = &pair.impedance else { continue };
        let Some(over) = &impedance.near_over_metres else { continue };
        curves.push(drawn(name, over));
        if let Some(worst) = &impedance.worst
            && let Some(metres) = worst.from_near_m
        {
            spots.push(Spot { metres, ohm: worst.ohm, words: name.clone() });
        }
    }
    if curves.is_empty() {
        return None;
    }
    let ohm =
        settings.differential_ohm.unwrap_or_else(|| report.files.first().map_or(100.0, |file| file.analysis.differential_ohm));
    let picture = ProfilePicture {
        title: "Impedance along the cable, from the near end".to_owned(),
        curves,
        // 10 % either side (common practice, no source)
        nominal: Some([0.9 * ohm, 1.1 * ohm]),
        spots,
    };
    Some(NamedPicture { name: "impedance".to_owned(), svg: plot_svg(&picture.scene()) })
}

fn eye(report: &SignalReport, ladder: &Ladder, at: usize, lane: &Lane) -> Option<NamedPicture> {
    let grade = report.grade.as_ref()?;
    let judged = |rate: &&Rate| matches!(rate.judged, Judged::Eye(_));
    let carried = |rate: &&Rate| {
        let result = grade.rates.iter().find(|result| result.name == rate.name).and_then(|result| result.lanes.get(at));
        result.is_some_and(|lane| lane.carries == Carries::Yes)
    };
    let rated = grade.rated.as_ref().and_then(|rated| ladder.rate(&rated.name));
    let rate = rated.or_else(|| ladder.rates.iter().rev().find(carried)).or_else(|| ladder.rates.iter().find(judged))?;
    let Judged::Eye(rule) = &rate.judged else { return None };
    let density = eye_picture(rate, lane)?;
    let picture = EyePicture {
        title: format!("{} at {}, behind the reference receiver", lane.name, rate.name),
        columns: density.columns,
        densities: density.cells,
        times: [-1.0, 1.0],
        amplitudes: [density.low * rule.launch_mv, density.high * rule.launch_mv],
        amplitude: "Difference, mV".to_owned(),
        mask: mask(rule),
        contours: Vec::new(),
    };
    let name = format!("eye-{}", file_name(&lane.name));
    Some(NamedPicture { name, svg: plot_svg(&picture.scene()) })
}

/// The mask as a diamond: as high as the least eye in the middle, as wide as the least eye at half.
fn mask(rule: &EyeRule) -> Vec<[f64; 2]> {
    let (width, height) = (rule.width_ui / 2.0, rule.height_mv / 2.0);
    vec![[-width, 0.0], [0.0, height], [width, 0.0], [0.0, -height]]
}

/// A name that any file system takes.
fn file_name(name: &str) -> String {
    let letters: String = name.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect();
    letters.chars().take(60).collect()
}
