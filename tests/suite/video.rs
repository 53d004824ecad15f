//! Picture formats: their timings against two public calculators and published totals, and which links carry them.
//!
//! edid-decode (Debian's package of that name) is the reference for reduced blanking and for the list of CTA-861, `cvt`
//! (package xcvt) for standard blanking: `cvt -r` takes the clock from a line period that it has rounded, and gives up to
//! 0.5 MHz less than the standard's own formula.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use backshell::finding::Problem;
use backshell::report::{video_report, video_schema};
use backshell::signal::video::{COMMON_MODES, Carrier, Chroma, Link, Mode, Need, Refresh, Standard, Timing, lowest, timings};
use proptest::prelude::*;

fn mode(text: &str) -> Mode {
    Mode::parse(text).unwrap_or_else(|problem| panic!("{text}: {problem:?}"))
}

fn timing(mode: &Mode, standard: &str) -> Timing {
    timings(mode).into_iter().find(|timing| timing.standard.name() == standard).unwrap()
}

/// What a tool says; none where it isn't installed and needn't be.
fn tool(name: &str, arguments: &[String]) -> Option<String> {
    let required = std::env::var_os("CI").is_some() || std::env::var_os("BACKSHELL_REFERENCES").is_some();
    match Command::new(name).args(arguments).output() {
        Ok(output) => {
            let said = String::from_utf8_lossy(&output.stdout).into_owned();
            assert!(output.status.success(), "{name} {arguments:?}: {said}");
            Some(said)
        }
        Err(error) => {
            assert!(!required, "{name} can't be run: {error}");
            println!("not compared: no {name}");
            None
        }
    }
}

/// Sizes and rates that screens have, and made-up ones.
fn many_modes() -> Vec<(u32, u32, u32)> {
    let mut all = Vec::new();
    for (width, height) in [
        (640, 480),
        (800, 600),
        (1024, 768),
        (1280, 720),
        (1280, 1024),
        (1280, 768),
        (1440, 900),
        (1920, 1080),
        (1920, 1200),
        (2560, 1440),
        (2560, 1600),
        (3440, 1440),
        (3840, 2160),
        (4096, 2160),
        (5120, 1440),
        (5120, 2880),
        (7680, 4320),
    ] {
        all.extend([24, 30, 50, 60, 75, 100, 120, 144, 165, 240].map(|hertz| (width, height, hertz)));
    }
    let mut state = 0x5eed_u64;
    let mut random = |below: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        u32::try_from((state >> 33) % below).unwrap()
    };
    all.extend((0..130).map(|_| (8 * (40 + random(1000)), 200 + random(4300), 20 + random(220))));
    // widths that aren't a multiple of 8
    all.extend((0..30).map(|_| (320 + random(8000), 200 + random(4300), 20 + random(220))));
    all
}

/// A timing as edid-decode prints it: clock in kHz, blanking across and down, and the active size.
fn decoded(said: &str) -> (u64, u64, u64, (u32, u32)) {
    let words: Vec<&str> = said.split_whitespace().collect();
    let after = |name: &str| -> u64 {
        let at = words.iter().position(|word| *word == name).unwrap_or_else(|| panic!("no {name}: {said}"));
        words[at + 1].parse().unwrap()
    };
    let clock: f64 = words[words.iter().position(|word| *word == "MHz").unwrap() - 1].parse().unwrap();
    let size = words.iter().find(|word| word.contains('x') && word.as_bytes()[0].is_ascii_digit()).unwrap();
    let (width, height) = size.split_once('x').unwrap();
    let (width, height): (u32, u32) = (width.parse().unwrap(), height.parse().unwrap());
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let clock_khz = (clock * 1000.0).round() as u64;
    let across = after("Hfront") + after("Hsync") + after("Hback");
    let down = after("Vfront") + after("Vsync") + after("Vback");
    (clock_khz, across, down, (width, height))
}

/// The same of our own timing. Where the standard rounds the width, the tool prints it as asked for.
fn own(timing: &Timing, mode: &Mode) -> (u64, u64, u64, (u32, u32)) {
    let size = (mode.width, timing.height);
    (timing.clock_khz, timing.h_total - u64::from(timing.width), timing.v_total - u64::from(timing.height), size)
}

