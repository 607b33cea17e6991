//! Tuning rules and margins against published and exact values: every row of `published/control_tuning.csv`, and the
//! integral-only and proportional-only limits of `published/control_closed_form.csv`. How far each row was verified stands in its
//! column `confidence`; rows "from memory" are marked so there. Step responses (`SIMC-FO-Y`, `-IAE`, `-OVERSHOOT`) are in
//! `law_loops.rs`, which closes them round the shipped law.

use host_harness::margins::Margins;
use host_harness::margins::law::{OpenLoop, SampledLaw};
use host_harness::margins::linear::Linear;
use host_harness::tune::model::Model;
use host_harness::tune::reduce::Factors;
use host_harness::tune::rules::{Rule, Terms};
use hushloop_tests::{Row, rows, rows_of};
use num_complex::Complex64;

const TUNING: &str = "control_tuning.csv";
const CLOSED: &str = "control_closed_form.csv";

/// A row of its own tolerance, or of the tolerance of a root found in f64.
fn check(row: &Row, got: f64) {
    row.check(got);
}

#[test]
fn margins_of_the_tight_simc_loops() {
    let first = |w: f64| 0.5 * Complex64::cis(-w) / Complex64::new(0.0, w);
    let integrating = |w: f64| {
        let s = Complex64::new(0.0, w);
        0.5 * (1.0 + 1.0 / (8.0 * s)) * Complex64::cis(-w) / s
    };
    let mut checks = 0;
    for (prefix, m) in [
        ("SIMC-FO-", Margins::of(&first, 1e-3, 1e2, 1)),
        ("SIMC-INT-", Margins::of(&integrating, 1e-3, 1e2, 2)),
    ] {
        assert!(m.stable);
        for row in rows_of(TUNING, prefix) {
            let name = row.id.strip_prefix(prefix).unwrap().trim_end_matches("-HI");
            let got = match name {
                "GM" => m.gain_margin,
                "PM" => m.phase_margin_degrees(),
                "Ms" => m.sensitivity_max,
                "Mt" => m.complementary_max,
                "w180" => m.limit_rad_s,
                "wc" => m.crossover_rad_s,
                "DM" => m.delay_margin_s,
                _ => continue, // step responses
            };
            check(&row, got);
            checks += 1;
        }
    }
    assert_eq!(checks, 23);
}

/// The plants of the worked examples, which the rows give as text.
fn plant(text: &str) -> Factors {
    let (gain, lags, zeros, dead): (f64, &[f64], &[f64], f64) = match text {
        "1/((s+1)*(0.2*s+1))" => (1.0, &[1.0, 0.2], &[], 0.0),
        "(-0.3*s+1)*(0.08*s+1)/((2*s+1)*(s+1)*(0.4*s+1)*(0.2*s+1)*(0.05*s+1)**3)" => (
            1.0,
            &[2.0, 1.0, 0.4, 0.2, 0.05, 0.05, 0.05],
            &[-0.3, 0.08],
            0.0,
        ),
        "2*(15*s+1)/((20*s+1)*(s+1)*(0.1*s+1)**2)" => (2.0, &[20.0, 1.0, 0.1, 0.1], &[15.0], 0.0),
        "1/(s+1)**4" => (1.0, &[1.0; 4], &[], 0.0),
        "1/((s+1)*(0.2*s+1)*(0.04*s+1)*(0.008*s+1))" => (1.0, &[1.0, 0.2, 0.04, 0.008], &[], 0.0),
        "(-2*s+1)/(s+1)**3" => (1.0, &[1.0; 3], &[-2.0], 0.0),
        "1/(s*(s+1)**2)" => (1.0, &[f64::INFINITY, 1.0, 1.0], &[], 0.0),
        "exp(-s)/(s+1)**2" => (1.0, &[1.0, 1.0], &[], 1.0),
        "exp(-s)/((20*s+1)*(2*s+1))" => (1.0, &[20.0, 2.0], &[], 1.0),
        "(-s+1)*exp(-s)/((6*s+1)*(2*s+1)**2)" => (1.0, &[6.0, 2.0, 2.0], &[-1.0], 1.0),
        "(-s+1)/s" => (1.0, &[f64::INFINITY], &[-1.0], 0.0),
        "(-s+1)/(s+1)" => (1.0, &[1.0], &[-1.0], 0.0),
        other => panic!("no plant {other}"),
    };
    Factors {
        gain,
        lags: lags.to_vec(),
        zeros: zeros.to_vec(),
        dead_time_s: dead,
    }
}

