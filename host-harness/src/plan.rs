//! The plan: a design turned into the checked configuration of a station, in the crates' own types. Simulation, fault
//! campaign and emitted firmware all start from it, so that what is tried is what is flashed.

use controller_core::drive::dither::DitherConfig;
use controller_core::drive::fan::{FanConfig, FanParts, Slew, SpinUp, Stop};
use controller_core::drive::fans::FansConfig;
use controller_core::drive::output::{FanDriveConfig, PwmHeaterConfig};
use controller_core::drive::tachometer::RotationConfig;
use controller_core::drive::time_proportional::{
    TimeProportionalConfig, TimeProportionalParts, Unit,
};
use controller_core::duty::Duty;
use controller_core::guard::effect::EffectConfig;
use controller_core::guard::hunting::{HuntingConfig, OnHunting};
use controller_core::guard::rate::RateConfig;
use controller_core::guard::sensor::SensorConfig;
use controller_core::guard::stale::StaleConfig;
use controller_core::guard::stuck::StuckConfig;
use controller_core::guard::trip::TripConfig;
use controller_core::guard::{GuardError, GuardsConfig};

use crate::design::{Actuator, Control, Design, FAN_TICK_S, FanDesign, HeaterDesign, duty_word};
use crate::integers::LawIntegers;
use crate::reference::sensor::Truth;

/// Readings that a fault or an implausible jump must last before it is believed: one noisy code must not roar.
pub const CONFIRM_SAMPLES: u8 = 4;
/// Usable readings before a confirmed fault ends.
pub const RECOVER_SAMPLES: u8 = 8;
/// Sample periods without a sample before the station goes to its safe state.
pub const STALE_PERIODS: f64 = 4.0;
/// Kelvin below the trip before its latch may be reset.
pub const TRIP_HYSTERESIS_KELVIN: f64 = 2.0;
/// Samples at or above the trip before it latches.
pub const TRIP_CONFIRM: u8 = 2;
/// Largest step of the temperature around the sensor, kelvin: its lag spreads it over the samples, and what a
/// reading may move in one of them follows.
pub const LARGEST_STEP_KELVIN: f64 = 40.0;
/// Deviations of the converter's noise, and codes of quantisation, that a reading may move besides.
pub const NOISE_DEVIATIONS: f64 = 8.0;
/// See [`NOISE_DEVIATIONS`].
pub const QUANTISATION_CODES: f64 = 2.0;
/// Seconds of equal readings before a reading counts as stuck; at least [`STUCK_SAMPLES`] samples.
pub const STUCK_S: f64 = 60.0;
/// Fewest samples of that.
pub const STUCK_SAMPLES: f64 = 60.0;
/// Noise, root mean square, from which a living reading cannot stand still for so long: in steps of the code or of
/// the temperature word, whichever is coarser. It keeps its value with a chance of at most
/// erf(0.5 / (0.45 sqrt 2)) = 0.73 a sample, 60 times in a row once in 10^8.
pub const LIVELY_NOISE_STEPS: f64 = 0.45;
/// Share of full that the duty must have travelled meanwhile when the converter is quieter than that: a coarse
/// code in a quiet room stands still for hours.
pub const STUCK_TRAVEL: f64 = 0.10;
/// Share of full at which an actuator counts as driven hard.
pub const EFFECT_LEVEL: f64 = 0.95;
/// Seconds of hard drive without an answer before the actuator counts as without effect.
pub const EFFECT_S: f64 = 1200.0;
/// Kelvin that count as an answer.
pub const EFFECT_RESPONSE_KELVIN: f64 = 0.5;
/// Kelvin of error below which nothing is expected of the actuator.
pub const EFFECT_MARGIN_KELVIN: f64 = 1.0;
/// Half-swings that make hunting (Hagglund 1995: 10 within the supervision time).
pub const HUNTING_DETECTIONS: u8 = 10;
/// Shortest period of hunting that matters, in time constants of the sensor: an integral-only loop around a
/// first-order lag oscillates at about two pi of them at its limit of stability.
pub const HUNTING_PERIOD_LAGS: f64 = std::f64::consts::TAU;
/// Periods of that length after which one half-swing is forgotten.
pub const HUNTING_FORGET_PERIODS: f64 = 4.0;

