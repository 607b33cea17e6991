//! Step-by-step traces of the textbook algorithm (`published/pid_traces.csv`; parameters in `formulas.toml`; source
//! key `am2008`: Astrom and Murray, Feedback Systems, 2008, section 10.5, the listing from memory, each recurrence
//! checked by an independent filter computation): the f64 oracle to 1e-9, the shipped law term by term.
//!
//! Scaling of the shipped law, stated at each trace: a unit of temperature is so many counts, a unit of output so
//! many LSB, and an offset keeps negative outputs inside 0..=32767, carried by the integrator.

use controller_core::gain::Mantissas;
use controller_core::law::{
    Action, Integrating, Integrator, PiState, PidState, Settings, Signals, pi, pid, pid_smooth,
    transfer, windup,
};
use controller_core::setpoint::{Weight, set_point_change};
use controller_core::word::Native;
use host_harness::reference::law::TextbookPid;

#[derive(Clone, Debug)]
struct Row {
    r: f64,
    y: f64,
    terms: [f64; 5], // P, I, D, v, u
}

fn trace(name: &str) -> Vec<Row> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/published/pid_traces.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let rows: Vec<Row> = reader
        .records()
        .map(Result::unwrap)
        .filter(|record| &record[0] == name)
        .map(|record| {
            let number = |at: usize| record[at].parse::<f64>().unwrap();
            Row {
                r: number(2),
                y: number(3),
                terms: [number(4), number(5), number(6), number(7), number(8)],
            }
        })
        .collect();
    assert!(!rows.is_empty(), "no trace {name}");
    rows
}

fn textbook() -> TextbookPid {
    let inf = f64::INFINITY;
    TextbookPid {
        kp: 0.0,
        ki: 0.0,
        kd: 0.0,
        tf: 0.0,
        h: 0.1,
        b: 1.0,
        tt: inf,
        low: -inf,
        high: inf,
        i: 0.0,
        d: 0.0,
        y: 0.0,
    }
}

fn follows(name: &str, mut law: TextbookPid, manual: Option<f64>) {
    for (k, row) in trace(name).iter().enumerate() {
        let got = law.step(row.r, row.y, manual);
        for (term, (got, want)) in got.iter().zip(row.terms).enumerate() {
            assert!(
                (got - want).abs() < 1e-9,
                "{name}, sample {k}, term {term}: {got}, published {want}"
            );
        }
    }
}

#[test]
fn the_oracle_follows_every_trace() {
    follows(
        "T1_pi_ramp",
        TextbookPid {
            kp: 2.0,
            ki: 0.5,
            h: 0.2,
            ..textbook()
        },
        None,
    );
    let d = TextbookPid {
        kd: 3.0,
        tf: 0.4,
        ..textbook()
    };
    follows("T2_d_ramp", d.clone(), None);
    follows("T3_d_step", d, None);
    let limited = TextbookPid {
        kp: 1.0,
        ki: 1.0,
        low: -1.0,
        high: 1.0,
        ..textbook()
    };
    follows(
        "T4_backcalc",
        TextbookPid {
            tt: 0.5,
            ..limited.clone()
        },
        None,
    );
    follows("T4b_no_antiwindup", limited, None);
    let closed = TextbookPid {
        kp: 3.0,
        ki: 0.6,
        kd: 1.2,
        tf: 0.3,
        b: 0.7,
        tt: 2.0,
        low: 0.0,
        high: 4.0,
        ..textbook()
    };
    follows("T6_closed_loop", closed, None);
    follows(
        "T8_manual_tracking",
        TextbookPid {
            tt: 0.5,
            ..textbook()
        },
        Some(0.4),
    );
    follows(
        "T9_gain_change_before",
        TextbookPid {
            kp: 2.0,
            b: 0.5,
            i: 8.0,
            ..textbook()
        },
        None,
    );
    follows(
        "T9_gain_change_after",
        TextbookPid {
            kp: 3.0,
            b: 0.5,
            i: 10.0,
            ..textbook()
        },
        None,
    );
    // The closed loop's own plant, y' = 0.9 y + 0.1 u.
    let rows = trace("T6_closed_loop");
    for pair in rows.windows(2) {
        assert!((0.9 * pair[0].y + 0.1 * pair[0].terms[4] - pair[1].y).abs() < 1e-9);
    }
}

/// Compares one term, in LSB.
fn near(what: &str, k: usize, got: i64, want: f64, lsb: f64) {
    assert!(
        (got as f64 - want).abs() <= lsb,
        "{what}, sample {k}: {got} LSB, published {want:.2} LSB"
    );
}

