//! The pins. Under a simulator they are messages to and from the host; on hardware these functions are the only ones
//! to fill in: wait for the sample instant and read the converter, load the timer, reload the watchdog, send a record.

use controller_core::station::{Liveness, Watchdog};

/// What a sample instant brings.
#[derive(Clone, Copy, Debug)]
pub struct Sample {
    /// Code of the converter.
    pub code: u16,
    /// Wanted temperature, a word: from a knob, a bus, or never changing.
    pub set_point: i16,
    /// Pulses of the tachometer since the sample before.
    pub pulses: u16,
}

/// What is told about it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Record {
    /// Demand of the law, a duty word.
    pub demand: i16,
    /// Alarms, one bit each.
    pub alarms: u8,
    /// Whether the watchdog was fed.
    pub alive: u8,
    /// Sum of the timer's compare values over the sample.
    pub outputs: u32,
    /// Checksum of the same, one after the other.
    pub checksum: u16,
    /// Deepest stack so far, where it is measured.
    pub stack: u16,
}

/// What a drive gives its pin: a compare value of a timer, or on and off.
pub trait Pin {
    /// As one number.
    fn compare(self) -> u16;
}

impl Pin for [u16; 1] {
    #[inline(always)]
    fn compare(self) -> u16 {
        self[0]
    }
}

impl Pin for bool {
    #[inline(always)]
    fn compare(self) -> u16 {
        self as u16
    }
}

/// The simulated pins.
#[derive(Default)]
pub struct Pins {
    record: Record,
}

impl Pins {
    /// Sends the record of the sample before, and waits for the next one.
    pub fn sample(&mut self) -> Sample {
        let record = core::mem::take(&mut self.record);
        let demand = record.demand.to_le_bytes();
        let outputs = record.outputs.to_le_bytes();
        let checksum = record.checksum.to_le_bytes();
        let stack = record.stack.to_le_bytes();
        let out = [
            demand[0],
            demand[1],
            record.alarms,
            record.alive,
            outputs[0],
            outputs[1],
            outputs[2],
            outputs[3],
            checksum[0],
            checksum[1],
            stack[0],
            stack[1],
        ];
        let mut into = [0; 6];
        board::exchange(&out, &mut into);
        let [
            code_low,
            code_high,
            set_low,
            set_high,
            pulses_low,
            pulses_high,
        ] = into;
        Sample {
            code: u16::from_le_bytes([code_low, code_high]),
            set_point: i16::from_le_bytes([set_low, set_high]),
            pulses: u16::from_le_bytes([pulses_low, pulses_high]),
        }
    }

    /// Loads the timer's compare register: on hardware from the timer's interrupt, once a tick.
    pub fn output(&mut self, pin: impl Pin) {
        let compare = pin.compare();
        self.record.outputs = self.record.outputs.wrapping_add(compare as u32);
        self.record.checksum = self.record.checksum.rotate_left(3).wrapping_add(compare);
    }

    /// What the record says of the station.
    pub fn tell(&mut self, demand: i16, alarms: u8) {
        self.record.demand = demand;
        self.record.alarms = alarms;
    }

    /// How deep the stack has been.
    #[cfg(feature = "painted")]
    pub fn tell_stack(&mut self, bytes: u16) {
        self.record.stack = bytes;
    }
}

impl Watchdog for Pins {
    fn feed(&mut self, _alive: Liveness) {
        self.record.alive = 1;
    }
}
