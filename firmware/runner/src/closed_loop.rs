//! The closed loop around every demo design: the plant on the host, and as controller once the shipped station on the host
//! and once the real firmware image in a simulator. Every code, demand, alarm and output of the two must be the same.

use crate::report::Report;
use crate::target::Target;
use crate::tree::Tree;
use crate::{cargo, link::Link};
use controller_core::station::Watchdog;
use host_harness::design::{self, Design};
use host_harness::simulate::held::Held;
use host_harness::simulate::scene::Scene;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

/// Samples of a run: half an hour of the studio rack, with every event of that time.
const SAMPLES: usize = 3600;

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

struct Fed(bool);
impl Watchdog for Fed {
    fn feed(&mut self, _alive: controller_core::station::Liveness) {
        self.0 = true;
    }
}

/// What a drive gives its pin, as the application's `pins.rs` has it.
trait Pin {
    fn compare(self) -> u16;
}
impl Pin for [u16; 1] {
    fn compare(self) -> u16 {
        self[0]
    }
}
impl Pin for bool {
    fn compare(self) -> u16 {
        u16::from(self)
    }
}

/// The shipped station of a design on the host, with the compiler's own multiply. `$top` is the pin's largest value.
macro_rules! case {
    ($module:ident, $file:literal, $top:expr) => {
        mod $module {
            use super::{Controller, Fed, Pin, Record};
            use controller_core::setpoint::Weight;
            use controller_core::station::{Station, Watchdog};
            use fixed::FixedI16;

            #[allow(
                dead_code,
                reason = "written by `hushloop build`; not all of it is used here"
            )]
            mod firmware {
                include!(concat!(env!("CARGO_MANIFEST_DIR"), $file));
            }
            struct OnHost(firmware::Station);

            pub(super) fn start() -> Box<dyn Controller> {
                Box::new(OnHost(firmware::station()))
            }

            pub(super) fn full() -> f64 {
                #[allow(unused_imports, reason = "only fans have a timer")]
                use firmware::*;
                f64::from($top) * f64::from(firmware::TICKS_PER_SAMPLE)
            }

            impl Controller for OnHost {
                fn sample(
                    &mut self,
                    code: u16,
                    set_point: i16,
                    pulses: u16,
                ) -> Result<Record, String> {
                    let station = &mut self.0;
                    let wanted = FixedI16::from_bits(set_point);
                    if wanted != station.set_point() {
                        let _ = station.change_set_point(wanted, Weight::bumpless());
                    }
                    station.pulses(0, pulses);
                    let mut fed = Fed(false);
                    let reading = firmware::THERMOMETER.read(code);
                    if let Some(alive) = station.step(reading, firmware::TICKS_PER_SAMPLE) {
                        fed.feed(alive);
                    }
                    let (mut outputs, mut checksum) = (0_u32, 0_u16);
                    for _ in 0..firmware::TICKS_PER_SAMPLE {
                        let compare = station.output_tick().compare();
                        outputs += u32::from(compare);
                        checksum = checksum.rotate_left(3).wrapping_add(compare);
                    }
                    Ok(Record {
                        demand: station.demand().bits(),
                        alarms: station.alarms().bits(),
                        alive: u8::from(fed.0),
                        outputs,
                        checksum,
                        stack: 0,
                    })
                }
            }
        }
    };
}
case!(seedling_tray, "/../application/designs/seedling-tray.rs", 1);
case!(brew_kettle, "/../application/designs/brew-kettle.rs", 1);
case!(
    studio_rack,
    "/../application/designs/studio-rack.rs",
    DRIVE.timer.top()
);

/// A design: its name, the pin's largest value times the ticks of a sample, its station on the host.
struct Case {
    name: &'static str,
    full: f64,
    start: fn() -> Box<dyn Controller>,
}

/// Every demo design; the one the application is shipped with last, so that its image is the one that stays.
fn cases() -> [Case; 3] {
    [
        Case {
            name: "seedling-tray",
            full: seedling_tray::full(),
            start: seedling_tray::start,
        },
        Case {
            name: "brew-kettle",
            full: brew_kettle::full(),
            start: brew_kettle::start,
        },
        Case {
            name: "studio-rack",
            full: studio_rack::full(),
            start: studio_rack::start,
        },
    ]
}

/// The names of the demo designs.
pub fn names() -> impl Iterator<Item = &'static str> {
    cases().into_iter().map(|case| case.name)
}

/// A demo design.
pub fn load(tree: &Tree, name: &str) -> Result<Design, String> {
    let path = tree
        .root
        .join("host-harness/designs")
        .join(name)
        .with_extension("toml");
    design::load(&path).map_err(|error| error.to_string())
}

