//! Our own choice: the gains with the least integrated absolute error after a load step, subject to a maximum sensitivity.
//!
//! The criterion and the constraint are those of Astrom, Panagopoulos and Hagglund (Automatica 34 (1998) 585-601), whose
//! maximal `ki` it gives for responses that do not swing; here the absolute error itself is least, and loop and law are the
//! sampled ones. For each integral time (and derivative time) the gain is the largest that every plant bears; what remains is a
//! search over one or two times: a scan first, golden sections after it.
//!
//! The noise bounds the gains as well: `noise_step` times the reading's noise is what the duty moves from sample to sample.

use crate::margins::golden;
use crate::margins::law::SampledLaw;

use super::case::Case;
use super::rules::Terms;

/// What the gains must respect.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Largest maximum sensitivity, above 1.
    pub sensitivity_max: f64,
    /// Largest change of duty from sample to sample that a reading's unit of noise may make (standard deviations); infinite
    /// for no limit.
    pub noise_step_max: f64,
    /// Largest integral gain a sample, output a unit of error: what fits the law's word; infinite for no limit.
    pub ki_max: f64,
}

/// Gains that were found, in time: output a unit of error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Choice {
    /// The law.
    pub law: SampledLaw,
    /// Integral time, seconds.
    pub ti_s: f64,
    /// Derivative time, seconds.
    pub td_s: f64,
    /// Sum of the integrated absolute errors over the plants that are scored.
    pub absolute_error: f64,
    /// Largest sensitivity over all plants.
    pub sensitivity_max: f64,
    /// True when the noise and not the sensitivity decided.
    pub noise_decided: bool,
}

/// Integral times scanned a decade, and gains tried before the largest is refined.
const SCAN_PER_DECADE: f64 = 8.0;
const GAINS: usize = 48;

/// The search over plants: `scored` are summed, `held` must respect the limits too (corners of what is not known).
pub struct Search<'a> {
    /// Plants whose error counts.
    pub scored: &'a [Case],
    /// Plants that only must respect the limits.
    pub held: &'a [Case],
    /// The limits.
    pub limits: Limits,
}

