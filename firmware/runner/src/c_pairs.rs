//! The C file pairs: written for the three cases, compiled for the host by two compilers with sanitizers, run there,
//! and compared with the Rust crates. `c_compilers` compiles the same files for the targets.

use crate::emit::c_source::{Action, Controller, Law, Limits, Table, emit};
use crate::report::Report;
use crate::tree::Tree;
use exercise::{cases, laws, tables};
use std::path::{Path, PathBuf};
use std::process::Command;

/// Random steps on the host.
const STEPS: u32 = 200_000;

fn limits() -> Limits {
    Limits {
        first: tables::FIRST,
        last: tables::LAST,
        low: 20,
        high: 1010,
        open_is_low: true,
    }
}

fn controllers() -> [Controller; 3] {
    let law = |settings: laws::Gains, filter_exponent: Option<u32>| Law {
        kp: settings.mantissas().kp,
        ki: settings.mantissas().ki,
        kd: if filter_exponent.is_none() {
            0
        } else {
            settings.mantissas().kd
        },
        gain_fraction_bits: laws::SP,
        filter_exponent,
        lo: settings.lo(),
        hi: settings.hi(),
        action: Action::Direct,
    };
    let heat = cases::HEAT_PID;
    let pair = |prefix: &str, law, table| Controller {
        prefix: prefix.to_owned(),
        title: format!("Case {prefix}"),
        law,
        table,
        limits: limits(),
        temperature_fraction_bits: 7,
        set_point: exercise::input::SET_POINT,
    };
    [
        pair(
            "cool_pi",
            law(cases::COOL_PI, None),
            Table::Uniform {
                codes: (tables::FIRST, tables::LAST),
                shift: tables::UNIFORM_SHIFT,
                knots: tables::UNIFORM_KNOTS.to_vec(),
            },
        ),
        pair(
            "cool_pid",
            law(cases::COOL_PID, Some(laws::K)),
            Table::Zones {
                codes: (
                    tables::FIRST,
                    tables::FIRST_END,
                    tables::SECOND_END,
                    tables::LAST,
                ),
                shifts: tables::ZONE_SHIFTS,
                knots: tables::ZONES_KNOTS.to_vec(),
            },
        ),
        pair(
            "heat_pid",
            Law {
                kp: heat.mantissas().kp,
                ki: heat.mantissas().ki,
                kd: heat.mantissas().kd,
                gain_fraction_bits: cases::HEAT_SP,
                filter_exponent: Some(cases::HEAT_K),
                lo: heat.lo(),
                hi: heat.hi(),
                action: Action::Reverse,
            },
            Table::Packed {
                first: cases::PACKED_FIRST,
                origin: cases::PACKED_ORIGIN,
                segments: cases::PACKED_SEGMENTS,
                shape: cases::PACKED_SHAPE,
                bytes: cases::PACKED_BYTES.to_vec(),
                jumps: vec![(
                    cases::PACKED_JUMP.offset,
                    cases::PACKED_JUMP.climb,
                    cases::PACKED_JUMP.segment,
                    cases::PACKED_JUMP.exponent,
                )],
            },
        ),
    ]
}

/// A program that repeats the inputs of `exercise` and prints its checksums.
fn driver(prefix: &str) -> String {
    format!(
        r#"#include <stdio.h>
#include "{prefix}.h"

static uint32_t sum;
static uint32_t random_state;

static void word(int16_t value) {{ sum = ((sum << 5) | (sum >> 27)) + (uint32_t)(uint16_t)value; }}
static void wide(int32_t value)
{{
    word((int16_t)(uint16_t)((uint32_t)value & 0xffffu));
    word((int16_t)(uint16_t)((uint32_t)value >> 16));
}}
static uint16_t random_word(void)
{{
    random_state ^= random_state << 13;
    random_state ^= random_state >> 17;
    random_state ^= random_state << 5;
    return (uint16_t)(random_state >> 8);
}}
static int16_t any_word(void)
{{
    uint16_t choice = random_word() & 15u;
    int16_t value = (int16_t)random_word();
    if (choice == 0) return INT16_MIN;
    if (choice == 1) return INT16_MAX;
    if (choice == 2) return 0;
    return choice < 8 ? (int16_t)(value >> 8) : value;
}}

int main(void)
{{
    {prefix}_state state;
    int16_t set_point = 0;
    uint32_t i;
    unsigned faults[4] = {{ 0, 0, 0, 0 }};
    for (i = 0; i < 65536u; i++) word({prefix}_temperature((uint16_t)i));
    printf("table %08lx\n", (unsigned long)sum);
    for (i = 0; i < 65536u; i++) faults[{prefix}_fault((uint16_t)i) & 3]++;
    printf("faults %u %u %u %u\n", faults[0], faults[1], faults[2], faults[3]);
    sum = 0;
    random_state = {seed}u;
    {prefix}_start(&state, 0);
    for (i = 0; i < {STEPS}u; i++) {{
        if ((i & 7u) == 0) set_point = any_word();
        word({prefix}_step(&state, set_point, any_word()));
        wide(state.integral);
    }}
    printf("run %08lx\n", (unsigned long)sum);
    return 0;
}}
"#,
        seed = laws::SEED,
    )
}

