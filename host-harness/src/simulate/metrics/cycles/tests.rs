use super::*;
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::f64::consts::TAU;

fn find(values: impl IntoIterator<Item = f64>, period_s: f64, acceptable: f64) -> Found {
    let mut finder = CycleFinder::new(period_s);
    values.into_iter().for_each(|v| finder.take(v));
    finder.found(acceptable)
}

fn sine(amplitude: f64, period: f64, damping: f64, samples: usize) -> impl Iterator<Item = f64> {
    (0..samples).map(move |k| {
        let t = k as f64;
        40.0 + amplitude * (-damping * t).exp() * (TAU * t / period).sin()
    })
}

#[test]
fn a_steady_sine_is_hunting_with_its_own_period_and_amplitude() {
    for (period, samples) in [
        (170.0, 4_000),
        (170.0, 300),
        (20.0, 100_000),
        (7.0, 200),
        (40_000.0, 62_000),
    ] {
        let found = find(sine(2.0, period, 0.0, samples), 0.5, 0.3);
        assert!(
            found.hunting.present && !found.undecided,
            "{period}: {found:?}"
        );
        let (p, a) = (
            found.hunting.period_s / (0.5 * period),
            found.hunting.amplitude_celsius / 2.0,
        );
        assert!(
            (p - 1.0).abs() < 0.05 && (a - 1.0).abs() < 0.06,
            "{period}: {found:?}"
        );
    }
}

#[test]
fn a_cycle_longer_than_a_sixth_of_the_stretch_is_seen() {
    // 900 s in 3,600 s, and 1,650 s at 1.15 K: both were "none"
    for (period_s, amplitude) in [(900.0, 5.0), (1650.0, 1.15), (932.0, 1.24)] {
        let found = find(sine(amplitude, period_s * 2.0, 0.0, 7200), 0.5, 0.3);
        assert!(found.hunting.present, "{period_s}: {found:?}");
    }
}

#[test]
fn a_decaying_sine_is_not() {
    let found = find(sine(20.0, 170.0, 0.002, 4000), 0.5, 0.01);
    assert!(!found.hunting.present, "{found:?}");
}

#[test]
fn a_small_sine_is_reported_but_acceptable() {
    let found = find(sine(0.2, 170.0, 0.0, 4000), 0.5, 0.3);
    assert!(!found.hunting.present && !found.undecided);
    assert!(
        (found.hunting.amplitude_celsius - 0.2).abs() < 0.01,
        "{found:?}"
    );
}

#[test]
fn a_flat_line_has_no_period() {
    assert_eq!(find(vec![40.0; 4000], 0.5, 0.3), Found::default());
}

#[test]
fn a_transient_that_is_still_under_way_is_undecided() {
    let found = find((0..1000).map(|k| 20.0 + 0.01 * f64::from(k)), 1.0, 0.3);
    assert!(found.undecided && !found.hunting.present);
    // and one that has ended is not
    let found = find(
        (0..1000).map(|k| 40.0 - 10.0 * (-0.02 * f64::from(k)).exp()),
        1.0,
        0.3,
    );
    assert_eq!(found, Found::default());
}

/// A normal deviate: the sum of twelve uniform ones less six.
fn normal(random: &mut impl Rng) -> f64 {
    (0..12).map(|_| random.random::<f64>()).sum::<f64>() - 6.0
}

/// What a synthetic loop does; amplitudes in units of what is acceptable, times as shares of the window.
#[derive(Clone, Copy)]
struct Loop {
    /// (amplitude, cycles in the window, damping ratio) of a cycle, if any.
    cycle: Option<(f64, f64, f64)>,
    /// Size and time constant of a transient.
    transient: (f64, f64),
    /// Linear drift over the window.
    drift: f64,
    /// White noise, and noise of a correlation time of a twentieth of the window, root mean square.
    noise: (f64, f64),
}

const QUIET: Loop = Loop {
    cycle: None,
    transient: (0.0, 1.0),
    drift: 0.0,
    noise: (0.0, 0.0),
};

/// Share of `trials` in which hunting was called, each with a phase, a length and noise of its own.
fn rate(what: Loop, trials: u64) -> f64 {
    let called = (0..trials).filter(|&seed| {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let samples = 600.0 * (random.random::<f64>() * (20_000_f64 / 600.0).ln()).exp();
        let phase = TAU * random.random::<f64>();
        let follow = (-20.0 / samples).exp();
        let mut slow = normal(&mut random);
        let values = (0..samples as usize).map(|k| {
            let t = k as f64 / samples;
            let wave = what.cycle.map_or(0.0, |(amplitude, cycles, damping)| {
                let angle = TAU * cycles * t;
                amplitude * (-damping * angle).exp() * (angle + phase).sin()
            });
            slow = follow * slow + (1.0 - follow * follow).sqrt() * normal(&mut random);
            let (size, lasts) = what.transient;
            wave + size * (-t / lasts).exp()
                + what.drift * t
                + what.noise.0 * normal(&mut random)
                + what.noise.1 * slow
        });
        find(values, 1.0, 1.0).hunting.present
    });
    called.count() as f64 / trials as f64
}

