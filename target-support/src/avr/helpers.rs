//! Copies and fills, a byte at a time: the general ones are twenty times as large, and nothing here copies much.

use core::arch::asm;

/// # Safety
/// As C's.
#[unsafe(no_mangle)]
unsafe extern "C" fn memcpy(to: *mut u8, from: *const u8, bytes: usize) -> *mut u8 {
    // SAFETY: the caller's.
    unsafe {
        asm!("rjmp 2f", "1: ld {byte}, Z+", "st X+, {byte}", "2: sbiw {bytes}, 1", "brcc 1b",
            byte = out(reg) _, bytes = inout(reg_iw) bytes => _, inout("Z") from => _, inout("X") to => _, options(nostack));
    }
    to
}

/// # Safety
/// As C's.
#[unsafe(no_mangle)]
unsafe extern "C" fn memset(to: *mut u8, byte: i16, bytes: usize) -> *mut u8 {
    // SAFETY: the caller's.
    unsafe {
        asm!("rjmp 2f", "1: st X+, {byte}", "2: sbiw {bytes}, 1", "brcc 1b",
            byte = in(reg) byte as u8, bytes = inout(reg_iw) bytes => _, inout("X") to => _, options(nostack));
    }
    to
}