/// T1, 16/32, SP 8: 1024 counts a unit of temperature, 8192 LSB a unit of output, no offset.
#[test]
fn t1_proportional_and_integral() {
    let gains = Mantissas {
        kp: 4096,
        ki: 52_429,
        kd: 0,
    }; // 2 * 8 * 256; 0.5 * 0.2 * 8 * 65536 = 52428.8
    let s = Settings::<i16, 8>::new(gains, 0, 32_767, Action::Reverse).unwrap();
    let mut state = PiState::with(Integrator::exactly(&s, 0));
    for (k, row) in trace("T1_pi_ramp").iter().enumerate() {
        let (r, y) = ((row.r * 1024.0) as i16, (row.y * 1024.0) as i16);
        let t = pi::terms::<_, 8, Native>(&s, &state, r, y);
        let u = pi::step::<_, 8, Native>(&s, &mut state, r, y);
        near("T1 P", k, t.p.into(), row.terms[0] * 8192.0, 0.0);
        near("T1 I", k, t.i.into(), row.terms[1] * 8192.0, 0.51);
        near("T1 v", k, t.unclamped.into(), row.terms[3] * 8192.0, 0.51);
        near("T1 u", k, u.into(), row.terms[4] * 8192.0, 0.51);
    }
}

/// T2 and T3, 16/32, SP 8, the filter of any time constant: 8000 counts a unit of temperature, 4000 LSB a unit of
/// output, offset 30000 LSB. `g` is whole counts, so D may be off by `kd` = 3 LSB.
#[test]
fn t2_t3_derivative_16() {
    let gains = Mantissas {
        kp: 0,
        ki: 0,
        kd: 768,
    }; // 3 / (0.4 + 0.1) * 4000 / 8000 * 256
    let s = Settings::<i16, 8>::new(gains, 0, 32_767, Action::Reverse).unwrap();
    for name in ["T2_d_ramp", "T3_d_step"] {
        let mut state = pid_smooth::SmoothState::with(Integrator::exactly(&s, 30_000), 0);
        for (k, row) in trace(name).iter().enumerate() {
            let y = (row.y * 8000.0).round() as i16;
            let t = pid_smooth::terms::<_, 8, Native>(&s, &state, 0, y);
            let u = pid_smooth::step::<_, 8, Native>(&s, &mut state, 13_107, 0, y); // 0.1 / 0.5 * 65536 = 13107.2
            near(name, k, t.p.into(), 0.0, 0.0);
            near(name, k, t.d.into(), row.terms[2] * 4000.0, 3.5);
            near(name, k, u.into(), 30_000.0 + row.terms[4] * 4000.0, 3.5);
        }
    }
}

/// The same at 32/64, SP 16: 500 million counts a unit of temperature, 100 million LSB a unit of output, offset
/// 2000 million LSB; off by no more than a millionth of a unit.
#[test]
fn t2_t3_derivative_32() {
    let gains = Mantissas {
        kp: 0,
        ki: 0,
        kd: 78_643,
    }; // 6 / 5 * 65536 = 78643.2: off by 2.5e-6
    let s = Settings::<i32, 16>::new(gains, 0, i32::MAX, Action::Reverse).unwrap();
    for name in ["T2_d_ramp", "T3_d_step"] {
        let mut state = pid_smooth::SmoothState::with(Integrator::exactly(&s, 2_000_000_000), 0);
        for (k, row) in trace(name).iter().enumerate() {
            let y = (row.y * 5e8).round() as i32;
            let t = pid_smooth::terms::<_, 16, Native>(&s, &state, 0, y);
            let _ = pid_smooth::step::<_, 16, Native>(&s, &mut state, 858_993_459, 0, y); // 2^32 / 5
            near(name, k, t.d, row.terms[2] * 1e8, 6.0 * 1e8 * 2.6e-6 + 2.0);
        }
    }
}

/// T4, 16/32, SP 8: tracking a limit of +-1 at the actuator, the law's own limits wide. 2000 counts a unit of
/// temperature, 2000 LSB a unit of output, offset 16000 LSB.
#[test]
fn t4_back_calculation() {
    let gains = Mantissas {
        kp: 256,
        ki: 6554,
        kd: 0,
    }; // 1 * 256; 1 * 0.1 * 65536 = 6553.6
    let s = Settings::<i16, 8>::new(gains, 0, 32_767, Action::Reverse).unwrap();
    let mut state = PiState::with(Integrator::exactly(&s, 16_000));
    let rows = trace("T4_backcalc");
    assert_eq!(rows.len(), 30);
    for (k, row) in rows.iter().enumerate() {
        let (r, y) = ((row.r * 2000.0) as i16, (row.y * 2000.0) as i16);
        let t = pi::terms::<_, 8, Native>(&s, &state, r, y);
        // kt = 0.1 / 0.5 * 65536 = 13107.2
        let u = windup::tracking::<_, 8, Native>(&s, &mut state, r, y, 13_107, |u| {
            u.clamp(14_000, 18_000)
        });
        near("T4 P", k, t.p.into(), row.terms[0] * 2000.0, 0.0);
        near("T4 I", k, t.i.into(), 16_000.0 + row.terms[1] * 2000.0, 1.5);
        near(
            "T4 v",
            k,
            t.unclamped.into(),
            16_000.0 + row.terms[3] * 2000.0,
            1.5,
        );
        near("T4 u", k, u.into(), 16_000.0 + row.terms[4] * 2000.0, 0.0);
    }
}

