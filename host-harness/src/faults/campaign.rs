//! The campaign: every trial at many times, judged against what the station promises.

use controller_core::guard::Alarm;
use rayon::prelude::*;
use sensor_math::fault::FaultCode;
use serde::Serialize;

use super::catalogue::{Fault, Trial, catalogue};
use super::injector::Injector;
use super::moment::{Moment, Seen, World};
use super::stated::Stated;
use crate::design::Design;
use crate::plan::{Plan, kelvin_per_code};
use crate::simulate::station::{RunningStation, station};

/// The shipped thermometer with the design's table: code in, temperature word or fault out.
pub type Thermometer<'a> = dyn Fn(u16) -> Result<i16, FaultCode> + Sync + 'a;

/// Fewest cases of a campaign.
const CASES: usize = 5_000;
/// How long a lasting fault is watched, seconds: cooling, heating.
const LASTING_S: [f64; 2] = [2_400.0, 9_000.0];
/// How long the loop is watched after a passing fault, seconds; and in a safe state that lasts and cools, which
/// then only goes on cooling.
const AFTER_S: f64 = 900.0;
/// The operator comes by so often after a fault has passed, seconds, and resets what is latched.
const OPERATOR_S: f64 = 60.0;

/// One row of the table: all cases of one kind of fault.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// The fault.
    pub fault: String,
    /// Cases.
    pub cases: usize,
    /// Cases that broke a promise.
    pub violations: usize,
    /// Cases that no firmware can make safe.
    pub unobservable: usize,
    /// Hottest true temperature of all of them from the fault on, degC.
    pub worst_celsius: f64,
    /// Cases that led to the safe state.
    pub made_safe: usize,
    /// Longest time from the fault to the safe state, seconds.
    pub safe_after_s: Option<f64>,
    /// Longest time that the station states for it, seconds, where it depends on nothing else: a case that lasts
    /// longer without an alarm is a violation.
    pub stated_s: Option<f64>,
    /// Cases whose fault passed within the time watched.
    pub passing: usize,
    /// Of those, cases in which the law ran again at the end.
    pub recovered: usize,
    /// Longest time from the end of the fault until the law ran again, seconds.
    pub recovered_after_s: Option<f64>,
    /// The first broken promises, in words.
    pub reasons: Vec<String>,
}

/// What a campaign found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Campaign {
    /// Cases.
    pub cases: usize,
    /// Cases that broke a promise; a healthy run that alarms counts as one.
    pub violations: usize,
    /// Cases that no firmware can make safe: never counted as passed.
    pub unobservable: usize,
    /// Hottest true temperature of all cases that are not unobservable, degC.
    pub worst_celsius: f64,
    /// Hottest true temperature of the unobservable ones, degC.
    pub worst_unobservable_celsius: Option<f64>,
    /// The design's hard limit, degC.
    pub hard_limit_celsius: f64,
    /// Times of the scenario at which faults began.
    pub times: usize,
    /// Row by row.
    pub faults: Vec<Row>,
    /// What is wrong without any fault.
    pub healthy: Option<String>,
}

/// How one case ended.
struct Outcome {
    worst: f64,
    unobservable: bool,
    safe_after: Option<f64>,
    recovered_after: Option<f64>,
    passing: bool,
    broken: Option<String>,
}

/// Runs the campaign of a design: at least 5,000 cases. `read` is the shipped thermometer. `progress` is called once
/// a case with the number of cases.
#[must_use]
pub fn run_campaign(
    design: &Design,
    read: &Thermometer<'_>,
    progress: &(dyn Fn(usize) + Sync),
) -> Campaign {
    run_campaign_with(design, Plan::new(design), read, CASES, progress)
}