/// Builds the application for a design.
fn build(tree: &Tree, targets: &[Target], design: &str, options: &[&str]) -> Result<(), String> {
    for target in targets {
        let _ = std::fs::remove_file(cargo::image(tree, *target, "release", "application"));
    }
    let mut command = cargo::command(tree, "release", targets);
    command
        .args(["-p", "application"])
        .args(options)
        .env("HUSH_DESIGN", design);
    let output = command.output().map_err(|error| error.to_string())?;
    if output.status.success() {
        return Ok(());
    }
    let errors = String::from_utf8_lossy(&output.stderr);
    Err(errors
        .lines()
        .filter(|line| line.contains("error"))
        .take(5)
        .collect::<Vec<_>>()
        .join(" | "))
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

/// Samples at which no pulse arrives, as from a held rotor: pushes, alarm, full duty and recovery are part of every
/// run of a design with a tachometer.
fn held(index: usize) -> bool {
    (2600..2660).contains(&index)
}

fn run(
    design: &Design,
    full: f64,
    controller: &mut dyn Controller,
    samples: usize,
) -> Result<Vec<Sample>, String> {
    let mut scene = Scene::new(design);
    let counts = f64::from(1_u32 << design.sensing.table.fraction_bits);
    let mut trace = Vec::with_capacity(samples);
    for index in 0..samples {
        scene.come();
        let mut code = scene.convert();
        if broken(index) {
            code = 0;
        }
        let turned = scene.pulses();
        let pulses = if held(index) { 0 } else { turned };
        let set_point = (scene.set_point() * counts).round() as i16;
        let record = controller.sample(code, set_point, pulses)?;
        scene.advance(&Held::throughout(f64::from(record.outputs) / full));
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
    let built = build(tree, targets, "studio-rack", &["--features", "painted"]);
    let design = load(tree, "studio-rack");
    let bridge = build_bridge(tree);
    let deepest = |target: Target| {
        built.clone()?;
        let design = design.as_ref().map_err(String::clone)?;
        let mut chip = on_chip(tree, target, &bridge)?;
        let trace = run(design, studio_rack::full(), &mut chip, SAMPLES)?;
        Ok(trace
            .iter()
            .map(|sample| u32::from(sample.record.stack))
            .max()
            .unwrap_or(0))
    };
    targets.iter().map(|target| deepest(*target)).collect()
}

fn on_chip(
    tree: &Tree,
    target: Target,
    bridge: &Result<PathBuf, String>,
) -> Result<OnChip, String> {
    let bridge = if target == Target::Avr {
        bridge.clone()?
    } else {
        PathBuf::new()
    };
    OnChip::start(
        target,
        &cargo::image(tree, target, "release", "application"),
        &bridge,
    )
}

/// Closes the loop around every design on every target.
pub fn check(tree: &Tree, targets: &[Target], report: &mut Report) {
    let bridge = build_bridge(tree);
    for case in cases() {
        let name = case.name;
        let host = load(tree, name).and_then(|design| {
            let trace = run(&design, case.full, &mut *(case.start)(), SAMPLES)?;
            build(tree, targets, name, &[])?;
            Ok((design, trace))
        });
        let (design, host) = match host {
            Ok(host) => host,
            Err(reason) => {
                report.fail(&format!("{name}: {reason}"));
                continue;
            }
        };
        // A run in which nothing happens would agree with anything.
        let demands: BTreeSet<i16> = host.iter().map(|sample| sample.record.demand).collect();
        let alarms = host
            .iter()
            .filter(|sample| sample.record.alarms != 0)
            .count();
        let seen = format!(
            "{} demands, {alarms} samples with an alarm, of {SAMPLES}",
            demands.len()
        );
        let busy = demands.len() > 100 && alarms > 10 && alarms < SAMPLES / 2;
        report.check(
            &format!("{name} exercises the loop"),
            if busy { Ok(seen) } else { Err(seen) },
        );
        for target in targets {
            let start = Instant::now();
            let result = on_chip(tree, *target, &bridge)
                .and_then(|mut chip| run(&design, case.full, &mut chip, SAMPLES));
            let rate = SAMPLES as f64 / start.elapsed().as_secs_f64();
            let result = result.and_then(|trace| match host.iter().zip(&trace).position(|(host, chip)| host != chip) {
                None => Ok(format!(
                    "{SAMPLES} samples the same; {rate:.0} a second, {:.0} times real time at 4 Hz",
                    rate / 4.0
                )),
                Some(at) => Err(format!("sample {at}: host {:?}, chip {:?}", host[at], trace[at])),
            });
            report.check(&format!("{} around {name}", target.triple()), result);
        }
    }
}