/// T6, 16/32, SP 12, K 2 (Tf = 3 h): set-point weight 0.7 by absorption. 8000 counts a unit of temperature, 8000 LSB a
/// unit of output, offset 8000 LSB. The integrator holds the weight's part: P is the full `kp (r - y)`, so 0.9 less is
/// the textbook's P and 0.9 more its I. `g` is whole counts, so D may be off by `kd` = 3 LSB.
#[test]
fn t6_closed_loop() {
    let gains = Mantissas {
        kp: 12_288,
        ki: 3932,
        kd: 12_288,
    }; // 3 * 4096; 0.06 * 65536 = 3932.16; 1.2 / (0.1 * 4) * 4096
    let s = Settings::<i16, 12>::new(gains, 0, 32_767, Action::Reverse).unwrap();
    let mut state = PidState::<_, 2>::with(Integrator::exactly(&s, 8000), 0);
    let weight = Weight::from_word(11_469); // 0.7 * 16384 = 11468.8
    set_point_change::<_, 12, Native>(&s, &mut state, 0, 8000, weight);
    let rows = trace("T6_closed_loop");
    assert_eq!(rows.len(), 60);
    let (mut free, mut y_free) = (state, 0.0_f64);
    for (k, row) in rows.iter().enumerate() {
        let y = (row.y * 8000.0).round() as i16;
        let t = pid::terms::<_, 12, 2, Native>(&s, &state, 8000, y);
        let u = pid::step::<_, 12, 2, Native>(&s, &mut state, 8000, y);
        near("T6 P", k, t.p.into(), (row.terms[0] + 0.9) * 8000.0, 2.5);
        near(
            "T6 I",
            k,
            t.i.into(),
            8000.0 + (row.terms[1] - 0.9) * 8000.0,
            3.0,
        );
        near("T6 D", k, t.d.into(), row.terms[2] * 8000.0, 6.0);
        near("T6 u", k, u.into(), 8000.0 + row.terms[4] * 8000.0, 8.0);
        // And closed round its own output.
        let u =
            pid::step::<_, 12, 2, Native>(&s, &mut free, 8000, (y_free * 8000.0).round() as i16);
        near(
            "T6 closed",
            k,
            u.into(),
            8000.0 + row.terms[4] * 8000.0,
            8.0,
        );
        y_free = 0.9 * y_free + 0.1 * (f64::from(u) - 8000.0) / 8000.0;
    }
}

/// T8, 16/32: in manual the integrator closes a fifth of its gap a sample. 32000 LSB a unit of output.
#[test]
fn t8_manual_tracking() {
    let s = Settings::<i16, 8>::new(
        Mantissas {
            kp: 0,
            ki: 0,
            kd: 0,
        },
        0,
        32_767,
        Action::Direct,
    )
    .unwrap();
    let mut state = PiState::with(Integrator::exactly(&s, 0));
    for (k, row) in trace("T8_manual_tracking").iter().enumerate() {
        near(
            "T8 I",
            k,
            state.integrator().rounded().into(),
            row.terms[1] * 32_000.0,
            1.5,
        );
        let u = windup::tracking::<_, 8, Native>(&s, &mut state, 0, 0, 13_107, |_| 12_800);
        near("T8 u", k, u.into(), row.terms[4] * 32_000.0, 0.0);
    }
    // Or at once: the switch to automatic sets I = u - P - D.
    transfer::to_automatic::<_, 8, Native>(&s, &mut state, 12_800, Signals::of(s.action(), 0, 0));
    assert_eq!(state.integrator().rounded(), 12_800);
}

/// T9, 16/32, SP 8: kp from 2 to 3 leaves the output where it was. 1000 counts and 1000 LSB a unit, offset 16000 LSB;
/// the weight's part, `(1 - b) kp r` = 10 and then 15, is in the integrator.
#[test]
fn t9_gain_change() {
    let with = |kp| {
        Settings::<i16, 8>::new(Mantissas { kp, ki: 0, kd: 0 }, 0, 32_767, Action::Reverse).unwrap()
    };
    let (two, three) = (with(512), with(768));
    let (before, after) = (
        &trace("T9_gain_change_before")[0],
        &trace("T9_gain_change_after")[0],
    );
    let (r, y) = ((before.r * 1000.0) as i16, (before.y * 1000.0) as i16);
    let mut state = PiState::with(Integrator::exactly(&two, 16_000 + 8000 - 10_000));
    let u = pi::terms::<_, 8, Native>(&two, &state, r, y).demand;
    near(
        "T9 u",
        0,
        u.into(),
        16_000.0 + before.terms[4] * 1000.0,
        0.0,
    );
    let seen = Signals::of(Action::Reverse, r, y);
    transfer::to_gains::<_, 8, Native>(&two, &three, &mut state, seen);
    let u = pi::terms::<_, 8, Native>(&three, &state, r, y).demand;
    near("T9 u", 1, u.into(), 16_000.0 + after.terms[4] * 1000.0, 0.0);
    near(
        "T9 I",
        1,
        state.integrator().rounded().into(),
        16_000.0 + after.terms[1] * 1000.0 - 15_000.0,
        0.0,
    );
}
