//! What the program's work costs on this machine: a simulated day, the table generator, the verifier. Results are
//! checked first.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use host_harness::design::{self, Design, Encoding};
use host_harness::simulate::long;
use host_harness::tablegen::{self, Request};
use host_harness::verify::{overflow, sampling, threshold};
use host_harness::{build, faults};
use std::hint::black_box;
use std::path::Path;
use std::time::Duration;

fn path(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../host-harness/designs")
        .join(name)
}

fn rack() -> Design {
    design::load(&path("studio-rack.toml")).unwrap_or_else(|error| panic!("{error}"))
}

/// Throughput in elements a second is simulated seconds a second, both loops side by side.
fn simulation(c: &mut Criterion) {
    let design = rack();
    let table = build::table(&design.sensing).expect("a table");
    let read = |code: u16| build::read(&table, code);
    let day = long::run(&design, &read, 1.0, &|_, _| {});
    assert!(day.law_error_lsb_max <= 0.5 && day.peak_celsius < 42.0);
    let mut group = c.benchmark_group("program");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(2));
    group.throughput(Throughput::Elements(86_400));
    group.bench_function("a simulated day of the rack, integers and real", |b| {
        b.iter(|| long::run(black_box(&design), &read, 1.0, &|_, _| {}));
    });
    group.throughput(Throughput::Elements(60));
    let cases = |cases| {
        let plan = host_harness::plan::Plan::new(&design);
        faults::run_campaign_with(&design, plan, &read, cases, &|_| {})
    };
    assert_eq!(cases(60).violations, 0);
    group.bench_function("cases of a fault campaign", |b| b.iter(|| cases(60)));
    group.finish();
}

fn generator(c: &mut Criterion) {
    let mut group = c.benchmark_group("generator");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(2));
    let sensing =
        design::load_sensing(&path("tables/beta-m10-100.toml")).unwrap_or_else(|e| panic!("{e}"));
    // at most so many bytes for this sensor, range and error, headers included
    for (name, encoding, most) in [
        ("uniform", Encoding::Uniform, 100),
        ("zones", Encoding::Zones, 50),
        ("packed", Encoding::Packed, 31),
    ] {
        let mut request = Request::of(sensing.sensor, &sensing.table);
        request.encoding = encoding;
        let table = tablegen::generate(&request).expect("a table");
        assert!(
            table.layout.bytes() <= most,
            "{name}: {} bytes",
            table.layout.bytes()
        );
        group.bench_function(name, |b| {
            b.iter(|| tablegen::generate(black_box(&request)));
        });
    }
    group.finish();
}

fn verifier(c: &mut Criterion) {
    let design = rack();
    let integers = &design.control.integers;
    let mut group = c.benchmark_group("verifier");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(2));
    assert!(!overflow::overflow_possible(integers));
    group.bench_function("every operation on intervals", |b| {
        b.iter(|| overflow::intervals(black_box(integers)));
    });
    assert!(threshold::enumerate_some(integers, 4096).is_some());
    group.bench_function("thresholds of every 4096th error", |b| {
        b.iter(|| threshold::enumerate_some(black_box(integers), 4096));
    });
    let tally = sampling::sample(integers, 100_000, &|_| {}).expect("a scale that is compiled");
    assert_eq!(tally.outside + tally.inexact + tally.disordered, 0);
    group.throughput(Throughput::Elements(tally.cases));
    group.bench_function("random cases", |b| {
        b.iter(|| sampling::sample(black_box(integers), 100_000, &|_| {}));
    });
    group.finish();
}

criterion_group!(program, simulation, generator, verifier);
criterion_main!(program);
