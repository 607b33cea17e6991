//! The other forms of anti-windup, on the shipped integers, against the exact oracle (`reference::exact`), which
//! shares no code with the crate: PI and PID, both kinds of comparison, histories of 25 samples from a random state.

use controller_core::gain::Mantissas;
use controller_core::law::windup::{self, Sampling};
use controller_core::law::{Action, Integrating, Integrator, PiState, PidState, Settings, pi};
use controller_core::word::{Multiply, Native};
use host_harness::reference::exact::ExactLaw;
use hushloop_proof::property::{Halves, Whole};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

const K: u32 = 3;
const SAMPLES: u64 = 25;
/// Histories a form; 40,000 of 25 samples are 10^6 cases of each.
const HISTORIES: u64 = 40_000;

#[derive(Clone, Copy, Debug)]
enum Form {
    Conditional,
    /// `gain`, and how the duty that goes out is made from the demand.
    Tracking(u16, Applied),
}

#[derive(Clone, Copy, Debug)]
enum Applied {
    Demand,
    Held(i16),
    Slewed(i16),
}

impl Applied {
    fn of(self, demand: i16) -> i16 {
        match self {
            Self::Demand => demand,
            Self::Held(duty) => duty,
            Self::Slewed(from) => demand.clamp(from.saturating_sub(300), from.saturating_add(300)),
        }
    }
}

/// Runs one history of the law and of the oracle; what differs is an error.
fn history<const SP: u32, M: Multiply<i16>, S: Sampling<i16, SP>>(
    r: &mut ChaCha8Rng,
    s: &Settings<i16, SP>,
    state: &mut S,
    exact: &mut ExactLaw,
    form: Form,
) -> Result<(), String> {
    let set_point: i16 = r.random::<i16>() >> 2;
    // Wide swings, and noise round the set point, which stays inside the limits.
    let coarse = r.random::<u32>() % 12;
    for sample in 0..SAMPLES {
        let m = set_point.saturating_add(r.random::<i16>() >> coarse);
        let before = state.integrator().word();
        let (u, due) = match form {
            Form::Conditional => (
                windup::conditional::<_, SP, M>(s, state, set_point, m),
                exact.step_conditional(set_point, m),
            ),
            Form::Tracking(gain, applied) => {
                let mut demand = 0;
                let out = windup::tracking::<_, SP, M>(s, state, set_point, m, gain, |u| {
                    demand = u;
                    applied.of(u)
                });
                if out != applied.of(demand) {
                    return Err("tracking gives back another duty than was applied".to_string());
                }
                (demand, exact.step_tracking(set_point, m, gain, out))
            }
        };
        let told =
            || format!("{form:?} SP {SP} sample {sample}: {s:?}, {set_point}, {m}, I {before}");
        if (f64::from(u) - due).abs() > 0.5 {
            return Err(format!("output {u}, exact {due}; {}", told()));
        }
        let (word, exactly) = (state.integrator().word(), exact.integral() + 32_768);
        if i128::from(word) != exactly {
            return Err(format!("integrator {word}, exact {exactly}; {}", told()));
        }
    }
    Ok(())
}

fn at<const SP: u32, M: Multiply<i16>>(r: &mut ChaCha8Rng, form: Form) -> Result<(), String> {
    // Gains over many sizes, within the bound of their sum.
    let gain = |r: &mut ChaCha8Rng| r.random::<u16>() >> (r.random::<u32>() % 14);
    let most = Settings::<i16, SP>::gain_sum_max();
    let kp = u64::from(gain(r)).min(most);
    let derivative = r.random::<bool>();
    let kd = if derivative {
        u64::from(gain(r)).min(most - kp)
    } else {
        0
    };
    let (a, b) = (r.random::<i16>() & i16::MAX, r.random::<i16>() & i16::MAX);
    let (lo, hi) = if a == b {
        (0, i16::MAX)
    } else {
        (a.min(b), a.max(b))
    };
    let cooling = r.random::<bool>();
    let action = if cooling {
        Action::Direct
    } else {
        Action::Reverse
    };
    let (kp, ki, kd) = (kp as u16, gain(r), kd as u16);
    let s = Settings::<i16, SP>::new(Mantissas { kp, ki, kd }, lo, hi, action)
        .map_err(|e| e.to_string())?;
    let mut exact = ExactLaw::new(kp, ki, kd, SP, K, lo, hi, cooling);
    let mut integrator = PiState::start(&s).integrator();
    if ki == 0 {
        // Without integral action a cooling loop starts at its lower limit; the oracle starts at the upper.
        integrator = Integrator::exactly(&s, if cooling { hi } else { lo });
    }
    if derivative {
        let first: i16 = r.random();
        let mut state = PidState::<_, K>::with(integrator, first);
        let at_first = windup::conditional::<_, SP, M>(&s, &mut state, 0, first);
        let due = exact.step_conditional(0, first);
        if (f64::from(at_first) - due).abs() > 0.5 {
            return Err(format!("first output {at_first}, exact {due}"));
        }
        history::<SP, M, _>(r, &s, &mut state, &mut exact, form)
    } else {
        history::<SP, M, _>(r, &s, &mut PiState::with(integrator), &mut exact, form)
    }
}