impl Search<'_> {
    fn all(&self) -> impl Iterator<Item = &Case> {
        self.scored.iter().chain(self.held)
    }

    fn period_s(&self) -> f64 {
        self.scored[0].period_s()
    }

    fn sensitivity(&self, law: &SampledLaw) -> f64 {
        let mut worst = 0.0_f64;
        for case in self.all() {
            worst = worst.max(case.sensitivity(law));
            if worst > self.limits.sensitivity_max {
                break;
            }
        }
        worst
    }

    fn law(&self, kc: f64, ti_s: f64, td_s: f64, filter_exponent: u32) -> SampledLaw {
        SampledLaw::of_times(kc, kc / ti_s, kc * td_s, filter_exponent, self.period_s())
    }

    /// The least error with these terms; `None` when no gains respect the limits.
    ///
    /// # Panics
    ///
    /// When no plant is scored.
    #[must_use]
    pub fn best(&self, terms: Terms) -> Option<Choice> {
        let reaction = self.all().map(Case::reaction_s).fold(0.0, f64::max);
        let slowest = self.all().map(Case::slowest_s).fold(0.0, f64::max);
        let (short, long) = (0.2 * reaction, 40.0 * (reaction + slowest));
        match terms {
            Terms::P => None, // an error remains: there is no integral to be least
            Terms::Pi => self.over_integral_time((short, long), 0.0, 3),
            Terms::Pid => {
                // derivative times from a tenth of the reaction time to where it would be the main lag
                let exponent = |td: f64| {
                    let samples = (td / 8.0 / self.period_s()).max(1.0) + 1.0;
                    (samples.log2().round() as u32).clamp(1, 8)
                };
                let over = |td: f64| self.over_integral_time((short, long), td, exponent(td));
                let score = |td: f64| over(td).map_or(f64::INFINITY, |c| c.absolute_error);
                let (low, high) = (0.1 * reaction, reaction + 0.5 * slowest);
                let steps = 12;
                let at = |k: usize| low * (high / low).powf(k as f64 / f64::from(steps));
                let scores: Vec<f64> = (0..=steps as usize).map(|k| score(at(k))).collect();
                let best = (0..scores.len()).min_by(|a, b| scores[*a].total_cmp(&scores[*b]))?;
                let (a, b) = (
                    at(best.saturating_sub(1)),
                    at((best + 1).min(steps as usize)),
                );
                let mut found = over(at(best));
                for k in 1..16 {
                    let td = a + (b - a) * f64::from(k) / 16.0;
                    let other = over(td);
                    if other.map_or(f64::INFINITY, |c| c.absolute_error)
                        < found.map_or(f64::INFINITY, |c| c.absolute_error)
                    {
                        found = other;
                    }
                }
                found
            }
        }
    }

    fn over_integral_time(
        &self,
        (short, long): (f64, f64),
        td_s: f64,
        exponent: u32,
    ) -> Option<Choice> {
        let count = ((long / short).log10() * SCAN_PER_DECADE).ceil() as usize;
        let at = |k: usize| short * (long / short).powf(k as f64 / count as f64);
        let score = |ti: f64| {
            self.at(ti, td_s, exponent)
                .map_or(f64::INFINITY, |c| c.absolute_error)
        };
        let scores: Vec<f64> = (0..=count).map(|k| score(at(k))).collect();
        let best = (0..scores.len()).min_by(|a, b| scores[*a].total_cmp(&scores[*b]))?;
        if scores[best].is_infinite() {
            return None;
        }
        let (low, high) = (
            at(best.saturating_sub(1)).ln(),
            at((best + 1).min(count)).ln(),
        );
        let (ln_ti, value) = golden(low, high, 1e-4, &|ln_ti| score(ln_ti.exp()));
        let ti = if value <= scores[best] {
            ln_ti.exp()
        } else {
            at(best)
        };
        self.at(ti, td_s, exponent)
    }

    /// The best gain at these times: the largest that the limits allow, or a smaller one where that swings less.
    fn at(&self, ti_s: f64, td_s: f64, exponent: u32) -> Option<Choice> {
        let law = |kc: f64| self.law(kc, ti_s, td_s, exponent);
        let by_noise = self.limits.noise_step_max / law(1.0).noise_step();
        let by_word = self.limits.ki_max / law(1.0).ki;
        let most = by_noise.min(by_word);
        let bears =
            |kc: f64| kc <= most && self.sensitivity(&law(kc)) <= self.limits.sensitivity_max;
        // the largest gain that anything bears: where proportional action alone moves as fast as the plant can answer
        let ceiling = self
            .all()
            .map(|c| c.gain_ceiling())
            .fold(f64::INFINITY, f64::min)
            .min(most);
        let tried = |k: usize| ceiling * 1e-4_f64.powf(k as f64 / GAINS as f64);
        let first = (0..=GAINS).find(|k| bears(tried(*k)))?;
        let mut kc = tried(first);
        if first > 0 {
            let (mut low, mut high) = (kc, tried(first - 1));
            while high / low > 1.0 + 1e-6 {
                let middle = (low * high).sqrt();
                if bears(middle) {
                    low = middle
                } else {
                    high = middle
                }
            }
            kc = low;
        }
        let error = |kc: f64| {
            self.scored
                .iter()
                .map(|c| c.load_step(&law(kc)).absolute_error)
                .sum::<f64>()
        };
        let mut least = error(kc);
        let noise_decided = kc >= by_noise * (1.0 - 1e-4);
        if error(0.97 * kc) < least {
            // it swings at its limit: the least lies inside
            let (inner, value) = golden(0.3 * kc, kc, 1e-4, &|k| {
                if bears(k) { error(k) } else { f64::INFINITY }
            });
            if value < least {
                (kc, least) = (inner, value);
            }
        }
        Some(Choice {
            law: law(kc),
            ti_s,
            td_s,
            absolute_error: least,
            sensitivity_max: self.sensitivity(&law(kc)),
            noise_decided,
        })
    }
}
