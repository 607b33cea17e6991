extern crate std;
use super::{SteinhartHart, SteinhartHartError};
use std::string::ToString;

/// A common 10 kohm part, in any of many data books; only its shape matters here.
const PART: SteinhartHart = SteinhartHart::new(1.129148e-3, 2.34125e-4, 8.76741e-8);

/// The equation of the paper, in std's logarithm.
fn kelvin(part: &SteinhartHart, ohm: f64) -> f64 {
    let l = ohm.ln();
    1.0 / (part.a + part.b * l + part.c * l.powi(3))
}

#[test]
fn both_ways_are_the_equation() {
    let mut cases = 0;
    // with a cubic term, without one, and with one so small that a closed form would cancel
    for c in [8.76741e-8, 0.0, 1e-16] {
        let part = SteinhartHart { c, ..PART };
        let mut ohm = 10.0;
        while ohm < 2e6 {
            let celsius = kelvin(&part, ohm) - 273.15;
            assert!((part.celsius_at(ohm) - celsius).abs() < 1e-10, "{ohm}");
            assert!((part.ohm_at(celsius) / ohm - 1.0).abs() < 1e-11, "{ohm}");
            ohm *= 1.07;
            cases += 1;
        }
    }
    assert_eq!(cases, 3 * 181);
}

/// Three points of a known part give its coefficients back, in whatever order they come.
#[test]
fn a_fit_finds_the_part_again() {
    let at = |ohm: f64| (kelvin(&PART, ohm) - 273.15, ohm);
    let (cold, middle, hot) = (at(33_000.0), at(8_000.0), at(700.0));
    for points in [
        [cold, middle, hot],
        [cold, hot, middle],
        [middle, cold, hot],
        [middle, hot, cold],
        [hot, cold, middle],
        [hot, middle, cold],
    ] {
        let part = SteinhartHart::through(points).expect("a curve");
        assert!((part.a / PART.a - 1.0).abs() < 1e-9, "{part:?}");
        assert!((part.b / PART.b - 1.0).abs() < 1e-9, "{part:?}");
        assert!((part.c / PART.c - 1.0).abs() < 1e-8, "{part:?}");
        for (celsius, ohm) in points {
            assert!((part.celsius_at(ohm) - celsius).abs() < 1e-9);
        }
    }
}

#[test]
fn points_that_give_no_curve_are_told_apart() {
    let good = [(0.0, 30_000.0), (25.0, 10_000.0), (70.0, 2_000.0)];
    assert!(SteinhartHart::through(good).is_ok());
    for at in 0..3 {
        let with = |celsius: f64, ohm: f64| {
            let mut points = good;
            points[at] = (celsius, ohm);
            SteinhartHart::through(points).err()
        };
        let (celsius, ohm) = good[at];
        for bad in [0.0, -1.0, f64::INFINITY, f64::NAN] {
            assert_eq!(
                with(celsius, bad),
                Some(SteinhartHartError::Impossible),
                "{at} {bad}"
            );
        }
        for bad in [-273.15, -300.0, f64::INFINITY, f64::NAN] {
            assert_eq!(
                with(bad, ohm),
                Some(SteinhartHartError::Impossible),
                "{at} {bad}"
            );
        }
        let next = good[(at + 1) % 3];
        let other = good[(at + 2) % 3];
        for twin in [next, other] {
            assert_eq!(with(twin.0, ohm), Some(SteinhartHartError::Equal), "{at}");
            assert_eq!(
                with(celsius, twin.1),
                Some(SteinhartHartError::Equal),
                "{at}"
            );
        }
    }
    // rising throughout; falling overall but not in the middle; rising overall but not in the middle
    for [a, b, c] in [
        [2_000.0, 10_000.0, 30_000.0],
        [30_000.0, 40_000.0, 2_000.0],
        [30_000.0, 1_000.0, 2_000.0],
        [10_000.0, 2_000.0, 30_000.0],
    ] {
        for order in [[0, 1, 2], [2, 1, 0], [1, 2, 0]] {
            let points = [(0.0, a), (25.0, b), (70.0, c)];
            let got = SteinhartHart::through(order.map(|i| points[i])).err();
            assert_eq!(got, Some(SteinhartHartError::NotMonotone), "{a} {b} {c}");
        }
    }
}

