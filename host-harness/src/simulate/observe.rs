//! What a run is judged by, read off sample by sample; and the run going on where a stretch was too short to judge.

use std::collections::HashSet;

use super::horizon::Horizon;
use super::metrics::{
    AlarmLog, CycleFinder, Excursion, Found, Here, Raised, Settled, Settling, Starts, Travel,
};
use super::{Sample, share};
use crate::design::{Actuator, Design};

/// A run goes on for so many times its length at most, all stretches together.
const GOES_ON_TIMES: u64 = 4;
/// A short run goes on for so many samples at most.
const GOES_ON_LEAST: u64 = 100_000;
/// And a long one for so many.
const GOES_ON_MOST: u64 = 2_000_000;
/// The slowest cycles that a stretch is given to show itself, in times to stay (half a cycle each).
const CYCLES_TO_SHOW: f64 = 8.0;

/// A stretch between two changes of the scenario.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Its beginning and its end, seconds.
    pub from_s: f64,
    /// See `from_s`.
    pub to_s: f64,
    /// How long the run went on after it, with everything as it was, seconds.
    pub on_s: f64,
    /// Set point, degC.
    pub set_point: f64,
    /// Heat from inside, watt.
    pub load_w: f64,
    /// Surroundings, degC.
    pub ambient_celsius: f64,
    /// How it settled; `None` when it did not, or not yet for long enough.
    pub settled: Option<Settled>,
    /// Time to settle, seconds.
    pub settling_s: Option<f64>,
    /// How long it stayed settled, seconds.
    pub stayed_s: f64,
    /// Cycles.
    pub found: Found,
    /// Mean distance from the set point in the last quarter, kelvin; hotter is positive.
    pub offset: f64,
    /// Lowest to highest temperature in the last quarter, kelvin.
    pub moves: f64,
    /// Until its end the law asked for the most for so long, seconds.
    pub at_most_s: f64,
    /// Share of the stretch in which it asked for the most.
    pub at_most_share: f64,
    /// False when it was too short to judge, and the run did not go on for long enough.
    pub judged: bool,
    /// True when it was not judged because the same change from the same conditions was before.
    pub repeats: bool,
}

/// Everything observed of one run.
#[derive(Clone, Debug, PartialEq)]
pub struct Observed {
    /// Samples of the scenario.
    pub samples: u64,
    /// How long its loop must be watched.
    pub horizon: Horizon,
    /// Peak and undershoot: temperature (degC or kelvin) and time (seconds) of each.
    pub peak: (f64, f64),
    /// See `peak`.
    pub below: (f64, f64),
    /// Motion of the duty, full strokes an hour.
    pub motion_per_hour: f64,
    /// Jitter of the duty, full strokes an hour.
    pub jitter_per_hour: f64,
    /// Largest step of the duty after the set point was first reached, share of full.
    pub largest_step: f64,
    /// Starts of the fan after its first, or of the switch, an hour.
    pub starts_per_hour: f64,
    /// Whether the fan ever turned (true without a fan).
    pub ever_turned: bool,
    /// Share of the run in which a fan that had turned stood still.
    pub stood_share: f64,
    /// Alarms, in a run without any fault.
    pub alarms: Vec<Raised>,
    /// Stretches, in order of time.
    pub stretches: Vec<Stretch>,
}

/// What can go on from where it is with its surroundings held.
pub(super) trait GoesOn {
    /// The next sample.
    fn next(&mut self) -> Sample;
}

/// Watches one stretch.
#[derive(Clone)]
struct Watch {
    settling: Settling,
    cycles: CycleFinder,
}

/// Watches a run.
pub(super) struct Observer<'a> {
    design: &'a Design,
    horizon: Horizon,
    limits: (f64, f64),
    excursion: Excursion,
    travel: Travel,
    steps: Travel,
    reached: bool,
    /// Whether it had not yet been when the stretch began.
    warming: bool,
    rotor: Starts,
    switchings: u64,
    alarms: AlarmLog,
    watch: Watch,
    now: Stretch,
    done: Vec<Stretch>,
    next_event: usize,
    samples: u64,
    budget: u64,
    gone_on: HashSet<[u64; 6]>,
}

