//! The relay experiment: makes the loop oscillate gently, and reads the ultimate gain and period off it.
//!
//! Around a bias the output switches by `±d` whenever the error leaves `±hysteresis`. The loop settles into a
//! cycle of amplitude `a` and period `Tu`; the relay's describing function gives the ultimate gain
//! `Ku = 4 d / (pi sqrt(a^2 - hysteresis^2))`. Source: Astrom and Hagglund, Automatica 20 (1984) 645-651.
//!
//! The estimate is low by up to 19 % on plants dominated by a lag and high on plants dominated by dead time:
//! the cycle is not a sine. Gains by the usual rules allow for much more than that.
//!
//! One division and one square root at the end of the experiment are done bit by bit: no division
//! instruction or library is needed.

use super::Action;
use crate::gain::Mantissas;

/// What the experiment does. 16/32 only.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RelaySettings {
    /// Duty around which to switch, a duty word.
    pub bias: i16,
    /// How far either way, a duty word; `bias ± d` must lie in `0..=32767`.
    pub d: i16,
    /// Half the width of the hysteresis, in temperature counts, above the noise.
    pub hysteresis: i16,
    /// Full cycles to average over, after the first, which is thrown away: 1 to 16.
    pub cycles: u8,
    /// Give up after this many samples without a switch; 65 535 never gives up.
    pub patience: u16,
    /// Cooling or heating.
    pub action: Action,
}

/// Why an experiment was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RelayError {
    /// `bias ± d` leaves `0..=32767`, or `d` is not positive.
    Duty,
    /// The hysteresis is negative.
    Hysteresis,
    /// The number of cycles is not 1 to 16.
    Cycles,
}

impl core::fmt::Display for RelayError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::Duty => {
                "bias and d must leave bias - d and bias + d within 0 to 32767, d positive"
            }
            Self::Hysteresis => "the hysteresis must be zero or more counts",
            Self::Cycles => "1 to 16 cycles are accepted",
        })
    }
}

impl core::error::Error for RelayError {}

/// What was read off the cycle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ultimate {
    /// Ultimate gain, duty LSB per temperature LSB, times 2^8; limited to 2^24.
    pub gain_q8: u32,
    /// Ultimate period in sixteenths of a sample.
    pub period_q4: u32,
    /// Amplitude of the cycle in temperature counts, half of peak to peak.
    pub amplitude: u16,
}

/// Where an experiment stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress {
    /// Switching; put out this duty.
    Running(i16),
    /// Done; the last duty no longer matters.
    Done(Ultimate),
    /// No switch for too long, or no amplitude beyond the hysteresis: put the loop back as it was.
    Failed,
}

/// A running experiment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Relay {
    settings: RelaySettings,
    high: bool,
    since_switch: u16,
    /// Cycles seen, counted where the output goes high; the first count begins the first full cycle.
    cycles: u8,
    samples: u32,
    greatest: i16,
    least: i16,
    swings: u32,
    result: Option<Progress>,
}

impl Relay {
    /// Checks the settings and begins.
    ///
    /// # Errors
    /// [`RelayError`] names what is out of range.
    pub const fn new(settings: RelaySettings) -> Result<Self, RelayError> {
        let (bias, d) = (settings.bias as i32, settings.d as i32);
        if d <= 0 || bias - d < 0 || bias + d > i16::MAX as i32 {
            return Err(RelayError::Duty);
        }
        if settings.hysteresis < 0 {
            return Err(RelayError::Hysteresis);
        }
        if settings.cycles < 1 || settings.cycles > 16 {
            return Err(RelayError::Cycles);
        }
        Ok(Self {
            settings,
            high: true,
            since_switch: 0,
            cycles: 0,
            samples: 0,
            greatest: i16::MIN,
            least: i16::MAX,
            swings: 0,
            result: None,
        })
    }

