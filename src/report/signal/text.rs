//! What files of pairs tell, for people.

use std::fmt::Write as _;

use super::super::maps::table;
use super::super::page::Page;
use super::super::terminal::WIDTH;
use super::{SignalFileEntry, SignalReport};
use crate::signal::rates::{Carries, Grade, LaneResult, LineMargin, RateResult, STANDING};
use crate::signal::{Curve, Discontinuity, Impedance, PairAnalysis, Quality};
use crate::text::visible;

/// The report for people.
#[must_use]
pub fn signal_text(report: &SignalReport) -> String {
    signal_text_within(report, WIDTH)
}

/// The same with texts of so many columns; tables keep theirs.
#[must_use]
pub fn signal_text_within(report: &SignalReport, width: usize) -> String {
    let mut out = Page::new(width);
    for file in &report.files {
        file_text(&mut out, file);
        out.push_str("\n");
    }
    match &report.grade {
        Some(grade) => grade_text(&mut out, grade),
        None => {
            out.paragraph("", "No link rates were judged: `--ladder NAME` or `--rated RATE` says which link the pairs carry.");
        }
    }
    out.into_text()
}

fn file_text(out: &mut Page, file: &SignalFileEntry) {
    let analysis = &file.analysis;
    let guessed = if file.order_guessed { "read from the through paths" } else { "as stated" };
    let _ = writeln!(out, "{}", visible(&file.file));
    out.paragraph("  ", &format!("{} ports, known {}; {} ({guessed})", file.ports, file.ports_from, file.order));
    let band = format!("{} frequencies from {} to {}", analysis.rows, hertz(analysis.lowest_hz), hertz(analysis.highest_hz));
    out.paragraph("  ", &format!("{band}, seen from {:.0} ohm differential", analysis.differential_ohm));
    quality(out, &analysis.quality);
    for (pair, name) in analysis.pairs.iter().zip(&file.lanes) {
        let _ = writeln!(out, "  lane {}", visible(name));
        pair_text(out, pair, analysis.highest_hz);
    }
    if let Some(crosstalk) = &analysis.crosstalk {
        let curves = [
            ("near-end crosstalk, near end", &crosstalk.next_near),
            ("near-end crosstalk, far end", &crosstalk.next_far),
            ("far-end crosstalk, 1 to 2", &crosstalk.fext_first_to_second),
            ("far-end crosstalk, 2 to 1", &crosstalk.fext_second_to_first),
        ];
        for (what, curve) in curves {
            line(out, what, least(curve).map(|(at, db)| format!("at least {db:.1} dB, at {}", hertz(at))));
        }
    }
    line(out, "skew between the pairs", analysis.pair_skew_s.map(|skew| format!("{:.1} ps (first later)", skew * 1e12)));
    for caution in &analysis.cautions {
        out.paragraph("  caution: ", caution);
    }
}

fn quality(out: &mut Page, quality: &Quality) {
    let text = format!(
        "passive {:.2} % (largest singular value {:.6}), reciprocal {:.2} %, causal {:.2} % (IEEE 370-2020)",
        quality.passivity_percent, quality.largest_singular_value, quality.reciprocity_percent, quality.causality_percent
    );
    out.paragraph("  ", &text);
}

