//! Counts what every subject costs and prints one line each:
//!
//! `kind name sum worst checksum`, numbers in hexadecimal: the sum over the series and the worst single call, in
//! counter steps with the cost of reading the counter still in them (line `O` has that cost, four times).
#![no_std]
#![no_main]

use board::{console, counter, elapsed};
use core::hint::black_box;
use exercise::checksum::Checksum;
use exercise::floor;
use exercise::input::{self, Random};

#[panic_handler]
fn panic(_: &core::panic::PanicInfo) -> ! {
    text("PANIC\n");
    board::finish()
}

#[inline(never)]
fn text(text: &str) {
    for byte in text.bytes() {
        console(byte);
    }
}

#[inline(never)]
fn hexadecimal(value: u32) {
    console(b' ');
    let mut shift = 32u8;
    while shift > 0 {
        shift = shift.wrapping_sub(4);
        let digit = (value >> shift) as u8 & 15;
        console(if digit < 10 { b'0'.wrapping_add(digit) } else { b'a'.wrapping_sub(10).wrapping_add(digit) });
    }
}

/// Sum and maximum of counter steps, and the checksum of the results.
#[derive(Default)]
struct Tally {
    sum: u32,
    worst: u32,
    checksum: Checksum,
}

impl Tally {
    #[inline(never)]
    fn count(&mut self, steps: u32) {
        self.sum = self.sum.wrapping_add(steps);
        if steps > self.worst {
            self.worst = steps;
        }
    }

    #[inline(never)]
    fn print(&self, kind: &str, name: &str) {
        text(kind);
        console(b' ');
        text(name);
        hexadecimal(self.sum);
        hexadecimal(self.worst);
        hexadecimal(self.checksum.0);
        console(b'\n');
    }
}

/// A law as the figures call it: through a pointer the compiler cannot see through, call and return included.
type Law<G, S, V> = fn(&G, &mut S, V, V) -> V;

#[inline(never)]
fn law<G, S>(name: &str, law: Law<G, S, i16>, gains: &G, state: &mut S) {
    let law = black_box(law);
    let mut random = Random(77);
    let mut tally = Tally::default();
    for index in 0..input::REGULATION {
        let measurement = input::regulation(&mut random, index);
        let before = counter();
        let demand = law(gains, state, input::SET_POINT, measurement);
        let after = counter();
        tally.count(elapsed(before, after));
        tally.checksum.word(demand);
    }
    tally.print("T", name);
}

#[inline(never)]
fn floor_pi(g: &floor::Gains, s: &mut floor::State, set_point: i16, measurement: i16) -> i16 {
    floor::pi(board::Multiply16::product, g, s, set_point, measurement)
}
#[inline(never)]
fn floor_one(g: &floor::Gains, s: &mut floor::State, set_point: i16, measurement: i16) -> i16 {
    floor::one_product(board::Multiply16::product, g, s, set_point, measurement)
}
#[inline(never)]
fn floor_pid(g: &floor::Gains, s: &mut floor::State, set_point: i16, measurement: i16) -> i16 {
    floor::pid(board::Multiply16::product, g, s, set_point, measurement)
}

#[unsafe(no_mangle)]
extern "C" fn application() -> ! {
    board::initialise();
    let mut overhead = Tally::default();
    for _ in 0..4 {
        let before = counter();
        let after = counter();
        overhead.count(elapsed(before, after));
    }
    overhead.print("O", "counter");

    let gains = black_box(floor::Gains { kp: 1300, ki: 655, kd: 5000 });
    let mut state = floor::State { integral: 12000 << 15, filter: 60 << 23 };
    law("floor-pi", floor_pi, &gains, &mut state);
    law("floor-one", floor_one, &gains, &mut state);
    law("floor-pid", floor_pid, &gains, &mut state);
    text("E\n");
    board::finish()
}
