//! Elementary functions of `f64` in `const fn`, for the physical formulas behind the tables.
//!
//! The standard library's own are neither `const` nor in `core`. These are meant for `const` items
//! and for the host: no target computes with them.
//!
//! | function | method | error against the standard library, as tested |
//! |---|---|---|
//! | [`ln`] | split off the power of two, then `2 artanh((m-1)/(m+1))` as a series of 10 terms, `abs(s) < 0.1716` | 3e-16 relative, or 3e-16 absolute near 1 |
//! | [`exp`] | split off the power of two, then the Taylor series of degree 14 on `abs(r) < 0.347` | 4e-16 relative |
//! | [`sqrt`] | Newton's iteration from a guess by halving the exponent bits | 3e-16 relative |
//!
//! The two halves of ln 2 are the usual split with clear low bits in the upper half (from memory;
//! their sum is checked against `core::f64::consts::LN_2` in the tests).

const LN2_HI: f64 = 6.931_471_803_691_238e-1;
const LN2_LO: f64 = 1.908_214_929_270_587_7e-10;
const MANTISSA: u64 = (1 << 52) - 1;
const EXPONENT_ONE: u64 = 1023 << 52;

/// Natural logarithm; `-inf` at zero, NaN below, `inf` at `inf`.
pub(crate) const fn ln(x: f64) -> f64 {
    if x.is_nan() || x < 0.0 {
        return f64::NAN;
    }
    if x == 0.0 {
        return f64::NEG_INFINITY;
    }
    if x == f64::INFINITY {
        return x;
    }
    let (x, scaled) = if x < f64::MIN_POSITIVE {
        (x * 18_014_398_509_481_984.0, -54.0)
    } else {
        (x, 0.0)
    };
    let bits = x.to_bits();
    let mut e = ((bits >> 52) as i64 - 1023) as f64 + scaled;
    let mut m = f64::from_bits((bits & MANTISSA) | EXPONENT_ONE);
    if m > core::f64::consts::SQRT_2 {
        m *= 0.5;
        e += 1.0;
    }
    let s = (m - 1.0) / (m + 1.0);
    let z = s * s;
    let tail = 1.0 / 3.0
        + z * (1.0 / 5.0
            + z * (1.0 / 7.0
                + z * (1.0 / 9.0
                    + z * (1.0 / 11.0
                        + z * (1.0 / 13.0
                            + z * (1.0 / 15.0 + z * (1.0 / 17.0 + z * (1.0 / 19.0))))))));
    let log_m = 2.0 * s + 2.0 * s * z * tail;
    e * LN2_HI + (e * LN2_LO + log_m)
}

/// Exponential; zero below about -745, `inf` above about 709.8.
pub(crate) const fn exp(x: f64) -> f64 {
    if x.is_nan() {
        return x;
    }
    if x > 709.782_712_893_384 {
        return f64::INFINITY;
    }
    if x < -745.2 {
        return 0.0;
    }
    let turns = x * core::f64::consts::LOG2_E;
    let k = (if turns < 0.0 {
        turns - 0.5
    } else {
        turns + 0.5
    }) as i64;
    let r = (x - k as f64 * LN2_HI) - k as f64 * LN2_LO;
    // Horner's scheme, the factorials folded into successive divisions.
    let mut sum = 1.0;
    let mut n = 14.0;
    while n >= 1.0 {
        sum = 1.0 + r / n * sum;
        n -= 1.0;
    }
    // In two steps, so that results below the smallest normal number come out right.
    let half = k / 2;
    sum * power_of_two(half) * power_of_two(k - half)
}

/// `2^k` for `-1022 <= k <= 1023`.
const fn power_of_two(k: i64) -> f64 {
    f64::from_bits(((k + 1023) as u64) << 52)
}

/// Square root; NaN below zero.
pub(crate) const fn sqrt(x: f64) -> f64 {
    if x.is_nan() || x < 0.0 {
        return f64::NAN;
    }
    if x == 0.0 || x == f64::INFINITY {
        return x;
    }
    let mut y = f64::from_bits((x.to_bits() >> 1) + (EXPONENT_ONE >> 1));
    let mut i = 0;
    while i < 5 {
        y = 0.5 * (y + x / y);
        i += 1;
    }
    y
}

/// Absolute value (the standard one is `const` only since 1.85; this keeps the module together).
pub(crate) const fn abs(x: f64) -> f64 {
    if x < 0.0 { -x } else { x }
}

/// Largest integer not above `x`, for `abs(x) < 2^62`; saturates beyond.
pub(crate) const fn floor(x: f64) -> i64 {
    let t = x as i64;
    if (t as f64) > x {
        t.saturating_sub(1)
    } else {
        t
    }
}

/// Nearest integer, ties upwards, for `abs(x) < 2^51`.
pub(crate) const fn round(x: f64) -> i64 {
    floor(x + 0.5)
}

#[cfg(test)]
mod tests;
