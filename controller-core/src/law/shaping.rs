//! Small shapers round the law: set-point ramp, error dead band, output backlash, slew limit.
//!
//! Each is monotone in its signal and in its own state, so each keeps the law's order (a set-point ramp is one
//! input for all histories). A dead band of the *hold* kind, which keeps the old output until the new one is far
//! enough away, is not here: it loses order.

use crate::word::Narrow;

/// Moves from `current` towards `wanted` by at most `step` (a negative one counts as none): a set-point ramp, one call a sample.
/// Tell the law of each move with [`crate::setpoint::set_point_change`].
///
/// ```
/// use controller_core::law::shaping::ramp;
/// assert_eq!(ramp(1000_i16, 1300, 128), 1128);
/// assert_eq!(ramp(1280_i16, 1300, 128), 1300);
/// assert_eq!(ramp(-32768_i16, 32767, 128), -32640); // the distance need not fit the word
/// ```
#[must_use]
#[inline]
pub fn ramp<N: Narrow>(current: N, wanted: N, step: N) -> N {
    slew(current, wanted, step, step)
}

/// `wanted`, limited to at most `down` below and `up` above `previous` (a negative one counts as none).
///
/// ```
/// use controller_core::law::shaping::slew;
/// assert_eq!(slew(20000_i16, 0, 300, 1000), 19700);
/// assert_eq!(slew(20000_i16, 32767, 300, 1000), 21000);
/// assert_eq!(slew(20000_i16, 0, -32768, 1000), 20000);
/// ```
#[must_use]
#[inline]
pub fn slew<N: Narrow>(previous: N, wanted: N, down: N, up: N) -> N {
    let least = previous.saturating_plus(N::literal(0).minus(not_negative(down)));
    let greatest = previous.saturating_plus(not_negative(up));
    wanted.clamp(least, greatest)
}

/// Error dead band with no step at its edges: nothing inside `±width` (a negative one counts as none), the excess
/// beyond. Apply it to the
/// measurement by way of the set point: `set point + beyond(measurement - set point)`.
///
/// ```
/// use controller_core::law::shaping::beyond;
/// assert_eq!([beyond(-30_i16, 20), beyond(5, 20), beyond(30, 20)], [-10, 0, 10]);
/// ```
#[must_use]
#[inline]
pub fn beyond<N: Narrow>(error: N, width: N) -> N {
    let (zero, width) = (N::literal(0), not_negative(width));
    let least = zero.minus(width);
    if error.below(least) {
        error.plus(width)
    } else if width.below(error) {
        error.minus(width)
    } else {
        zero
    }
}

/// Output dead band as backlash: `previous`, moved only as far as needed to be within `width` (a negative one counts as
/// none) of `wanted`. A fan
/// then does not follow every count of noise; at rest the output is off by up to `width`.
///
/// ```
/// use controller_core::law::shaping::backlash;
/// assert_eq!(backlash(10000_i16, 10050, 100), 10000);
/// assert_eq!(backlash(10000_i16, 10150, 100), 10050);
/// ```
#[must_use]
#[inline]
pub fn backlash<N: Narrow>(previous: N, wanted: N, width: N) -> N {
    let width = not_negative(width);
    let least = wanted.saturating_plus(N::literal(0).minus(width));
    previous.clamp(least, wanted.saturating_plus(width))
}

#[inline]
fn not_negative<N: Narrow>(word: N) -> N {
    if word.below(N::literal(0)) {
        N::literal(0)
    } else {
        word
    }
}

#[cfg(test)]
mod tests;
