//! The closed loop: the plant on the host, and as controller once the shipped station on the host and once the real
//! firmware image in a simulator. Every code, demand, alarm and output of the two runs must be the same.

use crate::report::Report;
use crate::target::Target;
use crate::tree::Tree;
use crate::{cargo, link::Link};
use controller_core::setpoint::Weight;
use controller_core::station::Watchdog;
use fixed::FixedI16;
use host_harness::design::{self, Design};
use host_harness::plant::converter::Converter;
use host_harness::plant::{Plant, Surroundings};
use host_harness::reference::sensor::Truth;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

#[path = "../../application/src/firmware.rs"]
#[allow(dead_code, reason = "written by `hushloop build`; not all of it is used here")]
#[rustfmt::skip]
mod firmware;

/// Samples of a run: half an hour of the studio rack at its period, with every event of the first half hour.
const SAMPLES: usize = 3600;
/// The design that the application's `firmware.rs` was made from.
const DESIGN: &str = "host-harness/designs/studio-rack.toml";

/// What the application tells about a sample: the layout of its `pins.rs`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Record {
    demand: i16,
    alarms: u8,
    alive: u8,
    outputs: u32,
    checksum: u16,
    stack: u16,
}

impl Record {
    fn from_bytes(b: [u8; 12]) -> Self {
        Self {
            demand: i16::from_le_bytes([b[0], b[1]]),
            alarms: b[2],
            alive: b[3],
            outputs: u32::from_le_bytes([b[4], b[5], b[6], b[7]]),
            checksum: u16::from_le_bytes([b[8], b[9]]),
            stack: u16::from_le_bytes([b[10], b[11]]),
        }
    }
}

/// Whatever closes the loop.
trait Controller {
    fn sample(&mut self, code: u16, set_point: i16, pulses: u16) -> Result<Record, String>;
}

/// The shipped station on the host, with the compiler's own multiply.
struct OnHost {
    station: controller_core::station::Station<
        'static,
        firmware::Law,
        firmware::Drive,
        firmware::Fraction,
        { firmware::GAIN_FRACTION_BITS },
    >,
}

struct Fed(bool);
impl Watchdog for Fed {
    fn feed(&mut self, _alive: controller_core::station::Liveness) {
        self.0 = true;
    }
}

impl Controller for OnHost {
    fn sample(&mut self, code: u16, set_point: i16, pulses: u16) -> Result<Record, String> {
        let station = &mut self.station;
        let wanted = FixedI16::from_bits(set_point);
        if wanted != station.set_point() {
            let _ = station.change_set_point(wanted, Weight::bumpless());
        }
        station.pulses(0, pulses);
        let mut fed = Fed(false);
        if let Some(alive) =
            station.step(firmware::THERMOMETER.read(code), firmware::TICKS_PER_SAMPLE)
        {
            fed.feed(alive);
        }
        let (mut outputs, mut checksum) = (0_u32, 0_u16);
        for _ in 0..firmware::TICKS_PER_SAMPLE {
            let [compare] = station.output_tick();
            outputs += u32::from(compare);
            checksum = checksum.rotate_left(3).wrapping_add(compare);
        }
        let (demand, alarms) = (station.demand().bits(), station.alarms().bits());
        Ok(Record {
            demand,
            alarms,
            alive: u8::from(fed.0),
            outputs,
            checksum,
            stack: 0,
        })
    }
}

/// The real image in a simulator.
struct OnChip {
    link: Link,
}

impl OnChip {
    fn start(target: Target, image: &Path, bridge: &Path) -> Result<Self, String> {
        let mut link = Link::start(target, image, bridge)?;
        // The record before the first sample is empty.
        let _: [u8; 12] = link.receive()?;
        Ok(Self { link })
    }
}

impl Controller for OnChip {
    fn sample(&mut self, code: u16, set_point: i16, pulses: u16) -> Result<Record, String> {
        let ([a, b], [c, d], [e, f]) = (
            code.to_le_bytes(),
            set_point.to_le_bytes(),
            pulses.to_le_bytes(),
        );
        self.link.give(&[a, b, c, d, e, f])?;
        Ok(Record::from_bytes(self.link.receive()?))
    }
}

/// One sample of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Sample {
    code: u16,
    record: Record,
}

/// Codes that stand for a broken wire for some samples, so that fault, safe state and recovery are part of every run.
fn broken(index: usize) -> bool {
    (2000..2040).contains(&index)
}

