//! The shipped law at scales that are known only once the design file is read.
//!
//! The law's shifts are const generics; this module is the one place that turns run-time numbers into them.

use controller_core::gain::Mantissas;
use controller_core::law::{Integrating, PiState, PidState, Settings, pi, pid};
use controller_core::setpoint::{Weight, set_point_change};
use controller_core::word::Native;

use crate::design::LawIntegers;

/// Terms of one step, LSB of duty.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StepTerms {
    /// Proportional.
    pub p: i32,
    /// Integral.
    pub i: i32,
    /// Derivative.
    pub d: i32,
}

/// A running law behind one interface.
pub trait RunningLaw: Send {
    /// Takes a sample; the first one after construction or [`RunningLaw::restart`] seeds the derivative.
    fn step(&mut self, set_point: i16, measurement: i16) -> i16;
    /// The terms that [`RunningLaw::step`] would form now.
    fn terms(&self, set_point: i16, measurement: i16) -> StepTerms;
    /// Absorbs a change of the set point without a bump.
    fn change_set_point(&mut self, old: i16, new: i16);
    /// Back to the state at power-on.
    fn restart(&mut self);
    /// The integrator as it is kept, 16 fraction bits, the rounding half inside.
    fn integrator_word(&self) -> u32;
}

struct Pi<const SP: u32> {
    settings: Settings<i16, SP>,
    state: PiState<i16>,
}

impl<const SP: u32> RunningLaw for Pi<SP> {
    fn step(&mut self, set_point: i16, measurement: i16) -> i16 {
        pi::step::<_, SP, Native>(&self.settings, &mut self.state, set_point, measurement)
    }
    fn terms(&self, set_point: i16, measurement: i16) -> StepTerms {
        let t = pi::terms::<_, SP, Native>(&self.settings, &self.state, set_point, measurement);
        StepTerms { p: t.p, i: t.i, d: t.d }
    }
    fn change_set_point(&mut self, old: i16, new: i16) {
        set_point_change::<_, SP, Native>(&self.settings, &mut self.state, old, new, Weight::bumpless());
    }
    fn restart(&mut self) {
        self.state = PiState::start(&self.settings);
    }
    fn integrator_word(&self) -> u32 {
        self.state.integrator().word()
    }
}

struct Pid<const SP: u32, const K: u32> {
    settings: Settings<i16, SP>,
    state: Option<PidState<i16>>,
}

impl<const SP: u32, const K: u32> Pid<SP, K> {
    fn seeded(&self, measurement: i16) -> PidState<i16> {
        self.state.unwrap_or_else(|| PidState::start::<SP, K>(&self.settings, measurement))
    }
}

impl<const SP: u32, const K: u32> RunningLaw for Pid<SP, K> {
    fn step(&mut self, set_point: i16, measurement: i16) -> i16 {
        let mut state = self.seeded(measurement);
        let demand = pid::step::<_, SP, K, Native>(&self.settings, &mut state, set_point, measurement);
        self.state = Some(state);
        demand
    }
    fn terms(&self, set_point: i16, measurement: i16) -> StepTerms {
        let t = pid::terms::<_, SP, K, Native>(&self.settings, &self.seeded(measurement), set_point, measurement);
        StepTerms { p: t.p, i: t.i, d: t.d }
    }
    fn change_set_point(&mut self, old: i16, new: i16) {
        if let Some(state) = &mut self.state {
            set_point_change::<_, SP, Native>(&self.settings, state, old, new, Weight::bumpless());
        }
    }
    fn restart(&mut self) {
        self.state = None;
    }
    fn integrator_word(&self) -> u32 {
        self.seeded(0).integrator().word()
    }
}

fn boxed<const SP: u32>(integers: &LawIntegers) -> Box<dyn RunningLaw> {
    let k = integers;
    let mantissas = Mantissas { kp: k.kp, ki: k.ki, kd: k.kd };
    let settings = Settings::<i16, SP>::new(mantissas, k.lo, k.hi, k.action).expect("a design's integers were checked when it was read");
    if !k.has_derivative() {
        return Box::new(Pi { settings, state: PiState::start(&settings) });
    }
    match k.filter_exponent {
        1 => Box::new(Pid::<SP, 1> { settings, state: None }),
        2 => Box::new(Pid::<SP, 2> { settings, state: None }),
        3 => Box::new(Pid::<SP, 3> { settings, state: None }),
        4 => Box::new(Pid::<SP, 4> { settings, state: None }),
        5 => Box::new(Pid::<SP, 5> { settings, state: None }),
        6 => Box::new(Pid::<SP, 6> { settings, state: None }),
        7 => Box::new(Pid::<SP, 7> { settings, state: None }),
        _ => Box::new(Pid::<SP, 8> { settings, state: None }),
    }
}

/// The law of a design, at its start.
#[must_use]
pub fn running(integers: &LawIntegers) -> Box<dyn RunningLaw> {
    match integers.scale {
        4 => boxed::<4>(integers),
        6 => boxed::<6>(integers),
        8 => boxed::<8>(integers),
        10 => boxed::<10>(integers),
        _ => boxed::<12>(integers),
    }
}
