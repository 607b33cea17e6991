//! Counts what every subject costs, measures its stack, and prints checksums that the host repeats. One line each:
//!
//! - `overhead counter calls sum worst -`: what reading the counter costs, in every other figure too
//! - `time SUBJECT calls sum worst checksum`: counter steps over the series, and a checksum of the results
//! - `stack SUBJECT bytes`: by painting, return address included
//! - `trace SUBJECT checksum`: of a full-range random run
//!
//! Numbers are hexadecimal. The last line is `end`.
#![no_std]
#![no_main]

#[cfg(with_c)]
mod c;
mod float;
mod measure;
#[cfg(target_arch = "msp430")]
mod msp430_float;
mod operators;
mod report;
mod station;

use controller_core::law::{PiState, PidState};
use controller_core::setpoint::SetPoint;
use core::hint::black_box;
use exercise::{cases, floor, input, laws, tables};
use report::{line, text};
use sensor_math::table::Lookup;
use target_support::Multiply16;

#[panic_handler]
fn panic(_: &core::panic::PanicInfo) -> ! {
    text("PANIC\n");
    board::finish()
}

/// A subject, as a symbol of the same name with `/` and `-` as `_`: the runner finds its code by that name.
macro_rules! subject {
    ($($name:ident = $path:path: ($gains:ty, $state:ty);)*) => {$(
        #[unsafe(no_mangle)]
        #[inline(never)]
        fn $name(gains: &$gains, state: &mut $state, set_point: SetPoint<i16>, measurement: i16) -> i16 {
            $path(gains, state, set_point, measurement)
        }
    )*};
}

subject! {
    law_pi = laws::pi_step::<Multiply16>: (laws::Gains, PiState<i16>);
    law_pid = laws::pid_step::<Multiply16>: (laws::Gains, PidState<i16, { laws::K }>);
    law_pi_one = laws::pi_one_step::<Multiply16>: (laws::Gains, PiState<i16>);
    law_pid_series = laws::pid_series_step::<Multiply16>: (laws::Gains, PidState<i16, { laws::K }>);
}

/// The same with gains and limits known when it is compiled, as in an application whose settings never change.
macro_rules! constant {
    ($($name:ident = $path:path: $state:ty;)*) => {$(
        #[unsafe(no_mangle)]
        #[inline(never)]
        fn $name(_: &(), state: &mut $state, set_point: SetPoint<i16>, measurement: i16) -> i16 {
            const GAINS: laws::Gains = laws::DEMO;
            $path(&GAINS, state, set_point, measurement)
        }
    )*};
}
constant! {
    law_pi_constant = laws::pi_step::<Multiply16>: PiState<i16>;
    law_pid_constant = laws::pid_step::<Multiply16>: PidState<i16, { laws::K }>;
}

macro_rules! floors {
    ($($name:ident = $path:path;)*) => {$(
        #[unsafe(no_mangle)]
        #[inline(never)]
        fn $name(gains: &floor::Gains, state: &mut floor::State, set_point: i16, measurement: i16) -> i16 {
            $path(Multiply16::product, gains, state, set_point, measurement)
        }
    )*};
}
floors! {
    floor_pi = floor::pi;
    floor_pi_one = floor::one_product;
    floor_pid = floor::pid;
}

#[inline(never)]
fn integer_laws() {
    let gains = black_box(floor::Gains {
        kp: 1300,
        ki: 655,
        kd: 5000,
    });
    let mut state = floor::State {
        integral: 12000 << 15,
        filter: 60 << 23,
    };
    measure::law("floor/pi", floor_pi, &gains, &mut state);
    measure::law("floor/pi-one", floor_pi_one, &gains, &mut state);
    measure::law("floor/pid", floor_pid, &gains, &mut state);

    let gains = black_box(laws::DEMO);
    measure::law("law/pi", law_pi, &gains, &mut PiState::start(&gains));
    measure::law(
        "law/pid",
        law_pid,
        &gains,
        &mut PidState::<_, { laws::K }>::start(&gains, input::SET_POINT),
    );
}

target_support::flash_table!(UniformKnots: [i16; tables::UNIFORM_LENGTH] = tables::UNIFORM_KNOTS);
target_support::flash_table!(ZonesKnots: [i16; tables::ZONES_LENGTH] = tables::ZONES_KNOTS);

target_support::flash_table!(PackedBytes: [u8; 15] = cases::PACKED_BYTES);

macro_rules! lookups {
    ($($name:ident = $table:expr;)*) => {$(
        #[unsafe(no_mangle)]
        #[inline(never)]
        fn $name(code: u16) -> i16 {
            $table.lookup(code)
        }
    )*};
}
lookups! {
    lookup_uniform = tables::uniform::<_, Multiply16>(UniformKnots);
    lookup_packed = cases::packed::<_, Multiply16>(PackedBytes);
    lookup_zones = tables::zones::<_, Multiply16>(ZonesKnots);
}

