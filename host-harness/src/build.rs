//! The main job: from a design to everything that is written about it, all in memory.

use sensor_math::fault::FaultCode;

use crate::design::{Design, Sensing};
use crate::divider::budget::{Row, budget};
use crate::emit;
use crate::emit::cost::{self, LawForm, TableForm};
use crate::failure::Failure;
use crate::plan::Plan;
use crate::report::plot::{Line, chart, colour};
use crate::report::{self, Page};
use crate::simulate::{self, Response, Sample};
use crate::tablegen::{self, Layout, Request, Table};
use crate::verdict::{OverflowFigures, TableFigures, Verdict};
use crate::verify::overflow::intervals;
use crate::verify::{self, Effort, How};

/// A file to write: its name and its bytes.
pub type File = (&'static str, Vec<u8>);

/// Everything that the main job makes.
#[derive(Clone, Debug)]
pub struct Built {
    /// The verdict.
    pub verdict: Verdict,
    /// The files, complete.
    pub files: Vec<File>,
    /// What it costs on the targets measured: target, what, figure.
    pub costs: Vec<[String; 3]>,
}

/// Makes and proves the table of a design.
///
/// # Errors
///
/// A table that cannot exist: a range the converter cannot see, an error below the word's own rounding.
pub fn table(sensing: &Sensing) -> Result<Table, Failure> {
    let request = Request::of(sensing.sensor, &sensing.table);
    tablegen::generate(&request)
        .map_err(|error| Failure::Refused(format!("[table] cannot be made: {error}")))
}

/// The shipped thermometer over a design's table: a temperature word, or the fault.
///
/// # Errors
///
/// The fault that the code stands for.
pub fn read(table: &Table, code: u16) -> Result<i16, FaultCode> {
    match table.limits.fault(code) {
        Some(fault) => Err(fault),
        None => Ok(table.layout.lookup(code)),
    }
}

/// Runs the scenario with the shipped thermometer over the design's table.
#[must_use]
pub fn respond(design: &Design, table: &Table) -> Response {
    simulate::run(design, &Plan::new(design), &|code| read(table, code))
}

/// Makes everything.
///
/// # Errors
///
/// A table that cannot exist.
pub fn build(design: &Design) -> Result<Built, Failure> {
    let table = table(&design.sensing)?;
    let plan = Plan::new(design);
    let response = simulate::run(design, &plan, &|code| read(&table, code));
    let truth = crate::reference::sensor::Truth::new(&design.sensing.sensor);
    // the walk over every code against the independent curve: the table's error is not taken from its generator
    let codes: Vec<(u16, f64, f64)> = (table.codes.first..=table.codes.last)
        .map(|code| {
            let celsius = truth.celsius(code);
            (code, celsius, table.celsius(code) - celsius)
        })
        .collect();
    let verdict = Verdict::judge(
        design,
        TableFigures {
            encoding: table.layout.encoding().to_owned(),
            bytes: table.layout.bytes(),
            error_celsius_max: codes.iter().map(|c| c.2.abs()).fold(0.0, f64::max),
            codes: codes.len() as u32,
        },
        overflow(design),
        &response,
    );
    let costs = costs(design, &table);
    // claims about a loop that must not be flashed are worth no one's seconds
    let known = if verdict.good {
        claims(design)
    } else {
        Vec::new()
    };
    let firmware = emit::rust(design, &plan, &table, &verdict);
    let page = report::page(&Page {
        design,
        verdict: &verdict,
        response: &response,
        codes: &codes,
        claims: &known,
        costs: &costs,
        budget_svg: Some(&budget_chart(design)),
        firmware: &firmware,
        plan: &plan,
    });
    let pair = emit::c(design, &plan, &table, &verdict);
    let files = vec![
        ("firmware.c", pair.source.into_bytes()),
        ("firmware.h", pair.header.into_bytes()),
        ("firmware.rs", firmware.into_bytes()),
        ("report.html", page.into_bytes()),
        ("trace.csv", trace(&response)),
        ("verdict.json", verdict.to_json().into_bytes()),
    ];
    Ok(Built {
        verdict,
        files,
        costs,
    })
}

fn trace(response: &Response) -> Vec<u8> {
    let mut out = csv::Writer::from_writer(Vec::new());
    let head = [
        "time_s",
        "set_point_celsius",
        "celsius",
        "code",
        "reading_celsius",
        "p_percent",
        "i_percent",
        "d_percent",
        "demand_percent",
        "duty_percent",
        "fan_speed_percent",
        "real_celsius",
        "real_demand_percent",
    ];
    let row = |a: &Sample, b: &Sample| {
        let percent = |x: f64| format!("{:.4}", 100.0 * x);
        let degrees = |x: f64| format!("{x:.4}");
        [
            format!("{:.3}", a.time_s),
            degrees(a.set_point),
            degrees(a.celsius),
            a.code.to_string(),
            degrees(a.reading),
            percent(a.p),
            percent(a.i),
            percent(a.d),
            percent(a.demand),
            percent(a.duty),
            percent(a.fan_speed),
            degrees(b.celsius),
            percent(b.demand),
        ]
    };
    out.write_record(head).expect("writing to memory");
    for (a, b) in response.fixed.iter().zip(&response.real) {
        out.write_record(row(a, b)).expect("writing to memory");
    }
    out.into_inner().expect("writing to memory")
}

/// The interval run over the law's own source.
fn overflow(design: &Design) -> OverflowFigures {
    let record = intervals(&design.control.integers);
    OverflowFigures {
        possible: !record.failures.is_empty(),
        operations: record.operations,
    }
}

/// What is claimed for this design, in words for the report: claim, how it is known, whether it holds.
///
/// # Panics
///
/// Never: no solver is run, and the certificate that the program was compiled with is whole.
fn claims(design: &Design) -> Vec<(String, String, bool)> {
    let list = verify::claims(&design.control.integers, &Effort::quick(), &|_, _, _| {})
        .expect("the certificate that was compiled in is whole");
    list.into_iter()
        .map(|c| {
            let known = match c.how {
                How::NotClaimed => format!("not claimed: {}", c.note),
                how => format!("{} ({} cases: {})", how.text(), c.cases, c.note),
            };
            (c.claim, known, c.holds.unwrap_or(true))
        })
        .collect()
}

/// What the law and the lookup cost on the targets measured, then the whole application of a demo design: target, what,
/// figure.
fn costs(design: &Design, table: &Table) -> Vec<[String; 3]> {
    let law = if design.control.integers.has_derivative() {
        LawForm::Pid
    } else {
        LawForm::Pi
    };
    let form = match table.layout {
        Layout::Uniform { .. } => TableForm::Uniform,
        Layout::Zones { .. } => TableForm::Zones,
        Layout::Packed { .. } => TableForm::Packed,
    };
    let own = cost::costs(law, form, table.layout.bytes() as u32)
        .into_iter()
        .map(|c| ("law and lookup a sample, mean (worst); flash; RAM", c));
    let whole = cost::application().into_iter().map(|c| {
        (
            "for comparison, a sample of the whole application of studio-rack.toml; flash; RAM with stack",
            c,
        )
    });
    own.chain(whole)
        .map(|(what, c)| {
            let what = what.to_owned();
            let figure = format!(
                "{:.0} ({:.0}) {}; {} B; {} B",
                c.mean, c.worst, c.unit, c.flash_bytes, c.ram_bytes
            );
            [c.target, what, figure]
        })
        .collect()
}

/// Temperatures at which the budget is worked out for its picture, and the seed of its draws.
const BUDGET_ROWS: usize = 45;
const BUDGET_SEED: u64 = 1;

/// The error budget over temperature, as a picture.
fn budget_chart(design: &Design) -> String {
    let found = budget(&design.sensing, BUDGET_ROWS, BUDGET_SEED);
    let line = |name: &str, colour, value: fn(&Row) -> f64| {
        Line::new(
            name,
            colour,
            found.rows.iter().map(|r| (r.celsius, value(r))).collect(),
        )
    };
    chart(
        "temperature / degC",
        "error / K",
        &[
            line("worst corner", colour::LIMIT, |r| r.worst),
            line("95 % of boxes drawn", colour::REAL, |r| r.drawn_95),
            line("root sum square", colour::FIXED, |r| r.root_sum_square),
            line("one converter step", colour::D, |r| r.celsius_per_lsb),
        ],
    )
}