/// `B + 3 C L^2` says whether the curve turns back; its sign is checked against the curve itself,
/// sampled between the two ends.
#[test]
fn a_curve_that_turns_back_is_noticed() {
    let mut cases = [0; 2];
    for b in [-2e-4, -1e-5, 1e-5, 2e-4, 4e-4] {
        for c in [-3e-6, -8e-7, -1e-9, 0.0, 1e-7, 2e-6] {
            let part = SteinhartHart { a: 2e-3, b, c };
            for (low, high) in [
                (-4.0, -0.5),
                (-3.0, 3.5),
                (-4.0, 2.0),
                (0.5, 4.0),
                (3.0, 9.5),
            ] {
                let inverse = |l: f64| part.a + b * l + c * l * l * l;
                let step = (high - low) / 400.0;
                let rises = (0..400).all(|i| {
                    let l = low + step * f64::from(i);
                    inverse(l + step) > inverse(l)
                });
                assert_eq!(
                    part.slope_is_positive(low, high),
                    rises,
                    "{part:?} {low} {high}"
                );
                cases[usize::from(rises)] += 1;
            }
        }
    }
    assert_eq!(cases.iter().sum::<i32>(), 5 * 6 * 5);
    assert!(cases.iter().all(|count| *count > 40), "{cases:?}");
}

/// A slope of exactly zero is not above zero, wherever it is: at either end, or at `L = 0` between them.
#[test]
fn a_level_point_is_no_slope() {
    let slope = |b, c, low, high| SteinhartHart { a: 0.0, b, c }.slope_is_positive(low, high);
    assert!(!slope(3.0, -1.0, -1.0, 0.5) && slope(3.0, -1.0, -0.99, 0.5));
    assert!(!slope(3.0, -1.0, 0.5, 1.0) && slope(3.0, -1.0, 0.5, 0.99));
    assert!(!slope(0.0, 1.0, -1.0, 1.0) && slope(0.1, 1.0, -1.0, 1.0));
}

/// Validity over a range: the inverse finds both ends, and the curve falls all the way between.
#[test]
fn a_range_is_monotone_or_not() {
    assert!(PART.is_monotone_over(-100.0, 300.0));
    assert!(!PART.is_monotone_over(50.0, 20.0), "the wrong way round");
    // rising resistance
    assert!(
        !SteinhartHart {
            b: -PART.b,
            a: 6e-3,
            c: 0.0
        }
        .is_monotone_over(0.0, 50.0)
    );
    // a negative cubic turns the curve back at L = sqrt(B / -3C) = 10.7, the coldest that it reaches
    let turning = SteinhartHart {
        a: 1.5e-3,
        b: 2.3e-4,
        c: -6.7e-7,
    };
    let turn = (turning.b / (-3.0 * turning.c)).sqrt();
    let coldest = 1.0 / (turning.a + turning.b * turn + turning.c * turn.powi(3)) - 273.15;
    assert!((45.0..46.0).contains(&coldest), "{coldest}");
    assert!(turning.is_monotone_over(coldest + 1.0, 150.0));
    assert!(!turning.is_monotone_over(coldest - 1.0, 150.0));
    assert!(!turning.is_monotone_over(0.0, coldest - 1.0));
    for bad in [f64::NAN, f64::INFINITY] {
        assert!(!SteinhartHart { a: bad, ..PART }.is_monotone_over(0.0, 50.0));
        assert!(!SteinhartHart { b: bad, ..PART }.is_monotone_over(0.0, 50.0));
        assert!(!SteinhartHart { c: bad, ..PART }.is_monotone_over(0.0, 50.0));
    }
}

/// A curve that would turn back far hotter than its hottest point is good between its points.
#[test]
fn only_what_lies_between_the_points_counts() {
    // B + 3 C L^2 is negative below L = 1.8, 6 ohm; the points lie at L = 7, 8.5 and 10
    let part = SteinhartHart {
        a: 2.642e-3,
        b: -1e-5,
        c: 1e-6,
    };
    let at = |l: f64| (kelvin(&part, l.exp()) - 273.15, l.exp());
    let fit = SteinhartHart::through([at(7.0), at(8.5), at(10.0)]).expect("a curve");
    assert!((fit.b / part.b - 1.0).abs() < 1e-6 && (fit.c / part.c - 1.0).abs() < 1e-6);
    assert!(fit.is_monotone_over(at(10.0).0, at(7.0).0));
}

#[test]
fn errors_say_what_is_wrong() {
    for (error, word) in [
        (SteinhartHartError::Impossible, "absolute zero"),
        (
            SteinhartHartError::Equal,
            "same temperature or the same resistance",
        ),
        (SteinhartHartError::NotMonotone, "falls steadily"),
    ] {
        assert!(error.to_string().contains(word), "{error}");
    }
}
