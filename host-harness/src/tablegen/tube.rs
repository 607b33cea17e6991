//! What a table may say at each code, and which straight lines stay within that.
//!
//! At a wanted error `e`, code `c` allows the words from `lo[c]` to `hi[c]`. A segment that begins
//! with the word `v` at code `c` and climbs by `d` words over `2^k` codes gives, with the rounding of
//! the shipped lookup, `v + floor((d f + 2^(k-1)) / 2^k)` at its code `f`. That is allowed at every
//! code of the segment exactly when `d` lies in one interval of integers:
//!
//! ```text
//!   d >= ceil(2^k (lo[f] - 1/2 - v) / f)          for every f, and
//!   d <  2^k (hi[f] + 1/2 - v) / f
//! ```
//!
//! The largest of the lower bounds belongs to a corner of the upper convex hull of the points
//! `(f, lo[f] - 1/2)`, and the smallest of the upper bounds to one of a lower hull. Neither hull
//! depends on `v` or `k`, so one pass over the codes serves every start value and every width; this
//! is what makes the exact search fast.

use rayon::prelude::*;
use sensor_math::table::DIFFERENCE_MAX;
use sensor_math::{Codes, Sensor};

/// Allowed words over the codes `first..=last`.
pub(super) struct Tube {
    pub(super) first: i32,
    pub(super) last: i32,
    /// Climbs allowed by direction: a table must not turn back, however wide its tube.
    climbs: (i64, i64),
    lo: Vec<i32>,
    hi: Vec<i32>,
    /// Allowed words of knots before `first`, nearest first; such a knot has no code of its own.
    before: Vec<(i32, i32)>,
    /// Knots have words that are multiples of `2^grid`: 0 unless the tolerance is wide.
    pub(super) grid: u32,
}

/// A knot before the range may lie this many times the wanted error beyond the curve and beyond the
/// curve's tangent at the range's end.
const BEFORE_SLACK: f64 = 3.0;

/// Nor does it lie further than this many times the wanted error from the tangent: a segment from there meets the
/// curve too steeply to stay on it. (Of a 16-bit code the words before the range would be millions.)
const BEFORE_REACH: f64 = 8.0;

/// Most values tried for a knot: when the tolerance spans more words, every second, fourth, ... word.
const VALUES_MAX: f64 = 40.0;

impl Tube {
    /// `None` when some code allows no word at all. `mirrored` turns a falling curve into a rising
    /// one, by negating every word.
    pub(super) fn new(
        sensor: &Sensor,
        codes: Codes,
        frac_bits: u32,
        error_celsius: f64,
        mirrored: bool,
    ) -> Option<Self> {
        let scale = f64::from(1u32 << frac_bits);
        let mut lo = Vec::with_capacity(codes.count() as usize);
        let mut hi = Vec::with_capacity(codes.count() as usize);
        for code in codes.first..=codes.last {
            let truth = sensor.celsius_at_code(code);
            // The same expression as the proof's, so that rounding cannot part them.
            let allowed = |word: f64| (word / scale - truth).abs() <= error_celsius;
            let mut a = ((truth - error_celsius) * scale).floor();
            let mut b = ((truth + error_celsius) * scale).ceil();
            while a <= b && !allowed(a) {
                a += 1.0;
            }
            while a <= b && !allowed(b) {
                b -= 1.0;
            }
            if a > b {
                return None;
            }
            lo.push(a as i32);
            hi.push(b as i32);
        }
        let slack = BEFORE_SLACK * error_celsius;
        let at_first = sensor.celsius_at_code(codes.first);
        let slope = sensor.celsius_at_code(codes.first + 1) - at_first;
        let lead = u32::from(codes.first).min(1 << (sensor.adc.bits - 3));
        let before = (1..=lead)
            .map(|back| {
                let truth = sensor.celsius_at_code(codes.first - back as u16);
                let tangent = at_first - slope * f64::from(back);
                let reach = BEFORE_REACH * error_celsius;
                (
                    (truth.min(tangent) - slack).max(tangent - reach),
                    (truth.max(tangent) + slack).min(tangent + reach),
                )
            })
            .take_while(|(a, b)| (a * scale).abs().max((b * scale).abs()) < 32_000.0)
            .map(|(a, b)| ((a * scale).ceil() as i32, (b * scale).floor() as i32))
            .collect::<Vec<_>>();
        let values = 2.0 * error_celsius * scale;
        let grid = (values / VALUES_MAX).log2().ceil().max(0.0) as u32;
        let limit = i64::from(DIFFERENCE_MAX);
        let climbs = if codes.rising || mirrored {
            (0, limit)
        } else {
            (-limit, 0)
        };
        let (first, last) = (i32::from(codes.first), i32::from(codes.last));
        let mut tube = Self {
            first,
            last,
            climbs,
            lo,
            hi,
            before,
            grid,
        };
        if mirrored {
            for (a, b) in tube.lo.iter_mut().zip(&mut tube.hi) {
                (*a, *b) = (-*b, -*a);
            }
            for (a, b) in &mut tube.before {
                (*a, *b) = (-*b, -*a);
            }
        }
        Some(tube)
    }

