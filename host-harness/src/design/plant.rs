//! `[plant]`, `[scenario]`: what the loop is tried on.

use super::document::Section;
use super::keys as q;
use crate::plant::Plant;
use crate::plant::enclosure::Enclosure;
use crate::plant::fan::Fan;
use crate::plant::vessel::Vessel;

/// The plant at its start, and what surrounds it then.
#[derive(Clone, Debug)]
pub struct PlantDesign {
    /// The plant in its starting state.
    pub plant: Plant,
    /// Heat made inside at the start, watt.
    pub load_w: f64,
    /// Surroundings at the start, degC.
    pub ambient_celsius: f64,
}

/// A change during the simulation.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// When, seconds.
    pub at_s: f64,
    /// New heat, if it changes.
    pub load_w: Option<f64>,
    /// New surroundings, if they change.
    pub ambient_celsius: Option<f64>,
    /// New set point, if it changes.
    pub set_point_celsius: Option<f64>,
}

/// What happens during the simulation.
#[derive(Clone, Debug, PartialEq)]
pub struct Scenario {
    /// Length, seconds.
    pub duration_s: f64,
    /// Seed of the noise.
    pub seed: u64,
    /// Changes, in order of time.
    pub events: Vec<Event>,
}

pub(super) fn read_plant(section: &Section<'_>, cooling: bool, sensor_lag_s: f64) -> PlantDesign {
    let ambient_celsius = section.number(&q::AMBIENT);
    let start = section.optional(&q::START).unwrap_or(ambient_celsius);
    let plant = if cooling {
        let fan = Fan::standing(
            section.number(&q::FAN_LAG),
            section.number(&q::FAN_STALL) / 100.0,
            section.number(&q::FAN_START) / 100.0,
        );
        Plant::Enclosure(Enclosure {
            mass_joule_per_kelvin: section.number(&q::MASS),
            air_joule_per_kelvin: section.number(&q::AIR),
            still_w_per_kelvin: section.number(&q::STILL),
            blown_w_per_kelvin: section.number(&q::BLOWN),
            leak_w_per_kelvin: section.number(&q::LEAK),
            ventilation_w_per_kelvin: section.number(&q::VENTILATION),
            sensor_lag_s,
            fan,
            mass_celsius: start,
            air_celsius: start,
            sensor_celsius: start,
        })
    } else {
        Plant::Vessel(Vessel {
            heater_w: section.number(&q::HEATER_POWER),
            heater_joule_per_kelvin: section.number(&q::HEATER_MASS),
            contents_joule_per_kelvin: section.number(&q::CONTENTS),
            coupling_w_per_kelvin: section.number(&q::COUPLING),
            loss_w_per_kelvin: section.number(&q::LOSS),
            sensor_lag_s,
            heater_celsius: start,
            contents_celsius: start,
            sensor_celsius: start,
        })
    };
    let load_w = if cooling {
        section.number(&q::LOAD)
    } else {
        section.optional(&q::LOAD).unwrap_or(0.0)
    };
    section.finish();
    PlantDesign {
        plant,
        load_w,
        ambient_celsius,
    }
}

pub(super) fn read_scenario(section: &Section<'_>) -> Scenario {
    let duration_s = section.number(&q::DURATION);
    let seed = section.whole(&q::SEED);
    let mut events = Vec::new();
    for event in section.sections(&q::EVENT) {
        let at_s = event.number(&q::EVENT_AT);
        let read = Event {
            at_s,
            load_w: event.optional(&q::EVENT_LOAD),
            ambient_celsius: event.optional(&q::EVENT_AMBIENT),
            set_point_celsius: event.optional(&q::EVENT_SET_POINT),
        };
        if at_s >= duration_s {
            event.problem(
                &q::EVENT_AT,
                "lies at or after the end of the simulation",
                &format!("a time below duration_s = {duration_s}"),
            );
        }
        if events.last().is_some_and(|last: &Event| last.at_s >= at_s) {
            event.problem(
                &q::EVENT_AT,
                "is not later than the event before it",
                "events in order of time, each at a time of its own",
            );
        }
        events.push(read);
        event.finish();
    }
    section.finish();
    Scenario {
        duration_s,
        seed: seed.into(),
        events,
    }
}
