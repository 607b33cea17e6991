extern crate std;
use super::{Point, Points, PointsError};
use crate::curve::{Beta, Platinum, SteinhartHart};
use std::string::ToString;
use std::vec::Vec;

#[test]
fn unusable_points_are_named() {
    let points = |list: &[(f64, f64)]| {
        let list: Vec<Point> = list
            .iter()
            .map(|&(celsius, ohm)| Point { celsius, ohm })
            .collect();
        Points::new(Vec::leak(list))
    };
    assert_eq!(points(&[(0.0, 1.0)]), Err(PointsError::TooFew));
    assert_eq!(
        points(&[(0.0, 3.0), (0.0, 2.0)]),
        Err(PointsError::NotAscending(1))
    );
    assert_eq!(
        points(&[(0.0, 3.0), (9.0, 3.0)]),
        Err(PointsError::NotMonotone(1))
    );
    assert_eq!(
        points(&[(0.0, 3.0), (9.0, 2.0), (19.0, 2.5)]),
        Err(PointsError::NotMonotone(2))
    );
    assert_eq!(
        points(&[(0.0, 3.0), (9.0, 0.0)]),
        Err(PointsError::Impossible(1))
    );
    assert_eq!(
        points(&[(0.0, f64::NAN), (9.0, 1.0)]),
        Err(PointsError::Impossible(0))
    );
    assert!(points(&[(0.0, 3.0), (9.0, 2.0)]).is_ok());
}

/// Measured points every 10 degC of a known part: between them the curve stays monotone and near the part.
#[test]
fn points_are_monotone_and_near() {
    let part = Beta::new(10_000.0, 3950.0);
    let steinhart = SteinhartHart::new(1.129148e-3, 2.34125e-4, 8.76741e-8);
    let platinum = Platinum::new(100.0);
    let curves: [(&dyn Fn(f64) -> f64, f64); 3] = [
        (&|t| part.ohm_at(t), 0.001),
        (&|t| steinhart.ohm_at(t), 0.02),
        (&|t| platinum.ohm_at(t), 0.2),
    ];
    let mut cases = 0;
    for (ohm_at, near) in curves {
        let list: Vec<Point> = (0..=12)
            .map(|i| f64::from(i) * 10.0 - 20.0)
            .map(|celsius| Point {
                celsius,
                ohm: ohm_at(celsius),
            })
            .collect();
        let points = Points::new(Vec::leak(list)).expect("points");
        let mut before = f64::NEG_INFINITY;
        for tenth in -250..=1_050 {
            let celsius = f64::from(tenth) / 10.0;
            let got = points.celsius_at(ohm_at(celsius));
            assert!(got > before, "{celsius}: {got} after {before}");
            before = got;
            if (-20.0..=100.0).contains(&celsius) {
                assert!((got - celsius).abs() < near, "{celsius}: {got}");
                let back = points.celsius_at(points.ohm_at(celsius));
                assert!((back - celsius).abs() < 1e-9, "{celsius}: {back}");
            }
            cases += 1;
        }
    }
    assert_eq!(cases, 3 * 1_301);
}

fn leak(list: &[(f64, f64)]) -> Points {
    let list: Vec<Point> = list
        .iter()
        .map(|&(celsius, ohm)| Point { celsius, ohm })
        .collect();
    Points::new(Vec::leak(list)).expect("points")
}

/// Two points of a thermistor that follows the Beta equation lie on a straight line of `1/T` over
/// `ln R`, so the whole curve is that equation, between the points and beyond them.
#[test]
fn two_points_are_the_beta_equation() {
    let part = Beta::new(10_000.0, 3950.0);
    let two = leak(&[(0.0, part.ohm_at(0.0)), (60.0, part.ohm_at(60.0))]);
    let three = leak(&[
        (0.0, part.ohm_at(0.0)),
        (25.0, part.ohm_at(25.0)),
        (60.0, part.ohm_at(60.0)),
    ]);
    for points in [two, three] {
        for celsius in -50..=150 {
            let celsius = f64::from(celsius);
            let ohm = 10_000.0 * (3950.0 / (celsius + 273.15) - 3950.0 / 298.15_f64).exp();
            assert!((points.celsius_at(ohm) - celsius).abs() < 1e-9, "{celsius}");
            assert!(
                (points.ohm_at(celsius) / ohm - 1.0).abs() < 1e-10,
                "{celsius}"
            );
        }
    }
    assert_eq!(two.range_celsius(), (0.0, 60.0));
    assert!(!two.is_positive());
    assert!(leak(&[(0.0, 100.0), (100.0, 138.5)]).is_positive());
}

