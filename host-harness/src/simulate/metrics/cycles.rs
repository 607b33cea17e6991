//! Cycles that do not die out, found in a temperature of any length with a memory of fixed size.
//!
//! The method is that of regular half-periods: Forsman and Stattin, "A new criterion for detecting oscillations in
//! control loops", European Control Conference 1999, compares the areas and the lengths of successive half-periods of
//! the control error; Thornhill, Huang and Zhang, "Detection of multiple oscillations in control loops", Journal of
//! Process Control 13 (2003) 91, the regularity of its zero crossings. Here the half-periods lie between turning points
//! instead of zero crossings, and their swings are compared instead of their areas: a temperature that drifts or stands
//! off its set point crosses no zero, but it turns all the same. What has to be told besides is whether a cycle dies
//! out, which one and a half of it show.
//!
//! The series is kept at several time scales: the last [`KEPT`] samples, as many means of [`GROUP`] samples, as many means
//! of [`GROUP`] of those, and so on, so that cycles of a few samples and of days are found with the same few numbers.
//!
//! Calibrated on 200 synthetic loops a row, each of 600 to 20,000 samples with a phase and noise of its own. Amplitudes,
//! drift and noise (root mean square) are multiples of the acceptable amplitude, times are shares of the window, slow
//! noise has a correlation time of a twentieth of it. The test of this module measures these rates and holds them:
//!
//! | a cycle that goes on | found |
//! |---|---|
//! | 1.5 cycles of 2 | >= 99 % |
//! | 1.75 cycles of 2 | >= 99 % |
//! | 2 cycles of 2 | >= 99 % |
//! | 3 cycles of 1.2 | >= 99 % |
//! | 6 cycles of 1.2 | >= 99 % |
//! | 40 cycles of 1.2 | >= 99 % |
//! | 3 cycles of 2, drift 4 | >= 99 % |
//! | 3 cycles of 2, drift 12 | >= 99 % |
//! | 4 cycles of 2, transient of 10 over 0.1 | >= 99 % |
//! | 4 cycles of 2, slow noise 0.2 | >= 99 % |
//! | 3 cycles of 2, white noise 0.2 | >= 80 % |
//! | 10 cycles of 2, white noise 0.5 | >= 75 % |
//!
//! | nothing that goes on | called hunting |
//! |---|---|
//! | 4 cycles of 0.9 | <= 0.5 % |
//! | 4 cycles of 0.7, white noise 0.2 | <= 0.5 % |
//! | transient of 10 over 0.3 | <= 0.5 % |
//! | transient of 10 over 0.05, drift 3 | <= 0.5 % |
//! | 2 cycles from 10, damping ratio 0.1 | <= 2 % |
//! | 3 cycles from 10, damping ratio 0.05 | <= 10 % |
//! | 10 cycles from 10, damping ratio 0.05 | <= 0.5 % |
//! | white noise 0.3 | <= 0.5 % |
//! | slow noise 0.3 | <= 0.5 % |
//! | slow noise 0.5 | <= 1.5 % |

use std::collections::VecDeque;

use serde::Serialize;

/// Numbers kept at each time scale.
pub const KEPT: usize = 1024;
/// Numbers of one scale that make one of the next.
pub const GROUP: usize = 8;
/// Swings (half-periods) that show a cycle: one and a half of it.
const FEWEST_SWINGS: usize = 3;
/// Swings looked at, from the last one back: three whole cycles.
const MOST_SWINGS: usize = 6;
/// A swing cut off by either end of the window counts from this share of its neighbour on.
const WHOLE: f64 = 0.9;
/// Two whole swings are enough when what the ends of the window cut off makes up this share of a third.
const PARTS: f64 = 0.75;
/// A first swing larger than this multiple of the next is what set the loop in motion, not a part of its cycle.
const SET_IN_MOTION: f64 = 1.2;
/// Each swing must keep this share of the one before it. A linear loop that keeps less has a damping ratio above 0.033,
/// and its cycle is down to a tenth after eleven periods.
pub const SUSTAINED: f64 = 0.9;
/// Largest ratio of the longest to the shortest of the cycles looked at (Forsman and Stattin accept half-periods
/// within a factor of 1.4 to 2).
const REGULAR: f64 = 1.8;
/// Numbers that a cycle must have at every scale but the finest.
const FEWEST_A_CYCLE: f64 = 6.0;
/// A turning point counts once the series has come back from it by this multiple of its own noise.
const NOISES: f64 = 4.0;
/// Share of the acceptable swing (peak to peak) that an undecided stretch must still move in its second half.
const STILL_MOVES: f64 = 0.75;

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

/// What a finder can say so far.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Found {
    /// The largest cycle, hunting or not.
    pub hunting: Hunting,
    /// True when more time is needed to tell: the temperature still moves by about as much as is acceptable without
    /// having shown one and a half cycles, or a cycle that is not acceptable seems to die out and has not yet.
    pub undecided: bool,
}

/// One time scale.
#[derive(Clone, Debug, Default)]
struct Scale {
    kept: VecDeque<f64>,
    sum: f64,
    summed: usize,
}

