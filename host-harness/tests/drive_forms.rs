//! Forms of the drive that a design may choose: a fan that may stop, three wires, an inverted pin, a heater on a PWM pin.
//! What each does for a load step, in integers and in real arithmetic beside, and what is refused.

use controller_core::drive::wiring::Wiring;
use host_harness::build;
use host_harness::design::{self, Actuator, Design};
use host_harness::faults::run_campaign_with;
use host_harness::plan::{DrivePlan, Plan};
use host_harness::simulate::{Response, Sample};

fn text(name: &str, changes: &[(&str, &str)]) -> String {
    let path = format!("{}/designs/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let mut text = std::fs::read_to_string(path).expect("a demo design");
    for (old, new) in changes {
        assert!(text.contains(old), "{name} has no {old:?}");
        text = text.replace(old, new);
    }
    text
}

fn parse(name: &str, changes: &[(&str, &str)]) -> Design {
    design::parse(name, &text(name, changes)).unwrap_or_else(|error| panic!("{error}"))
}

fn respond(design: &Design) -> Response {
    let table = build::table(&design.sensing).expect("a table");
    build::respond(design, &table)
}

const ALWAYS: (&str, &str) = ("stop_percent = 8\nstart_percent = 30\n", "");
const STAND_BY: (&str, &str) = ("load_w = 50", "load_w = 8");

/// Share of the samples from `from_s` on in which the pin does nothing, mean duty, and starts from rest.
fn rest(samples: &[Sample], from_s: f64) -> (f64, f64, usize) {
    let part: Vec<f64> = samples
        .iter()
        .filter(|s| s.time_s >= from_s)
        .map(|s| s.duty)
        .collect();
    let still = part.iter().filter(|duty| **duty == 0.0).count() as f64;
    let starts = part
        .windows(2)
        .filter(|w| w[0] == 0.0 && w[1] > 0.0)
        .count();
    let n = part.len() as f64;
    (still / n, part.iter().sum::<f64>() / n, starts)
}

/// Load from 40 W to the 8 W of stand-by: the fan that may stop comes to rest, once; the other turns at its floor.
#[test]
fn in_stand_by_a_fan_that_may_stop_rests_and_one_that_may_not_turns_at_its_floor() {
    let stops = respond(&parse("media-shelf", &[STAND_BY]));
    let turns = respond(&parse("media-shelf", &[STAND_BY, ALWAYS]));
    for samples in [&stops.fixed, &stops.real] {
        let (still, _, starts) = rest(samples, 18_000.0);
        assert_eq!((still, starts), (1.0, 0));
        let warm: Vec<&Sample> = samples
            .iter()
            .filter(|s| s.time_s > 10_000.0 && s.time_s < 14_000.0)
            .collect();
        assert!(
            warm.iter().all(|s| s.duty >= 0.249),
            "at 40 W it turns, never below its floor"
        );
        let (_, _, starts) = rest(samples, 0.0);
        assert!((1..=3).contains(&starts), "{starts} starts in eight hours");
    }
    for samples in [&turns.fixed, &turns.real] {
        let (still, mean, _) = rest(samples, 18_000.0);
        assert_eq!(still, 0.0);
        assert!((mean - 0.25).abs() < 0.003, "{mean}");
    }
}

/// Real arithmetic beside: the same starts and stops, and the same temperatures but for the moment of a start.
#[test]
fn the_integers_stop_and_start_where_real_arithmetic_does() {
    let response = respond(&parse("media-shelf", &[STAND_BY]));
    let starts = |samples: &[Sample]| rest(samples, 0.0).2;
    assert_eq!(starts(&response.fixed), starts(&response.real));
    let apart = response.fixed.iter().zip(&response.real);
    let most = apart
        .map(|(a, b)| (a.celsius - b.celsius).abs())
        .fold(0.0, f64::max);
    assert!(most < 0.5, "{most} K");
    assert!(response.law.error_lsb_max <= 0.5);
}

/// Wherever the drive's rule is broken, it shows: a fan told to stop at a demand that it never falls to does not stop.
#[test]
fn the_thresholds_are_those_of_the_design() {
    let design = parse(
        "media-shelf",
        &[STAND_BY, ("stop_percent = 8", "stop_percent = 29.9")],
    );
    let DrivePlan::Fans(drive) = Plan::new(&design).drive else {
        panic!("a cooling loop drives fans");
    };
    let controller_core::drive::fan::Stop::Below { stop, start } = drive.fans.fans[0].stop() else {
        panic!("may stop");
    };
    // round(0.299 * 32767), round(0.3 * 32767)
    assert_eq!((stop.bits(), start.bits()), (9797, 9830));
    assert_eq!(design.control.integers.lo, 0, "the law may ask for nothing");
    assert!(parse("media-shelf", &[ALWAYS]).control.integers.lo > 8_190);
}

#[test]
fn an_inverted_pin_is_the_same_drive() {
    let low = respond(&parse("media-shelf", &[]));
    let high = respond(&parse(
        "media-shelf",
        &[("pwm_active = \"low\"", "pwm_active = \"high\"")],
    ));
    assert_eq!(low.fixed, high.fixed);
    let module = |changes| {
        let built = build::build(&parse("media-shelf", changes)).expect("built");
        let file = built
            .files
            .into_iter()
            .find(|(name, _)| *name == "firmware.rs");
        String::from_utf8(file.expect("written").1).expect("text")
    };
    assert!(module(&[]).contains("Polarity::ActiveLow"));
}

#[test]
fn each_wiring_is_in_the_plan_and_only_a_tachometer_that_tells_the_truth_promises_a_time() {
    for (word, wiring, watched) in [
        ("four-wire", Wiring::FourWire, true),
        ("three-wire-supply", Wiring::ThreeWireLinear, true),
        ("three-wire-transistor", Wiring::ThreeWireChopped, false),
    ] {
        let line = format!("wiring = \"{word}\"");
        let design = parse(
            "media-shelf",
            &[("wiring = \"three-wire-supply\"", &line), ALWAYS],
        );
        let plan = Plan::new(&design);
        let DrivePlan::Fans(drive) = plan.drive else {
            panic!("a cooling loop drives fans");
        };
        assert_eq!(drive.wiring, wiring);
        let table = build::table(&design.sensing).expect("a table");
        let read = |code| build::read(&table, code);
        let campaign = run_campaign_with(&design, plan, &read, 40, &|_| {});
        let row = campaign
            .faults
            .iter()
            .find(|row| row.fault == "tachometer wire open");
        assert_eq!(
            row.expect("connected").stated_s.is_some(),
            watched,
            "{word}"
        );
        assert_eq!(campaign.violations, 0, "{}", campaign.table());
    }
}

/// 40 W on a transistor against the same on a relay of a 20 s window: no ripple from switching.
#[test]
fn a_pwm_heater_is_as_fine_as_its_timer_where_a_switch_swings() {
    let pwm = respond(&parse("proofing-box", &[]));
    let switch = [(
        "output = \"pwm\"\npwm_period_counts = 1000\npwm_hertz = 1000\n",
        "window_s = 20\nminimum_on_s = 1\n",
    )];
    let switched = respond(&parse("proofing-box", &switch));
    let swing = |samples: &[Sample]| {
        let part = samples
            .iter()
            .filter(|s| s.time_s > 9_000.0 && s.time_s < 10_800.0);
        let (low, high) = part.fold((1.0_f64, 0.0_f64), |(l, h), s| {
            (l.min(s.duty), h.max(s.duty))
        });
        high - low
    };
    assert!(swing(&pwm.fixed) < 0.1, "{}", swing(&pwm.fixed));
    assert!(swing(&switched.fixed) > 0.9, "{}", swing(&switched.fixed));
    // what the pin does is what the law asks for, to a count of the timer
    assert!(pwm.fixed.iter().all(|s| (s.duty - s.demand).abs() < 0.001));
    assert!(pwm.fixed.iter().all(|s| s.duty <= 0.9001), "limit_percent");
    let apart = pwm
        .fixed
        .iter()
        .zip(&pwm.real)
        .map(|(a, b)| (a.celsius - b.celsius).abs());
    assert!(apart.fold(0.0, f64::max) < 0.1);
}

#[test]
fn the_demo_designs_are_good_and_c_refuses_what_it_does_not_have() {
    for (name, what) in [
        ("media-shelf", "a fan that may stop"),
        ("proofing-box", "a heater on a PWM pin"),
    ] {
        let built = build::build(&parse(name, &[])).expect("built");
        assert!(
            built.verdict.good,
            "{name}: {}",
            built.verdict.reasons_in_one_line()
        );
        let file = |wanted: &str| {
            let found = built.files.iter().find(|(name, _)| *name == wanted);
            String::from_utf8(found.expect("written").1.clone()).expect("text")
        };
        let (header, page) = (file("firmware.h"), file("report.html"));
        assert!(header.contains("#error") && header.contains(what), "{name}");
        assert!(!file("firmware.rs").contains("compile_error!"), "{name}");
        assert!(page.contains("What the station is told"));
    }
    let campaign = |name: &str| {
        let design = parse(name, &[]);
        let table = build::table(&design.sensing).expect("a table");
        let read = |code| build::read(&table, code);
        let found = run_campaign_with(&design, Plan::new(&design), &read, 150, &|_| {});
        assert_eq!(found.violations, 0, "{name}: {}", found.table());
        assert_eq!(found.healthy, None, "{name}");
    };
    campaign("media-shelf");
    campaign("proofing-box");
}

#[test]
fn mistakes_are_named_with_what_would_be_accepted() {
    for (name, change, words) in [
        (
            "media-shelf",
            ("8\nstart_percent = 30", "8\nstart_percent = 8"),
            "more than stop_percent = 8",
        ),
        (
            "media-shelf",
            ("\nstart_percent = 30\n", "\n"),
            "start_percent as well",
        ),
        (
            "media-shelf",
            ("stop_percent = 8\n", ""),
            "a fan that always turns",
        ),
        (
            "media-shelf",
            ("three-wire-supply", "five-wire"),
            "three-wire-transistor",
        ),
        (
            "proofing-box",
            ("output = \"pwm\"", "output = \"pwm\"\nwindow_s = 2"),
            "speaks of a switch",
        ),
        (
            "proofing-box",
            ("output = \"pwm\"\n", ""),
            "output = \"pwm\", or neither",
        ),
    ] {
        let error = design::parse(name, &text(name, &[change]))
            .expect_err(words)
            .to_string();
        assert!(error.contains(words), "{error}");
    }
    let Actuator::Fan(fan) = parse("media-shelf", &[]).control.actuator else {
        panic!("a cooling loop drives fans");
    };
    assert_eq!(fan.stop, Some((0.08, 0.3)));
}
