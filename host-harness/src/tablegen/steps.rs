//! Fewest knots for zones of uniform step (one zone: a uniform table), by dynamic programming.
//!
//! A state is a knot (code and word), the zone it is in and the step of that zone; its cost is the
//! number of segments so far. Segments are tried from every state in ascending order of codes, so
//! each state is final when it is used.

use super::polish::Line;
use super::tube::{Painter, Spans, UNREACHED};
use sensor_math::table::DIFFERENCE_MAX;

/// A table in zones.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Steps {
    /// Code of the first knot.
    pub(super) origin: i32,
    /// Step exponent of each zone and the number of its segments; at most three.
    pub(super) zones: Vec<(u32, usize)>,
    /// Words of the knots.
    pub(super) knots: Vec<i32>,
}

impl Steps {
    /// The same as a broken line.
    pub(super) fn line(&self, rising: bool) -> Line {
        let most = i32::from(DIFFERENCE_MAX);
        Line {
            origin: self.origin,
            widths: self
                .zones
                .iter()
                .flat_map(|&(width, count)| std::iter::repeat_n(width, count))
                .collect(),
            words: self.knots.clone(),
            step: 1,
            climbs: if rising { (0, most) } else { (-most, 0) },
        }
    }
}

/// Costs of one (zone, step): for each knot position, one cell a word.
type Costs = Vec<Vec<u16>>;

struct Search<'a> {
    spans: &'a Spans,
    widths: u32,
    /// `[zone][step]`
    reached: Vec<Vec<Costs>>,
    /// `[zone]`, the best over all steps
    best: Vec<Costs>,
}

/// The last segment: zone, step, code and word of its start, and segments in all.
#[derive(Clone, Copy)]
struct Last {
    segments: u16,
    zone: usize,
    width: u32,
    code: i32,
    word: i32,
}

/// Fewest segments in at most `zones` zones; `None` when no such table keeps to the tube.
pub(super) fn fewest(spans: &Spans, zones: usize) -> Option<Steps> {
    let widths = spans.widths_anywhere();
    let empty: Costs = spans
        .codes()
        .map(|code| vec![UNREACHED; spans.values(code)])
        .collect();
    let mut search = Search {
        spans,
        widths,
        reached: vec![vec![empty.clone(); widths as usize]; zones],
        best: vec![empty; zones],
    };
    let last = search.run(zones)?;
    Some(search.trace(last))
}

impl Search<'_> {
    /// Segments up to a knot from which a segment of `width` in `zone` may begin.
    fn before(&self, zone: usize, width: u32, code: i32, cell: usize) -> u16 {
        let at = self.spans.at(code);
        let same = self.reached[zone][width as usize][at][cell];
        let begin = if zone == 0 {
            if code <= self.spans.first {
                0
            } else {
                UNREACHED
            }
        } else {
            self.best[zone - 1][at][cell]
        };
        same.min(begin)
    }

    fn run(&mut self, zones: usize) -> Option<Last> {
        let spans = self.spans;
        let mut painter = Painter::new();
        let mut found: Option<Last> = None;
        for code in spans.codes() {
            let at = spans.at(code);
            let (low, high) = spans.band(code);
            for zone in 0..zones {
                for width in spans.shift..self.widths {
                    // Arrive here with one more segment of this zone.
                    let from = code - (1 << width);
                    if from >= spans.start && code > spans.first {
                        let (low_from, high_from) = spans.band(from);
                        for word in low_from..=high_from {
                            let count = self.before(zone, width, from, (word - low_from) as usize);
                            if count == UNREACHED {
                                continue;
                            }
                            if let Some((a, b)) = spans.climbs(from, word, width) {
                                let a = (word + a).max(low) - low;
                                let b = (word + b).min(high) - low;
                                painter.add(count + 1, a, b, 1);
                            }
                        }
                        painter.paint(1, &mut self.reached[zone][width as usize][at]);
                        let (reached, best) = (
                            &self.reached[zone][width as usize][at],
                            &mut self.best[zone][at],
                        );
                        for (best, &count) in best.iter_mut().zip(reached) {
                            *best = count.min(*best);
                        }
                    }
                }
            }
            for zone in 0..zones {
                for width in spans.shift..spans.widths(code) {
                    if code + (1 << width) <= spans.last {
                        continue;
                    }
                    // Leave the range from here.
                    for word in low..=high {
                        let count = self.before(zone, width, code, (word - low) as usize);
                        if count == UNREACHED || spans.climbs(code, word, width).is_none() {
                            continue;
                        }
                        let segments = count + 1;
                        if found.is_none_or(|f| (segments, zone) < (f.segments, f.zone)) {
                            found = Some(Last {
                                segments,
                                zone,
                                width,
                                code,
                                word,
                            });
                        }
                    }
                }
            }
        }
        found
    }

    /// The knots of the best table, found backwards.
    fn trace(&self, last: Last) -> Steps {
        let spans = self.spans;
        let (mut zone, mut width, mut code, mut word) =
            (last.zone, last.width, last.code, last.word);
        let (a, b) = spans
            .climbs(code, word, width)
            .expect("the last segment is allowed");
        let mut knots = vec![word + ending(spans, code, width, a, b), word];
        let mut zones = vec![(width, 1usize)];
        let mut count = last.segments - 1;
        while count > 0 {
            let at = spans.at(code);
            let cell = (word - spans.band(code).0) as usize;
            if self.reached[zone][width as usize][at][cell] != count {
                zone -= 1;
                width = (0..self.widths)
                    .find(|&w| self.reached[zone][w as usize][at][cell] == count)
                    .expect("the zone before ends here");
                if zones.last().is_some_and(|z| z.0 != width) {
                    zones.push((width, 0));
                }
            }
            let from = code - (1 << width);
            let (low, high) = spans.band(from);
            // The flattest change of slope among equals is not worth looking for: any will do.
            word = (low..=high)
                .find(|&v| {
                    self.before(zone, width, from, (v - low) as usize) == count - 1
                        && spans
                            .climbs(from, v, width)
                            .is_some_and(|(a, b)| v + a <= word && word <= v + b)
                })
                .expect("a knot leads here");
            code = from;
            knots.push(word);
            zones.last_mut().expect("one zone at least").1 += 1;
            count -= 1;
        }
        knots.reverse();
        zones.reverse();
        for knot in &mut knots {
            *knot <<= spans.grid;
        }
        Steps {
            origin: code,
            zones,
            knots,
        }
    }
}

/// Climb of a last segment, of which only a part is in range: as near as allowed to the middle of
/// what the range asks for.
pub(super) fn ending(spans: &Spans, code: i32, width: u32, a: i32, b: i32) -> i32 {
    let codes = spans.last - code;
    if codes == 0 {
        // No code but the knot's own: go on like the segment before.
        let (low, high) = spans.band(code);
        let step = 1 << spans.shift;
        let (low_before, high_before) = spans.band(code - step);
        let slope = f64::from(low + high - low_before - high_before) / f64::from(2 * step);
        return ((slope * f64::from(1 << width)) as i32).clamp(a, b);
    }
    a + (b - a) / 2
}