#[inline(never)]
fn lookups() {
    let same = |counts: i16| counts;
    measure::function(
        "lookup/uniform",
        lookup_uniform,
        same,
        tables::FIRST..tables::LAST + 1,
    );
    measure::function(
        "lookup/zones",
        lookup_zones,
        same,
        tables::FIRST..tables::LAST + 1,
    );
    measure::function(
        "lookup/packed",
        lookup_packed,
        same,
        cases::PACKED_FIRST..cases::PACKED_END,
    );
    #[cfg(with_c)]
    {
        measure::function(
            "c99/uniform",
            c::c99_uniform,
            same,
            tables::FIRST..tables::LAST + 1,
        );
        measure::function(
            "c99/zones",
            c::c99_zones,
            same,
            tables::FIRST..tables::LAST + 1,
        );
        measure::function(
            "c99/packed",
            c::c99_packed,
            same,
            cases::PACKED_FIRST..cases::PACKED_END,
        );
        measure::law("c99/pi", c::c99_pi, &(), &mut c::PiState::default());
        measure::law("c99/pid", c::c99_pid, &(), &mut c::PidState::default());
    }
}

#[inline(never)]
fn constant_laws() {
    let gains = black_box(laws::DEMO);
    measure::law(
        "law/pi-one",
        law_pi_one,
        &gains,
        &mut PiState::start(&gains),
    );
    let mut state = PidState::<_, { laws::K }>::start(&gains, input::SET_POINT);
    measure::law("law/pid-series", law_pid_series, &gains, &mut state);
    measure::law(
        "law/pi-constant",
        law_pi_constant,
        &(),
        &mut PiState::start(&laws::DEMO),
    );
    let mut state = PidState::<_, { laws::K }>::start(&laws::DEMO, input::SET_POINT);
    measure::law("law/pid-constant", law_pid_constant, &(), &mut state);
}

#[inline(never)]
fn whole() {
    let mut station = station::start();
    measure::law("station/step", station::station_step, &(), &mut station);
    measure::law("station/tick", station::station_tick, &(), &mut station);
    measure::law(
        "station/set-point",
        station::station_set_point,
        &(),
        &mut station,
    );
    let same = |word: i16| word;
    measure::function(
        "station/read",
        station::station_read,
        same,
        0..tables::CODES,
    );
    let mut drive = station::drive();
    measure::law("drive/demand", station::drive_demand, &(), &mut drive);
    measure::law("drive/tick", station::drive_tick, &(), &mut drive);
}

#[inline(never)]
fn baselines() {
    let gains = black_box(float::DEMO);
    let mut state = black_box(float::START);
    measure::law("float-rust/pi", float::float_rust_pi, &gains, &mut state);
    measure::law("float-rust/pid", float::float_rust_pid, &gains, &mut state);
    measure::function(
        "float-rust/temperature",
        float::float_rust_temperature,
        float::counts,
        1..1023,
    );
    #[cfg(with_c)]
    {
        let mut state = black_box(float::START);
        measure::law("float-c/pi", c::subject_c_pi, &gains, &mut state);
        measure::law("float-c/pid", c::subject_c_pid, &gains, &mut state);
        measure::function(
            "float-c/temperature",
            c::subject_c_temperature,
            float::counts,
            1..1023,
        );
    }
    let gains = black_box(operators::DEMO);
    let mut state = black_box(operators::START);
    measure::law("fixed/pi", operators::fixed_pi, &gains, &mut state);
    measure::law("fixed/pid", operators::fixed_pid, &gains, &mut state);
}

#[inline(never)]
fn traces() {
    line(
        "trace",
        "law/pi-one",
        &[laws::random_pi(laws::SEED, law_pi_one, |_| {}).0],
    );
    line(
        "trace",
        "law/pid-series",
        &[laws::random_pid(laws::SEED, law_pid_series, |_| {}).0],
    );
    line(
        "trace",
        "law/pi",
        &[laws::random_pi(laws::SEED, law_pi, |_| {}).0],
    );
    line(
        "trace",
        "law/pid",
        &[laws::random_pid(laws::SEED, law_pid, |_| {}).0],
    );
    line(
        "trace",
        "lookup/uniform",
        &[tables::every_code(lookup_uniform).0],
    );
    line(
        "trace",
        "lookup/zones",
        &[tables::every_code(lookup_zones).0],
    );
    line(
        "trace",
        "lookup/packed",
        &[cases::every_word(lookup_packed).0],
    );
    line(
        "trace",
        "case/cool-pi",
        &[cases::cool_pi::<Multiply16>(cases::STEPS).0],
    );
    line(
        "trace",
        "case/cool-pid",
        &[cases::cool_pid::<Multiply16>(cases::STEPS).0],
    );
    line(
        "trace",
        "case/heat-pid",
        &[cases::heat_pid::<Multiply16>(cases::STEPS).0],
    );
    #[cfg(with_c)]
    {
        let runs = c::random_runs(cases::STEPS);
        line("trace", "c99/cool-pi", &[runs[0].0]);
        line("trace", "c99/cool-pid", &[runs[1].0]);
        line("trace", "c99/heat-pid", &[runs[2].0]);
        line(
            "trace",
            "c99/uniform",
            &[cases::every_word(c::c99_uniform).0],
        );
        line("trace", "c99/zones", &[cases::every_word(c::c99_zones).0]);
        line("trace", "c99/packed", &[cases::every_word(c::c99_packed).0]);
    }
}

#[unsafe(no_mangle)]
extern "C" fn application() -> ! {
    board::initialise();
    measure::overhead();
    integer_laws();
    constant_laws();
    lookups();
    whole();
    baselines();
    traces();
    text("end\n");
    board::finish()
}
