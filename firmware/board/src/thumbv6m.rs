//! Cortex-M0 (ARMv6-M): vector table, start-up, SysTick as counter, the first UART of the simulated board as pins.

use core::arch::{asm, global_asm};

// The vector table holds plain addresses: lld sets the Thumb bit from the symbol's type, so `start`, not `start + 1`.
global_asm!(
    ".section .vectors,\"a\"",
    ".word __stack_top",
    ".word start",
    ".rept 14",
    ".word fault",
    ".endr",
    ".section .text.start,\"ax\"",
    ".thumb",
    ".globl start",
    ".type start,%function",
    "start:",
    "  ldr r0, =__bss_start",
    "  ldr r1, =__bss_end",
    "  movs r2, #0",
    "1: cmp r0, r1",
    "  bhs 2f",
    "  str r2, [r0]",
    "  adds r0, #4",
    "  b 1b",
    "2: ldr r0, =__data_start",
    "  ldr r1, =__data_end",
    "  ldr r2, =__data_load",
    "3: cmp r0, r1",
    "  bhs 4f",
    "  ldr r3, [r2]",
    "  str r3, [r0]",
    "  adds r0, #4",
    "  adds r2, #4",
    "  b 3b",
    "4: bl application",
    ".type fault,%function",
    "fault: b fault",
    ".pool",
    ".size start, . - start",
);

const SYSTICK_CONTROL: *mut u32 = 0xE000_E010 as *mut u32;
const SYSTICK_RELOAD: *mut u32 = 0xE000_E014 as *mut u32;
const SYSTICK_VALUE: *mut u32 = 0xE000_E018 as *mut u32;
const SYSTICK_MASK: u32 = 0x00FF_FFFF;

/// Register of the simulated board's UART.
const fn uart(offset: usize) -> *mut u32 {
    (0x4000_2000 + offset) as *mut u32
}
const START_RECEIVER: *mut u32 = uart(0x000);
const START_TRANSMITTER: *mut u32 = uart(0x008);
const RECEIVED: *mut u32 = uart(0x108);
const SENT: *mut u32 = uart(0x11C);
const ENABLE: *mut u32 = uart(0x500);
const RECEIVE_DATA: *mut u32 = uart(0x518);
const SEND_DATA: *mut u32 = uart(0x51C);

/// Starts SysTick as a free-running down-counter and the UART.
pub fn initialise() {
    // SAFETY: device registers of this machine, written before anything else runs.
    unsafe {
        SYSTICK_RELOAD.write_volatile(SYSTICK_MASK);
        SYSTICK_VALUE.write_volatile(0);
        SYSTICK_CONTROL.write_volatile(0b101); // counting, from the core clock
        ENABLE.write_volatile(4);
        START_RECEIVER.write_volatile(1);
        START_TRANSMITTER.write_volatile(1);
    }
}

/// Reading of the counter.
#[inline(always)]
pub fn counter() -> u32 {
    let count: u32;
    // Makes the register's address each time, so that every reading takes the same instructions and two of them, one
    // after the other, tell exactly what reading adds to a window.
    // SAFETY: reading the counter has no side effect.
    unsafe {
        asm!(
            "movs {0}, #0xE0",
            "lsls {0}, {0}, #16",
            "adds {0}, #0xE0",
            "lsls {0}, {0}, #8",
            "ldr {0}, [{0}, #0x18]",
            out(reg) count,
            options(nostack)
        );
    }
    count
}

/// Counter steps from reading `a` to the later reading `b`; the counter runs downwards.
#[inline(always)]
pub fn elapsed(a: u32, b: u32) -> u32 {
    a.wrapping_sub(b) & SYSTICK_MASK
}

/// The stack pointer.
#[inline(always)]
pub fn stack_pointer() -> usize {
    let sp: usize;
    // SAFETY: copies a register.
    unsafe { asm!("mov {0}, sp", out(reg) sp, options(nomem, nostack, preserves_flags)) };
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
    // SAFETY: device registers of this machine.
    unsafe {
        SENT.write_volatile(0);
        SEND_DATA.write_volatile(u32::from(byte));
        while SENT.read_volatile() == 0 {}
    }
}

/// Waits for one byte from the serial port.
pub(crate) fn receive() -> u8 {
    // SAFETY: device registers of this machine.
    unsafe {
        while RECEIVED.read_volatile() == 0 {}
        RECEIVED.write_volatile(0);
        RECEIVE_DATA.read_volatile() as u8
    }
}

/// Ends the simulation.
pub fn finish() -> ! {
    // SAFETY: the debug breakpoint is the simulator's exit call (semihosting SYS_EXIT, ADP_Stopped_ApplicationExit).
    unsafe { asm!("bkpt #0xab", in("r0") 0x18_u32, in("r1") 0x20026_u32) };
    loop {}
}
