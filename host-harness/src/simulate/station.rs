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
use controller_core::station::{
    Law, OnHunting, Pi, Pid, Station, StationConfig, StationParts, Words,
};
use fixed::FixedI16;
use fixed::types::extra::U7;
use sensor_math::fault::FaultCode;

use super::held::{Held, stretches};
use crate::integers::LawIntegers;
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
pub trait RunningStation: Send + Sync {
    /// Takes a sample; true when a liveness token came out.
    fn sample(&mut self, reading: Result<i16, FaultCode>, elapsed_ticks: u16) -> bool;
    /// What the pin does for so many output ticks.
    fn ticks(&mut self, count: u32) -> Vec<Held>;
    /// Pulses of the tachometer since the last call.
    fn pulses(&mut self, pulses: u16);
    /// The terms that the next sample would form.
    fn terms(&self, measurement: i16) -> StepTerms;
    /// Changes the set point without a bump; false when it is refused.
    fn change_set_point(&mut self, new: i16) -> bool;
    /// The demand now, duty word.
    fn demand(&self) -> i16;
    /// Whether the last sample ran the law.
    fn running(&self) -> bool;
    /// Alarms that are on.
    fn alarms(&self) -> Alarms;
    /// The operator's reset.
    fn reset(&mut self) -> bool;
    /// Power-on again, with an intact configuration.
    fn restart(&mut self);
    /// A copy, which goes its own way.
    fn boxed(&self) -> Box<dyn RunningStation>;
    /// Number of settings that differ in one bit and that the law's constructor still accepts.
    fn flips(&self) -> usize;
    /// One bit of the settings flips, as in a failing memory; the next [`RunningStation::restart`] mends it.
    fn flip(&mut self, index: usize);
    /// Parts of the configuration, of which the background test checks one a sample.
    fn parts(&self) -> u8;
}

impl Clone for Box<dyn RunningStation> {
    fn clone(&self) -> Self {
        self.boxed()
    }
}

/// A drive whose pin can be read as a count of clocks.
trait Pin: Drive + 'static {
    fn clocks(output: Self::Output) -> u16;
}

impl Pin for FanDrive<1> {
    fn clocks(output: [u16; 1]) -> u16 {
        output[0]
    }
}

impl Pin for SwitchedHeaterDrive {
    fn clocks(output: bool) -> u16 {
        u16::from(output)
    }
}

type Config<D, const SP: u32> = StationConfig<SP, D, U7>;

struct Running<L: Law<SP>, D: Drive + 'static, const SP: u32> {
    good: &'static Config<D, SP>,
    flipped: &'static [Config<D, SP>],
    station: Station<'static, L, D, U7, SP>,
    top: u16,
}

impl<L, D, const SP: u32> RunningStation for Running<L, D, SP>
where
    L: Law<SP> + 'static,
    L::State: Send + Sync,
    D: Pin + Clone + Send + Sync,
    D::Config: Send + Sync,
{
    fn sample(&mut self, reading: Result<i16, FaultCode>, elapsed_ticks: u16) -> bool {
        self.station
            .step(reading.map(FixedI16::from_bits), elapsed_ticks)
            .is_some()
    }
    fn ticks(&mut self, count: u32) -> Vec<Held> {
        let clocks = (0..count).map(|_| D::clocks(self.station.output_tick()));
        stretches(clocks, self.top)
    }
    fn pulses(&mut self, pulses: u16) {
        self.station.pulses(0, pulses);
    }
    fn terms(&self, measurement: i16) -> StepTerms {
        let t = self.station.terms(FixedI16::from_bits(measurement));
        StepTerms {
            p: t.p,
            i: t.i,
            d: t.d,
        }
    }
    fn change_set_point(&mut self, new: i16) -> bool {
        self.station
            .change_set_point(FixedI16::from_bits(new), Weight::bumpless())
            .is_ok()
    }
    fn demand(&self) -> i16 {
        self.station.demand().bits()
    }
    fn running(&self) -> bool {
        self.station.running()
    }
    fn alarms(&self) -> Alarms {
        self.station.alarms()
    }
    fn reset(&mut self) -> bool {
        self.station.reset()
    }
    fn restart(&mut self) {
        self.station = Station::new(self.good);
    }
    fn boxed(&self) -> Box<dyn RunningStation> {
        Box::new(Self {
            good: self.good,
            flipped: self.flipped,
            station: self.station.clone(),
            top: self.top,
        })
    }
    fn flips(&self) -> usize {
        self.flipped.len()
    }
    fn flip(&mut self, index: usize) {
        self.station = self.station.clone().with_config(&self.flipped[index]);
    }
    fn parts(&self) -> u8 {
        <Config<D, SP> as Words>::PARTS
    }
}

/// All settings that differ from these in one bit and that the law's constructor accepts.
fn flips<const SP: u32>(k: &LawIntegers) -> Vec<Settings<i16, SP>> {
    let words = [k.kp, k.ki, k.kd, k.lo as u16, k.hi as u16];
    (0..16 * words.len())
        .filter_map(|bit| {
            let mut w = words;
            w[bit / 16] ^= 1 << (bit % 16);
            Settings::<i16, SP>::new(
                Mantissas {
                    kp: w[0],
                    ki: w[1],
                    kd: w[2],
                },
                w[3] as i16,
                w[4] as i16,
                k.action,
            )
            .ok()
        })
        .collect()
}

