//! Tuning of a design: its plant at every operating point, the published rules on it, and our own choice.

use controller_core::gain::Gains;
use nalgebra::DVector;

use super::case::Case;
use super::model::Model;
use super::optimise::{Choice, Limits, Search};
use super::reduce::Factors;
use super::rules::{Rule, Terms};
use crate::design::Design;
use crate::margins::Margins;
use crate::margins::law::SampledLaw;
use crate::margins::linear::Linear;
use crate::margins::operating::{self, OperatingPoint};
use crate::plan::kelvin_per_code;
use crate::plant::Plant;

/// What tuning may use.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wishes {
    /// Largest maximum sensitivity at any operating point, and of any plant that the true one may be.
    pub sensitivity_max: f64,
    /// How far each number of the plant may be off, share.
    pub uncertainty: f64,
    /// Derivative action only where it lowers the error by this share at least.
    pub derivative_worth: f64,
}

/// Gains with all that is said of them.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// Who says so.
    pub name: String,
    /// Its terms.
    pub terms: Terms,
    /// The gains, parallel, duty a kelvin.
    pub gains: Gains,
    /// Exponent of the derivative's filter.
    pub filter_exponent: u32,
    /// Least gain margin, least phase margin, largest sensitivity, least delay margin over the operating points.
    pub margins: Margins,
    /// Integrated absolute error after the load step, summed over the operating points, kelvin seconds; infinite when unstable.
    pub absolute_error: f64,
    /// Travel of the duty that the reading's noise alone makes, full strokes an hour.
    pub noise_travel_per_hour: f64,
}

/// The outcome.
#[derive(Clone, Debug)]
pub struct Tuned {
    /// The model that the published rules were given: of the operating point where the plant is quickest to hunt.
    pub model: Option<Model>,
    /// Load step that the errors are of, watt.
    pub load_step_w: f64,
    /// What the design holds now.
    pub present: Offer,
    /// Published rules.
    pub published: Vec<Offer>,
    /// Our own choice; `None` when no gains respect the wishes.
    pub choice: Option<Offer>,
    /// Largest sensitivity of our choice over the plants that the true one may be.
    pub held_sensitivity_max: f64,
    /// Number of those plants.
    pub held: usize,
    /// True when the noise and not the sensitivity decided.
    pub noise_decided: bool,
}

/// Share of `accept.jitter_per_hour` that the reading's noise may take: the rest is the actuator's. Our own choice, no source.
const NOISE_SHARE: f64 = 0.75;
/// Step of the load as a share of the heat or the heater's power, when the scenario has none.
const LOAD_STEP: f64 = 0.1;
/// Adverse plants that a round of the search adds to those it looks at; all are looked at between rounds.
const ADVERSE: usize = 3;
/// Rounds.
const ROUNDS: usize = 5;

/// Standard deviation of one reading: the converter's noise and its quantisation (uniform over a step: step / sqrt 12), kelvin.
#[must_use]
pub fn reading_noise_kelvin(design: &Design) -> f64 {
    let noise = design.sensing.facts.noise_lsb;
    kelvin_per_code(design) * (noise * noise + 1.0 / 12.0).sqrt()
}

/// Travel of the duty, full strokes an hour, that noise of `noise_kelvin` makes: the mean of a normal deviate's absolute value is
/// `sqrt(2 / pi)` of its standard deviation.
#[must_use]
pub fn noise_travel_per_hour(law: &SampledLaw, noise_kelvin: f64, period_s: f64) -> f64 {
    law.noise_step() * noise_kelvin * (2.0 / std::f64::consts::PI).sqrt() * 3600.0 / period_s
}

/// Largest step of the load in the scenario, or a tenth of the heat made (of the heater's power).
fn load_step_w(design: &Design) -> f64 {
    let control = &design.control;
    let mut load = control.plant.load_w;
    let mut largest = 0.0_f64;
    for event in &control.scenario.events {
        let next = event.load_w.unwrap_or(load);
        largest = largest.max((next - load).abs());
        load = next;
    }
    if largest > 0.0 {
        return largest;
    }
    LOAD_STEP
        * match &control.plant.plant {
            Plant::Enclosure(_) => control.plant.load_w,
            Plant::Vessel(vessel) => vessel.heater_w,
        }
}