fn pair_text(out: &mut Page, pair: &PairAnalysis, highest: f64) {
    let shown: Vec<String> = [0.1e9, 1e9, 2.5e9, 5e9, 10e9]
        .into_iter()
        .filter(|hertz| *hertz <= highest)
        .filter_map(|at| Some(format!("{:.2} dB at {}", pair.insertion_loss.at(at)?, hertz(at))))
        .collect();
    line(out, "insertion loss", (!shown.is_empty()).then(|| shown.join(", ")));
    line(
        out,
        "loss as a fit",
        pair.three_term_fit.as_ref().map(|fit| {
            format!(
                "{:.3} + {:.3} √f + {:.3} f dB (f in GHz), within {:.2} dB",
                fit.constant_db, fit.root_db_per_sqrt_ghz, fit.linear_db_per_ghz, fit.residual_largest_db
            )
        }),
    );
    for (what, curve) in [("return loss, near end", &pair.return_loss_near), ("return loss, far end", &pair.return_loss_far)] {
        line(out, what, least(curve).map(|(at, db)| format!("at least {db:.1} dB, at {}", hertz(at))));
    }
    let conversion = pair.conversion_to_common.points().max_by(|a, b| a.1.total_cmp(&b.1));
    line(out, "conversion to common mode", conversion.map(|(at, db)| format!("at most {db:.1} dB, at {}", hertz(at))));
    line(out, "delay", pair.delay.step_s.map(|delay| format!("{:.4} ns", delay * 1e9)));
    let skew = pair.delay.skew_phase_s.or(pair.delay.skew_step_s);
    line(out, "skew within the pair", skew.map(skew_words));
    line(out, "loop resistance at 0 Hz", Some(format!("{:.3} ohm ({})", pair.dc.loop_ohm, pair.dc.source.words())));
    if let Some(impedance) = &pair.impedance {
        impedance_text(out, impedance);
    }
    for caution in &pair.cautions {
        out.paragraph("    caution: ", caution);
    }
}

fn impedance_text(out: &mut Page, impedance: &Impedance) {
    let [near, far] = [&impedance.near, &impedance.far].map(|view| view.line_ohm);
    line(out, "impedance of the line", Some(format!("{near:.1} ohm from the near end, {far:.1} ohm from the far end")));
    let worst = impedance.worst.as_ref().map_or_else(|| "none of 0.1 ohm or more".to_owned(), place);
    line(out, "worst place", Some(worst));
    let resolution = impedance.resolution_m.map(|metres| format!("{:.0} mm", metres * 1e3));
    let share = || format!("{:.1} % of the length; `--length` gives metres", impedance.resolution_share * 100.0);
    line(out, "places told apart from", Some(resolution.unwrap_or_else(share)));
}

/// A place along the cable in words.
fn place(worst: &Discontinuity) -> String {
    let at = match (worst.from_near_m, worst.from_far_m) {
        (Some(near), Some(far)) => format!("{near:.2} m from the near end ({far:.2} m from the far end)"),
        _ => format!("{:.0} % of the way from the near end", worst.share_from_near * 100.0),
    };
    format!("{:.1} ohm ({:+.1} ohm, reflection {:+.3}), {at}", worst.ohm, worst.deviation_ohm, worst.reflection)
}

fn skew_words(skew: f64) -> String {
    let later = if skew > 0.0 { "P arrives later" } else { "N arrives later" };
    if skew.abs() < 0.05e-12 { "0.0 ps".to_owned() } else { format!("{:.1} ps, {later}", skew.abs() * 1e12) }
}

fn grade_text(out: &mut Page, grade: &Grade) {
    let _ = writeln!(out, "Rates of {}", grade.ladder);
    let rows = grade.rates.iter().flat_map(|rate| rate.lanes.iter().map(|lane| rate_row(rate, lane)));
    let heading = ["rate", "lane", "Nyquist", "loss", "eye of the cable", "eye behind the receiver", "to spare", "carries it"];
    table(out, heading, rows.collect());
    out.push_str("\n");
    for rate in &grade.rates {
        let worst = rate.worst.as_ref().map(|lane| format!("; least to spare: {}", visible(lane))).unwrap_or_default();
        out.paragraph("  ", &format!("{}: {}{worst}", rate.name, answer(&rate.carries)));
        out.paragraph("    judged by: ", &rate.judged_by);
    }
    out.push_str("\n");
    for count in &grade.lanes {
        let lanes = if count.lanes == 1 { "1 lane".to_owned() } else { format!("{} lanes", count.lanes) };
        let highest = match (&count.highest, count.raw_gbits, count.payload_gbits) {
            (Some(rate), Some(raw), Some(payload)) => {
                format!("{rate} is the highest rate that all carry ({raw:.2} Gbit/s, {payload:.2} Gbit/s of payload)")
            }
            (Some(rate), ..) => format!("{rate} is the highest rate that all carry"),
            (None, ..) => "no rate is carried by all".to_owned(),
        };
        out.paragraph("", &format!("{lanes}: {highest}"));
        if !count.not_judged.is_empty() {
            out.paragraph("  not judged: ", &count.not_judged.join(", "));
        }
    }
    if let Some(rated) = &grade.rated {
        let steps = match rated.steps {
            0 => "as rated".to_owned(),
            1 => "one step above the rated one".to_owned(),
            -1 => "one step below the rated one".to_owned(),
            steps if steps > 0 => format!("{steps} steps above the rated one"),
            steps => format!("{} steps below the rated one", -steps),
        };
        let reached = rated.reached.as_deref().unwrap_or("none");
        out.paragraph("", &format!("Rated {}: {}. Reached: {reached}, {steps}.", rated.name, answer(&rated.carries)));
    }
    out.paragraph("", &format!("This is {STANDING}."));
}

