//! The whole loop at one moment, with the injector's stages in it.

use controller_core::guard::Alarms;

use super::campaign::Thermometer;
use super::catalogue::Fault;
use super::injector::Injector;
use crate::design::{Actuator, Design};
use crate::plan::{Plan, temperature_word};
use crate::plant::Plant;
use crate::plant::converter::Converter;
use crate::plant::enclosure::CONVECTION_EXPONENT;
use crate::plant::tachometer::Tachometer;
use crate::reference::sensor::Truth;
use crate::simulate::Story;
use crate::simulate::held::{Held, mean};
use crate::simulate::station::RunningStation;

/// Samples without a token after which the watchdog resets the chip.
pub const WATCHDOG_SAMPLES: u32 = 4;

/// Temperatures of the table of positions, degC: beyond them a simulated sensor stays at its end.
const COLDEST: f64 = -100.0;
/// See [`COLDEST`].
const HOTTEST: f64 = 400.0;
/// Its entries a kelvin.
const PER_KELVIN: f64 = 16.0;

/// What does not change during a campaign.
pub struct World<'a> {
    /// The design.
    pub design: &'a Design,
    /// Its integers.
    pub plan: Plan,
    /// Positions on the code scale of evenly spaced temperatures from [`COLDEST`] on.
    positions: Vec<f64>,
    /// The shipped thermometer.
    pub read: &'a Thermometer<'a>,
    /// Codes of a broken wire and of a short.
    pub ends: (u16, u16),
    /// Duty of the safe state, share of full.
    pub safe: f64,
}

impl<'a> World<'a> {
    /// The world of a design.
    pub fn new(design: &'a Design, plan: Plan, read: &'a Thermometer<'a>) -> Self {
        use sensor_math::fault::FaultCode;
        let last = ((1u32 << design.sensing.sensor.adc.bits) - 1) as u16;
        let ends = if read(0) == Err(FaultCode::Open) {
            (0, last)
        } else {
            (last, 0)
        };
        let truth = Truth::new(&design.sensing.sensor);
        let positions = (0..=((HOTTEST - COLDEST) * PER_KELVIN) as u32)
            .map(|n| truth.position(COLDEST + f64::from(n) / PER_KELVIN))
            .collect();
        Self {
            design,
            plan,
            positions,
            read,
            ends,
            safe: if design.control.is_cooling() {
                1.0
            } else {
                0.0
            },
        }
    }

    /// The position on the code scale that an intact sensor at this temperature gives: between entries of the table
    /// by a straight line, which is within a thousandth of a code.
    fn position(&self, celsius: f64) -> f64 {
        let at = ((celsius - COLDEST) * PER_KELVIN).clamp(0.0, (self.positions.len() - 2) as f64);
        let entry = at.floor() as usize;
        let (low, high) = (self.positions[entry], self.positions[entry + 1]);
        low + (high - low) * (at - entry as f64)
    }
}

/// The loop at one moment.
#[derive(Clone)]
pub struct Moment<'a> {
    /// Time, seconds.
    pub time_s: f64,
    /// The chip.
    pub chip: Box<dyn RunningStation>,
    plant: Plant,
    converter: Converter,
    story: Story<'a>,
    elapsed: f64,
    silent: u32,
    tachometer: Tachometer,
    pin: f64,
    blocked: bool,
    off: bool,
    /// Tokens withheld since the last restart led to so many resets.
    pub resets: u32,
}

/// What a slot showed.
#[derive(Clone, Copy, Debug)]
pub struct Seen {
    /// Time at its beginning, seconds.
    pub time_s: f64,
    /// Hottest true temperature at its two ends, degC.
    pub celsius: f64,
    /// Alarms after the step (or, without one, at the beginning).
    pub alarms: Alarms,
    /// Whether there was a step and it ran the law.
    pub ran: bool,
    /// What the pins asked for, share of full, averaged; `None` without ticks.
    pub asked: Option<f64>,
    /// How far the reading was from what an intact sensor would have given, kelvin; 0 without a usable one.
    pub false_by: f64,
    /// The reading, a temperature word, when there was one.
    pub reading: Option<i16>,
    /// The set point, a temperature word.
    pub set_point: i16,
    /// The demand, a duty word.
    pub demand: i16,
}

impl<'a> Moment<'a> {
    /// At power-on, at the beginning of the scenario.
    pub fn start(world: &World<'a>, chip: Box<dyn RunningStation>) -> Self {
        let control = &world.design.control;
        Self {
            time_s: 0.0,
            chip,
            plant: control.plant.plant.clone(),
            converter: Converter::new(
                world.design.sensing.sensor.adc.bits,
                world.design.sensing.facts.noise_lsb,
                control.scenario.seed,
            ),
            story: Story::new(control),
            elapsed: 0.0,
            silent: 0,
            tachometer: Tachometer::new(control.actuator.full_pulses_s()),
            pin: world.safe,
            blocked: false,
            off: false,
            resets: 0,
        }
    }

    /// The set point as a word.
    fn set_point(&self, world: &World<'_>) -> i16 {
        temperature_word(
            self.story.set_point,
            world.design.sensing.table.fraction_bits,
        )
    }

