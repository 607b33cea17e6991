//! A checksum over configuration and tables, so that firmware can tell at start and in the
//! background that they are what they were at build time.

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

/// A configuration as a sequence of 16-bit words in a few parts: what is checksummed, one part at a
/// time, so that the background test needs no more than a few thousand cycles a sample.
pub trait Words {
    /// Number of parts, at least 1, the same for every value of the type.
    const PARTS: u8;

    /// The checksum with the words of one part added; a `part` beyond the last adds nothing.
    fn add_part(&self, part: u8, sum: Checksum) -> Checksum;

    /// The checksum of all of it.
    ///
    /// ```
    /// use controller_core::guard::sensor::SensorConfig;
    /// use controller_core::station::Words;
    /// assert_ne!(SensorConfig::constant(3, 2).checksum(), SensorConfig::constant(2, 3).checksum());
    /// ```
    fn checksum(&self) -> u16 {
        let mut sum = Checksum::new();
        let mut part = 0;
        while part < Self::PARTS {
            sum = self.add_part(part, sum);
            part = part.wrapping_add(1);
        }
        sum.value()
    }
}

/// The checksum with a part that may be absent: a word says whether it is there.
#[inline]
pub(super) fn add_option<W: Words>(part: &Option<W>, sum: Checksum) -> Checksum {
    match part {
        None => sum.word(0),
        Some(some) => some.add_part(0, sum.word(1)),
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
