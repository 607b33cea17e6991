//! What is in an image: symbols, the code a function reaches, sections, stack.

use crate::target::Target;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

fn tool(name: &str, arguments: &[&str], image: &Path) -> Result<String, String> {
    let output = Command::new(name)
        .args(arguments)
        .arg(image)
        .output()
        .map_err(|error| format!("{name}: {error}"))?;
    if !output.status.success() {
        return Err(format!(
            "{name} {}: {}",
            image.display(),
            String::from_utf8_lossy(&output.stderr).trim()
        ));
    }
    Ok(String::from_utf8_lossy(&output.stdout).into_owned())
}

/// The address of a symbol.
pub fn address(image: &Path, symbol: &str) -> Result<u64, String> {
    symbols(image)?
        .into_iter()
        .find(|(_, name)| name == symbol)
        .map(|(address, _)| address)
        .ok_or_else(|| format!("{} has no symbol {symbol}", image.display()))
}

/// All symbols by address, several to an address possible.
pub fn symbols(image: &Path) -> Result<Vec<(u64, String)>, String> {
    let text = tool("llvm-nm", &["-n"], image)?;
    let mut symbols = Vec::new();
    for line in text.lines() {
        let fields: Vec<&str> = line.split_whitespace().collect();
        if let [address, kind, name] = fields[..] {
            if name.starts_with(['$', '.']) || matches!(kind, "a" | "A") || name == "__stack" {
                continue;
            }
            symbols.push((
                u64::from_str_radix(address, 16).map_err(|error| error.to_string())?,
                name.to_owned(),
            ));
        }
    }
    Ok(symbols)
}

/// Sections that occupy flash (with the initial values of RAM) and RAM, in bytes.
#[derive(Clone, Copy, Debug, Default)]
pub struct Sizes {
    /// Code, constants and initial values.
    pub flash: u64,
    /// Static variables.
    pub ram: u64,
}

/// Reads the section sizes.
pub fn sizes(image: &Path) -> Result<Sizes, String> {
    let text = tool("llvm-size", &["-A"], image)?;
    let mut sizes = Sizes::default();
    for line in text.lines() {
        let fields: Vec<&str> = line.split_whitespace().collect();
        let [section, size, _] = fields[..] else {
            continue;
        };
        let Ok(size) = size.parse::<u64>() else {
            continue;
        };
        match section {
            ".text" | ".rodata" | ".vectors" | ".reset" => sizes.flash += size,
            ".data" => {
                sizes.flash += size;
                sizes.ram += size;
            }
            ".bss" | ".noinit" => sizes.ram += size,
            _ => {}
        }
    }
    Ok(sizes)
}

/// Functions, how large they are, and which they call.
pub struct Code {
    sizes: BTreeMap<String, u64>,
    calls: BTreeMap<String, BTreeSet<String>>,
    frames: BTreeMap<String, u32>,
    target: Target,
}

impl Code {
    /// Disassembles an image.
    pub fn read(target: Target, image: &Path) -> Result<Self, String> {
        let symbols = symbols(image)?;
        let mut names: BTreeMap<u64, String> = BTreeMap::new();
        for (address, name) in &symbols {
            // The name that something asks for first: ours before a library's alias.
            names.entry(*address).or_insert_with(|| name.clone());
        }
        let mut sizes = BTreeMap::new();
        let addresses: Vec<u64> = names.keys().copied().collect();
        for pair in addresses.windows(2) {
            sizes.insert(names[&pair[0]].clone(), pair[1] - pair[0]);
        }
        let of = |address: u64| {
            names
                .range(..=address)
                .next_back()
                .map(|(_, name)| name.clone())
        };
        let disassembler = if target == Target::Avr {
            "avr-objdump"
        } else {
            "llvm-objdump"
        };
        let options: &[&str] = if target == Target::Avr {
            &["-d"]
        } else {
            &["-d", "--no-show-raw-insn"]
        };
        let mut calls: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        let mut upper: Option<(String, u64)> = None;
        for line in tool(disassembler, options, image)?.lines() {
            let Some((address, instruction)) = line.split_once(':') else {
                continue;
            };
            let Ok(address) = u64::from_str_radix(address.trim(), 16) else {
                continue;
            };
            let Some(within) = of(address) else { continue };
            let goal = match target {
                Target::Msp430 => msp430_goal(instruction),
                Target::Avr | Target::Thumbv6m => annotated_goal(instruction),
                Target::Riscv32 => riscv_goal(instruction, address, &mut upper)
                    .map(Goal::Address)
                    .or_else(|| annotated_goal(instruction)),
            };
            let goal = match goal {
                Some(Goal::Address(address)) => of(address),
                Some(Goal::Name(name)) => {
                    // The disassembler may name an alias at the same address.
                    let address = symbols
                        .iter()
                        .find(|(_, symbol)| *symbol == name)
                        .map(|(address, _)| *address);
                    address.and_then(of)
                }
                None => None,
            };
            if let Some(goal) = goal.filter(|goal| *goal != within) {
                calls.entry(within).or_default().insert(goal);
            }
        }
        Ok(Self {
            sizes,
            calls,
            frames: frames(target, image, &names)?,
            target,
        })
    }

