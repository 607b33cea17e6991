//! `firmware.h` and `firmware.c`: a design for C.

use super::c_source::{Controller, Pair, emit};
use super::integers;
use crate::design::Design;
use crate::plan::Plan;
use crate::tablegen::{Table, c_integers};
use crate::verdict::Verdict;

/// What the pair of a design is made from: all names in C begin with `loop`.
#[must_use]
pub fn controller(design: &Design, plan: &Plan, table: &Table) -> Controller {
    let sensor = c_integers(table)
        .into_iter()
        .map(|(name, value)| (format!("SENSOR_{name}"), value));
    Controller {
        file: "firmware".to_owned(),
        prefix: "loop".to_owned(),
        title: design.title.clone(),
        law: plan.law,
        table: table.layout.clone(),
        limits: table.limits,
        temperature_fraction_bits: plan.fraction_bits,
        integers: integers(plan).into_iter().chain(sensor).collect(),
        refusal: None,
    }
}

/// Writes the pair. With a bad verdict it stops every compilation with the reason.
///
/// # Panics
///
/// Never for a design that was read: the emitter's bounds are those of the constructors it passed.
#[must_use]
pub fn c(design: &Design, plan: &Plan, table: &Table, verdict: &Verdict) -> Pair {
    let mut controller = controller(design, plan, table);
    if !verdict.good {
        controller.refusal = Some(format!(
            "this design has a bad verdict: {}",
            verdict.reasons_in_one_line()
        ));
    }
    emit(&controller).expect("integers that passed the constructors")
}
