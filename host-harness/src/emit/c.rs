//! `firmware.h` and `firmware.c`: a design for C.

use controller_core::drive::dither::Polarity;
use controller_core::drive::fan::Stop;
use controller_core::drive::wiring::Wiring;

use super::c_source::{Controller, Pair, emit};
use super::integers;
use crate::design::Design;
use crate::plan::{DrivePlan, Plan};
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

/// What of a plan's drive the pair could not mean: it has the law and the lookup, and its user writes the drive by hand,
/// from a header that must not leave out how the drive is told to behave.
fn not_in_c(plan: &Plan) -> Option<&'static str> {
    match &plan.drive {
        DrivePlan::Fans(drive) if drive.fans.fans[0].stop() != Stop::Never => {
            Some("a fan that may stop")
        }
        DrivePlan::Fans(drive) if drive.wiring != Wiring::FourWire => Some("a three-wire fan"),
        DrivePlan::Fans(drive) if drive.timer.polarity() != Polarity::ActiveHigh => {
            Some("an inverted PWM pin")
        }
        DrivePlan::Pwm(_) => Some("a heater on a PWM pin"),
        DrivePlan::Fans(_) | DrivePlan::Switch(_) => None,
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
    if let Some(what) = not_in_c(plan) {
        controller.refusal = Some(format!(
            "{what} is not in the C sources yet: take firmware.rs"
        ));
    }
    if !verdict.good {
        controller.refusal = Some(format!(
            "this design has a bad verdict: {}",
            verdict.reasons_in_one_line()
        ));
    }
    emit(&controller).expect("integers that passed the constructors")
}
