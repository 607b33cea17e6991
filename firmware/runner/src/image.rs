//! What is in an image: symbols, the code a function reaches, sections, stack.

use crate::frames::{self, Frames};
use crate::target::Target;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

/// What a tool says of an image.
pub fn tool(name: &str, arguments: &[&str], image: &Path) -> Result<String, String> {
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
    frames: Frames,
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
        let disassembly = tool(disassembler, options, image)?;
        for line in disassembly.lines() {
            let Some((address, instruction)) = line.split_once(':') else {
                continue;
            };
            let Ok(address) = u64::from_str_radix(address.trim(), 16) else {
                continue;
            };
            let Some(within) = of(address) else { continue };
            let goal = match target {
                Target::Msp430 => msp430_goal(instruction),
                Target::Avr => avr_goal(instruction),
                Target::Thumbv6m => annotated_goal(instruction),
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
            frames: match target {
                Target::Avr => frames::by_prologue(&disassembly)?,
                _ => frames::by_section(target, image, &names)?,
            },
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

    /// Deepest stack from `function` down by frame sizes, return addresses included; assembly routines count what they
    /// push on the 8-bit target, elsewhere their return address only. An error when calls form a circle or go through a
    /// pointer.
    pub fn stack(&self, function: &str) -> Result<u32, String> {
        fn deepest(code: &Code, function: &str, path: &mut Vec<String>) -> Result<u32, String> {
            if path.iter().any(|above| above == function) {
                return Err(format!("{function} calls itself"));
            }
            path.push(function.to_owned());
            let mut below = 0;
            for callee in code.calls.get(function).into_iter().flatten() {
                below = below.max(deepest(code, callee, path)?);
            }
            path.pop();
            let own = code.frames.get(function).cloned().unwrap_or(Ok(0))?;
            Ok(below + own + code.target.return_address())
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

/// `rjmp .+12 ; 0x1234 <name+0x8>`: the address, because the name may be a constant of the linker; loads and stores carry
/// remarks too.
fn avr_goal(instruction: &str) -> Option<Goal> {
    // bytes, mnemonic, operands, remark
    let mnemonic = instruction.split('\t').nth(2)?.trim();
    if !(mnemonic.ends_with("call") || mnemonic.ends_with("jmp") || mnemonic.starts_with("br")) {
        return None;
    }
    let (_, remark) = instruction.split_once("; 0x")?;
    let digits = remark.split_whitespace().next()?;
    u64::from_str_radix(digits, 16).ok().map(Goal::Address)
}

/// `bl 0x38c <name>`.
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
