//! What other gains would do: the loop in real arithmetic, tried with them.

use super::observe::{Observed, Observer};
use super::real::Real;
use super::scene::Scene;
use crate::design::Design;
use crate::plan::Plan;

/// Samples of all trials of one design together, the run going on included.
const SAMPLES: u64 = 400_000;
/// Trials of one search at most.
const TRIALS: u64 = 8;
/// Factors tried are powers of two up to this one.
const DOUBLINGS: u32 = 7;

/// Which gains a trial changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// All of them.
    All,
    /// The integral gain alone.
    Integral,
}

/// A change of gains that was tried and did what was wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trial {
    /// Which gains.
    pub part: Part,
    /// What they are multiplied by.
    pub factor: f64,
}

/// Runs the scenario, or as much of it as is affordable, in real arithmetic with changed gains.
fn observe(design: &Design, trial: Trial) -> Observed {
    let mut changed = design.clone();
    let gains = &mut changed.control.quantised_gains;
    gains.ki_per_kelvin_second *= trial.factor;
    if trial.part == Part::All {
        gains.kp_per_kelvin *= trial.factor;
        gains.kd_second_per_kelvin *= trial.factor;
    }
    let samples = (changed.control.scenario.duration_s / changed.control.period_s) as u64;
    let samples = samples.min(SAMPLES / TRIALS);
    let plan = Plan::new(&changed);
    let mut real = Real::new(&changed, &plan, Scene::new(&changed));
    let mut observer = Observer::new(&changed, samples).going_on_for(SAMPLES / TRIALS);
    for _ in 0..samples {
        if observer.changes() {
            observer.close(|| real.held());
        }
        observer.take(&real.sample());
    }
    observer.observed(|| real.held())
}

/// The smallest power of two by which the gains have to be divided (`down`) or multiplied before `wanted` holds of what is
/// observed: the integral gain alone where that does it, downwards with no larger a factor than all of them. `None` when no factor up to 128 does.
#[must_use]
pub fn advise(design: &Design, down: bool, wanted: &dyn Fn(&Observed) -> bool) -> Option<Trial> {
    let parts: &[Part] = if design.control.integers.ki == 0 {
        &[Part::All]
    } else {
        &[Part::Integral, Part::All]
    };
    let found = parts.iter().filter_map(|&part| {
        let trial = |doublings: u32| {
            let factor = f64::from(1 << doublings);
            Trial {
                part,
                factor: if down { 1.0 / factor } else { factor },
            }
        };
        let good = |doublings: u32| wanted(&observe(design, trial(doublings)));
        // by halves: the least factor that does it, as far as more of it does it all the more
        let (mut low, mut high) = (0, DOUBLINGS + 1);
        while high - low > 1 {
            let middle = (low + high) / 2;
            if good(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        (high <= DOUBLINGS).then(|| trial(high))
    });
    let size = |t: &Trial| t.factor.max(1.0 / t.factor);
    let found: Vec<Trial> = found.collect();
    if down {
        return found.into_iter().min_by(|a, b| size(a).total_cmp(&size(b)));
    }
    // what is missing is integral action, if more of it alone does it
    found.into_iter().next()
}
