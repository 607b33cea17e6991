//! The law on this machine: one update, at both widths and with both kinds of comparison. What counts on a target
//! is in `targets.csv`; these figures only show a regression.

use controller_core::gain::Mantissas;
use controller_core::law::every::{self, Every};
use controller_core::law::pid_smooth::{self, SmoothState};
use controller_core::law::two_position::{TwoPosition, TwoPositionState};
use controller_core::law::{
    Action, Integrating, Integrator, PiState, PidState, Settings, one_product, pi, pid, select,
    shaping, windup,
};
use controller_core::word::{Multiply, Narrow, Native};
use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;

/// Compares upper halves, as 8- and 16-bit machines do.
struct Halves;
impl<N: Narrow> Multiply<N> for Halves {
    const WHOLE: bool = false;
}

const GAINS: Mantissas<i16> = Mantissas {
    kp: 1300,
    ki: 655,
    kd: 5000,
};

/// A measurement that wanders round 40 degC.
fn wander(k: &mut u32) -> i16 {
    *k = k.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
    5120 + (*k >> 23) as i16 - 256
}

fn laws(c: &mut Criterion) {
    let s = Settings::<i16, 8>::constant(GAINS, 6554, 32_767, Action::Direct);
    let start = PiState::with(Integrator::exactly(&s, 20_000));
    // A bench of a wrong result is worth nothing.
    let mut first = start;
    assert_eq!(pi::step::<_, 8, Native>(&s, &mut first, 5120, 5248), 20_650);
    assert_eq!(
        first.integrator().word(),
        (20_000 << 16) + 32_768 + 655 * 128
    );

    let (mut k, mut state) = (1, start);
    c.bench_function("pi 16/32", |b| {
        b.iter(|| pi::step::<_, 8, Native>(black_box(&s), &mut state, 5120, wander(&mut k)));
    });
    let mut state = start;
    c.bench_function("pi 16/32 upper halves", |b| {
        b.iter(|| pi::step::<_, 8, Halves>(black_box(&s), &mut state, 5120, wander(&mut k)));
    });
    let mut state = start;
    c.bench_function("pi 16/32 one product", |b| {
        b.iter(|| {
            one_product::pi_step::<_, 8, Native>(black_box(&s), &mut state, 5120, wander(&mut k))
        });
    });
    let mut state = PidState::<_, 3>::start(&s, 5120);
    c.bench_function("pid 16/32", |b| {
        b.iter(|| pid::step::<_, 8, 3, Native>(black_box(&s), &mut state, 5120, wander(&mut k)));
    });
    let wide = Mantissas {
        kp: 332_800,
        ki: 42_949_673,
        kd: 1_280_000,
    };
    let s = Settings::<i32, 16>::constant(wide, 0, i32::MAX, Action::Direct);
    let mut state = PidState::<_, 3>::start(&s, 5120 << 16);
    c.bench_function("pid 32/64", |b| {
        b.iter(|| {
            let measurement = i32::from(wander(&mut k)) << 16;
            pid::step::<_, 16, 3, Native>(black_box(&s), &mut state, 5120 << 16, measurement)
        });
    });
}

/// The other forms, beside the static PI of the same run; while nothing saturates they are that law.
fn forms(c: &mut Criterion) {
    let s = Settings::<i16, 8>::constant(GAINS, 6554, 32_767, Action::Direct);
    let start = PiState::with(Integrator::exactly(&s, 20_000));
    let mut state = start;
    let demand = pi::step::<_, 8, Native>(&s, &mut state, 5120, 5248);
    let moved = state;

    let mut state = start;
    assert_eq!(
        windup::conditional::<_, 8, Native>(&s, &mut state, 5120, 5248),
        demand
    );
    assert_eq!(state, moved);
    let (mut k, mut state) = (1, start);
    c.bench_function("pi 16/32, conditional integration", |b| {
        b.iter(|| {
            windup::conditional::<_, 8, Native>(black_box(&s), &mut state, 5120, wander(&mut k))
        });
    });

    let mut state = start;
    let tracked = windup::tracking::<_, 8, Native>(&s, &mut state, 5120, 5248, 6554, |u| u);
    assert_eq!((tracked, state), (demand, moved));
    let mut state = start;
    c.bench_function("pi 16/32, tracking", |b| {
        b.iter(|| {
            let measurement = wander(&mut k);
            windup::tracking::<_, 8, Native>(
                black_box(&s),
                &mut state,
                5120,
                measurement,
                6554,
                |u| u,
            )
        });
    });

    let (mut state, mut every) = (start, Every::new(8));
    let spaced = every::step::<_, 8, Native>(&s, &mut state, &mut every, 5120, 5248);
    assert_eq!((spaced, state), (demand, moved));
    c.bench_function("pi 16/32, integrated at every 8th sample", |b| {
        b.iter(|| {
            every::step::<_, 8, Native>(black_box(&s), &mut state, &mut every, 5120, wander(&mut k))
        });
    });

    let mut state = SmoothState::with(start.integrator(), 5248);
    // the filter already stands at the measurement, so D is nothing
    assert_eq!(
        pid_smooth::step::<_, 8, Native>(&s, &mut state, 9362, 5120, 5248),
        demand
    );
    c.bench_function("pid 16/32, filter of any time constant", |b| {
        b.iter(|| {
            pid_smooth::step::<_, 8, Native>(black_box(&s), &mut state, 9362, 5120, wander(&mut k))
        });
    });
}

/// What stands around a law.
fn around(c: &mut Criterion) {
    let mut k = 1;
    assert_eq!(shaping::slew(1000_i16, 2000, 10, 20), 1020);
    let mut duty = 1000_i16;
    c.bench_function("slew limit", |b| {
        b.iter(|| {
            duty = shaping::slew(duty, wander(&mut k), 10, 20);
            duty
        });
    });
    assert_eq!(shaping::backlash(1000_i16, 1300, 200), 1100);
    let mut duty = 1000_i16;
    c.bench_function("backlash", |b| {
        b.iter(|| {
            duty = shaping::backlash(duty, wander(&mut k), 200);
            duty
        });
    });
    assert_eq!(select::highest(&[3_i16, 9, 4]), Some((1, 9)));
    c.bench_function("highest of three demands", |b| {
        b.iter(|| select::highest(black_box(&[wander(&mut k), wander(&mut k), wander(&mut k)])));
    });
    let position = TwoPosition::new(64_i16, 10, 10, Action::Direct).expect("a band");
    let mut on = TwoPositionState::start();
    assert!(position.step(&mut on, 5120, 5185));
    c.bench_function("two-position", |b| {
        b.iter(|| position.step(&mut on, 5120, wander(&mut k)));
    });
}

criterion_group!(benches, laws, forms, around);
criterion_main!(benches);
