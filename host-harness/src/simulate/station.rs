//! The shipped station of a plan, running behind one interface.

use controller_core::drive::output::Drive;
use controller_core::fields::Fields;
use controller_core::gain::Mantissas;
use controller_core::guard::Alarms;
use controller_core::law::Settings;
use controller_core::setpoint::Weight;
use controller_core::station::{Law, Station};
use fixed::FixedI16;
use fixed::types::extra::U7;
use sensor_math::fault::FaultCode;

use super::held::{Held, stretches};
use crate::configured::{Config, Pin, WithStation, with_station};
use crate::integers::LawIntegers;
use crate::plan::Plan;

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

struct Running<L: Law<SP>, D: Drive + 'static, const SP: u32> {
    good: &'static Config<D, SP>,
    flipped: &'static [Config<D, SP>],
    station: Station<'static, L, D, U7, SP>,
    top: u16,
}

impl<L, D, const SP: u32> RunningStation for Running<L, D, SP>
where
    L: Law<SP, State: Send + Sync> + 'static,
    D: Pin,
{
    fn sample(&mut self, reading: Result<i16, FaultCode>, elapsed_ticks: u16) -> bool {
        self.station
            .step(reading.map(FixedI16::from_bits), elapsed_ticks)
            .is_some()
    }
    fn ticks(&mut self, count: u32) -> Vec<Held> {
        let drive = self.good.drive();
        let clocks = (0..count).map(|_| D::clocks(drive, self.station.output_tick()));
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
        <Config<D, SP> as Fields>::PARTS
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

struct Run;

impl WithStation for Run {
    type Out = Box<dyn RunningStation>;
    fn with<L, D, const SP: u32>(
        self,
        plan: &Plan,
        config: Config<D, SP>,
        remake: &dyn Fn(Settings<i16, SP>) -> Config<D, SP>,
    ) -> Self::Out
    where
        L: Law<SP, State: Send + Sync> + 'static,
        D: Pin,
    {
        let sum = config.checksum();
        let top = D::period(config.drive());
        let flipped: Vec<_> = flips::<SP>(&plan.law)
            .into_iter()
            .map(|settings| remake(settings).with_checksum(sum))
            .collect();
        // a station's configuration lives in flash: for as long as the program
        let good: &'static _ = Box::leak(Box::new(config.with_checksum(sum)));
        Box::new(Running::<L, D, SP> {
            good,
            flipped: Box::leak(flipped.into_boxed_slice()),
            station: Station::new(good),
            top,
        })
    }
}

/// The station of a plan, at power-on. Its configuration is kept for as long as the program runs.
#[must_use]
pub fn station(plan: &Plan) -> Box<dyn RunningStation> {
    with_station(plan, Run)
}
