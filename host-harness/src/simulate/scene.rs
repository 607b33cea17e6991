//! What a controller stands in, a sample at a time: plant, surroundings, sensor and converter of a design.

use super::Story;
use super::held::Held;
use crate::design::Design;
use crate::plant::Plant;
use crate::plant::converter::Converter;
use crate::plant::tachometer::Tachometer;
use crate::reference::sensor::Truth;

/// It, at one sample of the scenario after the other.
#[derive(Clone)]
pub struct Scene<'a> {
    truth: Truth,
    converter: Converter,
    plant: Plant,
    story: Story<'a>,
    tachometer: Tachometer,
    next: u64,
}

impl<'a> Scene<'a> {
    /// Before the first sample; the scenario once.
    #[must_use]
    pub fn new(design: &'a Design) -> Self {
        Self::of(design, Story::new(&design.control))
    }

    /// The same with the scenario over and over.
    #[must_use]
    pub fn repeating(design: &'a Design) -> Self {
        Self::of(design, Story::repeating(&design.control))
    }

    fn of(design: &'a Design, story: Story<'a>) -> Self {
        let control = &design.control;
        Self {
            truth: Truth::new(&design.sensing.sensor),
            converter: Converter::new(
                design.sensing.sensor.adc.bits,
                design.sensing.facts.noise_lsb,
                control.scenario.seed,
            ),
            plant: control.plant.plant.clone(),
            story,
            tachometer: Tachometer::new(control.actuator.full_pulses_s()),
            next: 0,
        }
    }

    /// The same from here on with nothing changing any more.
    #[must_use]
    pub fn held(&self) -> Self {
        let mut held = self.clone();
        held.story.hold();
        held
    }

    /// Whether a fan turns; false without one.
    #[must_use]
    pub fn turning(&self) -> bool {
        match &self.plant {
            Plant::Enclosure(p) => p.fan.turning,
            Plant::Vessel(_) => false,
        }
    }

    /// Comes to the next sample, with the scenario's events until then; its time, seconds.
    pub fn come(&mut self) -> f64 {
        let time_s = self.next as f64 * self.story.control.period_s;
        self.next += 1;
        self.story.advance_to(time_s);
        time_s
    }

    /// The set point, degC.
    #[must_use]
    pub fn set_point(&self) -> f64 {
        self.story.set_point
    }

    /// The plant.
    #[must_use]
    pub fn plant(&self) -> &Plant {
        &self.plant
    }

    /// Degrees that a converter's code stands for, in real arithmetic.
    #[must_use]
    pub fn celsius_of(&self, code: u16) -> f64 {
        self.truth.celsius(code)
    }

    /// One conversion; once a sample.
    pub fn convert(&mut self) -> u16 {
        self.converter
            .convert(self.truth.position(self.plant.sensor_celsius()))
    }

    /// Whole pulses of the fan's tachometer since the sample before.
    pub fn pulses(&mut self) -> u16 {
        self.tachometer.take()
    }

    /// Goes on for a sample period, with these stretches of duty at the actuator one after the other.
    pub fn advance(&mut self, held: &[Held]) {
        let ticks: u32 = held.iter().map(|h| h.ticks).sum();
        let tick_s = self.story.control.period_s / f64::from(ticks);
        for h in held {
            let seconds = f64::from(h.ticks) * tick_s;
            self.plant.advance(seconds, h.duty, self.story.around);
            self.tachometer.turn(self.plant.fan_speed(), seconds);
        }
    }
}
