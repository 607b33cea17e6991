//! The law in C.

use super::{Refusal, refuse};
use crate::integers::LawIntegers;
use controller_core::law::Action;
use std::fmt::Write;

/// The bound of `kp + kd` that keeps the sum of the terms within 32 bits: `controller_core`'s own.
fn gain_sum_max(fraction_bits: u32) -> u64 {
    ((1 << 31) - (1 << (15 + fraction_bits))) / 32767
}

pub(super) fn check(law: &LawIntegers) -> Result<(), Refusal> {
    let bits = law.scale;
    if !(1..=15).contains(&bits) {
        refuse(format!("{bits} gain fraction bits; accepted: 1 to 15"))?;
    }
    let sum = u64::from(law.kp) + u64::from(law.kd);
    if sum > gain_sum_max(bits) {
        refuse(format!(
            "kp + kd is {sum}; accepted at this scale: up to {}",
            gain_sum_max(bits)
        ))?;
    }
    if law.lo < 0 || law.lo >= law.hi {
        refuse(format!(
            "output limits {}..{}; accepted: 0 <= lo < hi",
            law.lo, law.hi
        ))?;
    }
    if law.filter_exponent > 15 {
        refuse(format!(
            "filter exponent {}; accepted: 0 to 15",
            law.filter_exponent
        ))?;
    }
    Ok(())
}

pub(super) fn text(prefix: &str, law: &LawIntegers) -> String {
    let start = match law.action {
        // as the crates have it: without integral action nothing could ever unwind a full start
        Action::Direct if law.ki != 0 => law.hi,
        Action::Direct | Action::Reverse => law.lo,
    };
    let (error, slope, settle) = match law.action {
        Action::Direct => ("measurement - set_point", "measurement - smooth", "+"),
        Action::Reverse => ("set_point - measurement", "smooth - measurement", "-"),
    };
    let bits = law.scale;
    let filter = law.has_derivative().then_some(law.filter_exponent);
    let mut out = format!(
        "/* To the law's domain, within which no difference of two signals leaves 16 bits. */\n\
         static int16_t in_domain(int16_t signal)\n{{\n\
         \x20   if (signal < -16384) return -16384;\n\
         \x20   if (signal > 16383) return 16383;\n\
         \x20   return signal;\n}}\n\n\
         void {prefix}_start({prefix}_state *state, int16_t first_measurement)\n{{\n\
         \x20   state->integral = INT32_C({});\n",
        (i64::from(start) << 16) + (1 << 15),
    );
    match filter {
        Some(exponent) => {
            let _ = writeln!(
                out,
                "    state->filtered = (int32_t)in_domain(first_measurement) * INT32_C({});",
                1u32 << exponent
            );
        }
        None => out.push_str("    (void)first_measurement;\n"),
    }
    let _ = write!(
        out,
        "}}\n\nint16_t {prefix}_step({prefix}_state *state, int16_t set_point, int16_t measurement)\n{{\n\
         \x20   int16_t error;\n    int32_t sum, increment, room;\n"
    );
    if filter.is_some() {
        out.push_str("    int16_t smooth, slope;\n");
    }
    let _ = write!(
        out,
        "\n    set_point = in_domain(set_point);\n    measurement = in_domain(measurement);\n\
         \x20   error = (int16_t)({error});\n\
         \x20   sum = INT32_C({kp}) * error + (int32_t)((uint32_t)state->integral >> {down});\n",
        kp = law.kp,
        down = 16 - bits,
    );
    if let Some(exponent) = filter {
        let _ = write!(
            out,
            "\n    /* The derivative acts on the measurement, through a filter that keeps its residue. */\n\
             \x20   smooth = (int16_t)(state->filtered >> {exponent});\n\
             \x20   slope = (int16_t)({slope});\n\
             \x20   state->filtered = state->filtered {settle} slope;\n\
             \x20   sum += INT32_C({kd}) * slope;\n",
            kd = law.kd,
        );
    }
    let floor = i64::from(law.lo) << 16;
    let ceiling = (i64::from(law.hi) << 16) | 0xffff;
    let _ = write!(
        out,
        "\n    /* The integrator moves on for the next sample, confined to the limits; its room either way cannot overflow. */\n\
         \x20   increment = INT32_C({ki}) * error;\n\
         \x20   room = INT32_C({ceiling}) - state->integral;\n\
         \x20   if (increment > room) increment = room;\n\
         \x20   room = INT32_C({floor}) - state->integral;\n\
         \x20   if (increment < room) increment = room;\n\
         \x20   state->integral += increment;\n\n\
         \x20   sum >>= {bits};\n\
         \x20   if (sum < {lo}) return {lo};\n\
         \x20   if (sum > {hi}) return {hi};\n\
         \x20   return (int16_t)sum;\n}}\n",
        ki = law.ki,
        lo = law.lo,
        hi = law.hi,
    );
    out
}
