//! Designs of a builder's every mistake, and of none: each verdict by its codes and its words.
//!
//! All of them are a box or a tray of this module's own with one thing changed.

use std::sync::OnceLock;

use super::{Code, Reason, Simulated};
use crate::build;
use crate::design::{self, Design};

/// A small instrument case with one fan.
const CASE: &str = r#"
title = "Instrument case"
[sensor]
kind = "ntc-beta"
r25_ohm = 10000
beta_kelvin = 3950
lag_s = 12
[divider]
sensor_side = "ground"
resistor_ohm = 6800
supply_volts = 3.3
[adc]
bits = 12
reference = "supply"
noise_lsb = 1.0
[table]
low_celsius = -10
high_celsius = 95
error_celsius = 0.1
encoding = "zones"
[loop]
action = "cooling"
set_point_celsius = 40
period_s = 1
kp_percent_per_kelvin = 5
ki_percent_per_kelvin_second = 0.05
trip_celsius = 52
[fan]
floor_percent = 20
spin_up_percent = 60
slew_percent_per_s = 10
[plant]
mass_joule_per_kelvin = 4000
air_joule_per_kelvin = 900
still_w_per_kelvin = 6
blown_w_per_kelvin = 12
leak_w_per_kelvin = 1
ventilation_w_per_kelvin = 12
load_w = 60
ambient_celsius = 25
fan_stall_percent = 12
fan_start_percent = 25
[scenario]
duration_s = 9000
seed = 5
event = [ { at_s = 3600, load_w = 90 }, { at_s = 6600, load_w = 60 } ]
[accept]
peak_celsius = 44
hard_limit_celsius = 55
"#;

/// A warm bath for bottles.
const BATH: &str = r#"
title = "Bottle bath"
[sensor]
kind = "platinum"
r0_ohm = 1000
lag_s = 10
[divider]
sensor_side = "ground"
resistor_ohm = 3300
supply_volts = 3.3
[adc]
bits = 16
burst_samples = 64
burst_hertz = 6400
reference = "supply"
noise_lsb = 1.5
[table]
low_celsius = 0
high_celsius = 120
error_celsius = 0.1
encoding = "uniform"
[loop]
action = "heating"
set_point_celsius = 37
period_s = 1
kp_percent_per_kelvin = 20
ki_percent_per_kelvin_second = 0.02
trip_celsius = 45
[heater]
window_s = 4
minimum_on_s = 0.2
[plant]
heater_w = 150
heater_joule_per_kelvin = 300
contents_joule_per_kelvin = 8400
coupling_w_per_kelvin = 40
loss_w_per_kelvin = 2
ambient_celsius = 20
start_celsius = 20
[scenario]
duration_s = 10800
seed = 2
[accept]
settling_s = 3600
"#;

/// The text with the lines of some keys replaced; each must be there. A line that begins a section goes behind it.
fn edited(text: &str, changes: &[(&str, &str)]) -> String {
    changes.iter().fold(text.to_owned(), |text, (key, line)| {
        let mut found = false;
        let lines: Vec<&str> = text
            .lines()
            .flat_map(|l| {
                let hit = l.split(" =").next() == Some(*key);
                found |= hit;
                match (hit, key.starts_with('[')) {
                    (true, true) => vec![l, *line],
                    (true, false) => vec![*line],
                    _ => vec![l],
                }
            })
            .collect();
        assert!(found, "no {key} in the text");
        lines.join("\n")
    })
}

fn design(text: &str, changes: &[(&str, &str)]) -> Design {
    design::parse("odd.toml", &edited(text, changes)).unwrap_or_else(|e| panic!("{e}"))
}

fn judged(text: &str, changes: &[(&str, &str)]) -> (Simulated, Vec<Reason>) {
    let design = design(text, changes);
    let table = build::table(&design.sensing).unwrap_or_else(|e| panic!("{e}"));
    let response = build::respond(&design, &table);
    Simulated::judge(&design, &response)
}

