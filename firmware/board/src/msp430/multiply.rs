//! 16x16 to 32 bits by shifts and additions, for a machine without a multiplier.
//!
//! The product grows from the top: each step looks at the next bit of `value`, adds `factor` to the upper word when it
//! is set, and shifts the whole pair right, so that no step touches more than two words. When `value` fits eight
//! signed bits, as it does in regulation, eight steps do.

use core::arch::global_asm;

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
        concat!(step!(), step!(), step!(), step!(), step!(), step!(), step!())
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
    // (rise r12 * fraction r13) >> bits, rise signed: the nested floors of the shifts are exact; uses r14
    ".section .text.scaled,\"ax\",@progbits",
    ".globl hush_scaled8",
    ".globl hush_scaled6",
    ".globl hush_scaled5",
    ".type hush_scaled8,@function",
    "hush_scaled8:",
    "  clr r14",
    "  rra r13\n jnc 1f\n add r12, r14\n 1: rra r14",
    "  rra r13\n jnc 1f\n add r12, r14\n 1: rra r14",
    "  jmp 6f",
    "hush_scaled6:",
    "  clr r14",
    "6: rra r13\n jnc 1f\n add r12, r14\n 1: rra r14",
    "  jmp 5f",
    "hush_scaled5:",
    "  clr r14",
    "5: rra r13\n jnc 1f\n add r12, r14\n 1: rra r14",
    "  rra r13\n jnc 1f\n add r12, r14\n 1: rra r14",
    "  rra r13\n jnc 1f\n add r12, r14\n 1: rra r14",
    "  rra r13\n jnc 1f\n add r12, r14\n 1: rra r14",
    "  rra r13\n jnc 1f\n add r12, r14\n 1: rra r14",
    "  mov r14, r12",
    "  ret",
    ".size hush_scaled8, . - hush_scaled8",
);

unsafe extern "C" {
    fn hush_product(factor: u16, value: i16) -> i32;
    fn hush_scaled8(rise: i16, fraction: u16) -> i16;
    fn hush_scaled6(rise: i16, fraction: u16) -> i16;
    fn hush_scaled5(rise: i16, fraction: u16) -> i16;
}

impl Multiply16 {
    /// `factor * value`, exact. `factor` is unsigned, `value` signed.
    #[inline(always)]
    pub fn product(factor: u16, value: i16) -> i32 {
        // SAFETY: registers only.
        unsafe { hush_product(factor, value) }
    }

    /// `(rise * fraction) >> BITS`, rounded down, for `fraction < 2^BITS` and `|rise| < 2^14`.
    #[inline(always)]
    pub fn scaled<const BITS: u32>(rise: i16, fraction: u16) -> i16 {
        // SAFETY: registers only.
        unsafe {
            match BITS {
                5 => hush_scaled5(rise, fraction),
                6 => hush_scaled6(rise, fraction),
                _ => hush_scaled8(rise, fraction << (8 - BITS)),
            }
        }
    }
}

impl controller_core::word::Multiply<i16> for Multiply16 {
    #[inline(always)]
    fn multiply(gain: u16, signal: i16) -> i32 {
        Self::product(gain, signal)
    }
}
