//! The terms of a law, for telemetry.

use crate::word::Narrow;

/// What each term of the law contributes, in output LSB (`2^(n-1) - 1` LSB = full duty).
///
/// `p`, `d` and `unclamped` are floors of their exact values and may exceed the duty's range; `i` is
/// rounded. The sum of the three may differ from `unclamped` by up to 2 LSB for that reason; `demand`
/// is the law's own output, exact to half an LSB.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Terms<N: Narrow> {
    /// Proportional term.
    pub p: N::Wide,
    /// Integral term.
    pub i: N::Wide,
    /// Derivative term.
    pub d: N::Wide,
    /// The sum, rounded, before the output limits.
    pub unclamped: N::Wide,
    /// The demand: what the step would return.
    pub demand: N,
}
