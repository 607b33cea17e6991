//! 16-bit MSP430 without a multiplier: start-up, Timer_A as cycle counter, a mailbox in RAM as pins.

use core::arch::{asm, global_asm};

global_asm!(
    ".section .text.start,\"ax\",@progbits",
    ".globl start",
    ".type start,@function",
    "start:",
    "  mov #__stack_top, r1",
    "  mov #__bss_start, r12",
    "1: cmp #__bss_end, r12",
    "  jhs 2f",
    "  clr.b 0(r12)",
    "  inc r12",
    "  jmp 1b",
    "2: mov #__data_start, r12",
    "  mov #__data_load, r13",
    "3: cmp #__data_end, r12",
    "  jhs 4f",
    "  mov.b @r13+, r14",
    "  mov.b r14, 0(r12)",
    "  inc r12",
    "  jmp 3b",
    "4: call #application",
    ".size start, . - start",
    // The simulator stops at this address.
    ".section .text.finished,\"ax\",@progbits",
    ".globl finished",
    ".type finished,@function",
    "finished: jmp finished",
    ".size finished, . - finished",
    ".section .reset,\"a\",@progbits",
    ".short start",
);

const TIMER_CONTROL: *mut u16 = 0x160 as *mut u16;
const TIMER_COUNT: *const u16 = 0x170 as *const u16;
const TIMER_CONTINUOUS_FROM_CORE_CLOCK: u16 = 0x0224;
const CONSOLE: *mut u8 = 0xFF as *mut u8;

/// Starts the timer at the core clock.
pub fn initialise() {
    // SAFETY: device register of this machine.
    unsafe { TIMER_CONTROL.write_volatile(TIMER_CONTINUOUS_FROM_CORE_CLOCK) }
}

/// Reading of the cycle counter.
#[inline(always)]
pub fn counter() -> u16 {
    // SAFETY: reading the counter has no side effect.
    unsafe { TIMER_COUNT.read_volatile() }
}

/// Cycles from reading `a` to the later reading `b`, at most 65535.
#[inline(always)]
pub fn elapsed(a: u16, b: u16) -> u32 {
    b.wrapping_sub(a) as u32
}

/// The stack pointer.
#[inline(always)]
pub fn stack_pointer() -> usize {
    let sp: usize;
    // SAFETY: copies a register.
    unsafe { asm!("mov r1, {0}", out(reg) sp, options(nomem, nostack, preserves_flags)) };
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

/// Sends one byte to the console; the simulator shows whole lines.
pub fn console(byte: u8) {
    // SAFETY: device register of the simulated machine.
    unsafe { CONSOLE.write_volatile(byte) }
}

/// Longest message through the mailbox, bytes.
pub const MAILBOX: usize = 24;

/// To the host.
#[unsafe(no_mangle)]
static mut OUTBOX: [u8; MAILBOX] = [0; MAILBOX];
/// From the host.
#[unsafe(no_mangle)]
static mut INBOX: [u8; MAILBOX] = [0; MAILBOX];

global_asm!(
    ".section .text.mailbox,\"ax\",@progbits",
    ".globl mailbox",
    ".type mailbox,@function",
    "mailbox: ret",
    ".size mailbox, . - mailbox",
);

/// Puts `out` where the host finds it, stops at the breakpoint `mailbox`, and takes what the host left.
/// Bytes beyond [`MAILBOX`] are not carried.
pub fn exchange(out: &[u8], into: &mut [u8]) {
    unsafe extern "C" {
        fn mailbox();
    }
    let mut from = (&raw mut OUTBOX).cast::<u8>();
    for byte in out.iter().take(MAILBOX) {
        // SAFETY: at most MAILBOX bytes of the box; one thread, no interrupts.
        unsafe {
            from.write_volatile(*byte);
            from = from.add(1);
        }
    }
    // SAFETY: returns at once; the debugger may have written INBOX meanwhile.
    unsafe { mailbox() };
    let mut to = (&raw const INBOX).cast::<u8>();
    for byte in into.iter_mut().take(MAILBOX) {
        // SAFETY: at most MAILBOX bytes of the box.
        unsafe {
            *byte = to.read_volatile();
            to = to.add(1);
        }
    }
}

/// Ends the simulation.
pub fn finish() -> ! {
    unsafe extern "C" {
        fn finished() -> !;
    }
    // SAFETY: loops at the address where the simulator stops.
    unsafe { finished() }
}
