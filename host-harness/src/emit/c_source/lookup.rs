//! The lookups in C.

use super::{Refusal, integer, refuse};
use crate::tablegen::Layout;
use sensor_math::table::Jump;
use std::fmt::Write;

/// Neighbouring knots differ by no more than this.
const DIFFERENCE_MAX: i32 = sensor_math::table::DIFFERENCE_MAX as i32;

fn check_knots(knots: &[i16], needed: usize) -> Result<(), Refusal> {
    if knots.len() < needed {
        refuse(format!("{} knots; this range needs {needed}", knots.len()))?;
    }
    for pair in knots.windows(2) {
        if (i32::from(pair[1]) - i32::from(pair[0])).abs() > DIFFERENCE_MAX {
            refuse(format!(
                "knots {} and {} are too far apart; accepted: up to {DIFFERENCE_MAX}",
                pair[0], pair[1]
            ))?;
        }
    }
    Ok(())
}

pub(super) fn check(table: &Layout) -> Result<(), Refusal> {
    match table {
        Layout::Uniform {
            first,
            last,
            shift,
            knots,
        } => {
            if *shift > 15 || first > last {
                refuse(format!(
                    "codes {first}..={last} in steps of 2^{shift}; accepted: first <= last, shift up to 15"
                ))?;
            }
            check_knots(knots, usize::from((last - first) >> shift) + 2)
        }
        Layout::Zones {
            codes: (first, first_end, second_end, last),
            shifts: [one, two, three],
            knots,
        } => {
            if [one, two, three].iter().any(|shift| **shift > 15)
                || first > first_end
                || first_end > second_end
                || first > last
            {
                refuse(format!(
                    "zones {first}, {first_end}, {second_end}, {last} in steps of 2^{one}, 2^{two}, 2^{three}; \
                     accepted: boundaries in order, shifts up to 15"
                ))?;
            }
            if (first_end - first) % (1 << one) != 0 || (second_end - first_end) % (1 << two) != 0 {
                refuse("a zone is not a whole number of its steps long")?;
            }
            let (in_first, in_second) = (
                usize::from((first_end - first) >> one),
                usize::from((second_end - first_end) >> two),
            );
            let needed = if last < first_end {
                usize::from((last - first) >> one)
            } else if last < second_end {
                in_first + usize::from((last - first_end) >> two)
            } else {
                in_first + in_second + usize::from((last - second_end) >> three)
            };
            check_knots(knots, needed + 2)
        }
        Layout::Packed {
            first,
            origin,
            segments,
            shape,
            bytes,
            jumps,
        } => check_packed(*first, *origin, *segments, *shape, bytes, jumps),
    }
}

fn check_packed(
    first: u16,
    origin: i16,
    segments: u8,
    shape: u8,
    bytes: &[u8],
    jumps: &[Jump],
) -> Result<(), Refusal> {
    if segments == 0 {
        refuse("no segments; accepted: at least 1")?;
    }
    let codes = usize::from(segments).div_ceil(4);
    if bytes.len() < codes + usize::from(segments) {
        refuse(format!(
            "{} bytes; {segments} segments need {}",
            bytes.len(),
            codes + usize::from(segments)
        ))?;
    }
    let (mut offset, mut climb, mut exponent) = (0u32, 0u32, i32::from(shape >> 4));
    let mut open = jumps;
    for segment in 0..segments {
        if let [jump, rest @ ..] = open
            && jump.segment == segment
        {
            if segment % 4 != 0
                || u32::from(jump.offset) != offset
                || u32::from(jump.climb) != climb
                || i32::from(jump.exponent) != exponent
            {
                refuse(format!(
                    "the jump to segment {segment} does not stand at its start"
                ))?;
            }
            open = rest;
        }
        exponent +=
            [0, 1, -1, -2][usize::from(bytes[usize::from(segment / 4)] >> (segment % 4 * 2)) & 3];
        if !(0..=15).contains(&exponent) {
            refuse(format!(
                "segment {segment} spans 2^{exponent} codes; accepted: 1 to 2^15"
            ))?;
        }
        offset += 1 << exponent;
        climb += u32::from(bytes[codes + usize::from(segment)]);
    }
    if !open.is_empty() {
        refuse("jumps out of order or beyond the segments")?;
    }
    let height = (climb << (shape & 7)) as i32;
    let end = if shape & 8 == 0 {
        i32::from(origin) + height
    } else {
        i32::from(origin) - height
    };
    if u32::from(first) + offset > 1 << 16
        || i16::try_from(end).is_err()
        || climb << (shape & 7) > 0xffff
    {
        refuse("the segments leave the codes or the temperature word")?;
    }
    Ok(())
}

