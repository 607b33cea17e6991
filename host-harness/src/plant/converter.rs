//! The converter in front of the controller: noise, then truncation to a code.

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A converter with Gaussian noise of its own seed, so that a run can be repeated byte for byte.
#[derive(Clone, Debug)]
pub struct Converter {
    last_code: u32,
    noise_lsb: f64,
    random: ChaCha8Rng,
}

impl Converter {
    /// A converter of `bits` bits.
    #[must_use]
    pub fn new(bits: u32, noise_lsb: f64, seed: u64) -> Self {
        Self {
            last_code: (1 << bits) - 1,
            noise_lsb,
            random: ChaCha8Rng::seed_from_u64(seed),
        }
    }

    /// Converts a position on the code scale (code 17.4 means 40 % into code 17).
    pub fn convert(&mut self, position: f64) -> u16 {
        let noisy = position + self.noise_lsb * gaussian(&mut self.random);
        noisy.floor().clamp(0.0, f64::from(self.last_code)) as u16
    }
}

/// A normal deviate by the polar method of Box and Muller (Annals of Mathematical Statistics 29 (1958) 610).
fn gaussian(random: &mut impl Rng) -> f64 {
    let radius: f64 = 1.0 - random.random::<f64>();
    let angle: f64 = random.random::<f64>() * std::f64::consts::TAU;
    (-2.0 * radius.ln()).sqrt() * angle.cos()
}
