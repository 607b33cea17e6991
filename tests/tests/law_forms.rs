//! The forms of the law and the changes while it runs, on the shipped 16/32 integers against exact integer arithmetic
//! in 64 bits that shares no code with the crate: 10^6 random cases a claim. Overflow checks and debug assertions are
//! on, so an operation that wrapped or lost a bit anywhere would end the test. (PI and PID themselves:
//! `law_properties.rs`; other anti-windup: `law_windup.rs`.)

use controller_core::gain::Mantissas;
use controller_core::law::every::{self, Every};
use controller_core::law::pid_smooth::{self, SmoothState};
use controller_core::law::{
    Action, Integrating, Integrator, PiState, PidState, Settings, one_product, pid, transfer,
};
use controller_core::setpoint::{Weight, set_point_change};
use controller_core::word::Multiply;
use hushloop_proof::property::{Halves, Whole};
use hushloop_tests::random::{CASES, sweep, word};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

fn domain(x: i16) -> i64 {
    i64::from(x).clamp(-16_384, 16_383)
}

/// Gains and limits of a loop with `sp` fraction bits.
#[derive(Clone, Copy, Debug)]
struct Loop {
    kp: i64,
    ki: i64,
    kd: i64,
    lo: i64,
    hi: i64,
    reverse: bool,
    sp: u32,
}

impl Loop {
    fn draw(r: &mut ChaCha8Rng, sp: u32) -> Self {
        let most = ((1_i64 << 31) - (1 << (15 + sp))) / 32_767;
        let gain = |r: &mut ChaCha8Rng| i64::from(word(r) as u16);
        let kp = gain(r).min(most);
        let (a, b) = (i64::from(word(r) & i16::MAX), i64::from(word(r) & i16::MAX));
        let (lo, hi) = if a == b {
            (0, 32_767)
        } else {
            (a.min(b), a.max(b))
        };
        Self {
            kp,
            ki: gain(r),
            kd: gain(r).min(most - kp),
            lo,
            hi,
            reverse: r.random(),
            sp,
        }
    }

    fn settings<const SP: u32>(&self) -> Settings<i16, SP> {
        let gains = Mantissas {
            kp: self.kp as u16,
            ki: self.ki as u16,
            kd: self.kd as u16,
        };
        let action = if self.reverse {
            Action::Reverse
        } else {
            Action::Direct
        };
        Settings::<i16, SP>::new(gains, self.lo as i16, self.hi as i16, action)
            .unwrap_or_else(|e| panic!("{self:?}: {e}"))
    }

    fn signed(&self, x: i64) -> i64 {
        if self.reverse { -x } else { x }
    }

    fn error(&self, set_point: i16, measurement: i16) -> i64 {
        self.signed(domain(measurement) - domain(set_point))
    }

    /// The integrator's word `I * 2^16 + 2^15`, confined to what rounds into the limits.
    fn confined(&self, word: i64) -> i64 {
        word.clamp(self.lo << 16, self.hi << 16 | 0xffff)
    }

    fn integral(&self, r: &mut ChaCha8Rng) -> i64 {
        let within = self.lo << 16 | i64::from(r.random::<u32>() & 0xffff);
        let any = i64::from(r.random::<u32>() >> 1);
        self.confined(if r.random::<u8>() % 4 == 0 {
            within
        } else {
            any
        })
    }

    /// `round(pd + I)` within the limits; `pd` has `sp` fraction bits.
    fn output(&self, pd: i64, word: i64) -> i64 {
        (((pd << (16 - self.sp)) + word) >> 16).clamp(self.lo, self.hi)
    }
}

fn integrator<const SP: u32>(s: &Settings<i16, SP>, word: i64) -> Integrator<i16> {
    Integrator::from_word(s, word as u32)
}

fn held(state: &impl Integrating<i16>) -> i64 {
    state.integrator().word().into()
}

/// Says what differs.
fn same<const C: usize>(
    what: &[&str; C],
    got: [i64; C],
    due: [i64; C],
    of: &dyn std::fmt::Debug,
) -> Result<(), String> {
    for ((what, got), due) in what.iter().zip(got).zip(due) {
        if got != due {
            return Err(format!("{what} {got}, exact {due}: {of:?}"));
        }
    }
    Ok(())
}