impl<'a> Observer<'a> {
    /// For a run of so many samples.
    pub(super) fn new(design: &'a Design, samples: u64) -> Self {
        let control = &design.control;
        let lsb = 1.5 / f64::from(i16::MAX);
        let k = &control.integers;
        let travel = Travel::new(control.period_s, design.sensing.facts.lag_s);
        Self {
            design,
            horizon: Horizon::of(design),
            limits: (share(k.lo) + lsb, share(k.hi) - lsb),
            excursion: Excursion::new(control.accept.band_celsius),
            steps: travel.clone(),
            travel,
            reached: false,
            warming: true,
            rotor: Starts::default(),
            switchings: 0,
            alarms: AlarmLog::default(),
            watch: Watch::new(design),
            now: Stretch {
                from_s: 0.0,
                to_s: 0.0,
                on_s: 0.0,
                set_point: control.set_point_celsius,
                load_w: control.plant.load_w,
                ambient_celsius: control.plant.ambient_celsius,
                settled: None,
                settling_s: None,
                stayed_s: 0.0,
                found: Found::default(),
                offset: 0.0,
                moves: 0.0,
                at_most_s: 0.0,
                at_most_share: 0.0,
                judged: true,
                repeats: false,
            },
            done: Vec::new(),
            next_event: 0,
            samples: 0,
            budget: (samples * GOES_ON_TIMES).clamp(GOES_ON_LEAST, GOES_ON_MOST),
            gone_on: HashSet::new(),
        }
    }

    /// The same with another number of samples that the run may go on for.
    pub(super) fn going_on_for(mut self, samples: u64) -> Self {
        self.budget = samples;
        self
    }

    /// True when the scenario changes something before the next sample.
    pub(super) fn changes(&self) -> bool {
        let event = self.design.control.scenario.events.get(self.next_event);
        event.is_some_and(|e| e.at_s <= self.samples as f64 * self.design.control.period_s)
    }

    /// The stretch so far ends here; `on` goes on from its end.
    pub(super) fn close<G: GoesOn>(&mut self, on: impl FnOnce() -> G) {
        if self.watch.settling.samples() > 0 {
            self.go_on(on);
            let mut stretch = self.now.clone();
            stretch.to_s = self.samples as f64 * self.design.control.period_s;
            self.watch
                .figures(self.design, &self.horizon, &mut stretch, self.warming);
            self.done.push(stretch);
        }
        self.watch = Watch::new(self.design);
        self.warming = !self.reached;
        self.now.from_s = self.samples as f64 * self.design.control.period_s;
        self.now.on_s = 0.0;
        (self.now.judged, self.now.repeats) = (true, false);
        while self.changes() {
            let event = &self.design.control.scenario.events[self.next_event];
            self.next_event += 1;
            let now = &mut self.now;
            now.load_w = event.load_w.unwrap_or(now.load_w);
            now.ambient_celsius = event.ambient_celsius.unwrap_or(now.ambient_celsius);
            now.set_point = event.set_point_celsius.unwrap_or(now.set_point);
        }
    }

    /// Lets the run go on for the stretch so far until it can be judged.
    fn go_on<G: GoesOn>(&mut self, on: impl FnOnce() -> G) {
        if self.watch.decided(self.design, &self.horizon) {
            return;
        }
        // the same change again leads to the same end
        let before = self.done.last().unwrap_or(&self.now);
        let change = [before, &self.now].map(|s| [s.load_w, s.ambient_celsius, s.set_point]);
        let key: Vec<u64> = change.concat().iter().map(|x| x.to_bits()).collect();
        let key: [u64; 6] = key.try_into().expect("twice three");
        if !self.done.is_empty() && self.gone_on.contains(&key) {
            (self.now.judged, self.now.repeats) = (false, true);
            return;
        }
        let period_s = self.design.control.period_s;
        let stay = self.horizon.stay_s;
        let longest = (self.design.control.accept.settling_s + stay).max(CYCLES_TO_SHOW * stay);
        let look = ((0.25 * stay / period_s) as u64).max(1);
        let mut loop_on = on();
        let mut went = 0;
        while !self.watch.decided(self.design, &self.horizon)
            && self.watch.settling.samples() as f64 * period_s < longest
            && self.budget > 0
        {
            for _ in 0..look.min(self.budget) {
                let sample = loop_on.next();
                self.watch.take(&sample, self.limits);
                went += 1;
            }
            self.budget = self.budget.saturating_sub(look);
        }
        self.now.on_s = went as f64 * period_s;
        self.now.judged = self.watch.decided(self.design, &self.horizon)
            || self.watch.settling.samples() as f64 * period_s >= longest;
        if self.now.judged {
            self.gone_on.insert(key);
        }
    }

