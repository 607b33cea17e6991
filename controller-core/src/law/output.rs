//! From the sum of the terms to the demand.

use super::settings::Settings;
use crate::word::{Multiply, Narrow, Unsigned, Wide, Word};

/// `floor(sum / 2^SP)` limited to the settings' `lo..=hi`: the demand. The rounding half is already in
/// the sum, since the integrator carries it.
#[must_use]
#[inline(always)]
pub fn demand<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    sum: N::Wide,
) -> N {
    if M::WHOLE {
        return sum
            .shift_right(SP)
            .confined(
                settings.lo.unsigned().widen(),
                settings.hi.unsigned().widen(),
            )
            .narrow();
    }
    // The upper half alone tells whether the quotient is in 0..2^(n-1); only then is it formed.
    match sum.descale(SP) {
        Some(quotient) => quotient.clamp(settings.lo, settings.hi),
        None if sum.top().below(N::literal(0)) => settings.lo,
        None => settings.hi,
    }
}
