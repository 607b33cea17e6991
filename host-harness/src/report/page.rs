//! The page itself: sections in the order in which a practitioner asks.

use std::fmt::Write;

use controller_core::drive::wiring::Wiring;

use super::plot::{Line, chart, colour};
use super::verdict;
use crate::cli::text::duration;
use crate::configured::{numbers, physical, tree};
use crate::design::keys::plain;
use crate::design::{Actuator, Control, Design};
use crate::plan::Plan;
use crate::plant::sound::level_change_db;
use crate::simulate::{Response, Sample};
use crate::verdict::Verdict;

/// What the page is made of.
pub struct Page<'a> {
    /// The design.
    pub design: &'a Design,
    /// The verdict on it.
    pub verdict: &'a Verdict,
    /// The simulated response.
    pub response: &'a Response,
    /// Per code: (code, true temperature, table's error), degC and kelvin.
    pub codes: &'a [(u16, f64, f64)],
    /// What is claimed, how it is known, and whether it holds.
    pub claims: &'a [(String, String, bool)],
    /// Rows of (target, what, figure).
    pub costs: &'a [[String; 3]],
    /// Error budget over temperature, as an SVG, when there is one.
    pub budget_svg: Option<&'a str>,
    /// The emitted module.
    pub firmware: &'a str,
    /// What the station is told.
    pub plan: &'a Plan,
}

const STYLE: &str = "body{font:15px/1.5 sans-serif;color:#222;max-width:60em;margin:2em auto;padding:0 1em}\
h1{font-size:1.5em;margin-bottom:.2em}h2{font-size:1.15em;margin-top:2em;border-bottom:1px solid #ccc}\
table{border-collapse:collapse;margin:.6em 0}td,th{padding:.15em .9em .15em 0;text-align:left;vertical-align:top}\
th{font-weight:600}td.n{text-align:right;white-space:nowrap;font-variant-numeric:tabular-nums}\
.verdict{padding:.6em 1em;border-left:.5em solid}.good{border-color:#009e73;background:#eef8f4}\
.bad{border-color:#d55e00;background:#fdf1e8}svg.chart{width:100%;height:auto;margin:.4em 0}\
pre{background:#f6f6f6;padding:.8em;overflow-x:auto;font-size:12px}.note{color:#555}";

pub(super) fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

fn rows(out: &mut String, rows: &[(String, String)]) {
    out.push_str("<table>");
    for (name, value) in rows {
        let _ = write!(
            out,
            "<tr><th>{}</th><td>{}</td></tr>",
            escape(name),
            escape(value)
        );
    }
    out.push_str("</table>\n");
}

/// Writes the page.
#[must_use]
pub fn page(p: &Page<'_>) -> String {
    let mut out = String::new();
    let title = escape(&p.design.title);
    let _ = write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>{title}</title>\
         <meta name=\"viewport\" content=\"width=device-width\"><style>{STYLE}</style></head><body>\n<h1>{title}</h1>\n"
    );
    verdict::verdict(&mut out, p);
    response(&mut out, p);
    law(&mut out, p.design);
    sensor(&mut out, p);
    claims(&mut out, p.claims);
    costs(&mut out, p.costs);
    before_firmware(&mut out, &p.design.control);
    cautions(&mut out);
    station(&mut out, p.plan);
    let _ = write!(
        out,
        "<h2>Integers for the firmware</h2>\n<pre>{}</pre>\n</body></html>\n",
        escape(p.firmware)
    );
    out
}

/// Every number of the station, with what it means.
fn station(out: &mut String, plan: &Plan) {
    out.push_str(
        "<h2>What the station is told</h2>\n<table><tr><th>name</th><th>meaning</th><th>integer</th><th></th></tr>",
    );
    for number in numbers(&tree(plan).0) {
        let _ = write!(
            out,
            "<tr><th>{}</th><td>{}</td><td>{}</td><td>{}</td></tr>",
            escape(&number.name.replace('_', " ")),
            escape(number.meaning),
            number.value,
            escape(&physical(plan, number.unit, number.value).unwrap_or_default()),
        );
    }
    out.push_str("</table>\n");
}