/// The reason with this code, whose words must contain these.
fn says(reasons: &[Reason], code: Code, words: &[&str]) {
    let found: Vec<&Reason> = reasons.iter().filter(|r| r.code == code).collect();
    assert!(!found.is_empty(), "no {code:?} among {reasons:#?}");
    for words in words {
        let there = |r: &&Reason| r.what.contains(words) || r.remedy.contains(words);
        assert!(found.iter().any(there), "{words:?} is not in {found:#?}");
    }
}

fn lacks(reasons: &[Reason], code: Code) {
    assert!(
        reasons.iter().all(|r| r.code != code),
        "{code:?} among {reasons:#?}"
    );
}

fn healthy() -> &'static [(Simulated, Vec<Reason>); 2] {
    static RUNS: OnceLock<[(Simulated, Vec<Reason>); 2]> = OnceLock::new();
    RUNS.get_or_init(|| [judged(CASE, &[]), judged(BATH, &[])])
}

#[test]
fn a_healthy_case_and_a_healthy_bath_are_good() {
    for (figures, reasons) in healthy() {
        assert_eq!(*reasons, [], "{figures:#?}");
        let r = &figures.response;
        assert!(
            r.settling_s.is_some() && r.stayed_s >= figures.judged.stay_s,
            "{r:?}"
        );
        assert!(r.offset_celsius.abs() < 0.1 && !r.resting_at_least);
        assert!(figures.alarms.is_empty() && figures.judged.not_judged == 0);
    }
    // the load goes: the case falls below its set point, and the run says so
    assert!(healthy()[0].0.response.undershoot_celsius > 0.2);
}

#[test]
fn undershoot_counts_whatever_the_seed_and_has_a_limit() {
    let seeds = ["seed = 1", "seed = 2", "seed = 3"];
    let depths = seeds.map(|seed| {
        judged(CASE, &[("seed", seed)])
            .0
            .response
            .undershoot_celsius
    });
    let spread =
        depths.iter().copied().fold(0.0, f64::max) - depths.iter().copied().fold(9.0, f64::min);
    assert!(spread < 0.1, "{depths:?}");
    let (_, reasons) = judged(CASE, &[("[accept]", "undershoot_celsius = 0.1")]);
    says(
        &reasons,
        Code::Undershoot,
        &["below the set point", "accept.undershoot_celsius is 0.1 K"],
    );
}

#[test]
fn a_fan_too_small_is_named() {
    let (_, reasons) = judged(
        CASE,
        &[("ventilation_w_per_kelvin", "ventilation_w_per_kelvin = 3")],
    );
    says(
        &reasons,
        Code::Saturated,
        &[
            "the fan runs at full for",
            "% of the time",
            "too hot",
            "more airflow, less heat, or a set point above",
        ],
    );
    // and the peak does not ask for more gain
    says(&reasons, Code::Peak, &["what the other reasons say"]);
}

#[test]
fn surroundings_near_or_above_the_set_point_are_named() {
    let (_, reasons) = judged(CASE, &[("ambient_celsius", "ambient_celsius = 38")]);
    says(&reasons, Code::Saturated, &["too hot"]);
    let (_, reasons) = judged(CASE, &[("ambient_celsius", "ambient_celsius = 42")]);
    says(
        &reasons,
        Code::SetPointBeyondSurroundings,
        &[
            "the surroundings are at 42 degC",
            "no airflow cools the box below that",
            "a set point above",
        ],
    );
    let (_, reasons) = judged(CASE, &[("ambient_celsius", "ambient_celsius = 53")]);
    says(
        &reasons,
        Code::SurroundingsAboveTrip,
        &["come to 53 degC", "loop.trip_celsius = 52"],
    );
    says(&reasons, Code::Alarm, &["trip", "without any fault"]);
    let (_, reasons) = judged(BATH, &[("ambient_celsius", "ambient_celsius = 41")]);
    says(
        &reasons,
        Code::SetPointBeyondSurroundings,
        &["a heater cannot cool to the set point of 37 degC"],
    );
}

