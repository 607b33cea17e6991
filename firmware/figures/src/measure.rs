//! Counting one call at a time. The function comes through a pointer that the compiler cannot see through, so that
//! every figure holds call and return, and nothing of the harness is scheduled into the window.

use crate::report::{Tally, line};
use board::{counter, elapsed, stack_pointer};
use controller_core::setpoint::SetPoint;
use core::hint::black_box;
use exercise::input::{self, Random};

/// A step of a law on values of type `V`, its set point of type `P`.
pub type Law<G, S, P, V> = fn(&G, &mut S, P, V) -> V;

/// Cost of reading the counter twice, to be taken off every other figure.
pub fn overhead() {
    let mut tally = Tally::default();
    for _ in 0..4 {
        let before = counter();
        let after = counter();
        tally.count(elapsed(before, after));
    }
    tally.print("overhead", "counter");
}

/// Bytes painted below the stack pointer.
#[cfg(target_pointer_width = "16")]
const PAINTED: usize = 250;
#[cfg(not(target_pointer_width = "16"))]
const PAINTED: usize = 600;
const PAINT: u8 = 0xA5;

/// Depth of the stack below this frame that `call` used, in bytes.
#[inline(always)]
pub fn depth(call: impl FnOnce()) -> u32 {
    let bottom = stack_pointer().wrapping_sub(PAINTED);
    let mut offset = 0;
    while offset < PAINTED {
        // SAFETY: free stack below every live frame; no interrupts.
        unsafe { (bottom.wrapping_add(offset) as *mut u8).write_volatile(PAINT) };
        offset = offset.wrapping_add(1);
    }
    call();
    let mut offset = 0;
    // SAFETY: as above.
    while offset < PAINTED
        && unsafe { (bottom.wrapping_add(offset) as *const u8).read_volatile() } == PAINT
    {
        offset = offset.wrapping_add(1);
    }
    PAINTED.wrapping_sub(offset) as u32
}

/// Conversions between the integers of the inputs and what a subject computes with; outside the window.
pub trait Value: Copy {
    /// From a temperature in 1/128 degC.
    fn temperature(counts: i16) -> Self;
    /// To a duty word.
    fn duty(self) -> i16;
}

impl Value for i16 {
    #[inline(always)]
    fn temperature(counts: i16) -> Self {
        counts
    }
    #[inline(always)]
    fn duty(self) -> i16 {
        self
    }
}

/// A set point as a subject takes it.
pub trait Target: Copy {
    /// From a temperature in 1/128 degC.
    fn set_point(counts: i16) -> Self;
}

impl<V: Value> Target for V {
    #[inline(always)]
    fn set_point(counts: i16) -> Self {
        V::temperature(counts)
    }
}

impl Target for SetPoint<i16> {
    #[inline(always)]
    fn set_point(counts: i16) -> Self {
        SetPoint::nearest(counts)
    }
}

/// One law over the regulation series, then its stack.
#[inline(never)]
pub fn law<G, S, P: Target, V: Value>(name: &str, law: Law<G, S, P, V>, gains: &G, state: &mut S) {
    let law = black_box(law);
    let mut random = Random(77);
    let mut tally = Tally::default();
    let set_point = P::set_point(input::SET_POINT);
    for index in 0..input::REGULATION {
        // Both behind the compiler's back, so that making them is not scheduled into the window.
        let measurement = black_box(V::temperature(input::regulation(&mut random, index)));
        let set_point = black_box(set_point);
        let before = counter();
        let demand = law(gains, state, set_point, measurement);
        let after = counter();
        tally.count(elapsed(before, after));
        tally.checksum.word(demand.duty());
    }
    tally.print("time", name);
    stack(name, law, gains, state);
}

#[inline(never)]
fn stack<G, S, P: Target, V: Value>(name: &str, law: Law<G, S, P, V>, gains: &G, state: &mut S) {
    let mut random = Random(99);
    let mut deepest = 0;
    let set_point = P::set_point(input::SET_POINT);
    for _ in 0..16 {
        let measurement = V::temperature(input::any_word(&mut random));
        let used = depth(|| {
            black_box(law(gains, state, set_point, measurement));
        });
        if used > deepest {
            deepest = used;
        }
    }
    line("stack", name, &[deepest]);
}

/// Any other hot function, of one 16-bit argument: called for `codes`, each result taken into the checksum.
#[inline(never)]
pub fn function<R: Copy>(
    name: &str,
    function: fn(u16) -> R,
    result: fn(R) -> i16,
    codes: core::ops::Range<u16>,
) {
    let function = black_box(function);
    let mut tally = Tally::default();
    let middle = codes.start.wrapping_add(codes.end) >> 1;
    let mut next = codes.start;
    while next < codes.end {
        // Behind the compiler's back, so that counting and widening are not scheduled into the window.
        let code = black_box(next);
        let before = counter();
        let value = function(code);
        let after = counter();
        tally.count(elapsed(before, after));
        tally.checksum.word(result(value));
        next = black_box(next).wrapping_add(1);
    }
    tally.print("time", name);
    let deepest = depth(|| {
        black_box(function(black_box(middle)));
    });
    line("stack", name, &[deepest]);
}
