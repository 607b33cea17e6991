//! What each guard costs a sample on this machine; every guard is seen to do its work first.
//!
//! Figures of the targets, which are what counts, are in `targets.csv` beside this package.

use controller_core::duty::Duty;
use controller_core::guard::effect::{EffectConfig, EffectGuard};
use controller_core::guard::hunting::{HuntingConfig, HuntingGuard};
use controller_core::guard::rate::{RateConfig, RateGuard};
use controller_core::guard::sensor::{SensorConfig, SensorGuard, SensorVerdict};
use controller_core::guard::stale::{StaleConfig, StaleGuard};
use controller_core::guard::stuck::{StuckConfig, StuckGuard};
use controller_core::guard::trip::{TripConfig, TripGuard};
use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;

/// A reading that wanders round 40 degC.
fn wander(k: &mut u32) -> i16 {
    *k = k.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
    5120 + (*k >> 23) as i16 - 256
}

fn reading(c: &mut Criterion) {
    let mut k = 1;
    let config = SensorConfig::constant(3, 4);
    let mut guard = SensorGuard::new();
    assert_eq!(guard.sample(&config, false), SensorVerdict::Hold);
    c.bench_function("guard: sensor", |b| {
        b.iter(|| guard.sample(black_box(&config), wander(&mut k) > 4900));
    });
    let config = StaleConfig::constant(50);
    let mut guard = StaleGuard::new();
    assert!(guard.sample(&config, 51) && !guard.sample(&config, 50));
    c.bench_function("guard: stale, a tick", |b| {
        b.iter(|| guard.tick(black_box(&config)));
    });
    let config = StuckConfig::constant(100, Duty::fraction(0.1));
    let mut guard = StuckGuard::new();
    assert!(!guard.stuck(&config, 5120, Duty::FULL));
    c.bench_function("guard: stuck", |b| {
        b.iter(|| guard.stuck(black_box(&config), wander(&mut k), Duty::FULL));
    });
    let config = RateConfig::constant(128);
    let mut guard = RateGuard::new();
    assert!(guard.plausible(&config, 5120) && !guard.plausible(&config, 5300));
    c.bench_function("guard: rate", |b| {
        b.iter(|| guard.plausible(black_box(&config), wander(&mut k)));
    });
}

fn plant(c: &mut Criterion) {
    let mut k = 1;
    let config = TripConfig::constant(5888, 256, 2);
    let mut guard = TripGuard::new();
    assert!(!guard.tripped(&config, 6000) && guard.tripped(&config, 6000));
    c.bench_function("guard: trip", |b| {
        b.iter(|| guard.tripped(black_box(&config), wander(&mut k)));
    });
    let config = HuntingConfig::constant(1_000, 1_000, 3);
    let mut guard = HuntingGuard::new();
    // a wave of 40 samples and 100 counts: each half well above the limit, three decide
    let hunts = (0..400).any(|n| guard.hunting(&config, if n / 20 % 2 == 0 { 100 } else { -100 }));
    assert!(hunts);
    c.bench_function("guard: hunting", |b| {
        b.iter(|| guard.hunting(black_box(&config), wander(&mut k) - 5120));
    });
    let config = EffectConfig::constant(Duty::fraction(0.9), 10, 64, 128);
    let mut guard = EffectGuard::new();
    let without = (0..20).any(|_| guard.without_effect(&config, 500, Duty::FULL));
    assert!(without);
    c.bench_function("guard: effect", |b| {
        b.iter(|| guard.without_effect(black_box(&config), wander(&mut k) - 4800, Duty::FULL));
    });
}

criterion_group!(guards, reading, plant);
criterion_main!(guards);