#[test]
fn timings_against_edid_decode() {
    let (mut compared, mut below) = (0, 0);
    for (width, height, hertz) in many_modes() {
        let mode = mode(&format!("{width}x{height}@{hertz}"));
        for (standard, blanking) in [("CVT", 0), ("CVT-RB", 1), ("CVT-RB v2", 2)] {
            let asked = format!("w={width},h={height},fps={hertz},rb={blanking}");
            let Some(said) = tool("edid-decode", &["--cvt".to_owned(), asked.clone()]) else { return };
            let (own, mut theirs) = (own(&timing(&mode, standard), &mode), decoded(&said));
            // where the clock is a whole step by itself, the tool's floats can fall just below it
            let timing = timing(&mode, standard);
            let pixels = u64::from(hertz) * timing.h_total * timing.v_total;
            let short = if blanking == 2 { 1 } else { 250 };
            if blanking > 0 && pixels.is_multiple_of(1000 * short) && theirs.0 + short == own.0 {
                theirs.0 = own.0;
                below += 1;
            }
            assert_eq!(own, theirs, "{asked}: {said}");
            compared += 1;
        }
    }
    println!("{compared} timings compared, {below} of them a step above the tool's");
    assert!(compared >= 900 && below < 30, "{compared} compared, {below} above");
}

/// 59.94 and its kin: 1000/1001 of the whole rate; version 2 of reduced blanking has an option for them.
#[test]
fn video_rates_against_edid_decode() {
    for (width, height) in [(1280, 720), (1920, 1080), (2560, 1440), (3840, 2160), (7680, 4320)] {
        for (written, base) in [("23.976", 24), ("29.97", 30), ("59.94", 60), ("119.88", 120)] {
            let mode = mode(&format!("{width}x{height}@{written}"));
            let exact = f64::from(base) * 1000.0 / 1001.0;
            for (standard, asked) in [
                ("CVT", format!("w={width},h={height},fps={exact:.9},rb=0")),
                ("CVT-RB", format!("w={width},h={height},fps={exact:.9},rb=1")),
                ("CVT-RB v2", format!("w={width},h={height},fps={base},rb=2,alt")),
            ] {
                let Some(said) = tool("edid-decode", &["--cvt".to_owned(), asked.clone()]) else { return };
                assert_eq!(own(&timing(&mode, standard), &mode), decoded(&said), "{asked}: {said}");
            }
        }
    }
}

#[test]
fn standard_blanking_against_cvt() {
    let mut compared = 0;
    // the tool rounds a width up to a multiple of 8, where the standard rounds it down; and it has a back porch of its own
    // where the 550 µs of sync and porch are but a few lines
    let fit = |(width, height, hertz): &(u32, u32, u32)| width % 8 == 0 && 550 * height * hertz > 18_000_000;
    for (width, height, hertz) in many_modes().into_iter().filter(fit) {
        let arguments = [width, height, hertz].map(|figure| figure.to_string());
        let Some(said) = tool("cvt", &arguments) else { return };
        let line = said.lines().find(|line| line.starts_with("Modeline")).unwrap();
        let words: Vec<&str> = line.split_whitespace().collect();
        let clock: f64 = words[2].parse().unwrap();
        let totals = (words[6].parse::<u64>().unwrap(), words[10].parse::<u64>().unwrap());
        let own = timing(&mode(&format!("{width}x{height}@{hertz}")), "CVT");
        assert_eq!((own.h_total, own.v_total), totals, "{line}");
        assert!((own.clock_mhz() - clock).abs() < 0.01, "{} MHz against {line}", own.clock_mhz());
        compared += 1;
    }
    println!("{compared} modes compared");
    assert!(compared >= 200, "{compared}");
}

#[test]
fn fixed_formats_against_edid_decode() {
    let mut codes = BTreeSet::new();
    for (width, height) in [
        (1280, 720),
        (1680, 720),
        (1920, 1080),
        (2560, 1080),
        (3840, 2160),
        (4096, 2160),
        (5120, 2160),
        (7680, 4320),
        (10240, 4320),
    ] {
        for hertz in [24, 25, 30, 48, 50, 60, 100, 120] {
            let mode = mode(&format!("{width}x{height}@{hertz}"));
            let Some(own_timing) = timings(&mode).into_iter().find(|timing| timing.standard.name() == "CTA-861") else {
                panic!("no fixed format for {mode}");
            };
            let Standard::Cta(code) = own_timing.standard else { panic!("{own_timing:?}") };
            let Some(said) = tool("edid-decode", &["--vic".to_owned(), code.to_string()]) else { return };
            assert_eq!(own(&own_timing, &mode), decoded(&said), "{mode}: {said}");
            assert!((own_timing.refresh() - f64::from(hertz)).abs() < 1e-6, "{mode}");
            assert!(codes.insert(code));
        }
    }
    assert_eq!(codes.len(), 72);
    // slowed by 1000/1001 where CTA-861 allows it, and only there
    let slowed = timing(&mode("1920x1080@59.94"), "CTA-861");
    assert_eq!((slowed.clock_khz, slowed.h_total, slowed.v_total), (148_352, 2200, 1125));
    assert!(timings(&mode("1920x1080@49.95")).iter().all(|timing| timing.standard.name() != "CTA-861"));
    assert!(timings(&mode("1920x1200@60")).iter().all(|timing| timing.standard.name() != "CTA-861"));
}

