use super::law::{OpenLoop, SampledLaw};
use super::linear::Linear;
use super::*;
use crate::reference::law::RealLaw;

/// `exp(-s L) / (s + 1)` and the like, as functions of frequency.
fn lag_with_dead_time(gain: f64, dead: f64) -> impl Fn(f64) -> Complex64 {
    move |w| gain * Complex64::cis(-w * dead) / Complex64::new(1.0, w)
}

#[test]
fn a_loop_at_twice_its_limit_is_unstable_and_says_by_what_factor() {
    // Ku of exp(-s)/(s+1) is 2.26182633 (exact frequency response)
    let m = Margins::of(&lag_with_dead_time(2.0 * 2.261_826_33, 1.0), 1e-3, 1e3, 0);
    assert!(!m.stable);
    assert!((m.gain_margin - 0.5).abs() < 1e-8, "{m:?}");
    assert!(m.phase_margin < 0.0 && m.delay_margin_s == 0.0);
    assert!(m.sensitivity_max.is_infinite());
    let m = Margins::of(&lag_with_dead_time(0.999 * 2.261_826_33, 1.0), 1e-3, 1e3, 0);
    assert!(
        m.stable && (m.gain_margin - 1.0 / 0.999).abs() < 1e-6,
        "{m:?}"
    );
}

#[test]
fn a_lag_alone_has_no_limit() {
    let m = Margins::of(&lag_with_dead_time(5.0, 0.0), 1e-3, 1e3, 0);
    assert!(m.stable && m.gain_margin.is_infinite());
    // |5/(1+jw)| = 1 at w = sqrt 24, phase margin pi - atan sqrt 24
    assert!((m.crossover_rad_s - 24f64.sqrt()).abs() < 1e-9);
    assert!((m.phase_margin - (PI - 24f64.sqrt().atan())).abs() < 1e-9);
}

#[test]
fn one_over_ms_is_the_distance_from_minus_one() {
    let of = lag_with_dead_time(1.3, 1.0);
    let m = Margins::of(&of, 1e-3, 1e3, 0);
    let nearest = (1..200_000)
        .map(|k| (1.0 + of(f64::from(k) * 1e-4)).norm())
        .fold(f64::INFINITY, f64::min);
    assert!((m.sensitivity_max * nearest - 1.0).abs() < 1e-6);
}

/// Jury: sampled P on a lag has the limit (1 + a) / (K (1 - a)); sampled I that moves after the output K ki h = 1.
#[test]
fn sampled_loops_end_where_the_jury_test_says() {
    let a = (-0.1f64).exp();
    for (law, limit) in [
        (
            SampledLaw {
                kp: 1.0,
                ki: 0.0,
                kd: 0.0,
                filter_exponent: 3,
            },
            (1.0 + a) / (2.0 * (1.0 - a)),
        ),
        (
            SampledLaw {
                kp: 0.0,
                ki: 1.0,
                kd: 0.0,
                filter_exponent: 3,
            },
            0.5,
        ),
    ] {
        let open = OpenLoop::new(&Linear::lags(2.0, &[10.0], 0.0), 1.0);
        for (factor, stable) in [(0.99, true), (1.01, false)] {
            let law = SampledLaw {
                kp: factor * limit * law.kp,
                ki: factor * limit * law.ki,
                ..law
            };
            let m = open.margins(&law);
            assert_eq!(m.stable, stable, "{law:?} {m:?}");
        }
    }
}