/// The same with a plan that may differ from the design's own, and at least this many cases.
#[must_use]
pub fn run_campaign_with(
    design: &Design,
    plan: Plan,
    read: &Thermometer<'_>,
    cases: usize,
    progress: &(dyn Fn(usize) + Sync),
) -> Campaign {
    let world = World::new(design, plan, read);
    let chip = station(&world.plan);
    let stated = Stated::of(&world, chip.parts());
    let trials = catalogue(design, chip.flips());
    let a_time: f64 = trials.iter().map(|trial| 1.0 / trial.one_in as f64).sum();
    let times = (cases as f64 / a_time).ceil() as usize + 1;
    let (moments, healthy) = healthy_run(&world, &stated, chip, times);

    let work: Vec<(usize, usize)> = (0..trials.len())
        .flat_map(|trial| (0..times).map(move |time| (trial, time)))
        .filter(|&(trial, time)| (time + trial) % trials[trial].one_in == 0)
        .collect();
    let outcomes: Vec<(usize, Outcome)> = work
        .par_iter()
        .enumerate()
        .map(|(number, &(trial, time))| {
            let outcome = case(
                &world,
                &stated,
                &moments[time],
                &trials[trial],
                number as u64,
            );
            progress(work.len());
            (trial, outcome)
        })
        .collect();
    gather(design, &stated, &trials, outcomes, times, healthy)
}

