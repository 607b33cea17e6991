//! Figures read off a simulated response: peak, undershoot, settling, travel, hunting.
//!
//! All of them are pure functions of sampled series, so that they can be tried on curves whose figures are
//! known in closed form.

use serde::Serialize;

/// A stretch of the simulation between two changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Index of its first sample.
    pub from: usize,
    /// Index after its last sample.
    pub to: usize,
    /// Set point during it, degC.
    pub set_point: f64,
}

/// How long a response takes to stay within `band` of the set point, seconds from the start of the stretch;
/// `None` when it is still outside at the end.
///
/// The last sample outside the band decides, as usual for settling time. With `from_first_reach` time counts
/// from the first sample within the band: warming up from cold is the plant's time, not the controller's.
#[must_use]
pub fn settling_s(
    celsius: &[f64],
    stretch: Stretch,
    band: f64,
    period_s: f64,
    from_first_reach: bool,
) -> Option<f64> {
    let part = &celsius[stretch.from..stretch.to];
    let inside = |t: &f64| (t - stretch.set_point).abs() <= band;
    let last_outside = part.iter().rposition(|t| !inside(t));
    let settled = match last_outside {
        Some(at) if at + 1 == part.len() => return None,
        Some(at) => at + 1,
        None => 0,
    };
    let start = if from_first_reach {
        part.iter().position(inside)?
    } else {
        0
    };
    Some(settled.saturating_sub(start) as f64 * period_s)
}

/// Largest excursion past the set point on the cold side after it has first been reached, kelvin.
#[must_use]
pub fn undershoot(celsius: &[f64], stretch: Stretch) -> f64 {
    let part = &celsius[stretch.from..stretch.to];
    let Some(reached) = part.iter().position(|t| *t >= stretch.set_point) else {
        return 0.0;
    };
    part[reached..]
        .iter()
        .fold(0.0, |most: f64, t| most.max(stretch.set_point - t))
}

/// Sum of all changes of a duty (share of full), in full strokes an hour.
#[must_use]
pub fn travel_per_hour(duty: &[f64], period_s: f64) -> f64 {
    let sum: f64 = duty.windows(2).map(|w| (w[1] - w[0]).abs()).sum();
    sum * 3600.0 / (duty.len() as f64 * period_s)
}

/// An oscillation that does not die out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Hunting {
    /// True when an oscillation goes on with an amplitude that is not acceptable.
    pub present: bool,
    /// Its period, seconds; 0 when nothing oscillates.
    pub period_s: f64,
    /// Its amplitude (half of peak to peak), kelvin; 0 when nothing oscillates.
    pub amplitude_celsius: f64,
}

/// Half-cycles needed before anything is called an oscillation: two full periods.
const HALF_CYCLES: usize = 4;
/// A half-cycle smaller than this share of the largest in the stretch is a wiggle on a crossing, not a cycle.
const WIGGLE: f64 = 0.05;
/// Amplitude that must be left at the end, as a share of the amplitude at the start, for an oscillation that
/// goes on. A loop with a damping ratio of 0.1 keeps 0.53 of its amplitude a period.
const SUSTAINED: f64 = 0.6;

