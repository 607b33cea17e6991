//! Lines to the console, without the formatting machinery.

use board::console;
use exercise::checksum::Checksum;

/// Sends text.
#[inline(never)]
pub fn text(text: &str) {
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
        console(if digit < 10 {
            b'0'.wrapping_add(digit)
        } else {
            b'a'.wrapping_sub(10).wrapping_add(digit)
        });
    }
}

/// One line: kind, name, numbers in hexadecimal.
#[inline(never)]
pub fn line(kind: &str, name: &str, numbers: &[u32]) {
    text(kind);
    console(b' ');
    text(name);
    for number in numbers {
        hexadecimal(*number);
    }
    console(b'\n');
}

/// Number of calls, sum and maximum of counter steps, and the checksum of the results.
#[derive(Default)]
pub struct Tally {
    calls: u32,
    sum: u32,
    worst: u32,
    /// Of the results.
    pub checksum: Checksum,
}

impl Tally {
    /// Takes in one call.
    #[inline(never)]
    pub fn count(&mut self, steps: u32) {
        self.calls = self.calls.wrapping_add(1);
        self.sum = self.sum.wrapping_add(steps);
        if steps > self.worst {
            self.worst = steps;
        }
    }

    /// Prints the line.
    #[inline(never)]
    pub fn print(&self, kind: &str, name: &str) {
        line(
            kind,
            name,
            &[self.calls, self.sum, self.worst, self.checksum.0],
        );
    }
}