/// Step of the difference that gives the load's way into the plant, watt.
const WATT: f64 = 1e-3;

/// The design's loop at an operating point: linear plant, and the case that gains are tried on.
fn case(design: &Design, point: &OperatingPoint, step_w: f64) -> (Linear, Case) {
    let control = &design.control;
    let (linear, _) = operating::open_loop(design, point);
    let plant = &control.plant.plant;
    let rest = plant.settled(point.duty, point.around);
    let with = |watt: f64| {
        let mut around = point.around;
        around.load_w += watt;
        plant.slopes(&rest, point.duty, around)
    };
    let (more, less) = (with(WATT), with(-WATT));
    let load = DVector::from_fn(linear.b.len(), |row, _| {
        (more[row] - less[row]) / (2.0 * WATT) * step_w
    });
    let case = Case::new(&linear, &load, control.period_s);
    (linear, case)
}

/// Operating points where the loop is closed; all of them when it is nowhere.
fn closed(design: &Design) -> Vec<OperatingPoint> {
    let all = operating::points(&design.control);
    let closed: Vec<_> = all.iter().copied().filter(|p| !p.at_limit()).collect();
    if closed.is_empty() { all } else { closed }
}

/// The plant with its numbers off by a share, all corners: capacities, inner and outer conductances, lags each up or down.
fn corners(plant: &Plant, off: f64) -> Vec<Plant> {
    if off <= 0.0 {
        return Vec::new();
    }
    (0..16)
        .map(|corner: u32| {
            let by = |bit: u32| {
                if corner >> bit & 1 == 0 {
                    1.0 - off
                } else {
                    1.0 + off
                }
            };
            let mut other = plant.clone();
            match &mut other {
                Plant::Enclosure(p) => {
                    p.mass_joule_per_kelvin *= by(0);
                    p.air_joule_per_kelvin *= by(0);
                    p.still_w_per_kelvin *= by(1);
                    p.blown_w_per_kelvin *= by(1);
                    p.leak_w_per_kelvin *= by(2);
                    p.ventilation_w_per_kelvin *= by(2);
                    p.sensor_lag_s *= by(3);
                    p.fan.lag_s *= by(3);
                }
                Plant::Vessel(p) => {
                    p.heater_joule_per_kelvin *= by(0);
                    p.contents_joule_per_kelvin *= by(0);
                    p.coupling_w_per_kelvin *= by(1);
                    p.loss_w_per_kelvin *= by(2);
                    p.sensor_lag_s *= by(3);
                }
            }
            other
        })
        .collect()
}

/// Worst of the margins over some cases, figure by figure.
fn worst(cases: &[Case], law: &SampledLaw) -> Margins {
    let mut all = cases.iter().map(|case| case.margins(law));
    let first = all.next().expect("at least one operating point");
    all.fold(first, |a, b| {
        let gain = if b.gain_margin < a.gain_margin { b } else { a };
        let phase = if b.phase_margin < a.phase_margin {
            b
        } else {
            a
        };
        let swing = if b.sensitivity_max > a.sensitivity_max {
            b
        } else {
            a
        };
        Margins {
            stable: a.stable && b.stable,
            gain_margin: gain.gain_margin,
            limit_rad_s: gain.limit_rad_s,
            phase_margin: phase.phase_margin,
            crossover_rad_s: phase.crossover_rad_s,
            sensitivity_max: swing.sensitivity_max,
            sensitivity_rad_s: swing.sensitivity_rad_s,
            complementary_max: a.complementary_max.max(b.complementary_max),
            delay_margin_s: a.delay_margin_s.min(b.delay_margin_s),
        }
    })
}

