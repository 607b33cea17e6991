//! 8-bit AVR (atmega328p): serial port as console and pins, timer 1 as counter. The vectors and the clearing of RAM
//! come from the C toolchain that links the image.

use core::arch::asm;

unsafe extern "C" {
    fn application() -> !;
}

/// Called by the C start-up once RAM is set.
#[unsafe(no_mangle)]
pub extern "C" fn main() -> ! {
    // SAFETY: every image defines `application`.
    unsafe { application() }
}

const SERIAL_STATUS: *mut u8 = 0xC0 as *mut u8; // UCSR0A
const SERIAL_CONTROL: *mut u8 = 0xC1 as *mut u8; // UCSR0B
const SERIAL_RATE: *mut u16 = 0xC4 as *mut u16; // UBRR0
const SERIAL_DATA: *mut u8 = 0xC6 as *mut u8; // UDR0
const RECEIVED: u8 = 1 << 7;
const SEND_READY: u8 = 1 << 5;
const DOUBLE_SPEED: u8 = 1 << 1;
const RECEIVER_AND_TRANSMITTER: u8 = 0x18;
const TIMER_MODE: *mut u8 = 0x80 as *mut u8; // TCCR1A
const TIMER_CLOCK: *mut u8 = 0x81 as *mut u8; // TCCR1B
const TIMER_LOW: *const u8 = 0x84 as *const u8; // TCNT1L, latches the high byte
const TIMER_HIGH: *const u8 = 0x85 as *const u8;

/// Starts timer 1 at the core clock and the serial port at 2 Mbaud from 16 MHz.
pub fn initialise() {
    // SAFETY: device registers of this machine, written before anything else runs.
    unsafe {
        SERIAL_STATUS.write_volatile(DOUBLE_SPEED);
        SERIAL_RATE.write_volatile(0);
        SERIAL_CONTROL.write_volatile(RECEIVER_AND_TRANSMITTER);
        TIMER_MODE.write_volatile(0);
        TIMER_CLOCK.write_volatile(1);
    }
}

/// Reading of the cycle counter.
#[inline(always)]
pub fn counter() -> u16 {
    // SAFETY: the low byte first, which latches the high byte.
    unsafe {
        let low = TIMER_LOW.read_volatile();
        let high = TIMER_HIGH.read_volatile();
        u16::from_le_bytes([low, high])
    }
}

/// Cycles from reading `a` to the later reading `b`, at most 65535.
#[inline(always)]
pub fn elapsed(a: u16, b: u16) -> u32 {
    u32::from(b.wrapping_sub(a))
}

/// The address above the next free byte of the stack.
#[inline(always)]
pub fn stack_pointer() -> usize {
    let (low, high): (u8, u8);
    // SAFETY: reads SPL and SPH.
    unsafe {
        asm!("in {0}, 0x3d", "in {1}, 0x3e", out(reg) low, out(reg) high, options(nomem, nostack, preserves_flags));
    }
    usize::from(u16::from_le_bytes([low, high])).wrapping_add(1)
}

/// The address just above the stack: the end of RAM.
#[inline(always)]
pub fn stack_top() -> usize {
    0x0900
}

/// Sends one byte to the console.
pub fn console(byte: u8) {
    // SAFETY: device registers of this machine.
    unsafe {
        while SERIAL_STATUS.read_volatile() & SEND_READY == 0 {}
        SERIAL_DATA.write_volatile(byte);
    }
}

/// Waits for one byte from the serial port.
pub(crate) fn receive() -> u8 {
    // SAFETY: device registers of this machine.
    unsafe {
        while SERIAL_STATUS.read_volatile() & RECEIVED == 0 {}
        SERIAL_DATA.read_volatile()
    }
}

/// Ends the simulation: sleeping with interrupts off stops the simulator.
pub fn finish() -> ! {
    // Let the last byte leave before the clock stops.
    for _ in 0..2 {
        console(b'\n');
    }
    // SAFETY: nothing runs after this.
    unsafe { asm!("cli", "sleep", options(noreturn)) }
}