fn words(knots: &[i16]) -> String {
    let mut out = String::new();
    for line in knots.chunks(10) {
        let line: Vec<String> = line.iter().map(|knot| integer(*knot)).collect();
        let _ = writeln!(out, "    {},", line.join(", "));
    }
    out
}

pub(super) fn text(prefix: &str, upper: &str, table: &Layout) -> String {
    match table {
        Layout::Uniform {
            first,
            last,
            shift,
            knots,
        } => {
            let mut out = knots_array(upper, knots);
            out.push_str(&between(upper, *shift));
            let _ = write!(
                out,
                "int16_t {prefix}_temperature(uint16_t code)\n{{\n{clamp}\
                 \x20   code = (uint16_t)(code - {first}u);\n\
                 \x20   return between((uint16_t)(code >> {shift}), (uint16_t)(code & {mask}u));\n}}\n\n",
                clamp = clamp(*first, *last),
                mask = (1u32 << shift) - 1,
            );
            out
        }
        Layout::Zones {
            codes: (first, first_end, second_end, last),
            shifts: [one, two, three],
            knots,
        } => {
            let top = *one.max(two).max(three);
            let in_first = (first_end - first) >> one;
            let before = in_first + ((second_end - first_end) >> two);
            let zone = |start: u16, segments: u16, shift: u32| {
                let offset = format!("(uint16_t)(code - {start}u)");
                format!(
                    "between((uint16_t)({segments}u + ({offset} >> {shift})), (uint16_t)(({offset} & {mask}u) << {up}))",
                    mask = (1u32 << shift) - 1,
                    up = top - shift,
                )
            };
            let mut out = knots_array(upper, knots);
            out.push_str(&between(upper, top));
            let _ = write!(
                out,
                "int16_t {prefix}_temperature(uint16_t code)\n{{\n{}",
                clamp(*first, *last)
            );
            if first_end > first {
                let _ = writeln!(
                    out,
                    "    if (code < {first_end}u)\n        return {};",
                    zone(*first, 0, *one)
                );
            }
            if second_end > first_end {
                let _ = writeln!(
                    out,
                    "    if (code < {second_end}u)\n        return {};",
                    zone(*first_end, in_first, *two)
                );
            }
            let _ = write!(
                out,
                "    return {};\n}}\n\n",
                zone(*second_end, before, *three)
            );
            out
        }
        Layout::Packed {
            first,
            origin,
            segments,
            shape,
            bytes,
            jumps,
        } => packed(
            prefix, upper, *first, *origin, *segments, *shape, bytes, jumps,
        ),
    }
}

/// To the range of the table; a comparison that cannot be true would be a warning.
fn clamp(first: u16, last: u16) -> String {
    let mut out = String::new();
    if first > 0 {
        let _ = writeln!(out, "    if (code < {first}u) code = {first}u;");
    }
    if last < u16::MAX {
        let _ = writeln!(out, "    if (code > {last}u) code = {last}u;");
    }
    out
}

fn knots_array(upper: &str, knots: &[i16]) -> String {
    format!(
        "static const int16_t knots[{}] {upper}_IN_FLASH = {{\n{}}};\n\n",
        knots.len(),
        words(knots)
    )
}

