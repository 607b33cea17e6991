//! Fewest segments for the packed encoding: widths of powers of two, each the same as the one before,
//! twice, half or a quarter of it, and climbs of one byte of a value unit. Dynamic programming over
//! every knot (code and word) and the width of the segment that ends there.

use super::polish::Line;
use super::steps::ending;
use super::tube::{Painter, Spans, UNREACHED};

/// A packed table before it is put into bytes; words are those of a rising curve.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Knots {
    pub(super) origin: i32,
    pub(super) word: i32,
    pub(super) unit: u32,
    /// Width exponent and climb in value units of each segment.
    pub(super) segments: Vec<(u32, u8)>,
}

impl Knots {
    /// The same as a broken line.
    pub(super) fn line(&self) -> Line {
        let step = 1 << self.unit;
        let mut word = self.word;
        let climbs = self.segments.iter().map(|&(_, climb)| {
            word += i32::from(climb) * step;
            word
        });
        Line {
            origin: self.origin,
            widths: self.segments.iter().map(|&(width, _)| width).collect(),
            words: std::iter::once(self.word).chain(climbs).collect(),
            step,
            climbs: (0, 255 * step),
        }
    }
}

/// The two bits that say how a width exponent follows from the one before.
pub(super) fn width_code(before: u32, width: u32) -> Option<u8> {
    match width as i32 - before as i32 {
        0 => Some(0),
        1 => Some(1),
        -1 => Some(2),
        -2 => Some(3),
        _ => None,
    }
}

struct Search<'a> {
    spans: &'a Spans,
    stride: i32,
    widths: u32,
    /// `[width of the segment that ends here][knot][word]`
    reached: Vec<Vec<Vec<u16>>>,
}

impl Search<'_> {
    /// Climbs in value units that a segment allows.
    fn climbs(&self, code: i32, word: i32, width: u32) -> Option<(i32, i32)> {
        let (a, b) = self.spans.climbs(code, word, width)?;
        let a = (a + self.stride - 1).div_euclid(self.stride).max(0);
        let b = b.div_euclid(self.stride).min(255);
        (a <= b).then_some((a, b))
    }

    /// Width exponents from which `width` can follow.
    fn befores(&self, width: u32) -> impl Iterator<Item = u32> + use<> {
        (0..self.widths).filter(move |&before| width_code(before, width).is_some())
    }

    /// Segments up to a knot after which a segment of `width` may come.
    fn before(&self, width: u32, code: i32, cell: usize) -> u16 {
        if code <= self.spans.first {
            return 0;
        }
        let at = self.spans.at(code);
        self.befores(width)
            .map(|w| self.reached[w as usize][at][cell])
            .min()
            .unwrap_or(UNREACHED)
    }
}

/// Fewest segments with climbs of 0 to 255 units of `2^unit` words; `None` when there is no such table.
pub(super) fn fewest(spans: &Spans, unit: u32) -> Option<Knots> {
    let widths = spans.widths_anywhere();
    let mut search = Search {
        spans,
        stride: 1 << unit.checked_sub(spans.grid)?,
        widths,
        reached: vec![Vec::new(); widths as usize],
    };
    let stride = search.stride;
    let mut painter = Painter::new();
    let mut found: Option<(u16, u32, i32, i32)> = None;
    for code in spans.codes() {
        let (low, high) = spans.band(code);
        for width in 0..widths {
            let mut cells = vec![UNREACHED; spans.values(code)];
            let from = code - (1 << width);
            if code > spans.first && from >= spans.start && width < spans.widths(from) {
                let (low_from, high_from) = spans.band(from);
                for word in low_from..=high_from {
                    let count = search.before(width, from, (word - low_from) as usize);
                    if count == UNREACHED {
                        continue;
                    }
                    if let Some((a, b)) = search.climbs(from, word, width) {
                        // The words of this residue that the climbs reach within the band.
                        let residue = (word - low).rem_euclid(stride);
                        let first = (word + a * stride - low).max(residue);
                        let last = (word + b * stride).min(high) - low;
                        painter.add(count + 1, first, last, stride);
                    }
                }
                painter.paint(stride, &mut cells);
            }
            search.reached[width as usize].push(cells);
        }
        for width in spans.shift..spans.widths(code) {
            if code + (1 << width) <= spans.last {
                continue;
            }
            for word in low..=high {
                let count = search.before(width, code, (word - low) as usize);
                if count != UNREACHED
                    && found.is_none_or(|f| count + 1 < f.0)
                    && search.climbs(code, word, width).is_some()
                {
                    found = Some((count + 1, width, code, word));
                }
            }
        }
    }
    found.map(|found| search.trace(unit, found))
}

impl Search<'_> {
    /// The segments of the best table, found backwards from its last.
    fn trace(
        &self,
        unit: u32,
        (total, mut width, mut code, mut word): (u16, u32, i32, i32),
    ) -> Knots {
        let (spans, stride) = (self.spans, self.stride);
        let (a, b) = self
            .climbs(code, word, width)
            .expect("the last segment is allowed");
        let climb = ending(spans, code, width, a * stride, b * stride) / stride;
        let mut segments = vec![(width, climb.clamp(a, b) as u8)];
        for count in (1..total).rev() {
            let at = spans.at(code);
            let cell = (word - spans.band(code).0) as usize;
            width = self
                .befores(width)
                .find(|&w| self.reached[w as usize][at][cell] == count)
                .expect("some width ends here");
            let from = code - (1 << width);
            let (low, high) = spans.band(from);
            let before = (low..=high)
                .find(|&v| {
                    self.before(width, from, (v - low) as usize) == count - 1
                        && (word - v) % stride == 0
                        && self
                            .climbs(from, v, width)
                            .is_some_and(|(a, b)| (a..=b).contains(&((word - v) / stride)))
                })
                .expect("a knot leads here");
            segments.push((width, ((word - before) / stride) as u8));
            (code, word) = (from, before);
        }
        segments.reverse();
        Knots {
            origin: code,
            word: word << spans.grid,
            unit,
            segments,
        }
    }
}