/// Draws the scale and the comparison, then the case.
macro_rules! at_some_scale {
    ($check:ident, $r:ident) => {
        match $r.random::<u8>() % 6 {
            0 => $check::<4, Halves>($r),
            1 => $check::<4, Whole>($r),
            2 => $check::<8, Halves>($r),
            3 => $check::<8, Whole>($r),
            4 => $check::<12, Halves>($r),
            _ => $check::<12, Whole>($r),
        }
    };
}

/// Integration at every m-th sample: the static law's output at each; the integrator moves when the sample is due and
/// stands still otherwise.
#[test]
fn every_mth_sample() {
    fn check<const SP: u32, M: Multiply<i16>>(r: &mut ChaCha8Rng) -> Result<(), String> {
        let l = Loop::draw(r, SP);
        let s = l.settings::<SP>();
        let (m, i) = (r.random::<u8>(), l.integral(r));
        let before = r.random::<u8>();
        let (set_point, measurement) = (word(r), word(r));
        let mut count = Every::new(m);
        for _ in 0..before {
            let _ = count.due();
        }
        let due = before % m.max(1) == 0;
        let mut state = PiState::with(integrator(&s, i));
        let u = every::step::<_, SP, M>(&s, &mut state, &mut count, set_point, measurement);
        let e = l.error(set_point, measurement);
        let next = if due { l.confined(i + l.ki * e) } else { i };
        same(
            &["output", "integrator"],
            [u.into(), held(&state)],
            [l.output(l.kp * e, i), next],
            &(l, m, before, i, set_point, measurement),
        )
    }
    assert_eq!(sweep(31, |r| at_some_scale!(check, r)), CASES);
}

/// PID with a filter of any time constant: output, integrator and filter exact.
#[test]
fn smooth() {
    fn check<const SP: u32, M: Multiply<i16>>(r: &mut ChaCha8Rng) -> Result<(), String> {
        let l = Loop::draw(r, SP);
        let s = l.settings::<SP>();
        let (i, a) = (l.integral(r), word(r) as u16);
        let filtered = (r.random::<i32>() >> 1).clamp(-16_384 << 16, (16_383 << 16) + 0xffff);
        let (set_point, measurement) = (word(r), word(r));
        let mut state = SmoothState::restored(&s, i as u32, filtered);
        let told = pid_smooth::terms::<_, SP, M>(&s, &state, set_point, measurement).demand;
        let u = pid_smooth::step::<_, SP, M>(&s, &mut state, a, set_point, measurement);
        let e = l.error(set_point, measurement);
        let rise = domain(measurement) - i64::from(filtered >> 16);
        let exact = l.output(l.kp * e + l.kd * l.signed(rise), i);
        same(
            &["output", "told", "integrator", "filter"],
            [
                u.into(),
                told.into(),
                held(&state),
                i64::from(state.filtered()),
            ],
            [
                exact,
                exact,
                l.confined(i + l.ki * e),
                i64::from(filtered) + i64::from(a) * rise,
            ],
            &(l, i, a, filtered, set_point, measurement),
        )
    }
    assert_eq!(sweep(32, |r| at_some_scale!(check, r)), CASES);
}

/// One product: PI with `ki = kp`, and the series form with its lead.
#[test]
fn one_product_serves() {
    fn check<const SP: u32, M: Multiply<i16>>(r: &mut ChaCha8Rng) -> Result<(), String> {
        let l = Loop::draw(r, SP);
        let s = l.settings::<SP>();
        let i = l.integral(r);
        let (set_point, measurement, filtered) = (word(r), word(r), word(r));
        let mut state = PiState::with(integrator(&s, i));
        let u = one_product::pi_step::<_, SP, M>(&s, &mut state, set_point, measurement);
        let product = l.kp * l.error(set_point, measurement);
        same(
            &["output", "integrator"],
            [u.into(), held(&state)],
            [l.output(product, i), l.confined(i + product)],
            &(l, i, set_point, measurement),
        )?;
        series::<SP, 2, M>(&l, i, set_point, measurement, filtered)?;
        series::<SP, 9, M>(&l, i, set_point, measurement, filtered)
    }
    fn series<const SP: u32, const L: u32, M: Multiply<i16>>(
        l: &Loop,
        i: i64,
        set_point: i16,
        measurement: i16,
        filtered: i16,
    ) -> Result<(), String> {
        let s = l.settings::<SP>();
        let mut state = PidState::<_, 3>::with(integrator(&s, i), filtered);
        let u = one_product::series_step::<_, SP, 3, L, M>(&s, &mut state, set_point, measurement);
        let rise = domain(measurement) - domain(filtered);
        let lead = l.error(set_point, measurement) + (l.signed(rise) << L);
        let product = l.kp * lead.clamp(-32_767, 32_767);
        same(
            &["series output", "series integrator", "series filter"],
            [u.into(), held(&state), state.filtered().into()],
            [
                l.output(product, i),
                l.confined(i + product),
                8 * domain(filtered) + rise,
            ],
            &(l, i, set_point, measurement, filtered, L),
        )
    }
    assert_eq!(sweep(33, |r| at_some_scale!(check, r)), CASES);
}

