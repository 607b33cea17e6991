//! The shipped station at scales that are known only once the design file is read.
//!
//! The station's shifts are const generics; this module is the one place that turns run-time numbers into them.

use controller_core::drive::output::{Drive, FanDrive, SwitchedHeaterDrive};
use controller_core::gain::Mantissas;
use controller_core::guard::Alarms;
use controller_core::guard::effect::EffectConfig;
use controller_core::guard::hunting::HuntingConfig;
use controller_core::guard::rate::RateConfig;
use controller_core::guard::sensor::SensorConfig;
use controller_core::guard::stale::StaleConfig;
use controller_core::guard::stuck::StuckConfig;
use controller_core::guard::trip::TripConfig;
use controller_core::law::Settings;
use controller_core::setpoint::Weight;
use controller_core::station::{Law, OnHunting, Pi, Pid, Station, StationConfig, StationParts, Words};
use fixed::FixedI16;
use fixed::types::extra::U7;
use sensor_math::fault::FaultCode;

use crate::plan::{DrivePlan, Plan, fan_drive, switch_drive};

/// Terms of one step, LSB of duty.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct StepTerms {
    /// Proportional.
    pub p: i32,
    /// Integral.
    pub i: i32,
    /// Derivative.
    pub d: i32,
}

/// A running station behind one interface. Temperatures are raw words: their format is a label that no
/// arithmetic of the station looks at, so one format serves for all.
pub trait RunningStation {
    /// Takes a sample; true when a liveness token came out.
    fn sample(&mut self, reading: Result<i16, FaultCode>, elapsed_ticks: u16) -> bool;
    /// What the pin does for one output tick, share of full.
    fn tick(&mut self) -> f64;
    /// Pulses of the tachometer since the last call.
    fn pulses(&mut self, pulses: u16);
    /// The terms that the next sample would form.
    fn terms(&self, measurement: i16) -> StepTerms;
    /// Changes the set point without a bump; false when it is refused.
    fn change_set_point(&mut self, new: i16) -> bool;
    /// The demand now, duty word.
    fn demand(&self) -> i16;
    /// Alarms that are on.
    fn alarms(&self) -> Alarms;
    /// The operator's reset.
    fn reset(&mut self) -> bool;
    /// Power-on again.
    fn restart(&mut self);
}

/// A drive whose pin can be read as a share of full.
trait Pin: Drive {
    fn share(output: Self::Output, top: f64) -> f64;
}

impl Pin for FanDrive<1> {
    fn share(output: [u16; 1], top: f64) -> f64 {
        f64::from(output[0]) / top
    }
}

impl Pin for SwitchedHeaterDrive {
    fn share(output: bool, _top: f64) -> f64 {
        f64::from(u8::from(output))
    }
}

struct Running<'c, L: Law<SP>, D: Drive, const SP: u32> {
    config: &'c StationConfig<SP, D, U7>,
    station: Station<'c, L, D, U7, SP>,
    top: f64,
}

impl<L: Law<SP>, D: Pin, const SP: u32> RunningStation for Running<'_, L, D, SP> {
    fn sample(&mut self, reading: Result<i16, FaultCode>, elapsed_ticks: u16) -> bool {
        self.station.step(reading.map(FixedI16::from_bits), elapsed_ticks).is_some()
    }
    fn tick(&mut self) -> f64 {
        D::share(self.station.output_tick(), self.top)
    }
    fn pulses(&mut self, pulses: u16) {
        self.station.pulses(0, pulses);
    }
    fn terms(&self, measurement: i16) -> StepTerms {
        let t = self.station.terms(FixedI16::from_bits(measurement));
        StepTerms { p: t.p, i: t.i, d: t.d }
    }
    fn change_set_point(&mut self, new: i16) -> bool {
        self.station.change_set_point(FixedI16::from_bits(new), Weight::bumpless()).is_ok()
    }
    fn demand(&self) -> i16 {
        self.station.demand().bits()
    }
    fn alarms(&self) -> Alarms {
        self.station.alarms()
    }
    fn reset(&mut self) -> bool {
        self.station.reset()
    }
    fn restart(&mut self) {
        self.station = Station::new(self.config);
    }
}

