//! The law on this machine: one update, at both widths and with both kinds of comparison. What counts on a target
//! is in `targets.csv`; these figures only show a regression.

use controller_core::gain::Mantissas;
use controller_core::law::{
    Action, Integrating, Integrator, PiState, PidState, Settings, one_product, pi, pid,
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
    let mut state = PidState::start::<8, 3>(&s, 5120);
    c.bench_function("pid 16/32", |b| {
        b.iter(|| pid::step::<_, 8, 3, Native>(black_box(&s), &mut state, 5120, wander(&mut k)));
    });
    let wide = Mantissas {
        kp: 332_800,
        ki: 42_949_673,
        kd: 1_280_000,
    };
    let s = Settings::<i32, 16>::constant(wide, 0, i32::MAX, Action::Direct);
    let mut state = PidState::start::<16, 3>(&s, 5120 << 16);
    c.bench_function("pid 32/64", |b| {
        b.iter(|| {
            let measurement = i32::from(wander(&mut k)) << 16;
            pid::step::<_, 16, 3, Native>(black_box(&s), &mut state, 5120 << 16, measurement)
        });
    });
}

criterion_group!(benches, laws);
criterion_main!(benches);
