//! The judgement of a sensor: plausibility of measured points, and the resistor that suits it.

use host_harness::design::{self, Sensing};
use host_harness::divider::check::{Finding, Point, REAL_BETA_KELVIN, judge};
use host_harness::divider::resistor::{Goal, Series, best_resistor};
use host_harness::reference::sensor::beta_ohm;

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
