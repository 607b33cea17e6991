//! Gains as the integers of the law, and why they cannot be: told by key, in the file's percent.

use controller_core::gain::{GainError, Gains, Quantised, Sampling};
use controller_core::law::{Action, Settings};

use super::keys::{self, Number, plain};

/// Scales of kp and kd that a design may get, in order of preference: whole bytes first, because a shift by 8
/// is free on the smallest targets; then finer, then coarser. The station of the simulation is compiled for these.
pub const GAIN_SCALES: [u32; 3] = [8, 12, 4];

/// Rounding of kp and kd that makes the choice pass on to a finer scale, share.
const COMFORTABLE_ROUNDING: f64 = 0.0025;

/// Why a gain is refused.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Refused {
    /// The key to blame.
    pub(super) key: &'static Number,
    /// What is wrong with it.
    pub(super) what: String,
    /// What would be accepted.
    pub(super) accepted: String,
}

/// The law's limits and direction, which its constructor judges with the gains.
#[derive(Clone, Copy)]
pub(super) struct Frame {
    pub(super) sampling: Sampling,
    pub(super) lo: i16,
    pub(super) hi: i16,
    pub(super) action: Action,
}

impl Frame {
    fn at(&self, scale: u32) -> Sampling {
        Sampling {
            gain_fraction_bits: scale,
            ..self.sampling
        }
    }

    /// Lets the law's own constructor judge: the harness has no second set of bounds.
    fn accepts(&self, scale: u32, quantised: &Quantised<i16>) -> bool {
        let m = quantised.mantissas();
        match scale {
            4 => Settings::<i16, 4>::new(m, self.lo, self.hi, self.action).is_ok(),
            8 => Settings::<i16, 8>::new(m, self.lo, self.hi, self.action).is_ok(),
            _ => Settings::<i16, 12>::new(m, self.lo, self.hi, self.action).is_ok(),
        }
    }

    /// Gains at a scale, when that scale holds them.
    fn held(&self, gains: Gains, scale: u32) -> Option<Quantised<i16>> {
        let quantised = Quantised::<i16>::new(gains, self.at(scale)).ok()?;
        self.accepts(scale, &quantised).then_some(quantised)
    }
}

/// The scale whose quantised gains fit the law with the least fuss, with those gains.
pub(super) fn quantise(gains: Gains, frame: &Frame) -> Result<(u32, Quantised<i16>), Vec<Refused>> {
    let mut usable = None;
    for scale in GAIN_SCALES {
        let Some(quantised) = frame.held(gains, scale) else {
            continue;
        };
        let got = quantised.gains();
        let off = |wanted: f64, got: f64| {
            if wanted == 0.0 {
                0.0
            } else {
                (got / wanted - 1.0).abs()
            }
        };
        let rounding = off(gains.kp_per_kelvin, got.kp_per_kelvin)
            .max(off(gains.kd_second_per_kelvin, got.kd_second_per_kelvin));
        if rounding <= COMFORTABLE_ROUNDING {
            return Ok((scale, quantised));
        }
        usable.get_or_insert((scale, quantised));
    }
    usable.ok_or_else(|| refusals(gains, frame))
}

/// One gain of the three: its key, its value, and gains that hold nothing else.
struct One {
    key: &'static Number,
    value: f64,
    alone: fn(f64) -> Gains,
}

fn three(gains: Gains) -> [One; 3] {
    [
        One {
            key: &keys::KP,
            value: gains.kp_per_kelvin,
            alone: |kp| Gains::parallel(kp, 0.0, 0.0),
        },
        One {
            key: &keys::KI,
            value: gains.ki_per_kelvin_second,
            alone: |ki| Gains::parallel(0.0, ki, 0.0),
        },
        One {
            key: &keys::KD,
            value: gains.kd_second_per_kelvin,
            alone: |kd| Gains::parallel(0.0, 0.0, kd),
        },
    ]
}