/// Looks for an oscillation about the mean in the second half of a stretch.
///
/// The amplitude is that of the true temperature, so that converter noise counts only as far as it moves the
/// plant. `acceptable` is the largest amplitude that is not called hunting.
#[must_use]
pub fn hunting(celsius: &[f64], stretch: Stretch, period_s: f64, acceptable: f64) -> Hunting {
    let half = stretch.from + (stretch.to - stretch.from) / 2;
    let part = &celsius[half..stretch.to];
    if part.is_empty() {
        return Hunting::default();
    }
    let mean = part.iter().sum::<f64>() / part.len() as f64;
    let largest = part
        .iter()
        .fold(0.0, |most: f64, t| most.max((t - mean).abs()));
    // (sample of the crossing that begins it, peak) of each half-cycle between crossings of the mean
    let mut halves: Vec<(usize, f64)> = Vec::new();
    for (k, t) in part.iter().enumerate() {
        let x = t - mean;
        let crossed = k > 0 && (part[k - 1] - mean) * x < 0.0;
        match halves.last_mut() {
            None => halves.push((k, x.abs())),
            Some(_) if crossed => halves.push((k, x.abs())),
            Some((_, peak)) => *peak = peak.max(x.abs()),
        }
    }
    // the first and the last half-cycle are cut off by the window
    if halves.len() < HALF_CYCLES + 2 {
        return Hunting::default();
    }
    let end = halves[halves.len() - 1].0;
    let whole: Vec<(usize, f64)> = halves[1..halves.len() - 1]
        .iter()
        .copied()
        .filter(|(_, p)| *p > WIGGLE * largest)
        .collect();
    if whole.len() < HALF_CYCLES {
        return Hunting::default();
    }
    let mean_peak =
        |part: &[(usize, f64)]| part.iter().map(|(_, p)| p).sum::<f64>() / part.len() as f64;
    let (early, late) = whole.split_at(whole.len() / 2);
    let period = 2.0 * (end - whole[0].0) as f64 / whole.len() as f64 * period_s;
    let amplitude = mean_peak(late);
    let sustained = amplitude >= SUSTAINED * mean_peak(early);
    Hunting {
        present: sustained && amplitude > acceptable,
        period_s: period,
        amplitude_celsius: amplitude,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sine(amplitude: f64, period: f64, damping: f64, samples: usize) -> Vec<f64> {
        (0..samples)
            .map(|k| {
                let t = k as f64;
                40.0 + amplitude * (-damping * t).exp() * (std::f64::consts::TAU * t / period).sin()
            })
            .collect()
    }

    const ALL: Stretch = Stretch {
        from: 0,
        to: 4000,
        set_point: 40.0,
    };

    #[test]
    fn a_steady_sine_is_hunting_with_its_own_period_and_amplitude() {
        let found = hunting(&sine(2.0, 170.0, 0.0, 4000), ALL, 0.5, 0.3);
        assert!(found.present);
        assert!((found.period_s - 85.0).abs() < 1.0, "{found:?}");
        assert!((found.amplitude_celsius - 2.0).abs() < 0.05, "{found:?}");
    }

    #[test]
    fn a_decaying_sine_is_not() {
        let found = hunting(&sine(20.0, 170.0, 0.002, 4000), ALL, 0.5, 0.01);
        assert!(!found.present, "{found:?}");
    }

    #[test]
    fn a_small_sine_is_reported_but_acceptable() {
        let found = hunting(&sine(0.2, 170.0, 0.0, 4000), ALL, 0.5, 0.3);
        assert!(!found.present);
        assert!((found.amplitude_celsius - 0.2).abs() < 0.01);
    }

    #[test]
    fn a_flat_line_has_no_period() {
        assert_eq!(
            hunting(&vec![40.0; 4000], ALL, 0.5, 0.3),
            Hunting::default()
        );
    }

    #[test]
    fn settling_of_an_exponential_is_the_logarithm_of_its_start_over_the_band() {
        // T = 40 + 5 exp(-t/100 s): within 0.5 after 100 ln 10 = 230.26 s
        let curve: Vec<f64> = (0..4000)
            .map(|k| 40.0 + 5.0 * (-f64::from(k) / 100.0).exp())
            .collect();
        let settled = settling_s(&curve, ALL, 0.5, 1.0, false).expect("it settles");
        assert!((settled - 231.0).abs() <= 1.0, "{settled}");
        let cut = Stretch { to: 200, ..ALL };
        assert_eq!(settling_s(&curve, cut, 0.5, 1.0, false), None);
    }

    #[test]
    fn travel_counts_both_ways() {
        // 0 -> 1 -> 0 within 2 samples of 900 s: two strokes in half an hour (three samples cover 2700 s)
        assert!((travel_per_hour(&[0.0, 1.0, 0.0], 900.0) - 2.0 * 3600.0 / 2700.0).abs() < 1e-12);
    }

    #[test]
    fn undershoot_counts_only_after_the_set_point_was_reached() {
        let curve = [20.0, 30.0, 41.0, 39.2, 40.0];
        let stretch = Stretch {
            from: 0,
            to: 5,
            set_point: 40.0,
        };
        assert!((undershoot(&curve, stretch) - 0.8).abs() < 1e-12);
        assert_eq!(undershoot(&curve[..2], Stretch { to: 2, ..stretch }), 0.0);
    }
}
