//! The verdict's section of the page: what was found, and every figure beside what is accepted.

use std::fmt::Write;

use super::page::{Page, escape};
use crate::cli::text::duration;
use crate::design::keys::plain;

pub(super) fn verdict(out: &mut String, p: &Page<'_>) {
    let v = p.verdict;
    if v.good {
        out.push_str("<p class=\"verdict good\"><b>Good.</b> Everything measured lies within what the design accepts.</p>\n");
    } else {
        out.push_str("<div class=\"verdict bad\"><b>Bad.</b> Do not flash this.<ul>");
        for reason in &v.reasons {
            let _ = write!(
                out,
                "<li>{}.<br>To do: {}.</li>",
                escape(&reason.what),
                escape(&reason.remedy)
            );
        }
        out.push_str("</ul></div>\n");
    }
    out.push_str("<table><tr><th></th><th>measured</th><th>accepted</th></tr>");
    for [name, value, limit] in &measured(p) {
        let _ = write!(
            out,
            "<tr><th>{}</th><td>{}</td><td>{}</td></tr>",
            escape(name),
            escape(value),
            escape(limit)
        );
    }
    out.push_str("</table>\n");
    let judged = &v.simulated.judged;
    let _ = writeln!(
        out,
        "<p class=\"note\">Settled means having stayed within the band for {}: half of the slowest cycle that a loop around this plant \
         can keep up, or what the design accepts as time to settle, if that is shorter. {} of the scenario's {} stretches between two changes were judged; after {} \
         of them, too short by themselves, the run went on with everything as it was, for up to {}.</p>",
        duration(judged.stay_s),
        judged.stretches - judged.not_judged - judged.repeated,
        judged.stretches,
        judged.gone_on,
        duration(judged.longest_on_s)
    );
}

fn measured(p: &Page<'_>) -> Vec<[String; 3]> {
    let v = p.verdict;
    let accept = &p.design.control.accept;
    let (r, t, hunting) = (
        &v.simulated.response,
        &v.simulated.travel,
        &v.simulated.hunting,
    );
    let oscillation = if hunting.period_s > 0.0 {
        format!(
            "amplitude {:.3} K, period {}",
            hunting.amplitude_celsius,
            duration(hunting.period_s)
        )
    } else {
        "none found".to_owned()
    };
    let alarms: Vec<&str> = v.simulated.alarms.iter().map(|a| a.alarm).collect();
    let row = |name: &str, value: String, limit: String| [name.to_owned(), value, limit];
    vec![
        row(
            "highest temperature",
            format!("{:.2} degC", r.peak_celsius),
            format!(
                "{} degC; hard limit {} degC",
                plain(accept.peak_celsius),
                plain(accept.hard_limit_celsius)
            ),
        ),
        row(
            "depth below the set point, once reached",
            format!("{:.2} K", r.undershoot_celsius),
            format!("{} K", plain(accept.undershoot_celsius)),
        ),
        row(
            &format!("time to settle within {} K", plain(accept.band_celsius)),
            r.settling_s.map_or("not settled".into(), |s| {
                format!(
                    "{}, then stayed for {} or more",
                    duration(s),
                    duration(r.stayed_s)
                )
            }),
            duration(accept.settling_s),
        ),
        row(
            "steady offset",
            format!("{:+.2} K", r.offset_celsius),
            if r.resting_at_least {
                "at rest with the actuator at its least".to_owned()
            } else {
                format!("{} K", plain(accept.band_celsius))
            },
        ),
        row(
            "sustained oscillation",
            oscillation,
            format!("amplitude {} K", plain(accept.hunting_celsius)),
        ),
        row(
            "travel of the duty, noise not counted",
            format!("{:.1} full strokes an hour", t.motion_per_hour),
            plain(accept.travel_per_hour),
        ),
        row(
            "its jitter",
            format!("{:.1} full strokes an hour", t.jitter_per_hour),
            plain(accept.jitter_per_hour),
        ),
        row(
            "its largest step",
            format!("{:.1} % of full", t.largest_step_percent),
            format!("{} %", plain(accept.duty_step_percent)),
        ),
        row(
            "starts",
            format!("{:.1} an hour", t.starts_per_hour),
            accept.starts_per_hour.map_or("no limit".into(), plain),
        ),
        row(
            "alarms without a fault",
            if alarms.is_empty() {
                "none".into()
            } else {
                alarms.join(", ")
            },
            "none".into(),
        ),
        row(
            "error of the table, every code",
            format!(
                "{:.4} K over {} codes, {} bytes",
                v.table.error_celsius_max, v.table.codes, v.table.bytes
            ),
            format!("{} K", plain(p.design.sensing.table.error_celsius)),
        ),
        row("integer law", v.law.text(), "0.5 LSB".into()),
        row(
            "overflow",
            if v.overflow.possible {
                "possible".into()
            } else {
                format!(
                    "cannot happen ({} operations bounded)",
                    v.overflow.operations
                )
            },
            "cannot happen".into(),
        ),
    ]
}
