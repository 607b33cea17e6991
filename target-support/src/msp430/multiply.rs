//! 16x16 to 32 bits by shifts and additions, for a machine without a multiplier.
//!
//! The product grows from the top: each step looks at the next bit of `value`, adds `factor` to the upper word when it
//! is set, and shifts the whole pair right, so that no step touches more than two words. When `value` fits eight
//! signed bits, as it does in regulation, eight steps do.

use core::arch::{asm, global_asm};

/// This target's multiply.
#[derive(Clone, Copy, Debug)]
pub struct Multiply16;

/// One step: the bit of the multiplier is in the carry; r14 is the factor, r13:r12 the growing product.
macro_rules! step {
    () => {
        "jnc 1f\n add r14, r13\n 1: rrc r13\n rrc r12\n"
    };
}
macro_rules! seven_steps {
    () => {
        concat!(
            step!(),
            step!(),
            step!(),
            step!(),
            step!(),
            step!(),
            step!()
        )
    };
}
/// The last step: the top bit of a signed multiplier weighs minus, so it subtracts, and the sign of the difference
/// (one bit more than the word holds) goes in from above.
macro_rules! sign_step {
    () => {
        "jnc 1f\n sub r14, r13\n subc r15, r15\n rra r15\n 1: rrc r13\n rrc r12\n"
    };
}

global_asm!(
    ".section .text.product,\"ax\",@progbits",
    // factor r12 (unsigned) * value r13 (signed) -> r13:r12; uses r14, r15
    ".globl hush_product",
    ".type hush_product,@function",
    "hush_product:",
    "  mov r12, r14",
    "  mov r13, r12",
    "  sxt r12",
    "  cmp r13, r12",
    "  jne 3f",
    // Eight bits. What the first shift brings into r12 from above leaves before the end or is cleared there.
    "  clr r13",
    "  rrc r12",
    seven_steps!(),
    sign_step!(),
    // r13:r12 holds the product times 256, with eight bits of rubbish at the bottom of r12
    "  swpb r12",
    "  mov.b r12, r12",
    "  mov.b r13, r15",
    "  swpb r15",
    "  bis r15, r12",
    "  swpb r13",
    "  sxt r13",
    "  ret",
    // Sixteen bits.
    "3: mov r13, r12",
    "  clr r13",
    "  rrc r12",
    seven_steps!(),
    step!(),
    seven_steps!(),
    sign_step!(),
    "  ret",
    ".size hush_product, . - hush_product",
);

macro_rules! halve {
    () => {
        "rra {fraction}\n jnc 1f\n add {rise}, {sum}\n 1: rra {sum}"
    };
}
/// `(rise * fraction + half) >> bits` in line, eight bytes of code a bit: each step lets the next bit of the fraction add
/// the rise, and halves. The nested floors are exact, and the bit that leaves last rounds.
macro_rules! scaled {
    ($rise:expr, $fraction:expr; $($step:ident)*) => {{
        let result: i16;
        // SAFETY: registers only.
        unsafe {
            asm!(
                "clr {sum}",
                $($step!(),)*
                "adc {sum}",
                rise = in(reg) $rise,
                fraction = inout(reg) $fraction => _,
                sum = out(reg) result,
                options(pure, nomem, nostack),
            );
        }
        result
    }};
}

global_asm!(
    // The same for any number of bits r14 and an unsigned rise; uses r15.
    ".section .text.hush_scaled_by,\"ax\",@progbits",
    ".globl hush_scaled_by",
    ".type hush_scaled_by,@function",
    "hush_scaled_by:",
    "  clr r15",
    "  tst r14",
    "  jz 4f",
    "  jmp 3f",
    "2: rra r13",
    "  jnc 1f",
    "  add r12, r15",
    "1: rrc r15",
    "3: dec r14",
    "  jnz 2b",
    // the last step outside the loop, whose counting would spoil the rounding bit in the carry
    "  rra r13",
    "  jnc 1f",
    "  add r12, r15",
    "1: rrc r15",
    "  adc r15",
    "4: mov r15, r12",
    "  ret",
    ".size hush_scaled_by, . - hush_scaled_by",
);

unsafe extern "C" {
    fn hush_product(factor: u16, value: i16) -> i32;
    fn hush_scaled_by(rise: u16, fraction: u16, bits: u16) -> u16;
}

impl Multiply16 {
    /// `factor * value`, exact. `factor` is unsigned, `value` signed.
    #[inline(always)]
    pub fn product(factor: u16, value: i16) -> i32 {
        // SAFETY: registers only.
        unsafe { hush_product(factor, value) }
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
        // `fraction < 2^SHIFT` and `|difference| < 2^14`, which the tables' constructors see to.
        match SHIFT {
            4 => scaled!(difference, fraction; halve halve halve halve),
            5 => scaled!(difference, fraction; halve halve halve halve halve),
            6 => scaled!(difference, fraction; halve halve halve halve halve halve),
            7 => scaled!(difference, fraction; halve halve halve halve halve halve halve),
            8 => scaled!(difference, fraction; halve halve halve halve halve halve halve halve),
            // Magnitudes through the loop would round halves of negative numbers the other way.
            _ => {
                let half = (1_i32 << SHIFT) >> 1;
                (Self::product(fraction, difference).wrapping_add(half) >> SHIFT) as i16
            }
        }
    }

    #[inline(always)]
    fn interpolate_by(difference: u16, fraction: u16, shift: u8) -> u16 {
        // SAFETY: registers only; `fraction < 2^shift`, `difference < 2^15`.
        unsafe { hush_scaled_by(difference, fraction, shift as u16) }
    }
}