fn response(plant: &Factors, w: f64) -> Complex64 {
    let s = Complex64::new(0.0, w);
    let top: Complex64 = plant.zeros.iter().map(|z| s * z + 1.0).product();
    let bottom: Complex64 = plant
        .lags
        .iter()
        .map(|lag| if lag.is_finite() { s * lag + 1.0 } else { s })
        .product();
    plant.gain * top / bottom * (-s * plant.dead_time_s).exp()
}

/// Half rule, settings and maximum sensitivity on the full plant, of the fifteen worked examples of the SIMC paper.
#[test]
fn worked_examples_of_the_half_rule() {
    let mut checks = 0;
    for row in rows_of(TUNING, "SIMC-E") {
        let text = &row.inputs.iter().find(|(n, _)| n == "plant").unwrap().1;
        let factors = plant(text);
        let two = row.id.contains("-PID-");
        let model = factors.reduce(two, 0.0);
        // the reduced model itself is an input of every row
        let input = |name: &str| {
            row.inputs
                .iter()
                .find(|(n, _)| n == name)
                .unwrap()
                .1
                .clone()
        };
        assert!(
            (model.dead_time_s - row.input("theta")).abs() < 1e-9,
            "{}: {model:?}",
            row.id
        );
        if input("tau1") == "inf" {
            assert!(model.lag_s.is_infinite(), "{}: {model:?}", row.id);
            assert!(
                (model.slope - row.input("k")).abs() < 1e-9,
                "{}: {model:?}",
                row.id
            );
        } else {
            assert!(
                (model.lag_s - row.input("tau1")).abs() < 1e-9,
                "{}: {model:?}",
                row.id
            );
            assert!(
                (model.gain() - row.input("k")).abs() < 1e-9,
                "{}: {model:?}",
                row.id
            );
        }
        assert!(
            (model.second_s - row.input("tau2")).abs() < 1e-9,
            "{}: {model:?}",
            row.id
        );
        // series settings: Kc and tauI are those without the second lag
        let one = Model {
            second_s: 0.0,
            ..model
        };
        let (kc, ti, _) = Rule::Simc(model.dead_time_s)
            .gains(&one, Terms::Pi)
            .unwrap()
            .to_standard();
        let got = match row.id.trim_end_matches("-HI").rsplit('-').next().unwrap() {
            "theta" => model.dead_time_s,
            "Kc" => kc,
            "tauI" => ti,
            "tauD" => model.second_s,
            "Ms" => {
                let terms = if two { Terms::Pid } else { Terms::Pi };
                let gains = Rule::Simc(model.dead_time_s).gains(&model, terms).unwrap();
                let law = |w: f64| {
                    let s = Complex64::new(0.0, w);
                    gains.kp_per_kelvin
                        + gains.ki_per_kelvin_second / s
                        + gains.kd_second_per_kelvin * s
                };
                let integrators = 1 + u32::from(model.lag_s.is_infinite());
                Margins::of(&|w| law(w) * response(&factors, w), 1e-4, 1e6, integrators)
                    .sensitivity_max
            }
            other => panic!("{other}"),
        };
        let row = Row {
            tolerance: if row.tolerance == "exact" {
                "1e-12".into()
            } else {
                row.tolerance.clone()
            },
            ..row
        };
        check(&row, got);
        checks += 1;
    }
    assert_eq!(checks, 85);
}

#[test]
fn ultimate_gains_and_periods() {
    let lags = |n: i32| move |w: f64| Complex64::new(1.0, w).powi(-n);
    let mut checks = 0;
    for row in rows_of(TUNING, "ULT-") {
        let case = row.id.split('-').nth(1).unwrap();
        let (ku, tu) = match case {
            "cube" | "quad" => {
                let m = Margins::of(&lags(if case == "cube" { 3 } else { 4 }), 1e-3, 1e3, 0);
                (m.gain_margin, m.limit_period_s())
            }
            "idt" => Model::integrating(1.0, 1.0).ultimate().unwrap(),
            _ => Model::first_order(1.0, 1.0, row.input("L"))
                .ultimate()
                .unwrap(),
        };
        check(&row, if row.id.ends_with("Ku") { ku } else { tu });
        checks += 1;
    }
    assert_eq!(checks, 13);
}

