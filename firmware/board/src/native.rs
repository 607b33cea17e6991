//! The multiply of a machine that has one.

/// This target's multiply: the one it has.
#[derive(Clone, Copy, Debug)]
pub struct Multiply16;

impl Multiply16 {
    /// `factor * value`, exact. `factor` is unsigned, `value` signed.
    #[inline(always)]
    pub fn product(factor: u16, value: i16) -> i32 {
        (factor as i32).wrapping_mul(value as i32)
    }
}

impl controller_core::word::Multiply<i16> for Multiply16 {
    #[inline(always)]
    fn multiply(gain: u16, signal: i16) -> i32 {
        Self::product(gain, signal)
    }
}

impl sensor_math::table::Interpolate for Multiply16 {}
