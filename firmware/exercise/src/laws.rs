//! The laws under trial, with the demo gains, and the full-range random run that host and targets repeat.

use crate::checksum::Checksum;
use crate::input::{Random, any_word};
use controller_core::gain::Mantissas;
use controller_core::law::{
    Action, Integrating, Integrator, PiState, PidState, Settings, one_product, pi, pid,
};
use controller_core::setpoint::SetPoint;
use controller_core::word::Multiply;

/// Fraction bits of kp and kd in every subject.
pub const SP: u32 = 8;
/// Filter exponent of the PID subject.
pub const K: u32 = 3;

/// The subjects' settings.
pub type Gains = Settings<i16, SP>;

/// kp about 4 %/K, ki and kd in proportion: the gains every figure is taken with.
pub const DEMO: Gains = Settings::<i16, SP>::constant(
    Mantissas {
        kp: 1300,
        ki: 655,
        kd: 5000,
    },
    0,
    32767,
    Action::Direct,
);

/// One step of the PI law.
#[inline(always)]
pub fn pi_step<M: Multiply<i16>>(
    gains: &Gains,
    state: &mut PiState<i16>,
    set_point: SetPoint<i16>,
    measurement: i16,
) -> i16 {
    pi::step::<i16, SP, M>(gains, state, set_point, measurement)
}

/// One step of the PID law.
#[inline(always)]
pub fn pid_step<M: Multiply<i16>>(
    gains: &Gains,
    state: &mut PidState<i16, K>,
    set_point: SetPoint<i16>,
    measurement: i16,
) -> i16 {
    pid::step::<i16, SP, K, M>(gains, state, set_point, measurement)
}

/// One step of the PI law with one product for both terms.
#[inline(always)]
pub fn pi_one_step<M: Multiply<i16>>(
    gains: &Gains,
    state: &mut PiState<i16>,
    set_point: SetPoint<i16>,
    measurement: i16,
) -> i16 {
    one_product::pi_step::<i16, SP, M>(gains, state, set_point, measurement)
}

/// Lead of the series subject: 2^3 times the slope.
pub const LEAD: u32 = 3;

/// One step of the PID law in series form, one product for all terms.
#[inline(always)]
pub fn pid_series_step<M: Multiply<i16>>(
    gains: &Gains,
    state: &mut PidState<i16, K>,
    set_point: SetPoint<i16>,
    measurement: i16,
) -> i16 {
    one_product::series_step::<i16, SP, K, LEAD, M>(gains, state, set_point, measurement)
}

/// Random settings that the constructor accepts: mantissas of every magnitude, any limits, both actions.
#[inline(never)]
pub fn any_settings(random: &mut Random) -> Gains {
    let mut mantissa = || {
        let word = random.word();
        let magnitude = random.word() & 15;
        word >> if magnitude > 9 { 1 } else { magnitude | 1 }
    };
    let mantissas = Mantissas {
        kp: mantissa(),
        ki: mantissa(),
        kd: mantissa(),
    };
    let (a, b) = ((random.word() >> 1) as i16, (random.word() >> 1) as i16);
    let (lo, hi) = match random.word() & 3 {
        0 => (0, i16::MAX),
        _ if a < b => (a, b),
        _ if b < a => (b, a),
        _ => (0, 1),
    };
    let action = if random.word() & 1 == 0 {
        Action::Direct
    } else {
        Action::Reverse
    };
    match Settings::<i16, SP>::new(mantissas, lo, hi, action) {
        Ok(settings) => settings,
        // Two halves of 15 bits stay below the bound, so this is not reached; the demo gains stand in for a panic.
        Err(_) => DEMO,
    }
}

/// Start of the random runs.
pub const SEED: u32 = 0x0123_4567;
/// Settings drawn in one random run.
pub const DRAWS: u16 = 64;
/// Steps with each of them.
pub const STEPS: u16 = 16;

/// A full-range random run of a law: every demand and every state word goes into the checksum. `each` is called
/// after every draw, so that a difference can be narrowed down.
#[inline(always)]
fn run<S>(
    seed: u32,
    start: impl Fn(&Gains, &mut Random) -> S,
    step: impl Fn(&Gains, &mut S, SetPoint<i16>, i16) -> i16,
    state: impl Fn(&S, &mut Checksum),
    mut each: impl FnMut(u32),
) -> Checksum {
    let mut random = Random(seed);
    let mut checksum = Checksum::default();
    let mut draw = 0;
    while draw < DRAWS {
        let gains = any_settings(&mut random);
        let mut now = start(&gains, &mut random);
        let mut index = 0;
        while index < STEPS {
            let set_point = SetPoint::nearest(any_word(&mut random));
            let measurement = any_word(&mut random);
            checksum.word(step(&gains, &mut now, set_point, measurement));
            state(&now, &mut checksum);
            index = index.wrapping_add(1);
        }
        each(checksum.0);
        draw = draw.wrapping_add(1);
    }
    checksum
}

fn any_integrator(gains: &Gains, random: &mut Random) -> Integrator<i16> {
    let word = u32::from(random.word()) << 16 | u32::from(random.word());
    Integrator::from_word(gains, word >> 1)
}

/// Random run of the PI law.
#[inline(never)]
pub fn random_pi(
    seed: u32,
    step: fn(&Gains, &mut PiState<i16>, SetPoint<i16>, i16) -> i16,
    each: impl FnMut(u32),
) -> Checksum {
    run(
        seed,
        |gains, random| PiState::with(any_integrator(gains, random)),
        step,
        |state, checksum| checksum.long(state.integrator().word() as i32),
        each,
    )
}

/// Random run of the PID law.
#[inline(never)]
pub fn random_pid(
    seed: u32,
    step: fn(&Gains, &mut PidState<i16, K>, SetPoint<i16>, i16) -> i16,
    each: impl FnMut(u32),
) -> Checksum {
    run(
        seed,
        |gains, random| PidState::<_, K>::with(any_integrator(gains, random), any_word(random)),
        step,
        |state, checksum| {
            checksum.long(state.integrator().word() as i32);
            checksum.long(state.filtered());
        },
        each,
    )
}
