//! A checksum over configuration and tables, so that firmware can tell at start and in the
//! background that they are what they were at build time.

use crate::fields::{Field, Fields, Value, Walk};

/// CRC-16 with polynomial `0x1021`, start `0xFFFF`, not reflected, nothing added at the end
/// (catalogued as CRC-16/IBM-3740): it sees every change of one or two bits and every burst of up to
/// 16 in a block of up to 4 kilobytes. Words go in high byte first. No table: a dozen shifts and
/// exclusive-ors a byte.
///
/// ```
/// use controller_core::station::Checksum;
/// let check = b"123456789".iter().fold(Checksum::new(), |sum, &byte| sum.byte(byte));
/// assert_eq!(check.value(), 0x29B1); // the catalogue's check value
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[must_use]
pub struct Checksum(u16);

impl Default for Checksum {
    fn default() -> Self {
        Self::new()
    }
}

impl Checksum {
    /// Of nothing yet.
    pub const fn new() -> Self {
        Self(0xFFFF)
    }

    /// With one more byte.
    #[inline]
    pub const fn byte(self, byte: u8) -> Self {
        let mut x = (self.0 >> 8) ^ byte as u16;
        x ^= x >> 4;
        Self((self.0 << 8) ^ (x << 12) ^ (x << 5) ^ x)
    }

    /// With one more word, high byte first. Out of line: a configuration sums some sixty words.
    #[inline(never)]
    pub const fn word(self, word: u16) -> Self {
        self.byte((word >> 8) as u8).byte(word as u8)
    }

    /// The sum so far.
    #[must_use]
    #[inline]
    pub const fn value(self) -> u16 {
        self.0
    }
}

/// Sums every field as it comes, a word each (two for 32 bits); a word says whether a group that may be
/// absent is there.
impl Walk for Checksum {
    #[inline(always)]
    fn value(&mut self, _field: &Field, value: Value) {
        *self = match value {
            Value::Byte(byte) | Value::Choice(_, byte) => self.word(byte as u16),
            Value::Word(word) => self.word(word),
            Value::Signed(word) => self.word(word as u16),
            Value::Long(long) => self.word(long as u16).word((long >> 16) as u16),
            Value::Duty(duty) => self.word(duty.bits() as u16),
        };
    }

    #[inline(always)]
    fn parameter(&mut self, field: &Field, value: Value) {
        self.value(field, value);
    }

    #[inline(always)]
    fn part<T: Fields>(&mut self, _field: &Field, group: &T, part: u8) {
        group.walk_part(part, self);
    }

    #[inline(always)]
    fn option<T: Fields>(&mut self, field: &Field, group: Option<&T>) {
        match group {
            None => *self = self.word(0),
            Some(group) => {
                *self = self.word(1);
                self.group(field, group);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Checksum;
    use std::vec::Vec;

    fn bit_by_bit(bytes: &[u8]) -> u16 {
        let mut sum = 0xFFFF_u16;
        for byte in bytes {
            sum ^= u16::from(*byte) << 8;
            for _ in 0..8 {
                let carry = sum & 0x8000 != 0;
                sum = sum << 1 ^ if carry { 0x1021 } else { 0 };
            }
        }
        sum
    }

    #[test]
    fn is_the_bitwise_definition_for_every_byte_in_every_state() {
        let mut cases = 0_u64;
        for state in 0..=u16::MAX {
            for byte in (0..=255_u8).step_by(15) {
                let mut expected = state ^ u16::from(byte) << 8;
                for _ in 0..8 {
                    let carry = expected & 0x8000 != 0;
                    expected = expected << 1 ^ if carry { 0x1021 } else { 0 };
                }
                assert_eq!(Checksum(state).byte(byte).value(), expected);
                cases += 1;
            }
        }
        assert_eq!(cases, 65_536 * 18);
        assert_eq!(bit_by_bit(&[0]), 0xE1F0);
        assert_eq!(Checksum::new().word(0).value(), 0x1D0F);
    }

    #[test]
    fn every_change_of_one_or_two_bits_of_sixty_words_is_seen() {
        let words: Vec<u16> = (0..60_u16).map(|at| at.wrapping_mul(40_503)).collect();
        let sum = |words: &[u16]| {
            words
                .iter()
                .fold(Checksum::new(), |s, w| s.word(*w))
                .value()
        };
        let good = sum(&words);
        let mut cases = 0;
        for first in 0..960 {
            for second in first..960 {
                let mut bad = words.clone();
                bad[first / 16] ^= 1 << (first % 16);
                if second != first {
                    bad[second / 16] ^= 1 << (second % 16);
                }
                assert_ne!(sum(&bad), good);
                cases += 1;
            }
        }
        assert_eq!(cases, 960 * 961 / 2);
    }
}
