//! How few segments there could be: the asymptotic bound, and the count that free widths need.

use sensor_math::{Codes, Sensor};

/// Asymptotic number of linear segments for an error: `(1/4) * integral of sqrt|f''| / sqrt(error)`
/// over the codes. It comes from the best straight line over `h` codes, which errs by
/// `|f''| h^2 / 16`; it knows nothing of segments having to meet, of whole codes, or of rounding.
pub fn asymptotic_segments(sensor: &Sensor, codes: Codes, error_celsius: f64) -> f64 {
    let integral: f64 = (codes.first..=codes.last)
        .map(|code| {
            let at = f64::from(code) + 0.5;
            let bend = sensor.celsius_at_position(at + 0.5) + sensor.celsius_at_position(at - 0.5)
                - 2.0 * sensor.celsius_at_position(at);
            (4.0 * bend).abs().sqrt()
        })
        .sum();
    integral / 4.0 / error_celsius.sqrt()
}

/// Words tried for each knot.
const GRID: usize = 17;
/// Knot positions tried at most; beyond it every second, fourth, ... code only.
const POSITIONS: usize = 1600;

/// Fewest connected segments with knots at any whole code, for the same error with the output
/// rounded to `2^-frac_bits` degrees: knots on a grid of 17 values across the tolerance, any slope
/// between. No such table is shipped, because its lookup would need a division; this tells what
/// power-of-two widths cost. An upper bound on the true fewest, `None` when the rounding alone
/// spends the tolerance.
pub fn free_width_segments(
    sensor: &Sensor,
    codes: Codes,
    frac_bits: u32,
    error_celsius: f64,
) -> Option<usize> {
    // Rounding moves the value by half a word at most.
    let slack = error_celsius - 0.5 / f64::from(1u32 << frac_bits);
    if slack <= 0.0 {
        return None;
    }
    let truth: Vec<f64> = (codes.first..=codes.last)
        .map(|code| sensor.celsius_at_code(code))
        .collect();
    let stride = truth.len().div_ceil(POSITIONS);
    let offset = |cell: usize| slack * (2.0 * cell as f64 / (GRID - 1) as f64 - 1.0);
    let mut count = vec![[u32::MAX; GRID]; truth.len()];
    count[0] = [0; GRID];
    let mut fewest = u32::MAX;
    for at in (0..truth.len()).step_by(stride) {
        for cell in 0..GRID {
            let so_far = count[at][cell];
            if so_far == u32::MAX || so_far + 1 >= fewest {
                continue;
            }
            let value = truth[at] + offset(cell);
            let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
            let mut next = at + 1;
            while next < truth.len() {
                let codes = (next - at) as f64;
                // As a knot: the slopes so far must reach one of its words.
                if (next - at).is_multiple_of(stride) {
                    let a = (value + low * codes - truth[next]).max(-slack);
                    let b = (value + high * codes - truth[next]).min(slack);
                    let cells = slack * 2.0 / (GRID - 1) as f64;
                    let first = ((a + slack) / cells).ceil().max(0.0) as usize;
                    let last = ((b + slack) / cells).floor();
                    if last >= 0.0 {
                        let last = (last as usize).min(GRID - 1);
                        for cell in count[next].iter_mut().take(last + 1).skip(first) {
                            *cell = (*cell).min(so_far + 1);
                        }
                    }
                }
                low = low.max((truth[next] - slack - value) / codes);
                high = high.min((truth[next] + slack - value) / codes);
                if low > high {
                    break;
                }
                next += 1;
            }
            if next == truth.len() {
                fewest = so_far + 1;
            }
        }
    }
    (fewest != u32::MAX).then_some(fewest as usize)
}

/// For what fraction of the codes the wanted error is below half an ADC step: there the converter,
/// not the table, limits what is known, and a better table buys nothing.
pub fn fraction_below_half_step(sensor: &Sensor, codes: Codes, error_celsius: f64) -> f64 {
    let below = (codes.first..=codes.last)
        .filter(|&code| {
            let step = sensor.celsius_at_position(f64::from(code) + 1.0)
                - sensor.celsius_at_position(f64::from(code));
            error_celsius < step.abs() / 2.0
        })
        .count();
    below as f64 / f64::from(codes.count())
}
