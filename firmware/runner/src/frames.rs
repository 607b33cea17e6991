//! How much stack each function takes for itself, without its return address.

use crate::image::tool;
use crate::target::Target;
use std::collections::BTreeMap;
use std::path::Path;

/// Bytes by function; an error where its calls cannot be followed.
pub type Frames = BTreeMap<String, Result<u32, String>>;

/// From the instructions of the 8-bit target, whose code generator writes no frame sizes: a byte for each register pushed,
/// and what the prologue then takes off the stack pointer through the register pair r28.
pub fn by_prologue(disassembly: &str) -> Result<Frames, String> {
    let mut frames = Frames::new();
    let mut function = String::new();
    // After the stack pointer was read: the low byte of what is taken off it, once that is known.
    let mut opened: Option<Option<u32>> = None;
    for line in disassembly.lines() {
        if let Some((_, name)) = line.split_once(" <").filter(|_| line.ends_with(">:")) {
            function = name.trim_end_matches(">:").to_owned();
            opened = None;
            continue;
        }
        // address: bytes, mnemonic, operands ; remark
        let mut columns = line.split('\t').skip(2);
        let (Some(mnemonic), operands) = (columns.next(), columns.next().unwrap_or("")) else {
            continue;
        };
        let entry = frames.entry(function.clone()).or_insert(Ok(0));
        let Ok(frame) = entry else { continue };
        let operand = |register: &str| -> Option<u32> {
            let digits = operands.strip_prefix(register)?.trim().strip_prefix("0x")?;
            u32::from_str_radix(digits, 16).ok()
        };
        match mnemonic.trim() {
            "icall" | "eicall" | "ijmp" | "eijmp" => {
                *entry = Err(format!("{function} calls through a pointer"));
            }
            "push" => *frame += 1,
            "in" if operand("r28,") == Some(0x3d) => opened = Some(None),
            "sbiw" => {
                if let (Some(None), Some(bytes)) = (opened, operand("r28,")) {
                    *frame += bytes;
                    opened = None;
                }
            }
            "subi" => {
                if let (Some(None), Some(low)) = (opened, operand("r28,")) {
                    opened = Some(Some(low));
                }
            }
            "sbci" => {
                if let (Some(Some(low)), Some(high)) = (opened, operand("r29,")) {
                    *frame += high << 8 | low;
                    opened = None;
                }
            }
            _ => {}
        }
    }
    if frames.is_empty() {
        return Err("a disassembly without functions".to_owned());
    }
    Ok(frames)
}

/// As the compiler left them in a section.
pub fn by_section(
    target: Target,
    image: &Path,
    names: &BTreeMap<u64, String>,
) -> Result<Frames, String> {
    // The section holds an address of the target's width and a number in base 128 for each function.
    let text = tool("llvm-objdump", &["-s", "-j", ".stack_sizes"], image)?;
    let mut bytes = Vec::new();
    for line in text.lines() {
        let mut fields = line.split_whitespace();
        if fields
            .next()
            .is_none_or(|address| u64::from_str_radix(address, 16).is_err())
        {
            continue;
        }
        // Four groups of four bytes, then the same as characters.
        let hexadecimal: String = line
            .trim_start()
            .split_once(' ')
            .map_or("", |(_, rest)| rest)
            .chars()
            .take(35)
            .collect();
        let digits: Vec<u8> = hexadecimal.bytes().filter(u8::is_ascii_hexdigit).collect();
        bytes.extend(
            digits
                .chunks_exact(2)
                .filter_map(|pair| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()),
        );
    }
    let width = if target == Target::Msp430 { 2 } else { 4 };
    let mut frames = Frames::new();
    let mut rest = &bytes[..];
    while rest.len() > width {
        let address = rest[..width]
            .iter()
            .rev()
            .fold(0, |sum, byte| sum << 8 | u64::from(*byte))
            & !u64::from(target == Target::Thumbv6m);
        rest = &rest[width..];
        let (mut size, mut shift) = (0, 0);
        while let [byte, after @ ..] = rest {
            size |= u32::from(byte & 0x7f) << shift;
            shift += 7;
            rest = after;
            if byte & 0x80 == 0 {
                break;
            }
        }
        let name = names
            .get(&address)
            .ok_or_else(|| format!("a frame size for {address:#x}, where no function begins"))?;
        frames.insert(name.clone(), Ok(size));
    }
    Ok(frames)
}

#[cfg(test)]
mod tests {
    use super::by_prologue;

    /// Pushes, a small and a large frame, later arithmetic on the same registers, a routine without a frame.
    #[test]
    fn frames_of_the_8_bit_target_are_what_prologues_take() {
        let text = "00000010 <small>:\n  10:\tcf 93       \tpush\tr28\n  12:\tdf 93       \tpush\tr29\n  \
            14:\tcd b7       \tin\tr28, 0x3d\t; 61\n  16:\t61 97       \tsbiw\tr28, 0x11\t; 17\n  \
            18:\t21 97       \tsbiw\tr28, 0x01\t; 1\n\n00000020 <large>:\n  20:\tcd b7       \tin\tr28, 0x3d\t; 61\n  \
            22:\tc3 56       \tsubi\tr28, 0x63\t; 99\n  24:\td1 40       \tsbci\tr29, 0x01\t; 1\n\n\
            00000030 <leaf>:\n  30:\t08 95       \tret\n";
        let frames = by_prologue(text).expect("frames");
        let frames: Vec<(&str, u32)> = frames
            .iter()
            .map(|(name, bytes)| (name.as_str(), *bytes.as_ref().expect("a frame")))
            .collect();
        assert_eq!(
            frames,
            [("large", 256 + 99), ("leaf", 0), ("small", 2 + 17)]
        );
        let indirect =
            "00000010 <f>:\n  10:\t09 95       \ticall\n  12:\tcf 93       \tpush\tr28\n";
        assert_eq!(
            by_prologue(indirect).expect("a function")["f"],
            Err("f calls through a pointer".to_owned())
        );
        assert!(by_prologue("").is_err());
    }
}
