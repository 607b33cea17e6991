//! Calls every hot path on values the compiler knows nothing about, built with overflow checks. The panic handler calls
//! a function that nobody defines, so a panic that can be reached is an unresolved symbol, and the image links only
//! when there is none.
#![no_std]
#![no_main]

use controller_core::law::{PiState, PidState};
use controller_core::setpoint::SetPoint;
use core::hint::black_box;
use exercise::{laws, tables};
use sensor_math::table::Lookup;
use target_support::Multiply16;

#[panic_handler]
fn panic(_: &core::panic::PanicInfo) -> ! {
    unsafe extern "C" {
        fn a_panic_can_be_reached() -> !;
    }
    // SAFETY: never linked.
    unsafe { a_panic_can_be_reached() }
}

target_support::flash_table!(UniformKnots: [i16; tables::UNIFORM_LENGTH] = tables::UNIFORM_KNOTS);
target_support::flash_table!(ZonesKnots: [i16; tables::ZONES_LENGTH] = tables::ZONES_KNOTS);

#[unsafe(no_mangle)]
extern "C" fn application() -> ! {
    board::initialise();
    let gains = black_box(laws::DEMO);
    let mut pi = PiState::start(&gains);
    let mut pid = PidState::<_, { laws::K }>::start(&gains, black_box(0));
    let mut inbox = [0; 2];
    let mut outbox = [0; 2];
    loop {
        board::exchange(&outbox, &mut inbox);
        let code = u16::from_le_bytes(inbox);
        let set_point = SetPoint::nearest(black_box(code) as i16);
        let mut sum = tables::uniform::<_, Multiply16>(UniformKnots).lookup(code);
        sum ^= tables::zones::<_, Multiply16>(ZonesKnots).lookup(code);
        sum ^= laws::pi_step::<Multiply16>(&gains, &mut pi, set_point, black_box(sum));
        sum ^= laws::pid_step::<Multiply16>(&gains, &mut pid, set_point, black_box(sum));
        #[cfg(feature = "planted")]
        {
            sum += black_box(code) as i16;
        }
        outbox = sum.to_le_bytes();
    }
}
