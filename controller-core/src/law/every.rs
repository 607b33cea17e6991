//! Integration at every m-th sample, for a slow plant that meets a fast loop.
//!
//! The slower the plant and the shorter the period, the smaller `ki`, which is a share a sample: at a few counts its
//! rounding is no longer small. Integrated at every m-th sample only, it is m times as large, while P and D go on at
//! every sample. `ki` should be 64 counts or more (rounding within 0.8 %). Worth it while m samples are short beside
//! the integral time; `hushloop build` says which m a design would need.
//!
//! What holds for the law at every sample holds here: between, the integrator stands still, which keeps exactness,
//! limits and order alike. The output moves within m times as many samples.

use super::windup::Sampling;
use super::{Settings, output};
use crate::setpoint::InDomain;
use crate::word::{Multiply, Narrow};

/// Counts samples: one of m is due. 2 bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Every {
    of: u8,
    left: u8,
}

impl Every {
    /// One of `m` samples, the first of them at once; 0 counts as 1, every sample.
    ///
    /// ```
    /// use controller_core::law::every::Every;
    /// let mut third = Every::new(3);
    /// assert_eq!([(); 6].map(|()| third.due()), [true, false, false, true, false, false]);
    /// ```
    #[must_use]
    pub const fn new(m: u8) -> Self {
        Self { of: m, left: 0 }
    }

    /// Is this sample due? Counts it.
    #[inline]
    pub fn due(&mut self) -> bool {
        let due = self.left == 0;
        self.left = if due { self.of } else { self.left }.saturating_sub(1);
        due
    }
}

/// One sample of PI, or of PID: the demand now; the integrator moved on by `ki*e` when
/// the sample is due. `ki` is the gain of m sample periods.
///
/// ```
/// use controller_core::{gain::Mantissas, law::{every, Action, Integrating, Integrator, PiState, Settings}, word::Native};
/// // 16 counts a sample would be 6 % apart; 8 samples at once make 128.
/// const S: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 128, kd: 0 }, 0, 32767, Action::Direct);
/// let mut state = PiState::with(Integrator::exactly(&S, 10000));
/// let mut eighth = every::Every::new(8);
/// for _ in 0..8 {
///     every::step::<_, 8, Native>(&S, &mut state, &mut eighth, 0, 512);
/// }
/// assert_eq!(state.integrator().rounded(), 10001); // 128 * 512 / 65536
/// ```
#[inline]
pub fn step<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &mut impl Sampling<N, SP>,
    every: &mut Every,
    set_point: impl InDomain<N>,
    measurement: N,
) -> N {
    let sample = state.sample::<M>(settings, set_point, measurement);
    if every.due() {
        let moved = state.integrator();
        state.set_integrator(moved.advanced::<SP, M>(settings, sample.increment));
    }
    output::demand::<N, SP, M>(settings, sample.sum)
}

#[cfg(test)]
mod tests {
    use super::Every;

    #[test]
    fn one_of_m_samples_is_due_the_first_at_once() {
        for m in 0..=u8::MAX {
            let mut every = Every::new(m);
            for sample in 0..600_u16 {
                assert_eq!(every.due(), sample % u16::from(m.max(1)) == 0, "{m}");
            }
        }
    }
}
