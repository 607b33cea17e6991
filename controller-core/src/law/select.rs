//! High-select: several loops on one actuator, the greatest demand wins.
//!
//! By default the losing loops go on as if alone: order is kept, since the greatest of ordered demands is
//! ordered. Where a loser should take over without delay, let it track the winner with
//! [`super::windup::tracking`] or [`super::transfer::to_automatic`]; order is lost then.

use crate::word::Narrow;

/// The greatest demand and whose it is (the first, when several are equal). `None` of nothing.
///
/// ```
/// use controller_core::law::select::highest;
/// assert_eq!(highest(&[12000_i16, 20000, 7000]), Some((1, 20000)));
/// assert_eq!(highest::<i16>(&[]), None);
/// ```
#[must_use]
pub fn highest<N: Narrow>(demands: &[N]) -> Option<(usize, N)> {
    let (first, rest) = demands.split_first()?;
    let mut winner = (0, *first);
    for (index, &demand) in rest.iter().enumerate() {
        if winner.1.below(demand) {
            winner = (index + 1, demand);
        }
    }
    Some(winner)
}