    /// Earliest code at which a table may begin.
    pub(super) fn start(&self) -> i32 {
        self.first - self.before.len() as i32
    }

    /// Values a knot at a code may have, in units of `2^grid` words.
    fn band(&self, code: i32) -> (i32, i32) {
        let (a, b) = if code < self.first {
            self.before[(self.first - code - 1) as usize]
        } else {
            let at = (code - self.first) as usize;
            (self.lo[at], self.hi[at])
        };
        ((a + (1 << self.grid) - 1) >> self.grid, b >> self.grid)
    }
}

/// Widest segment, as a power of two.
pub(super) const WIDTH_MAX: u32 = 15;

/// Every knot position with the climbs it allows. Values and climbs are in units of `2^grid` words.
pub(super) struct Spans {
    pub(super) first: i32,
    pub(super) last: i32,
    pub(super) start: i32,
    /// Knots stand at multiples of `2^shift` codes from `start`.
    pub(super) shift: u32,
    pub(super) grid: u32,
    knots: Vec<Knot>,
}

/// One knot position.
struct Knot {
    low: i32,
    high: i32,
    /// Allowed climbs, `[width exponent][value - low]`, empty when the first exceeds the second.
    climbs: Vec<(i16, i16)>,
}

/// No climb at all.
const NONE: (i16, i16) = (1, 0);

impl Spans {
    /// Knots at every `2^shift`-th code.
    pub(super) fn new(tube: &Tube, shift: u32) -> Self {
        let start = tube.first - ((tube.first - tube.start()) >> shift << shift);
        let knots = (0..=(tube.last - start) >> shift)
            .into_par_iter()
            .map(|i| Knot::new(tube, start + (i << shift), shift))
            .collect();
        let &Tube {
            first, last, grid, ..
        } = tube;
        Self {
            first,
            last,
            start,
            shift,
            grid,
            knots,
        }
    }

    /// Codes of the knot positions.
    pub(super) fn codes(&self) -> impl Iterator<Item = i32> + use<> {
        (self.start..=self.last).step_by(1 << self.shift)
    }

    /// Index of a knot position.
    pub(super) fn at(&self, code: i32) -> usize {
        ((code - self.start) >> self.shift) as usize
    }

    fn knot(&self, code: i32) -> &Knot {
        &self.knots[self.at(code)]
    }

    /// Lowest and highest value of a knot.
    pub(super) fn band(&self, code: i32) -> (i32, i32) {
        let knot = self.knot(code);
        (knot.low, knot.high)
    }

    /// How many values a knot may have.
    pub(super) fn values(&self, code: i32) -> usize {
        let knot = self.knot(code);
        (knot.high - knot.low + 1).max(0) as usize
    }