/// Takes a temperature a sample at a time.
///
/// ```
/// use host_harness::simulate::metrics::CycleFinder;
/// let mut finder = CycleFinder::new(0.5);
/// for n in 0..3000 {
///     finder.take(38.0 + 0.5 * (f64::from(n) * std::f64::consts::TAU / 1800.0).sin()); // one cycle in 900 s
/// }
/// let found = finder.found(0.25).hunting;
/// assert!(found.present);
/// assert!((found.period_s / 900.0 - 1.0).abs() < 0.1 && (found.amplitude_celsius / 0.5 - 1.0).abs() < 0.1);
/// ```
#[derive(Clone, Debug)]
pub struct CycleFinder {
    period_s: f64,
    scales: Vec<Scale>,
}

impl CycleFinder {
    /// For samples this many seconds apart.
    #[must_use]
    pub fn new(period_s: f64) -> Self {
        Self {
            period_s,
            scales: vec![Scale::default()],
        }
    }

    /// The next sample.
    pub fn take(&mut self, celsius: f64) {
        let mut value = celsius;
        for scale in &mut self.scales {
            if scale.kept.len() == KEPT {
                scale.kept.pop_front();
            }
            scale.kept.push_back(value);
            scale.sum += value;
            scale.summed += 1;
            if scale.summed < GROUP {
                return;
            }
            value = scale.sum / GROUP as f64;
            (scale.sum, scale.summed) = (0.0, 0);
        }
        // the coarsest scale always covers the whole
        if self.scales.last().is_some_and(|s| s.kept.len() == KEPT) {
            let last = self.scales.last().expect("never empty");
            let coarser = last
                .kept
                .iter()
                .copied()
                .collect::<Vec<_>>()
                .chunks_exact(GROUP)
                .map(|part| part.iter().sum::<f64>() / GROUP as f64)
                .collect();
            self.scales.push(Scale {
                kept: coarser,
                ..Scale::default()
            });
        }
    }

    /// The whole so far at its coarsest scale: means of equal lengths.
    #[must_use]
    pub fn outline(&self) -> Vec<f64> {
        self.scales
            .last()
            .map(|s| s.kept.iter().copied().collect())
            .unwrap_or_default()
    }

    /// What there is to say, when amplitudes up to `acceptable` (kelvin) are no hunting.
    #[must_use]
    pub fn found(&self, acceptable: f64) -> Found {
        let mut found = Found::default();
        let mut dying = false;
        for (level, scale) in self.scales.iter().enumerate() {
            let values: Vec<f64> = scale.kept.iter().copied().collect();
            let samples = (GROUP as f64).powi(level as i32);
            for (series, leaning) in [(without_line(&values), true), (values, false)] {
                let Some(cycle) = cycle(&series, acceptable, level == 0, leaning) else {
                    continue;
                };
                let hunting = Hunting {
                    present: cycle.sustained && cycle.amplitude > acceptable,
                    period_s: cycle.period * samples * self.period_s,
                    amplitude_celsius: cycle.amplitude,
                };
                dying |= !cycle.sustained && cycle.amplitude > acceptable;
                let of = |h: &Hunting| (h.present, h.amplitude_celsius);
                if cycle.sustained && of(&hunting) > of(&found.hunting) {
                    found.hunting = hunting;
                }
            }
        }
        let outline = self.outline();
        let half = &outline[outline.len() / 2..];
        let moves = 2.0 * STILL_MOVES * acceptable;
        found.undecided = !found.hunting.present && (dying || range(half) > moves);
        found
    }
}

/// Highest less lowest.
fn range(values: &[f64]) -> f64 {
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    (high - low).max(0.0)
}

/// The series less its straight line of least squares.
fn without_line(values: &[f64]) -> Vec<f64> {
    let n = values.len() as f64;
    if values.len() < 3 {
        return values.to_vec();
    }
    let middle = 0.5 * (n - 1.0);
    let mean = values.iter().sum::<f64>() / n;
    let (mut xy, mut xx) = (0.0, 0.0);
    for (k, v) in values.iter().enumerate() {
        let x = k as f64 - middle;
        xy += x * (v - mean);
        xx += x * x;
    }
    let slope = xy / xx;
    values
        .iter()
        .enumerate()
        .map(|(k, v)| v - mean - slope * (k as f64 - middle))
        .collect()
}

/// Standard deviation of white noise in a smooth series: the median of third differences, which a smooth curve hardly
/// has. White noise of deviation s gives them sqrt(20) s, and a normal deviate's median size is 0.6745 of its deviation.
fn noise(values: &[f64]) -> f64 {
    let mut thirds: Vec<f64> = values
        .windows(4)
        .map(|w| (w[0] - 3.0 * w[1] + 3.0 * w[2] - w[3]).abs())
        .collect();
    if thirds.is_empty() {
        return 0.0;
    }
    let middle = thirds.len() / 2;
    let (_, median, _) = thirds.select_nth_unstable_by(middle, f64::total_cmp);
    *median / 0.6745 / 20_f64.sqrt()
}

/// A cycle found in a series; times in numbers of the series.
struct Cycle {
    period: f64,
    amplitude: f64,
    sustained: bool,
    swings: usize,
}