    fn restart(&mut self, world: &World<'_>) {
        self.chip.restart();
        // firmware restores the operator's set point from where it keeps it
        let set_point = self.set_point(world);
        self.chip.change_set_point(set_point);
        self.silent = 0;
        self.elapsed = 0.0;
        // a pin that nothing drives yet
        self.pin = world.safe;
    }

    /// Blocks or frees rotors as the fault wants it.
    fn rotors(&mut self, fault: Fault, block: bool) {
        let Plant::Enclosure(plant) = &mut self.plant else {
            return;
        };
        if self.blocked == block {
            return;
        }
        self.blocked = block;
        match fault {
            Fault::BlockedFans => plant.fan.blocked = block,
            Fault::BlockedFan { .. } => {
                // the flow of one fan less: n - 1 of n
                let Actuator::Fan(fan) = &self.story.control.actuator else {
                    return;
                };
                let share = f64::from(fan.count - 1) / f64::from(fan.count);
                let factor = if block { share } else { 1.0 / share };
                plant.ventilation_w_per_kelvin *= factor;
                plant.blown_w_per_kelvin *= factor.powf(CONVECTION_EXPONENT);
            }
            _ => {}
        }
    }

    /// One sample slot: events, conversion, step, ticks, plant. Longer than a period when the sample is late.
    pub fn slot(&mut self, world: &World<'a>, mut injector: Option<&mut Injector>) -> Seen {
        let control = &world.design.control;
        let bits = world.design.sensing.table.fraction_bits;
        let time_s = self.time_s;
        if self.story.advance_to(time_s) {
            let set_point = self.set_point(world);
            self.chip.change_set_point(set_point);
        }
        if let Some(injector) = injector.as_deref_mut() {
            let acts = injector.acts(time_s);
            if matches!(
                injector.fault(),
                Fault::BlockedFan { .. } | Fault::BlockedFans
            ) {
                self.rotors(injector.fault(), acts);
            }
            if injector.fault() == Fault::BrownOut {
                if self.off && !acts {
                    self.restart(world);
                }
                self.off = acts;
            }
        }

        let before = self.plant.celsius();
        let shown = self.plant.sensor_celsius();
        let seen_as = injector
            .as_deref()
            .map_or(shown, |i| i.sensor(time_s, shown));
        // what an intact sensor would have given, with the same noise
        let other =
            (seen_as != shown).then(|| self.converter.clone().convert(world.position(shown)));
        let mut code = self.converter.convert(world.position(seen_as));
        let intact = other.unwrap_or(code);
        if let Some(injector) = injector.as_deref_mut() {
            code = injector.code(time_s, code, world.ends);
        }
        let steps = injector.as_deref().is_none_or(|i| i.steps(time_s));
        let mut seen = Seen {
            time_s,
            celsius: before,
            alarms: self.chip.alarms(),
            ran: false,
            asked: None,
            false_by: 0.0,
            reading: None,
            set_point: self.set_point(world),
            demand: 0,
        };
        if steps {
            self.chip.pulses(self.tachometer.take());
            let reading = (world.read)(code);
            let alive = self
                .chip
                .sample(reading, self.elapsed.round().min(65535.0) as u16);
            self.elapsed = 0.0;
            seen.ran = self.chip.running();
            seen.reading = reading.ok();
            if let (true, Ok(word), Ok(true_word)) = (seen.ran, reading, (world.read)(intact)) {
                seen.false_by =
                    (f64::from(word) - f64::from(true_word)).abs() / f64::from(1u32 << bits);
            }
            seen.alarms = self.chip.alarms();
            self.silent = if alive { 0 } else { self.silent + 1 };
            if self.silent >= WATCHDOG_SAMPLES {
                self.restart(world);
                self.resets += 1;
            }
        }
        seen.demand = self.chip.demand();

        let periods = 1.0 + injector.as_deref().map_or(0.0, |i| i.late(time_s));
        let ticks = (f64::from(world.plan.ticks_per_sample) * periods).round();
        // without ticks the pin keeps what it had last
        let mut held = Held::throughout(self.pin).to_vec();
        if injector.as_deref().is_none_or(|i| i.ticks(time_s)) {
            held = self.chip.ticks(ticks as u32);
            seen.asked = Some(mean(&held));
            self.pin = held.last().map_or(self.pin, |last| last.duty);
        }
        self.elapsed += ticks;
        let length = control.period_s * periods;
        let tick_s = length / held.iter().map(|h| f64::from(h.ticks)).sum::<f64>();
        let around = self.story.around;
        for h in held {
            let duty = injector
                .as_deref()
                .map_or(h.duty, |i| i.actuator(time_s, h.duty));
            let seconds = tick_s * f64::from(h.ticks);
            self.plant.advance(seconds, duty, around);
            let speed = self.plant.fan_speed();
            let shown = injector
                .as_deref()
                .map_or(speed, |i| i.rotation(time_s, speed));
            self.tachometer.turn(shown, seconds);
        }
        self.time_s += length;
        seen.celsius = before.max(self.plant.celsius());
        seen
    }
}