/// Changes while running: each moves the integrator by exactly what it says, confined; and where what is wanted fits,
/// the demand makes no bump.
#[test]
fn transfers() {
    fn check<const SP: u32, M: Multiply<i16>>(r: &mut ChaCha8Rng) -> Result<(), String> {
        let (l, mut other) = (Loop::draw(r, SP), Loop::draw(r, SP));
        other.reverse = l.reverse;
        let (s, new) = (l.settings::<SP>(), other.settings::<SP>());
        let i = l.integral(r);
        let (set_point, measurement, filtered) = (word(r), word(r), word(r));
        let e = l.error(set_point, measurement);
        let g = l.signed(domain(measurement) - domain(filtered));
        let shift = 16 - SP;
        let case = (l, other, i, set_point, measurement, filtered);
        let start = PidState::<_, 3>::with(integrator(&s, i), filtered);
        let demand = |s: &Settings<i16, SP>, state: &PidState<i16, 3>| {
            i64::from(pid::terms::<_, SP, 3, M>(s, state, set_point, measurement).demand)
        };

        // Other gains and limits; what the sum was stands, within the new limits.
        let mut state = start;
        transfer::to_gains::<_, SP, M>(
            &s,
            &new,
            &mut state,
            start.signals(s.action(), set_point, measurement),
        );
        let sum = ((l.kp * e + l.kd * g) << shift) + i;
        let wanted = sum - ((other.kp * e + other.kd * g) << shift);
        let due = other.confined(wanted);
        same(&["gains"], [held(&state)], [due], &case)?;
        if due == wanted {
            let stands = (sum >> 16).clamp(other.lo, other.hi);
            same(&["gains, demand"], [demand(&new, &state)], [stands], &case)?;
        }
        let mut state = start;
        transfer::to_limits(&new, &mut state);
        same(&["limits"], [held(&state)], [other.confined(i)], &case)?;

        // Manual to automatic, at a duty within the limits.
        let duty = i64::from(word(r)).clamp(l.lo, l.hi);
        let mut state = start;
        let seen = start.signals(s.action(), set_point, measurement);
        transfer::to_automatic::<_, SP, M>(&s, &mut state, duty as i16, seen);
        let wanted = (duty << 16) + 32_768 - ((l.kp * e + l.kd * g) << shift);
        let due = l.confined(wanted);
        same(&["automatic"], [held(&state)], [due], &case)?;
        if due == wanted {
            same(
                &["automatic, demand"],
                [demand(&s, &state)],
                [duty],
                &(case, duty),
            )?;
        }

        // Feed-forward, then the set point with a weight.
        let (old, next) = (word(r), word(r));
        let mut state = start;
        transfer::feed_forward::<_, SP, M>(&s, &mut state, old, next);
        let due = l.confined(i + ((i64::from(next) - i64::from(old)) << 16));
        same(&["feed-forward"], [held(&state)], [due], &(case, old, next))?;
        let b = i64::from(word(r)).clamp(0, 16_384);
        let mut state = start;
        set_point_change::<_, SP, M>(&s, &mut state, old, next, Weight::from_word(b as i16));
        let share = (l.kp * (16_384 - b) + 8_192) >> 14;
        let due = l.confined(i + ((share * l.signed(domain(next) - domain(old))) << shift));
        same(&["set point"], [held(&state)], [due], &(case, old, next, b))
    }
    assert_eq!(sweep(34, |r| at_some_scale!(check, r)), CASES);
}
