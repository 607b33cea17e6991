//! Loops closed round the shipped law, against published and exact values of continuous loops
//! (`published/control_closed_form.csv`, `published/control_tuning.csv`; each row names its source).
//!
//! The law is 32/64 with SP 24: 10^8 counts a unit of the plant's output, 10^7 LSB a unit of its input, round an
//! offset of 10^9 LSB. The plants are stepped exactly ([`hushloop_tests::plant`]), so a sampled loop differs from its
//! continuous row by the sampling alone, which is smooth in the period: three periods, each half the one before,
//! extrapolate to none. What is left is stated at each check; the rows' own tolerance is added.
//!
//! Of the same tables no law is in: steps of a lag alone (`FO-`), and the hunting detector's integrals (`HAGG-`, in
//! `controller-core`'s guard). Rules that turn a model into gains, and margins, are in `tuning_published.rs`. Two-position
//! and relay cycles, the forward form's limits and rules from an ultimate cycle are in `law_cycles.rs`.

use controller_core::gain::Mantissas;
use controller_core::law::{Action, Integrator, PiState, Settings, pi};
use controller_core::setpoint::{Weight, set_point_change};
use controller_core::word::Native;
use hushloop_tests::plant::{Kind, Plant};
use hushloop_tests::{Row, rows_of};

const CLOSED: &str = "control_closed_form.csv";
const TUNING: &str = "control_tuning.csv";
const COUNTS: f64 = 1e8;
const LSB: f64 = 1e7;
const OFFSET: i32 = 1_000_000_000;

/// The shipped PI law (heating: more output raises the measurement) and the plant it acts on.
struct Loop {
    settings: Settings<i32, 24>,
    state: PiState<i32>,
    plant: Plant,
    set_point: i32,
    load: f64,
    lsb: f64,
}

impl Loop {
    /// `kp` and `ki * h` in plant units.
    fn new(plant: Plant, kp: f64, ki_h: f64) -> Self {
        Self::scaled(plant, kp, ki_h, LSB)
    }

    /// The same with another number of LSB a unit of the plant's input, for gains that would not fit.
    fn scaled(plant: Plant, kp: f64, ki_h: f64, lsb: f64) -> Self {
        let scale = lsb / COUNTS;
        assert!(ki_h * scale < 1.0, "ki must fit its word");
        let gains = Mantissas {
            kp: (kp * scale * 16_777_216.0).round() as u32,
            ki: (ki_h * scale * 4_294_967_296.0).round() as u32,
            kd: 0,
        };
        let settings = Settings::<i32, 24>::new(gains, 0, i32::MAX, Action::Reverse).unwrap();
        Self {
            settings,
            state: PiState::with(Integrator::exactly(&settings, OFFSET)),
            plant,
            set_point: 0,
            load: 0.0,
            lsb,
        }
    }

    fn set(&mut self, set_point: f64, weight: Weight<i32>) {
        let new = (set_point * COUNTS).round() as i32;
        set_point_change::<_, 24, Native>(
            &self.settings,
            &mut self.state,
            self.set_point,
            new,
            weight,
        );
        self.set_point = new;
    }

    /// One sample; gives the measurement it began with.
    fn step(&mut self) -> f64 {
        let y = self.plant.output();
        let measured = (y * COUNTS).round() as i32;
        let u =
            pi::step::<_, 24, Native>(&self.settings, &mut self.state, self.set_point, measured);
        assert!(u > 0 && u < i32::MAX, "the loop must stay linear");
        self.plant
            .step((f64::from(u) - f64::from(OFFSET)) / self.lsb + self.load);
        y
    }
}

/// Extrapolates `f(1), f(2), f(4)`, taken with a period and a half and a quarter of it, to a period of nothing:
/// terms of first and second order in the period cancel.
fn extrapolated(f: impl Fn(usize) -> f64) -> f64 {
    let [a, b, c] = [1, 2, 4].map(f);
    (a - 6.0 * b + 8.0 * c) / 3.0
}

fn near(row: &Row, got: f64, relative: f64) {
    let allowed = row.within() + relative * row.number().abs();
    assert!(
        (got - row.number()).abs() <= allowed,
        "{} ({}): {got}, published {} ({}), off by {:.2e}",
        row.id,
        row.quantity,
        row.number(),
        row.source,
        got / row.number() - 1.0
    );
}

