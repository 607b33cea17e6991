//! What surrounds the law and what switches, on the shipped 16/32 integers, against definitions written out here:
//! 10^6 random cases a claim. (Cycles of two-position control and of the relay experiment on plants:
//! `law_cycles.rs`.)

use controller_core::gain::Mantissas;
use controller_core::law::relay::{Progress, Relay, RelaySettings, Rule, Ultimate};
use controller_core::law::schedule::{Row, Schedule};
use controller_core::law::two_position::{TwoPosition, TwoPositionState};
use controller_core::law::{
    Action, Integrating, Integrator, PiState, Settings, Signals, pi, select, shaping,
};
use controller_core::word::Native;
use hushloop_tests::random::{CASES, sweep, word};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use std::sync::atomic::{AtomicU64, Ordering};

/// The same without those below zero.
fn size(r: &mut ChaCha8Rng) -> i16 {
    word(r) & i16::MAX
}

fn action(r: &mut ChaCha8Rng) -> Action {
    if r.random() {
        Action::Direct
    } else {
        Action::Reverse
    }
}

fn domain(x: i16) -> i32 {
    i32::from(x).clamp(-16_384, 16_383)
}

/// Whatever the input, the output stays on and off at least as long as asked, and switches as soon as it wants to and
/// may: 8,000 histories of 250 samples, 2 * 10^6 samples. Common practice, no source: switching twice a minute is too
/// often for a relay in a living space; minimum times keep it slower.
#[test]
fn never_switches_faster_than_asked() {
    const HISTORIES: u64 = 8_000;
    const SAMPLES: u32 = 250;
    let history = |n: u64| {
        let mut r = ChaCha8Rng::seed_from_u64(n);
        let r = &mut r;
        let minimum = |r: &mut ChaCha8Rng| r.random::<u16>() >> (9 + r.random::<u32>() % 7);
        let (minimum_on, minimum_off) = (minimum(r), minimum(r));
        let (half_band, action) = (size(r) >> 4, action(r));
        let law = TwoPosition::new(half_band, minimum_on, minimum_off, action).unwrap();
        let resting: bool = r.random();
        let mut state = if resting {
            TwoPositionState::resting()
        } else {
            TwoPositionState::start()
        };
        // Free at the start, unless resting.
        let (mut on, mut held) = (false, if resting { 0 } else { u32::MAX / 2 });
        let (mut switches, near) = (0_u64, r.random::<bool>());
        for _ in 0..SAMPLES {
            let set_point = word(r);
            let measurement = if near {
                set_point.saturating_add(word(r) >> 4)
            } else {
                word(r)
            };
            let now = law.step(&mut state, set_point, measurement);
            let minimum = u32::from(if on { minimum_on } else { minimum_off });
            let above = domain(measurement) - domain(set_point);
            // Cooling goes off, and heating on, below the band.
            let beyond = if on == (action == Action::Direct) {
                above < -i32::from(half_band)
            } else {
                above > i32::from(half_band)
            };
            assert_eq!(
                now != on,
                beyond && held >= minimum,
                "{law:?} on {on} for {held}: {set_point}, {measurement}"
            );
            if now != on {
                (on, held, switches) = (now, 0, switches + 1);
            }
            held += 1;
            assert_eq!(state.is_on(), on);
        }
        (u64::from(SAMPLES), switches)
    };
    let (samples, switches) = (0..HISTORIES)
        .into_par_iter()
        .map(history)
        .reduce(|| (0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
    assert_eq!(samples, 2_000_000);
    assert!(switches > 100_000, "{switches}");
}

/// Shapers against their definitions in 32 bits, and two signals in order through each: 10^6 random cases.
#[test]
fn shapers() {
    let check = |r: &mut ChaCha8Rng| {
        let (p, u, higher) = (word(r), word(r), word(r));
        let (u, higher) = (u.min(higher), u.max(higher));
        let (width, up) = (size(r), size(r));
        let [x, y, w, v] = [p, u, width, up].map(i32::from);
        let told = format!("{p}, {u} and {higher}, {width}, {up}");
        let exact = [
            (shaping::slew(p, u, width, up), y.clamp(x - w, x + v)),
            (shaping::ramp(p, u, width), y.clamp(x - w, x + w)),
            (shaping::backlash(p, u, width), x.clamp(y - w, y + w)),
        ];
        for (shaper, (got, due)) in ["slew", "ramp", "backlash"].iter().zip(exact) {
            if i32::from(got) != due {
                return Err(format!("{shaper} {got}, not {due}: {told}"));
            }
        }
        let error = u.max(-i16::MAX);
        let outside = (i32::from(error).abs() - w).max(0) * i32::from(error).signum();
        if i32::from(shaping::beyond(error, width)) != outside {
            return Err(format!("error dead band: {told}"));
        }
        let ordered = shaping::slew(p, u, width, up) <= shaping::slew(p, higher, width, up)
            && shaping::ramp(p, u, width) <= shaping::ramp(p, higher, width)
            && shaping::backlash(p, u, width) <= shaping::backlash(p, higher, width)
            && shaping::beyond(error, width) <= shaping::beyond(higher.max(error), width);
        if !ordered {
            return Err(format!("order: {told}"));
        }
        let demands: [i16; 4] = std::array::from_fn(|_| size(r));
        let most = demands.into_iter().max().unwrap_or(0);
        let first = demands.iter().position(|&d| d == most).unwrap_or(9);
        if select::highest(&demands) != Some((first, most)) {
            return Err(format!("highest of {demands:?}"));
        }
        Ok(())
    };
    assert_eq!(sweep(41, check), CASES);
}

/// Settings of a loop with 8 fraction bits.
fn settings(r: &mut ChaCha8Rng, action: Action) -> Settings<i16, 8> {
    let kp = (word(r) as u16).min(65_281);
    let kd = (word(r) as u16).min(65_281 - kp);
    let (lo, hi) = if r.random() {
        (0, i16::MAX)
    } else {
        (size(r) >> 2, i16::MAX - (size(r) >> 2))
    };
    let gains = Mantissas {
        kp,
        ki: word(r) as u16,
        kd,
    };
    Settings::<i16, 8>::new(gains, lo, hi, action).unwrap()
}

/// The row that applies is the last one the signal reaches, a row that applies already the hysteresis lower; a change
/// of row makes no bump while the wanted integrator fits: 10^6 random cases.
#[test]
fn schedules() {
    let check = |r: &mut ChaCha8Rng| {
        let action = action(r);
        let count = 2 + usize::from(r.random::<u8>() % 4);
        let hysteresis = size(r) >> (r.random::<u32>() % 16);
        let spread = r.random::<u32>() % 10;
        let mut from: Vec<i16> = (0..count).map(|_| word(r) >> spread).collect();
        from[1..].sort_unstable();
        let rows: Vec<Row<i16, 8>> = from
            .iter()
            .map(|&from| Row {
                from,
                settings: settings(r, action),
            })
            .collect();
        // Beginnings too near each other are refused.
        let apart = |pair: &[i16]| i32::from(pair[1]) > i32::from(pair[0]) + i32::from(hysteresis);
        let accepted = from[1..].windows(2).all(apart);
        let schedule = match Schedule::new(&rows, hysteresis) {
            Ok(schedule) if accepted => schedule,
            Err(_) if !accepted => return Ok(()),
            other => return Err(format!("{from:?}, {hysteresis}: {other:?}")),
        };
        let now = usize::from(r.random::<u8>()) % count;
        let signal = if r.random() {
            word(r)
        } else {
            from[now].saturating_add(word(r) >> 8)
        };
        let mark =
            |row: usize| i32::from(from[row]) - i32::from(if row <= now { hysteresis } else { 0 });
        let due = (1..count).rev().find(|&row| i32::from(signal) >= mark(row));
        let due = due.unwrap_or(0);
        let (old, new) = (&rows[now].settings, &rows[due].settings);
        let start = PiState::with(Integrator::from_word(old, r.random()));
        let (set_point, measurement) = (word(r), word(r));
        let seen = Signals::of(action, set_point, measurement);
        let error = seen.narrow_error();
        let mut state = start;
        // PI: a slope of nothing.
        let row = schedule.look::<Native>(&mut state, now, signal, seen);
        let told = || format!("{from:?}, {hysteresis}, {signal} from {now}, {start:?}, e {error}");
        if row != due || schedule.row_at(signal, row) != row {
            return Err(format!("row {row}, not {due}: {}", told()));
        }
        let gain = |s: &Settings<i16, 8>| i64::from(s.mantissas().kp);
        let held = |state: &PiState<i16>| i64::from(state.integrator().word());
        let sum = ((gain(old) * i64::from(error)) << 8) + held(&start);
        let wanted = sum - ((gain(new) * i64::from(error)) << 8);
        let (lo, hi) = (i64::from(new.lo()), i64::from(new.hi()));
        let due = if row == now {
            held(&start)
        } else {
            wanted.clamp(lo << 16, hi << 16 | 0xffff)
        };
        let demand = pi::terms::<_, 8, Native>(new, &state, set_point, measurement).demand;
        let bumped = due == wanted && i64::from(demand) != (sum >> 16).clamp(lo, hi);
        if held(&state) != due || bumped {
            return Err(format!("wanted {wanted}, {state:?}, {demand}: {}", told()));
        }
        Ok(())
    };
    assert_eq!(sweep(42, check), CASES);
}

/// What a relay experiment must find, from its definition: the samples at which the output goes high, and between
/// them the span of the measurement.
fn found(s: &RelaySettings, set_point: i16, measured: &[i16]) -> (Vec<i16>, Option<Ultimate>) {
    let (mut high, mut ups, mut duties) = (true, Vec::new(), Vec::new());
    for (at, &m) in measured.iter().enumerate() {
        let above = domain(m) - domain(set_point);
        let error = if s.action == Action::Direct {
            above
        } else {
            -above
        };
        if !high && error > i32::from(s.hysteresis) {
            high = true;
            ups.push(at);
        } else if high && error < -i32::from(s.hysteresis) {
            high = false;
        }
        duties.push(if high { s.bias + s.d } else { s.bias - s.d });
    }
    let n = usize::from(s.cycles);
    let (begin, end) = (ups[1], ups[n + 1]);
    let swings: i32 = (1..=n)
        .map(|k| {
            let cycle = measured[ups[k] + 1..=ups[k + 1]].iter().map(|&m| domain(m));
            cycle.clone().max().unwrap_or(0) - cycle.min().unwrap_or(0)
        })
        .sum();
    duties.truncate(end);
    let rounded = |value: u128, by: u128| (2 * value + by) / (2 * by);
    let n = u128::from(s.cycles);
    let amplitude = rounded(swings as u128 * 8, n);
    let hysteresis = s.hysteresis as u128 * 16;
    if amplitude <= hysteresis {
        return (duties, None);
    }
    let root = (amplitude * amplitude - hysteresis * hysteresis).isqrt();
    // 4/pi in 2^-16, d * 2^8 and sixteenths of a count.
    let gain = rounded(s.d as u128 * 83_443 / 16, root).min(1 << 24);
    let seen = Ultimate {
        gain_q8: gain as u32,
        period_q4: rounded((end - begin) as u128 * 16, n) as u32,
        amplitude: (amplitude / 16) as u16,
    };
    (duties, Some(seen))
}

/// Runs the experiment over what was measured; every duty and the end must be as found.
fn run(s: RelaySettings, set_point: i16, measured: &[i16]) -> Result<Option<Ultimate>, String> {
    let (duties, due) = found(&s, set_point, measured);
    let told = || format!("{s:?}, {set_point}, {measured:?}");
    let mut relay = Relay::new(s).map_err(|e| format!("{e}: {s:?}"))?;
    for (sample, (&m, &duty)) in measured.iter().zip(&duties).enumerate() {
        match relay.step(set_point, m) {
            Progress::Running(got) if got == duty => {}
            other => return Err(format!("sample {sample}: {other:?}, {}", told())),
        }
    }
    match (relay.step(set_point, measured[duties.len()]), due) {
        (Progress::Done(got), Some(due)) if got == due => Ok(Some(got)),
        (Progress::Failed, None) => Ok(None),
        other => Err(format!("{other:?}, {}", told())),
    }
}

/// A relay experiment over any swings, against its definition in 128 bits: 10^6 random experiments. What it reads off
/// is also the describing function's gain in f64, as near as a root in sixteenths of a count can be.
#[test]
fn relay_experiments() {
    let (ended, compared) = (AtomicU64::new(0), AtomicU64::new(0));
    let check = |r: &mut ChaCha8Rng| {
        let d = (size(r) >> 1).max(1);
        let s = RelaySettings {
            bias: d + (size(r) % (i16::MAX - d - d + 1)),
            d,
            hysteresis: (size(r) >> (1 + r.random::<u32>() % 15)).min(16_382),
            cycles: 1 + (r.random::<u8>() & 15) / (1 + (r.random::<u8>() & 7)),
            patience: 40,
            action: action(r),
        };
        // So that either side of the hysteresis is in the domain.
        let room = 16_382 - s.hysteresis;
        let set_point = (word(r) >> 1).clamp(-room, room);
        let mut measured = Vec::with_capacity(128);
        for _ in 0..s.cycles + 2 {
            for up in [false, true] {
                // What stays within the hysteresis switches nothing.
                for _ in 0..r.random::<u8>() % 3 {
                    let within = (i32::from(r.random::<i16>()) * i32::from(s.hysteresis)) >> 15;
                    measured.push((i32::from(set_point) + within) as i16);
                }
                let far = i32::from(size(r)) >> (r.random::<u32>() % 15);
                let beyond = i32::from(s.hysteresis) + 1 + far;
                let sign = if up == (s.action == Action::Direct) {
                    1
                } else {
                    -1
                };
                let at = i32::from(set_point) + sign * beyond;
                measured.push(at.clamp(-32_768, 32_767) as i16);
            }
        }
        let Some(seen) = run(s, set_point, &measured)? else {
            return Ok(());
        };
        ended.fetch_add(1, Ordering::Relaxed);
        if s.cycles == 1 && seen.amplitude > 100 && s.hysteresis < 50 {
            let (a, h) = (f64::from(seen.amplitude), f64::from(s.hysteresis));
            let gain =
                |a: f64| 1024.0 * f64::from(s.d) / (std::f64::consts::PI * (a * a - h * h).sqrt());
            compared.fetch_add(1, Ordering::Relaxed);
            // The amplitude is told in whole counts, rounded down.
            let (least, most) = (gain(a + 1.0) - 1.0, gain(a) * 1.001 + 1.0);
            let got = f64::from(seen.gain_q8);
            if got < least || got > most {
                return Err(format!("gain {got}, not {least} to {most}: {s:?} {seen:?}"));
            }
        }
        Ok(())
    };
    assert_eq!(sweep(43, check), CASES);
    let (ended, compared) = (ended.into_inner(), compared.into_inner());
    assert!(
        ended > CASES / 2 && compared > 10_000,
        "{ended} ended, {compared} compared in f64"
    );
}

/// Every swing that one cycle can have, with the least and the greatest hysteresis that it can have and one between,
/// with the least and the greatest relay amplitude; and the greatest of all sums.
#[test]
fn every_swing_of_a_relay() {
    let of = |swing: i32, hysteresis: i32, d: i16, cycles: u8| {
        let s = RelaySettings {
            bias: 16_384,
            d,
            hysteresis: hysteresis as i16,
            cycles,
            patience: 9,
            action: Action::Direct,
        };
        let low = -(swing / 2) - i32::from(swing == 32_767);
        let high = low + swing;
        let set_point = ((low + high) >> 1) as i16;
        let measured: Vec<i16> = (0..=2 * i32::from(cycles) + 4)
            .map(|k| if k % 2 == 0 { low as i16 } else { high as i16 })
            .collect();
        run(s, set_point, &measured).unwrap_or_else(|what| panic!("{what}"))
    };
    let cases: u64 = (2..=32_767_i32)
        .into_par_iter()
        .map(|swing| {
            // The lesser half of an odd swing must leave the hysteresis, too.
            let most = swing / 2 - 1;
            for hysteresis in [0, most / 2, most] {
                for d in [1, 16_383] {
                    assert!(of(swing, hysteresis, d, 1).is_some());
                }
            }
            6
        })
        .sum();
    assert_eq!(cases, 32_766 * 6);
    let greatest = of(32_767, 0, 16_383, 16);
    assert_eq!(greatest.map(|seen| seen.amplitude), Some(16_383));
}

/// Gains from an ultimate gain and period by each rule, against the rule in f64: 10^6 random experiments' results.
#[test]
fn relay_rules() {
    const RULES: [(Rule, f64, f64, f64); 6] = [
        (Rule::ZieglerNicholsP, 0.5, f64::INFINITY, 0.0),
        (Rule::ZieglerNicholsPi, 0.45, 1.0 / 1.2, 0.0),
        (Rule::ZieglerNicholsPid, 0.6, 0.5, 0.125),
        (Rule::AstromHagglundPi, 0.4, 0.8, 0.0),
        (Rule::TyreusLuybenPi, 1.0 / 3.2, 2.2, 0.0),
        (Rule::TyreusLuybenPid, 1.0 / 2.2, 2.2, 1.0 / 6.3),
    ];
    fn check<const SP: u32, const K: u32>(r: &mut ChaCha8Rng) -> Result<(), String> {
        let any = |r: &mut ChaCha8Rng, bits: u32| {
            r.random::<u32>() >> (32 - bits + r.random::<u32>() % bits)
        };
        let seen = Ultimate {
            gain_q8: any(r, 24),
            period_q4: any(r, 32).max(1),
            amplitude: 50,
        };
        let (rule, k, ti, td) = RULES[usize::from(r.random::<u8>() % 6)];
        let gains = rule.gains::<SP, K>(seen);
        let (ku, tu) = (
            f64::from(seen.gain_q8) / 256.0,
            f64::from(seen.period_q4) / 16.0,
        );
        let scale = f64::from(1 << SP);
        // Td is taken in whole 256ths of a sample.
        let late = k * ku * scale / 256.0 / f64::from(1 << K);
        for (what, got, due, more) in [
            ("kp", gains.kp, k * ku * scale, 0.0),
            ("ki", gains.ki, k * ku / (ti * tu) * 65_536.0, 0.0),
            (
                "kd",
                gains.kd,
                k * ku * td * tu / f64::from(1 << K) * scale,
                late,
            ),
        ] {
            let (least, most) = (due * (1.0 - 3e-4) - more - 1.0, due * (1.0 + 3e-4) + 1.0);
            let got = f64::from(got);
            if got < least.min(65_535.0) || got > most {
                return Err(format!("{rule:?} of {seen:?}: {what} {got}, rule {due}"));
            }
        }
        Ok(())
    }
    let some = |r: &mut ChaCha8Rng| match r.random::<u8>() % 3 {
        0 => check::<4, 0>(r),
        1 => check::<8, 3>(r),
        _ => check::<15, 8>(r),
    };
    assert_eq!(sweep(44, some), CASES);
}