/// Everything that is said of some gains.
fn offer(
    cases: &[Case],
    name: String,
    gains: Gains,
    filter_exponent: u32,
    noise_kelvin: f64,
) -> Offer {
    let period_s = cases[0].period_s();
    let law = SampledLaw::of_times(
        gains.kp_per_kelvin,
        gains.ki_per_kelvin_second,
        gains.kd_second_per_kelvin,
        filter_exponent,
        period_s,
    );
    let margins = worst(cases, &law);
    let integral = gains.ki_per_kelvin_second > 0.0;
    let absolute_error = if margins.stable && integral {
        cases
            .iter()
            .map(|case| case.load_step(&law).absolute_error)
            .sum()
    } else {
        f64::INFINITY
    };
    let terms = match (integral, gains.kd_second_per_kelvin > 0.0) {
        (_, true) => Terms::Pid,
        (true, false) => Terms::Pi,
        (false, false) => Terms::P,
    };
    Offer {
        name,
        terms,
        gains,
        filter_exponent,
        margins,
        absolute_error,
        noise_travel_per_hour: noise_travel_per_hour(&law, noise_kelvin, period_s),
    }
}

/// Exponent of the filter whose time is nearest to an eighth of the derivative time, inside what a design may hold.
fn filter_for(gains: Gains, period_s: f64, present: u32) -> u32 {
    if gains.kd_second_per_kelvin <= 0.0 {
        return present;
    }
    let td = gains.kd_second_per_kelvin / gains.kp_per_kelvin;
    controller_core::gain::filter_exponent(td / 8.0, period_s, 8).max(1)
}