/// The plants that all loops here run on: what a sample does to them is the published sampled form.
#[test]
fn sampled_plants() {
    let mut checks = 0;
    for row in rows_of(CLOSED, "ZOH-") {
        let (tau, h) = (row.input("tau"), row.input("h"));
        let free = row.id.starts_with("ZOH-a-");
        let gain = if free { 1.0 } else { row.input("K") };
        let kind = Kind::Lags {
            order: 1,
            tau,
            gain,
        };
        let mut plant = Plant::new(kind, 0, h, if free { 1.0 } else { 0.0 });
        plant.step(if free { 0.0 } else { 1.0 });
        row.check(plant.output());
        checks += 1;
    }
    // A dead time that is no multiple of the period, stepped twenty times as often: one pulse of the input, seen d
    // samples later as b0, and one after that as a b0 + b1.
    for row in rows_of(CLOSED, "ZOHD-") {
        let (tau, h, gain) = (row.input("tau"), row.input("h"), row.input("K"));
        let (dead, d) = (row.input("L"), row.input("d") as usize);
        let fine = h / 20.0;
        let kind = Kind::Lags {
            order: 1,
            tau,
            gain,
        };
        let mut plant = Plant::new(kind, (dead / fine).round() as usize, fine, 0.0);
        let seen: Vec<f64> = (0..=d)
            .map(|sample| {
                for _ in 0..20 {
                    plant.step(if sample == 0 { 1.0 } else { 0.0 });
                }
                plant.output()
            })
            .collect();
        let b0 = seen[d - 1];
        let got = if row.id.ends_with("b0") {
            b0
        } else {
            seen[d] - (-h / tau).exp() * b0
        };
        assert!(
            (got - row.number()).abs() <= row.within() + 1e-14,
            "{}: {got}",
            row.id
        );
        checks += 1;
    }
    assert_eq!(checks, 11);
}

/// PI on a first-order plant: the response to a step of the set point, plain and with weight 0 (absorbed).
#[test]
fn pi_step_responses() {
    let mut checks = 0;
    for row in rows_of(CLOSED, "PIFO-") {
        let part = row.id.split('-').nth(2).unwrap_or("");
        if part != "b0" && part != "b1" {
            continue;
        }
        let (gain, tau, t) = (row.input("K"), row.input("tau"), row.input("t"));
        let weight = if part == "b0" {
            Weight::bumpless()
        } else {
            Weight::plain()
        };
        let got = extrapolated(|finer| {
            let h = 0.02 / finer as f64;
            let plant = Plant::new(
                Kind::Lags {
                    order: 1,
                    tau,
                    gain,
                },
                0,
                h,
                0.0,
            );
            let mut closed = Loop::new(plant, row.input("kp"), row.input("ki") * h);
            closed.set(1.0, weight);
            for _ in 0..(t / h).round() as usize {
                closed.step();
            }
            closed.plant.output()
        });
        // ki is rounded to half a count of 2 * 10^5 at the finest period, and the extrapolation makes 11/3 of that.
        assert!(
            (got - row.number()).abs() < row.within() + 5e-6,
            "{}: {got}, published {}",
            row.id,
            row.number()
        );
        checks += 1;
    }
    assert_eq!(checks, 26);
}

/// The integrated error of a load step is 1/ki, whatever the period; cancelled poles leave one time constant.
#[test]
fn pi_load_and_cancellation() {
    for row in [rows_of(CLOSED, "PIFO-O-IE"), rows_of(CLOSED, "PIFO-C-IE")].concat() {
        let h = 0.1;
        let (gain, tau) = (row.input("K"), row.input("tau"));
        let plant = Plant::new(
            Kind::Lags {
                order: 1,
                tau,
                gain,
            },
            0,
            h,
            0.0,
        );
        let mut closed = Loop::new(plant, row.input("kp"), row.input("ki") * h);
        closed.load = 1.0;
        let error: f64 = (0..4000).map(|_| closed.step() * h).sum();
        near(&row, error, 1e-5);
    }
    for row in rows_of(CLOSED, "PIFO-CANCEL") {
        let (gain, tau, kp) = (row.input("K"), row.input("tau"), row.input("kp"));
        let got = extrapolated(|finer| {
            let h = 0.02 / finer as f64;
            let plant = Plant::new(
                Kind::Lags {
                    order: 1,
                    tau,
                    gain,
                },
                0,
                h,
                0.0,
            );
            let mut closed = Loop::new(plant, kp, kp / row.input("Ti") * h);
            closed.set(1.0, Weight::plain());
            for _ in 0..(5.0 / h).round() as usize {
                closed.step();
            }
            -5.0 / (1.0 - closed.plant.output()).ln()
        });
        near(&row, got, 5e-6);
    }
}