fn series(samples: &[Sample], value: impl Fn(&Sample) -> f64) -> Vec<(f64, f64)> {
    samples
        .iter()
        .map(|s| (s.time_s / 60.0, value(s)))
        .collect()
}

fn response(out: &mut String, p: &Page<'_>) {
    let r = p.response;
    let _ = write!(
        out,
        "<h2>The loop over its scenario</h2>\n<p>{}</p>\n",
        escape(&story(&p.design.control))
    );
    let limit = p.design.control.accept.peak_celsius;
    let lines = [
        Line::new(
            "real arithmetic",
            colour::REAL,
            series(&r.real, |s| s.celsius),
        )
        .wide(),
        Line::new("integers", colour::FIXED, series(&r.fixed, |s| s.celsius)),
        Line::new("set point", colour::INK, series(&r.fixed, |s| s.set_point)),
        Line::new(
            "acceptable peak",
            colour::LIMIT,
            series(&r.fixed, |_| limit),
        ),
    ];
    out.push_str(&chart("time / min", "temperature / degC", &lines));
    let _ = write!(
        out,
        "<p class=\"note\">The two loops see the same plant, the same events and the same converter noise; their temperatures \
         differ by at most {:.3} K.</p>\n<h2>The terms of the law</h2>\n",
        p.response.from_real_celsius_max
    );
    let mut terms = vec![
        Line::new("proportional", colour::P, series(&r.fixed, |s| 100.0 * s.p)),
        Line::new("integral", colour::I, series(&r.fixed, |s| 100.0 * s.i)),
    ];
    if p.design.control.integers.has_derivative() {
        terms.push(Line::new(
            "derivative",
            colour::D,
            series(&r.fixed, |s| 100.0 * s.d),
        ));
    }
    out.push_str(&chart("time / min", "share of full duty / %", &terms));
    out.push_str("<h2>Duty</h2>\n");
    let duty = [
        Line::new(
            "demand",
            colour::REAL,
            series(&r.fixed, |s| 100.0 * s.demand),
        )
        .wide(),
        Line::new(
            "duty at the pin",
            colour::FIXED,
            series(&r.fixed, |s| 100.0 * s.duty),
        ),
    ];
    out.push_str(&chart("time / min", "duty / %", &duty));
    if let Actuator::Fan(fan) = &p.design.control.actuator {
        let settled = r.fixed.last().map_or(1.0, |s| s.fan_speed).max(1e-3);
        let _ = writeln!(
            out,
            "<p class=\"note\">At the end the fans turn at {:.0} rpm, {:.0} % of full speed: about {:.0} dB quieter than at full speed \
             (50 log10 of the speed ratio, the fan laws' usual estimate; a change, not an absolute level).</p>",
            settled * fan.full_speed_rpm,
            100.0 * settled,
            level_change_db(settled, 1.0)
        );
    }
}

/// The scenario in words.
fn story(control: &Control) -> String {
    let mut parts = Vec::new();
    for event in &control.scenario.events {
        let mut what = Vec::new();
        if let Some(w) = event.load_w {
            what.push(format!("{} W of heat from inside", plain(w)));
        }
        if let Some(t) = event.ambient_celsius {
            what.push(format!("surroundings at {} degC", plain(t)));
        }
        if let Some(t) = event.set_point_celsius {
            what.push(format!("set point {} degC", plain(t)));
        }
        parts.push(format!(
            "after {}: {}",
            duration(event.at_s),
            what.join(", ")
        ));
    }
    let start = format!(
        "{} of simulated time; at the start {} W from inside, surroundings at {} degC",
        duration(control.scenario.duration_s),
        plain(control.plant.load_w),
        plain(control.plant.ambient_celsius)
    );
    if parts.is_empty() {
        format!("{start}.")
    } else {
        format!("{start}; {}.", parts.join("; "))
    }
}