fn run(
    design: &Design,
    controller: &mut dyn Controller,
    samples: usize,
) -> Result<Vec<Sample>, String> {
    let control = &design.control;
    let sensor = &design.sensing.sensor;
    let truth = Truth::new(sensor);
    let mut converter = Converter::new(
        sensor.adc.bits,
        design.sensing.facts.noise_lsb,
        control.scenario.seed,
    );
    let mut plant: Plant = control.plant.plant.clone();
    let mut around = Surroundings {
        load_w: control.plant.load_w,
        ambient_celsius: control.plant.ambient_celsius,
    };
    let counts = f64::from(1_u32 << design.sensing.table.fraction_bits);
    let mut set_point = control.set_point_celsius;
    let mut events = control.scenario.events.iter().peekable();
    let full = f64::from(firmware::DRIVE.timer.top()) * f64::from(firmware::TICKS_PER_SAMPLE);
    let mut trace = Vec::with_capacity(samples);
    for index in 0..samples {
        while let Some(event) =
            events.next_if(|event| event.at_s <= index as f64 * control.period_s)
        {
            around.load_w = event.load_w.unwrap_or(around.load_w);
            around.ambient_celsius = event.ambient_celsius.unwrap_or(around.ambient_celsius);
            set_point = event.set_point_celsius.unwrap_or(set_point);
        }
        let mut code = converter.convert(truth.position(plant.sensor_celsius()));
        if broken(index) {
            code = 0;
        }
        let record = controller.sample(code, (set_point * counts).round() as i16, 0)?;
        plant.advance(control.period_s, f64::from(record.outputs) / full, around);
        trace.push(Sample { code, record });
    }
    Ok(trace)
}

fn build_bridge(tree: &Tree) -> Result<PathBuf, String> {
    let bridge = tree.output().join("avr_bridge");
    let output = Command::new("gcc")
        .args([
            "-O2",
            "-Wall",
            "-Wextra",
            "-Werror",
            "-isystem/usr/include/simavr",
        ])
        .arg(tree.firmware.join("runner/avr_bridge.c"))
        .arg("-o")
        .arg(&bridge)
        .arg("-lsimavr")
        .output()
        .map_err(|error| format!("gcc: {error}"))?;
    if output.status.success() {
        Ok(bridge)
    } else {
        Err(String::from_utf8_lossy(&output.stderr).into_owned())
    }
}

/// Deepest stack of the application over a run, by painting: the same image with the feature `painted`.
pub fn painted_stacks(tree: &Tree, targets: &[Target]) -> Vec<Result<u32, String>> {
    let mut command = cargo::command(tree, "release", targets);
    let built = command
        .args(["-p", "application", "--features", "painted", "--keep-going"])
        .output();
    let built = match built {
        Ok(output) if output.status.success() => Ok(()),
        Ok(output) => Err(String::from_utf8_lossy(&output.stderr)
            .lines()
            .take(5)
            .collect::<Vec<_>>()
            .join(" | ")),
        Err(error) => Err(error.to_string()),
    };
    let design = design::load(&tree.root.join(DESIGN)).map_err(|error| error.to_string());
    let bridge = build_bridge(tree);
    targets
        .iter()
        .map(|target| {
            built.clone()?;
            let bridge = if *target == Target::Avr {
                bridge.clone()?
            } else {
                PathBuf::new()
            };
            let image = cargo::image(tree, *target, "release", "application");
            let trace = run(
                design.as_ref()?,
                &mut OnChip::start(*target, &image, &bridge)?,
                SAMPLES,
            )?;
            Ok(trace
                .iter()
                .map(|sample| u32::from(sample.record.stack))
                .max()
                .unwrap_or(0))
        })
        .collect()
}

/// Closes the loop around every target.
pub fn check(tree: &Tree, targets: &[Target], report: &mut Report) {
    let design = match design::load(&tree.root.join(DESIGN)) {
        Ok(design) => design,
        Err(error) => return report.fail(&format!("{DESIGN}: {error}")),
    };
    let bridge = build_bridge(tree);
    let station = controller_core::station::Station::new(&firmware::STATION);
    let host = match run(&design, &mut OnHost { station }, SAMPLES) {
        Ok(trace) => trace,
        Err(reason) => return report.fail(&format!("on the host: {reason}")),
    };
    // A run in which nothing happens would agree with anything.
    let demands: std::collections::BTreeSet<i16> =
        host.iter().map(|sample| sample.record.demand).collect();
    let alarms = host
        .iter()
        .filter(|sample| sample.record.alarms != 0)
        .count();
    report.check(
        "the run exercises the loop",
        if demands.len() > 100 && alarms > 10 && alarms < SAMPLES / 2 {
            Ok(format!(
                "{} demands, {alarms} samples with an alarm, of {SAMPLES}",
                demands.len()
            ))
        } else {
            Err(format!(
                "{} demands, {alarms} samples with an alarm, of {SAMPLES}",
                demands.len()
            ))
        },
    );
    for target in targets {
        let image = cargo::image(tree, *target, "release", "application");
        let start = Instant::now();
        let bridge = if *target == Target::Avr {
            bridge.clone()
        } else {
            Ok(PathBuf::new())
        };
        let result = bridge.and_then(|bridge| {
            let mut chip = OnChip::start(*target, &image, &bridge)?;
            run(&design, &mut chip, SAMPLES)
        });
        let seconds = start.elapsed().as_secs_f64();
        let result = result.and_then(|trace| {
            match host
                .iter()
                .zip(&trace)
                .position(|(host, chip)| host != chip)
            {
                None => Ok(format!(
                    "{SAMPLES} samples the same; {:.0} a second, {:.0} times real time at 4 Hz",
                    SAMPLES as f64 / seconds,
                    SAMPLES as f64 / seconds / 4.0
                )),
                Some(at) => Err(format!(
                    "sample {at}: host {:?}, chip {:?}",
                    host[at], trace[at]
                )),
            }
        });
        report.check(
            &format!("{} around the studio rack", target.triple()),
            result,
        );
    }
}