/// Between two knots: the difference fits 15 bits, so its product with a fraction below 2^15 fits 32.
fn between(upper: &str, shift: u32) -> String {
    let rise = if shift == 0 {
        "    (void)fraction;\n    return left;\n".to_owned()
    } else {
        format!(
            "    int16_t rise = (int16_t)({upper}_WORD(&knots[segment + 1u]) - left);\n\
             \x20   return (int16_t)(left + (int16_t)(((int32_t)rise * (int32_t)fraction + INT32_C({half})) >> {shift}));\n",
            half = 1u32 << (shift - 1),
        )
    };
    format!(
        "/* On the line between knot `segment` and the next, rounded to nearest. */\n\
         static int16_t between(uint16_t segment, uint16_t fraction)\n{{\n\
         \x20   int16_t left = {upper}_WORD(&knots[segment]);\n{rise}}}\n\n"
    )
}

#[expect(
    clippy::too_many_arguments,
    reason = "one variant of the table, spread out"
)]
fn packed(
    prefix: &str,
    upper: &str,
    first: u16,
    origin: i16,
    segments: u8,
    shape: u8,
    bytes: &[u8],
    jumps: &[Jump],
) -> String {
    let mut out = format!(
        "static const uint8_t packed[{}] {upper}_IN_FLASH = {{\n",
        bytes.len()
    );
    for line in bytes.chunks(16) {
        let line: Vec<String> = line.iter().map(u8::to_string).collect();
        let _ = writeln!(out, "    {},", line.join(", "));
    }
    out.push_str("};\n\n");
    let (unit, exponent) = (shape & 7, shape >> 4);
    let codes = usize::from(segments).div_ceil(4);
    let _ = write!(
        out,
        "int16_t {prefix}_temperature(uint16_t code)\n{{\n\
         \x20   uint16_t left = code < {first}u ? 0u : (uint16_t)(code - {first}u);\n\
         \x20   uint16_t climb = 0u;\n    uint8_t segment = 0u;\n    uint8_t exponent = {exponent}u;\n\n"
    );
    if first == 0 {
        out = out.replace("code < 0u ? 0u : (uint16_t)(code - 0u)", "code");
    }
    // The furthest jump that the code has passed; the offsets rise.
    for (index, jump) in jumps.iter().enumerate().rev() {
        let Jump {
            offset,
            climb,
            segment,
            exponent: before,
        } = jump;
        let otherwise = if index + 1 == jumps.len() {
            ""
        } else {
            "else "
        };
        let _ = write!(
            out,
            "    {otherwise}if (left >= {offset}u) {{\n        left = (uint16_t)(left - {offset}u);\n        climb = {climb}u;\n        segment = {segment}u;\n        exponent = {before}u;\n    }}\n"
        );
    }
    let _ = write!(
        out,
        "    for (; segment < {segments}u; segment++) {{\n\
         \x20       uint8_t change = (uint8_t)(((unsigned){upper}_BYTE(&packed[segment / 4u]) >> (segment % 4u * 2u)) & 3u);\n\
         \x20       exponent = (uint8_t)(change < 2u ? exponent + change : exponent + 1u - change);\n\
         \x20       uint16_t width = (uint16_t)(UINT16_C(1) << exponent);\n\
         \x20       uint8_t difference = {upper}_BYTE(&packed[{codes}u + segment]);\n\
         \x20       if (left < width) {{\n\
         \x20           uint32_t rise = (uint32_t)difference << {unit};\n\
         \x20           climb = (uint16_t)(((uint32_t)climb << {unit}) + ((rise * left + (width >> 1)) >> exponent));\n\
         \x20           return (int16_t)({origin} {sign} climb);\n\
         \x20       }}\n\
         \x20       left = (uint16_t)(left - width);\n\
         \x20       climb = (uint16_t)(climb + difference);\n\
         \x20   }}\n\
         \x20   climb = (uint16_t)((uint32_t)climb << {unit});\n\
         \x20   return (int16_t)({origin} {sign} climb);\n}}\n\n",
        origin = format_args!(
            "INT32_C({})",
            if origin < 0 {
                format!("-{}", -i32::from(origin))
            } else {
                origin.to_string()
            }
        ),
        sign = if shape & 8 == 0 { "+" } else { "-" },
    );
    out
}