    /// One sample. After the end the result stays.
    pub fn step(&mut self, set_point: i16, measurement: i16) -> Progress {
        if let Some(result) = self.result {
            return result;
        }
        let measurement = crate::word::into_domain(measurement);
        let rise = measurement.wrapping_sub(crate::word::into_domain(set_point));
        let error = match self.settings.action {
            Action::Direct => rise,
            Action::Reverse => rise.wrapping_neg(),
        };
        self.greatest = self.greatest.max(measurement);
        self.least = self.least.min(measurement);
        self.samples = self.samples.saturating_add(1);
        self.since_switch = self.since_switch.saturating_add(1);
        let up = !self.high && error > self.settings.hysteresis;
        let down = self.high && error < -self.settings.hysteresis;
        if up || down {
            self.high = up;
            self.since_switch = 0;
        }
        if up {
            self.cycle_begins();
        } else if self.since_switch > self.settings.patience {
            self.result = Some(Progress::Failed);
        }
        self.result.unwrap_or(Progress::Running(self.output()))
    }

    fn output(&self) -> i16 {
        // The constructor keeps bias ± d inside the duty's range.
        if self.high {
            self.settings.bias.wrapping_add(self.settings.d)
        } else {
            self.settings.bias.wrapping_sub(self.settings.d)
        }
    }

    /// The output has just gone high: a cycle ends and the next begins.
    fn cycle_begins(&mut self) {
        // What came before the second beginning is the transient.
        if self.cycles >= 2 {
            let swing = i32::from(self.greatest).wrapping_sub(i32::from(self.least));
            self.swings = self.swings.saturating_add(swing as u32);
        } else {
            self.samples = 0;
        }
        self.cycles = self.cycles.saturating_add(1);
        (self.greatest, self.least) = (i16::MIN, i16::MAX);
        if self.cycles >= self.settings.cycles.saturating_add(2) {
            self.result = Some(self.conclude());
        }
    }

    fn conclude(&self) -> Progress {
        let n = u64::from(self.settings.cycles);
        // Swings are peak to peak; sixteenths of a count keep the rounding small.
        let amplitude_q4 = divide(u64::from(self.swings) << 3, n);
        let hysteresis_q4 = u64::from(self.settings.hysteresis.unsigned_abs()) << 4;
        let square = (amplitude_q4 * amplitude_q4).saturating_sub(hysteresis_q4 * hysteresis_q4);
        if amplitude_q4 <= hysteresis_q4 {
            return Progress::Failed;
        }
        let effective_q4 = square_root(square).max(1);
        // 4/pi * 2^16 = 83443.03; d / (q4 / 16) * 2^8 = d * 83443 >> 4 / q4.
        let numerator = (u64::from(self.settings.d.unsigned_abs()) * 83_443) >> 4;
        let gain = divide(numerator, effective_q4).min(1 << 24);
        Progress::Done(Ultimate {
            gain_q8: gain as u32,
            period_q4: divide(u64::from(self.samples) << 4, n).min(u64::from(u32::MAX)) as u32,
            amplitude: (amplitude_q4 >> 4).min(u64::from(u16::MAX)) as u16,
        })
    }
}

/// Rounded quotient, bit by bit; `by` is not zero and both are below 2^62.
fn divide(value: u64, by: u64) -> u64 {
    let (mut quotient, mut rest) = (0_u64, 0_u64);
    let mut bit = 62;
    while bit > 0 {
        bit -= 1;
        rest = rest << 1 | (value >> bit & 1);
        quotient <<= 1;
        if rest >= by {
            rest = rest.wrapping_sub(by);
            quotient |= 1;
        }
    }
    if rest << 1 >= by {
        quotient.wrapping_add(1)
    } else {
        quotient
    }
}

/// Floor of the square root, bit by bit.
fn square_root(value: u64) -> u64 {
    let mut root = 0_u64;
    let mut bit = 1_u64 << 31;
    while bit != 0 {
        let trial = root | bit;
        if u128::from(trial) * u128::from(trial) <= u128::from(value) {
            root = trial;
        }
        bit >>= 1;
    }
    root
}

