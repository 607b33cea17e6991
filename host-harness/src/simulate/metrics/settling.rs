//! How long a loop takes to settle, whether it then stays, and where it comes to rest.

/// What is looked at in one sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Here {
    /// Temperature less set point, kelvin.
    pub error: f64,
    /// True when the law asks for the least it may (a fan's floor, a heater's nothing).
    pub at_least: bool,
    /// True when it asks for the most.
    pub at_most: bool,
}

/// Takes a stretch a sample at a time.
///
/// The last sample outside the band decides, as usual for settling time. Where the actuator rests at its least and the
/// temperature stands on the side that more of it would only worsen, the loop has done all it can: a box that the fan's
/// floor keeps below the set point is a quiet box. That counts only for a stretch that ends so; a passing dip does not.
#[derive(Clone, Debug)]
pub struct Settling {
    band: f64,
    cooling: bool,
    samples: u64,
    first_inside: Option<u64>,
    after_outside: u64,
    first_resting: Option<u64>,
    after_unrested: u64,
    at_least_since: u64,
    at_most: u64,
    at_most_since: u64,
}

/// How a stretch settled; times in samples.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settled {
    /// Samples until it was within the band for good, from the beginning of the stretch.
    pub after: u64,
    /// The first sample within the band.
    pub first: u64,
    /// Samples that it has stayed since.
    pub stayed: u64,
    /// True when it rests at the actuator's least, on the harmless side of the set point.
    pub resting: bool,
}

impl Settling {
    /// `band`: distance from the set point that counts as settled, kelvin.
    #[must_use]
    pub fn new(band: f64, cooling: bool) -> Self {
        Self {
            band,
            cooling,
            samples: 0,
            first_inside: None,
            after_outside: 0,
            first_resting: None,
            after_unrested: 0,
            at_least_since: 0,
            at_most: 0,
            at_most_since: 0,
        }
    }

    /// The next sample.
    pub fn take(&mut self, here: Here) {
        let inside = here.error.abs() <= self.band;
        let harmless = if self.cooling {
            here.error < 0.0
        } else {
            here.error > 0.0
        };
        let rests = inside || (here.at_least && harmless);
        let now = self.samples;
        self.samples += 1;
        if inside {
            self.first_inside.get_or_insert(now);
        } else {
            self.after_outside = self.samples;
        }
        if rests {
            self.first_resting.get_or_insert(now);
        } else {
            self.after_unrested = self.samples;
        }
        if !here.at_least {
            self.at_least_since = self.samples;
        }
        if here.at_most {
            self.at_most += 1;
        } else {
            self.at_most_since = self.samples;
        }
    }

    /// How it settled; `None` while it is outside the band, or not yet for `stay` samples inside.
    #[must_use]
    pub fn settled(&self, stay: u64) -> Option<Settled> {
        let within = |first: Option<u64>, after: u64, resting| {
            let stayed = self.samples.saturating_sub(after);
            (stayed > 0 && stayed >= stay).then_some(Settled {
                after,
                first: first.unwrap_or(after),
                stayed,
                resting,
            })
        };
        within(self.first_inside, self.after_outside, false).or_else(|| {
            let rested = self.samples - self.at_least_since;
            (rested > 0 && rested >= stay)
                .then(|| within(self.first_resting, self.after_unrested, true))
                .flatten()
        })
    }

    /// Samples so far.
    #[must_use]
    pub fn samples(&self) -> u64 {
        self.samples
    }

    /// Samples since which the law has asked for the most without a break.
    #[must_use]
    pub fn at_most_for(&self) -> u64 {
        self.samples - self.at_most_since
    }

    /// Share of the samples in which the law asked for the most.
    #[must_use]
    pub fn at_most_share(&self) -> f64 {
        self.at_most as f64 / self.samples.max(1) as f64
    }

    /// Samples since which the law has asked for the least without a break.
    #[must_use]
    pub fn at_least_for(&self) -> u64 {
        self.samples - self.at_least_since
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn watch(cooling: bool, samples: impl IntoIterator<Item = (f64, bool)>) -> Settling {
        let mut settling = Settling::new(0.5, cooling);
        for (error, at_least) in samples {
            settling.take(Here {
                error,
                at_least,
                at_most: false,
            });
        }
        settling
    }

    #[test]
    fn settling_of_an_exponential_is_the_logarithm_of_its_start_over_the_band() {
        // 5 exp(-t/100): within 0.5 after 100 ln 10 = 230.26
        let curve = |n: u32| (0..n).map(|k| (5.0 * (-f64::from(k) / 100.0).exp(), false));
        let settled = watch(true, curve(4000)).settled(1000).expect("it settles");
        assert_eq!(settled.after, 231);
        assert_eq!(settled.stayed, 4000 - 231);
        assert!(!settled.resting);
        assert_eq!(watch(true, curve(200)).settled(1), None);
    }

    #[test]
    fn a_stretch_that_ends_as_it_enters_the_band_has_not_settled() {
        let curve = (0..300).map(|k| (if k < 290 { 2.0 } else { 0.1 }, false));
        let watched = watch(true, curve);
        assert_eq!(watched.settled(100), None);
        assert_eq!(watched.settled(10).map(|s| s.stayed), Some(10));
    }

    #[test]
    fn a_box_at_the_floor_below_its_set_point_rests_and_one_above_it_does_not() {
        let below = (0..300).map(|k| (if k < 50 { 1.0 } else { -3.0 }, k >= 50));
        let settled = watch(true, below.clone()).settled(100).expect("it rests");
        assert!(settled.resting && settled.after == 50);
        // for a heater the same temperatures are a failure
        assert_eq!(watch(false, below).settled(100), None);
        // and a dip at the floor that ends is a dip
        let dip = (0..300).map(|k| {
            (
                if (50..150).contains(&k) { -3.0 } else { 0.0 },
                (50..150).contains(&k),
            )
        });
        let settled = watch(true, dip).settled(100).expect("it settles");
        assert!(!settled.resting && settled.after == 150);
    }
}
