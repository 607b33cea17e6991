//! `firmware.rs`: a `no_std` module for firmware that vendors the two crates. It holds only integers, and
//! every one of them passes a `const` check of the crates when it is compiled.

use std::fmt::Write;

use controller_core::law::Action;

use crate::design::Design;
use crate::plan::{DrivePlan, Plan};
use crate::simulate::station::checksum;
use crate::tablegen::{Format, Table, render};
use crate::verdict::Verdict;

/// Writes the module. With a bad verdict it refuses to compile and says why.
#[must_use]
pub fn rust(design: &Design, table: &Table, verdict: &Verdict) -> String {
    let plan = Plan::new(design);
    let mut out = format!(
        "// {}: integers for firmware, written by `hushloop build`; do not edit.\n\
         //\n\
         // Needs the crates `sensor-math`, `controller-core` and `fixed`. Temperatures are in 1/{} degC, duties in\n\
         // 1/32767 of full. A controller is not a safety device: fit an independent thermal cut-out.\n\n",
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
    out.push_str(&render(table, Format::Rust));
    out.push_str(&time_and_set_point(design, &plan));
    out.push_str(&law(&plan));
    out.push_str(&drive(&plan));
    out.push_str(&station(&plan));
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
    let action = match k.action {
        Action::Direct => "Direct",
        Action::Reverse => "Reverse",
    };
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
         pub type Law = {kind};\n\n\
         /// Gains, limits and direction of the loop.\n\
         pub const SETTINGS: controller_core::law::Settings<i16, GAIN_FRACTION_BITS> =\n    \
         controller_core::law::Settings::<i16, GAIN_FRACTION_BITS>::constant(\n        \
         controller_core::gain::Mantissas {{ kp: {}, ki: {}, kd: {} }},\n        {},\n        {},\n        \
         controller_core::law::Action::{action},\n    );\n",
        k.scale, k.kp, k.ki, k.kd, k.lo, k.hi
    )
}

/// The drive's configuration.
fn drive(plan: &Plan) -> String {
    match &plan.drive {
        DrivePlan::Fan {
            parts: p,
            top,
            tachometer,
        } => {
            let tachometer = match tachometer {
                Some((least, confirm, retries)) => {
                    format!(
                        "Some(controller_core::drive::tachometer::RotationConfig::constant({least}, {confirm}, {retries}))"
                    )
                }
                None => "None".to_owned(),
            };
            format!(
                "\n// Demand in, duty out.\n\n\
                 /// The drive: fans on one PWM pin.\n\
                 pub type Drive = controller_core::drive::output::FanDrive;\n\n\
                 /// Floor, push, slew, timer and tachometer of the fans.\n\
                 pub const DRIVE: controller_core::drive::output::FanDriveConfig = controller_core::drive::output::FanDriveConfig {{\n    \
                 fans: controller_core::drive::fans::FansConfig {{\n        \
                 fans: [controller_core::drive::fan::FanConfig::constant(controller_core::drive::fan::FanParts {{\n            \
                 floor: controller_core::duty::Duty::constant({floor}),\n            \
                 spin_up: controller_core::drive::fan::SpinUp {{\n                level: controller_core::duty::Duty::constant({level}),\n                ticks: {ticks},\n            }},\n            \
                 stop: controller_core::drive::fan::Stop::Never,\n            airflow: None,\n            \
                 slew: controller_core::drive::fan::Slew {{ rise: {rise}, fall: {fall} }},\n        }})],\n        stagger: 0,\n    }},\n    \
                 timer: controller_core::drive::dither::DitherConfig::constant(\n        {top},\n        controller_core::duty::Duty::constant({floor}),\n        controller_core::drive::dither::Polarity::ActiveHigh,\n    ),\n    \
                 tachometer: {tachometer},\n    \
                 wiring: controller_core::drive::wiring::Wiring::FourWire,\n}};\n",
                floor = p.floor.bits(),
                level = p.spin_up.level.bits(),
                ticks = p.spin_up.ticks,
                rise = p.slew.rise,
                fall = p.slew.fall
            )
        }
        DrivePlan::Switch(p) => format!(
            "\n// Demand in, switch out.\n\n\
             /// The drive: a heater behind a mains switch.\n\
             pub type Drive = controller_core::drive::output::SwitchedHeaterDrive;\n\n\
             /// Window and minimum times, in mains half-cycles.\n\
             pub const DRIVE: controller_core::drive::time_proportional::TimeProportionalConfig =\n    \
             controller_core::drive::time_proportional::TimeProportionalConfig::constant(\n        \
             controller_core::drive::time_proportional::TimeProportionalParts {{\n            \
             window: {},\n            min_on: {},\n            min_off: {},\n            \
             unit: controller_core::drive::time_proportional::Unit::WholeCycle,\n        }},\n    );\n",
            p.window, p.min_on, p.min_off
        ),
    }
}

/// Guards and the whole station.
fn station(plan: &Plan) -> String {
    let g = &plan.guards;
    format!(
        "\n// All of it together.\n\n\
         /// Everything the station needs to know; the checksum is for its background self-test.\n\
         pub const STATION: controller_core::station::StationConfig<GAIN_FRACTION_BITS, Drive, Fraction> =\n    \
         controller_core::station::StationConfig::constant(controller_core::station::StationParts {{\n        \
         settings: SETTINGS,\n        set_point: SET_POINT,\n        drive: DRIVE,\n        \
         sensor: controller_core::guard::sensor::SensorConfig::constant({}, {}),\n        \
         stale: controller_core::guard::stale::StaleConfig::constant({}),\n        \
         trip: controller_core::guard::trip::TripConfig::constant({}, {}, {}),\n        \
         rate: Some(controller_core::guard::rate::RateConfig::constant({})),\n        \
         stuck: Some(controller_core::guard::stuck::StuckConfig::constant({}, controller_core::duty::Duty::constant({}))),\n        \
         effect: Some(controller_core::guard::effect::EffectConfig::constant(controller_core::duty::Duty::constant({}), {}, {}, {})),\n        \
         hunting: Some(controller_core::guard::hunting::HuntingConfig::constant({}, {}, {})),\n        \
         on_hunting: controller_core::station::OnHunting::Report,\n    }})\n    .with_checksum({});\n\n\
         /// The station: `Station::new(&STATION)`, `step` once a sample, `output_tick` once a tick.\n\
         pub type Station = controller_core::station::Station<'static, Law, Drive, Fraction, GAIN_FRACTION_BITS>;\n",
        g.confirm,
        g.recover,
        g.stale_ticks,
        g.trip,
        g.trip_hysteresis,
        g.trip_confirm,
        g.rate,
        g.stuck.0,
        g.stuck.1.bits(),
        g.effect.0.bits(),
        g.effect.1,
        g.effect.2,
        g.effect.3,
        g.hunting.0,
        g.hunting.1,
        g.hunting.2,
        checksum(plan)
    )
}
