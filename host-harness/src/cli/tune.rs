//! `hushloop tune`: gains by published rules with the margins of the real loop, and our own choice.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use serde_json::{Value, json};

use super::out::say;
use super::place;
use super::text::{columns, paragraph};
use crate::advice;
use crate::design;
use crate::failure::Failure;
use crate::margins::law::SampledLaw;
use crate::tune::case::Case;
use crate::tune::design::{Offer, Tuned, Wishes, tune};
use crate::tune::model::Model;
use crate::tune::optimise::{Limits, Search};
use crate::tune::rules::{Rule, Terms};
use crate::tune::write::{difference, with_gains};

/// Arguments of `hushloop tune`.
#[derive(clap::Args)]
pub struct Args {
    /// Design file (TOML), which gets the gains
    #[arg(required_unless_present = "model")]
    design: Option<PathBuf>,
    /// A plant in place of a design: gain, lag and dead time in seconds; with lag `inf` the gain is a slope a second
    #[arg(long, value_name = "GAIN,LAG,DEAD-TIME", conflicts_with = "design", value_parser = model)]
    model: Option<Model>,
    /// Sample period with --model, seconds [default: a twentieth of the dead time]
    #[arg(long, value_name = "SECONDS", requires = "model", value_parser = positive)]
    period: Option<f64>,
    /// Largest maximum sensitivity Ms
    #[arg(long, value_name = "MS", default_value = "1.6", value_parser = sensitivity)]
    sensitivity: f64,
    /// How far each number of the plant may be off, percent: the gains must be good for all of them
    #[arg(long, value_name = "PERCENT", default_value_t = 30, value_parser = clap::value_parser!(u8).range(0..=80))]
    uncertainty: u8,
    /// Shows what would change in the design file and writes nothing
    #[arg(long)]
    dry_run: bool,
    /// Machine-readable output
    #[arg(long)]
    json: bool,
}

fn positive(text: &str) -> Result<f64, String> {
    let number: f64 = text
        .trim()
        .parse()
        .map_err(|_| format!("{text:?} is no number"))?;
    if number > 0.0 && number.is_finite() {
        Ok(number)
    } else {
        Err(format!("{text} is not a positive number"))
    }
}

fn sensitivity(text: &str) -> Result<f64, String> {
    let ms = positive(text)?;
    if (1.1..=3.0).contains(&ms) {
        Ok(ms)
    } else {
        Err(format!("{text} is no sensible limit; accepted: 1.1 to 3"))
    }
}

fn model(text: &str) -> Result<Model, String> {
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    let [gain, lag, dead] = parts[..] else {
        return Err("accepted: three numbers with commas between them, as in 60,400,30".to_owned());
    };
    let (gain, dead) = (positive(gain)?, positive(dead)?);
    if lag == "inf" {
        return Ok(Model::integrating(gain, dead));
    }
    Ok(Model::first_order(gain, positive(lag)?, dead))
}

/// Runs the command: exit status 1 when no gains respect the limits.
///
/// # Errors
///
/// A design file that is wrong or cannot be written.
pub fn run(args: &Args) -> Result<ExitCode, Failure> {
    match (&args.design, &args.model) {
        (Some(path), _) => of_design(args, path),
        (None, Some(model)) => of_model(args, model),
        (None, None) => Err(Failure::Refused(
            "a design file or --model is needed".to_owned(),
        )),
    }
}

