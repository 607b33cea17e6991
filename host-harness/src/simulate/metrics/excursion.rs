//! The hottest temperature, and the depth below the set point once it has been reached.

/// Share of the band that a temperature must have fallen by.
const FELL: f64 = 0.1;

/// Takes a whole run a sample at a time.
#[derive(Clone, Debug)]
pub struct Excursion {
    band: f64,
    set_point: f64,
    /// Highest temperature since the set point was reached.
    reached: Option<f64>,
    /// Highest temperature, degC.
    pub peak: f64,
    /// Its time, seconds.
    pub peak_at_s: f64,
    /// Lowest temperature, degC.
    pub least: f64,
    /// Largest depth below the set point, kelvin.
    pub below: f64,
    /// Its time, seconds.
    pub below_at_s: f64,
}

impl Excursion {
    /// `band`: distance from the set point that counts as having reached it, kelvin.
    #[must_use]
    pub fn new(band: f64) -> Self {
        Self {
            band,
            set_point: f64::NAN,
            reached: None,
            peak: f64::NEG_INFINITY,
            peak_at_s: 0.0,
            least: f64::INFINITY,
            below: 0.0,
            below_at_s: 0.0,
        }
    }

    /// The next sample. Depth below the set point counts from the first time within the band on, through every change
    /// of load; a new set point has to be reached anew. `counts` is false where nothing could be done about it.
    pub fn take(&mut self, time_s: f64, celsius: f64, set_point: f64, counts: bool) {
        if celsius > self.peak {
            (self.peak, self.peak_at_s) = (celsius, time_s);
        }
        self.least = self.least.min(celsius);
        if set_point != self.set_point {
            (self.set_point, self.reached) = (set_point, None);
        }
        if celsius >= set_point - self.band || self.reached.is_some() {
            let highest = self.reached.map_or(celsius, |h| h.max(celsius));
            self.reached = Some(highest);
            let below = set_point - celsius;
            // on its way up it has not fallen below anything yet
            let fell = highest - celsius > FELL * self.band;
            if fell && counts && below > self.below {
                (self.below, self.below_at_s) = (below, time_s);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(curve: &[(f64, f64)]) -> Excursion {
        let mut watch = Excursion::new(0.5);
        for (k, (celsius, set_point)) in curve.iter().enumerate() {
            watch.take(k as f64, *celsius, *set_point, true);
        }
        watch
    }

    #[test]
    fn depth_counts_once_the_set_point_was_reached() {
        let found = run(&[
            (20.0, 40.0),
            (30.0, 40.0),
            (41.0, 40.0),
            (39.2, 40.0),
            (40.0, 40.0),
        ]);
        assert!((found.below - 0.8).abs() < 1e-12 && found.below_at_s == 3.0);
        assert_eq!(
            (found.peak, found.peak_at_s, found.least),
            (41.0, 2.0, 20.0)
        );
        assert_eq!(run(&[(20.0, 40.0), (30.0, 40.0)]).below, 0.0);
    }

    #[test]
    fn a_hair_below_the_set_point_has_reached_it() {
        // a stretch that began at 37.998 counted nothing until its recovery
        let found = run(&[(37.998, 38.0), (37.13, 38.0), (37.9, 38.0)]);
        assert!((found.below - 0.87).abs() < 1e-9);
    }

    #[test]
    fn warming_up_through_the_band_is_no_fall() {
        let up: Vec<(f64, f64)> = (0..200)
            .map(|k| (39.0 + 0.005 * f64::from(k), 40.0))
            .collect();
        assert_eq!(run(&up).below, 0.0);
    }

    #[test]
    fn a_higher_set_point_is_reached_anew() {
        assert_eq!(run(&[(66.0, 66.0), (66.0, 72.0), (71.0, 72.0)]).below, 0.0);
        assert_eq!(
            run(&[(66.0, 66.0), (66.0, 72.0), (72.0, 72.0), (71.0, 72.0)]).below,
            1.0
        );
    }
}
