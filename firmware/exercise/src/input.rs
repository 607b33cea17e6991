//! Inputs, the same on host and targets: a shift-register generator and the two series that figures are taken over.

/// 32-bit shift-register generator (G. Marsaglia, "Xorshift RNGs", J. Stat. Soft. 8(14), 2003; triple 13, 17, 5).
#[derive(Clone, Copy, Debug)]
pub struct Random(pub u32);

impl Random {
    /// The next 16 bits.
    #[inline(never)]
    pub fn word(&mut self) -> u16 {
        let mut x = self.0;
        x ^= x << 13;
        x ^= x >> 17;
        x ^= x << 5;
        self.0 = x;
        (x >> 8) as u16
    }
}

/// Samples in the regulation series.
pub const REGULATION: u16 = 128;
/// Set point of the regulation series, 60 degC in 1/128 degC.
pub const SET_POINT: i16 = 60 << 7;

/// Measurement number `index` of the regulation series: what a loop that has settled sees. 96 samples within a quarter
/// of a degree of the set point, 24 within two degrees, 8 within sixteen (a load change).
#[inline(never)]
pub fn regulation(random: &mut Random, index: u16) -> i16 {
    let noise = random.word() as i16;
    let noise = match index {
        0..96 => noise >> 10,
        96..120 => noise >> 7,
        _ => noise >> 4,
    };
    SET_POINT.wrapping_add(noise)
}

/// A full-range word with many small ones, all ones and extremes among them.
#[inline(never)]
pub fn any_word(random: &mut Random) -> i16 {
    let choice = random.word() & 15;
    let word = random.word() as i16;
    match choice {
        0 => i16::MIN,
        1 => i16::MAX,
        2 => 0,
        3..8 => word >> 8,
        _ => word,
    }
}
