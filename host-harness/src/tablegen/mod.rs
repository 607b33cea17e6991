//! The table generator: fewest bytes for a wanted error, by exact dynamic programming over integer
//! codes and integer values with the output's rounding included, then proven by walking every code
//! with the shipped lookup.

mod bound;
mod knots;
mod layout;
mod polish;
mod steps;
mod text;
mod tube;

pub use bound::{asymptotic_segments, fraction_below_half_step, free_width_segments};
pub use layout::{JUMPS_MAX, Layout};
pub use text::{Format, c_integers, render, rust_limits, rust_table, rust_type, rust_value};

use crate::design::{Encoding, TableDesign};
use fixed::types::extra::U7;
use polish::Line;
use rayon::prelude::*;
use sensor_math::fault::Limits;
use sensor_math::table::{Jump, Packed};
use sensor_math::{Codes, Sensor, SensorError};
use std::fmt;
use tube::{Spans, Tube};

/// What is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Request {
    /// Sensor whose curve is tabulated.
    pub sensor: Sensor,
    /// Lower end of the range, degrees Celsius.
    pub low_celsius: f64,
    /// Upper end of the range, degrees Celsius.
    pub high_celsius: f64,
    /// Fraction bits of the temperature word, 1 to 12; 7 is 1/128 degC.
    pub frac_bits: u32,
    /// Largest error allowed at any code, degrees Celsius.
    pub error_celsius: f64,
    /// Encoding.
    pub encoding: Encoding,
    /// Places to begin the scan of a packed table, 0 to [`JUMPS_MAX`].
    pub jumps: usize,
}

impl Request {
    /// What a design asks for; a packed table is scanned from its start.
    pub fn of(sensor: Sensor, table: &TableDesign) -> Self {
        Self {
            sensor,
            low_celsius: table.low_celsius,
            high_celsius: table.high_celsius,
            frac_bits: table.fraction_bits,
            error_celsius: table.error_celsius,
            encoding: table.encoding,
            jumps: 0,
        }
    }
}

/// A generated and proven table.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// What was wanted.
    pub request: Request,
    /// Codes of the range.
    pub codes: Codes,
    /// Validity range and fault thresholds.
    pub limits: Limits,
    /// The integers.
    pub layout: Layout,
    /// Largest error over every code of the range, output rounding included, degrees Celsius.
    pub error_celsius_max: f64,
    /// The code where it occurs (the first of equals).
    pub worst_code: u16,
    /// Asymptotic number of segments for the wanted error.
    pub bound_segments: f64,
    /// Segments that free widths would need; `None` when rounding alone spends the error.
    pub free_width_segments: Option<usize>,
    /// Fraction of codes at which the wanted error is below half an ADC step.
    pub below_half_step: f64,
}

impl Table {
    /// Segments over the asymptotic bound.
    pub fn bound_ratio(&self) -> f64 {
        self.layout.segments() as f64 / self.bound_segments
    }

    /// Segments with free widths over the asymptotic bound.
    pub fn free_width_bound_ratio(&self) -> Option<f64> {
        self.free_width_segments
            .map(|n| n as f64 / self.bound_segments)
    }

    /// Temperature in degrees Celsius that the table gives at a code.
    pub fn celsius(&self, code: u16) -> f64 {
        f64::from(self.layout.lookup(code)) / f64::from(1u32 << self.request.frac_bits)
    }

    /// Every code of the range with the table's error there, degrees Celsius.
    pub fn errors(&self) -> impl Iterator<Item = (u16, f64)> + '_ {
        (self.codes.first..=self.codes.last).map(|code| {
            (
                code,
                self.celsius(code) - self.request.sensor.celsius_at_code(code),
            )
        })
    }
}

/// Why there is no table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TableError {
    /// The sensor cannot measure the range.
    Sensor(SensorError),
    /// The wanted error is not a number above zero.
    NotAnError(f64),
    /// Not 1 to 12 fraction bits.
    FracBits(u32),
    /// More than [`JUMPS_MAX`] jumps.
    Jumps(usize),
    /// The range does not fit the temperature word.
    RangeBeyondWord {
        /// Fraction bits wanted.
        frac_bits: u32,
        /// Largest magnitude of the word, degrees Celsius.
        limit_celsius: f64,
    },
    /// The wanted error is smaller than the word's own rounding allows.
    TooFine {
        /// Error wanted, degrees Celsius.
        error_celsius: f64,
        /// Half a word, degrees Celsius: with any error above it a table exists.
        floor_celsius: f64,
    },
    /// The encoding has no table for the error.
    DoesNotExist(Encoding),
    /// The proof found a code with a larger error than the search promised: a fault of the program.
    Unproven {
        /// The code.
        code: u16,
        /// Its error, degrees Celsius.
        error_celsius: f64,
    },
}

