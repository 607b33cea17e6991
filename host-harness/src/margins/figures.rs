//! Margins as figures for machines and as sentences for people.

use serde::Serialize;

use super::operating::PointMargins;

/// Margins at one operating point, in the units that people use. What does not exist is `null`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MarginFigures {
    /// When the operating point begins, seconds.
    pub from_s: f64,
    /// Set point, degC.
    pub set_point_celsius: f64,
    /// Heat made inside, watt.
    pub load_w: f64,
    /// Surroundings, degC.
    pub ambient_celsius: f64,
    /// Duty that holds the set point, percent of full.
    pub duty_percent: f64,
    /// True when that duty lies beyond the law's limits: the loop is open there, and its margins are those it has when it
    /// comes off its limit.
    pub at_limit: bool,
    /// Change of the settled reading with the duty, kelvin a full stroke.
    pub plant_gain_kelvin: f64,
    /// Dead time counted, seconds.
    pub dead_time_s: f64,
    /// True when the loop is stable.
    pub stable: bool,
    /// Gain margin, decibels; below 0 for an unstable loop; `null` when no gain makes it unstable.
    pub gain_margin_db: Option<f64>,
    /// Phase margin, degrees; `null` when the loop's gain never reaches 1.
    pub phase_margin_degrees: Option<f64>,
    /// Maximum sensitivity Ms; `null` when the loop is unstable.
    pub sensitivity_max: Option<f64>,
    /// Dead time that may be added, seconds; `null` when any may.
    pub delay_margin_s: Option<f64>,
    /// Period of the oscillation at the limit, seconds.
    pub limit_period_s: Option<f64>,
    /// The same in words.
    pub words: String,
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

impl MarginFigures {
    /// The figures of an operating point.
    #[must_use]
    pub fn of(at: &PointMargins) -> Self {
        let m = &at.margins;
        Self {
            from_s: at.point.from_s,
            set_point_celsius: at.point.set_point_celsius,
            load_w: at.point.around.load_w,
            ambient_celsius: at.point.around.ambient_celsius,
            duty_percent: 100.0 * at.point.duty,
            at_limit: at.point.at_limit(),
            plant_gain_kelvin: at.gain_kelvin,
            dead_time_s: at.dead_time_s,
            stable: m.stable,
            gain_margin_db: finite(m.gain_margin_db()),
            phase_margin_degrees: finite(m.phase_margin_degrees()),
            sensitivity_max: finite(m.sensitivity_max),
            delay_margin_s: finite(m.delay_margin_s),
            limit_period_s: finite(m.limit_period_s()),
            words: words(at),
        }
    }

    /// What `accept.sensitivity_max` does not accept of it; nothing where the loop is open.
    #[must_use]
    pub fn refusal(&self, accepted: f64) -> Option<String> {
        if self.at_limit {
            return None;
        }
        let place = format!(
            "with {} W at {} degC around",
            self.load_w, self.ambient_celsius
        );
        match self.sensitivity_max {
            None => Some(format!("the loop is unstable {place}: {}", self.words)),
            Some(ms) if ms > accepted => Some(format!(
                "the loop's maximum sensitivity is {ms:.2} {place} ({}); accept.sensitivity_max is {accepted}",
                self.words
            )),
            Some(_) => None,
        }
    }
}

/// "a fifth", "three quarters": a share in words.
fn share(of: f64) -> String {
    let named = [
        (0.90, "nearly all"),
        (0.70, "three quarters"),
        (0.58, "two thirds"),
        (0.42, "half"),
        (0.29, "a third"),
        (0.225, "a quarter"),
        (0.183, "a fifth"),
        (0.145, "a sixth"),
        (0.112, "an eighth"),
        (0.08, "a tenth"),
    ];
    let word = named.iter().find(|(from, _)| of >= *from);
    word.map_or_else(
        || "less than a tenth".to_owned(),
        |(_, word)| (*word).to_owned(),
    )
}

/// Seconds with two digits that mean something.
fn seconds(s: f64) -> String {
    if s < 10.0 {
        format!("{s:.1} s")
    } else {
        format!("{s:.0} s")
    }
}

