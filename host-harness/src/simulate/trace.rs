//! The trace that is kept of a run of any length.

use super::Sample;

/// Samples that are kept at most.
pub const KEPT: u64 = 30_000;
/// Samples kept of one part of a longer run.
const OF_A_PART: u64 = 5;

/// Keeps every sample of a run of up to [`KEPT`]. A longer one is cut into equal parts, and of each part its first sample
/// is kept and those in which the loop in integers was coldest, hottest, at its least and at its greatest duty: no peak
/// is lost.
pub(super) struct Trace {
    part: u64,
    seen: u64,
    now: Vec<(Sample, Sample)>,
    fixed: Vec<Sample>,
    real: Vec<Sample>,
}

impl Trace {
    /// For so many samples.
    pub(super) fn new(samples: u64) -> Self {
        Self {
            part: if samples <= KEPT {
                1
            } else {
                samples.div_ceil(KEPT / OF_A_PART)
            },
            seen: 0,
            now: Vec::new(),
            fixed: Vec::new(),
            real: Vec::new(),
        }
    }

    /// The next sample of both loops.
    pub(super) fn take(&mut self, fixed: &Sample, real: &Sample) {
        if self.seen.is_multiple_of(self.part) {
            self.close();
            self.now = vec![(*fixed, *real); OF_A_PART as usize];
        } else {
            let better = [
                false,
                fixed.celsius < self.now[1].0.celsius,
                fixed.celsius > self.now[2].0.celsius,
                fixed.duty < self.now[3].0.duty,
                fixed.duty > self.now[4].0.duty,
            ];
            for (kept, better) in self.now.iter_mut().zip(better) {
                if better {
                    *kept = (*fixed, *real);
                }
            }
        }
        self.seen += 1;
    }

    fn close(&mut self) {
        let mut part = std::mem::take(&mut self.now);
        part.sort_by(|a, b| a.0.time_s.total_cmp(&b.0.time_s));
        part.dedup_by(|a, b| a.0.time_s == b.0.time_s);
        for (a, b) in part {
            self.fixed.push(a);
            self.real.push(b);
        }
    }

    /// What was kept of the loop in integers and of the one in real arithmetic, sample for sample.
    pub(super) fn kept(mut self) -> (Vec<Sample>, Vec<Sample>) {
        self.close();
        (self.fixed, self.real)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(samples: u64) -> Vec<Sample> {
        let mut trace = Trace::new(samples);
        for n in 0..samples {
            let sample = Sample {
                time_s: n as f64,
                // one sample in the middle of a part stands out each way
                celsius: match n {
                    100_003 => 90.0,
                    100_007 => 10.0,
                    _ => 40.0,
                },
                duty: if n == 100_011 { 1.0 } else { 0.5 },
                ..Sample::default()
            };
            trace.take(&sample, &sample);
        }
        let (fixed, real) = trace.kept();
        assert_eq!(fixed, real);
        fixed
    }

    #[test]
    fn a_short_run_is_kept_whole_and_a_long_one_with_its_peaks() {
        assert_eq!(trace(30_000).len(), 30_000);
        let long = trace(1_000_000);
        assert!(
            long.len() as u64 <= KEPT && long.len() >= 5_900,
            "{}",
            long.len()
        );
        for time in [0.0, 100_003.0, 100_007.0, 100_011.0] {
            assert!(long.iter().any(|s| s.time_s == time), "{time}");
        }
        assert!(long.windows(2).all(|w| w[0].time_s < w[1].time_s));
    }
}
