//! The eyes of a display cable's four lanes at seven rates, timed side by side with a script of numpy.
//!
//! Both do the same: for each lane and rate the pulse at the end of the cable, the choice of the equaliser's setting, the
//! statistical eye at the end of the cable and behind the receiver, all on the same grids. The script times itself without
//! its start and without reading its input. Everything runs on one core, in turn, in one run, so that the ratio holds
//! whatever else the machine does. `cargo bench --bench eye` runs it.

#![allow(clippy::print_stdout, clippy::unwrap_used)]

use std::f64::consts::TAU;
use std::io::Write;
use std::process::{Command, Stdio};
use std::time::Instant;

use backshell::signal::rates::{Judged, Lane, grade, ladder};
use backshell::signal::{Complex64, Spectrum};
use serde_json::{Value, json};

/// Rounds of ours for each of the script's.
const ROUNDS: usize = 15;
const SCRIPT_ROUNDS: usize = 3;

fn main() {
    let ladder = ladder("displayport").unwrap();
    let lanes: Vec<Lane> =
        (0..4).map(|at| Lane::new(format!("lane {at}"), line(3.0 + f64::from(at), 0.05 * f64::from(at)))).collect();
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    println!("four lanes, {} rates; load {}", ladder.rates.len(), load.trim());
    let rates: Vec<Value> = ladder.rates.iter().filter_map(rule).collect();
    let spectra: Vec<Value> =
        lanes.iter().map(|lane| json!(lane.through.values().iter().map(|v| [v.re, v.im]).collect::<Vec<_>>())).collect();
    let input = json!({"step": lanes[0].through.step(), "lanes": spectra, "rates": rates}).to_string();
    let mut ours = Vec::new();
    let mut theirs = Vec::new();
    let mut said = Value::Null;
    for round in 0..SCRIPT_ROUNDS {
        for _ in 0..ROUNDS {
            let (start, used) = (Instant::now(), processor());
            let grade = grade(ladder, &lanes, None);
            ours.push((processor() - used, start.elapsed().as_secs_f64()));
            assert_eq!(grade.rates.len(), 7);
        }
        let Some(answer) = script(&input) else {
            println!("numpy isn't installed");
            break;
        };
        theirs.push((answer["user"].as_f64().unwrap(), answer["wall"].as_f64().unwrap()));
        if round == 0 {
            said = answer;
        }
    }
    let median = |list: &[(f64, f64)], of: fn(&(f64, f64)) -> f64| {
        let mut list: Vec<f64> = list.iter().map(of).collect();
        list.sort_by(f64::total_cmp);
        list.get(list.len() / 2).copied().unwrap_or(f64::NAN) * 1e3
    };
    // the clock of the processor's time ticks in steps of 10 ms, so the rounds are averaged
    let mean = ours.iter().map(|took| took.0).sum::<f64>() / ours.len() as f64 * 1e3;
    println!(
        "this crate     {mean:9.1} ms of processor time, {:9.1} ms by the clock (median of {})",
        median(&ours, |t| t.1),
        ours.len()
    );
    println!(
        "numpy          {:9.1} ms of processor time, {:9.1} ms by the clock",
        median(&theirs, |t| t.0),
        median(&theirs, |t| t.1)
    );
    println!(
        "ratio          {:9.1} of processor time, {:.1} by the clock",
        median(&theirs, |t| t.0) / mean,
        median(&theirs, |t| t.1) / median(&ours, |t| t.1)
    );
    if !said.is_null() {
        compare(&grade(ladder, &lanes, None), &said);
    }
}

/// What the script needs of a rate.
fn rule(rate: &backshell::signal::rates::Rate) -> Option<Value> {
    let Judged::Eye(rule) = &rate.judged else { return None };
    let settings = rule.equaliser.iter().flat_map(|equaliser| &equaliser.settings);
    Some(json!({
        "name": rate.name, "rate": rate.gbits * 1e9, "rise": rule.edge_ps * 1e-12, "ratio": rule.error_ratio,
        "noise": rule.noise_mv / rule.launch_mv, "random": rule.random_ui, "deterministic": rule.deterministic_ui,
        "boards": rule.boards_db, "launch": rule.launch_mv,
        "tap": rule.equaliser.as_ref().map_or(0.0, |equaliser| equaliser.tap_mv / rule.launch_mv),
        "settings": settings.map(|setting| json!([setting.dc_db, setting.zero, setting.poles])).collect::<Vec<_>>(),
    }))
}

/// The largest difference of heights in mV and widths in UI.
fn compare(grade: &backshell::signal::rates::Grade, said: &Value) {
    let mut apart = [0.0_f64; 2];
    for (at, rate) in grade.rates.iter().enumerate() {
        for (number, lane) in rate.lanes.iter().enumerate() {
            let Some(eye) = &lane.eye else { continue };
            for (which, eye) in [&eye.bare, &eye.received].into_iter().enumerate() {
                let theirs = &said["eyes"][at][number][which];
                apart[0] = apart[0].max((theirs[0].as_f64().unwrap() - eye.height_mv).abs());
                apart[1] = apart[1].max((theirs[1].as_f64().unwrap() - eye.width_ui).abs());
            }
        }
    }
    println!("at most {:.2} mV and {:.4} UI apart", apart[0], apart[1]);
}

/// A line of so many dB at 5 GHz with a small echo, to 20 GHz.
fn line(loss: f64, echo: f64) -> Spectrum {
    let neper = loss * std::f64::consts::LN_10 / 20.0;
    let value = |row: u32| {
        let hertz = f64::from(row) * 25e6;
        let skin = neper * (hertz / 5e9).sqrt();
        let through = Complex64::from_polar((-skin).exp(), -skin - TAU * hertz * 9e-9);
        through * (1.0 - echo + echo * Complex64::from_polar(1.0, -TAU * hertz * 0.4e-9))
    };
    Spectrum::new(25e6, (0..=800).map(value).collect()).unwrap()
}

/// Seconds of processor time that this process has had.
fn processor() -> f64 {
    let text = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields: Vec<&str> = text.rsplit(')').next().unwrap_or_default().split_whitespace().collect();
    let ticks = |at: usize| fields.get(at).and_then(|field| field.parse::<f64>().ok()).unwrap_or(f64::NAN);
    (ticks(11) + ticks(12)) / 100.0
}

fn script(input: &str) -> Option<Value> {
    let mut child = Command::new("python3")
        .arg("tests/bench/eye_numpy.py")
        .env("OMP_NUM_THREADS", "1")
        .env("OPENBLAS_NUM_THREADS", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    child.stdin.take()?.write_all(input.as_bytes()).ok()?;
    let output = child.wait_with_output().ok()?;
    serde_json::from_slice(&output.stdout).ok()
}
