//! All (integral, error) pairs of a PI loop decided by their thresholds.
//!
//! Given that the output is monotone in the integrator and that the next integrator has slope 0 or 1 in it
//! (the *shape*, proven by the solvers for all gains), both sides of each step of the output and the corners
//! of the next integrator decide every pair: 2^16 errors times up to 2^31 integrals from a few hundred
//! million evaluations at most. It cannot see a fault that breaks the shape.

use crate::integers::{LawIntegers, with_scale};
use controller_core::law::{Action, Integrating, Integrator, PiState, Settings, pi};
use controller_core::word::Multiply;
use hushloop_proof::property::{Halves, Whole};
use rayon::prelude::*;

/// What an enumeration decided.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Enumeration {
    /// Pairs of integral and error decided.
    pub pairs: u64,
    /// Evaluations of the law.
    pub evaluations: u64,
    /// Evaluations that differed from the exact law.
    pub mismatches: u64,
}

impl Enumeration {
    fn plus(self, other: Self) -> Self {
        Self {
            pairs: self.pairs + other.pairs,
            evaluations: self.evaluations + other.evaluations,
            mismatches: self.mismatches + other.mismatches,
        }
    }
}

/// A set point and a measurement with this error, both inside the domain.
fn signals(error: i32, action: Action) -> (i16, i16) {
    // |error| <= 32767: half of it above zero, half below, the odd count below.
    let high = error >> 1;
    let low = high - error;
    match action {
        Action::Direct => (low as i16, high as i16),
        Action::Reverse => (high as i16, low as i16),
    }
}

fn one_error<const SP: u32, M: Multiply<i16>>(s: &Settings<i16, SP>, error: i32) -> Enumeration {
    let (set_point, measurement) = signals(error, s.action());
    let (lo, hi) = (i64::from(s.lo()), i64::from(s.hi()));
    let (floor, ceiling) = (lo << 16, hi << 16 | 0xffff);
    let p = (i64::from(s.mantissas().kp) * i64::from(error)) << (16 - SP);
    let increment = i64::from(s.mantissas().ki) * i64::from(error);
    let mut done = Enumeration {
        pairs: (ceiling - floor + 1) as u64,
        ..Enumeration::default()
    };
    let mut output_at = |i: i64, expected: i64| {
        let mut state = PiState::with(Integrator::from_word(s, i as u32));
        let u = pi::step::<_, SP, M>(s, &mut state, set_point, measurement);
        done.evaluations += 1;
        done.mismatches += u64::from(i64::from(u) != expected);
    };
    let exact = |i: i64| ((p + i) >> 16).clamp(lo, hi);
    let (first, last) = (exact(floor), exact(ceiling));
    output_at(floor, first);
    output_at(ceiling, last);
    for step in first + 1..=last {
        // The least integral whose output is `step`.
        let threshold = (step << 16) - p;
        output_at(threshold, step);
        output_at(threshold - 1, step - 1);
    }
    for corner in [floor, ceiling] {
        for offset in -1..=1 {
            for i in [corner + offset, corner - increment + offset] {
                let i = i.clamp(floor, ceiling);
                let mut state = PiState::with(Integrator::from_word(s, i as u32));
                let _ = pi::step::<_, SP, M>(s, &mut state, set_point, measurement);
                let next = i64::from(state.integrator().word());
                done.evaluations += 1;
                done.mismatches += u64::from(next != (i + increment).clamp(floor, ceiling));
            }
        }
    }
    done
}

/// One error of the subject at its scale: the upper halves for every error, whole words for each sixteenth.
fn both<const SP: u32>(subject: &LawIntegers, error: i32) -> Option<Enumeration> {
    let s = subject.settings::<SP>().ok()?;
    let done = one_error::<SP, Halves>(&s, error);
    if error & 15 != 0 {
        return Some(done);
    }
    Some(done.plus(Enumeration {
        pairs: 0,
        ..one_error::<SP, Whole>(&s, error)
    }))
}

/// Decides every pair of integral and error of this PI loop, comparing upper halves; each sixteenth error with
/// whole words as well. `None` when the constructor refuses the loop.
#[must_use]
pub fn enumerate(subject: &LawIntegers) -> Option<Enumeration> {
    enumerate_some(subject, 1)
}

/// The same for every `stride`-th error.
#[must_use]
pub fn enumerate_some(subject: &LawIntegers, stride: usize) -> Option<Enumeration> {
    let one: fn(&LawIntegers, i32) -> Option<Enumeration> =
        with_scale!(subject.scale, SP => both::<SP>, else return None);
    let errors: Vec<i32> = (-32_767..=32_767).step_by(stride).collect();
    errors
        .par_iter()
        .map(|&e| one(subject, e))
        .try_reduce(Enumeration::default, |a, b| Some(a.plus(b)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn errors_split_inside_the_domain() {
        for action in [Action::Direct, Action::Reverse] {
            for error in -32_767..=32_767 {
                let (r, m) = signals(error, action);
                assert!(
                    (-16_384..=16_383).contains(&r) && (-16_384..=16_383).contains(&m),
                    "{error}"
                );
                let e = i32::from(m) - i32::from(r);
                assert_eq!(if action == Action::Direct { e } else { -e }, error);
            }
        }
    }

    #[test]
    fn some_errors_of_a_loop() {
        let subject = LawIntegers {
            kp: 1300,
            ki: 655,
            kd: 0,
            scale: 8,
            filter_exponent: 0,
            lo: 6554,
            hi: 32767,
            action: Action::Reverse,
        };
        let done = enumerate_some(&subject, 256).unwrap();
        assert_eq!(done.mismatches, 0);
        assert_eq!(done.pairs, 256 * (32_767 - 6_554 + 1) * 65_536);
        assert!(done.evaluations > 256 * 24, "{}", done.evaluations);
    }
}