/// `1/2` in a row's inputs is a half.
fn fraction(row: &Row, name: &str) -> f64 {
    let text = &row.inputs.iter().find(|(n, _)| n == name).unwrap().1;
    match text.split_once('/') {
        Some((a, b)) => a.parse::<f64>().unwrap() / b.parse::<f64>().unwrap(),
        None => text.parse().unwrap(),
    }
}

#[test]
fn rules_of_a_first_order_model() {
    let mut checks = 0;
    for prefix in ["ZN1-", "CC-", "LAM-", "IMC-", "AMIGO-", "SIMC-RULE-"] {
        for row in rows_of(TUNING, prefix) {
            let parts: Vec<&str> = row.id.split('-').collect();
            let simc = prefix == "SIMC-RULE-";
            let (gain, lag, dead) = if simc {
                ("k", "tau1", "theta")
            } else {
                ("K", "T", "L")
            };
            let model = Model::first_order(
                fraction(&row, gain),
                fraction(&row, lag),
                fraction(&row, dead),
            );
            let rule = match prefix {
                "ZN1-" => Rule::ZieglerNicholsStep,
                "CC-" => Rule::CohenCoon,
                "LAM-" => Rule::Lambda(row.input("lambda")),
                "IMC-" => Rule::Imc(row.input("lambda")),
                "SIMC-RULE-" => Rule::Simc(row.input("tau_c")),
                _ => Rule::Amigo,
            };
            let terms = if parts.contains(&"P") {
                Terms::P
            } else if parts.contains(&"PID") {
                Terms::Pid
            } else {
                Terms::Pi
            };
            let (kc, ti, td) = rule
                .gains(&model, terms)
                .unwrap_or_else(|| panic!("{}", row.id))
                .to_standard();
            let got = match *parts.last().unwrap() {
                "K" | "Kc" => kc,
                "Ti" | "TI" => ti,
                "Td" => td,
                other => panic!("{other}"),
            };
            check(&row, got);
            checks += 1;
        }
    }
    assert_eq!(checks, 92);
}

/// The same rules from the ultimate cycle; the variant of Astrom and Hagglund (`ZN2AH`) is the shipped law's
/// (`law_cycles.rs`).
#[test]
fn rules_of_an_ultimate_cycle() {
    // a plant with that ultimate cycle: an integrator behind dead time has Ku = pi / (2 a), Tu = 4 L
    let with = |ku: f64, tu: f64| Model::integrating(std::f64::consts::TAU / (ku * tu), tu / 4.0);
    let mut checks = 0;
    for row in rows_of(TUNING, "ZN2-") {
        let model = with(row.input("Ku"), row.input("Tu"));
        let (ku, tu) = model.ultimate().unwrap();
        assert!(
            (ku / row.input("Ku") - 1.0).abs() < 1e-9 && (tu / row.input("Tu") - 1.0).abs() < 1e-9
        );
        let terms = match row.id.split('-').nth(2).unwrap() {
            "P" => Terms::P,
            "PI" => Terms::Pi,
            _ => Terms::Pid,
        };
        let (kc, ti, td) = Rule::ZieglerNicholsCycle
            .gains(&model, terms)
            .unwrap()
            .to_standard();
        let got = match row.id.rsplit('-').next().unwrap() {
            "K" => kc,
            "Ti" => ti,
            _ => td,
        };
        // the rows give Ku and Tu to eight digits
        assert!((got / row.number() - 1.0).abs() < 3e-8, "{}: {got}", row.id);
        checks += 1;
    }
    assert_eq!(checks, 16);
    // the two rows are formulas: `K=1/3.2*Ku; Ti=2.2*Tu`, read as they stand
    for row in rows_of(TUNING, "TL-") {
        let model = with(5.0, 7.0);
        let terms = if row.id == "TL-PI" {
            Terms::Pi
        } else {
            Terms::Pid
        };
        let got = Rule::TyreusLuyben
            .gains(&model, terms)
            .unwrap()
            .to_standard();
        let mut seen = 0;
        for formula in row.expected.split(';') {
            let (name, right) = formula.trim().split_once('=').unwrap();
            let (number, of) = right.split_once('*').unwrap();
            let number = match number.split_once('/') {
                Some((a, b)) => a.parse::<f64>().unwrap() / b.parse::<f64>().unwrap(),
                None => number.parse::<f64>().unwrap(),
            };
            let wanted = number * if of == "Ku" { 5.0 } else { 7.0 };
            let got = match name {
                "K" => got.0,
                "Ti" => got.1,
                _ => got.2,
            };
            assert!(
                (got / wanted - 1.0).abs() < 1e-9,
                "{}: {name} {got} {wanted}",
                row.id
            );
            seen += 1;
        }
        assert_eq!(seen, if row.id == "TL-PI" { 2 } else { 3 });
    }
}

