//! A running checksum of results, cheap on every target: rotate by five bits and add. One changed bit in one result
//! changes every later value, and the host compares the value at several points of a run.

/// Running checksum.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Checksum(pub u32);

impl Checksum {
    /// Takes in one 16-bit result.
    #[inline(never)]
    pub fn word(&mut self, value: i16) {
        self.0 = self.0.rotate_left(5).wrapping_add(u32::from(value as u16));
    }

    /// Takes in one 32-bit result.
    pub fn long(&mut self, value: i32) {
        self.word(value as i16);
        self.word((value >> 16) as i16);
    }
}
