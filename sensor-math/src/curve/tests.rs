//! The curves against published values (each row carries its source; see `tests/published/`), and what
//! they answer for resistances that no sensor has.

extern crate std;
use super::{Beta, Curve, Platinum, Point, Points, SteinhartHart};
use hushloop_tests::{Row, rows};
use std::format;

fn beta(row: &Row) -> Beta {
    let r25 = if row.inputs.iter().any(|(name, _)| name == "R25") {
        row.input("R25")
    } else {
        10_000.0
    };
    Beta::new(r25, row.input("B"))
}

fn steinhart_hart(row: &Row) -> SteinhartHart {
    SteinhartHart::new(row.input("A"), row.input("B"), row.input("C"))
}

/// `t1,R1=0,30000`: a fit point, celsius and ohm.
fn fit(row: &Row) -> SteinhartHart {
    let point = |key: &str| {
        let (celsius, ohm) = row
            .inputs
            .iter()
            .find(|(name, _)| name == key)
            .expect("a point")
            .1
            .split_once(',')
            .expect("two numbers");
        (celsius.parse().expect("celsius"), ohm.parse().expect("ohm"))
    };
    SteinhartHart::through([point("t1,R1"), point("t2,R2"), point("t3,R3")]).expect("a curve")
}

#[test]
fn thermistors() {
    let mut checked = 0;
    for row in rows("ntc.csv") {
        let id = row.id.as_str();
        match id.split('-').nth(1).expect("a kind") {
            // B from two resistances a factor e apart whose inverse temperatures differ by 1/3000.
            "BDEF" => {
                let kelvin = 1.0 / (1.0 / 298.15 + 1.0 / 3000.0);
                row.check(Beta::between(
                    (kelvin - 273.15, 10_000.0 * 1f64.exp()),
                    (25.0, 10_000.0),
                ));
            }
            "ALPHA25" => {
                let curve = beta(&row);
                let h = 1e-3;
                let slope = (curve.ohm_at(25.0 + h).ln() - curve.ohm_at(25.0 - h).ln()) / (2.0 * h);
                row.check(100.0 * slope);
            }
            "RATIO8525" => row.check(beta(&row).ohm_at(85.0) / 10_000.0),
            kind if kind.starts_with("INV") => row.check(beta(&row).celsius_at(row.input("R"))),
            "SH" if id.starts_with("NTC-SH-T-") => {
                row.check(steinhart_hart(&row).celsius_at(row.input("R")));
            }
            "SH" if id.starts_with("NTC-SH-R-") => {
                row.check(steinhart_hart(&row).ohm_at(row.input("t_C")));
            }
            "FIT" => match id.rsplit('-').next().expect("a part") {
                // The rows print more digits than a fit in f64 keeps.
                "A" => assert!((fit(&row).a / row.number() - 1.0).abs() < 1e-12, "{id}"),
                "B" => assert!((fit(&row).b / row.number() - 1.0).abs() < 1e-12, "{id}"),
                _ => row.check(fit(&row).ohm_at(row.input("t_C"))),
            },
            "BETA" => {
                let curve = beta(&row);
                let a = 1.0 / 298.15 - curve.r25_ohm.ln() / curve.beta_kelvin;
                row.check(a);
                // The identity the row states: the same curve as Steinhart-Hart with C = 0.
                let same = SteinhartHart::new(a, 1.0 / curve.beta_kelvin, 0.0);
                for celsius in [-40.0, 0.0, 25.0, 60.0, 125.0] {
                    let ratio = same.ohm_at(celsius) / curve.ohm_at(celsius);
                    assert!((ratio - 1.0).abs() < 1e-12, "{celsius} degC: {ratio}");
                }
            }
            // What the sensor does in its divider: checked where that is worked out, in `tests/tests/sensor_divider.rs`.
            "SELF" | "DIV" => continue,
            "MIL" => row.check(Beta::between((25.0, row.input("ratio")), (125.0, 1.0))),
            kind if kind.starts_with('B') => row.check(beta(&row).ohm_at(row.input("t_C"))),
            other => panic!("{id}: no check for {other}"),
        }
        checked += 1;
    }
    assert_eq!(checked, 93);
}

#[test]
fn platinum() {
    let mut checked = 0;
    let pt100 = Platinum::new(100.0);
    let unit = Platinum::new(1.0);
    let rows = rows("platinum_rtd.csv");
    let coefficient = |i: usize| {
        let id = format!("PT-E1137-D{i}");
        rows.iter()
            .find(|row| row.id == id)
            .expect("a coefficient")
            .number()
    };
    for row in &rows {
        let id = row.id.as_str();
        if id.starts_with("PT100-") {
            row.check(pt100.ohm_at(row.input("t_C")));
        } else if id.starts_with("PT-HI-") {
            row.check(unit.ohm_at(row.input("t_C")));
        } else if id.starts_with("PT-SENS-") {
            let (t, h) = (row.input("t_C"), 1e-3);
            row.check((unit.ohm_at(t + h) - unit.ohm_at(t - h)) / (2.0 * h));
        } else if id.starts_with("PT-INV-") {
            row.check(Platinum::new(row.input("R0")).celsius_at(row.input("R_ohm")));
        } else if id.starts_with("PT-ALPHA") {
            row.check((pt100.ohm_at(100.0) - pt100.ohm_at(0.0)) / (100.0 * pt100.ohm_at(0.0)));
        } else if id == "PT-E1137-ERR" {
            // The standard's own inverse polynomial below zero, against our inverse.
            let mut worst = 0f64;
            for step in 0..=400 {
                let t = -0.5 * f64::from(step);
                let w = unit.ohm_at(t) - 1.0;
                let polynomial: f64 = (1..=4).map(|i| coefficient(i) * w.powi(i as i32)).sum();
                worst = worst.max((polynomial - unit.celsius_at(1.0 + w)).abs());
            }
            row.check(worst);
        } else {
            assert!(id.starts_with("PT-E1137-D"), "{id}: no check");
        }
        checked += 1;
    }
    assert_eq!(checked, 83);
}