/// Clocks and totals as edid-decode gives them, typed in, for where it isn't installed; and payloads worked by hand from them.
#[test]
fn published_totals() {
    for (text, cvt, reduced, v2, gbit) in [
        ("1920x1080@60", (173.0, 2576, 1120), (138.5, 2080, 1111), (133.32, 2000, 1111), 3.1997),
        ("2560x1440@60", (312.25, 3488, 1493), (241.5, 2720, 1481), (234.59, 2640, 1481), 5.6302),
        ("2560x1440@144", (808.75, 3584, 1568), (604.25, 2720, 1543), (586.586, 2640, 1543), 14.0781),
        ("3840x2160@60", (712.75, 5312, 2237), (533.25, 4000, 2222), (522.614, 3920, 2222), 12.5427),
        ("3840x2160@120", (1498.25, 5392, 2316), (1097.75, 4000, 2287), (1075.804, 3920, 2287), 25.8193),
        ("3840x2160@144", (1829.25, 5408, 2350), (1332.75, 4000, 2314), (1306.206, 3920, 2314), 31.3489),
        ("5120x2880@60", (1276.5, 7136, 2982), (938.25, 5280, 2962), (924.144, 5200, 2962), 22.1795),
        ("7680x4320@60", (2892.5, 10784, 4471), (2089.75, 7840, 4443), (2068.66, 7760, 4443), 49.6478),
    ] {
        let mode = mode(text);
        for (standard, (clock, h_total, v_total)) in [("CVT", cvt), ("CVT-RB", reduced), ("CVT-RB v2", v2)] {
            let own = timing(&mode, standard);
            assert!((own.clock_mhz() - clock).abs() < 1e-9, "{text} {standard}: {own:?}");
            assert_eq!((own.h_total, own.v_total), (h_total, v_total), "{text} {standard}");
        }
        let need = Need::of(&mode, &timing(&mode, "CVT-RB v2"), Carrier::DisplayPort, false).unwrap();
        assert!((need.kbit as f64 / 1e6 - gbit).abs() < 1e-4, "{text}: {need:?}");
    }
}

/// What links have for pictures, from their published rates.
#[test]
fn payloads_of_links() {
    for (name, lanes, gbit) in [
        ("RBR", 4, 5.184),
        ("HBR", 4, 8.64),
        ("HBR2", 4, 17.28),
        ("HBR3", 4, 25.92),
        ("HBR3", 2, 12.96),
        ("HBR3", 1, 6.48),
        // VESA states this one; the slower two are in proportion
        ("UHBR20", 4, 77.37),
        ("UHBR10", 4, 38.685),
        ("UHBR13.5", 4, 52.2248),
        ("TMDS 165", 3, 3.96),
        ("TMDS 340", 3, 8.16),
        ("TMDS 600", 3, 14.4),
    ] {
        let link = Link::named(name, Some(lanes)).unwrap();
        let own = link.payload(false) as f64 / 1e6;
        assert!((own - gbit).abs() < 1e-4, "{name} x{lanes}: {own}");
    }
    for (name, lanes, gbit) in [
        ("FRL 3", 3, 8.0),
        ("FRL 6", 3, 16.0),
        ("FRL 6", 4, 21.333),
        ("FRL 8", 4, 28.444),
        ("FRL 10", 4, 35.556),
        ("FRL 12", 4, 42.667),
    ] {
        let link = Link::named(name, Some(lanes)).unwrap();
        assert!((link.coded() as f64 / 1e6 - gbit).abs() < 1e-3, "{name} x{lanes}: {}", link.coded());
        // error correction and packets take 2 to 3 %
        let share = link.payload(false) as f64 / link.coded() as f64;
        assert!((0.969..=0.98).contains(&share), "{share}");
    }
    for carrier in Carrier::ALL {
        let payloads: Vec<u64> = Link::of(carrier, None).map(|link| link.payload(false)).collect();
        assert!(payloads.windows(2).all(|two| two[0] < two[1]) || carrier == Carrier::DisplayPort, "{payloads:?}");
    }
}