/// Tunes a design.
#[must_use]
pub fn tune(design: &Design, wishes: &Wishes) -> Tuned {
    let control = &design.control;
    let step_w = load_step_w(design);
    let noise_kelvin = reading_noise_kelvin(design);
    let points = closed(design);
    let (plants, scored): (Vec<Linear>, Vec<Case>) = points
        .iter()
        .map(|point| case(design, point, step_w))
        .unzip();
    let model = plants
        .iter()
        .filter_map(|plant| {
            Factors::of(plant).map(|f| {
                (
                    f.reduce(false, control.period_s),
                    f.reduce(true, control.period_s),
                )
            })
        })
        .map(|(one, two)| (absolute(one), absolute(two)))
        .max_by(|a, b| a.0.a().total_cmp(&b.0.a()));
    let mut published = Vec::new();
    if let Some((one, two)) = model {
        for rule in Rule::all(&one) {
            for terms in [Terms::P, Terms::Pi, Terms::Pid] {
                let of = match rule {
                    Rule::Simc(_) if terms == Terms::Pid => {
                        Rule::Simc(two.dead_time_s).gains(&two, terms)
                    }
                    _ => rule.gains(&one, terms),
                };
                let Some(gains) = of else { continue };
                let name = format!("{}, {}", rule.name(&one), terms.name());
                let exponent =
                    filter_for(gains, control.period_s, control.integers.filter_exponent);
                published.push(offer(&scored, name, gains, exponent, noise_kelvin));
            }
        }
    }

    let mut held: Vec<Case> = Vec::new();
    for plant in corners(&control.plant.plant, wishes.uncertainty) {
        let mut other = design.clone();
        other.control.plant.plant = plant;
        held.extend(
            closed(&other)
                .iter()
                .map(|point| case(&other, point, step_w).1),
        );
    }
    // the noise that the ear accepts, as a bound on the change of duty a kelvin of noise
    let travel_max = NOISE_SHARE * control.accept.jitter_per_hour;
    let unit = SampledLaw::of_times(1.0, 0.0, 0.0, 3, control.period_s);
    let noise_step_max = travel_max / noise_travel_per_hour(&unit, noise_kelvin, control.period_s)
        * unit.noise_step();
    // the integral gain's word: 16 bits, scaled by 2^16 (controller_core::gain); rounded down by a count
    let fraction = f64::from(1_u32 << design.sensing.table.fraction_bits);
    let ki_max = 65_534.0 / 65_536.0 * fraction / f64::from(i16::MAX);
    let limits = Limits {
        sensitivity_max: wishes.sensitivity_max,
        noise_step_max,
        ki_max,
    };
    let first = Search {
        scored: &scored,
        held: &[],
        limits,
    }
    .best(Terms::Pi);
    // the corners that mind the gains found so far most go into the search, until none is left that minds too much
    let mut best = first;
    let mut adverse: Vec<Case> = Vec::new();
    for _ in 0..ROUNDS {
        let Some(found) = best else { break };
        let minds = |case: &Case| case.sensitivity(&found.law);
        held.sort_by(|a, b| minds(b).total_cmp(&minds(a)));
        let worst = held.first().map_or(0.0, minds);
        if worst <= limits.sensitivity_max * (1.0 + 1e-3) {
            break;
        }
        adverse.extend(held.iter().take(ADVERSE).cloned());
        let search = Search {
            scored: &scored,
            held: &adverse,
            limits,
        };
        best = search.best(Terms::Pi);
        // where the noise bounds the gain, a derivative only adds to it
        if best.is_none_or(|pi| !pi.noise_decided) {
            best = better(best, search.best(Terms::Pid), wishes.derivative_worth);
        }
    }
    if adverse.is_empty() && best.is_some_and(|pi| !pi.noise_decided) {
        let search = Search {
            scored: &scored,
            held: &held[..held.len().min(ADVERSE)],
            limits,
        };
        best = better(best, search.best(Terms::Pid), wishes.derivative_worth);
    }
    let mut held_sensitivity_max = f64::NAN;
    let choice = best.map(|best| {
        let kc = best.law.kp;
        let gains = Gains::standard(significant(kc), best.ti_s, best.td_s);
        let gains = Gains::parallel(
            gains.kp_per_kelvin,
            significant(gains.ki_per_kelvin_second),
            significant(gains.kd_second_per_kelvin),
        );
        let exponent = if best.td_s > 0.0 {
            best.law.filter_exponent
        } else {
            control.integers.filter_exponent
        };
        let law = SampledLaw::of_times(
            gains.kp_per_kelvin,
            gains.ki_per_kelvin_second,
            gains.kd_second_per_kelvin,
            exponent,
            control.period_s,
        );
        held_sensitivity_max = held
            .iter()
            .chain(&scored)
            .map(|c| c.sensitivity(&law))
            .fold(0.0, f64::max);
        offer(
            &scored,
            "our choice".to_owned(),
            gains,
            exponent,
            noise_kelvin,
        )
    });
    Tuned {
        model: model.map(|(one, _)| one),
        load_step_w: step_w,
        present: offer(
            &scored,
            "the design now".to_owned(),
            control.quantised_gains,
            control.integers.filter_exponent,
            noise_kelvin,
        ),
        published,
        noise_decided: best.is_some_and(|b| b.noise_decided),
        choice,
        held_sensitivity_max,
        held: held.len(),
    }
}

/// PID where it is worth its derivative, PI otherwise.
fn better(pi: Option<Choice>, pid: Option<Choice>, worth: f64) -> Option<Choice> {
    match (pi, pid) {
        (Some(pi), Some(pid)) if pid.absolute_error < (1.0 - worth) * pi.absolute_error => {
            Some(pid)
        }
        (Some(pi), _) => Some(pi),
        (None, pid) => pid,
    }
}

/// The model with its gain's sign taken off: rules speak of positive plants, and the law's action has the sign.
fn absolute(model: Model) -> Model {
    Model {
        slope: model.slope.abs(),
        ..model
    }
}

/// Three significant digits, downwards: what goes into the file must not exceed what was found.
fn significant(value: f64) -> f64 {
    if value == 0.0 {
        return 0.0;
    }
    let digits = 2.0 - value.abs().log10().floor();
    let scale = 10_f64.powf(digits);
    (value * scale * (1.0 + 1e-12)).floor() / scale
}
