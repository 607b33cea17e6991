//! The judgement of a sensor: plausibility of measured points, and the resistor that suits it.

use host_harness::design::Burst;
use host_harness::design::{self, Sensing};
use host_harness::divider::alias::{Disturbance, alias, aliases, filter_leaves, mean_leaves};
use host_harness::divider::budget::budget;
use host_harness::divider::check::{Finding, Point, REAL_BETA_KELVIN, judge};
use host_harness::divider::resistor::{Goal, Series, best_resistor};
use host_harness::divider::{self_heating_kelvin, sensor_watts};
use host_harness::reference::sensor::beta_ohm;
use hushloop_tests::rows_of;
use sensor_math::divider::{Divider, Side};

fn rack(volts: f64) -> Sensing {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../host-harness/designs/studio-rack.toml"
    );
    let text = std::fs::read_to_string(path).expect("the demo design");
    let text = text.replace("supply_volts = 5.0", &format!("supply_volts = {volts}"));
    design::parse("rack.toml", &text)
        .unwrap_or_else(|e| panic!("{e}"))
        .sensing
}

fn points(a: &str, b: &str) -> [Point; 2] {
    [a.parse().expect("a point"), b.parse().expect("a point")]
}

/// A measurement from practice, no source: the implied Beta is under any real thermistor's, so the probe was
/// not at the reference's temperature, and no curve may be fitted to it.
#[test]
fn a_probe_that_is_not_at_the_references_temperature_is_named_as_such() {
    for volts in [3.0, 3.3, 4.0, 5.0, 5.5] {
        let found =
            judge(&rack(volts), points("36:0.923V", "48:1.088V")).expect("possible voltages");
        assert!(found.implied_beta_kelvin < 2100.0, "{volts} V: {found:?}");
        assert!(found.implied_beta_kelvin < REAL_BETA_KELVIN.0);
        assert_eq!(
            found.finding,
            Finding::ProbeElsewhere,
            "{volts} V: {found:?}"
        );
    }
}

#[test]
fn the_designs_own_curve_agrees_and_another_does_not() {
    let at =
        |beta: f64, celsius: f64| format!("{celsius}:{}ohm", beta_ohm(10_000.0, beta, celsius));
    let own = judge(&rack(5.0), points(&at(3435.0, 20.0), &at(3435.0, 60.0))).expect("possible");
    assert_eq!(own.finding, Finding::Agrees, "{own:?}");
    // a 3435 table on a 3977 part errs by 2.5 K at 40 and 6.3 K at 60 degC (common practice, no source)
    let other = judge(&rack(5.0), points(&at(3977.0, 40.0), &at(3977.0, 60.0))).expect("possible");
    assert_eq!(other.finding, Finding::WrongCurve, "{other:?}");
    for (read, (celsius, off)) in other.read_celsius.iter().zip([(40.0, 2.5), (60.0, 6.3)]) {
        assert!((read - celsius - off).abs() < 0.1, "{read} at {celsius}");
    }
    assert!(
        judge(&rack(5.0), points("20:6V", "60:3V")).is_err(),
        "more than the supply"
    );
    assert!("20:3".parse::<Point>().is_err());
}

/// IEC 60751:2022: 1000 ohm at 0 degC and 1385.055 ohm at 100 degC for a Pt1000.
#[test]
fn a_platinum_sensor_is_judged_as_platinum() {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../host-harness/designs/brew-kettle.toml"
    );
    let kettle = design::load_sensing(path.as_ref()).unwrap_or_else(|e| panic!("{e}"));
    for (a, b, finding, words) in [
        ("0:1000ohm", "100:1385.055ohm", Finding::Agrees, "agree"),
        (
            "0:1000ohm",
            "100:1150ohm",
            Finding::ProbeElsewhere,
            "39 % of the change",
        ),
        (
            "20:12.5kohm",
            "60:3kohm",
            Finding::OtherKind,
            "falls from the colder",
        ),
        // the two points taken for each other
        (
            "100:1000ohm",
            "0:1385.055ohm",
            Finding::OtherKind,
            "which point is which",
        ),
    ] {
        let found = judge(&kettle, points(a, b)).expect("possible");
        assert_eq!(found.finding, finding, "{found:?}");
        assert!(found.advice().contains(words), "{}", found.advice());
    }
}

/// For one temperature and a plain divider the best resistor equals the sensor: d/dR of R_s R / (R_s + R)^2 = 0.
#[test]
fn the_best_resistor_at_a_temperature_is_the_sensors_own_resistance() {
    let sensing = rack(5.0);
    for celsius in [0.0, 25.0, 38.0, 80.0] {
        let best = best_resistor(&sensing.sensor, Goal::At(celsius));
        let own = beta_ohm(10_000.0, 3435.0, celsius);
        assert!(
            (best / own - 1.0).abs() < 0.01,
            "{best} against {own} at {celsius}"
        );
    }
    // IEC 60063: E12 holds 4.7, E24 5.1, E96 5.11
    assert_eq!(Series::E12.nearest(4900.0), 4700.0);
    assert_eq!(Series::E24.nearest(5150.0), 5100.0);
    assert_eq!(Series::E96.nearest(5130.0), 5110.0);
}