    /// Widths, as exponents `0..n`, that any line from this knot allows.
    pub(super) fn widths(&self, code: i32) -> u32 {
        (self.knot(code).climbs.len() / self.values(code).max(1)) as u32
    }

    /// Allowed climbs over `2^width` codes from a value at a code.
    pub(super) fn climbs(&self, code: i32, value: i32, width: u32) -> Option<(i32, i32)> {
        let knot = self.knot(code);
        if width < self.shift || width >= self.widths(code) || value < knot.low || value > knot.high
        {
            return None;
        }
        let (a, b) = knot.climbs[width as usize * self.values(code) + (value - knot.low) as usize];
        (a <= b).then_some((i32::from(a), i32::from(b)))
    }

    /// Largest width exponent that any knot allows, plus one.
    pub(super) fn widths_anywhere(&self) -> u32 {
        self.codes()
            .map(|code| self.widths(code))
            .max()
            .unwrap_or(0)
    }
}

impl Knot {
    fn new(tube: &Tube, code: i32, shift: u32) -> Self {
        let (low, high) = tube.band(code);
        let values = (high - low + 1).max(0) as usize;
        let mut climbs = Vec::new();
        let mut below = Hull::new(1); // of the points (f, 2 lo - 1), bulging up
        let mut above = Hull::new(-1); // of the points (f, 2 hi + 1), bulging down
        let mut next = (tube.first - code).max(1);
        for width in 0..=WIDTH_MAX {
            let end = 1i32 << width;
            if code + end <= tube.first || width < shift {
                // Wholly before the range, or not from knot to knot: of no use.
                climbs.extend(std::iter::repeat_n(NONE, values));
                continue;
            }
            if code + end > 0x1_0000 {
                break;
            }
            while next < end && code + next <= tube.last {
                let at = (code + next - tube.first) as usize;
                below.push((i64::from(next), i64::from(2 * tube.lo[at] - 1)));
                above.push((i64::from(next), i64::from(2 * tube.hi[at] + 1)));
                next += 1;
            }
            let mut any = false;
            let half_scale = 1i64 << width; // 2^width / 2, over values counted in halves
            for value in low..=high {
                let from = i64::from(value << tube.grid) * 2;
                let (mut a, mut b) = tube.climbs;
                if let (Some((f, y)), Some((g, z))) = (below.tangent(from), above.tangent(from)) {
                    // Slopes as fractions; when even a real slope is impossible, so is any longer
                    // segment.
                    let (p, q) = (y - from, z - from);
                    any |= p * g < q * f;
                    a = a.max(ceil_div(p * half_scale, 2 * f));
                    b = b.min(ceil_div(q * half_scale, 2 * g) - 1);
                } else {
                    any = true;
                }
                let (a, b) = (ceil_div(a, 1 << tube.grid), b >> tube.grid);
                climbs.push(if a <= b { (a as i16, b as i16) } else { NONE });
            }
            if !any {
                climbs.truncate(climbs.len() - values);
                break;
            }
        }
        Self { low, high, climbs }
    }
}

/// `ceil(a / b)` for positive `b`.
pub(super) fn ceil_div(a: i64, b: i64) -> i64 {
    -(-a).div_euclid(b)
}

/// Convex hull of points added from left to right: upper with `sign` 1, lower with -1.
struct Hull {
    sign: i64,
    points: Vec<(i64, i64)>,
}

impl Hull {
    fn new(sign: i64) -> Self {
        Self {
            sign,
            points: Vec::new(),
        }
    }

    fn push(&mut self, point: (i64, i64)) {
        while let [.., a, b] = self.points[..] {
            let cross = (b.0 - a.0) * (point.1 - a.1) - (b.1 - a.1) * (point.0 - a.0);
            if cross * self.sign >= 0 {
                self.points.pop();
            } else {
                break;
            }
        }
        self.points.push(point);
    }

