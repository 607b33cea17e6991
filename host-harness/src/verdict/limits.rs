//! Figures of the loop against `[accept]`, with the cause of each failure as far as the run shows it.

use super::alarms::acted;
use super::causes::{settled_at, tidy};
use super::{Code, Reason, Simulated};
use crate::cli::text::duration;
use crate::design::keys::plain;
use crate::design::{Actuator, Design};
use crate::plant::Surroundings;
use crate::simulate::observe::{Observed, Stretch};
use crate::simulate::{Part, Response, Trial, advise};

/// What there is to do where another reason is the cause.
const OTHERS: &str = "what the other reasons say";

/// Adds what a simulated loop does that its design does not accept.
pub(super) fn reasons(
    design: &Design,
    response: &Response,
    figures: &Simulated,
    reasons: &mut Vec<Reason>,
) {
    hunting(design, figures, reasons);
    settling(design, &response.observed, figures, reasons);
    excursions(design, &response.observed, figures, reasons);
    actuator(design, figures, reasons);
    too_short(&response.observed, figures, reasons);
}

/// Whether gains are not to blame: the actuator cannot do it, or a guard has taken it from the law.
fn not_the_gains(figures: &Simulated, reasons: &[Reason]) -> bool {
    let causes = [
        Code::Saturated,
        Code::SetPointBeyondSurroundings,
        Code::SurroundingsAboveTrip,
        Code::FanStandsStill,
        Code::PeriodTooLong,
        Code::OffTable,
    ];
    acted(figures) || reasons.iter().any(|r| causes.contains(&r.code))
}

/// A change of gains in words.
fn in_words(design: &Design, trial: Trial) -> String {
    let gains = &design.control.gains;
    let (way, factor) = if trial.factor < 1.0 {
        ("lower", 1.0 / trial.factor)
    } else {
        ("higher", trial.factor)
    };
    match trial.part {
        Part::Integral => format!(
            "ki {factor:.0} times {way}: loop.ki_percent_per_kelvin_second = {}",
            tidy(100.0 * gains.ki_per_kelvin_second * trial.factor)
        ),
        Part::All => format!(
            "all gains {factor:.0} times {way}: loop.kp_percent_per_kelvin = {}, loop.ki_percent_per_kelvin_second = {}",
            tidy(100.0 * gains.kp_per_kelvin * trial.factor),
            tidy(100.0 * gains.ki_per_kelvin_second * trial.factor)
        ),
    }
}

fn hunting(design: &Design, figures: &Simulated, reasons: &mut Vec<Reason>) {
    let h = &figures.hunting;
    if !h.present {
        return;
    }
    let calm = |seen: &Observed| {
        let judged = seen.stretches.iter().any(|s| s.judged);
        judged && seen.stretches.iter().all(|s| !s.found.hunting.present)
    };
    let found = if not_the_gains(figures, reasons) {
        Some(None)
    } else {
        advise(design, true, &calm).map(Some)
    };
    let remedy = match found {
        Some(None) => OTHERS.to_owned(),
        Some(Some(trial)) => format!(
            "too much gain: it holds still, tried in real arithmetic, with {}",
            in_words(design, trial)
        ),
        None => "no lower gains down to a 128th held still in a trial: look at the actuator's steps, the converter's, and the \
                 sample period"
            .to_owned(),
    };
    reasons.push(Reason::new(
        Code::Hunting,
        format!(
            "the loop hunts: period {:.0} s, amplitude {:.2} K; accept.hunting_celsius is {} K",
            h.period_s,
            h.amplitude_celsius,
            plain(design.control.accept.hunting_celsius)
        ),
        remedy,
    ));
}

/// The actuator's name, what it is at its most, and the temperature's trouble then.
fn words(design: &Design) -> [&'static str; 4] {
    match design.control.actuator {
        Actuator::Fan(_) => [
            "the fan runs at full",
            "the box",
            "hot",
            "more airflow, less heat",
        ],
        Actuator::Heater(_) => [
            "the heater is on at its most",
            "what it heats",
            "cold",
            "more power (plant.heater_w, heater.limit_percent), less loss",
        ],
    }
}