/// The drive's checked configuration.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DrivePlan {
    /// Fans that share one PWM pin.
    Fans(FanDriveConfig<1>),
    /// A heater behind a mains switch.
    Switch(TimeProportionalConfig),
    /// A heater behind a transistor on a PWM pin.
    Pwm(PwmHeaterConfig),
}

/// Everything that a station is told, in the crates' own types.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Fraction bits of a temperature word.
    pub fraction_bits: u32,
    /// Sample period, milliseconds.
    pub period_ms: u32,
    /// Output tick, seconds; only the simulation needs it as a number.
    pub tick_s: f64,
    /// Output ticks a sample.
    pub ticks_per_sample: u16,
    /// Wanted temperature.
    pub set_point: i16,
    /// Gains, limits, direction.
    pub law: LawIntegers,
    /// Drive.
    pub drive: DrivePlan,
    /// Guards.
    pub guards: GuardsConfig,
}

/// A temperature as a word of the given format.
#[must_use]
pub fn temperature_word(celsius: f64, fraction_bits: u32) -> i16 {
    (celsius * f64::from(1u32 << fraction_bits))
        .round()
        .clamp(-32768.0, 32767.0) as i16
}

fn duty(share: f64) -> Duty {
    Duty::saturating(duty_word(share))
}

fn count(number: f64) -> u16 {
    number.round().clamp(1.0, 65535.0) as u16
}

/// What a constructor that the design's own checks have satisfied gives.
const CHECKED: &str = "checked when the design was read";

fn fans(fan: &FanDesign, period_s: f64) -> FanDriveConfig<1> {
    let slew = (fan.slew_per_s * period_s * f64::from(Duty::ONE))
        .round()
        .clamp(1.0, 32767.0) as i16;
    let floor = duty(fan.floor);
    let one = FanConfig::new(FanParts {
        floor,
        spin_up: SpinUp {
            level: duty(fan.spin_up),
            ticks: (fan.spin_up_s / FAN_TICK_S).round() as u16,
        },
        stop: match fan.stop {
            Some((stop, start)) => Stop::Below {
                stop: duty(stop),
                start: duty(start),
            },
            None => Stop::Never,
        },
        airflow: None,
        slew: Slew {
            rise: slew,
            fall: slew,
        },
    });
    let tachometer = fan.tachometer_pulses.map(|_| {
        // half of what the slowest turning fan gives: well above none, well below tolerance
        let at_floor = fan.floor * fan.full_pulses_s() * period_s;
        RotationConfig::new(
            (0.5 * at_floor).floor().max(1.0) as u16,
            (3.0 / period_s).ceil().clamp(2.0, 255.0) as u8,
            2,
        )
        .expect(CHECKED)
    });
    FanDriveConfig {
        fans: FansConfig {
            fans: [one.expect(CHECKED)],
            stagger: 0,
        },
        timer: fan.timer(),
        tachometer,
        wiring: fan.wiring,
    }
}

/// Whole mains cycles, so that the load draws no direct current: two ticks each.
fn switch(heater: &HeaterDesign) -> TimeProportionalConfig {
    let even = |seconds: f64| 2 * (seconds * heater.mains_hz).round() as u16;
    TimeProportionalConfig::new(TimeProportionalParts {
        window: even(heater.window_s).max(2),
        min_on: even(heater.minimum_s),
        min_off: even(heater.minimum_s),
        unit: Unit::WholeCycle,
    })
    .expect(CHECKED)
}

