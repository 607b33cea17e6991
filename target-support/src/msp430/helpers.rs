//! The helper routines that compiled code calls by name on this target (TI's MSP430 EABI, section "helper function
//! API"). `compiler_builtins` brings none of them and no C library is packaged for this target.
//!
//! Multiplies and 32-bit shifts by a variable count. The shifts are assembly because a shift written in Rust would
//! compile into a call of itself.

use core::arch::global_asm;

global_asm!(
    ".section .text.mpyi,\"ax\",@progbits",
    // r12 * r13 -> r13:r12, both unsigned; uses r11, r14, r15. Ends when the second factor is used up.
    ".globl hush_unsigned",
    ".type hush_unsigned,@function",
    "hush_unsigned:",
    "  mov r12, r14",
    "  clr r15",
    "  mov r13, r11",
    "  clr r12",
    "  clr r13",
    "  jmp 3f",
    "1: clrc",
    "  rrc r11",
    "  jnc 2f",
    "  add r14, r12",
    "  addc r15, r13",
    "2: rla r14",
    "  rlc r15",
    "3: tst r11",
    "  jnz 1b",
    "  ret",
    ".size hush_unsigned, . - hush_unsigned",
    ".section .text.shifts,\"ax\",@progbits",
    // r13:r12 by r14
    ".globl __mspabi_slll",
    ".type __mspabi_slll,@function",
    "__mspabi_slll:",
    "  and #31, r14",
    "  jz 2f",
    "1: rla r12",
    "  rlc r13",
    "  dec r14",
    "  jnz 1b",
    "2: ret",
    ".size __mspabi_slll, . - __mspabi_slll",
    ".globl __mspabi_srll",
    ".type __mspabi_srll,@function",
    "__mspabi_srll:",
    "  and #31, r14",
    "  jz 2f",
    "1: clrc",
    "  rrc r13",
    "  rrc r12",
    "  dec r14",
    "  jnz 1b",
    "2: ret",
    ".size __mspabi_srll, . - __mspabi_srll",
    ".globl __mspabi_sral",
    ".type __mspabi_sral,@function",
    "__mspabi_sral:",
    "  and #31, r14",
    "  jz 2f",
    "1: rra r13",
    "  rrc r12",
    "  dec r14",
    "  jnz 1b",
    "2: ret",
    ".size __mspabi_sral, . - __mspabi_sral",
    // Copies and fills, a byte at a time: the general ones are ten times as large, and nothing here copies much.
    ".section .text.memcpy,\"ax\",@progbits",
    ".globl memcpy",
    ".type memcpy,@function",
    "memcpy:",
    "  mov r12, r15",
    "  tst r14",
    "  jz 2f",
    "1: mov.b @r13+, r11",
    "  mov.b r11, 0(r15)",
    "  inc r15",
    "  dec r14",
    "  jnz 1b",
    "2: ret",
    ".size memcpy, . - memcpy",
    ".section .text.memset,\"ax\",@progbits",
    ".globl memset",
    ".type memset,@function",
    "memset:",
    "  mov r12, r15",
    "  tst r14",
    "  jz 2f",
    "1: mov.b r13, 0(r15)",
    "  inc r15",
    "  dec r14",
    "  jnz 1b",
    "2: ret",
    ".size memset, . - memset",
    // The 64-bit multiply takes its first factor in r8..r11 (its second as usual in r12..r15), which no Rust
    // declaration can say: pass it on the stack instead.
    ".section .text.mpyll,\"ax\",@progbits",
    ".globl __mspabi_mpyll",
    ".type __mspabi_mpyll,@function",
    "__mspabi_mpyll:",
    "  push r11",
    "  push r10",
    "  push r9",
    "  push r8",
    "  call #hush_long_long",
    "  add #8, r1",
    "  ret",
    ".size __mspabi_mpyll, . - __mspabi_mpyll",
);

unsafe extern "C" {
    fn hush_unsigned(a: u16, b: u16) -> u32;
}

/// 16x16 to 32, the smaller factor deciding how long it takes.
#[inline(always)]
fn product(a: u16, b: u16) -> u32 {
    // SAFETY: registers only.
    unsafe {
        if a < b {
            hush_unsigned(b, a)
        } else {
            hush_unsigned(a, b)
        }
    }
}

/// 16-bit multiply.
#[unsafe(no_mangle)]
extern "C" fn __mspabi_mpyi(a: u16, b: u16) -> u16 {
    product(a, b) as u16
}

/// 32-bit multiply, the low 32 bits of the product.
#[unsafe(no_mangle)]
extern "C" fn __mspabi_mpyl(a: u32, b: u32) -> u32 {
    let (a_low, a_high) = (a as u16, (a >> 16) as u16);
    let (b_low, b_high) = (b as u16, (b >> 16) as u16);
    let upper = (product(a_high, b_low) as u16).wrapping_add(product(a_low, b_high) as u16);
    product(a_low, b_low).wrapping_add((upper as u32) << 16)
}

/// 64-bit multiply; `b` arrives in registers and `a` on the stack (see above).
#[unsafe(no_mangle)]
extern "C" fn hush_long_long(b: u64, a: u64) -> u64 {
    let words = |x: u64| {
        [
            x as u16,
            (x >> 16) as u16,
            (x >> 32) as u16,
            (x >> 48) as u16,
        ]
    };
    let (a, b) = (words(a), words(b));
    let mut sum = product(a[0], b[0]) as u64;
    let middle = (product(a[0], b[1]) as u64).wrapping_add(product(a[1], b[0]) as u64);
    sum = sum.wrapping_add(middle << 16);
    let upper = product(a[1], b[1])
        .wrapping_add(product(a[2], b[0]))
        .wrapping_add(product(a[0], b[2]));
    let top = (product(a[3], b[0]) as u16)
        .wrapping_add(product(a[0], b[3]) as u16)
        .wrapping_add(product(a[1], b[2]) as u16)
        .wrapping_add(product(a[2], b[1]) as u16);
    sum.wrapping_add((upper.wrapping_add((top as u32) << 16) as u64) << 32)
}
