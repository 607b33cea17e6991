//! Months and years: the scenario over and over, integers beside real arithmetic, figures taken on the way and no trace
//! kept. Drift, lost residues and counters that wrap show only here.

use sensor_math::fault::FaultCode;
use serde::Serialize;

use super::Sample;
use super::fixed::Fixed;
use super::pairs::pairs;
use super::real::Real;
use super::scene::Scene;
use crate::design::Design;
use crate::plan::Plan;

/// Samples between two reports of progress.
const PROGRESS: u64 = 1 << 15;

/// What a long run came to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Figures {
    /// Samples of either loop.
    pub samples: u64,
    /// Simulated time, days.
    pub days: f64,
    /// Hottest, degC.
    pub peak_celsius: f64,
    /// Coldest, degC.
    pub least_celsius: f64,
    /// Largest distance of the two loops' temperatures, kelvin.
    pub from_real_celsius_max: f64,
    /// Mean distance over the last tenth of the run less that over the first, kelvin: a drift would grow.
    pub drift_celsius: f64,
    /// Mean demand in integers less mean demand in real arithmetic, share of full.
    pub mean_demand_from_real: f64,
    /// Largest distance of the law's output from exact arithmetic, LSB.
    pub law_error_lsb_max: f64,
    /// Samples in which the two were compared: up to the first alarm.
    pub law_samples: u64,
}

/// Runs `days` of the design's scenario; `progress` hears of samples done and samples in all.
#[must_use]
pub fn run(
    design: &Design,
    read: &(dyn Fn(u16) -> Result<i16, FaultCode> + Sync),
    days: f64,
    progress: &dyn Fn(u64, u64),
) -> Figures {
    let samples = (days * 86_400.0 / design.control.period_s).floor() as u64;
    let plan = &Plan::new(design);
    let tenth = (samples / 10).max(1);
    let mut figures = Figures {
        samples,
        days,
        peak_celsius: f64::NEG_INFINITY,
        least_celsius: f64::INFINITY,
        ..Figures::default()
    };
    let (mut first, mut last, mut demands) = (0.0, 0.0, 0.0);
    let mut take = |n: u64, a: &Sample, b: &Sample| {
        let apart = (a.celsius - b.celsius).abs();
        figures.peak_celsius = figures.peak_celsius.max(a.celsius);
        figures.least_celsius = figures.least_celsius.min(a.celsius);
        figures.from_real_celsius_max = figures.from_real_celsius_max.max(apart);
        if n < tenth {
            first += apart;
        }
        if n >= samples - tenth {
            last += apart;
        }
        demands += a.demand - b.demand;
    };
    let mut n = 0;
    let law = pairs(
        |sink| {
            let mut integers = Fixed::new(design, plan, read, Scene::repeating(design));
            (0..samples).for_each(|_| sink.put(integers.sample()));
            integers.law
        },
        |sink| {
            let mut arithmetic = Real::new(design, plan, Scene::repeating(design));
            (0..samples).for_each(|_| sink.put(arithmetic.sample()));
        },
        &mut |a, b| {
            take(n, a, b);
            n += 1;
            if n.is_multiple_of(PROGRESS) || n == samples {
                progress(n, samples);
            }
        },
    );
    figures.drift_celsius = (last - first) / tenth as f64;
    figures.mean_demand_from_real = demands / samples.max(1) as f64;
    figures.law_error_lsb_max = law.error_lsb_max;
    figures.law_samples = law.samples;
    figures
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::build;

    /// Two days of the rack, over and over: its scenario repeats, and nothing is kept but the figures.
    #[test]
    fn a_long_run_says_what_the_short_one_says_and_does_not_drift() {
        let path =
            std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("designs/studio-rack.toml");
        let design = crate::design::load(&path).unwrap_or_else(|e| panic!("{e}"));
        let table = build::table(&design.sensing).expect("a table");
        let read = |code: u16| build::read(&table, code);
        let once = design.control.scenario.duration_s / 86_400.0;
        let short = build::respond(&design, &table);
        let same = run(&design, &read, once, &|_, _| {});
        assert_eq!(same.samples, short.observed.samples);
        assert_eq!(same.law_samples, short.law.samples);
        let peak = short
            .fixed
            .iter()
            .map(|s| s.celsius)
            .fold(f64::NEG_INFINITY, f64::max);
        assert_eq!(same.peak_celsius, peak);
        assert_eq!(same.law_error_lsb_max, short.law.error_lsb_max);
        let long = run(&design, &read, 2.0, &|_, _| {});
        assert_eq!(long.samples, 2 * 86_400 * 2);
        assert!(long.law_error_lsb_max <= 0.5 && long.law_error_lsb_max > 0.0);
        assert!(long.drift_celsius.abs() < 0.05, "{long:?}");
        assert!(long.from_real_celsius_max < 1.0, "{long:?}");
    }
}