impl Plan {
    /// The plan of a design.
    ///
    /// # Panics
    ///
    /// Never for a design that was read: the reader's checks are the constructors' own.
    #[must_use]
    pub fn new(design: &Design) -> Self {
        let control = &design.control;
        let bits = design.sensing.table.fraction_bits;
        let tick_s = control.actuator.tick_s();
        let drive = match &control.actuator {
            Actuator::Fan(f) => DrivePlan::Fans(fans(f, control.period_s)),
            Actuator::Heater(h) => match h.pwm {
                Some(pin) => DrivePlan::Pwm(PwmHeaterConfig {
                    timer: DitherConfig::new(pin.period_counts, Duty::OFF, pin.polarity)
                        .expect(CHECKED),
                }),
                None => DrivePlan::Switch(switch(h)),
            },
        };
        let ticks_per_sample = count(control.period_s / tick_s);
        Self {
            fraction_bits: bits,
            period_ms: (control.period_s * 1000.0).round() as u32,
            tick_s,
            ticks_per_sample,
            set_point: temperature_word(control.set_point_celsius, bits),
            law: control.integers,
            drive,
            guards: guards(design, ticks_per_sample).expect(CHECKED),
        }
    }
}

fn guards(design: &Design, ticks_per_sample: u16) -> Result<GuardsConfig, GuardError> {
    let control = &design.control;
    let period = control.period_s;
    let bits = design.sensing.table.fraction_bits;
    let word = |kelvin: f64| temperature_word(kelvin, bits);
    let swing = HUNTING_PERIOD_LAGS * design.sensing.facts.lag_s / period;
    let amplitude = control.accept.hunting_celsius * f64::from(1u32 << bits);
    let travel = if noise_steps(design) >= LIVELY_NOISE_STEPS {
        0.0
    } else {
        STUCK_TRAVEL
    };
    Ok(GuardsConfig {
        sensor: SensorConfig::new(CONFIRM_SAMPLES, RECOVER_SAMPLES)?,
        stale: StaleConfig::new(count(STALE_PERIODS * f64::from(ticks_per_sample)))?,
        trip: TripConfig::new(
            word(control.trip_celsius),
            word(trip_hysteresis(control)),
            TRIP_CONFIRM,
        )?,
        rate: Some(RateConfig::new(word(rate_kelvin(design)).max(1))?),
        stuck: Some(StuckConfig::new(
            count((STUCK_S / period).max(STUCK_SAMPLES)),
            duty(travel),
        )?),
        effect: Some(EffectConfig::new(
            duty(EFFECT_LEVEL),
            count(EFFECT_S / period),
            word(EFFECT_RESPONSE_KELVIN),
            word(EFFECT_MARGIN_KELVIN),
        )?),
        hunting: Some(HuntingConfig::new(
            HuntingConfig::limit_of_swing(amplitude, swing),
            count(HUNTING_FORGET_PERIODS * swing),
            HUNTING_DETECTIONS,
        )?),
        on_hunting: OnHunting::Report,
    })
}

/// One code of the converter at the set point, kelvin.
#[must_use]
pub fn kelvin_per_code(design: &Design) -> f64 {
    let truth = Truth::new(&design.sensing.sensor);
    let around = design.control.set_point_celsius;
    1.0 / (truth.position(around + 0.5) - truth.position(around - 0.5)).abs()
}

/// Noise of a reading at the set point, root mean square, in steps of the code or of the word, whichever is coarser.
fn noise_steps(design: &Design) -> f64 {
    let facts = &design.sensing.facts;
    let words = kelvin_per_code(design) * f64::from(1u32 << design.sensing.table.fraction_bits);
    facts.noise_lsb * words.min(1.0)
}

/// What a reading may really move in one sample.
fn rate_kelvin(design: &Design) -> f64 {
    let facts = &design.sensing.facts;
    let noise = kelvin_per_code(design) * (NOISE_DEVIATIONS * facts.noise_lsb + QUANTISATION_CODES);
    LARGEST_STEP_KELVIN * (design.control.period_s / facts.lag_s).min(1.0) + noise
}

/// The latch releases below the trip but above the set point, or it never would.
fn trip_hysteresis(control: &Control) -> f64 {
    TRIP_HYSTERESIS_KELVIN.min(0.5 * (control.trip_celsius - control.set_point_celsius))
}
