//! Stands for the user's own board where `.ci/vendored` builds README's program: enough to link, nothing to run.

use controller_core::station::Liveness;

const REGISTERS: *mut u16 = 0x100 as *mut u16;

fn register(index: usize) -> *mut u16 {
    REGISTERS.wrapping_add(index)
}

fn read(index: usize) -> u16 {
    // SAFETY: never run; stands for a device register.
    unsafe { register(index).read_volatile() }
}

fn put(index: usize, value: u16) {
    // SAFETY: never run; stands for a device register.
    unsafe { register(index).write_volatile(value) }
}

/// Until the timer's next period.
pub fn wait_for_tick() {
    while read(0) == 0 {}
}

/// The timer's compare value.
pub fn write([compare]: [u16; 1]) {
    put(1, compare);
}

/// Output ticks since the sample before, once the next is due.
pub fn sample_due() -> Option<u16> {
    let elapsed = read(2);
    (elapsed >= crate::firmware::TICKS_PER_SAMPLE).then_some(elapsed)
}

/// Pulses of the tachometer since the sample before.
pub fn take_pulses() -> u16 {
    read(3)
}

/// The converter's code.
pub fn adc_code() -> u16 {
    read(4)
}

/// Reloads the watchdog.
pub fn feed(_alive: Liveness) {
    put(5, 1);
}

#[panic_handler]
fn panic(_: &core::panic::PanicInfo) -> ! {
    unsafe extern "C" {
        fn a_panic_can_be_reached() -> !;
    }
    // SAFETY: nobody defines it, so that the program links only when no panic can be reached.
    unsafe { a_panic_can_be_reached() }
}