/// Each gain that no scale holds. kd is judged beside kp, with which it shares a scale and a sum, when kp has one.
fn refusals(gains: Gains, frame: &Frame) -> Vec<Refused> {
    let [kp, ki, kd] = three(gains);
    let mut list: Vec<Refused> = [&kp, &ki]
        .into_iter()
        .filter_map(|one| refusal(one, 0.0, frame))
        .collect();
    let beside = if list.iter().any(|refused| refused.key == kp.key) {
        0.0
    } else {
        kp.value
    };
    list.extend(refusal(&kd, beside, frame));
    list
}

/// Least and greatest value of one gain at a scale, as the law's own errors tell them.
fn range(one: &One, frame: &Frame, scale: u32) -> Option<(f64, f64)> {
    let bound = |value: f64| match Quantised::<i16>::new((one.alone)(value), frame.at(scale)) {
        Err(GainError::TooLarge { greatest, .. }) => Some(greatest),
        Err(GainError::TooCoarse { least, .. }) => Some(least),
        _ => None,
    };
    Some((bound(1e-30)?, bound(1e30)?))
}

/// Why no scale holds this gain beside that much kp; nothing when one does.
fn refusal(one: &One, kp: f64, frame: &Frame) -> Option<Refused> {
    let holds = |value: f64, scale: u32| {
        let mut gains = (one.alone)(value);
        gains.kp_per_kelvin += kp;
        frame.held(gains, scale).is_some()
    };
    if one.value == 0.0 || GAIN_SCALES.iter().any(|scale| holds(one.value, *scale)) {
        return None;
    }
    // what each scale holds, from the finest; scales that overlap are told as one range
    let mut ranges: Vec<(f64, f64)> = GAIN_SCALES
        .iter()
        .filter_map(|scale| {
            let (least, greatest) = range(one, frame, *scale)?;
            // the sum that the law allows ends below the word, so that the largest value must be tried
            let greatest = (0..=1000)
                .map(|i| greatest * f64::from(1000 - i) / 1000.0)
                .find(|value| holds(*value, *scale))?;
            (least < greatest).then_some((least, greatest))
        })
        .collect();
    ranges.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut told: Vec<(f64, f64)> = Vec::new();
    for (least, greatest) in ranges {
        match told.last_mut() {
            Some(last) if least <= last.1 => last.1 = last.1.max(greatest),
            _ => told.push((least, greatest)),
        }
    }
    let ranges: Vec<String> = told
        .iter()
        .map(|(least, greatest)| {
            let (least, greatest) = (percent(*least, f64::ceil), percent(*greatest, f64::floor));
            format!("from {least} up to {greatest}")
        })
        .collect();
    let value = percent(one.value, f64::round);
    let what = if told.iter().all(|(_, greatest)| one.value > *greatest) {
        format!("= {value} is too large for the integers of this loop")
    } else {
        // the finest scale tells most counts
        let counts = GAIN_SCALES
            .iter()
            .filter_map(|scale| {
                match Quantised::<i16>::new((one.alone)(one.value), frame.at(*scale)) {
                    Err(GainError::TooCoarse { mantissa, .. }) => Some(mantissa),
                    _ => None,
                }
            })
            .max();
        match counts {
            Some(0) => format!("= {value} would round to 0 counts of an integer"),
            Some(counts) => format!(
                "= {value} would round to {counts} counts of an integer, off by more than 1 %"
            ),
            None => format!("= {value} has no integers at any scale"),
        }
    };
    let beside = if kp == 0.0 {
        String::new()
    } else {
        let kp = percent(kp, f64::round);
        format!(" and kp_percent_per_kelvin = {kp}")
    };
    Some(Refused {
        key: one.key,
        what,
        accepted: format!(
            "with period_s = {}{beside}: 0, or {} {}",
            plain(frame.sampling.period_s),
            ranges.join(", or "),
            one.key.unit()
        ),
    })
}