/// The reference law stepped with a sine, in its own arithmetic, against the formula.
#[test]
fn the_formula_is_the_law_stepped_with_a_sine() {
    for (cooling, sign) in [(true, 1.0), (false, -1.0)] {
        for turn in [0.03, 0.4, 2.5] {
            let mut law = RealLaw {
                kp: 0.7,
                ki: 0.002,
                kd: 1.9,
                filter_samples: 8.0,
                low: -1e9,
                high: 1e9,
                cooling,
                integrator: 0.0,
                filtered: None,
            };
            let sampled = SampledLaw {
                kp: 0.7,
                ki: 0.002,
                kd: 1.9,
                filter_exponent: 3,
            };
            let wanted = sampled.response(Complex64::cis(turn));
            // whole turns after the transient, correlated with the sine; the integrator's constant falls out
            let period = (TAU / turn * 1000.0).round() as usize;
            let mut sum = Complex64::ZERO;
            for k in 0..200 + period {
                let angle = turn * k as f64;
                let out = sign * law.step(0.0, angle.sin()).demand;
                if k >= 200 {
                    let window = 2.0 * (PI * (k - 200) as f64 / period as f64).sin().powi(2);
                    sum += window * out * Complex64::cis(-angle);
                }
            }
            let got = sum * 2.0 / period as f64 * Complex64::i();
            assert!(
                (got - wanted).norm() < 2e-3 * wanted.norm(),
                "{turn}: {got} {wanted}"
            );
        }
    }
}

#[test]
fn noise_gains_are_those_of_the_impulse_response() {
    let law = SampledLaw {
        kp: 0.3,
        ki: 0.0,
        kd: 1.7,
        filter_exponent: 2,
    };
    let (mut filtered, mut before, mut power, mut steps) = (0.0, 0.0, 0.0, 0.0);
    for k in 0..400 {
        let y = f64::from(u8::from(k == 0));
        let g = y - filtered;
        let u = law.kp * y + law.kd * g;
        filtered += g / 4.0;
        power += u * u;
        steps += (u - before) * (u - before);
        before = u;
    }
    assert!((law.noise_gain() - f64::sqrt(power)).abs() < 1e-12);
    assert!((law.noise_step() - f64::sqrt(steps)).abs() < 1e-12);
}

/// Published: `ZOHD-2.3-1` and its kin in tests/published; here the recursion against small steps of the equation.
#[test]
fn a_sampled_plant_with_part_of_a_sample_of_dead_time_follows_the_equation() {
    let plant = Linear::lags(3.0, &[10.0, 4.0], 2.3);
    let sampled = plant.sampled(1.0);
    assert_eq!(sampled.whole, 2);
    let input = |t: f64| {
        if t < 0.0 {
            0.0
        } else {
            (t.floor() * 0.7).sin()
        }
    };
    let mut x = DVector::zeros(2);
    let mut fine = [0.0f64; 2];
    for k in 0..40 {
        let step = 1e-4;
        for j in 0..10_000 {
            let u = 3.0 * input(f64::from(k) + (f64::from(j) + 0.5) * step - 2.3);
            fine = [
                fine[0] + step * (u - fine[0]) / 10.0,
                fine[1] + step * (fine[0] - fine[1]) / 4.0,
            ];
        }
        let u = |back: f64| {
            input(f64::from(k) - back + 0.5) * f64::from(u8::from(f64::from(k) >= back))
        };
        x = &sampled.f * x + &sampled.g0 * u(2.0) + &sampled.g1 * u(3.0);
        assert!((x[1] - fine[1]).abs() < 2e-4, "{k}: {} {}", x[1], fine[1]);
    }
}

/// A dead time as long as the delay margin brings the loop to its limit.
#[test]
fn the_delay_margin_is_the_dead_time_that_may_be_added() {
    let law = SampledLaw::of_times(0.04, 0.0002, 0.0, 3, 0.5);
    for dead in [0.0, 3.0, 13.3] {
        let with = |extra: f64| {
            OpenLoop::new(
                &Linear::lags(-60.0, &[400.0, 60.0, 25.0], dead + extra),
                0.5,
            )
            .margins(&law)
        };
        let m = with(0.0);
        assert!(m.stable && m.delay_margin_s > 10.0, "{m:?}");
        assert!(with(0.98 * m.delay_margin_s).stable);
        assert!(!with(1.02 * m.delay_margin_s).stable);
    }
}

use nalgebra::DVector;
