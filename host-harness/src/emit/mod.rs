//! What is written for firmware: the same integers as a Rust module and as a pair of C files.

mod c;
pub mod c_source;
pub mod cost;
mod fast;
mod rust;

pub use c::{c, controller};
pub use rust::rust;

use crate::configured::{numbers, tree};
use crate::plan::Plan;

/// Every integer of a plan, by name, in the order of the configuration's own walk: what `firmware.h` holds beside the
/// table and what `--against` compares.
#[must_use]
pub fn integers(plan: &Plan) -> Vec<(String, i64)> {
    let (tree, checksum) = tree(plan);
    let own = [
        ("PERIOD_MILLISECONDS", i64::from(plan.period_ms)),
        ("TICKS_PER_SAMPLE", i64::from(plan.ticks_per_sample)),
        ("FILTER_EXPONENT", i64::from(plan.law.filter_exponent)),
    ];
    let walked = numbers(&tree)
        .into_iter()
        .map(|number| (number.name.to_uppercase(), number.value));
    own.into_iter()
        .map(|(name, value)| (name.to_owned(), value))
        .chain(walked)
        .chain([("CHECKSUM".to_owned(), i64::from(checksum))])
        .collect()
}