/// A published rule from ultimate gain and period to gains.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rule {
    /// P alone, 0.5 Ku: Ziegler and Nichols, Trans. ASME 64 (1942) 759-768. Lively.
    ZieglerNicholsP,
    /// PI, 0.45 Ku and Tu/1.2: Ziegler and Nichols, Trans. ASME 64 (1942) 759-768. Lively.
    ZieglerNicholsPi,
    /// PID, 0.6 Ku, Tu/2 and Tu/8: the same source. Lively.
    ZieglerNicholsPid,
    /// PI, 0.4 Ku and 0.8 Tu: the variant in Astrom and Hagglund, Advanced PID Control, ISA, 2006.
    AstromHagglundPi,
    /// PI, Ku/3.2 and 2.2 Tu: Tyreus and Luyben, Ind. Eng. Chem. Res. 31 (1992) 2625-2628. Calm.
    TyreusLuybenPi,
    /// PID, Ku/2.2, 2.2 Tu and Tu/6.3: the same source. Calm.
    TyreusLuybenPid,
}

impl Rule {
    /// `K/Ku`, `Ti/Tu`, `Td/Tu`, each times 2^16 and rounded; a `Ti` of 0 stands for no integral action.
    const fn shares_q16(self) -> (u64, u64, u64) {
        match self {
            Self::ZieglerNicholsP => (32_768, 0, 0),
            Self::ZieglerNicholsPi => (29_491, 54_613, 0),
            Self::ZieglerNicholsPid => (39_322, 32_768, 8_192),
            Self::AstromHagglundPi => (26_214, 52_429, 0),
            Self::TyreusLuybenPi => (20_480, 144_179, 0),
            Self::TyreusLuybenPid => (29_789, 144_179, 10_403),
        }
    }

    /// Gains for a 16/32 law with `SP` fraction bits and a derivative filter of `2^K` samples. Each is limited to
    /// its word; let [`crate::law::Settings`] judge the result.
    ///
    /// ```
    /// use controller_core::law::relay::{Rule, Ultimate};
    /// // Ku = 20 LSB/LSB, Tu = 100 samples.
    /// let seen = Ultimate { gain_q8: 20 << 8, period_q4: 100 << 4, amplitude: 50 };
    /// let gains = Rule::ZieglerNicholsPi.gains::<8, 3>(seen);
    /// assert_eq!(gains.kp, 2304); // 0.45 * 20 * 256
    /// assert_eq!(gains.ki, 7078); // 9 / (100 / 1.2) * 65536
    /// ```
    #[must_use]
    pub fn gains<const SP: u32, const K: u32>(self, seen: Ultimate) -> Mantissas<i16> {
        let (k, ti, td) = self.shares_q16();
        let limited = |value: u64| value.min(u64::from(u16::MAX)) as u16;
        let gain_q24 = u64::from(seen.gain_q8) * k;
        let kp = (gain_q24 << SP).wrapping_add(1 << 23) >> 24;
        // ki = K / (Ti in samples) * 2^16; Ti has 20 fraction bits.
        let ti_q20 = (u64::from(seen.period_q4) * ti).max(1);
        let ki = if ti == 0 {
            0
        } else {
            divide(gain_q24.min(1 << 45) << 12, ti_q20)
        };
        // kd = K * Td / 2^K: Td has 20 fraction bits, K 24.
        let td_samples_q8 = (u64::from(seen.period_q4) * td) >> 12;
        let kd = (u128::from(gain_q24) * u128::from(td_samples_q8)) >> (32 + K - SP);
        Mantissas {
            kp: limited(kp),
            ki: limited(ki),
            kd: kd.min(u128::from(u16::MAX)) as u16,
        }
    }
}

#[cfg(test)]
mod tests;