fn config<D: Drive, const SP: u32>(plan: &Plan, drive: D::Config) -> StationConfig<SP, D, U7> {
    let checked = "checked when the design was read";
    let (k, g) = (&plan.law, &plan.guards);
    let mantissas = Mantissas { kp: k.kp, ki: k.ki, kd: k.kd };
    let config = StationConfig::new(StationParts {
        settings: Settings::<i16, SP>::new(mantissas, k.lo, k.hi, k.action).expect(checked),
        set_point: FixedI16::from_bits(plan.set_point),
        drive,
        sensor: SensorConfig::new(g.confirm, g.recover).expect(checked),
        stale: StaleConfig::new(g.stale_ticks).expect(checked),
        trip: TripConfig::new(g.trip, g.trip_hysteresis, g.trip_confirm).expect(checked),
        rate: Some(RateConfig::new(g.rate).expect(checked)),
        stuck: Some(StuckConfig::new(g.stuck.0, g.stuck.1).expect(checked)),
        effect: Some(EffectConfig::new(g.effect.0, g.effect.1, g.effect.2, g.effect.3).expect(checked)),
        hunting: Some(HuntingConfig::new(g.hunting.0, g.hunting.1, g.hunting.2).expect(checked)),
        on_hunting: OnHunting::Report,
    })
    .expect(checked);
    let sum = config.checksum();
    config.with_checksum(sum)
}

fn run<L: Law<SP>, D: Pin, R, const SP: u32>(plan: &Plan, drive: D::Config, top: f64, work: impl FnOnce(&mut dyn RunningStation) -> R) -> R {
    let config = config::<D, SP>(plan, drive);
    let station = Station::<L, D, U7, SP>::new(&config);
    work(&mut Running { config: &config, station, top })
}

fn with_law<D: Pin, R, const SP: u32>(plan: &Plan, drive: D::Config, top: f64, work: impl FnOnce(&mut dyn RunningStation) -> R) -> R {
    if !plan.law.has_derivative() {
        return run::<Pi, D, R, SP>(plan, drive, top, work);
    }
    match plan.law.filter_exponent {
        1 => run::<Pid<1>, D, R, SP>(plan, drive, top, work),
        2 => run::<Pid<2>, D, R, SP>(plan, drive, top, work),
        3 => run::<Pid<3>, D, R, SP>(plan, drive, top, work),
        4 => run::<Pid<4>, D, R, SP>(plan, drive, top, work),
        5 => run::<Pid<5>, D, R, SP>(plan, drive, top, work),
        6 => run::<Pid<6>, D, R, SP>(plan, drive, top, work),
        7 => run::<Pid<7>, D, R, SP>(plan, drive, top, work),
        _ => run::<Pid<8>, D, R, SP>(plan, drive, top, work),
    }
}

fn with_scale<D: Pin, R>(plan: &Plan, drive: D::Config, top: f64, work: impl FnOnce(&mut dyn RunningStation) -> R) -> R {
    match plan.law.scale {
        4 => with_law::<D, R, 4>(plan, drive, top, work),
        8 => with_law::<D, R, 8>(plan, drive, top, work),
        _ => with_law::<D, R, 12>(plan, drive, top, work),
    }
}

/// Runs `work` with the station of a plan, at power-on.
///
/// # Panics
///
/// Never for a plan made from a design that was read: the reader's checks are the constructors' own.
pub fn with_station<R>(plan: &Plan, work: impl FnOnce(&mut dyn RunningStation) -> R) -> R {
    match plan.drive {
        DrivePlan::Fan { parts, top, tachometer } => {
            with_scale::<FanDrive<1>, R>(plan, fan_drive(parts, top, tachometer), f64::from(top), work)
        }
        DrivePlan::Switch(parts) => with_scale::<SwitchedHeaterDrive, R>(plan, switch_drive(parts), 1.0, work),
    }
}

/// The checksum that the station's background self-test expects.
#[must_use]
pub fn checksum(plan: &Plan) -> u16 {
    match plan.drive {
        DrivePlan::Fan { parts, top, tachometer } => scaled_checksum::<FanDrive<1>>(plan, fan_drive(parts, top, tachometer)),
        DrivePlan::Switch(parts) => scaled_checksum::<SwitchedHeaterDrive>(plan, switch_drive(parts)),
    }
}

fn scaled_checksum<D: Drive>(plan: &Plan, drive: D::Config) -> u16 {
    match plan.law.scale {
        4 => config::<D, 4>(plan, drive).checksum(),
        8 => config::<D, 8>(plan, drive).checksum(),
        _ => config::<D, 12>(plan, drive).checksum(),
    }
}