fn sweep(seed: u64, form: impl Fn(&mut ChaCha8Rng) -> Form + Sync) -> u64 {
    (0..HISTORIES)
        .into_par_iter()
        .map(|n| {
            let mut r = ChaCha8Rng::seed_from_u64(seed << 32 | n);
            let form = form(&mut r);
            let done = match n % 8 {
                0 => at::<1, Halves>(&mut r, form),
                1 => at::<4, Whole>(&mut r, form),
                2 => at::<8, Halves>(&mut r, form),
                3 => at::<8, Whole>(&mut r, form),
                4 => at::<12, Halves>(&mut r, form),
                5 => at::<12, Whole>(&mut r, form),
                6 => at::<15, Halves>(&mut r, form),
                _ => at::<15, Whole>(&mut r, form),
            };
            if let Err(what) = done {
                panic!("{what}");
            }
            SAMPLES
        })
        .sum()
}

#[test]
fn conditional_integration_is_exact() {
    assert_eq!(sweep(1, |_| Form::Conditional), 1_000_000);
}

/// The excess is measured before rounding: the integrator agrees to its last bit.
#[test]
fn tracking_is_exact() {
    let form = |r: &mut ChaCha8Rng| {
        let applied = match r.random::<u8>() % 3 {
            0 => Applied::Demand,
            1 => Applied::Held(r.random::<i16>() & i16::MAX),
            _ => Applied::Slewed(r.random::<i16>() & i16::MAX),
        };
        Form::Tracking(r.random::<u16>() >> (r.random::<u32>() % 15), applied)
    };
    assert_eq!(sweep(2, form), 1_000_000);
}

/// A gain of `2^(n-t)` is a shift of the excess by `t`, `I' = clamp(I + ki*e + (clamp(S) - S) >> t)`.
#[test]
fn a_power_of_two_is_a_shift() {
    const SP: u32 = 8;
    let mut r = ChaCha8Rng::seed_from_u64(3);
    let gains = Mantissas {
        kp: 1300,
        ki: 65,
        kd: 0,
    };
    let s = Settings::<i16, SP>::new(gains, 0, 32_767, Action::Direct).unwrap();
    let (mut saturated, mut cases) = (0, 0);
    for t in 1..=16 {
        for _ in 0..10_000 {
            let word = r.random::<u32>() >> 1;
            let m = r.random::<i16>() >> 3;
            let mut state = PiState::with(Integrator::from_word(&s, word));
            windup::tracking::<_, SP, Native>(&s, &mut state, 0, m, 1 << (16 - t), |u| u);
            let e = i64::from(m);
            let sum = 1300 * e + i64::from(word >> 8);
            let excess = sum.clamp(0, (32_767 << 8) + 255) - sum;
            let due = i64::from(word) + 65 * e + ((excess << 8) >> t);
            let due = due.clamp(0, (32_767 << 16) + 0xffff);
            assert_eq!(
                i64::from(state.integrator().word()),
                due,
                "t {t}, {word}, {m}"
            );
            saturated += u32::from(excess != 0);
            cases += 1;
        }
    }
    assert_eq!(cases, 160_000);
    assert!(saturated > 20_000, "{saturated}");
}

/// After long saturation by 10 K of error (6500 LSB of P) the static clamp stands at full duty; tracking has brought
/// the sum to just above it: `kt * excess = ki * e`, 65 * 1280 / 65536 * 4 = 5.08 LSB of excess over what rounds to
/// full duty, so that I = 32767.5 + 5.08 - 6500.
#[test]
fn tracking_recovers_sooner() {
    let gains = Mantissas {
        kp: 1300,
        ki: 65,
        kd: 0,
    };
    let s = Settings::<i16, 8>::new(gains, 0, 32_767, Action::Direct).unwrap();
    let start = PiState::with(Integrator::exactly(&s, 10_000));
    let (mut fixed, mut tracked) = (start, start);
    for _ in 0..20_000 {
        assert!(pi::step::<_, 8, Native>(&s, &mut fixed, 0, 1280) >= 16_500);
        windup::tracking::<_, 8, Native>(&s, &mut tracked, 0, 1280, 1 << 14, |u| u);
    }
    let at_set_point = |state| pi::terms::<_, 8, Native>(&s, state, 0, 0).demand;
    assert_eq!(at_set_point(&fixed), 32_767);
    assert_eq!(at_set_point(&tracked), 26_273);
}
