//! `hushloop table DESIGN`: the lookup table alone, with its proven error.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::builder::{PossibleValuesParser, TypedValueParser as _};
use serde_json::json;

use super::Failure;
use super::out::say;
use super::place;
use super::text::{columns, paragraph};
use crate::design::{self, Encoding, keys};
use crate::tablegen::{self, Format, Request, Table};

/// Arguments of `hushloop table`.
#[derive(clap::Args)]
pub struct Args {
    /// Design file; its sensor sections are enough
    design: PathBuf,
    /// Print the table itself, instead of what is known of it
    #[arg(long, value_enum, conflicts_with = "json")]
    format: Option<Format>,
    /// Largest error at any code, degrees Celsius [default: the design's]
    #[arg(long, value_name = "CELSIUS", allow_negative_numbers = true)]
    error_celsius: Option<f64>,
    /// Layout of the table [default: the design's]
    #[arg(long, value_parser = encodings())]
    encoding: Option<Encoding>,
    /// Places to begin the scan of a packed table, 6 bytes each
    #[arg(long, default_value_t = 0, value_name = "0..=3")]
    jumps: usize,
    /// Write to this file instead of standard output
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Machine-readable output
    #[arg(long)]
    json: bool,
}

fn encodings() -> impl clap::builder::TypedValueParser<Value = Encoding> {
    PossibleValuesParser::new(keys::ENCODING.list().map(|(word, _)| word))
        .map(|word| keys::ENCODING.value(&word).expect("one of the words"))
}

/// Runs the command.
///
/// # Errors
///
/// A design that is wrong, a range the converter cannot see, an error that no table can keep to, or a
/// file that cannot be written. Then nothing is written.
pub fn run(args: &Args) -> Result<ExitCode, Failure> {
    let sensing = design::load_sensing(&args.design)?;
    let mut request = Request::of(sensing.sensor, &sensing.table);
    request.jumps = args.jumps;
    if let Some(error_celsius) = args.error_celsius {
        request.error_celsius = error_celsius;
    }
    if let Some(encoding) = args.encoding {
        request.encoding = encoding;
    }
    let table = tablegen::generate(&request)
        .map_err(|error| Failure::Refused(format!("{}: {error}", args.design.display())))?;
    let text = match args.format {
        Some(format) => tablegen::render(&table, format),
        None if args.json => format!("{:#}\n", facts(&table)),
        None => report(&table),
    };
    match &args.out {
        None => say(&text)?,
        Some(path) => place::file(path, &text)?,
    }
    Ok(ExitCode::SUCCESS)
}

/// What is known of a table, for machines.
fn facts(table: &Table) -> serde_json::Value {
    json!({
        "encoding": table.layout.encoding(),
        "bytes": table.layout.bytes(),
        "segments": table.layout.segments(),
        "fraction_bits": table.request.frac_bits,
        "error_celsius_wanted": table.request.error_celsius,
        "error_celsius_max": table.error_celsius_max,
        "worst_code": table.worst_code,
        "first_code": table.codes.first,
        "last_code": table.codes.last,
        "codes_walked": table.codes.count(),
        "open_code": table.limits.open(),
        "short_code": table.limits.short(),
        "bound_segments": table.bound_segments,
        "bound_ratio": table.bound_ratio(),
        "free_width_segments": table.free_width_segments,
        "free_width_bound_ratio": table.free_width_bound_ratio(),
        "fraction_of_codes_below_half_lsb": table.below_half_step,
    })
}

/// The same for people.
fn report(table: &Table) -> String {
    let request = &table.request;
    let beyond = |threshold: u16, first: u16| {
        if threshold < first {
            "or less"
        } else {
            "or more"
        }
    };
    let first = table.codes.first;
    let (open, short) = (table.limits.open(), table.limits.short());
    let free = match (table.free_width_segments, table.free_width_bound_ratio()) {
        (Some(segments), Some(ratio)) => format!("{segments} with free widths, {ratio:.2} of it"),
        _ => "free widths: the rounding alone spends the error".to_owned(),
    };
    let mut text = columns(&[
        ["encoding", table.layout.encoding()],
        [
            "bytes",
            &format!("{}, header included", table.layout.bytes()),
        ],
        [
            "largest error",
            &format!(
                "{:.4} degC at code {} (wanted: {}), found by looking up all {} codes",
                table.error_celsius_max,
                table.worst_code,
                request.error_celsius,
                table.codes.count()
            ),
        ],
        [
            "range",
            &format!(
                "{} to {} degC, codes {} to {}",
                request.low_celsius, request.high_celsius, first, table.codes.last
            ),
        ],
        [
            "result",
            &format!("words of 1/{} degC", 1u32 << request.frac_bits),
        ],
        [
            "faults",
            &format!(
                "broken wire at code {open} {}, short at code {short} {}",
                beyond(open, first),
                beyond(short, first)
            ),
        ],
        [
            "segments",
            &format!(
                "{}, {:.2} of the asymptotic bound of {:.2}; {free}",
                table.layout.segments(),
                table.bound_ratio(),
                table.bound_segments
            ),
        ],
        [
            "converter",
            &format!(
                "at {:.1} % of the codes the wanted error is below half an ADC step; there a better table buys nothing",
                100.0 * table.below_half_step
            ),
        ],
    ]);
    text.push('\n');
    text += &paragraph(
        match table.layout.encoding() {
            "uniform" => {
                "The fastest lookup. `--encoding zones` takes nearly as little time and far fewer bytes."
            }
            "zones" => {
                "Recommended: constant time, nearly as fast as a uniform table. `--encoding smallest` saves more bytes, for a lookup that scans."
            }
            _ => {
                "The fewest bytes. The lookup scans its segments; `--encoding zones` takes constant time and is the better choice unless bytes are all that matters."
            }
        },
        "",
    );
    text
}