/// The stretch's place in the scenario.
fn place(stretch: &Stretch) -> String {
    format!("from {:.0} to {:.0} s", stretch.from_s, stretch.to_s)
}

fn settling(design: &Design, seen: &Observed, figures: &Simulated, reasons: &mut Vec<Reason>) {
    let accept = &design.control.accept;
    let lost = seen
        .stretches
        .iter()
        .filter(|s| s.judged && s.settled.is_none())
        .max_by(|a, b| a.offset.abs().total_cmp(&b.offset.abs()));
    if let Some(stretch) = lost {
        let why = why_not_settled(design, seen, figures, stretch);
        // known already from the design alone
        if !reasons
            .iter()
            .any(|r| r.code == why.code && why.code == Code::FanStandsStill)
        {
            reasons.push(why);
        }
        return;
    }
    let Some(longest) = figures
        .response
        .settling_s
        .filter(|s| *s > accept.settling_s)
    else {
        return;
    };
    let what = format!(
        "the loop takes {} to settle within {} K; accept.settling_s is {} s",
        duration(longest),
        plain(accept.band_celsius),
        plain(accept.settling_s)
    );
    let (code, remedy) = match quicker(design) {
        Some(trial) => (
            Code::TooLittleIntegral,
            format!("too little gain: it settles in time, tried in real arithmetic, with {}", in_words(design, trial)),
        ),
        None => (
            Code::SlowSettling,
            "no higher gains up to 128 times settled in time in a trial: a wider band, a longer accept.settling_s, or a plant \
             that answers sooner"
                .to_owned(),
        ),
    };
    reasons.push(Reason::new(code, what, remedy));
}

/// Higher gains with which the loop settles in time and does not hunt.
fn quicker(design: &Design) -> Option<Trial> {
    let accept = &design.control.accept;
    advise(design, false, &|seen: &Observed| {
        let judged = || seen.stretches.iter().filter(|s| s.judged);
        judged().count() > 0
            && judged().all(|s| {
                s.settling_s.is_some_and(|s| s <= accept.settling_s) && !s.found.hunting.present
            })
    })
}

fn why_not_settled(
    design: &Design,
    seen: &Observed,
    figures: &Simulated,
    stretch: &Stretch,
) -> Reason {
    let control = &design.control;
    let accept = &control.accept;
    if !seen.ever_turned {
        return Reason::new(
            Code::FanStandsStill,
            "the fan never starts",
            "fan.spin_up_percent and fan.spin_up_s that start it, or a floor at which it turns",
        );
    }
    let off_table = figures
        .alarms
        .iter()
        .any(|a| a.alarm == "sensor" && a.share > 0.1);
    if let Some(limit) = (!off_table)
        .then(|| at_its_limit(design, seen, stretch))
        .flatten()
    {
        return limit;
    }
    let what = format!(
        "the loop does not settle within {} K of its set point {}: at the end it is off by {:+.2} K on average, and moves by {} K",
        plain(accept.band_celsius),
        place(stretch),
        stretch.offset,
        tidy(stretch.moves)
    );
    if figures.hunting.present || acted(figures) {
        return Reason::new(Code::NotSettled, what, OTHERS);
    }
    if control.integers.ki == 0 {
        return Reason::new(
            Code::TooLittleIntegral,
            what,
            "integral action, loop.ki_percent_per_kelvin_second: proportional action alone leaves an offset",
        );
    }
    match quicker(design) {
        Some(trial) => Reason::new(
            Code::TooLittleIntegral,
            what,
            format!(
                "too little gain: it settles in time, tried in real arithmetic, with {}",
                in_words(design, trial)
            ),
        ),
        None => Reason::new(
            Code::NotSettled,
            what,
            "no higher gains up to 128 times settled in time in a trial: a wider band, a longer accept.settling_s, or a finer \
             converter",
        ),
    }
}

