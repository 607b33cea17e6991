//! The whole application: read a code, step the station, write the duty, tell about it.
//!
//! `designs/` holds what `hushloop build` wrote for the demo designs; put your own there. `pins.rs` is what differs
//! from board to board.
#![no_std]
#![no_main]

/// What `hushloop build` wrote.
#[allow(dead_code, reason = "not all of it is used here")]
mod firmware {
    include!(env!("HUSH_FIRMWARE"));
}
mod pins;

use controller_core::setpoint::Weight;
use controller_core::station::Watchdog;
use fixed::FixedI16;
use pins::Pins;

#[panic_handler]
fn panic(_: &core::panic::PanicInfo) -> ! {
    unsafe extern "C" {
        fn a_panic_can_be_reached() -> !;
    }
    // SAFETY: never linked: this image has no panic that can be reached.
    unsafe { a_panic_can_be_reached() }
}

#[unsafe(no_mangle)]
extern "C" fn application() -> ! {
    #[cfg(feature = "painted")]
    board::paint_stack();
    board::initialise();
    let mut pins = Pins::default();
    let mut station = firmware::station();
    loop {
        let sample = pins.sample();
        let wanted = FixedI16::from_bits(sample.set_point);
        if wanted != station.set_point() {
            // Refused when it is out of range: then the old one stays.
            let _ = station.change_set_point(wanted, Weight::bumpless());
        }
        station.pulses(0, sample.pulses);
        let reading = firmware::THERMOMETER.read(sample.code);
        if let Some(alive) = station.step(reading, firmware::TICKS_PER_SAMPLE) {
            pins.feed(alive);
        }
        // On hardware the timer's interrupt does this, once a tick, while the loop waits for the next sample.
        for _ in 0..firmware::TICKS_PER_SAMPLE {
            pins.output(station.output_tick());
        }
        pins.tell(station.demand().bits(), station.alarms().bits());
        #[cfg(feature = "painted")]
        pins.tell_stack(board::stack_used());
    }
}
