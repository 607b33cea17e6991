//! Causes that are plain from the design alone.

use super::{Code, Reason};
use crate::design::keys::plain;
use crate::design::{Actuator, Design};
use crate::plant::{NODE, Plant, Surroundings};
use crate::simulate::horizon::Horizon;

/// Temperature that the plant comes to in the end with its actuator at `duty`, degC.
pub(super) fn settled_at(design: &Design, duty: f64, around: Surroundings) -> f64 {
    design.control.plant.plant.settled(duty, around)[NODE]
}

/// What is wrong before anything runs.
pub(super) fn of_design(design: &Design) -> Vec<Reason> {
    let control = &design.control;
    let mut reasons = Vec::new();
    if let (Actuator::Fan(fan), Plant::Enclosure(plant)) = (&control.actuator, &control.plant.plant)
    {
        let (floor, stall) = (100.0 * fan.floor, 100.0 * plant.fan.stall);
        if fan.floor < plant.fan.stall && control.accept.starts_per_hour == Some(0.0) {
            reasons.push(Reason::new(
                Code::FanStandsStill,
                format!(
                    "the fan stands still at the floor: fan.floor_percent = {} is below plant.fan_stall_percent = {}",
                    tidy(floor),
                    tidy(stall)
                ),
                format!(
                    "fan.floor_percent of at least {}; or accept.starts_per_hour above 0, if the fan may stop and start again",
                    tidy(stall)
                ),
            ));
        }
        if fan.spin_up.max(fan.floor) < plant.fan.start {
            reasons.push(Reason::new(
                Code::FanStandsStill,
                format!(
                    "the push of fan.spin_up_percent = {} does not start the fan: it needs plant.fan_start_percent = {}",
                    tidy(100.0 * fan.spin_up),
                    tidy(100.0 * plant.fan.start)
                ),
                format!("fan.spin_up_percent of at least {}", tidy(100.0 * plant.fan.start)),
            ));
        }
    }
    let hottest = control
        .scenario
        .events
        .iter()
        .filter_map(|e| e.ambient_celsius)
        .fold(control.plant.ambient_celsius, f64::max);
    if hottest >= control.trip_celsius {
        reasons.push(Reason::new(
            Code::SurroundingsAboveTrip,
            format!(
                "the surroundings come to {} degC, and loop.trip_celsius = {} trips there whatever the loop does",
                plain(hottest),
                plain(control.trip_celsius)
            ),
            "a trip above the hottest surroundings, or cooler surroundings",
        ));
    }
    let horizon = Horizon::of(design);
    if control.period_s > horizon.plant_s {
        reasons.push(Reason::new(
            Code::PeriodTooLong,
            format!(
                "loop.period_s = {} is longer than the plant's own time constant of {} s: between two samples the temperature \
                 has been everywhere",
                plain(control.period_s),
                tidy(horizon.plant_s)
            ),
            format!("loop.period_s of at most {} s, a tenth of it", tidy(0.1 * horizon.plant_s)),
        ));
    }
    reasons
}

/// A number with three digits.
pub(super) fn tidy(number: f64) -> String {
    if number == 0.0 {
        return "0".to_owned();
    }
    let digits = (2 - number.abs().log10().floor() as i32).clamp(0, 9) as usize;
    let text = format!("{number:.digits$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