    /// The next sample of the scenario.
    pub(super) fn take(&mut self, sample: &Sample) {
        let control = &self.design.control;
        let harmless = control.is_cooling() && sample.demand <= self.limits.0;
        self.excursion
            .take(sample.time_s, sample.celsius, sample.set_point, !harmless);
        // what is heard of a fan is its duty; a switch's strokes are its job, so there the demand counts
        let stroke = match control.actuator {
            Actuator::Fan(_) => sample.duty,
            Actuator::Heater(_) => sample.demand,
        };
        self.travel.take(stroke);
        self.reached |= (sample.celsius - sample.set_point).abs() <= control.accept.band_celsius;
        if self.reached {
            self.steps.take(stroke);
        }
        if matches!(control.actuator, Actuator::Fan(_)) {
            self.rotor.take(sample.turning);
        }
        self.switchings += u64::from(sample.switched_on);
        self.alarms
            .take(sample.time_s, sample.alarms, sample.celsius, sample.fault);
        self.watch.take(sample, self.limits);
        self.samples += 1;
    }

    /// The end of the run.
    pub(super) fn observed<G: GoesOn>(mut self, on: impl FnOnce() -> G) -> Observed {
        self.close(on);
        let hours = self.samples as f64 * self.design.control.period_s / 3600.0;
        let fan = matches!(self.design.control.actuator, Actuator::Fan(_));
        let starts = if fan {
            self.rotor.again
        } else {
            self.switchings
        };
        Observed {
            samples: self.samples,
            horizon: self.horizon,
            peak: (self.excursion.peak, self.excursion.peak_at_s),
            below: (self.excursion.below, self.excursion.below_at_s),
            motion_per_hour: self.travel.motion_per_hour(),
            jitter_per_hour: self.travel.jitter_per_hour(),
            largest_step: self.steps.largest_step(),
            starts_per_hour: starts as f64 / hours,
            ever_turned: !fan || self.rotor.ever,
            stood_share: self.rotor.stood as f64 / self.samples.max(1) as f64,
            alarms: self.alarms.raised(),
            stretches: self.done,
        }
    }
}

impl Watch {
    fn new(design: &Design) -> Self {
        let control = &design.control;
        Self {
            settling: Settling::new(control.accept.band_celsius, control.is_cooling()),
            cycles: CycleFinder::new(control.period_s),
        }
    }

    fn take(&mut self, sample: &Sample, (least, most): (f64, f64)) {
        self.settling.take(Here {
            error: sample.celsius - sample.set_point,
            at_least: sample.demand <= least,
            at_most: sample.demand >= most,
        });
        self.cycles.take(sample.celsius);
    }

    fn stay(design: &Design, horizon: &Horizon) -> u64 {
        (horizon.stay_s / design.control.period_s).ceil() as u64
    }

    /// Whether more time could not change what is said.
    fn decided(&self, design: &Design, horizon: &Horizon) -> bool {
        let found = self.cycles.found(design.control.accept.hunting_celsius);
        let settled = self.settling.settled(Self::stay(design, horizon));
        found.hunting.present || (settled.is_some() && !found.undecided)
    }

    fn figures(&self, design: &Design, horizon: &Horizon, into: &mut Stretch, warming: bool) {
        let period_s = design.control.period_s;
        let seconds = |samples: u64| samples as f64 * period_s;
        // a stretch that could not be judged is told as it stands
        let stay = if into.judged {
            Self::stay(design, horizon)
        } else {
            1
        };
        into.settled = self.settling.settled(stay);
        // warming up from cold is the plant's time, not the controller's
        into.settling_s = into
            .settled
            .map(|s| seconds(s.after.saturating_sub(if warming { s.first } else { 0 })));
        into.stayed_s = into.settled.map_or(0.0, |s| seconds(s.stayed));
        into.found = self.cycles.found(design.control.accept.hunting_celsius);
        let outline = self.cycles.outline();
        let last = &outline[outline.len() - outline.len().div_ceil(4)..];
        into.offset = last.iter().sum::<f64>() / last.len().max(1) as f64 - into.set_point;
        into.moves = last.iter().copied().fold(f64::NEG_INFINITY, f64::max)
            - last.iter().copied().fold(f64::INFINITY, f64::min);
        into.at_most_s = seconds(self.settling.at_most_for());
        into.at_most_share = self.settling.at_most_share();
    }
}