/// The reason of a loop whose actuator can do no more.
fn at_its_limit(design: &Design, seen: &Observed, stretch: &Stretch) -> Option<Reason> {
    let control = &design.control;
    let (cooling, band) = (control.is_cooling(), control.accept.band_celsius);
    let set_point = stretch.set_point;
    let around = Surroundings {
        load_w: stretch.load_w,
        ambient_celsius: stretch.ambient_celsius,
    };
    let [most, what_it_is, bad, more] = words(design);
    if !cooling && stretch.offset > band && around.ambient_celsius >= set_point {
        return Some(too_warm_around(stretch));
    }
    // distance on the side that more of the actuator would mend
    let lacks = if cooling {
        stretch.offset
    } else {
        -stretch.offset
    };
    let full = match &control.actuator {
        Actuator::Fan(_) => 1.0,
        Actuator::Heater(heater) => heater.limit,
    };
    let end = settled_at(design, full, around);
    let never = if cooling {
        end > set_point + band
    } else {
        end < set_point - band
    };
    let long = seen
        .horizon
        .stay_s
        .min(0.25 * (stretch.to_s - stretch.from_s));
    if lacks <= band || !(never || stretch.at_most_s >= long) {
        return None;
    }
    if cooling && around.ambient_celsius >= set_point {
        return Some(Reason::new(
            Code::SetPointBeyondSurroundings,
            format!(
                "the surroundings are at {} degC {}: no airflow cools {what_it_is} below that, and the set point is {} degC",
                plain(around.ambient_celsius),
                place(stretch),
                plain(set_point)
            ),
            format!(
                "a set point above {} degC, or cooler surroundings",
                tidy(end)
            ),
        ));
    }
    let limit = if cooling { "above" } else { "below" };
    Some(Reason::new(
        Code::Saturated,
        format!(
            "{most} for {:.0} % of the time {}, and {what_it_is} is still {} K too {bad}; at full it comes to {} degC in the end",
            100.0 * stretch.at_most_share,
            place(stretch),
            tidy(lacks),
            tidy(end)
        ),
        if never {
            format!("{more}, or a set point {limit} {} degC", tidy(end))
        } else {
            format!("{more}, or more time: accept.settling_s")
        },
    ))
}

/// The reason of a heater in surroundings that are warmer than its set point.
fn too_warm_around(stretch: &Stretch) -> Reason {
    Reason::new(
        Code::SetPointBeyondSurroundings,
        format!(
            "the surroundings are at {} degC {}: a heater cannot cool to the set point of {} degC",
            plain(stretch.ambient_celsius),
            place(stretch),
            plain(stretch.set_point)
        ),
        format!(
            "a set point above {} degC, or cooler surroundings",
            plain(stretch.ambient_celsius)
        ),
    )
}

fn excursions(design: &Design, seen: &Observed, figures: &Simulated, reasons: &mut Vec<Reason>) {
    let accept = &design.control.accept;
    let r = &figures.response;
    let (above, code, key, limit) = if r.peak_celsius > accept.hard_limit_celsius {
        (
            true,
            Code::HardLimit,
            "hard_limit_celsius",
            accept.hard_limit_celsius,
        )
    } else {
        (
            r.peak_celsius > accept.peak_celsius,
            Code::Peak,
            "peak_celsius",
            accept.peak_celsius,
        )
    };
    let warm = seen.stretches.iter().find(|s| {
        !design.control.is_cooling()
            && s.settled.is_some_and(|s| s.resting)
            && s.ambient_celsius >= s.set_point
    });
    if let Some(stretch) = warm.filter(|_| above) {
        reasons.push(too_warm_around(stretch));
    }
    let others = not_the_gains(figures, reasons);
    if above {
        let remedy = if others {
            OTHERS
        } else if design.control.is_cooling() {
            "more kp, so that the fan answers sooner; more airflow; or less heat at once"
        } else {
            "less ki or more kd, so that the heater lets go sooner; a smaller set-point step; or a weaker heater"
        };
        reasons.push(Reason::new(
            code,
            format!(
                "the temperature comes to {:.2} degC after {:.0} s; accept.{key} is {} degC",
                r.peak_celsius,
                seen.peak.1,
                plain(limit)
            ),
            remedy,
        ));
    }
    if r.undershoot_celsius > accept.undershoot_celsius {
        let remedy = if others {
            OTHERS
        } else if design.control.is_cooling() {
            "less ki or more kp, so that the fan lets go sooner"
        } else {
            "more kp, so that the heater answers sooner; or more power"
        };
        reasons.push(Reason::new(
            Code::Undershoot,
            format!(
                "the temperature falls {:.2} K below the set point after {:.0} s; accept.undershoot_celsius is {} K",
                r.undershoot_celsius,
                seen.below.1,
                plain(accept.undershoot_celsius)
            ),
            remedy,
        ));
    }
}

