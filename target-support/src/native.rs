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

impl sensor_math::table::Interpolate for Multiply16 {
    // RISC-V loads a signed half-word in one instruction, so the difference stays in a whole register; Arm's older set
    // does not, and is better off with the way through 16 bits.
    #[cfg(target_arch = "riscv32")]
    #[inline(always)]
    fn between<const SHIFT: u32>(left: i16, right: i16, fraction: u16) -> i16 {
        let half = (1i32 << SHIFT) >> 1;
        let difference = (right as i32).wrapping_sub(left as i32);
        let rise = difference.wrapping_mul(fraction as i32).wrapping_add(half) >> SHIFT;
        (left as i32).wrapping_add(rise) as i16
    }
}
