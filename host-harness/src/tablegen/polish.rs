//! Of the tables with the fewest bytes and the smallest worst error, one whose errors are small elsewhere too.
//!
//! The search finds any table that keeps to its error; where a segment has room to spare, its knots stand at an edge
//! of what is allowed and the table is biased. This moves knots, one, two and all together, by powers of two of
//! a step, and takes what lowers the sum of the squared errors over the codes of the range without a code's error
//! exceeding the worst one found before. Widths, and so bytes, stay as they are. No chance is involved: the same table
//! comes out every time. It ends where no such move helps, which need not be the least sum there is.

/// A table as a broken line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Line {
    /// Code of the first knot.
    pub(super) origin: i32,
    /// Width exponent of each segment.
    pub(super) widths: Vec<u32>,
    /// Words of the knots.
    pub(super) words: Vec<i32>,
    /// Words from knot to knot are multiples of this.
    pub(super) step: i32,
    /// Least and largest number of words from knot to knot.
    pub(super) climbs: (i32, i32),
}

/// What the line should say: the truth in words at each code from the first on.
pub(super) struct Truth {
    pub(super) first: i32,
    pub(super) words: Vec<f64>,
}

/// Passes over all knots at most; a handful is what it takes.
const PASSES_MAX: usize = 40;
/// Largest move, as a power of two of the step.
const MOVE_MAX: u32 = 8;
/// A sum of squares must fall by more than this share, so that rounding of the sums cannot keep the search going.
const GAIN_MIN: f64 = 1e-9;

struct Polish<'a> {
    truth: &'a Truth,
    line: Line,
    starts: Vec<i32>,
    /// Largest error that a code may have, words.
    worst: f64,
    /// Sum of squared errors of each segment.
    costs: Vec<f64>,
}

/// The line with smaller errors.
pub(super) fn polish(line: Line, truth: &Truth) -> Line {
    let mut at = line.origin;
    let starts: Vec<i32> = line
        .widths
        .iter()
        .map(|width| {
            let start = at;
            at += 1 << width;
            start
        })
        .collect();
    let mut polish = Polish {
        truth,
        line,
        starts,
        worst: f64::INFINITY,
        costs: Vec::new(),
    };
    let segments = polish.line.widths.len();
    polish.worst = (0..segments)
        .flat_map(|i| polish.errors(i, polish.line.words[i], polish.line.words[i + 1]))
        .fold(0.0, |worst: f64, error| worst.max(error.abs()));
    let costs = (0..segments)
        .map(|i| polish.cost(i, polish.line.words[i], polish.line.words[i + 1]))
        .collect::<Option<Vec<_>>>();
    let Some(costs) = costs else {
        return polish.line; // climbs that this knows nothing of
    };
    polish.costs = costs;
    let moves = |step: i32| (0..=MOVE_MAX).flat_map(move |n| [step << n, -(step << n)]);
    let last = segments;
    for _ in 0..PASSES_MAX {
        let mut better = false;
        for by in moves(1) {
            while polish.shift(0, last, by) {
                better = true;
            }
        }
        for together in [1, 2] {
            for from in 0..=last + 1 - together {
                for by in moves(polish.line.step) {
                    while polish.shift(from, from + together - 1, by) {
                        better = true;
                    }
                }
            }
        }
        if !better {
            break;
        }
    }
    polish.line
}

impl Polish<'_> {
    /// Errors in words at the codes of a segment between two words, with the lookup's rounding.
    fn errors(&self, segment: usize, from: i32, to: i32) -> impl Iterator<Item = f64> + '_ {
        let (start, width) = (self.starts[segment], self.line.widths[segment]);
        let half = (1 << width) >> 1;
        let end = self.truth.first + self.truth.words.len() as i32;
        (start.max(self.truth.first)..(start + (1 << width)).min(end)).map(move |code| {
            let word = from + (((to - from) * (code - start) + half) >> width);
            f64::from(word) - self.truth.words[(code - self.truth.first) as usize]
        })
    }

    /// Sum of squared errors; `None` when the segment is not allowed.
    fn cost(&self, segment: usize, from: i32, to: i32) -> Option<f64> {
        let (least, most) = self.line.climbs;
        if !(least..=most).contains(&(to - from)) {
            return None;
        }
        if i16::try_from(from).is_err() || i16::try_from(to).is_err() {
            return None;
        }
        let mut sum = 0.0;
        for error in self.errors(segment, from, to) {
            if error.abs() > self.worst {
                return None;
            }
            sum += error * error;
        }
        Some(sum)
    }

    /// Moves the knots `from..=to` when that is allowed and helps.
    fn shift(&mut self, from: usize, to: usize, by: i32) -> bool {
        let segments = from.saturating_sub(1)..(to + 1).min(self.costs.len());
        let before: f64 = self.costs[segments.clone()].iter().sum();
        let word = |knot: usize| {
            let moved = (from..=to).contains(&knot);
            self.line.words[knot] + if moved { by } else { 0 }
        };
        let mut costs = Vec::with_capacity(segments.len());
        let mut sum = 0.0;
        for segment in segments.clone() {
            match self.cost(segment, word(segment), word(segment + 1)) {
                Some(cost) => {
                    sum += cost;
                    costs.push(cost);
                }
                None => return false,
            }
        }
        if sum >= before * (1.0 - GAIN_MIN) {
            return false;
        }
        for knot in from..=to {
            self.line.words[knot] += by;
        }
        self.costs[segments].copy_from_slice(&costs);
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A parabola, and a line at the lower edge of a wide tube: it moves to where the errors of both signs
    /// cancel, and its worst error does not grow.
    #[test]
    fn a_line_at_the_edge_moves_to_the_middle() {
        let truth = Truth {
            first: 10,
            words: (0..64).map(|code| 0.05 * f64::from(code * code)).collect(),
        };
        let words: Vec<i32> = (0..=4)
            .map(|knot| (0.05 * f64::from(256 * knot * knot)) as i32 - 9)
            .collect();
        let line = Line {
            origin: 10,
            widths: vec![4; 4],
            words,
            step: 1,
            climbs: (0, 1000),
        };
        let figures = |line: &Line| {
            let errors: Vec<f64> = truth
                .words
                .iter()
                .enumerate()
                .map(|(code, wanted)| {
                    let (knot, rest) = (code / 16, (code % 16) as i32);
                    let (a, b) = (line.words[knot], line.words[knot + 1]);
                    f64::from(a + (((b - a) * rest + 8) >> 4)) - wanted
                })
                .collect();
            let mean = errors.iter().sum::<f64>() / 64.0;
            (
                mean,
                errors.iter().fold(0.0f64, |worst, e| worst.max(e.abs())),
            )
        };
        let (mean, worst) = figures(&line);
        let polished = polish(line.clone(), &truth);
        let (mean_now, worst_now) = figures(&polished);
        assert!(mean < -6.0 && mean_now.abs() < 0.2, "{mean} {mean_now}");
        assert!(worst_now < worst, "{worst_now} {worst}");
        assert_eq!(polished, polish(line, &truth), "the same every time");
    }
}