fn answer(carries: &Carries) -> String {
    match carries {
        Carries::Yes => "carried".to_owned(),
        Carries::No(why) => format!("not carried: {why}"),
        Carries::NotJudged(why) => format!("not judged: {why}"),
    }
}

fn rate_row(rate: &RateResult, lane: &LaneResult) -> [String; 8] {
    let eye = |height: f64, width: f64| {
        if height > 0.0 && width > 0.0 { format!("{height:.0} mV, {width:.2} UI") } else { "closed".to_owned() }
    };
    let (bare, received) = match &lane.eye {
        Some(eyes) => (eye(eyes.bare.height_mv, eyes.bare.width_ui), eye(eyes.received.height_mv, eyes.received.width_ui)),
        None => ("-".to_owned(), "-".to_owned()),
    };
    [
        rate.name.clone(),
        visible(&lane.lane).into_owned(),
        format!("{:.3} GHz", rate.nyquist_ghz),
        lane.nyquist_loss_db.map_or_else(|| "-".to_owned(), |db| format!("{db:.2} dB")),
        bare,
        received,
        spare(lane),
        match &lane.carries {
            Carries::Yes => "yes".to_owned(),
            Carries::No(_) => "no".to_owned(),
            Carries::NotJudged(_) => "not judged".to_owned(),
        },
    ]
}

/// What there is to spare at the narrowest place: in dB or ns against a line, else as a part of what is asked for.
fn spare(lane: &LaneResult) -> String {
    let narrowest = lane.lines.iter().min_by(|a, b| relative(a).total_cmp(&relative(b)));
    match (narrowest, lane.headroom) {
        (Some(line), _) => {
            let unit = line.quantity.unit();
            format!("{:+.2} {unit} at {:.1} MHz ({})", line.margin, line.mhz, line.quantity.words())
        }
        (None, Some(share)) => format!("{:+.0} %", share * 100.0),
        (None, None) => "-".to_owned(),
    }
}

fn relative(line: &LineMargin) -> f64 {
    line.margin / line.limit.abs().max(1e-9)
}

/// The lowest point of a curve.
fn least(curve: &Curve) -> Option<(f64, f64)> {
    curve.points().min_by(|a, b| a.1.total_cmp(&b.1))
}

fn line(out: &mut Page, what: &str, value: Option<String>) {
    if let Some(value) = value {
        out.paragraph(&format!("    {what:28} "), &value);
    }
}

/// A frequency for people.
pub(super) fn hertz(hertz: f64) -> String {
    let (value, unit) = match hertz {
        hertz if hertz >= 1e9 => (hertz / 1e9, "GHz"),
        hertz if hertz >= 1e6 => (hertz / 1e6, "MHz"),
        hertz if hertz >= 1e3 => (hertz / 1e3, "kHz"),
        _ => (hertz, "Hz"),
    };
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text} {unit}")
}
