//! `[loop]` and everything right of it, with the gains already turned into the integers of the law.

use controller_core::gain::{Gains, Sampling};
use controller_core::law::Action;

use crate::integers::LawIntegers;

use super::accept::{self, Accept};
use super::actuator::{self, Actuator};
use super::document::Section;
use super::gains::{Frame, GAIN_SCALES, Refused, quantise};
use super::keys::{self as q, Key, Number, SectionKey};
use super::plant::{self, PlantDesign, Scenario};
use super::sensing::{FORMATS, Sensing};

/// Share that only a number's representation explains.
const EXACT: f64 = 1e-9;

/// Share by which a period may miss a whole number of mains half-cycles: the mains wanders more.
const MAINS_ROUNDING: f64 = 1e-3;

/// The loop and everything right of it.
#[derive(Clone, Debug)]
pub struct Control {
    /// Direction: direct for cooling.
    pub action: Action,
    /// Wanted temperature, degC.
    pub set_point_celsius: f64,
    /// Sample period, seconds.
    pub period_s: f64,
    /// Over-temperature trip, degC.
    pub trip_celsius: f64,
    /// Gains as the design file gives them.
    pub gains: Gains,
    /// Gains as the integers stand for them.
    pub quantised_gains: Gains,
    /// The integers.
    pub integers: LawIntegers,
    /// What the demand drives.
    pub actuator: Actuator,
    /// What the loop is tried on.
    pub plant: PlantDesign,
    /// What happens then.
    pub scenario: Scenario,
    /// What the maker will accept.
    pub accept: Accept,
}

impl Control {
    /// True for cooling.
    #[must_use]
    pub fn is_cooling(&self) -> bool {
        self.action == Action::Direct
    }
}

/// A duty share as a duty word.
#[must_use]
pub fn duty_word(share: f64) -> i16 {
    (share * f64::from(i16::MAX)).round() as i16
}

/// Reads `[loop]`, `[fan]` or `[heater]`, `[plant]`, `[scenario]` and `[accept]`. `None` when they are absent
/// and may be, or when something is wrong (which is then recorded).
pub(super) fn read(
    root: &Section<'_>,
    sensing: Option<&Sensing>,
    required: bool,
) -> Option<Control> {
    let section = root.section(&q::LOOP, required);
    let fan = root.section(&q::FAN, false);
    let heater = root.section(&q::HEATER, false);
    let plant_section = root.section(&q::PLANT, false);
    let scenario = root.section(&q::SCENARIO, false);
    let accept = root.section(&q::ACCEPT, false);
    if !section.is_present() {
        return None;
    }

    // a loop without its action is one mistake: what it drives says which way it was meant
    let action = section
        .choice(&q::ACTION)
        .or(match (fan.is_present(), heater.is_present()) {
            (true, false) => Some(Action::Direct),
            (false, true) => Some(Action::Reverse),
            _ => None,
        });
    let actuator = match action {
        Some(Action::Direct) => {
            require(root, &fan, &q::FAN, "a cooling loop drives fans");
            forbid(root, &heater, &q::HEATER, "a cooling loop drives [fan]");
            Some(Actuator::Fan(actuator::read_fan(&fan)))
        }
        Some(Action::Reverse) => {
            require(root, &heater, &q::HEATER, "a heating loop drives a heater");
            forbid(root, &fan, &q::FAN, "a heating loop drives [heater]");
            Some(Actuator::Heater(actuator::read_heater(&heater)))
        }
        None => None,
    };
    let tried = "the loop is tried on a simulated plant";
    require(root, &plant_section, &q::PLANT, tried);
    let length = "the simulation needs a length";
    require(root, &scenario, &q::SCENARIO, length);

    let set_point_celsius = section.number(&q::SET_POINT);
    let period_s = section.number(&q::PERIOD);
    let trip_celsius = section.number(&q::TRIP);
    let gains = Gains::parallel(
        section.number(&q::KP) / 100.0,
        section.number(&q::KI) / 100.0,
        section.number(&q::KD) / 100.0,
    );
    let filter_samples = section.whole(&q::D_FILTER);
    if !filter_samples.is_power_of_two() {
        section.problem(
            &q::D_FILTER,
            &format!("= {filter_samples} is not a power of two"),
            "2, 4, 8, 16, 32, 64, 128 or 256",
        );
    }
    section.finish();

    let lag_s = sensing.map_or(1.0, |s| s.facts.lag_s);
    let plant =
        action.map(|action| plant::read_plant(&plant_section, action == Action::Direct, lag_s));
    let scenario_read = plant::read_scenario(&scenario);
    if let Some(sensing) = sensing {
        temperatures(&section, sensing, &q::SET_POINT, set_point_celsius);
        temperatures(&section, sensing, &q::TRIP, trip_celsius);
        let places = scenario.sections(&q::EVENT);
        for (event, place) in scenario_read.events.iter().zip(&places) {
            if let Some(set_point) = event.set_point_celsius {
                temperatures(place, sensing, &q::EVENT_SET_POINT, set_point);
            }
        }
    }
    let (sensing, action, actuator, plant) = (sensing?, action?, actuator?, plant?);
    let accept_read = accept::read(&accept, set_point_celsius, action == Action::Direct);
    if section.document().is_bad() {
        return None;
    }

    let burst = sensing.facts.burst;
    if f64::from(burst.samples - 1) / burst.hertz >= period_s {
        section.problem(
            &q::PERIOD,
            &format!(
                "= {period_s} is over before the burst of {} conversions at {} Hz is",
                burst.samples, burst.hertz
            ),
            "a period longer than adc.burst_samples / adc.burst_hertz",
        );
    }
    if trip_celsius <= set_point_celsius {
        section.problem(
            &q::TRIP,
            &format!("= {trip_celsius} is not above the set point"),
            &format!("a temperature above {set_point_celsius} degC"),
        );
    }
    if trip_celsius > accept_read.hard_limit_celsius {
        section.problem(
            &q::TRIP,
            &format!("= {trip_celsius} is above the hard limit"),
            &format!(
                "at most accept.hard_limit_celsius = {} degC",
                accept_read.hard_limit_celsius
            ),
        );
    }

    whole_ticks(&section, period_s, &actuator);
    let (lo, hi) = match &actuator {
        // the timer's own floor: what lies below it, a coarse timer cannot give
        Actuator::Fan(fan) => (fan.lowest_demand().bits(), i16::MAX),
        Actuator::Heater(heater) => (0, duty_word(heater.limit)),
    };
    let sampling = Sampling {
        period_s,
        temperature_fraction_bits: sensing.table.fraction_bits,
        gain_fraction_bits: GAIN_SCALES[0],
        filter_exponent: filter_samples.trailing_zeros(),
    };
    if gains.kp_per_kelvin == 0.0 && gains.ki_per_kelvin_second == 0.0 {
        section.problem(
            &q::KP,
            "and ki_percent_per_kelvin_second are both zero",
            "at least one of them above zero",
        );
    }
    let frame = Frame {
        sampling,
        lo,
        hi,
        action,
    };
    match quantise(gains, &frame) {
        Err(refused) => {
            for Refused {
                key,
                what,
                mut accepted,
            } in refused
            {
                if key == &q::KI {
                    // Duty LSB per temperature LSB.
                    let scale =
                        f64::from(i16::MAX) / f64::from(1_u32 << sensing.table.fraction_bits);
                    let counts = gains.ki_per_kelvin_second * period_s * scale * 65_536.0;
                    let advice =
                        crate::advice::few_counts(counts, gains.kp_per_kelvin * scale, period_s);
                    accepted.extend(advice.map(|advice| format!("; {advice}")));
                }
                section.problem(key, &what, &accepted);
            }
            None
        }
        Ok(_) if section.document().is_bad() => None,
        Ok((scale, quantised)) => {
            let m = quantised.mantissas();
            let integers = LawIntegers {
                kp: m.kp,
                ki: m.ki,
                kd: m.kd,
                scale,
                filter_exponent: sampling.filter_exponent,
                lo,
                hi,
                action,
            };
            Some(Control {
                action,
                set_point_celsius,
                period_s,
                trip_celsius,
                gains,
                quantised_gains: quantised.gains(),
                integers,
                actuator,
                plant,
                scenario: scenario_read,
                accept: accept_read,
            })
        }
    }
}