/// Trials a row: with none wrong among them the rate is below 1.5 % at 95 % confidence.
const TRIALS: u64 = 200;

/// The rates that the module's head states: each row's name, its figure, and the loop.
#[test]
fn detection_and_false_alarms_are_as_the_table_says() {
    let cycle = |amplitude, cycles| Loop {
        cycle: Some((amplitude, cycles, 0.0)),
        ..QUIET
    };
    let damped = |amplitude, cycles, damping| Loop {
        cycle: Some((amplitude, cycles, damping)),
        ..QUIET
    };
    let noise = |white, slow, what| Loop {
        noise: (white, slow),
        ..what
    };
    let drift = |drift, what| Loop { drift, ..what };
    let transient = |size, lasts, what| Loop {
        transient: (size, lasts),
        ..what
    };
    let found = [
        ("1.5 cycles of 2", 99.0, cycle(2.0, 1.5)),
        ("1.75 cycles of 2", 99.0, cycle(2.0, 1.75)),
        ("2 cycles of 2", 99.0, cycle(2.0, 2.0)),
        ("3 cycles of 1.2", 99.0, cycle(1.2, 3.0)),
        ("6 cycles of 1.2", 99.0, cycle(1.2, 6.0)),
        ("40 cycles of 1.2", 99.0, cycle(1.2, 40.0)),
        ("3 cycles of 2, drift 4", 99.0, drift(4.0, cycle(2.0, 3.0))),
        (
            "3 cycles of 2, drift 12",
            99.0,
            drift(12.0, cycle(2.0, 3.0)),
        ),
        (
            "4 cycles of 2, transient of 10 over 0.1",
            99.0,
            transient(10.0, 0.1, cycle(2.0, 4.0)),
        ),
        (
            "4 cycles of 2, slow noise 0.2",
            99.0,
            noise(0.0, 0.2, cycle(2.0, 4.0)),
        ),
        (
            "3 cycles of 2, white noise 0.2",
            80.0,
            noise(0.2, 0.0, cycle(2.0, 3.0)),
        ),
        (
            "10 cycles of 2, white noise 0.5",
            75.0,
            noise(0.5, 0.0, cycle(2.0, 10.0)),
        ),
    ];
    let quiet = [
        ("4 cycles of 0.9", 0.5, cycle(0.9, 4.0)),
        (
            "4 cycles of 0.7, white noise 0.2",
            0.5,
            noise(0.2, 0.0, cycle(0.7, 4.0)),
        ),
        ("transient of 10 over 0.3", 0.5, transient(10.0, 0.3, QUIET)),
        (
            "transient of 10 over 0.05, drift 3",
            0.5,
            drift(3.0, transient(10.0, 0.05, QUIET)),
        ),
        (
            "2 cycles from 10, damping ratio 0.1",
            2.0,
            damped(10.0, 2.0, 0.1),
        ),
        (
            "3 cycles from 10, damping ratio 0.05",
            10.0,
            damped(10.0, 3.0, 0.05),
        ),
        (
            "10 cycles from 10, damping ratio 0.05",
            0.5,
            damped(10.0, 10.0, 0.05),
        ),
        ("white noise 0.3", 0.5, noise(0.3, 0.0, QUIET)),
        ("slow noise 0.3", 0.5, noise(0.0, 0.3, QUIET)),
        ("slow noise 0.5", 1.5, noise(0.0, 0.5, QUIET)),
    ];
    let head = include_str!("../cycles.rs");
    let mut rows = 0;
    for (rows_of, detects) in [(&found[..], true), (&quiet[..], false)] {
        for (name, stated, what) in rows_of {
            let seen = 100.0 * rate(*what, TRIALS);
            let holds = if detects {
                seen >= *stated
            } else {
                seen <= *stated
            };
            assert!(holds, "{name}: {seen} %, stated {stated} %");
            let limit = if detects { ">=" } else { "<=" };
            let row = format!("//! | {name} | {limit} {stated} % |");
            assert!(head.contains(&row), "the head lacks: {row}");
            rows += 1;
        }
    }
    assert_eq!(rows, 22);
}