impl fmt::Display for TableError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Sensor(error) => error.fmt(f),
            Self::NotAnError(value) => {
                write!(
                    f,
                    "the wanted error is {value} degC; it must be a number above 0"
                )
            }
            Self::FracBits(bits) => {
                write!(f, "{bits} fraction bits; a temperature word has 1 to 12")
            }
            Self::Jumps(jumps) => {
                write!(
                    f,
                    "{jumps} jumps into the scan; a packed table has 0 to {JUMPS_MAX}"
                )
            }
            Self::RangeBeyondWord {
                frac_bits,
                limit_celsius,
            } => write!(
                f,
                "the range leaves the temperature word: with {frac_bits} fraction bits it ends at {limit_celsius} degC; use fewer fraction bits"
            ),
            Self::TooFine {
                error_celsius,
                floor_celsius,
            } => write!(
                f,
                "an error of {error_celsius} degC cannot be reached: rounding to the temperature word alone takes up to {floor_celsius} degC; ask for more, or use more fraction bits"
            ),
            Self::DoesNotExist(encoding) => write!(
                f,
                "there is no {} table with this error over this range; allow a larger error or choose another encoding",
                match encoding {
                    Encoding::Uniform => "uniform",
                    Encoding::Zones => "zoned",
                    Encoding::Packed => "packed (at most 255 segments of at most 255 value units)",
                    Encoding::Smallest => "",
                }
            ),
            Self::Unproven {
                code,
                error_celsius,
            } => write!(
                f,
                "internal fault: the generated table errs by {error_celsius} degC at code {code}; please report this design"
            ),
        }
    }
}

impl std::error::Error for TableError {}

/// Most codes all of which are tried as knots; beyond, every second, fourth, ... code.
const POSITIONS_MAX: u32 = 4096;

/// How often the distance of the knots is halved when there is no table with knots at so few codes.
const FINER: u32 = 2;

/// Rounds of halving the error that the fewest bytes are made to serve.
const REFINEMENTS: u32 = 5;

/// Makes the table with the fewest bytes for the wanted error, lowers its worst error as far as the
/// same number of bytes allows (to within 2 %), then the others, and proves it.
///
/// # Errors
/// When sensor, range or error are unusable, or no such table exists.
pub fn generate(request: &Request) -> Result<Table, TableError> {
    let Request {
        sensor,
        low_celsius,
        high_celsius,
        frac_bits,
        error_celsius,
        encoding,
        jumps,
    } = *request;
    if !(error_celsius > 0.0 && error_celsius.is_finite()) {
        return Err(TableError::NotAnError(error_celsius));
    }
    if !(1..=12).contains(&frac_bits) {
        return Err(TableError::FracBits(frac_bits));
    }
    if jumps > JUMPS_MAX {
        return Err(TableError::Jumps(jumps));
    }
    let codes = sensor
        .codes(low_celsius, high_celsius)
        .map_err(TableError::Sensor)?;
    let limits = sensor
        .limits(low_celsius, high_celsius)
        .map_err(TableError::Sensor)?;
    let limit_celsius = 32768.0 / f64::from(1u32 << frac_bits);
    if low_celsius - error_celsius < -limit_celsius || high_celsius + error_celsius >= limit_celsius
    {
        return Err(TableError::RangeBeyondWord {
            frac_bits,
            limit_celsius,
        });
    }
    let search = Search {
        sensor,
        codes,
        frac_bits,
        jumps,
    };
    let mut found = search.best(error_celsius, encoding)?;
    // The same bytes may serve a smaller error.
    let wanted = found.layout.bytes();
    let same = match found.layout {
        Layout::Uniform { .. } => Encoding::Uniform,
        Layout::Zones { .. } => Encoding::Zones,
        Layout::Packed { .. } => Encoding::Packed,
    };
    let (mut low, mut high) = (0.4 * error_celsius, error_celsius);
    for _ in 0..REFINEMENTS {
        let middle = 0.5 * (low + high);
        match search.best(middle, same) {
            Ok(better) if better.layout.bytes() <= wanted => {
                found = better;
                high = middle;
            }
            _ => low = middle,
        }
    }
    prove(request, codes, limits, search.polished(found))
}