fn require(root: &Section<'_>, section: &Section<'_>, key: &SectionKey, why: &str) {
    if !section.is_present() {
        let name = key.entry().name;
        root.document().problem(
            0..0,
            format!("section [{name}] is missing"),
            format!("a section [{name}]: {why}"),
        );
    }
}

fn forbid(root: &Section<'_>, section: &Section<'_>, key: &SectionKey, why: &str) {
    if section.is_present() {
        root.problem(key, "has nothing to drive", why);
    }
}

/// A period that firmware counts in output ticks and in milliseconds must be a whole number of either.
fn whole_ticks(section: &Section<'_>, period_s: f64, actuator: &Actuator) {
    let tick_s = actuator.tick_s();
    let rounding = match actuator {
        Actuator::Heater(heater) if heater.pwm.is_none() => MAINS_ROUNDING,
        Actuator::Fan(_) | Actuator::Heater(_) => EXACT,
    };
    let is_whole = |ms: f64, rounding: f64| {
        let ticks = ms / 1e3 / tick_s;
        ticks.round() >= 1.0 && (ticks / ticks.round() - 1.0).abs() <= rounding
    };
    let ms = period_s * 1e3;
    if (ms - ms.round()).abs() < 1e-6 && is_whole(ms.round(), rounding) {
        return;
    }
    // the nearest that fit exactly, or where a mains frequency has none, well enough
    let below = ms.floor() as u32;
    let nearest = |range: &mut dyn Iterator<Item = u32>| {
        let all: Vec<f64> = range.map(f64::from).collect();
        let fits = |rounding| all.iter().find(|&&ms| is_whole(ms, rounding));
        fits(EXACT).or_else(|| fits(rounding)).copied()
    };
    let near: Vec<String> = [
        nearest(&mut (1..=below).rev()),
        nearest(&mut (below + 1..=60_000)),
    ]
    .into_iter()
    .flatten()
    .map(|ms| format!("{}", ms / 1e3))
    .collect();
    section.problem(
        &q::PERIOD,
        &format!(
            "= {period_s} is not a whole number of milliseconds and of output ticks of {} ms",
            (tick_s * 1e6).round() / 1e3
        ),
        &near.join(" or "),
    );
}

/// A temperature that the loop works at must be seen by the table and lie in the law's domain.
fn temperatures(section: &Section<'_>, sensing: &Sensing, key: &Number, celsius: f64) {
    let table = sensing.table;
    let half = FORMATS
        .iter()
        .find(|(bits, _)| *bits == table.fraction_bits)
        .map_or(0.0, |(_, half)| *half);
    if celsius < table.low_celsius || celsius > table.high_celsius {
        section.problem(
            key,
            &format!("= {celsius} lies outside the table"),
            &format!(
                "a temperature from {} to {} degC, the table's range",
                table.low_celsius, table.high_celsius
            ),
        );
    } else if !(-half..half).contains(&celsius) {
        section.problem(
            key,
            &format!("= {celsius} lies outside the law's domain"),
            &format!(
                "a temperature from {} to below {half} degC at {} fraction bits",
                -half, table.fraction_bits
            ),
        );
    }
}