/// Writes the pairs and their drivers; returns the sources of the pairs.
pub fn write(tree: &Tree) -> Result<Vec<PathBuf>, String> {
    let directory = tree.output().join("c-source");
    std::fs::create_dir_all(&directory).map_err(|error| error.to_string())?;
    let mut sources = Vec::new();
    for controller in controllers() {
        let pair = emit(&controller).map_err(|refusal| refusal.to_string())?;
        let prefix = &controller.prefix;
        let put = |name: String, text: String| {
            std::fs::write(directory.join(name), text).map_err(|error| error.to_string())
        };
        put(format!("{prefix}.h"), pair.header)?;
        put(format!("{prefix}.c"), pair.source)?;
        put(format!("{prefix}_driver.c"), driver(prefix))?;
        sources.push(directory.join(format!("{prefix}.c")));
    }
    Ok(sources)
}

const WARNINGS: [&str; 9] = [
    "-std=c99",
    "-pedantic",
    "-Wall",
    "-Wextra",
    "-Werror",
    "-Wconversion",
    "-Wshadow",
    "-Wtype-limits",
    "-O2",
];

fn run_on_host(compiler: &str, sanitize: bool, source: &Path) -> Result<String, String> {
    let stem = source.with_extension("");
    let name = stem
        .file_name()
        .and_then(|name| name.to_str())
        .ok_or("a source has a name")?;
    let program = source.with_file_name(format!(
        "{name}-{compiler}{}",
        if sanitize { "-sanitized" } else { "" }
    ));
    let driver = source.with_file_name(format!("{name}_driver.c"));
    let object = program.with_extension("o");
    let mut options: Vec<&str> = Vec::new();
    if sanitize {
        options.extend([
            "-fsanitize=undefined,address",
            "-fno-sanitize-recover=all",
            "-g",
        ]);
    }
    let run = |command: &mut Command| {
        let output = command
            .output()
            .map_err(|error| format!("{compiler}: {error}"))?;
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        if output.status.success() {
            Ok(text)
        } else {
            Err(String::from_utf8_lossy(&output.stderr)
                .lines()
                .take(4)
                .collect::<Vec<_>>()
                .join(" | "))
        }
    };
    // The pair under every warning; the driver, which is ours alone, under none.
    run(Command::new(compiler)
        .args(WARNINGS)
        .args(&options)
        .arg("-c")
        .arg(source)
        .arg("-o")
        .arg(&object))?;
    run(Command::new(compiler)
        .arg("-std=c99")
        .args(&options)
        .arg(driver)
        .arg(&object)
        .arg("-o")
        .arg(&program))?;
    run(Command::new("timeout").arg("60").arg(&program))
}

/// Compares the C pairs with the Rust crates on the host.
pub fn check(sources: &[PathBuf], report: &mut Report) {
    let runs = cases::random_runs(STEPS);
    let walks = cases::every_word_of_each();
    let limits = limits();
    let good = limits.last - limits.first + 1;
    let (low, high) = (limits.low + 1, u16::MAX - limits.high + 1);
    let faults = [
        u32::from(good),
        u32::from(low),
        u32::from(high),
        65536 - u32::from(good) - u32::from(low) - u32::from(high),
    ];
    for (index, source) in sources.iter().enumerate() {
        let expected = format!(
            "table {:08x}\nfaults {} {} {} {}\nrun {:08x}\n",
            walks[index].0, faults[0], faults[1], faults[2], faults[3], runs[index].0
        );
        for compiler in ["gcc", "clang"] {
            for sanitize in [false, true] {
                let what = format!(
                    "{} by {compiler}{}: every 16-bit code, {STEPS} steps",
                    source.file_name().unwrap_or_default().to_string_lossy(),
                    if sanitize { " with sanitizers" } else { "" }
                );
                let result = run_on_host(compiler, sanitize, source).and_then(|got| {
                    if got == expected {
                        Ok(String::new())
                    } else {
                        Err(format!("got {got:?}, the Rust crates give {expected:?}"))
                    }
                });
                report.check(&what, result);
            }
        }
    }
}