    /// The point that bounds the slope of a line from `(0, from)`: the steepest for the upper hull,
    /// the flattest for the lower.
    fn tangent(&self, from: i64) -> Option<(i64, i64)> {
        let mut points = self.points.iter();
        let mut best = *points.next()?;
        for &(f, y) in points {
            let steeper = (y - from) * best.0 - (best.1 - from) * f;
            if steeper * self.sign <= 0 {
                break;
            }
            best = (f, y);
        }
        Some(best)
    }
}

/// Sets every cell of an interval that is not yet set, lowest count first.
pub(super) struct Painter {
    /// (residue of the stride, count, first cell, last cell)
    jobs: Vec<(i32, u16, i32, i32)>,
    next: Vec<u32>,
}

/// Count of a state that no path reaches.
pub(super) const UNREACHED: u16 = u16::MAX;

impl Painter {
    pub(super) fn new() -> Self {
        Self {
            jobs: Vec::new(),
            next: Vec::new(),
        }
    }

    /// Notes that the cells `a, a + stride, ..= b` are reached with `count` segments.
    pub(super) fn add(&mut self, count: u16, a: i32, b: i32, stride: i32) {
        if a <= b {
            self.jobs.push((a % stride, count, a, b));
        }
    }

    /// Writes the smallest count of each cell; cells of different residues do not meet.
    pub(super) fn paint(&mut self, stride: i32, cells: &mut [u16]) {
        self.jobs.sort_unstable();
        self.next.clear();
        self.next.extend(0..cells.len() as u32);
        for &(_, count, a, b) in &self.jobs {
            let mut cell = a as u32;
            while cell <= b as u32 {
                let free = self.next[cell as usize];
                if free == cell {
                    cells[cell as usize] = count;
                    self.next[cell as usize] = cell + stride as u32;
                    cell += stride as u32;
                } else {
                    // Shorten the path for whoever comes next.
                    let further = self.next.get(free as usize).copied().unwrap_or(free);
                    self.next[cell as usize] = further.max(free);
                    cell = free;
                }
            }
        }
        self.jobs.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sensor_math::adc::Adc;
    use sensor_math::curve::{Beta, Curve};
    use sensor_math::divider::{Divider, Side};

    /// Every climb of every start and width against the definition, on a small converter.
    #[test]
    fn climbs_are_exactly_the_allowed_ones() {
        let mut cases = 0u32;
        for side in [Side::Supply, Side::Ground] {
            let sensor = Sensor {
                adc: Adc::ratiometric(8),
                divider: Divider::new(side, 10_000.0),
                curve: Curve::Beta(Beta::new(10_000.0, 3435.0)),
            };
            let codes = sensor.codes(-10.0, 100.0).unwrap();
            let tube = Tube::new(&sensor, codes, 4, 0.3, false).unwrap();
            let spans = Spans::new(&tube, 0);
            for code in spans.start..=spans.last {
                let (low, high) = spans.band(code);
                for word in low..=high {
                    for width in 0..=7u32 {
                        if code + (1 << width) <= spans.first {
                            assert_eq!(spans.climbs(code, word, width), None);
                            continue;
                        }
                        let allowed = |d: i32| {
                            (0..1i32 << width).all(|f| {
                                let at = code + f;
                                if at < tube.first || at > tube.last || f == 0 {
                                    return true;
                                }
                                let half = (1i32 << width) >> 1;
                                let got = word + ((d * f + half) >> width);
                                let at = (at - tube.first) as usize;
                                tube.lo[at] <= got && got <= tube.hi[at]
                            })
                        };
                        let want = (-400..=400)
                            .filter(|&d| allowed(d) && if codes.rising { d >= 0 } else { d <= 0 })
                            .collect::<Vec<_>>();
                        match spans.climbs(code, word, width) {
                            None => assert!(want.is_empty(), "{code} {word} {width}: {want:?}"),
                            Some((a, b)) => {
                                let got = (a.max(-400)..=b.min(400)).collect::<Vec<_>>();
                                assert_eq!(got, want, "code {code} word {word} width {width}");
                            }
                        }
                        cases += 1;
                    }
                }
            }
        }
        assert!(cases > 20_000, "{cases} cases");
    }
}