fn actuator(design: &Design, figures: &Simulated, reasons: &mut Vec<Reason>) {
    let accept = &design.control.accept;
    let t = &figures.travel;
    let quiet = "lower gains, more of kp's and less of kd's first; a burst (adc.burst_samples) or a finer converter against noise";
    if t.motion_per_hour > accept.travel_per_hour {
        reasons.push(Reason::new(
            Code::Travel,
            format!(
                "the duty travels {:.1} full strokes an hour, noise not counted; accept.travel_per_hour is {}",
                t.motion_per_hour,
                plain(accept.travel_per_hour)
            ),
            "lower gains, or a load that changes less often",
        ));
    }
    if t.jitter_per_hour > accept.jitter_per_hour {
        reasons.push(Reason::new(
            Code::Jitter,
            format!(
                "the duty jitters by {:.1} full strokes an hour; accept.jitter_per_hour is {}",
                t.jitter_per_hour,
                plain(accept.jitter_per_hour)
            ),
            quiet,
        ));
    }
    // a pin's mean duty is known to a count of its timer
    let count = match &design.control.actuator {
        Actuator::Fan(fan) => 100.0 / f64::from(fan.pwm_period_counts),
        Actuator::Heater(_) => 0.0,
    };
    if t.largest_step_percent > accept.duty_step_percent + count {
        reasons.push(Reason::new(
            Code::DutyStep,
            format!(
                "the duty jumps by {:.1} % of full from one sample to the next; accept.duty_step_percent is {}",
                t.largest_step_percent,
                plain(accept.duty_step_percent)
            ),
            "lower gains, a shorter loop.period_s, or a smaller fan.slew_percent_per_s",
        ));
    }
    let Some(limit) = accept
        .starts_per_hour
        .filter(|limit| t.starts_per_hour > *limit)
    else {
        return;
    };
    let (what, remedy) = match design.control.actuator {
        Actuator::Fan(_) => (
            "the fan stalls and starts again",
            "a floor at which it turns, or accept.starts_per_hour above 0 if it may stop",
        ),
        Actuator::Heater(_) => ("the switch goes on", "a longer heater.window_s"),
    };
    reasons.push(Reason::new(
        Code::Starts,
        format!(
            "{what} {} times an hour; accept.starts_per_hour is {}",
            tidy(t.starts_per_hour),
            plain(limit)
        ),
        remedy,
    ));
}

fn too_short(seen: &Observed, figures: &Simulated, reasons: &mut Vec<Reason>) {
    let judged = &figures.judged;
    // where some could be judged, the others are told among the figures
    if judged.not_judged + judged.repeated < judged.stretches {
        return;
    }
    reasons.push(Reason::new(
        Code::TooShort,
        format!(
            "the scenario is too short to judge, although the run went on for {:.0} s: this loop must have stayed in its band \
             for {:.0} s",
            judged.longest_on_s, judged.stay_s
        ),
        format!("scenario.duration_s of at least {:.0} s", 8.0 * seen.horizon.stay_s),
    ));
}
