//! Filters between the converter and the table, and between the table and the law.

/// Sum of `4^EXTRA` codes, brought to `EXTRA` more bits: oversampling and decimation. Each factor of
/// four gains one bit, provided that the noise spans at least about one code step; without noise it
/// gains none.
///
/// Half a coarse step is added before the shift, so that a decimated code, too, stands for its own
/// middle, as [`Sensor`](crate::Sensor) takes it to. The codes have `BITS` bits, one beyond them counts as the
/// greatest of them; `EXTRA` is at most 6 and `BITS + EXTRA` at most 16, the width of a code:
///
/// ```compile_fail,E0080
/// use sensor_math::filter::Oversample;
/// let mut burst = Oversample::<12, 6>::default(); // a code of 18 bits
/// burst.push(4095);
/// ```
///
/// ```
/// use sensor_math::filter::Oversample;
/// let mut burst = Oversample::<10, 1>::default();
/// assert_eq!([500, 501, 501].map(|code| burst.push(code)), [None; 3]);
/// assert_eq!(burst.push(501), Some(1002));   // (2003 + 2) / 2, a code of one bit more
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Oversample<const BITS: u32, const EXTRA: u32> {
    sum: u32,
    count: u16,
}

impl<const BITS: u32, const EXTRA: u32> Oversample<BITS, EXTRA> {
    /// Codes in a burst.
    pub const SAMPLES: u16 = {
        assert!(EXTRA <= 6, "at most six extra bits");
        assert!(
            BITS >= 1 && BITS + EXTRA <= 16,
            "a decimated code must fit 16 bits"
        );
        1 << (2 * EXTRA)
    };

    /// Takes a code; gives the decimated one when the burst is complete.
    #[inline]
    pub fn push(&mut self, code: u16) -> Option<u16> {
        let last = (((1u32 << BITS) - 1) & 0xffff) as u16;
        let code = if code > last { last } else { code };
        self.sum = self.sum.wrapping_add(code as u32);
        self.count = self.count.wrapping_add(1);
        if self.count < Self::SAMPLES {
            return None;
        }
        let middle = (Self::SAMPLES / 2) as u32;
        let decimated = (self.sum.wrapping_add(middle) >> EXTRA) as u16;
        *self = Self { sum: 0, count: 0 };
        Some(decimated)
    }
}

/// Median of three: one wild code in three does not pass.
///
/// ```
/// assert_eq!(sensor_math::filter::median_of_3([500, 1023, 501]), 501);
/// ```
#[inline]
pub const fn median_of_3([a, b, c]: [u16; 3]) -> u16 {
    let (low, high) = if a < b { (a, b) } else { (b, a) };
    if c < low {
        low
    } else if c > high {
        high
    } else {
        c
    }
}

/// Median of five: two wild codes in five do not pass.
///
/// ```
/// assert_eq!(sensor_math::filter::median_of_5([500, 0, 502, 1023, 501]), 501);
/// ```
#[inline]
pub const fn median_of_5([a, b, c, d, e]: [u16; 5]) -> u16 {
    // Of two pairs, the smallest and the largest cannot be the median of five.
    let (a, b) = if a < b { (a, b) } else { (b, a) };
    let (c, d) = if c < d { (c, d) } else { (d, c) };
    let low = if a > c { a } else { c };
    let high = if b < d { b } else { d };
    median_of_3([low, high, e])
}

/// First-order low-pass of `2^K` samples that keeps what its shift would drop, so that it comes to rest
/// exactly on a steady input. `K` is 1 to 15. Time constant: `2^K` samples, nearly.
///
/// ```
/// use sensor_math::filter::Exponential;
/// let mut filter = Exponential::<3>::new(0);
/// for _ in 0..200 { filter.push(1000); }
/// assert_eq!(filter.value(), 1000);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Exponential<const K: u32> {
    /// The value with `K` more fraction bits.
    scaled: i32,
}

impl<const K: u32> Exponential<K> {
    /// At rest on a first temperature word.
    pub const fn new(word: i16) -> Self {
        assert!(K >= 1 && K <= 15, "1 to 15");
        Self {
            scaled: (word as i32) << K,
        }
    }

    /// Takes a word, gives the filtered one.
    #[inline]
    pub fn push(&mut self, word: i16) -> i16 {
        // scaled += word - scaled / 2^K, nothing dropped: scaled stays between 2^K times the extremes.
        self.scaled = self
            .scaled
            .wrapping_add(word as i32)
            .wrapping_sub(self.scaled >> K);
        self.value()
    }

    /// The filtered word, rounded down.
    #[inline]
    pub const fn value(&self) -> i16 {
        (self.scaled >> K) as i16
    }
}

#[cfg(test)]
mod tests;