fn fits(text: &str, standard: &str, link: &str, compressed: bool) -> bool {
    let mode = mode(text);
    let link = Link::named(link, None).unwrap();
    let need = Need::of(&mode, &timing(&mode, standard), link.rate.carrier, compressed).unwrap();
    link.carries(&need)
}

/// Decisions worked by hand from the published clocks and rates.
#[test]
fn what_fits() {
    for (text, standard, link, compressed, expected) in [
        ("3840x2160@120", "CVT-RB v2", "HBR3", false, true),
        ("3840x2160@120", "CVT-RB", "HBR3", false, false),
        ("3840x2160@120", "CTA-861", "HBR3", false, false),
        ("3840x2160@60, 10 bits", "CVT-RB v2", "HBR2", false, true),
        ("3840x2160@60, 10 bits", "CVT-RB v2", "TMDS 600", false, false),
        ("2560x1440@144", "CVT-RB v2", "TMDS 600", false, true),
        ("2560x1440@144, 10 bits", "CVT-RB v2", "HBR2", false, false),
        ("5120x2880@60, 10 bits", "CVT-RB v2", "HBR3", false, false),
        ("5120x2880@60, 10 bits", "CVT-RB v2", "HBR3", true, true),
        ("7680x4320@60", "CVT-RB v2", "FRL 12", false, false),
        ("7680x4320@60", "CVT-RB v2", "UHBR13.5", false, true),
        ("7680x4320@60, 10 bits", "CVT-RB v2", "UHBR13.5", false, false),
        ("7680x4320@60, 10 bits", "CVT-RB v2", "UHBR20", false, true),
        ("3840x2160@144, 10 bits", "CVT-RB v2", "FRL 12", false, true),
        ("3840x2160@144, 10 bits", "CVT-RB v2", "UHBR10", false, false),
        // to the last bit: a character rate of exactly 600 MHz is allowed, and 594 MHz is known to be sent
        ("3840x2160@60", "CTA-861", "TMDS 600", false, true),
        ("3840x2160@60", "CTA-861", "TMDS 340", false, false),
        ("3840x2160@60, 4:2:0", "CTA-861", "TMDS 340", false, true),
        ("3840x2160@60, 10 bits, 4:2:0", "CTA-861", "TMDS 340", false, false),
        // in HDMI, 4:2:2 takes the room of 24 bits at any depth up to 12
        ("3840x2160@60, 12 bits, 4:2:2", "CTA-861", "TMDS 600", false, true),
        ("3840x2160@60, 4:2:2", "CTA-861", "TMDS 340", false, false),
        ("3840x2160@60, 8 bits, 4:2:2", "CTA-861", "HBR2", false, true),
    ] {
        assert_eq!(fits(text, standard, link, compressed), expected, "{text} {standard} on {link}");
    }
    // needs in Gbit/s under compression: 924.144 MHz at 10 bits a pixel
    let five_k = mode("5120x2880@60, 10 bits");
    let need = Need::of(&five_k, &timing(&five_k, "CVT-RB v2"), Carrier::DisplayPort, true).unwrap();
    assert_eq!(need.kbit, 9_241_440);
    // nothing compressed goes over TMDS, and 4:2:2 of 16 bits has no form there
    let plain = timing(&five_k, "CVT-RB v2");
    assert_eq!(Need::of(&five_k, &plain, Carrier::Tmds, true), None);
    assert_eq!(Need::of(&mode("1920x1080@60, 16 bits, 4:2:2"), &plain, Carrier::Frl, false), None);
}

