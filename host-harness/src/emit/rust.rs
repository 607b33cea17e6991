//! `firmware.rs`: a `no_std` module for firmware that vendors the three crates. It holds only integers, and
//! every one of them passes a `const` check of the crates when it is compiled.

use std::fmt::Write;

use controller_core::fields::{Unit, Value, Written};

use crate::configured::{Node, physical, tree};
use crate::design::Design;
use crate::plan::{DrivePlan, Plan};
use crate::tablegen::Table;
use crate::verdict::Verdict;

/// Writes the module. With a bad verdict it refuses to compile and says why.
#[must_use]
pub fn rust(design: &Design, plan: &Plan, table: &Table, verdict: &Verdict) -> String {
    let mut out = format!(
        "// {}: integers for firmware, written by `hushloop build`; do not edit.\n\
         //\n\
         // Needs the crates `sensor-math`, `controller-core`, `target-support` and `fixed`. Temperatures are in 1/{} degC,\n\
         // duties in 1/32767 of full. A controller is not a safety device: fit an independent thermal cut-out.\n\n",
        design.title,
        1u32 << plan.fraction_bits
    );
    if !verdict.good {
        let _ = writeln!(
            out,
            "compile_error!({:?});\n",
            format!(
                "this design has a bad verdict: {}",
                verdict.reasons_in_one_line()
            )
        );
    }
    out.push_str("// ADC code in, degrees or a fault out.\n\n");
    out.push_str(&super::fast::sensor(table));
    out.push_str(&time_and_set_point(design, plan));
    out.push_str(&law(plan));
    out.push_str(&station(plan));
    out.push_str(super::fast::STATION);
    out
}

fn time_and_set_point(design: &Design, plan: &Plan) -> String {
    format!(
        "\n// Measurement in, demand out.\n\n\
         /// Sample period, milliseconds.\n\
         pub const PERIOD_MILLISECONDS: u32 = {};\n\n\
         /// Output ticks a sample; one tick is {} ms.\n\
         pub const TICKS_PER_SAMPLE: u16 = {};\n\n\
         /// Format of a temperature word.\n\
         pub type Fraction = fixed::types::extra::U{};\n\n\
         /// Wanted temperature: {} degC.\n\
         pub const SET_POINT: fixed::FixedI16<Fraction> = fixed::FixedI16::from_bits({});\n",
        plan.period_ms,
        1000.0 * plan.tick_s,
        plan.ticks_per_sample,
        plan.fraction_bits,
        design.control.set_point_celsius,
        plan.set_point
    )
}

fn law(plan: &Plan) -> String {
    let k = &plan.law;
    let (kind, doc) = if k.has_derivative() {
        (
            format!("controller_core::station::Pid<{}>", k.filter_exponent),
            format!(
                "PID; the derivative's filter averages over {} samples",
                1u32 << k.filter_exponent
            ),
        )
    } else {
        ("controller_core::station::Pi".to_owned(), "PI".to_owned())
    };
    format!(
        "\n/// Fraction bits of the proportional and the derivative gain.\n\
         pub const GAIN_FRACTION_BITS: u32 = {};\n\n\
         /// The law: {doc}.\n\
         pub type Law = {kind};\n",
        k.scale
    )
}

/// Its parts one by one, then the station of them.
fn station(plan: &Plan) -> String {
    let (tree, checksum) = tree(plan);
    let drive = match &plan.drive {
        DrivePlan::Fans(_) => "controller_core::drive::output::FanDrive",
        DrivePlan::Switch(_) => "controller_core::drive::output::SwitchedHeaterDrive",
        DrivePlan::Pwm(_) => "controller_core::drive::output::PwmHeaterDrive",
    };
    let mut out = format!("\n/// What the demand drives.\npub type Drive = {drive};\n");
    let mut parts = String::new();
    for node in &tree {
        let Node::Group { field, .. } = node else {
            // the set point, which has its own place above
            parts += "        set_point: SET_POINT,\n";
            continue;
        };
        let name = field.name.to_uppercase();
        let kind = match field.name {
            "settings" => "controller_core::law::Settings<i16, GAIN_FRACTION_BITS>",
            "guards" => "controller_core::guard::GuardsConfig",
            _ => "<Drive as controller_core::drive::output::Drive>::Config",
        };
        let text = expression(plan, node, 0);
        let meaning = field.meaning;
        let _ = write!(
            out,
            "\n/// Part of the station: {meaning}.\npub const {name}: {kind} = {text};\n"
        );
        let _ = writeln!(parts, "        {}: {name},", field.name);
    }
    let _ = write!(
        out,
        "\n// All of it together.\n\n\
         /// Everything the station needs to know; the checksum is for its background self-test.\n\
         pub const STATION: controller_core::station::StationConfig<GAIN_FRACTION_BITS, Drive, Fraction> =\n    \
         controller_core::station::StationConfig::constant(controller_core::station::StationParts {{\n\
         {parts}    }})\n    .with_checksum({checksum});\n"
    );
    out
}

/// A node as an expression that begins at the end of a line indented so far.
fn expression(plan: &Plan, node: &Node, indent: usize) -> String {
    match node {
        Node::Number { value, .. } => match value {
            Value::Duty(duty) => format!("controller_core::duty::Duty::constant({})", duty.bits()),
            Value::Choice(path, _) => (*path).to_owned(),
            number => number.number().to_string(),
        },
        Node::Absent { .. } => "None".to_owned(),
        Node::Group {
            written,
            optional,
            fields,
            ..
        } => {
            let text = match written {
                Written::Name(path) => (*path).to_owned(),
                Written::List if fields.iter().all(|f| matches!(f, Node::Number { .. })) => {
                    let entries: Vec<String> =
                        fields.iter().map(|f| expression(plan, f, indent)).collect();
                    format!("[{}]", entries.join(", "))
                }
                Written::List => lines(plan, fields, indent, false, "[", "]"),
                Written::Call(path) => lines(plan, fields, indent, false, &format!("{path}("), ")"),
                Written::Struct(path) => {
                    lines(plan, fields, indent, true, &format!("{path} {{"), "}")
                }
                Written::Parts(call, path) => lines(
                    plan,
                    fields,
                    indent,
                    true,
                    &format!("{call}({path} {{"),
                    "})",
                ),
            };
            if *optional {
                format!("Some({text})")
            } else {
                text
            }
        }
    }
}

/// The fields of a group, one a line, each number with what it means.
fn lines(
    plan: &Plan,
    fields: &[Node],
    indent: usize,
    named: bool,
    open: &str,
    close: &str,
) -> String {
    let mut out = format!("{open}\n");
    let margin = " ".repeat(4 * (indent + 1));
    for node in fields {
        let (field, note) = match node {
            Node::Number {
                argument: false, ..
            } => continue,
            Node::Number { field, value, .. } => {
                (field, meaning(plan, field.unit, field.meaning, *value))
            }
            Node::Group { field, .. } | Node::Absent { field } => (field, String::new()),
        };
        let name = if named {
            format!("{}: ", field.name)
        } else {
            String::new()
        };
        let text = expression(plan, node, indent + 1);
        let _ = writeln!(out, "{margin}{name}{text},{note}");
    }
    out + &" ".repeat(4 * indent) + close
}

fn meaning(plan: &Plan, unit: Unit, meaning: &str, value: Value) -> String {
    match physical(plan, unit, value.number()) {
        Some(physical) => format!(" // {meaning}: {physical}"),
        None if meaning.is_empty() => String::new(),
        None => format!(" // {meaning}"),
    }
}