#[test]
fn a_box_that_its_floor_keeps_cold_is_a_quiet_box() {
    let (figures, reasons) = judged(
        CASE,
        &[
            ("floor_percent", "floor_percent = 55"),
            ("load_w", "load_w = 20"),
            ("event", ""),
        ],
    );
    assert_eq!(reasons, []);
    assert!(
        figures.response.resting_at_least && figures.response.offset_celsius < -5.0,
        "{figures:#?}"
    );
    assert_eq!(figures.response.undershoot_celsius, 0.0);
}

#[test]
fn a_coarse_converter_that_trips_the_stuck_guard_is_named() {
    let (figures, reasons) = judged(
        CASE,
        &[
            ("bits", "bits = 8"),
            ("noise_lsb", "noise_lsb = 0"),
            ("error_celsius", "error_celsius = 0.5"),
            ("kp_percent_per_kelvin", "kp_percent_per_kelvin = 25"),
            (
                "ki_percent_per_kelvin_second",
                "ki_percent_per_kelvin_second = 0.3",
            ),
        ],
    );
    assert!(
        figures.alarms.iter().any(|a| a.alarm == "stuck"),
        "{figures:#?}"
    );
    says(
        &reasons,
        Code::Alarm,
        &[
            "counts as stuck",
            "without any fault",
            "the fan goes to full speed",
            "one code of the converter is",
            "a finer converter",
        ],
    );
}

#[test]
fn a_start_colder_than_the_table_is_named() {
    let (_, reasons) = judged(BATH, &[("low_celsius", "low_celsius = 22")]);
    says(
        &reasons,
        Code::OffTable,
        &[
            "the temperature leaves the table: 20 degC",
            "table.low_celsius = 22",
            "counts as a broken sensor, and the heater goes off",
        ],
    );
    lacks(&reasons, Code::Saturated);
}

#[test]
fn a_long_sample_period_with_much_gain_jumps() {
    let (figures, reasons) = judged(
        CASE,
        &[
            ("period_s", "period_s = 60"),
            ("kp_percent_per_kelvin", "kp_percent_per_kelvin = 60"),
            (
                "ki_percent_per_kelvin_second",
                "ki_percent_per_kelvin_second = 0.006",
            ),
        ],
    );
    assert!(figures.travel.largest_step_percent > 20.0, "{figures:#?}");
    says(
        &reasons,
        Code::DutyStep,
        &[
            "from one sample to the next",
            "accept.duty_step_percent is 10",
            "a shorter loop.period_s",
        ],
    );
}

#[test]
fn a_period_longer_than_the_plant_is_named() {
    let (_, reasons) = judged(
        CASE,
        &[
            ("period_s", "period_s = 60"),
            (
                "ki_percent_per_kelvin_second",
                "ki_percent_per_kelvin_second = 0.006",
            ),
            ("mass_joule_per_kelvin", "mass_joule_per_kelvin = 60"),
            ("air_joule_per_kelvin", "air_joule_per_kelvin = 20"),
        ],
    );
    says(
        &reasons,
        Code::PeriodTooLong,
        &[
            "loop.period_s = 60 is longer than the plant's own time constant",
            "loop.period_s of at most",
        ],
    );
}

#[test]
fn gains_a_hundred_times_too_large_hunt_and_the_way_back_was_tried() {
    let with = |ki: &str| {
        let line = format!("ki_percent_per_kelvin_second = {ki}");
        judged(
            CASE,
            &[
                ("kp_percent_per_kelvin", "kp_percent_per_kelvin = 1"),
                ("ki_percent_per_kelvin_second", &line),
                ("lag_s", "lag_s = 90"),
            ],
        )
    };
    assert!(!with("0.0039").0.hunting.present);
    let (figures, reasons) = with("0.39");
    assert!(figures.hunting.present, "{figures:#?}");
    says(
        &reasons,
        Code::Hunting,
        &[
            "the loop hunts: period",
            "too much gain: it holds still",
            "times lower",
        ],
    );
    // what the advice names is as good as it says
    let found = reasons.iter().find(|r| r.code == Code::Hunting);
    let advice = &found.expect("said").remedy;
    let ki = advice
        .split("loop.ki_percent_per_kelvin_second = ")
        .nth(1)
        .expect("a number");
    let (figures, _) = with(ki);
    assert!(!figures.hunting.present, "ki {ki}: {figures:#?}");
    // and a hundred times its kp is all noise
    let (_, reasons) = judged(
        CASE,
        &[("kp_percent_per_kelvin", "kp_percent_per_kelvin = 500")],
    );
    says(
        &reasons,
        Code::Jitter,
        &[
            "the duty jitters",
            "accept.jitter_per_hour is 60",
            "lower gains",
        ],
    );
    says(
        &reasons,
        Code::Travel,
        &["full strokes an hour, noise not counted"],
    );
    // while the slew limit holds its steps to 10 % a sample
    lacks(&reasons, Code::DutyStep);
}

