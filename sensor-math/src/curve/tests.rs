//! What the curves answer for resistances that no sensor has. (Against published values and an oracle:
//! `tests/tests/sensor_curves.rs` of the project.)

use super::{Beta, Curve, Platinum, Point, Points, SteinhartHart};

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