/// The lowest link carries the picture, and no lower one does; found here by trying all.
#[test]
fn the_lowest_rate() {
    let mut found: BTreeMap<&str, usize> = BTreeMap::new();
    for (width, height, hertz) in many_modes() {
        for depth in ["8 bits", "10 bits, 4:2:2", "12 bits, 4:2:0"] {
            let mode = mode(&format!("{width}x{height}@{hertz}, {depth}"));
            for timing in timings(&mode) {
                for carrier in Carrier::ALL {
                    for lanes in [None, Some(4), Some(2), Some(1)] {
                        let Some(need) = Need::of(&mode, &timing, carrier, false) else { continue };
                        let lowest = lowest(carrier, lanes, &need);
                        let able = Link::of(carrier, lanes).filter(|link| link.used(&need) <= 100.0);
                        let least = able.map(|link| link.payload(false)).min();
                        if lanes.is_some() || carrier != Carrier::DisplayPort {
                            assert_eq!(lowest.map(|link| link.payload(false)), least, "{mode} {timing:?}");
                        }
                        *found.entry(lowest.map_or("none", |link| link.rate.name)).or_default() += 1;
                    }
                }
            }
        }
    }
    assert_eq!(found.len(), 16, "every rate is the lowest for some: {found:?}");
}

fn words(problem: &Problem) -> String {
    problem.message.clone()
}

#[test]
fn modes_as_people_write_them() {
    let expected = mode("3840x2160@59.94, 10 bits, 4:2:0");
    for text in [
        "3840X2160@59.940,10bit,4:2:0",
        " 3840 x 2160 @ 59.94 Hz , 4:2:0 , 10 ",
        "3840×2160@59.94hz,10-bit, 4:2:0",
        "3840x2160@59.94, 10 bpc, 4:2:0",
    ] {
        assert_eq!(mode(text), expected, "{text}");
    }
    assert_eq!(mode("1280x720@60, RGB"), mode("1280x720@60"));
    for (text, says) in [
        ("", "expected the width"),
        ("3840", "expected `x`"),
        ("3840x", "expected the height"),
        ("3840x2160", "expected `@`"),
        ("3840x2160@", "expected the refresh rate"),
        ("3840x2160p60", "expected `@`"),
        ("3840x2160@60i", "expected a comma"),
        ("3840x2160@60 10 bits", "expected a comma"),
        ("3840x2160@59.9400", "at most three decimals"),
        ("3840x2160@5", "from 10 to 1000 Hz"),
        ("3840x2160@.5", "from 10 to 1000 Hz"),
        ("38400x2160@60", "from 64 to 16384 pixels"),
        ("3840x21.6@60", "from 64 to 16384 lines"),
        ("3840x99999999999999999999@60", "from 64 to 16384 lines"),
        ("3840x2160@60,", "expected a depth"),
        ("3840x2160@60, 9 bits", "8, 10, 12 or 16"),
        ("3840x2160@60, 10 bats", "expected a depth"),
        ("3840x2160@60, 4:1:1", "expected a depth"),
        ("3840x2160@60, 8, 8", "the depth a second time"),
        ("3840x2160@60, 4:4:4, 4:4:4", "the chroma a second time"),
    ] {
        let problem = Mode::parse(text).unwrap_err();
        assert!(words(&problem).contains(says), "{text}: {}", words(&problem));
        assert!(problem.help.is_some());
    }
    for (name, lanes) in [("HBR4", None), ("", None), ("HBR3", Some(3)), ("FRL 12", Some(3)), ("TMDS 600", Some(4))] {
        assert!(Link::named(name, lanes).unwrap_err().help.is_some());
    }
    assert_eq!(Link::named("uhbr13.5", None).unwrap().lanes, 4);
    assert_eq!(Link::named("frl6", None).unwrap().lanes, 4);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_text(text in prop_oneof![
        "\\PC{0,40}",
        "[0-9x×@.,: bitsHz-]{0,30}",
        "[0-9]{1,5}x[0-9]{1,5}@[0-9.]{1,7}(, ?[0-9:a-z ]{0,9}){0,3}",
    ]) {
        match Mode::parse(&text) {
            Ok(mode) => {
                prop_assert_eq!(Mode::parse(&mode.to_string()).unwrap(), mode);
                prop_assert!(timings(&mode).len() >= 3);
            }
            Err(problem) => {
                for label in &problem.labels {
                    prop_assert!(text.get(label.span.range()).is_some(), "{:?} of {:?}", label.span, text);
                }
            }
        }
    }

    #[test]
    fn any_mode(
        width in 64u32..=16384,
        height in 64u32..=16384,
        millihertz in 10_000u32..=1_000_000,
        bits in prop_oneof![Just(8u8), Just(10), Just(12), Just(16)],
        chroma in 0usize..3,
    ) {
        let mode = Mode::new(width, height, Refresh::new(millihertz).unwrap()).with_bits(bits).with_chroma(Chroma::ALL[chroma]);
        prop_assert_eq!(Mode::parse(&mode.to_string()).unwrap(), mode);
        let wanted = f64::from(millihertz) / 1000.0;
        for timing in timings(&mode) {
            prop_assert!(timing.h_total > u64::from(timing.width) && timing.v_total > u64::from(timing.height));
            // 23.98 stands for 23.976; the clock is at most a step below; where standard blanking counts whole lines, the rate can come out off
            let step = if timing.standard == Standard::ReducedV2 { 2.0 } else { 250.0 };
            let short = wanted - timing.refresh();
            let most = 1000.0 * step / (timing.h_total * timing.v_total) as f64 + wanted * 2e-4;
            prop_assert!(timing.standard == Standard::Cvt || (-wanted * 2e-4..=most).contains(&short), "{mode} {timing:?}");
        }
        let report = video_report(&[mode], None);
        prop_assert!(report.modes[0].timings.iter().all(|timing| timing.links.len() >= 7));
    }
}