fn of_design(args: &Args, path: &Path) -> Result<ExitCode, Failure> {
    let design = design::load(path)?;
    let wishes = Wishes {
        sensitivity_max: args.sensitivity,
        uncertainty: f64::from(args.uncertainty) / 100.0,
        derivative_worth: 0.25,
    };
    let tuned = tune(&design, &wishes);
    let mut text = paragraph(&design.title, "  ") + "\n";
    if let Some(model) = &tuned.model {
        text += &paragraph(
            &format!(
                "plant where it is quickest to hunt, by the half rule: {:.1} K a full stroke, lag {:.0} s, dead time {:.1} s",
                model.gain(),
                model.lag_s,
                model.dead_time_s
            ),
            "  ",
        );
    }
    text += &paragraph(
        &format!(
            "kp in percent a kelvin, ki a kelvin and second, kd times seconds a kelvin; gain margin in dB, phase margin in \
             degrees, delay margin in s, each the worst of all operating points; error: integrated absolute error after a load \
             step of {:.0} W, K s, summed over them; noise: travel of the duty by the reading's noise, full strokes an hour; \
             Z-N: Ziegler and Nichols",
            tuned.load_step_w
        ),
        "  ",
    );
    text += "\n";
    let all: Vec<&Offer> = tuned
        .published
        .iter()
        .chain([&tuned.present])
        .chain(&tuned.choice)
        .collect();
    text += &table(&all, 100.0);
    let Some(choice) = &tuned.choice else {
        let why = format!(
            "no gains keep Ms at {} or below for all plants within {} %: accept a larger --sensitivity or measure the plant",
            args.sensitivity, args.uncertainty
        );
        if args.json {
            say(&format!("{:#}\n", to_json(&tuned, None)))?;
        } else {
            say(&(text + "\n" + &paragraph(&why, "  ")))?;
        }
        return Ok(ExitCode::FAILURE);
    };
    text += "\n";
    text += &paragraph(&wording(&tuned, choice), "  ");

    let failed = |error| Failure::File(path.to_path_buf(), error);
    let old = std::fs::read_to_string(path).map_err(failed)?;
    let new = with_gains(&old, choice).map_err(Failure::Refused)?;
    // the reader of designs judges what it would be given, before anything is written
    let label = path.display().to_string();
    let renewed = design::parse(&label, &new)?;
    if let Some(advice) = advice::on_loop(&renewed.control.integers, renewed.control.period_s) {
        text += &paragraph(&advice, "  ");
    }
    text += "\n";
    text += &difference(&old, &new);
    if !args.dry_run && new != old {
        // a name that points elsewhere goes on pointing there
        place::file(&path.canonicalize().map_err(failed)?, &new)?;
        text += &format!("written to {label}\n");
    }
    if args.json {
        say(&format!(
            "{:#}\n",
            to_json(&tuned, Some(!args.dry_run && new != old))
        ))?;
    } else {
        say(&text)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// How far the design's gains are from our choice, in words.
fn wording(tuned: &Tuned, choice: &Offer) -> String {
    let (now, best) = (&tuned.present.gains, &choice.gains);
    let change = |name: &str, now: f64, best: f64| {
        match (now == 0.0, best == 0.0) {
            (true, true) => return None,
            (true, false) => return Some(format!("add {name}")),
            (false, true) => return Some(format!("leave out {name}")),
            (false, false) => {}
        }
        let by = best / now;
        let text = if by >= 1.95 {
            format!("raise {name} to {by:.1} times what it is")
        } else if by > 1.03 {
            format!("raise {name} by {:.0} %", 100.0 * (by - 1.0))
        } else if by < 0.5 {
            format!("divide {name} by {:.1}", 1.0 / by)
        } else if by < 0.97 {
            format!("lower {name} by {:.0} %", 100.0 * (1.0 - by))
        } else {
            return None;
        };
        Some(text)
    };
    let mut parts: Vec<String> = [
        change("kp", now.kp_per_kelvin, best.kp_per_kelvin),
        change("ki", now.ki_per_kelvin_second, best.ki_per_kelvin_second),
        change("kd", now.kd_second_per_kelvin, best.kd_second_per_kelvin),
    ]
    .into_iter()
    .flatten()
    .collect();
    if parts.is_empty() {
        parts.push("leave the gains as they are".to_owned());
    }
    let mut text = format!("our choice: {}", parts.join(", "));
    if tuned.noise_decided {
        text += "; the noise of the reading, not stability, sets its gain";
    }
    if tuned.held > 0 {
        text += &format!(
            "; Ms at most {:.2} over {} plants that this one may be",
            tuned.held_sensitivity_max, tuned.held
        );
    }
    text
}

/// Offers as a table; gains times `scale`.
fn table(offers: &[&Offer], scale: f64) -> String {
    let mut rows = vec![
        [
            "", "kp", "ki", "kd", "Ms", "gain", "phase", "delay", "error", "noise",
        ]
        .map(str::to_owned),
    ];
    let figure = |value: f64, places: usize| {
        if value.is_finite() {
            format!("{value:.places$}")
        } else {
            "-".to_owned()
        }
    };
    let tenths = |value: f64| figure(value, usize::from(value < 1000.0));
    for o in offers {
        let gain = |value: f64| {
            if value == 0.0 {
                "-".to_owned()
            } else {
                short(scale * value)
            }
        };
        let m = &o.margins;
        rows.push([
            // eighty columns have no room for both whole names
            o.name.replace("Ziegler-Nichols,", "Z-N"),
            gain(o.gains.kp_per_kelvin),
            gain(o.gains.ki_per_kelvin_second),
            gain(o.gains.kd_second_per_kelvin),
            if m.stable {
                figure(m.sensitivity_max, 2)
            } else {
                "hunts".to_owned()
            },
            figure(m.gain_margin_db(), 1),
            figure(m.phase_margin_degrees(), 0),
            figure(m.delay_margin_s, 1),
            tenths(o.absolute_error),
            tenths(o.noise_travel_per_hour),
        ]);
    }
    columns(&rows)
}

/// Three significant digits.
fn short(value: f64) -> String {
    let digits = (2.0 - value.abs().log10().floor()).clamp(0.0, 9.0) as usize;
    format!("{value:.digits$}")
}

/// What holds of an offer whatever its gains are told in.
fn margins_json(o: &Offer) -> Value {
    let finite = |value: f64| value.is_finite().then_some(value);
    json!({
        "name": o.name,
        "terms": o.terms.name(),
        "stable": o.margins.stable,
        "sensitivity_max": finite(o.margins.sensitivity_max),
        "gain_margin_db": finite(o.margins.gain_margin_db()),
        "phase_margin_degrees": finite(o.margins.phase_margin_degrees()),
        "delay_margin_s": finite(o.margins.delay_margin_s),
    })
}

fn offer_json(o: &Offer) -> Value {
    let finite = |value: f64| value.is_finite().then_some(value);
    let mut value = margins_json(o);
    value["kp_percent_per_kelvin"] = json!(100.0 * o.gains.kp_per_kelvin);
    value["ki_percent_per_kelvin_second"] = json!(100.0 * o.gains.ki_per_kelvin_second);
    value["kd_percent_second_per_kelvin"] = json!(100.0 * o.gains.kd_second_per_kelvin);
    value["derivative_filter_samples"] = json!(1u32 << o.filter_exponent);
    value["absolute_error_kelvin_s"] = json!(finite(o.absolute_error));
    value["noise_travel_per_hour"] = json!(finite(o.noise_travel_per_hour));
    value
}

fn to_json(tuned: &Tuned, written: Option<bool>) -> Value {
    json!({
        "load_step_w": tuned.load_step_w,
        "present": offer_json(&tuned.present),
        "published": tuned.published.iter().map(offer_json).collect::<Vec<_>>(),
        "choice": tuned.choice.as_ref().map(offer_json),
        "plants_held": tuned.held,
        "plants_held_sensitivity_max": tuned.held_sensitivity_max.is_finite().then_some(tuned.held_sensitivity_max),
        "noise_decided": tuned.noise_decided,
        "written": written,
    })
}

/// Gains for a model alone: output a unit of error, a unit load step at the plant's input, no noise known.
fn of_model(args: &Args, model: &Model) -> Result<ExitCode, Failure> {
    let period_s = args.period.unwrap_or(model.dead_time_s / 20.0);
    let case = [Case::at_input(&model.linear(), period_s)];
    let of = |name: String, terms: Terms, law: SampledLaw, gains| {
        let margins = case[0].margins(&law);
        let counts = margins.stable && law.ki > 0.0;
        Offer {
            name,
            terms,
            gains,
            filter_exponent: law.filter_exponent,
            margins,
            absolute_error: if counts {
                case[0].load_step(&law).absolute_error
            } else {
                f64::INFINITY
            },
            noise_travel_per_hour: f64::NAN,
        }
    };
    let mut offers = Vec::new();
    for rule in Rule::all(model) {
        for terms in [Terms::P, Terms::Pi, Terms::Pid] {
            let Some(gains) = rule.gains(model, terms) else {
                continue;
            };
            let td = gains.kd_second_per_kelvin / gains.kp_per_kelvin;
            let exponent = controller_core::gain::filter_exponent(td / 8.0, period_s, 8).max(1);
            let law = SampledLaw::of_times(
                gains.kp_per_kelvin,
                gains.ki_per_kelvin_second,
                gains.kd_second_per_kelvin,
                exponent,
                period_s,
            );
            offers.push(of(
                format!("{}, {}", rule.name(model), terms.name()),
                terms,
                law,
                gains,
            ));
        }
    }
    let limits = Limits {
        sensitivity_max: args.sensitivity,
        noise_step_max: f64::INFINITY,
        ki_max: f64::INFINITY,
    };
    let search = Search {
        scored: &case,
        held: &[],
        limits,
    };
    for terms in [Terms::Pi, Terms::Pid] {
        if let Some(best) = search.best(terms) {
            let kc = best.law.kp;
            let gains = controller_core::gain::Gains::standard(kc, best.ti_s, best.td_s);
            offers.push(of(
                format!("least error, {}", terms.name()),
                terms,
                best.law,
                gains,
            ));
        }
    }
    if args.json {
        let list: Vec<Value> = offers.iter().map(model_json).collect();
        say(&format!(
            "{:#}\n",
            json!({"period_s": period_s, "offers": list})
        ))?;
    } else {
        let mut text = paragraph(
            &format!(
                "gains in output a unit of error, sampled every {} s, filter of the derivative an eighth of its time; the \
                 error is that after a unit step of the load at the plant's input",
                short(period_s)
            ),
            "  ",
        );
        text += "\n";
        text += &table(&offers.iter().collect::<Vec<_>>(), 1.0);
        say(&text)?;
    }
    Ok(ExitCode::SUCCESS)
}

fn model_json(o: &Offer) -> Value {
    let mut value = margins_json(o);
    value["kp"] = json!(o.gains.kp_per_kelvin);
    value["ki_per_s"] = json!(o.gains.ki_per_kelvin_second);
    value["kd_s"] = json!(o.gains.kd_second_per_kelvin);
    value["absolute_error"] = json!(o.absolute_error.is_finite().then_some(o.absolute_error));
    value
}