    /// Whether a symbol exists.
    pub fn has(&self, function: &str) -> bool {
        self.sizes.contains_key(function)
    }

    /// Every function reached from `function`, itself included.
    pub fn reach(&self, function: &str) -> BTreeSet<String> {
        let mut reached = BTreeSet::new();
        let mut open = vec![function.to_owned()];
        while let Some(next) = open.pop() {
            if reached.insert(next.clone()) {
                open.extend(self.calls.get(&next).into_iter().flatten().cloned());
            }
        }
        reached
    }

    /// Bytes of code reached from any of `functions`, helpers included, each once.
    pub fn bytes(&self, functions: &[&str]) -> u64 {
        let reached: BTreeSet<String> = functions
            .iter()
            .flat_map(|function| self.reach(function))
            .collect();
        reached
            .iter()
            .filter_map(|function| self.sizes.get(function))
            .sum()
    }

    /// Deepest stack from `function` down by the compiler's frame sizes, return addresses included; assembly routines
    /// count their return address only. `None` when the calls form a circle, or where there are no frame sizes.
    pub fn stack(&self, function: &str) -> Option<u32> {
        if self.frames.is_empty() {
            return None;
        }
        fn deepest(code: &Code, function: &str, path: &mut Vec<String>) -> Option<u32> {
            if path.iter().any(|above| above == function) {
                return None;
            }
            path.push(function.to_owned());
            let mut below = 0;
            for callee in code.calls.get(function).into_iter().flatten() {
                below = below.max(deepest(code, callee, path)?);
            }
            path.pop();
            Some(
                below
                    + code.frames.get(function).copied().unwrap_or(0)
                    + code.target.return_address(),
            )
        }
        deepest(self, function, &mut Vec::new())
    }
}

enum Goal {
    Address(u64),
    Name(String),
}

/// `call #16770`, `br #16770`: decimal, possibly negative as a 16-bit number.
fn msp430_goal(instruction: &str) -> Option<Goal> {
    let mut fields = instruction.split_whitespace();
    if !matches!(fields.next()?, "call" | "br") {
        return None;
    }
    let number: i64 = fields.next()?.strip_prefix('#')?.parse().ok()?;
    Some(Goal::Address(number as u16 as u64))
}

/// `bl 0x38c <name>`, `rjmp .+12 ; 0x1234 <name+0x8>`.
fn annotated_goal(instruction: &str) -> Option<Goal> {
    let (_, rest) = instruction.split_once('<')?;
    let (name, _) = rest.split_once('>')?;
    // Loads from a literal pool are annotated too.
    if name.starts_with('$') {
        return None;
    }
    Some(Goal::Name(
        name.split_once('+')
            .map_or(name, |(name, _)| name)
            .to_owned(),
    ))
}

/// `auipc ra, 0x1` followed by `jalr 352(ra)`.
fn riscv_goal(instruction: &str, address: u64, upper: &mut Option<(String, u64)>) -> Option<u64> {
    let number = |text: &str| -> Option<i64> {
        let (sign, digits) = text
            .strip_prefix('-')
            .map_or((1, text), |digits| (-1, digits));
        let value = digits.strip_prefix("0x").map_or_else(
            || digits.parse().ok(),
            |hex| i64::from_str_radix(hex, 16).ok(),
        );
        value.map(|value: i64| value * sign)
    };
    let mut fields = instruction.split_whitespace();
    match fields.next()? {
        "auipc" => {
            let register = fields.next()?.trim_end_matches(',').to_owned();
            let pages = number(fields.next()?)?;
            *upper = Some((register, address.wrapping_add((pages << 12) as u64)));
            None
        }
        "jalr" | "jr" => {
            let operand = fields.find(|field| field.contains('('))?;
            let (offset, register) = operand.trim_end_matches(')').split_once('(')?;
            let (held, base) = upper.take()?;
            (held == register)
                .then(|| base.wrapping_add(number(offset).unwrap_or(0) as u64) & 0xffff_ffff)
        }
        _ => None,
    }
}

/// Frame sizes by function, as the compiler left them; none on the 8-bit target, whose code generator writes none.
fn frames(
    target: Target,
    image: &Path,
    names: &BTreeMap<u64, String>,
) -> Result<BTreeMap<String, u32>, String> {
    if target == Target::Avr {
        return Ok(BTreeMap::new());
    }
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
    let mut frames = BTreeMap::new();
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
        frames.insert(name.clone(), size);
    }
    Ok(frames)
}
