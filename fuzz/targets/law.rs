//! A loop's whole life from bytes: set point, mode, gains, limits, measurements, in any order. The claims hold
//! after every event: output and integrator within the limits, output exact to half an LSB, no panic.
#![no_main]

use controller_core::gain::Mantissas;
use controller_core::law::{Action, Integrating, PidState, Settings, Signals, pid, transfer, windup};
use controller_core::setpoint::{SetPoint, Weight, set_point_change};
use controller_core::word::Multiply;
use libfuzzer_sys::fuzz_target;

/// Compares upper halves, as small machines do.
struct Halves;
impl Multiply<i16> for Halves {
    const WHOLE: bool = false;
}
/// Compares whole words.
struct Whole;
impl Multiply<i16> for Whole {
    const WHOLE: bool = true;
}

struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn byte(&mut self) -> Option<u8> {
        let (&first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(first)
    }
    fn word(&mut self) -> Option<u16> {
        Some(u16::from_le_bytes([self.byte()?, self.byte()?]))
    }
    fn settings(&mut self, action: Action) -> Option<Settings<i16, 8>> {
        let gains = Mantissas { kp: self.word()?, ki: self.word()?, kd: self.word()? };
        let (lo, hi) = (self.word()? as i16, self.word()? as i16);
        // What the constructor refuses is no loop at all.
        Settings::<i16, 8>::new(gains, lo, hi, action).ok()
    }
}

fn life<M: Multiply<i16>>(bytes: &mut Bytes<'_>, action: Action) -> Option<()> {
    let mut settings = bytes.settings(action)?;
    let mut wanted = SetPoint::<i16>::nearest(bytes.word()? as i16);
    let mut measurement = bytes.word()? as i16;
    let mut state = PidState::<_, 3>::start(&settings, measurement);
    loop {
        let event = bytes.byte()?;
        let seen = state.signals(action, wanted, measurement);
        match event & 15 {
            0 => {
                let new = SetPoint::<i16>::nearest(bytes.word()? as i16);
                let weight = Weight::from_word(bytes.word()? as i16);
                set_point_change::<_, 8, M>(&settings, &mut state, wanted, new, weight);
                wanted = new;
            }
            1 => {
                if let Some(new) = bytes.settings(action) {
                    transfer::to_gains::<_, 8, M>(&settings, &new, &mut state, seen);
                    settings = new;
                }
            }
            2 => {
                let duty = bytes.word()? as i16;
                transfer::to_automatic::<_, 8, M>(&settings, &mut state, duty.max(0), seen);
            }
            3 => state.reseed(measurement),
            4 => {
                let (old, new) = (bytes.word()? as i16, bytes.word()? as i16);
                transfer::feed_forward::<_, 8, M>(&settings, &mut state, old, new);
            }
            5 => {
                let _ = windup::conditional::<_, 8, M>(&settings, &mut state, wanted, measurement);
            }
            6 => {
                let (gain, applied) = (bytes.word()?, bytes.word()? as i16);
                let _ = windup::tracking::<_, 8, M>(&settings, &mut state, wanted, measurement, gain, |_| applied);
            }
            7 => state = PidState::<_, 3>::restored(&settings, state.integrator().word(), i32::from(bytes.word()? as i16) << 4),
            _ => measurement = bytes.word()? as i16,
        }
        let domain = |word: i16| i64::from(word.clamp(-16_384, 16_383));
        let error = domain(measurement) - domain(wanted.counts());
        let error = if action == Action::Direct { error } else { -error };
        assert_eq!(i64::from(Signals::of(action, wanted, measurement).error()), error);
        let before = state;
        let terms = pid::terms::<_, 8, 3, M>(&settings, &state, wanted, measurement);
        let demand = pid::step::<_, 8, 3, M>(&settings, &mut state, wanted, measurement);
        let (lo, hi) = (settings.lo(), settings.hi());
        assert!(demand >= lo && demand <= hi);
        assert_eq!(demand, terms.demand);
        let top = state.integrator().rounded();
        assert!(top >= lo as u16 && top <= hi as u16);
        // The exact law, in 2^-16 LSB, from the state before.
        let m = settings.mantissas();
        let slope = i64::from(measurement.clamp(-16_384, 16_383)) - i64::from(before.filtered() >> 3);
        let slope = if action == Action::Direct { slope } else { -slope };
        let pd = (i64::from(m.kp) * error + i64::from(m.kd) * slope) << 8;
        let sum = pd + i64::from(before.integrator().word()) - 32_768;
        let exact = sum.clamp(i64::from(lo) << 16, i64::from(hi) << 16);
        assert!(((i64::from(demand) << 16) - exact).abs() <= 32_768);
        let next = i64::from(before.integrator().word()) + i64::from(m.ki) * error;
        assert_eq!(i64::from(state.integrator().word()), next.clamp(i64::from(lo) << 16, i64::from(hi) << 16 | 0xffff));
    }
}

fuzz_target!(|data: &[u8]| {
    let mut bytes = Bytes(data);
    let Some(kind) = bytes.byte() else { return };
    let action = if kind & 1 == 0 { Action::Direct } else { Action::Reverse };
    // The life ends when the bytes do.
    let _ = if kind & 2 == 0 { life::<Halves>(&mut bytes, action) } else { life::<Whole>(&mut bytes, action) };
});
