//! Every case at 8/16.
//!
//! A PI step is two maps: the output from `(I, e, kp)` and the next integrator from `(I, e, ki)`; neither
//! reads the other's gain, which [`maps_are_separate`] checks. So all `(I, e, kp, ki)` of a setting of scale
//! and limits are covered by running every `(I, e, k)` with `kp = ki = k`: where the output is exact for
//! every kp and the integrator for every ki, every combination of the two is. The error covers every
//! measurement and set point, because the step sees them only through it ([`every_error`]).

use controller_core::gain::Mantissas;
use controller_core::law::{Action, Integrating, Integrator, PiState, Settings, pi};
use controller_core::word::Multiply;
use hushloop_proof::property::{Halves, Whole};
use rayon::prelude::*;

/// A setting of scale and limits: `(SP, lo, hi)`.
pub const SETTINGS: [(u32, i8, i8); 9] = [
    (1, 0, 127),
    (2, 10, 100),
    (3, 0, 64),
    (4, 0, 127),
    (4, 30, 31),
    (5, 25, 127),
    (6, 0, 1),
    (6, 100, 127),
    (7, 0, 127),
];

/// What an exhaustion covered.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Exhaustion {
    /// `(I, e, k)` triples, each run with both kinds of comparison.
    pub triples: u64,
    /// Results that differed from the exact law.
    pub mismatches: u64,
}

fn split(error: i16) -> (i8, i8) {
    let high = error >> 1;
    ((high - error) as i8, high as i8)
}

fn one_gain<const SP: u32, M: Multiply<i8>>(k: u8, lo: i8, hi: i8) -> Option<Exhaustion> {
    let s = Settings::<i8, SP>::new(
        Mantissas {
            kp: k,
            ki: k,
            kd: 0,
        },
        lo,
        hi,
        Action::Direct,
    )
    .ok()?;
    let mut done = Exhaustion::default();
    for error in -127..=127_i16 {
        let (set_point, measurement) = split(error);
        let product = i32::from(k) * i32::from(error);
        let (floor, ceiling) = (i32::from(lo) << 8, i32::from(hi) << 8 | 0xff);
        let p = product << (8 - SP);
        let mut bad = 0;
        for i in floor..=ceiling {
            let mut state = PiState::with(Integrator::from_word(&s, i as u16));
            let u = pi::step::<_, SP, M>(&s, &mut state, set_point, measurement);
            let exact = ((p + i) >> 8).clamp(lo.into(), hi.into());
            let next = (i + product).clamp(floor, ceiling);
            bad += u64::from(i32::from(u) != exact)
                + u64::from(i32::from(state.integrator().word()) != next);
        }
        done.triples += (ceiling - floor + 1) as u64;
        done.mismatches += bad;
    }
    Some(done)
}

fn one_setting<const SP: u32>(lo: i8, hi: i8, gains: &[u8]) -> Exhaustion {
    gains
        .par_iter()
        .filter_map(|&k| {
            let halves = one_gain::<SP, Halves>(k, lo, hi)?;
            let whole = one_gain::<SP, Whole>(k, lo, hi)?;
            Some(Exhaustion {
                triples: halves.triples,
                mismatches: halves.mismatches + whole.mismatches,
            })
        })
        .reduce(Exhaustion::default, |a, b| Exhaustion {
            triples: a.triples + b.triples,
            mismatches: a.mismatches + b.mismatches,
        })
}

/// Runs the setting's triples for these gains; gains that the constructor refuses are left out.
#[must_use]
pub fn run((sp, lo, hi): (u32, i8, i8), gains: &[u8]) -> Exhaustion {
    match sp {
        1 => one_setting::<1>(lo, hi, gains),
        2 => one_setting::<2>(lo, hi, gains),
        3 => one_setting::<3>(lo, hi, gains),
        4 => one_setting::<4>(lo, hi, gains),
        5 => one_setting::<5>(lo, hi, gains),
        6 => one_setting::<6>(lo, hi, gains),
        _ => one_setting::<7>(lo, hi, gains),
    }
}

/// How many triples [`run`] must cover for all gains: worked out from the setting alone.
#[must_use]
pub fn expected_triples((sp, lo, hi): (u32, i8, i8)) -> u64 {
    // kp at most (2^15 - 2^(7+SP)) / 127, and 255.
    let gains = ((32_768_u64 - (1 << (7 + sp))) / 127).min(255) + 1;
    gains * 255 * (u64::from(hi as u8) - u64::from(lo as u8) + 1) * 256
}

/// Does the output ignore `ki`, and the next integrator `kp`? Cases tried and failures.
#[must_use]
pub fn maps_are_separate() -> (u64, u64) {
    let (mut cases, mut bad) = (0, 0);
    for kp in (0..=255_u8).step_by(15) {
        for ki in (0..=255_u8).step_by(15) {
            for error in (-127..=127_i16).step_by(2) {
                for i in (0..=32_767_u16).step_by(257) {
                    let step = |kp, ki| {
                        let gains = Mantissas { kp, ki, kd: 0 };
                        let s = Settings::<i8, 4>::new(gains, 0, 127, Action::Direct).ok()?;
                        let mut state = PiState::with(Integrator::from_word(&s, i));
                        let (set_point, measurement) = split(error);
                        let u = pi::step::<_, 4, Halves>(&s, &mut state, set_point, measurement);
                        Some((u, state.integrator().word()))
                    };
                    let (Some(both), Some(no_ki), Some(no_kp)) =
                        (step(kp, ki), step(kp, 0), step(0, ki))
                    else {
                        continue;
                    };
                    cases += 1;
                    bad += u64::from(both.0 != no_ki.0) + u64::from(both.1 != no_kp.1);
                }
            }
        }
    }
    (cases, bad)
}

/// Every measurement, set point and action: does the step see exactly the error? Cases and failures.
#[must_use]
pub fn every_error() -> (u64, u64) {
    let (mut cases, mut bad) = (0, 0);
    for action in [Action::Direct, Action::Reverse] {
        for set_point in i8::MIN..=i8::MAX {
            for measurement in i8::MIN..=i8::MAX {
                let e = i16::from(measurement.clamp(-64, 63)) - i16::from(set_point.clamp(-64, 63));
                let e = if action == Action::Direct { e } else { -e };
                cases += 1;
                bad += u64::from(pi::error(action, set_point, measurement) != e);
            }
        }
    }
    (cases, bad)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn some_gains_of_every_setting() {
        let gains = [0, 1, 2, 63, 200, 255];
        let mut triples = 0;
        for setting in SETTINGS {
            let done = run(setting, &gains);
            assert_eq!(done.mismatches, 0, "{setting:?}");
            triples += done.triples;
        }
        // Of the six gains each scale accepts those up to (2^15 - 2^(7+SP)) / 127; 255 errors, 256 integrals a
        // whole duty LSB: (6*128 + 5*91 + 5*65 + 5*128 + 5*2 + 5*103 + 4*2 + 4*28 + 4*128) * 255 * 256.
        assert_eq!(triples, 218_361_600);
    }

    #[test]
    fn factoring_is_complete() {
        assert_eq!(every_error(), (131_072, 0));
        let (cases, bad) = maps_are_separate();
        assert_eq!((cases, bad), (17 * 18 * 128 * 128, 0));
    }
}
