//! The tachometer of a fan.

/// Pulses of a turning fan: whole ones are taken, the rest is carried.
#[derive(Clone, Debug)]
pub struct Tachometer {
    full_pulses_s: f64,
    carried: f64,
}

impl Tachometer {
    /// A tachometer of so many pulses a second at full speed; 0 for none.
    #[must_use]
    pub fn new(full_pulses_s: f64) -> Self {
        Self {
            full_pulses_s,
            carried: 0.0,
        }
    }

    /// Turns for `seconds` at `speed`, a share of full.
    pub fn turn(&mut self, speed: f64, seconds: f64) {
        self.carried += speed * self.full_pulses_s * seconds;
    }

    /// The whole pulses since the last call, at most what a 16-bit counter holds.
    pub fn take(&mut self) -> u16 {
        let whole = self.carried.floor();
        self.carried -= whole;
        whole.min(f64::from(u16::MAX)) as u16
    }
}