const CHECKED: &str = "checked when the design was read";

fn config<D: Drive, const SP: u32>(
    plan: &Plan,
    drive: D::Config,
    settings: Settings<i16, SP>,
) -> Config<D, SP> {
    let g = &plan.guards;
    StationConfig::new(StationParts {
        settings,
        set_point: FixedI16::from_bits(plan.set_point),
        drive,
        sensor: SensorConfig::new(g.confirm, g.recover).expect(CHECKED),
        stale: StaleConfig::new(g.stale_ticks).expect(CHECKED),
        trip: TripConfig::new(g.trip, g.trip_hysteresis, g.trip_confirm).expect(CHECKED),
        rate: Some(RateConfig::new(g.rate).expect(CHECKED)),
        stuck: Some(StuckConfig::new(g.stuck.0, g.stuck.1).expect(CHECKED)),
        effect: Some(
            EffectConfig::new(g.effect.0, g.effect.1, g.effect.2, g.effect.3).expect(CHECKED),
        ),
        hunting: Some(HuntingConfig::new(g.hunting.0, g.hunting.1, g.hunting.2).expect(CHECKED)),
        on_hunting: OnHunting::Report,
    })
    .expect(CHECKED)
}

fn boxed<L, D, const SP: u32>(plan: &Plan, drive: D::Config, top: u16) -> Box<dyn RunningStation>
where
    L: Law<SP> + 'static,
    L::State: Send + Sync,
    D: Pin + Clone + Send + Sync,
    D::Config: Send + Sync,
{
    let plain = config::<D, SP>(plan, drive, plan.law.settings().expect(CHECKED));
    let sum = plain.checksum();
    let flipped: Vec<_> = flips::<SP>(&plan.law)
        .into_iter()
        .map(|s| config::<D, SP>(plan, drive, s).with_checksum(sum))
        .collect();
    // a station's configuration lives in flash: for as long as the program
    let good: &'static _ = Box::leak(Box::new(plain.with_checksum(sum)));
    Box::new(Running::<L, D, SP> {
        good,
        flipped: Box::leak(flipped.into_boxed_slice()),
        station: Station::new(good),
        top,
    })
}

fn with_law<D, const SP: u32>(plan: &Plan, drive: D::Config, top: u16) -> Box<dyn RunningStation>
where
    D: Pin + Clone + Send + Sync,
    D::Config: Send + Sync,
{
    if !plan.law.has_derivative() {
        return boxed::<Pi, D, SP>(plan, drive, top);
    }
    match plan.law.filter_exponent {
        1 => boxed::<Pid<1>, D, SP>(plan, drive, top),
        2 => boxed::<Pid<2>, D, SP>(plan, drive, top),
        3 => boxed::<Pid<3>, D, SP>(plan, drive, top),
        4 => boxed::<Pid<4>, D, SP>(plan, drive, top),
        5 => boxed::<Pid<5>, D, SP>(plan, drive, top),
        6 => boxed::<Pid<6>, D, SP>(plan, drive, top),
        7 => boxed::<Pid<7>, D, SP>(plan, drive, top),
        _ => boxed::<Pid<8>, D, SP>(plan, drive, top),
    }
}

fn with_scale<D>(plan: &Plan, drive: D::Config, top: u16) -> Box<dyn RunningStation>
where
    D: Pin + Clone + Send + Sync,
    D::Config: Send + Sync,
{
    match plan.law.scale {
        4 => with_law::<D, 4>(plan, drive, top),
        8 => with_law::<D, 8>(plan, drive, top),
        _ => with_law::<D, 12>(plan, drive, top),
    }
}

/// The station of a plan, at power-on. Its configuration is kept for as long as the program runs.
///
/// # Panics
///
/// Never for a plan made from a design that was read: the reader's checks are the constructors' own.
#[must_use]
pub fn station(plan: &Plan) -> Box<dyn RunningStation> {
    match plan.drive {
        DrivePlan::Fan {
            parts,
            top,
            tachometer,
        } => with_scale::<FanDrive<1>>(plan, fan_drive(parts, top, tachometer), top),
        DrivePlan::Switch(parts) => with_scale::<SwitchedHeaterDrive>(plan, switch_drive(parts), 1),
    }
}

/// The checksum that the station's background self-test expects.
#[must_use]
pub fn checksum(plan: &Plan) -> u16 {
    match plan.drive {
        DrivePlan::Fan {
            parts,
            top,
            tachometer,
        } => scaled_checksum::<FanDrive<1>>(plan, fan_drive(parts, top, tachometer)),
        DrivePlan::Switch(parts) => {
            scaled_checksum::<SwitchedHeaterDrive>(plan, switch_drive(parts))
        }
    }
}

fn scaled_checksum<D: Drive>(plan: &Plan, drive: D::Config) -> u16 {
    match plan.law.scale {
        4 => config::<D, 4>(plan, drive, plan.law.settings().expect(CHECKED)).checksum(),
        8 => config::<D, 8>(plan, drive, plan.law.settings().expect(CHECKED)).checksum(),
        _ => config::<D, 12>(plan, drive, plan.law.settings().expect(CHECKED)).checksum(),
    }
}
