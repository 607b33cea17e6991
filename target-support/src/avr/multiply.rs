//! 16x16 to 32 bits with the 8x8 multiplier: four products, 19 cycles. The compiler alone would extend both factors
//! and call a 32x32 routine.

use core::arch::asm;

/// This target's multiply.
#[derive(Clone, Copy, Debug)]
pub struct Multiply16;

impl Multiply16 {
    /// `factor * value`, exact. `factor` is unsigned, `value` signed.
    #[inline(always)]
    pub fn product(factor: u16, value: i16) -> i32 {
        let (low, high): (u16, u16);
        // Bytes: factor r19:r18, value r21:r20, product r25:r24:r23:r22.
        // `mulsu` leaves the product's sign in the carry, which `sbc` takes from the top byte.
        // SAFETY: registers only; r1 is zero again at the end, as the calling convention wants.
        unsafe {
            asm!(
                "clr {zero}",
                "mulsu r21, r19",
                "movw r24, r0",
                "mul r20, r18",
                "movw r22, r0",
                "mulsu r21, r18",
                "sbc r25, {zero}",
                "add r23, r0",
                "adc r24, r1",
                "adc r25, {zero}",
                "mul r20, r19",
                "add r23, r0",
                "adc r24, r1",
                "adc r25, {zero}",
                "clr r1",
                zero = out(reg) _,
                in("r19r18") factor,
                in("r21r20") value,
                out("r23r22") low,
                out("r25r24") high,
                options(pure, nomem, nostack),
            );
        }
        ((high as u32) << 16 | low as u32) as i32
    }
}

impl controller_core::word::Multiply<i16> for Multiply16 {
    #[inline(always)]
    fn multiply(gain: u16, signal: i16) -> i32 {
        Self::product(gain, signal)
    }
}

impl sensor_math::table::Interpolate for Multiply16 {
    #[inline(always)]
    fn interpolate<const SHIFT: u32>(difference: i16, fraction: u16) -> i16 {
        if SHIFT > 8 {
            let half = (1_i32 << SHIFT) >> 1;
            return (Self::product(fraction, difference).wrapping_add(half) >> SHIFT) as i16;
        }
        // In 1/256: two products of eight bits, and the top bit of what is cut off rounds.
        let fraction = (fraction as u8).wrapping_shl(8_u32.wrapping_sub(SHIFT));
        let result: u16;
        // SAFETY: registers only; r1 is zero again at the end.
        unsafe {
            asm!(
                "clr {zero}",
                "mulsu r21, r18",
                "movw r22, r0",
                "mul r20, r18",
                "lsl r0",
                "adc r22, r1",
                "adc r23, {zero}",
                "clr r1",
                zero = out(reg) _,
                in("r18") fraction,
                in("r21r20") difference,
                out("r23r22") result,
                options(pure, nomem, nostack),
            );
        }
        result as i16
    }

    #[inline(always)]
    fn interpolate_by(difference: u16, fraction: u16, shift: u8) -> u16 {
        let mut rest = shift & 15;
        if rest == 0 {
            return 0;
        }
        // `difference < 2^15`, so that it may stand on the signed side.
        let mut product = Self::product(fraction, difference as i16) as u32;
        if rest > 8 {
            product >>= 8;
            rest = rest.wrapping_sub(8);
        }
        while rest > 1 {
            product >>= 1;
            rest = rest.wrapping_sub(1);
        }
        (product.wrapping_add(1) >> 1) as u16
    }
}