/// Every piece is the cubic that has the points' values and slopes, by the textbook Hermite basis; the
/// slope inside is Fritsch and Butland's weighted harmonic mean, at the ends the secant.
#[test]
fn pieces_are_hermite_cubics_of_the_weighted_harmonic_mean() {
    let list = [
        (0.0, 33_000.0),
        (25.0, 9_500.0),
        (60.0, 2_600.0),
        (100.0, 650.0),
    ];
    let points = leak(&list);
    let (x, y): (Vec<f64>, Vec<f64>) = list
        .iter()
        .map(|(t, r)| (r.ln(), 1.0 / (t + 273.15)))
        .unzip();
    let secant = |i: usize| (y[i + 1] - y[i]) / (x[i + 1] - x[i]);
    let slope = |i: usize| {
        if i == 0 || i == 3 {
            return secant(if i == 0 { 0 } else { 2 });
        }
        let (before, after) = (x[i] - x[i - 1], x[i + 1] - x[i]);
        // 1/m = ((2 after + before) / d_before + (after + 2 before) / d_after) / (3 (before + after))
        let inverse = (2.0 * after + before) / secant(i - 1) + (after + 2.0 * before) / secant(i);
        3.0 * (before + after) / inverse
    };
    let mut cases = 0;
    for i in 0..3 {
        for part in 0..=20 {
            let s = f64::from(part) / 20.0;
            let h = x[i + 1] - x[i];
            let (s2, s3) = (s * s, s * s * s);
            let inverse = (2.0 * s3 - 3.0 * s2 + 1.0) * y[i]
                + (s3 - 2.0 * s2 + s) * h * slope(i)
                + (3.0 * s2 - 2.0 * s3) * y[i + 1]
                + (s3 - s2) * h * slope(i + 1);
            let ohm = (x[i] + s * h).exp();
            let got = points.celsius_at(ohm) + 273.15;
            assert!((got * inverse - 1.0).abs() < 1e-12, "piece {i} at {s}");
            let back = points.ohm_at(1.0 / inverse - 273.15);
            assert!((back / ohm - 1.0).abs() < 1e-11, "piece {i} at {s}: {back}");
            cases += 1;
        }
    }
    assert_eq!(cases, 63);
    // beyond the ends along the end's slope
    for (end, ohm) in [(0, 90_000.0_f64), (3, 200.0)] {
        let inverse = y[end] + slope(end) * (ohm.ln() - x[end]);
        let celsius = 1.0 / inverse - 273.15;
        assert!((points.celsius_at(ohm) - celsius).abs() < 1e-9);
        assert!((points.ohm_at(celsius) / ohm - 1.0).abs() < 1e-12);
    }
}

/// At a point itself both ways give the point, whatever the direction of the curve.
#[test]
fn the_points_themselves() {
    let falling = [
        (-20.0, 70_000.0),
        (0.0, 30_000.0),
        (25.0, 10_000.0),
        (70.0, 2_000.0),
    ];
    let rising = [(-20.0, 92.16), (0.0, 100.0), (25.0, 109.73), (70.0, 127.08)];
    for list in [falling, rising] {
        let points = leak(&list);
        for (celsius, ohm) in list {
            assert!(
                (points.celsius_at(ohm) - celsius).abs() < 1e-10,
                "{celsius}"
            );
            assert!(
                (points.ohm_at(celsius) / ohm - 1.0).abs() < 1e-12,
                "{celsius}"
            );
        }
    }
}

#[test]
fn resistances_that_no_sensor_has() {
    let falling = leak(&[(0.0, 30_000.0), (25.0, 10_000.0)]);
    let rising = leak(&[(0.0, 100.0), (100.0, 138.5)]);
    let ends = |points: Points| [-1.0, 0.0, f64::INFINITY].map(|ohm| points.celsius_at(ohm));
    let (hot, cold) = (f64::INFINITY, f64::NEG_INFINITY);
    assert_eq!(ends(falling), [hot, hot, cold]);
    assert_eq!(ends(rising), [cold, cold, hot]);
    // along the end's slope 1/T reaches zero, and what lies beyond is infinitely hot
    assert_eq!(falling.celsius_at(1e-6), hot);
    assert_eq!(rising.celsius_at(1e6), hot);
}

#[test]
fn limits_of_a_point() {
    let point = |celsius, ohm| {
        Points::new(Vec::leak(std::vec![
            Point {
                celsius: 50.0,
                ohm: 10.0
            },
            Point { celsius, ohm },
        ]))
    };
    assert!(point(50.001, 5.0).is_ok() && point(60.0, 20.0).is_ok());
    for (celsius, ohm) in [
        (60.0, 0.0),
        (60.0, -1.0),
        (60.0, f64::INFINITY),
        (60.0, f64::NAN),
        (f64::INFINITY, 5.0),
        (f64::NAN, 5.0),
        (-273.15, 5.0),
        (-300.0, 5.0),
    ] {
        assert_eq!(
            point(celsius, ohm),
            Err(PointsError::Impossible(1)),
            "{celsius} {ohm}"
        );
    }
    assert_eq!(point(49.0, 5.0), Err(PointsError::NotAscending(1)));
    let three = |last: f64, middle: f64| {
        Points::new(Vec::leak(std::vec![
            Point {
                celsius: 0.0,
                ohm: 10.0
            },
            Point {
                celsius: 1.0,
                ohm: middle
            },
            Point {
                celsius: 2.0,
                ohm: last
            },
        ]))
    };
    assert!(three(30.0, 20.0).is_ok() && three(3.0, 5.0).is_ok());
    assert_eq!(three(15.0, 20.0), Err(PointsError::NotMonotone(2)));
    assert_eq!(three(20.0, 20.0), Err(PointsError::NotMonotone(2)));
    assert_eq!(three(5.0, 10.0), Err(PointsError::NotMonotone(1)));
}

/// People count points from one.
#[test]
fn errors_name_the_point() {
    for (error, word) in [
        (PointsError::TooFew, "at least 2"),
        (PointsError::Impossible(2), "point 3 has"),
        (PointsError::NotAscending(3), "point 4 is not hotter"),
        (PointsError::NotMonotone(1), "at point 2 "),
    ] {
        assert!(error.to_string().contains(word), "{error}");
    }
}