/// P on an integrating plant with dead time, gain 1/2: the response by the method of steps, its overshoot, its
/// integrated absolute error.
#[test]
fn proportional_with_dead_time() {
    let response = |finer: usize, theta: f64| {
        let dead = 50 * finer;
        let plant = Plant::new(Kind::Integrator, dead, 1.0 / dead as f64, 0.0);
        let mut closed = Loop::new(plant, 0.5, 0.0);
        closed.set(1.0, Weight::plain());
        let last = (theta * dead as f64).round() as usize;
        (0..=last).map(|_| closed.step()).collect::<Vec<f64>>()
    };
    let mut checks = 0;
    // the loop's margins, of the same table, are in `tuning_published.rs`
    let responses = ["SIMC-FO-Y-", "SIMC-FO-OVERSHOOT", "SIMC-FO-IAE"];
    for row in responses.iter().flat_map(|ids| rows_of(TUNING, ids)) {
        let got = if row.id.starts_with("SIMC-FO-Y-") {
            extrapolated(|f| *response(f, row.input("t/theta")).last().unwrap())
        } else if row.id == "SIMC-FO-OVERSHOOT" {
            extrapolated(|f| (peak(&response(f, 6.0), 1).1 - 1.0) * 100.0)
        } else {
            extrapolated(|f| {
                let errors = response(f, 30.0);
                errors.iter().map(|y| (y - 1.0).abs()).sum::<f64>() / (50 * f) as f64
            })
        };
        // The kink of |e| at each crossing is of second order in the period, and not smooth.
        near(&row, got, if row.id.ends_with("IAE") { 1e-4 } else { 1e-5 });
        checks += 1;
    }
    assert_eq!(checks, 8);
}

/// The `nth` maximum of a response, from 1: its place in samples and its height, by a parabola through three samples.
fn peak(y: &[f64], nth: usize) -> (f64, f64) {
    let at = (1..y.len() - 1)
        .filter(|&k| y[k - 1] < y[k] && y[k] >= y[k + 1])
        .nth(nth - 1)
        .expect("a maximum");
    let (a, b, c) = (y[at - 1], y[at], y[at + 1]);
    let shift = (a - c) / (2.0 * (a - 2.0 * b + c));
    (at as f64 + shift, b - (a - c) * shift / 4.0)
}

/// Integral action alone on a first-order plant is the standard second-order system of damping
/// 1/(2 sqrt(K ki tau)) and frequency sqrt(K ki / tau): overshoot, time of the peak, decay.
#[test]
fn integral_action_on_a_lag() {
    let response = |zeta: f64, finer: usize, until: f64| {
        let h = 0.02 / finer as f64;
        let kind = Kind::Lags {
            order: 1,
            tau: 1.0,
            gain: 1.0,
        };
        let ki = 1.0 / (4.0 * zeta * zeta);
        let mut closed = Loop::new(Plant::new(kind, 0, h, 0.0), 0.0, ki * h);
        // Five units, so that small overshoots are many counts.
        closed.set(5.0, Weight::plain());
        let y = (0..=(until / h).round() as usize).map(|_| closed.step() / 5.0);
        (y.collect::<Vec<f64>>(), h, 1.0 / (2.0 * zeta))
    };
    let mut checks = 0;
    for row in rows_of(CLOSED, "SO-") {
        let zeta = row.input("zeta");
        let got = extrapolated(|finer| {
            let (y, h, frequency) = response(zeta, finer, 30.0);
            let (at, height) = peak(&y, 1);
            match row.id.split('-').nth(1).unwrap() {
                "OS" => (height - 1.0) * 100.0,
                "TP" => at * h * frequency,
                _ if zeta < 0.65 => (peak(&y, 2).1 - 1.0) / (height - 1.0),
                // Beyond, the second peak is too small beside the counts: the trough's square is the decay.
                _ => {
                    let upside_down: Vec<f64> = y.iter().map(|y| -y).collect();
                    let ratio = (1.0 + peak(&upside_down, 1).1) / (height - 1.0);
                    ratio * ratio
                }
            }
        });
        // At damping 0.1 ki is 25 a time constant, and what third order in the period leaves is 7e-5.
        let counts = if row.id.contains("DECAY") { 1e-3 } else { 1e-4 };
        near(&row, got, counts);
        checks += 1;
    }
    assert_eq!(checks, 17);
    // Damping from the overshoot; damping 1 from the critically damped response.
    for row in rows_of(CLOSED, "IONLY-FO-") {
        let ki = row.input("K*ki*tau");
        let zeta = 1.0 / (2.0 * ki.sqrt());
        if row.id == "IONLY-FO-1" {
            for t in [1.0, 3.0, 8.0] {
                let got = extrapolated(|f| *response(zeta, f, t).0.last().unwrap());
                let wt = t / (2.0 * row.number());
                assert!(
                    (got - (1.0 - (1.0 + wt) * (-wt).exp())).abs() < 1e-6,
                    "{got} at {t}"
                );
            }
            assert!(response(zeta, 1, 40.0).0.iter().all(|&y| y < 1.0));
        } else {
            let overshoot = extrapolated(|f| peak(&response(zeta, f, 30.0).0, 1).1 - 1.0);
            let log = overshoot.ln();
            near(
                &row,
                -log / (log * log + std::f64::consts::PI.powi(2)).sqrt(),
                1e-5,
            );
        }
    }
}