/// A share of full duty as the file's percent, four significant places rounded that way.
fn percent(share: f64, way: fn(f64) -> f64) -> String {
    let value = 100.0 * share;
    let places = 10_f64.powf(3.0 - value.abs().log10().floor());
    if value == 0.0 || !places.is_finite() {
        return plain(value);
    }
    plain(way(value * places) / places)
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Frame = Frame {
        sampling: Sampling {
            period_s: 0.5,
            temperature_fraction_bits: 7,
            gain_fraction_bits: 8,
            filter_exponent: 3,
        },
        lo: 6_553,
        hi: i16::MAX,
        action: Action::Direct,
    };

    fn blamed(kp: f64, ki: f64, kd: f64) -> Vec<Refused> {
        let gains = Gains::parallel(kp / 100.0, ki / 100.0, kd / 100.0);
        quantise(gains, &FRAME).expect_err("refused")
    }

    /// kp 500 alone has integers at the coarse scale; what has none is ki, at any scale.
    #[test]
    fn the_gain_to_blame_is_named_in_percent() {
        assert!(quantise(Gains::parallel(5.0, 0.0, 0.0), &FRAME).is_ok());
        let list = blamed(500.0, 2.0, 0.0);
        assert_eq!(list.len(), 1, "{list:?}");
        assert_eq!(list[0].key, &keys::KI);
        assert!(list[0].what.contains("= 2 is too large"), "{list:?}");
        // 65535 counts / (0.5 s * 32767 / 128 * 65536) = 0.0078125 of full duty
        assert!(
            list[0].accepted.contains("up to 0.7812 percent"),
            "{list:?}"
        );
        // both wrong: both are told
        let list = blamed(5000.0, 2.0, 0.0);
        let keys: Vec<&Number> = list.iter().map(|r| r.key).collect();
        assert_eq!(keys, [&keys::KP, &keys::KI]);
    }

    /// Whatever range is told as accepted is accepted at its ends.
    #[test]
    fn what_is_told_as_accepted_is_accepted() {
        let mut tried = 0;
        for (kp, ki, kd) in [
            (5000.0, 0.05, 0.0),
            (4.0, 2.0, 0.0),
            (4.0, 1e-7, 0.0),
            (1e-6, 0.05, 0.0),
            (4.0, 0.05, 99_000.0),
            (4.0, 0.05, 1e-6),
        ] {
            for refused in blamed(kp, ki, kd) {
                let words: Vec<&str> = refused.accepted.split(' ').collect();
                let after = |word: &str| -> f64 {
                    let at = words.iter().position(|w| *w == word).expect(word);
                    words[at + 1].parse().expect("a number")
                };
                for value in [after("from"), after("to")] {
                    let (mut kp, mut ki, mut kd) = (kp, ki, kd);
                    if refused.key == &keys::KP {
                        kp = value;
                    } else if refused.key == &keys::KI {
                        ki = value;
                    } else {
                        kd = value;
                    }
                    let gains = Gains::parallel(kp / 100.0, ki / 100.0, kd / 100.0);
                    let got = quantise(gains, &FRAME);
                    let others = got.err().unwrap_or_default();
                    assert!(
                        others.iter().all(|o| o.key != refused.key),
                        "{value}: {refused:?} {others:?}"
                    );
                    tried += 1;
                }
            }
        }
        assert!(tried >= 12, "{tried}");
    }

    /// kd is told what is left for it beside kp, which takes the coarse scale.
    #[test]
    fn what_kp_leaves_for_kd_is_told() {
        assert!(quantise(Gains::parallel(0.04, 0.0005, 0.002), &FRAME).is_ok());
        let list = blamed(500.0, 0.05, 0.2);
        assert_eq!(list.len(), 1, "{list:?}");
        assert_eq!(list[0].key, &keys::KD);
        assert!(list[0].what.contains("= 0.2 "), "{list:?}");
        assert!(
            list[0]
                .accepted
                .contains("and kp_percent_per_kelvin = 500: 0, or from"),
            "{list:?}"
        );
    }
}