fn law(out: &mut String, design: &Design) {
    let c = &design.control;
    let (k, asked, got) = (&c.integers, &c.gains, &c.quantised_gains);
    out.push_str("<h2>Gains</h2>\n<table><tr><th></th><th>asked for</th><th>as the integers have it</th><th>integer</th></tr>");
    let mut row = |name: &str, unit: &str, asked: f64, got: f64, word: u16, scale: u32| {
        let _ = write!(
            out,
            "<tr><th>{name}</th><td>{} {unit}</td><td>{:.6} {unit}</td><td>{word} / 2^{scale}</td></tr>",
            plain(asked),
            got
        );
    };
    row(
        "proportional",
        "%/K",
        100.0 * asked.kp_per_kelvin,
        100.0 * got.kp_per_kelvin,
        k.kp,
        k.scale,
    );
    row(
        "integral",
        "%/(K s)",
        100.0 * asked.ki_per_kelvin_second,
        100.0 * got.ki_per_kelvin_second,
        k.ki,
        16,
    );
    if k.has_derivative() {
        row(
            "derivative",
            "% s/K",
            100.0 * asked.kd_second_per_kelvin,
            100.0 * got.kd_second_per_kelvin,
            k.kd,
            k.scale,
        );
    }
    out.push_str("</table>\n");
    let mut facts = vec![
        (
            "action".to_owned(),
            if c.is_cooling() {
                "direct (cooling): hotter asks for more".into()
            } else {
                "reverse (heating): hotter asks for less".to_owned()
            },
        ),
        (
            "set point".to_owned(),
            format!("{} degC", plain(c.set_point_celsius)),
        ),
        (
            "sample period".to_owned(),
            format!("{} s", plain(c.period_s)),
        ),
    ];
    if got.ki_per_kelvin_second > 0.0 && got.kp_per_kelvin > 0.0 {
        facts.push((
            "integral time".to_owned(),
            duration(got.kp_per_kelvin / got.ki_per_kelvin_second),
        ));
    }
    rows(out, &facts);
}

fn sensor(out: &mut String, p: &Page<'_>) {
    let t = &p.design.sensing.table;
    let _ = write!(
        out,
        "<h2>Sensor and table</h2>\n<p>Table of {} bytes, encoding {}, {} to {} degC at 1/{} K a count. \
         Every code of the range was looked up and compared with the curve.</p>\n",
        p.verdict.table.bytes,
        p.verdict.table.encoding,
        plain(t.low_celsius),
        plain(t.high_celsius),
        1u32 << t.fraction_bits
    );
    let curve: Vec<(f64, f64)> = p
        .codes
        .iter()
        .map(|(c, t, _)| (f64::from(*c), *t))
        .collect();
    out.push_str(&chart(
        "code",
        "temperature / degC",
        &[Line::new("curve through the divider", colour::FIXED, curve)],
    ));
    let ends = |y: f64| match (p.codes.first(), p.codes.last()) {
        (Some(a), Some(b)) => vec![(f64::from(a.0), y), (f64::from(b.0), y)],
        _ => Vec::new(),
    };
    let error: Vec<(f64, f64)> = p
        .codes
        .iter()
        .map(|(c, _, e)| (f64::from(*c), *e))
        .collect();
    let lines = [
        Line::new("error of the table", colour::FIXED, error),
        Line::new("accepted", colour::LIMIT, ends(t.error_celsius)),
        Line::new("", colour::LIMIT, ends(-t.error_celsius)),
    ];
    out.push_str(&chart("code", "table minus curve / K", &lines));
    if let Some(svg) = p.budget_svg {
        out.push_str("<h2>Error budget of the sensor</h2>\n");
        out.push_str(svg);
    }
}