/// Walks every code with the shipped lookup.
fn prove(
    request: &Request,
    codes: Codes,
    limits: Limits,
    layout: Layout,
) -> Result<Table, TableError> {
    let Request {
        sensor,
        frac_bits,
        error_celsius,
        ..
    } = *request;
    let mut table = Table {
        request: *request,
        codes,
        limits,
        layout,
        error_celsius_max: -1.0,
        worst_code: codes.first,
        bound_segments: asymptotic_segments(&sensor, codes, error_celsius),
        free_width_segments: free_width_segments(&sensor, codes, frac_bits, error_celsius),
        below_half_step: fraction_below_half_step(&sensor, codes, error_celsius),
    };
    let (mut worst, mut at) = (-1.0, codes.first);
    for (code, error) in table.errors() {
        if error.abs() > worst || error.is_nan() {
            (worst, at) = (error.abs(), code);
        }
    }
    (table.error_celsius_max, table.worst_code) = (worst, at);
    if worst.is_nan() || worst > error_celsius {
        return Err(TableError::Unproven {
            code: at,
            error_celsius: worst,
        });
    }
    Ok(table)
}

/// A table, and the line it stands for; a packed table's line always rises.
struct Found {
    layout: Layout,
    line: Line,
}

struct Search {
    sensor: Sensor,
    codes: Codes,
    frac_bits: u32,
    jumps: usize,
}

impl Search {
    fn tube(&self, error_celsius: f64, mirrored: bool) -> Result<Tube, TableError> {
        Tube::new(
            &self.sensor,
            self.codes,
            self.frac_bits,
            error_celsius,
            mirrored,
        )
        .ok_or(TableError::TooFine {
            error_celsius,
            floor_celsius: 0.5 / f64::from(1u32 << self.frac_bits),
        })
    }

    /// Fewest bytes for an error in one encoding, or in any.
    fn best(&self, error_celsius: f64, encoding: Encoding) -> Result<Found, TableError> {
        // Of very many codes, only so many are tried as knots, at first.
        let coarse = (self.codes.count() / POSITIONS_MAX)
            .checked_ilog2()
            .map_or(0, |n| n + 1);
        (coarse.saturating_sub(FINER)..=coarse)
            .rev()
            .map(|shift| self.best_at(error_celsius, encoding, shift))
            .find(|found| !matches!(found, Err(TableError::DoesNotExist(_))))
            .unwrap_or(Err(TableError::DoesNotExist(encoding)))
    }

    /// The same with knots at every `2^shift`-th code.
    fn best_at(
        &self,
        error_celsius: f64,
        encoding: Encoding,
        shift: u32,
    ) -> Result<Found, TableError> {
        let spans = Spans::new(&self.tube(error_celsius, false)?, shift);
        let packed = || {
            if self.codes.rising {
                Ok(self.packed(&spans))
            } else {
                let mirrored = Spans::new(&self.tube(error_celsius, true)?, shift);
                Ok(self.packed(&mirrored))
            }
        };
        let rising = self.codes.rising;
        let found = match encoding {
            Encoding::Uniform => uniform(&spans, rising),
            Encoding::Zones => zones(&spans, rising),
            Encoding::Packed => packed()?,
            // Zones include uniform tables, but with a larger header. Of equals the faster lookup.
            Encoding::Smallest => [uniform(&spans, rising), zones(&spans, rising), packed()?]
                .into_iter()
                .flatten()
                .min_by_key(|found| found.layout.bytes()),
        };
        found.ok_or(TableError::DoesNotExist(encoding))
    }

    /// Fewest bytes over the value units, which is fewest segments. Of equals the coarsest unit, whose
    /// differences are small.
    fn packed(&self, spans: &Spans) -> Option<Found> {
        (0..=Packed::<(), 0, U7>::UNIT_MAX)
            .into_par_iter()
            .filter_map(|unit| {
                let knots = knots::fewest(spans, unit)?;
                let layout = self.pack(&knots)?;
                let line = knots.line();
                Some(Found { layout, line })
            })
            .min_by_key(|found| found.layout.bytes())
    }