#[test]
fn gains_a_hundred_times_too_small_are_named_with_the_factor() {
    let (_, reasons) = judged(
        CASE,
        &[
            ("kp_percent_per_kelvin", "kp_percent_per_kelvin = 0.05"),
            (
                "ki_percent_per_kelvin_second",
                "ki_percent_per_kelvin_second = 0.0005",
            ),
        ],
    );
    says(
        &reasons,
        Code::TooLittleIntegral,
        &[
            "does not settle within 0.5 K",
            "too little gain: it settles in time",
            "times higher",
        ],
    );
    let (figures, reasons) = judged(
        CASE,
        &[(
            "ki_percent_per_kelvin_second",
            "ki_percent_per_kelvin_second = 0",
        )],
    );
    says(
        &reasons,
        Code::TooLittleIntegral,
        &["proportional action alone leaves an offset"],
    );
    // and the two loops start alike
    assert!(figures.response.from_real_celsius_max < 0.1, "{figures:#?}");
    assert!(figures.response.offset_celsius > 1.0);
}

#[test]
fn a_heater_too_weak_is_named() {
    let (_, reasons) = judged(BATH, &[("heater_w", "heater_w = 20")]);
    says(
        &reasons,
        Code::Saturated,
        &[
            "the heater is on at its most for",
            "too cold",
            "it comes to 30 degC in the end",
            "a set point below 30 degC",
        ],
    );
}

#[test]
fn a_fan_that_stands_still_is_named_at_once_and_may_be_allowed() {
    let stalls = [
        ("floor_percent", "floor_percent = 10"),
        ("load_w", "load_w = 30"),
        ("event", ""),
    ];
    let (figures, reasons) = judged(CASE, &stalls);
    says(
        &reasons,
        Code::FanStandsStill,
        &[
            "fan.floor_percent = 10 is below plant.fan_stall_percent = 12",
            "fan.floor_percent of at least 12",
        ],
    );
    assert!(figures.travel.starts_per_hour > 0.0, "{figures:#?}");
    says(
        &reasons,
        Code::Starts,
        &[
            "the fan stalls and starts again",
            "accept.starts_per_hour is 0",
        ],
    );
    let allowed = [
        stalls[0],
        stalls[1],
        stalls[2],
        ("[accept]", "starts_per_hour = 200"),
    ];
    let (_, reasons) = judged(CASE, &allowed);
    lacks(&reasons, Code::FanStandsStill);
    lacks(&reasons, Code::Starts);
    let (_, reasons) = judged(CASE, &[("spin_up_percent", "spin_up_percent = 22")]);
    says(
        &reasons,
        Code::FanStandsStill,
        &["fan.spin_up_percent = 22 does not start the fan"],
    );
}

#[test]
fn a_load_that_switches_every_five_minutes_is_no_hunting() {
    let events: Vec<String> = (1..29)
        .map(|k| {
            format!(
                "{{ at_s = {}, load_w = {} }}",
                300 * k,
                if k % 2 == 0 { 60 } else { 90 }
            )
        })
        .collect();
    let line = format!("event = [ {} ]", events.join(", "));
    let (figures, reasons) = judged(CASE, &[("event", &line)]);
    assert!(!figures.hunting.present, "{figures:#?}");
    assert_eq!(reasons, []);
    assert!(
        figures.judged.repeated > 20 && figures.judged.gone_on >= 2,
        "{:?}",
        figures.judged
    );
}

