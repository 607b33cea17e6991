//! The host repeats what the images computed, with the compiler's own multiply, and every checksum must be the same.

use crate::figures::Run;
use crate::report::Report;
use controller_core::law::{PiState, PidState};
use controller_core::setpoint::SetPoint;
use controller_core::word::Native;
use exercise::checksum::Checksum;
use exercise::input::{self, Random};
use exercise::{cases, laws, tables};
use sensor_math::table::{self, Lookup};
use std::collections::BTreeMap;

fn series<S>(mut state: S, step: impl Fn(&mut S, SetPoint<i16>, i16) -> i16) -> u32 {
    let mut random = Random(77);
    let mut checksum = Checksum::default();
    for index in 0..input::REGULATION {
        let measurement = input::regulation(&mut random, index);
        checksum.word(step(
            &mut state,
            SetPoint::nearest(input::SET_POINT),
            measurement,
        ));
    }
    checksum.0
}

/// What every image must have printed.
pub fn expected() -> BTreeMap<String, u32> {
    let gains = laws::DEMO;
    let mut expected = BTreeMap::new();
    let mut put = |name: &str, checksum: u32| expected.insert(name.to_owned(), checksum);
    put(
        "series law/pi",
        series(PiState::start(&gains), |state, set_point, measurement| {
            laws::pi_step::<Native>(&gains, state, set_point, measurement)
        }),
    );
    let start = PidState::<_, { laws::K }>::start(&gains, input::SET_POINT);
    put(
        "series law/pid",
        series(start, |state, set_point, measurement| {
            laws::pid_step::<Native>(&gains, state, set_point, measurement)
        }),
    );
    put(
        "trace law/pi",
        laws::random_pi(laws::SEED, laws::pi_step::<Native>, |_| {}).0,
    );
    put(
        "trace law/pid",
        laws::random_pid(laws::SEED, laws::pid_step::<Native>, |_| {}).0,
    );

    put(
        "trace law/pi-one",
        laws::random_pi(laws::SEED, laws::pi_one_step::<Native>, |_| {}).0,
    );
    put(
        "trace law/pid-series",
        laws::random_pid(laws::SEED, laws::pid_series_step::<Native>, |_| {}).0,
    );

    let uniform = tables::uniform::<_, table::Native>(tables::UNIFORM_KNOTS);
    let zones = tables::zones::<_, table::Native>(tables::ZONES_KNOTS);
    put("trace lookup/uniform", tables::every_code_of(&uniform).0);
    put("trace lookup/zones", tables::every_code_of(&zones).0);
    let range = |lookup: &dyn Fn(u16) -> i16| {
        let mut checksum = Checksum::default();
        (tables::FIRST..=tables::LAST).for_each(|code| checksum.word(lookup(code)));
        checksum.0
    };
    put("series lookup/uniform", range(&|code| uniform.lookup(code)));
    put("series lookup/zones", range(&|code| zones.lookup(code)));
    let walks = cases::every_word_of_each();
    put("trace lookup/packed", walks[2].0);
    for (name, run) in ["cool-pi", "cool-pid", "heat-pid"]
        .into_iter()
        .zip(cases::random_runs(cases::STEPS))
    {
        put(&format!("trace case/{name}"), run.0);
        put(&format!("trace c99/{name}"), run.0);
    }
    for (name, walk) in ["uniform", "zones", "packed"].into_iter().zip(walks) {
        put(&format!("trace c99/{name}"), walk.0);
    }
    expected
}

/// What the host repeats elsewhere (the closed loop does the station's part) must at least be the same on every target.
fn same_on_all(runs: &[Run], report: &mut Report) {
    let Some((first, others)) = runs.split_first() else {
        return;
    };
    let shared = |name: &&String| {
        ["series station/", "series drive/"]
            .iter()
            .any(|start| name.starts_with(start))
    };
    for name in first.checksums.keys().filter(shared) {
        for run in others {
            let result = if run.checksums.get(name) == first.checksums.get(name) {
                Ok(String::new())
            } else {
                Err(format!("differs from {}", first.target.triple()))
            };
            report.check(&format!("{} {name}", run.target.triple()), result);
        }
    }
}

/// Compares every run with the host.
pub fn compare(runs: &[Run], report: &mut Report) {
    same_on_all(runs, report);
    let expected = expected();
    for run in runs {
        for (name, value) in &expected {
            if name.contains("c99/") && !crate::c_compilers::is_packaged(run.target) {
                continue;
            }
            let what = format!("{} {name}", run.target.triple());
            let result = match run.checksums.get(name) {
                Some(got) if got == value => Ok(String::new()),
                Some(got) => Err(format!("checksum {got:08x}, the host has {value:08x}")),
                None => Err("the image did not print it".to_owned()),
            };
            report.check(&what, result);
        }
    }
}