/// What a burst leaves of a sine, sampled at 720 phases: the largest mean, against the closed form.
#[test]
fn a_burst_leaves_what_its_samples_average_to() {
    let mut cases = 0;
    for samples in [1u32, 2, 4, 16, 64] {
        for rate in [97.0, 160.0, 800.0, 1234.5] {
            for hertz in [12.0, 50.0, 60.0, 100.0, 160.0, 401.0, 25_000.0] {
                let mean = |phase: f64| {
                    (0..samples)
                        .map(|i| {
                            (std::f64::consts::TAU * hertz * f64::from(i) / rate + phase).sin()
                        })
                        .sum::<f64>()
                        / f64::from(samples)
                };
                let largest = (0..720)
                    .map(|half| mean(f64::from(half) * std::f64::consts::TAU / 720.0).abs())
                    .fold(0.0, f64::max);
                let left = mean_leaves(hertz, samples, rate);
                assert!(
                    (left - largest).abs() < 1e-4,
                    "{samples} {rate} {hertz}: {left} {largest}"
                );
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 5 * 4 * 7);
    // First-order low-pass: 1/sqrt(2) at its corner, 1 / (2 pi R C).
    let corner = 1.0 / (std::f64::consts::TAU * 5_000.0 * 100e-9);
    assert!((filter_leaves(corner, 5_000.0, 100e-9) - 0.5f64.sqrt()).abs() < 1e-12);
    assert_eq!(filter_leaves(25_000.0, 5_000.0, 0.0), 1.0);
}

/// Hum at 50.2 Hz, sampled twice a second, is a swing of 5 s that the loop follows; over a whole cycle of the mains
/// it is nearly gone. At 7.3 samples a second it is too fast to matter.
#[test]
fn hum_that_the_loop_would_follow_is_named() {
    let hum = |hertz: f64, period_s: f64, samples: u32, rate: f64| {
        let burst = Burst {
            samples,
            hertz: rate,
        };
        let disturbance = Disturbance {
            name: "hum",
            hertz,
            tolerance: 0.0,
        };
        alias(disturbance, period_s, burst, 5_000.0, 0.0)
    };
    let bare = hum(50.1, 0.5, 1, 1.0);
    assert!((bare.alias_hertz - 0.1).abs() < 1e-9 && bare.left == 1.0 && bare.critical);
    let averaged = hum(50.1, 0.5, 16, 800.0);
    assert!(averaged.left < 0.01 && !averaged.critical, "{averaged:?}");
    let fast = hum(50.0, 1.0 / 7.3, 1, 1.0);
    assert!(fast.alias_hertz > 0.73 && !fast.critical, "{fast:?}");
    // The tolerance counts: 50 Hz every 0.31 s appears at 1.61 Hz, but 1.6 Hz further up it stands still.
    let wandering = alias(
        Disturbance {
            name: "hum",
            hertz: 50.0,
            tolerance: 0.04,
        },
        0.31,
        Burst {
            samples: 1,
            hertz: 1.0,
        },
        5_000.0,
        0.0,
    );
    assert!(wandering.alias_hertz > 1.6 && wandering.lowest_hertz == 0.0 && wandering.critical);
}

/// The demo rack is quiet with its burst and its capacitor, and is told so when either is taken away.
#[test]
fn the_designs_own_sampling_is_judged() {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../host-harness/designs/studio-rack.toml"
    );
    let text = std::fs::read_to_string(path).expect("the demo design");
    let critical = |text: &str| -> Vec<&'static str> {
        let design = design::parse("rack.toml", text).unwrap_or_else(|e| panic!("{e}"));
        let found = aliases(&design.sensing, &design.control);
        assert_eq!(found.len(), 5, "two mains, twice each, and the fan's PWM");
        found
            .iter()
            .filter(|a| a.critical)
            .map(|a| a.disturbance.name)
            .collect()
    };
    assert_eq!(critical(&text), [""; 0]);
    let bare = text.replace("filter_nanofarad", "# filter_nanofarad");
    assert_eq!(critical(&bare), ["fan's PWM"]);
    let single = text
        .replace("burst_samples", "# burst_samples")
        .replace("burst_hertz", "# burst_hertz");
    assert!(
        critical(&single).contains(&"mains hum"),
        "{:?}",
        critical(&single)
    );
    let without_rate = text.replace("burst_hertz", "# burst_hertz");
    let refused = design::parse("rack.toml", &without_rate).expect_err("refused");
    assert!(refused.to_string().contains("without a rate"), "{refused}");
    let too_long = text.replace("burst_hertz = 160", "burst_hertz = 16");
    let refused = design::parse("rack.toml", &too_long).expect_err("refused");
    assert!(
        refused.to_string().contains("before the burst"),
        "{refused}"
    );
}