const POINTS: Points = Points::constant(&[
    Point {
        celsius: 0.0,
        ohm: 100.0,
    },
    Point {
        celsius: 100.0,
        ohm: 138.5055,
    },
]);

/// One curve of each kind, with the temperature that its own type gives.
#[test]
fn a_curve_is_its_own_kind() {
    let beta = Beta::new(10_000.0, 3435.0);
    let steinhart = SteinhartHart::new(1.40e-3, 2.37e-4, 9.90e-8);
    let platinum = Platinum::new(100.0);
    for (curve, ohm_at, celsius_at, positive, range) in [
        (
            Curve::Beta(beta),
            beta.ohm_at(40.0),
            beta.celsius_at(120.0),
            false,
            (-100.0, 300.0),
        ),
        (
            Curve::SteinhartHart(steinhart),
            steinhart.ohm_at(40.0),
            steinhart.celsius_at(120.0),
            false,
            (-100.0, 300.0),
        ),
        (
            Curve::Platinum(platinum),
            platinum.ohm_at(40.0),
            platinum.celsius_at(120.0),
            true,
            (-200.0, 850.0),
        ),
        (
            Curve::Points(POINTS),
            POINTS.ohm_at(40.0),
            POINTS.celsius_at(120.0),
            true,
            (0.0, 100.0),
        ),
    ] {
        assert_eq!(curve.ohm_at(40.0), ohm_at);
        assert_eq!(curve.celsius_at(120.0), celsius_at);
        assert_eq!(
            (curve.is_positive(), curve.range_celsius()),
            (positive, range)
        );
        assert!(curve.is_valid_over(10.0, 90.0), "{curve:?}");
    }
}

/// At 0 ohm and at infinite resistance the temperature is the infinity of the matching sign, and
/// so it is wherever the formula gives no temperature above absolute zero.
#[test]
fn resistances_that_no_sensor_has() {
    let ends = |curve: Curve| [-5.0, 0.0, f64::INFINITY].map(|ohm| curve.celsius_at(ohm));
    let (hot, cold) = (f64::INFINITY, f64::NEG_INFINITY);
    let beta = Curve::Beta(Beta::new(10_000.0, 3435.0));
    let steinhart = Curve::SteinhartHart(SteinhartHart::new(1.40e-3, 2.37e-4, 9.90e-8));
    assert_eq!(ends(beta), [hot, hot, cold]);
    assert_eq!(ends(steinhart), [hot, hot, cold]);
    assert_eq!(
        ends(Curve::Platinum(Platinum::new(100.0))),
        [cold, cold, hot]
    );
    // 1/T = 1/298.15 + ln(R/R25)/B reaches zero at R25 exp(-B/298.15): 7150.2 ohm for B = 100
    let nowhere = 10_000.0 * (-100.0 / 298.15_f64).exp();
    let flat = Beta::new(10_000.0, 100.0);
    assert_eq!(flat.celsius_at(nowhere * 0.999), hot);
    assert!(flat.celsius_at(nowhere * 1.001) > 90_000.0 && flat.celsius_at(nowhere * 1.001) < hot);
    // A = 0: 1/T = B ln R reaches zero at 1 ohm
    let flat = SteinhartHart::new(0.0, 4e-4, 0.0);
    assert_eq!(flat.celsius_at(0.999), hot);
    assert!(flat.celsius_at(1.001) > 1e6 && flat.celsius_at(1.001) < hot);
    // the quadratic of IEC 60751 ends where t = -A / 2B: 3384 degC and 761.2 ohm of a Pt100
    let top = 100.0 * (1.0 + 3.9083e-3 * 3.9083e-3 / (4.0 * 5.775e-7));
    assert!((Platinum::new(100.0).celsius_at(top * 0.999_999) - 3383.8).abs() < 10.0);
    assert_eq!(Platinum::new(100.0).celsius_at(top * 1.000_001), hot);
}

#[test]
fn impossible_parameters_are_refused() {
    for bad in [0.0, -1.0, f64::INFINITY, f64::NAN] {
        assert!(
            !Curve::Beta(Beta::new(bad, 3435.0)).is_valid_over(0.0, 50.0),
            "{bad}"
        );
        assert!(
            !Curve::Beta(Beta::new(10_000.0, bad)).is_valid_over(0.0, 50.0),
            "{bad}"
        );
        assert!(
            !Curve::Platinum(Platinum::new(bad)).is_valid_over(0.0, 50.0),
            "{bad}"
        );
    }
}

/// Below 0 degC the quartic of IEC 60751 has no closed inverse; Newton's iteration finds it to the
/// rounding of f64, and down to where the polynomial is continued.
#[test]
fn platinum_inverts_to_the_last_digit() {
    let mut cases = 0;
    for r0 in [100.0, 1000.0] {
        let part = Platinum::new(r0);
        for half in -400..=1700 {
            let celsius = f64::from(half) / 2.0;
            let back = part.celsius_at(part.ohm_at(celsius));
            assert!(
                (back - celsius).abs() < 2e-14 * (300.0 + celsius.abs()),
                "{celsius}: {back}"
            );
            cases += 1;
        }
    }
    assert_eq!(cases, 2 * 2101);
    let part = Platinum::new(100.0);
    assert!((part.celsius_at(part.ohm_at(-230.0)) + 230.0).abs() < 1e-11);
}