/// Growth a half cycle, as a logarithm, and the period in samples, of a loop that swings round nothing: from the
/// areas between zero crossings, the crossings interpolated.
fn swing(mut closed: Loop, halves: usize) -> (f64, f64) {
    const SETTLING: usize = 12;
    let (mut areas, mut crossings) = (Vec::new(), Vec::new());
    let (mut area, mut before) = (0.0, closed.step());
    for k in 1..10_000_000 {
        let y = closed.step();
        if (y < 0.0) == (before < 0.0) {
            area += (y + before) / 2.0;
        } else {
            let share = before / (before - y);
            areas.push(area + before * share / 2.0);
            area = y * (1.0 - share) / 2.0;
            crossings.push(k as f64 - 1.0 + share);
            if areas.len() == SETTLING + halves + 1 {
                break;
            }
        }
        before = y;
    }
    let log = |at: usize| areas[at].abs().ln();
    let growth = (log(SETTLING + halves) - log(SETTLING)) / halves as f64;
    let period = 2.0 * (crossings[SETTLING + halves] - crossings[SETTLING]) / halves as f64;
    (growth, period)
}

/// The gain at which a loop neither grows nor decays, and its period in samples, by secants from a guess.
fn limit(guess: f64, closed: impl Fn(f64) -> Loop) -> (f64, f64) {
    let grows = |gain: f64| swing(closed(gain), 20);
    let (mut a, mut b) = (guess * 0.98, guess);
    let mut fa = grows(a).0;
    for _ in 0..12 {
        let (fb, period) = grows(b);
        // A millionth a half cycle is some millionths of the gain, which is as finely as it is quantised.
        if fb.abs() < 1e-6 {
            return (b, period);
        }
        let next = b - fb * (b - a) / (fb - fa);
        (a, fa, b) = (b, fb, next);
    }
    panic!("no limit near {guess}: {b}");
}

/// Limits of stability and their periods, extrapolated to continuous time. `samples` a unit of the finest feature.
fn limits(
    guess: f64,
    kind: Kind,
    dead: f64,
    samples: usize,
    gains: impl Fn(f64, f64) -> (f64, f64),
) -> (f64, f64) {
    let at = |finer: usize| {
        let h = if dead > 0.0 {
            dead / (samples * finer) as f64
        } else {
            1.0 / (samples * finer) as f64
        };
        let dead_samples = (dead / h).round() as usize;
        let (gain, period) = limit(guess, |gain| {
            let (kp, ki_h) = gains(gain, h);
            Loop::new(Plant::new(kind, dead_samples, h, 0.1), kp, ki_h)
        });
        (gain, period * h)
    };
    let three = [1, 2, 4].map(at);
    let place = |finer: usize| three[finer.ilog2() as usize];
    (extrapolated(|f| place(f).0), extrapolated(|f| place(f).1))
}

const LAG: Kind = Kind::Lags {
    order: 1,
    tau: 1.0,
    gain: 1.0,
};

