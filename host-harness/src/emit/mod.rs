//! What is written for firmware: the same integers as a Rust module and as a pair of C files.

mod c;
pub mod c_source;
pub mod cost;
mod rust;

pub use c::{c, controller};
pub use rust::rust;

use controller_core::law::Action;

use crate::plan::{DrivePlan, Plan};
use crate::simulate::station::checksum;

/// Every integer of a plan, by name, in the order of the signal path: what `firmware.h` holds beside the table
/// and what `--against` compares.
#[must_use]
pub fn integers(plan: &Plan) -> Vec<(&'static str, i64)> {
    let (k, g) = (&plan.law, &plan.guards);
    let mut out = vec![
        ("PERIOD_MILLISECONDS", i64::from(plan.period_ms)),
        ("TICKS_PER_SAMPLE", i64::from(plan.ticks_per_sample)),
        ("SET_POINT", i64::from(plan.set_point)),
        ("KP", i64::from(k.kp)),
        ("KI", i64::from(k.ki)),
        ("KD", i64::from(k.kd)),
        ("GAIN_FRACTION_BITS", i64::from(k.scale)),
        ("FILTER_EXPONENT", i64::from(k.filter_exponent)),
        ("DUTY_LOW", i64::from(k.lo)),
        ("DUTY_HIGH", i64::from(k.hi)),
        ("COOLING", i64::from(k.action == Action::Direct)),
    ];
    match &plan.drive {
        DrivePlan::Fan {
            parts,
            top,
            tachometer,
        } => {
            out.extend([
                ("FAN_FLOOR", i64::from(parts.floor.bits())),
                ("FAN_SPIN_UP", i64::from(parts.spin_up.level.bits())),
                ("FAN_SPIN_UP_TICKS", i64::from(parts.spin_up.ticks)),
                ("FAN_SLEW", i64::from(parts.slew.rise)),
                ("PWM_PERIOD_COUNTS", i64::from(*top)),
            ]);
            if let Some((least, confirm, retries)) = tachometer {
                out.extend([
                    ("TACHOMETER_LEAST_PULSES", i64::from(*least)),
                    ("TACHOMETER_CONFIRM", i64::from(*confirm)),
                    ("TACHOMETER_RETRIES", i64::from(*retries)),
                ]);
            }
        }
        DrivePlan::Switch(parts) => out.extend([
            ("SWITCH_WINDOW_TICKS", i64::from(parts.window)),
            ("SWITCH_MINIMUM_ON_TICKS", i64::from(parts.min_on)),
            ("SWITCH_MINIMUM_OFF_TICKS", i64::from(parts.min_off)),
        ]),
    }
    out.extend([
        ("TRIP", i64::from(g.trip)),
        ("TRIP_HYSTERESIS", i64::from(g.trip_hysteresis)),
        ("TRIP_CONFIRM", i64::from(g.trip_confirm)),
        ("SENSOR_CONFIRM", i64::from(g.confirm)),
        ("SENSOR_RECOVER", i64::from(g.recover)),
        ("STALE_TICKS", i64::from(g.stale_ticks)),
        ("RATE_LIMIT", i64::from(g.rate)),
        ("STUCK_SAMPLES", i64::from(g.stuck.0)),
        ("STUCK_TRAVEL", i64::from(g.stuck.1.bits())),
        ("EFFECT_LEVEL", i64::from(g.effect.0.bits())),
        ("EFFECT_SAMPLES", i64::from(g.effect.1)),
        ("EFFECT_RESPONSE", i64::from(g.effect.2)),
        ("EFFECT_MARGIN", i64::from(g.effect.3)),
        ("HUNTING_LIMIT", i64::from(g.hunting.0)),
        ("HUNTING_FORGET", i64::from(g.hunting.1)),
        ("HUNTING_DETECTIONS", i64::from(g.hunting.2)),
        ("CHECKSUM", i64::from(checksum(plan))),
    ]);
    out
}