fn cycle(values: &[f64], acceptable: f64, finest: bool, leaning: bool) -> Option<Cycle> {
    let noise = NOISES * noise(values);
    // at the finest scale a cycle of few samples looks like noise
    let noise = if finest {
        noise.min(1.5 * acceptable)
    } else {
        noise
    };
    let back = noise.max(0.5 * acceptable);
    let first = regular(values, back)?;
    if !finest && first.period < FEWEST_A_CYCLE {
        return None;
    }
    // a line taken out of a cycle that dies out can make up for it
    if leaning && first.swings < MOST_SWINGS - 2 {
        return None;
    }
    // once more with the noise averaged away as far as the period allows
    let width = (first.period / 6.0).floor() as usize;
    if width < 3 {
        return Some(first);
    }
    let half = width / 2;
    let smooth: Vec<f64> = (0..values.len())
        .map(|k| {
            // shorter towards the ends, so that none of the series is lost
            let reach = half.min(k).min(values.len() - 1 - k);
            let part = &values[k - reach..=k + reach];
            part.iter().sum::<f64>() / part.len() as f64
        })
        .collect();
    let width = 2 * half + 1;
    let angle = std::f64::consts::PI * width as f64 / first.period;
    let kept = angle.sin() / angle;
    regular(&smooth, back * kept).map(|c| Cycle {
        amplitude: c.amplitude / kept,
        ..c
    })
}

/// Indices and values of the turning points, ends included, of a series that comes back by `back` from each.
fn turns(values: &[f64], back: f64) -> Vec<(usize, f64)> {
    let mut found: Vec<(usize, f64)> = Vec::new();
    let (mut low, mut high) = ((0, values[0]), (0, values[0]));
    let mut rising = None;
    for (k, &v) in values.iter().enumerate() {
        if v > high.1 {
            high = (k, v);
        }
        if v < low.1 {
            low = (k, v);
        }
        match rising {
            None if v - low.1 > back => {
                found.push(low);
                (rising, high) = (Some(true), (k, v));
            }
            None if high.1 - v > back => {
                found.push(high);
                (rising, low) = (Some(false), (k, v));
            }
            Some(true) if high.1 - v > back => {
                found.push(high);
                (rising, low) = (Some(false), (k, v));
            }
            Some(false) if v - low.1 > back => {
                found.push(low);
                (rising, high) = (Some(true), (k, v));
            }
            _ => {}
        }
    }
    match rising {
        Some(true) => found.push(high),
        Some(false) => found.push(low),
        None => {}
    }
    found
}

/// The cycle at the end of a series, if its turning points make one.
fn regular(values: &[f64], back: f64) -> Option<Cycle> {
    if values.len() < 4 {
        return None;
    }
    let turns = turns(values, back);
    let swing = |w: &[(usize, f64)]| (w[1].1 - w[0].1).abs();
    if turns.len() < FEWEST_SWINGS {
        return None;
    }
    // what the ends of the series cut off a swing, or what set the loop in motion, as a share of the swing next to it
    let n = turns.len();
    let before = swing(&turns[..2]) / swing(&turns[1..3]);
    let after = swing(&turns[n - 2..]) / swing(&turns[n - 3..n - 1]);
    let first = usize::from(!(WHOLE..=SET_IN_MOTION).contains(&before));
    let last = n - usize::from(after < WHOLE);
    let whole = last.saturating_sub(first + 1);
    let parts = if first == 1 && before < WHOLE {
        before
    } else {
        0.0
    } + if last < n { after } else { 0.0 };
    if whole < FEWEST_SWINGS && !(whole + 1 == FEWEST_SWINGS && parts >= PARTS) {
        return None;
    }
    let turns = &turns[first..last];
    let turns = &turns[turns.len().saturating_sub(MOST_SWINGS + 1)..];
    let swings: Vec<f64> = turns.windows(2).map(swing).collect();
    let spread = |lengths: &[f64]| {
        lengths.iter().copied().fold(0.0, f64::max)
            / lengths.iter().copied().fold(f64::INFINITY, f64::min)
    };
    let cycles: Vec<f64> = turns.windows(3).map(|w| (w[2].0 - w[0].0) as f64).collect();
    if spread(&cycles) > REGULAR {
        return None;
    }
    let kept = per_step(&swings);
    let last = &swings[swings.len() - 2..];
    Some(Cycle {
        period: cycles.iter().sum::<f64>() / cycles.len() as f64,
        amplitude: 0.25 * (last[0] + last[1]),
        sustained: kept >= SUSTAINED,
        swings: swings.len(),
    })
}

/// The factor from one swing to the next, by least squares of their logarithms.
fn per_step(swings: &[f64]) -> f64 {
    let middle = 0.5 * (swings.len() as f64 - 1.0);
    let (mut xy, mut xx) = (0.0, 0.0);
    for (k, s) in swings.iter().enumerate() {
        let x = k as f64 - middle;
        xy += x * s.ln();
        xx += x * x;
    }
    (xy / xx).exp()
}

#[cfg(test)]
mod tests;
