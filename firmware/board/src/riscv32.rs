//! RV32IMC: start-up, the retired-instruction counter, the first serial port of the simulated machine as pins.

use core::arch::{asm, global_asm};

global_asm!(
    ".section .text.start,\"ax\"",
    ".globl start",
    ".type start,@function",
    "start:",
    "  la sp, __stack_top",
    "  la t0, __bss_start",
    "  la t1, __bss_end",
    "1: bgeu t0, t1, 2f",
    "  sw zero, 0(t0)",
    "  addi t0, t0, 4",
    "  j 1b",
    "2: la t0, __data_start",
    "  la t1, __data_end",
    "  la t2, __data_load",
    "3: bgeu t0, t1, 4f",
    "  lw t3, 0(t2)",
    "  sw t3, 0(t0)",
    "  addi t0, t0, 4",
    "  addi t2, t2, 4",
    "  j 3b",
    "4: call application",
    "5: j 5b",
    ".size start, . - start",
);

const SERIAL_DATA: *mut u8 = 0x1000_0000 as *mut u8;
const SERIAL_STATUS: *const u8 = 0x1000_0005 as *const u8;
const FINISHER: *mut u32 = 0x0010_0000 as *mut u32;
const FINISHED_WELL: u32 = 0x5555;

/// Nothing to do: the counter runs and the serial port is open from reset.
pub fn initialise() {}

/// Reading of the counter of retired instructions.
#[inline(always)]
pub fn counter() -> u32 {
    let count: u32;
    // SAFETY: reads a counter register.
    unsafe { asm!("csrr {0}, minstret", out(reg) count, options(nostack)) };
    count
}

/// Instructions from reading `a` to the later reading `b`.
#[inline(always)]
pub fn elapsed(a: u32, b: u32) -> u32 {
    b.wrapping_sub(a)
}

/// The stack pointer.
#[inline(always)]
pub fn stack_pointer() -> usize {
    let sp: usize;
    // SAFETY: copies a register.
    unsafe { asm!("mv {0}, sp", out(reg) sp, options(nomem, nostack, preserves_flags)) };
    sp
}

/// The address just above the stack.
#[inline(always)]
pub fn stack_top() -> usize {
    unsafe extern "C" {
        static __stack_top: u8;
    }
    (&raw const __stack_top).addr()
}

/// Sends one byte to the console.
pub fn console(byte: u8) {
    // SAFETY: device register of this machine.
    unsafe { SERIAL_DATA.write_volatile(byte) }
}

/// Waits for one byte from the serial port.
pub(crate) fn receive() -> u8 {
    // SAFETY: device registers of this machine.
    unsafe {
        while SERIAL_STATUS.read_volatile() & 1 == 0 {}
        SERIAL_DATA.read_volatile()
    }
}

/// Ends the simulation.
pub fn finish() -> ! {
    // SAFETY: device register of this machine.
    unsafe { FINISHER.write_volatile(FINISHED_WELL) };
    loop {}
}