/// Integral action alone, with dead time: the limit of its gain, and the period there.
#[test]
fn integral_action_with_dead_time() {
    let integral = |ki: f64, h: f64| (0.0, ki * h);
    let mut checks = 0;
    for row in rows_of(CLOSED, "IONLY-FOPDT-") {
        if row.id.ends_with("-T") {
            continue;
        }
        let dead = row.input("L/tau");
        let (gain, period) = limits(row.number(), LAG, dead, 40, integral);
        near(&row, gain, 1e-5);
        checks += 1;
        for with_period in rows_of(CLOSED, &row.id) {
            if with_period.id == format!("{}-T", row.id) {
                near(&with_period, period, 1e-5);
                checks += 1;
            }
        }
    }
    assert_eq!(checks, 13);
    let pure = Kind::Lags {
        order: 0,
        tau: 1.0,
        gain: 1.0,
    };
    let rows = rows_of(CLOSED, "IONLY-DT");
    let find = |id: &str| rows.iter().find(|r| r.id == id).unwrap();
    let (gain, period) = limits(find("IONLY-DT").number(), pure, 1.0, 40, integral);
    near(find("IONLY-DT"), gain, 1e-5);
    near(find("IONLY-DT-T"), period, 1e-5);
    // The fastest without a swing: no count of overshoot half a per cent below, some two per cent above. (Nearer
    // above, the swing has died before it begins: exp(-pi / sqrt(2 * 0.02)) = 1.5e-7 of the step.)
    let overshoots = |share: f64| {
        let (dead, h) = (400, 1.0 / 400.0);
        let ki = find("IONLY-DT-CRIT").number() * share;
        let mut closed = Loop::new(Plant::new(pure, dead, h, 0.0), 0.0, ki * h);
        closed.set(8.0, Weight::plain());
        (0..40 * dead).any(|_| closed.step() > 8.0 + 20.0 / COUNTS)
    };
    assert!(!overshoots(0.995) && overshoots(1.02));
}

/// Proportional action alone: ultimate gain and period.
#[test]
fn ultimate_gains() {
    let proportional = |kp: f64, _: f64| (kp, 0.0);
    let mut checks = 0;
    for row in rows_of(TUNING, "ULT-") {
        let case = row.id.split('-').nth(1).unwrap();
        let lags = |order| Kind::Lags {
            order,
            tau: 1.0,
            gain: 1.0,
        };
        // A guess for the gain from the plant alone, where the row is of the period.
        let (kind, dead, guess) = match case {
            "cube" => (lags(3), 0.0, 8.0),
            "quad" => (lags(4), 0.0, 4.0),
            "idt" => (Kind::Integrator, 1.0, 1.5),
            _ => {
                let dead: f64 = case.trim_start_matches("fopdt").parse().unwrap();
                (lags(1), dead, 1.571 / dead + 0.7)
            }
        };
        let (gain, period) = limits(guess, kind, dead, 40, proportional);
        near(
            &row,
            if row.id.ends_with("Ku") { gain } else { period },
            1e-4,
        );
        checks += 1;
    }
    let row = &rows_of(CLOSED, "PONLY-IDT")[0];
    near(
        row,
        limits(1.5, Kind::Integrator, 1.0, 40, proportional).0,
        1e-4,
    );
    assert_eq!(checks, 13);
}

/// The backward form `I[k] = I[k-1] + ki h e[k], u[k] = I[k]` is the shipped law with `kp = ki h`: P is what the
/// integrator takes after the output is sent. It stays stable where the forward form does not.
#[test]
fn backward_integration() {
    for row in rows_of(CLOSED, "DSTAB-I-bwd-") {
        let (tau, h, gain) = (row.input("tau"), row.input("h"), row.input("K"));
        // The limit is a pole at -1, a swing of two samples: by its growth from sample to sample.
        let grows = |ki: f64| {
            let plant = Plant::new(
                Kind::Lags {
                    order: 1,
                    tau,
                    gain,
                },
                0,
                h,
                0.001,
            );
            let mut closed = Loop::scaled(plant, ki * h, ki * h, LSB / 10.0);
            let (mut first, mut last) = (0.0_f64, 0.0_f64);
            for k in 0..1200 {
                let y = closed.step().abs();
                match k {
                    // 500 times the beginning is growth, whatever the limits would make of it then.
                    _ if y > 0.5 => return true,
                    0..300 => first = first.max(y),
                    900.. => last = last.max(y),
                    _ => {}
                }
            }
            last > first
        };
        let (mut low, mut high) = (0.5 * row.number(), 1.02 * row.number());
        assert!(!grows(low) && grows(high));
        for _ in 0..24 {
            let middle = (low + high) / 2.0;
            if grows(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        near(&row, low, 1e-3);
    }
}