#[test]
fn a_stretch_that_is_too_short_goes_on_and_a_loop_that_hunts_only_then_is_bad() {
    // within the band when the scenario ends; left alone it hunts
    let hunts = [
        ("kp_percent_per_kelvin", "kp_percent_per_kelvin = 0"),
        (
            "ki_percent_per_kelvin_second",
            "ki_percent_per_kelvin_second = 0.3",
        ),
        ("lag_s", "lag_s = 60"),
        ("event", ""),
    ];
    let mut short = hunts.to_vec();
    short.push(("duration_s", "duration_s = 500"));
    let (figures, reasons) = judged(CASE, &short);
    assert!(
        figures.judged.gone_on == 1 && figures.judged.longest_on_s > 500.0,
        "{figures:#?}"
    );
    says(&reasons, Code::Hunting, &["the loop hunts"]);
    let (long, _) = judged(CASE, &hunts);
    let (a, b) = (figures.hunting, long.hunting);
    assert!((a.period_s / b.period_s - 1.0).abs() < 0.1, "{a:?} {b:?}");
}

#[test]
fn mistakes_that_the_reader_refuses_say_what_would_be_right() {
    let refused = |text: &str, changes: &[(&str, &str)], words: &[&str]| {
        let said = design::parse("odd.toml", &edited(text, changes))
            .expect_err("refused")
            .to_string();
        for words in words {
            assert!(said.contains(words), "{words:?} is not in {said}");
        }
    };
    refused(
        BATH,
        &[("minimum_on_s", "minimum_on_s = 5")],
        &[
            "does not fit twice into the window",
            "at most half of window_s = 4",
        ],
    );
    refused(
        CASE,
        &[("beta_kelvin", "beta_kelvin = 39.5")],
        &["`sensor.beta_kelvin` = 39.5", "500 to 10000"],
    );
    refused(
        CASE,
        &[("r25_ohm", "r25_kohm = 10")],
        &["did you mean `r25_ohm`"],
    );
    refused(
        CASE,
        &[("set_point_celsius", "set_point_fahrenheit = 104")],
        &["set_point_celsius"],
    );
}

#[test]
fn a_wrong_side_and_a_wrong_beta_show_at_two_measured_points() {
    use crate::divider::check::{Finding, Point, judge};
    let sensing = design(CASE, &[]).sensing;
    let check = |points: [&str; 2]| {
        let points = points.map(|p| p.parse::<Point>().expect("a point"));
        judge(&sensing, points).expect("judged")
    };
    // the case's part: 10 kohm at 25 degC, Beta 3950, 3601 ohm at 50 degC by the Beta equation
    assert_eq!(check(["25:10kohm", "50:3.59kohm"]).finding, Finding::Agrees);
    // a part of Beta 3435
    assert_eq!(
        check(["25:10kohm", "50:4.105kohm"]).finding,
        Finding::WrongCurve
    );
    // on the other side of the divider the voltages are the rest of the supply
    let swapped = check(["25:1.336V", "50:2.160V"]);
    assert_eq!(swapped.finding, Finding::OtherSide);
}

#[test]
fn an_alarm_at_the_first_sample_leaves_nothing_to_compare() {
    let cold = design(BATH, &[("low_celsius", "low_celsius = 22")]);
    let built = build::build(&cold).expect("built");
    let law = &built.verdict.law;
    assert_eq!(
        (law.error_lsb_max, law.samples, law.ended_s),
        (None, 0, Some(0.0)),
        "{law:?}"
    );
    assert!(law.text().contains("not compared"), "{}", law.text());
    let json: serde_json::Value = serde_json::from_str(&built.verdict.to_json()).expect("JSON");
    assert_eq!(json["law"]["samples"], 0);
    assert!(json["law"]["error_lsb_max"].is_null());
    assert!(
        json["reasons"]
            .as_array()
            .expect("a list")
            .iter()
            .any(|r| r["code"] == "off-table")
    );
    // a whole run compares every sample
    let whole = design(BATH, &[]);
    let table = build::table(&whole.sensing).expect("a table");
    let healthy = build::respond(&whole, &table);
    assert_eq!(healthy.law.samples, healthy.observed.samples);
}