/// Limits of integral-only and proportional-only loops, and of sampled ones: all are gain margins.
#[test]
fn limits_of_simple_loops() {
    let mut checks = 0;
    for row in rows(CLOSED) {
        let integral = |plant: &dyn Fn(f64) -> Complex64| {
            let of = |w: f64| plant(w) / Complex64::new(0.0, w);
            Margins::of(&of, 1e-5, 1e4, 1)
        };
        let got = match row.id.as_str() {
            "IONLY-DT" => integral(&|w| Complex64::cis(-w)).gain_margin,
            "IONLY-DT-T" => integral(&|w| Complex64::cis(-w)).limit_period_s(),
            "PONLY-IDT" => {
                Margins::of(
                    &|w| Complex64::cis(-w) / Complex64::new(0.0, w),
                    1e-5,
                    1e4,
                    1,
                )
                .gain_margin
            }
            id if id.starts_with("IONLY-FOPDT-") => {
                let dead = row.input("L/tau");
                let m = integral(&|w| Complex64::cis(-w * dead) / Complex64::new(1.0, w));
                if id.ends_with("-T") {
                    m.limit_period_s()
                } else {
                    m.gain_margin
                }
            }
            id if id.starts_with("DSTAB-P-")
                || id.starts_with("DSTAB-I-fwd-") && !id.contains("-T-") =>
            {
                let open = OpenLoop::new(
                    &Linear::lags(row.input("K"), &[row.input("tau")], 0.0),
                    row.input("h"),
                );
                // a hundredth of the limit, so that the loop is stable and its margin the limit over the gain
                let unit = 0.01 * row.number();
                let (kp, ki) = if id.starts_with("DSTAB-P-") {
                    (unit, 0.0)
                } else {
                    (0.0, unit * row.input("h"))
                };
                let m = open.margins(&SampledLaw {
                    kp,
                    ki,
                    kd: 0.0,
                    filter_exponent: 3,
                });
                unit * m.gain_margin
            }
            "DSTAB-I-fwd-T-5" => {
                let open =
                    OpenLoop::new(&Linear::lags(2.0, &[row.input("tau")], 0.0), row.input("h"));
                open.margins(&SampledLaw {
                    kp: 0.0,
                    ki: 0.01,
                    kd: 0.0,
                    filter_exponent: 3,
                })
                .limit_period_s()
            }
            id if id.starts_with("RELAY-FOPDT-") && id.ends_with("-Ku") => {
                Model::first_order(1.0, 1.0, row.input("L/tau"))
                    .ultimate()
                    .unwrap()
                    .0
            }
            _ => continue,
        };
        check(&row, got);
        checks += 1;
    }
    assert_eq!(checks, 27);
}

/// Every row of the file has a reader: a prefix of this list, whose test counts what it checked.
#[test]
fn no_row_is_left_out() {
    let read = [
        "SIMC-FO-",
        "SIMC-INT-",
        "SIMC-E",
        "SIMC-RULE-",
        "ULT-",
        "ZN1-",
        "ZN2-",
        "ZN2AH-",
        "CC-",
        "LAM-",
        "IMC-",
        "AMIGO-",
        "TL-",
    ];
    let all = rows(TUNING);
    for row in &all {
        assert!(
            read.iter().any(|prefix| row.id.starts_with(prefix)),
            "{}",
            row.id
        );
    }
    assert_eq!(all.len(), 244);
}