/// Self-heating and the most that a sensor can take, against their published rows (`published/ntc.csv`).
#[test]
fn self_heating_and_the_most_power_are_the_published_ones() {
    let mut checked = 0;
    for row in rows_of("ntc.csv", "NTC-SELF") {
        let watts = row.input("P_mW") / 1000.0;
        row.check(self_heating_kelvin(
            watts,
            row.input("delta_mW_per_K") / 1000.0,
        ));
        checked += 1;
    }
    for row in rows_of("ntc.csv", "NTC-DIV-PMAX") {
        let (volts, ohm) = (row.input("V"), row.input("Rs"));
        for side in [Side::Supply, Side::Ground] {
            let divider = Divider::new(side, ohm);
            let milliwatts = |sensor: f64| 1000.0 * sensor_watts(&divider, volts, sensor);
            row.check(milliwatts(ohm));
            for times in [0.1, 0.5, 0.99, 1.01, 2.0, 10.0] {
                assert!(
                    milliwatts(times * ohm) < milliwatts(ohm),
                    "{}: {times}",
                    row.id
                );
            }
        }
        checked += 1;
    }
    assert_eq!(checked, 3);
}

/// IEC 60751's classes at every published temperature, in a budget whose table covers the whole of the class's range:
/// what the budget states of the sensor is the class's a + b |t|, at the printed figure.
#[test]
fn a_platinum_sensor_s_budget_is_its_class_over_the_whole_range() {
    let kettle = include_str!("../../host-harness/designs/brew-kettle.toml");
    let folder = tempfile::tempdir().expect("a folder");
    let sensing = |class: &str, element: &str, low: f64, high: f64| {
        let text = kettle
            .replace(
                "tolerance_class = \"B\"",
                &format!("tolerance_class = \"{class}\"\nelement = \"{element}\""),
            )
            .replace("low_celsius = 0\n", &format!("low_celsius = {low}\n"))
            .replace("high_celsius = 160", &format!("high_celsius = {high}"));
        let path = folder.path().join("sensor.toml");
        std::fs::write(&path, text).expect("written");
        design::load_sensing(&path)
    };
    let ranges = [
        ("AA", "wire", -50.0, 250.0),
        ("AA", "film", 0.0, 150.0),
        ("A", "wire", -100.0, 450.0),
        ("A", "film", -30.0, 300.0),
        ("B", "wire", -196.0, 600.0),
        ("B", "film", -50.0, 500.0),
        ("C", "wire", -196.0, 600.0),
        ("C", "film", -50.0, 600.0),
    ];
    let published = hushloop_tests::rows_of("platinum_rtd.csv", "PT-TOL-");
    assert_eq!(published.len(), 16);
    let mut inside = 0;
    for (class, element, low, high) in ranges {
        let whole = sensing(class, element, low, high).unwrap_or_else(|e| panic!("{e}"));
        let tolerance = whole.facts.class.expect("a class");
        assert_eq!(tolerance.range_celsius(), (low, high));
        for row in published
            .iter()
            .filter(|row| row.id.split('-').nth(2) == Some(class))
        {
            row.check(tolerance.kelvin_at(row.input("t_C")));
        }
        for row in budget(&whole, 33, 1).rows {
            let stated = row.sources.nominal + row.sources.beta;
            let wanted = tolerance.kelvin_at(row.celsius);
            assert!(
                (stated - wanted).abs() < 1e-6,
                "{class} {element} {:.1} degC: {stated} K stated, {wanted} K allowed",
                row.celsius
            );
            inside += 1;
        }
        for (low, high) in [(low - 1.0, high), (low, high + 1.0)] {
            let error = sensing(class, element, low, high)
                .expect_err("outside")
                .to_string();
            assert!(error.contains("tolerance class covers"), "{error}");
        }
    }
    assert_eq!(inside, 8 * 33);
}

/// With an ideal table and parts, the most accurate resistor is the one of the finest step; with a sensor that a strong
/// current heats, it is a larger one; and it is never worse than its neighbours.
#[test]
fn the_most_accurate_resistor_weighs_the_whole_budget() {
    use host_harness::divider::resistor::{most_accurate_resistor, whole_error_celsius};
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../host-harness/designs/studio-rack.toml"
    );
    let mut rack = design::load_sensing(path.as_ref()).unwrap_or_else(|e| panic!("{e}"));
    let mut found = Vec::new();
    for dissipation in [1e3, 2.5e-3, 0.5e-3] {
        rack.facts.dissipation_w_per_kelvin = dissipation;
        let best = most_accurate_resistor(&rack);
        let at = |ohm| whole_error_celsius(&rack, ohm);
        for other in [0.5, 0.9, 0.99, 1.01, 1.1, 2.0] {
            assert!(at(best) <= at(best * other) + 1e-9, "{best} {other}");
        }
        found.push(best);
    }
    assert!(found[2] > 1.2 * found[0], "{found:?}");
}