fn claims(out: &mut String, claims: &[(String, String, bool)]) {
    if claims.is_empty() {
        out.push_str("<h2>What is known, and how</h2>\n<p>Not worked out, because the verdict is bad. <code>hushloop verify</code> lists it all the same.</p>\n");
        return;
    }
    out.push_str("<h2>What is known, and how</h2>\n<table><tr><th>claim</th><th>how it is known</th><th></th></tr>");
    for (claim, how, holds) in claims {
        let not = if *holds { "" } else { "<b>does not hold</b>" };
        let _ = write!(
            out,
            "<tr><td>{}</td><td>{}</td><td>{not}</td></tr>",
            escape(claim),
            escape(how)
        );
    }
    out.push_str("</table>\n<p class=\"note\">Proven: for all inputs and states, by machine. Enumerated: every case was run. Tested: that many cases were run. Never more than that.</p>\n");
}

fn costs(out: &mut String, costs: &[[String; 3]]) {
    if costs.is_empty() {
        return;
    }
    out.push_str("<h2>What it costs on a small target</h2>\n<table>");
    for [target, what, figure] in costs {
        let _ = write!(
            out,
            "<tr><th>{}</th><td>{}</td><td class=\"n\">{}</td></tr>",
            escape(target),
            escape(what),
            escape(figure)
        );
    }
    out.push_str("</table>\n");
}

fn before_firmware(out: &mut String, control: &Control) {
    out.push_str("<h2>Before the firmware runs</h2>\n");
    let text = match &control.actuator {
        Actuator::Fan(fan) if fan.wiring == Wiring::FourWire => {
            "During reset, boot and brown-out the pins float. A four-wire fan has a pull-up on its PWM input and runs at full speed \
             when nothing drives it: the safe state for cooling. Drive that input open-drain, so that a dead controller leaves it so."
        }
        Actuator::Fan(_) => {
            "During reset, boot and brown-out the pins float. A three-wire fan does then what its power stage does: fit a resistor that \
             pulls the stage to full when the pin floats, which is the safe state for cooling."
        }
        Actuator::Heater(heater) if heater.pwm.is_some() => {
            "During reset, boot and brown-out the pins float. Fit a resistor that holds the transistor off when the pin floats: off is the \
             safe state for heating. A transistor that fails usually fails on; only an independent thermal cut-out in the heater's circuit helps then."
        }
        Actuator::Heater(_) => {
            "During reset, boot and brown-out the pins float. Fit a resistor that holds the switch off when the pin floats: off is the safe \
             state for heating. A solid-state relay that fails usually fails on; only an independent thermal cut-out in the heater's circuit helps then."
        }
    };
    let _ = writeln!(out, "<p>{text}</p>");
    let Actuator::Fan(fan) = &control.actuator else {
        return;
    };
    if let Some((stop, start)) = fan.stop {
        let _ = writeln!(
            out,
            "<p>The fan stops at a demand of {} % and starts again at {} %, with its push. While it stands, nothing tells a fan that \
             rests from one that is held.</p>",
            plain(100.0 * stop),
            plain(100.0 * start)
        );
    }
    if fan.wiring == Wiring::ThreeWireChopped && fan.tachometer_pulses.is_some() {
        out.push_str(
            "<p>Chopping the supply takes the tachometer's as well: its pulses count at full duty only, so a held rotor is found there \
             and nowhere below.</p>\n",
        );
    }
}

/// The usual cautions, for report and terminal.
pub(crate) const CAUTIONS: [&str; 3] = [
    "A controller is not a safety device. A plausible but false reading, or an actuator that does not obey, defeats any firmware: fit an independent thermal cut-out.",
    "Mains wiring follows local codes and is for licensed people.",
    "The simulation is as good as the plant's numbers; confirm them on the bench before leaving the hardware alone.",
];

fn cautions(out: &mut String) {
    out.push_str("<h2>Cautions</h2>\n<ul>");
    for caution in CAUTIONS {
        let _ = write!(out, "<li>{}</li>", escape(caution));
    }
    out.push_str("</ul>\n");
}