/// The margins of an operating point in a sentence without its full stop.
#[must_use]
pub fn words(at: &PointMargins) -> String {
    if at.point.at_limit() {
        return format!(
            "the actuator is at its limit and the loop open; when it comes off it: {}",
            swinging(at)
        );
    }
    swinging(at)
}

fn swinging(at: &PointMargins) -> String {
    let m = &at.margins;
    if !m.stable {
        let factor = 1.0 / m.gain_margin;
        return if m.gain_margin.is_finite() && factor > 1.0 {
            format!(
                "hunts: its gains are {factor:.1} times what it bears; period near {}",
                seconds(m.limit_period_s())
            )
        } else {
            "hunts whatever its gain".to_owned()
        };
    }
    let mut parts = Vec::new();
    if m.phase_margin.is_finite() {
        parts.push(format!("{:.0} degrees", m.phase_margin_degrees()));
    } else {
        parts.push("too little gain ever to swing".to_owned());
    }
    // 1 / Ms is how far the curve stays from -1, where the loop hunts; with no loop at all it is 1 away
    let way = 1.0 - 1.0 / m.sensitivity_max.max(1.0);
    parts.push(format!("{} of the way to hunting", share(way)));
    if m.delay_margin_s.is_finite() {
        let later = seconds(m.delay_margin_s);
        let what = if at.gain_kelvin < 0.0 { "air" } else { "heat" };
        parts.push(format!(
            "hunts if the {what} takes {later} longer to reach the sensor"
        ));
    }
    parts.join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design;
    use crate::margins::operating::margins;

    fn demo(name: &str) -> design::Design {
        let path = format!("{}/designs/{name}.toml", env!("CARGO_MANIFEST_DIR"));
        design::load(std::path::Path::new(&path)).expect("a demo design")
    }

    #[test]
    fn shares_in_words_are_the_nearest_named() {
        assert_eq!(share(0.2), "a fifth");
        assert_eq!(share(0.5), "half");
        assert_eq!(share(0.34), "a third");
        assert_eq!(share(0.02), "less than a tenth");
        assert_eq!(share(0.97), "nearly all");
    }

    #[test]
    fn a_box_that_makes_no_heat_is_an_open_loop_and_no_unstable_one() {
        let mut design = demo("studio-rack");
        design.control.plant.load_w = 0.0;
        design.control.scenario.events.clear();
        let found = margins(&design);
        assert_eq!(found.len(), 1);
        let f = MarginFigures::of(&found[0]);
        assert!(f.at_limit && f.stable, "{f:?}");
        assert_eq!(f.refusal(2.0), None);
        assert!(f.words.starts_with("the actuator is at its limit"), "{f:?}");
    }

    #[test]
    fn the_mistuned_rack_is_told_to_hunt_and_the_rack_is_not() {
        let good = margins(&demo("studio-rack"));
        assert_eq!(
            good.len(),
            3,
            "idle, backup, warm room; the return to idle is the first again"
        );
        for at in &good {
            let f = MarginFigures::of(at);
            assert!(f.stable && f.plant_gain_kelvin < 0.0, "{f:?}");
            assert_eq!(f.refusal(2.0), None, "{f:?}");
            let ms = f.sensitivity_max.expect("a stable loop");
            assert!(f.refusal(0.99 * ms).is_some());
        }
        // Ms is 1.25 when it idles: a fifth of the way from 1 to where 1 / Ms is 0
        let idle = words(&good[0]);
        assert!(
            idle.contains("; a fifth of the way to hunting; hunts if the air takes"),
            "{idle}"
        );
        let bad = margins(&demo("studio-rack-hunting"));
        let told: Vec<String> = bad.iter().map(words).collect();
        assert!(
            told.iter().any(|w| w.starts_with("hunts: its gains are")),
            "{told:?}"
        );
        assert!(
            MarginFigures::of(&bad[0])
                .refusal(2.0)
                .is_some_and(|w| w.contains("unstable"))
        );
    }
}
