//! Reads from flash, which on this family is another address space: an ordinary load at the same number would compile
//! and silently read RAM.

use core::arch::asm;

/// The byte at `address` of flash.
///
/// # Safety
/// `address` must lie in a table placed in `.progmem.data`.
#[inline(always)]
pub unsafe fn u8(address: *const core::primitive::u8) -> core::primitive::u8 {
    let value: core::primitive::u8;
    // SAFETY: the caller's.
    unsafe {
        asm!("lpm {0}, Z", out(reg) value, in("Z") address, options(pure, readonly, nostack, preserves_flags))
    };
    value
}

/// The 16-bit word at `address` of flash, low byte first.
///
/// # Safety
/// `address` must lie in a table placed in `.progmem.data`.
#[inline(always)]
pub unsafe fn i16(address: *const core::primitive::i16) -> core::primitive::i16 {
    let value: core::primitive::i16;
    // SAFETY: the caller's.
    unsafe {
        asm!("lpm {0:l}, Z+", "lpm {0:h}, Z", out(reg_pair) value,
            inout("Z") address => _, options(pure, readonly, nostack, preserves_flags));
    }
    value
}
