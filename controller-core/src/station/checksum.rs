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

    /// With one more word, high byte first.
    #[inline]
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

/// A configuration as a fixed sequence of 16-bit words: what is checksummed, one word at a time, so
/// that the background test needs no more than a few hundred cycles a sample.
pub trait Words {
    /// Number of words, the same for every value of the type.
    const LEN: u8;

    /// The word at `index`, below [`Words::LEN`]; 0 beyond.
    fn word(&self, index: u8) -> u16;

    /// The checksum of all of them.
    ///
    /// ```
    /// use controller_core::guard::sensor::SensorConfig;
    /// use controller_core::station::Words;
    /// assert_ne!(SensorConfig::constant(3, 2).checksum(), SensorConfig::constant(2, 3).checksum());
    /// ```
    fn checksum(&self) -> u16 {
        let mut sum = Checksum::new();
        let mut index = 0;
        while index < Self::LEN {
            sum = sum.word(self.word(index));
            index = index.wrapping_add(1);
        }
        sum.value()
    }
}

/// Finds a word in a sequence of parts: `at` counts down over the parts before.
pub(crate) struct Finder {
    pub(crate) at: u8,
    pub(crate) found: u16,
    done: bool,
}

impl Finder {
    pub(crate) fn new(at: u8) -> Self {
        Self {
            at,
            found: 0,
            done: false,
        }
    }

    #[must_use]
    #[inline]
    pub(crate) fn part<W: Words>(mut self, part: &W) -> Self {
        if !self.done {
            if self.at < W::LEN {
                self.found = part.word(self.at);
                self.done = true;
            } else {
                self.at = self.at.wrapping_sub(W::LEN);
            }
        }
        self
    }
}

impl Words for u16 {
    const LEN: u8 = 1;
    #[inline]
    fn word(&self, index: u8) -> u16 {
        if index == 0 { *self } else { 0 }
    }
}

impl<W: Words> Words for Option<W> {
    const LEN: u8 = W::LEN + 1;
    #[inline]
    fn word(&self, index: u8) -> u16 {
        match (self, index) {
            (None, _) => 0,
            (Some(_), 0) => 1,
            (Some(some), _) => some.word(index.wrapping_sub(1)),
        }
    }
}

impl<W: Words, const N: usize> Words for [W; N] {
    const LEN: u8 = {
        assert!(N * (W::LEN as usize) < 256, "too many words for one checksum");
        (N * W::LEN as usize) as u8
    };
    #[inline]
    fn word(&self, index: u8) -> u16 {
        let mut finder = Finder::new(index);
        for part in self {
            finder = finder.part(part);
        }
        finder.found
    }
}

#[cfg(test)]
mod tests {
    use super::{Checksum, Words};
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
        let sum = |words: &[u16]| words.iter().fold(Checksum::new(), |s, w| s.word(*w)).value();
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

    #[test]
    fn arrays_and_options_lay_their_words_out_in_order() {
        let pair = [Some(7_u16), None];
        assert_eq!(<[Option<u16>; 2]>::LEN, 4);
        let words: Vec<u16> = (0..5).map(|at| pair.word(at)).collect();
        assert_eq!(words, [1, 7, 0, 0, 0]);
    }
}
