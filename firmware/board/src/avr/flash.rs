//! Reads from flash, which on this family is another address space: an ordinary load at the same number would compile
//! and silently read RAM.

use core::arch::asm;

/// The byte at `address` of flash.
///
/// # Safety
/// `address` must lie in a table placed in `.progmem.data`.
#[inline(always)]
pub unsafe fn flash_byte(address: *const u8) -> u8 {
    let value: u8;
    // SAFETY: the caller's.
    unsafe { asm!("lpm {0}, Z", out(reg) value, in("Z") address, options(pure, readonly, nostack, preserves_flags)) };
    value
}

/// The 16-bit word at `address` of flash, low byte first.
///
/// # Safety
/// `address` must lie in a table placed in `.progmem.data`.
#[inline(always)]
pub unsafe fn flash_word(address: *const i16) -> i16 {
    let (low, high): (u8, u8);
    // SAFETY: the caller's.
    unsafe {
        asm!("lpm {low}, Z+", "lpm {high}, Z", low = out(reg) low, high = out(reg) high,
            inout("Z") address => _, options(pure, readonly, nostack, preserves_flags));
    }
    i16::from_le_bytes([low, high])
}