fn backshell(arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_backshell")).args(arguments).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn the_command() {
    for (arguments, status) in [
        (vec!["video", "3840x2160@120"], 0),
        (vec!["video", "3840x2160@120", "--bits", "10", "--chroma", "4:2:0"], 0),
        (vec!["video", "--rate", "HBR3"], 0),
        (vec!["video", "3840x2160@60", "--rate", "frl6", "--lanes", "3"], 0),
        (vec!["video", "--print-schema"], 0),
        (vec!["video"], 2),
        (vec!["video", "3840x2160"], 2),
        (vec!["video", "3840x2160@60", "--bits", "9"], 2),
        (vec!["video", "3840x2160@60", "--chroma", "4:1:1"], 2),
        (vec!["video", "3840x2160@60", "--lanes", "4"], 2),
        (vec!["video", "--rate", "HBR9"], 2),
        (vec!["video", "--rate", "HBR3", "--lanes", "3"], 2),
    ] {
        let (found, out, error) = backshell(&arguments);
        assert_eq!(found, Some(status), "{arguments:?}\n{out}\n{error}");
        assert_eq!(out.is_empty(), status != 0, "{arguments:?}");
    }
    for (name, arguments) in [
        ("mode", vec!["video", "3840x2160@120, 10 bits"]),
        ("odd-mode", vec!["video", "1366x768@59.94, 12 bits, 4:2:2"]),
        ("rate", vec!["video", "--rate", "HBR3"]),
        ("mode-on-rate", vec!["video", "3840x2160@60, 4:2:0", "--rate", "TMDS 600"]),
    ] {
        let (_, out, _) = backshell(&arguments);
        assert!(out.lines().all(|line| line.chars().count() <= 120 && line.trim_end() == line), "{out}");
        insta::assert_snapshot!(format!("video__{name}"), out);
    }
}

/// The report has the fields that the printed schema requires, and no others, and says what the library says.
#[test]
fn as_data() {
    let schema: serde_json::Value = serde_json::from_str(&video_schema()).unwrap();
    let (_, out, _) = backshell(&["video", "3840x2160@120", "--rate", "HBR3", "--format", "json"]);
    let report: serde_json::Value = serde_json::from_str(&out).unwrap();
    let keys = |value: &serde_json::Value| value.as_object().unwrap().keys().cloned().collect::<BTreeSet<String>>();
    assert_eq!(keys(&schema["properties"]), keys(&report));
    let timing = &report["modes"][0]["timings"][1];
    for (name, value) in [
        ("LinkEntry", &report["link"]),
        ("ModeEntry", &report["modes"][0]),
        ("TimingEntry", timing),
        ("FitEntry", &timing["links"][0]),
    ] {
        assert_eq!(keys(&schema["$defs"][name]["properties"]), keys(value), "{name}");
    }
    assert_eq!(report["schema"], "backshell.video/1");
    assert_eq!(timing["standard"], "CVT-RB v2");
    assert_eq!(timing["links"][0]["fits"], true);
    assert_eq!(timing["links"][0]["used_percent"], 99.6);
    assert_eq!(report["modes"][0]["timings"][0]["links"][0]["fits"], false);
    let (_, out, _) = backshell(&["video", "--rate", "HBR3", "--format", "json"]);
    let report: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(report["modes"].as_array().unwrap().len(), COMMON_MODES.len());
}