    /// The same table with its knots moved to where the errors are small.
    fn polished(&self, found: Found) -> Layout {
        let Found { mut layout, line } = found;
        let scale = f64::from(1u32 << self.frac_bits);
        let falling_packed = matches!(layout, Layout::Packed { .. }) && !self.codes.rising;
        let sign = if falling_packed { -1 } else { 1 };
        let truth = polish::Truth {
            first: i32::from(self.codes.first),
            words: (self.codes.first..=self.codes.last)
                .map(|code| f64::from(sign) * scale * self.sensor.celsius_at_code(code))
                .collect(),
        };
        let line = polish::polish(line, &truth);
        match &mut layout {
            Layout::Uniform { knots, .. } | Layout::Zones { knots, .. } => {
                if let Some(words) = words(&line.words) {
                    *knots = words;
                }
            }
            Layout::Packed {
                origin,
                bytes,
                jumps,
                ..
            } => {
                let climbs: Vec<u8> = line
                    .words
                    .windows(2)
                    .map(|pair| ((pair[1] - pair[0]) / line.step) as u8)
                    .collect();
                *origin = (sign * line.words[0]) as i16;
                let head = bytes.len() - climbs.len();
                bytes[head..].copy_from_slice(&climbs);
                for jump in jumps {
                    let before = &climbs[..usize::from(jump.segment)];
                    jump.climb = before.iter().map(|&climb| u16::from(climb)).sum();
                }
            }
        }
        layout
    }

    /// Puts knots into bytes; `None` when a header field cannot hold its value.
    fn pack(&self, knots: &knots::Knots) -> Option<Layout> {
        let rising = self.codes.rising;
        let count = knots.segments.len();
        let segments = u8::try_from(count).ok()?;
        let mut bytes = vec![0u8; Packed::<(), 0, U7>::code_bytes(count)];
        let mut before = knots.segments[0].0;
        let exponent = before;
        for (i, &(width, _)) in knots.segments.iter().enumerate() {
            bytes[i / 4] |= knots::width_code(before, width)? << (i % 4 * 2);
            before = width;
        }
        bytes.extend(knots.segments.iter().map(|s| s.1));
        let climb: i32 = knots.segments.iter().map(|s| i32::from(s.1)).sum();
        let end = knots.word + (climb << knots.unit);
        let sign = if rising { 1 } else { -1 };
        i16::try_from(sign * end).ok()?;
        let codes: u32 = knots.segments.iter().map(|s| 1u32 << s.0).sum();
        if knots.origin as u32 + codes > 0x1_0000 {
            return None;
        }
        Some(Layout::Packed {
            first: u16::try_from(knots.origin).ok()?,
            origin: i16::try_from(sign * knots.word).ok()?,
            segments,
            shape: Packed::<(), 0, U7>::shape(knots.unit, rising, exponent),
            bytes,
            jumps: self.jumps_of(knots),
        })
    }

    /// Places to begin the scan, at equal numbers of segments (whole bytes of width codes).
    fn jumps_of(&self, knots: &knots::Knots) -> Vec<Jump> {
        let parts = self.jumps + 1;
        let quarters = knots.segments.len() / 4;
        let mut starts: Vec<usize> = (1..parts).map(|part| quarters * part / parts * 4).collect();
        starts.dedup();
        starts.retain(|&segment| segment > 0);
        starts
            .into_iter()
            .map(|segment| {
                let before = &knots.segments[..segment];
                Jump {
                    offset: before.iter().map(|s| 1u16 << s.0).sum(),
                    climb: before.iter().map(|s| u16::from(s.1)).sum(),
                    segment: segment as u8,
                    exponent: before[segment - 1].0 as u8,
                }
            })
            .collect()
    }
}

fn words(knots: &[i32]) -> Option<Vec<i16>> {
    knots.iter().map(|&word| i16::try_from(word).ok()).collect()
}

fn uniform(spans: &Spans, rising: bool) -> Option<Found> {
    let steps = steps::fewest(spans, 1)?;
    let layout = Layout::Uniform {
        first: steps.origin as u16,
        last: spans.last as u16,
        shift: steps.zones[0].0,
        knots: words(&steps.knots)?,
    };
    let line = steps.line(rising);
    Some(Found { layout, line })
}

fn zones(spans: &Spans, rising: bool) -> Option<Found> {
    let steps = steps::fewest(spans, 3)?;
    let origin = steps.origin as u16;
    let last = spans.last as u16;
    let knots = words(&steps.knots)?;
    let length = |i: usize| (steps.zones[i].1 << steps.zones[i].0) as u16;
    let (codes, shifts) = match steps.zones[..] {
        [(a, _)] => ((origin, origin, origin, last), [a, a, a]),
        [(a, _), (b, _)] => {
            let end = origin + length(0);
            ((origin, end, end, last), [a, b, b])
        }
        [(a, _), (b, _), (c, _), ..] => {
            let end = origin + length(0);
            ((origin, end, end + length(1), last), [a, b, c])
        }
        [] => return None,
    };
    let layout = Layout::Zones {
        codes,
        shifts,
        knots,
    };
    let line = steps.line(rising);
    Some(Found { layout, line })
}