/// The scenario without a fault: the loop at `times` moments spread over it, and what was wrong with it.
fn healthy_run<'a>(
    world: &World<'a>,
    stated: &Stated,
    chip: Box<dyn RunningStation>,
    times: usize,
) -> (Vec<(Moment<'a>, Watch)>, Option<String>) {
    let control = &world.design.control;
    let samples = (control.scenario.duration_s / control.period_s).floor() as usize;
    let mut moment = Moment::start(world, chip);
    let mut moments = Vec::with_capacity(times);
    let mut watch = Watch::default();
    let mut wrong = None;
    for n in 0..samples {
        // evenly spread, the first at power-on; a stride that is no whole number of any event's or window's
        if moments.len() < times && n >= moments.len() * samples / times {
            moments.push((moment.clone(), watch));
        }
        let seen = moment.slot(world, None);
        let _ = watch.hard(world, stated, &seen);
        if wrong.is_none() && seen.alarms.unsafe_to_run() {
            wrong = Some(format!(
                "alarm {} at {:.0} s without any fault",
                names(&seen),
                seen.time_s
            ));
        }
        if wrong.is_none() && seen.celsius > control.accept.hard_limit_celsius {
            wrong = Some(format!(
                "{:.1} degC at {:.0} s without any fault",
                seen.celsius, seen.time_s
            ));
        }
    }
    (moments, wrong)
}

fn names(seen: &Seen) -> String {
    let on: Vec<String> = Alarm::ALL
        .into_iter()
        .filter(|&alarm| seen.alarms.has(alarm))
        .map(|alarm| format!("{alarm:?}"))
        .collect();
    on.join(" and ")
}

/// One case: the fault from this moment on.
fn case(
    world: &World<'_>,
    stated: &Stated,
    (from, watch): &(Moment<'_>, Watch),
    trial: &Trial,
    seed: u64,
) -> Outcome {
    let control = &world.design.control;
    let mut moment = from.clone();
    let onset = moment.time_s;
    let mut injector = Injector::new(trial, onset, seed);
    let end = match trial.lasts_s {
        Some(lasts) => onset + lasts + AFTER_S,
        // mended by the watchdog's reset, or at rest in the safe state
        None if matches!(trial.fault, Fault::BitFlip { .. }) => onset + AFTER_S,
        None => onset + LASTING_S[usize::from(!control.is_cooling())],
    };
    if let Fault::BitFlip { index } = trial.fault {
        moment.chip.flip(index);
    }
    // one code at the set point, the table's error, and rounding beside the declared drift
    let tolerated = world.design.sensing.facts.drift_celsius
        + kelvin_per_code(world.design)
        + world.design.sensing.table.error_celsius;
    let mut outcome = Outcome {
        worst: f64::NEG_INFINITY,
        unobservable: trial.fault.disobeys(),
        safe_after: None,
        recovered_after: None,
        passing: trial.lasts_s.is_some(),
        broken: None,
    };
    let mut watch = *watch;
    let mut over_limit = None;
    let mut operator = 0.0;
    let mut safe_since: Option<(f64, f64)> = None;
    while moment.time_s < end {
        let seen = moment.slot(world, Some(&mut injector));
        if seen.alarms.unsafe_to_run() {
            let (since, celsius) = *safe_since.get_or_insert((seen.time_s, seen.celsius));
            if trial.lasts_s.is_none() && seen.time_s - since > AFTER_S && seen.celsius <= celsius {
                break;
            }
        } else {
            safe_since = None;
        }
        outcome.worst = outcome.worst.max(seen.celsius);
        outcome.unobservable |= seen.false_by > tolerated;
        if seen.celsius > control.accept.hard_limit_celsius && over_limit.is_none() {
            over_limit = Some(format!(
                "{:.1} degC at {:.0} s, {:.0} s after the fault",
                seen.celsius,
                seen.time_s,
                seen.time_s - onset
            ));
        }
        let after = seen.time_s - onset;
        if moment.resets > from.resets {
            // the reset is the safe state's beginning
            outcome.safe_after.get_or_insert(after);
        }
        if seen.alarms.unsafe_to_run() {
            outcome.safe_after.get_or_insert(after);
            if seen.asked.is_some_and(|asked| asked != world.safe) {
                outcome.broken.get_or_insert(format!(
                    "the pin asked for {:?} with alarm {} at {:.0} s",
                    seen.asked,
                    names(&seen),
                    seen.time_s
                ));
            }
        }
        if let Some(late) = watch.overdue(
            world,
            stated,
            trial,
            &seen,
            after,
            injector.acts(seen.time_s),
        ) {
            outcome
                .broken
                .get_or_insert(format!("{late}, fault at {onset:.0} s"));
        }
        if seen.time_s >= injector.until_s() - 5e-7 {
            if seen.ran && outcome.recovered_after.is_none() {
                outcome.recovered_after = Some(seen.time_s - injector.until_s().min(seen.time_s));
            } else if seen.alarms.unsafe_to_run() {
                outcome.recovered_after = None;
            }
            operator += control.period_s;
            if operator >= OPERATOR_S
                && (seen.alarms.has(Alarm::Trip) || seen.alarms.has(Alarm::NoEffect))
            {
                operator = 0.0;
                moment.chip.reset();
            }
        }
    }
    if outcome.passing && outcome.recovered_after.is_none() && !outcome.unobservable {
        outcome.broken.get_or_insert(format!(
            "the law did not run again {AFTER_S:.0} s after the fault at {onset:.0} s"
        ));
    }
    if let (Some(over), false) = (over_limit, outcome.unobservable) {
        outcome.broken.get_or_insert(over);
    }
    outcome
}

/// Conditions that must have raised an alarm after a stated time, kept independently of the station.
///
/// It goes along with the healthy run as well: what the plant answered just before the fault counts.
#[derive(Clone, Copy)]
struct Watch {
    hard_since: Option<f64>,
    extreme: f64,
    hot_since: Option<f64>,
}

impl Default for Watch {
    fn default() -> Self {
        Self {
            hard_since: None,
            extreme: f64::NEG_INFINITY,
            hot_since: None,
        }
    }
}

impl Watch {
    /// Says what alarm is overdue.
    fn overdue(
        &mut self,
        world: &World<'_>,
        stated: &Stated,
        trial: &Trial,
        seen: &Seen,
        after: f64,
        acts: bool,
    ) -> Option<String> {
        if seen.alarms.unsafe_to_run() {
            *self = Self::default();
            return None;
        }
        let general = self
            .hard(world, stated, seen)
            .or(self.hot(world, stated, seen));
        if !acts {
            return None;
        }
        let lasts = trial.lasts_s.unwrap_or(f64::INFINITY);
        let limit = match trial.fault {
            Fault::Open | Fault::Short => stated.sensor,
            Fault::MissingSample => stated.stale,
            Fault::StuckCode => stated.stuck,
            Fault::BitFlip { .. } => stated.self_test,
            Fault::TachometerLoss | Fault::BlockedFan { watched: true } | Fault::BlockedFans => {
                stated.tachometer
            }
            _ => f64::INFINITY,
        };
        // the watchdog's reset mends a flipped bit, and then there is nothing more to report
        let mended = matches!(trial.fault, Fault::BitFlip { .. }) && seen.ran && after > limit;
        let specific = after > limit + 1e-6 && limit < lasts && !mended;
        let disobeys = if trial.fault.disobeys() {
            general
        } else {
            None
        };
        specific
            .then(|| format!("no alarm {after:.1} s after the fault; stated: {limit:.1} s"))
            .or(disobeys)
    }

    /// Driven hard, on the wrong side of the set point, and the plant does not answer.
    fn hard(&mut self, world: &World<'_>, stated: &Stated, seen: &Seen) -> Option<String> {
        let effect = world.plan.guards.effect?;
        let away = f64::from(seen.reading?) - f64::from(seen.set_point);
        let excess = if world.design.control.is_cooling() {
            away
        } else {
            -away
        };
        self.extreme = self.extreme.max(excess);
        let hard = seen.demand >= effect.level().bits() && excess > f64::from(effect.margin());
        if !hard || self.extreme - excess >= f64::from(effect.response()) {
            self.hard_since = None;
            self.extreme = excess;
            return None;
        }
        let waited = seen.time_s - *self.hard_since.get_or_insert(seen.time_s);
        (waited > stated.effect).then(|| {
            format!(
                "no alarm after {waited:.0} s of hard drive; stated: {:.0} s",
                stated.effect
            )
        })
    }

    /// At or above the trip.
    fn hot(&mut self, world: &World<'_>, stated: &Stated, seen: &Seen) -> Option<String> {
        if seen
            .reading
            .is_none_or(|word| word < world.plan.guards.trip.trip())
        {
            self.hot_since = None;
            return None;
        }
        let waited = seen.time_s - *self.hot_since.get_or_insert(seen.time_s);
        (waited > stated.trip).then(|| {
            format!(
                "no alarm {waited:.1} s above the trip; stated: {:.1} s",
                stated.trip
            )
        })
    }
}

fn longest(longest: &mut Option<f64>, seconds: Option<f64>) {
    if let Some(seconds) = seconds {
        *longest = Some(longest.map_or(seconds, |most| most.max(seconds)));
    }
}

fn gather(
    design: &Design,
    stated: &Stated,
    trials: &[Trial],
    outcomes: Vec<(usize, Outcome)>,
    times: usize,
    healthy: Option<String>,
) -> Campaign {
    let mut faults: Vec<Row> = Vec::new();
    let mut campaign = Campaign {
        cases: outcomes.len(),
        violations: usize::from(healthy.is_some()),
        unobservable: 0,
        worst_celsius: f64::NEG_INFINITY,
        worst_unobservable_celsius: None,
        hard_limit_celsius: design.control.accept.hard_limit_celsius,
        times,
        faults: Vec::new(),
        healthy,
    };
    for (trial, outcome) in outcomes {
        let name = trials[trial].fault.name();
        if faults.last().is_none_or(|row| row.fault != name) {
            faults.push(Row {
                fault: name.to_owned(),
                cases: 0,
                violations: 0,
                unobservable: 0,
                worst_celsius: f64::NEG_INFINITY,
                made_safe: 0,
                safe_after_s: None,
                stated_s: stated.alarm_after(trials[trial].fault),
                passing: 0,
                recovered: 0,
                recovered_after_s: None,
                reasons: Vec::new(),
            });
        }
        let row = faults.last_mut().expect("just pushed");
        row.cases += 1;
        row.worst_celsius = row.worst_celsius.max(outcome.worst);
        row.made_safe += usize::from(outcome.safe_after.is_some());
        longest(&mut row.safe_after_s, outcome.safe_after);
        row.passing += usize::from(outcome.passing);
        if outcome.passing {
            row.recovered += usize::from(outcome.recovered_after.is_some());
            longest(&mut row.recovered_after_s, outcome.recovered_after);
        }
        if outcome.unobservable {
            row.unobservable += 1;
            longest(
                &mut campaign.worst_unobservable_celsius,
                Some(outcome.worst),
            );
        } else {
            campaign.worst_celsius = campaign.worst_celsius.max(outcome.worst);
        }
        if let Some(broken) = outcome.broken {
            row.violations += 1;
            if row.reasons.len() < 3 {
                row.reasons.push(broken);
            }
        }
    }
    campaign.violations += faults.iter().map(|row| row.violations).sum::<usize>();
    campaign.unobservable = faults.iter().map(|row| row.unobservable).sum();
    campaign.faults = faults;
    campaign
}
