//! The sensor curves against an oracle, and against published values (each row carries its source; see
//! `published/`).

use host_harness::reference::sensor as oracle;
use hushloop_tests::{Row, rows};
use sensor_math::curve::{Beta, Curve, Platinum, SteinhartHart};

/// Every curve against an oracle that shares no code with it, both ways, over its range.
#[test]
fn curves_follow_the_oracle() {
    let mut cases = 0;
    for tenth in -1000..=3000 {
        let celsius = f64::from(tenth) / 10.0;
        let part = Beta::new(10_000.0, 3435.0);
        let ohm = oracle::beta_ohm(10_000.0, 3435.0, celsius);
        assert!(
            (part.ohm_at(celsius) / ohm - 1.0).abs() < 1e-13,
            "{celsius}"
        );
        assert!((part.celsius_at(ohm) - celsius).abs() < 1e-10, "{celsius}");
        let part = SteinhartHart::new(1.129148e-3, 2.34125e-4, 8.76741e-8);
        let ohm = oracle::steinhart_hart_ohm(part.a, part.b, part.c, celsius);
        assert!(
            (part.ohm_at(celsius) / ohm - 1.0).abs() < 1e-12,
            "{celsius}"
        );
        assert!((part.celsius_at(ohm) - celsius).abs() < 1e-10, "{celsius}");
        cases += 1;
    }
    for half in -400..=1700 {
        let celsius = f64::from(half) / 2.0;
        let part = Curve::Platinum(Platinum::new(1000.0));
        let ohm = oracle::platinum_ohm(1000.0, celsius);
        assert!(
            (part.ohm_at(celsius) / ohm - 1.0).abs() < 1e-13,
            "{celsius}"
        );
        assert!((part.celsius_at(ohm) - celsius).abs() < 1e-9, "{celsius}");
        cases += 1;
    }
    assert_eq!(cases, 4001 + 2101);
}

fn beta(row: &Row) -> Beta {
    let r25 = if row.inputs.iter().any(|(name, _)| name == "R25") {
        row.input("R25")
    } else {
        10_000.0
    };
    Beta::new(r25, row.input("B"))
}

fn steinhart_hart(row: &Row) -> SteinhartHart {
    SteinhartHart::new(row.input("A"), row.input("B"), row.input("C"))
}

/// `t1,R1=0,30000`: a fit point, celsius and ohm.
fn fit(row: &Row) -> SteinhartHart {
    let point = |key: &str| {
        let (celsius, ohm) = row
            .inputs
            .iter()
            .find(|(name, _)| name == key)
            .expect("a point")
            .1
            .split_once(',')
            .expect("two numbers");
        (celsius.parse().expect("celsius"), ohm.parse().expect("ohm"))
    };
    SteinhartHart::through([point("t1,R1"), point("t2,R2"), point("t3,R3")]).expect("a curve")
}

#[test]
fn thermistors() {
    let mut checked = 0;
    for row in rows("ntc.csv") {
        let id = row.id.as_str();
        match id.split('-').nth(1).expect("a kind") {
            // B from two resistances a factor e apart whose inverse temperatures differ by 1/3000.
            "BDEF" => {
                let kelvin = 1.0 / (1.0 / 298.15 + 1.0 / 3000.0);
                row.check(Beta::between(
                    (kelvin - 273.15, 10_000.0 * 1f64.exp()),
                    (25.0, 10_000.0),
                ));
            }
            "ALPHA25" => {
                let curve = beta(&row);
                let h = 1e-3;
                let slope = (curve.ohm_at(25.0 + h).ln() - curve.ohm_at(25.0 - h).ln()) / (2.0 * h);
                row.check(100.0 * slope);
            }
            "RATIO8525" => row.check(beta(&row).ohm_at(85.0) / 10_000.0),
            kind if kind.starts_with("INV") => row.check(beta(&row).celsius_at(row.input("R"))),
            "SH" if id.starts_with("NTC-SH-T-") => {
                row.check(steinhart_hart(&row).celsius_at(row.input("R")));
            }
            "SH" if id.starts_with("NTC-SH-R-") => {
                row.check(steinhart_hart(&row).ohm_at(row.input("t_C")));
            }
            "FIT" => match id.rsplit('-').next().expect("a part") {
                // The rows print more digits than a fit in f64 keeps.
                "A" => assert!((fit(&row).a / row.number() - 1.0).abs() < 1e-12, "{id}"),
                "B" => assert!((fit(&row).b / row.number() - 1.0).abs() < 1e-12, "{id}"),
                _ => row.check(fit(&row).ohm_at(row.input("t_C"))),
            },
            "BETA" => {
                let curve = beta(&row);
                let a = 1.0 / 298.15 - curve.r25_ohm.ln() / curve.beta_kelvin;
                row.check(a);
                // The identity the row states: the same curve as Steinhart-Hart with C = 0.
                let same = SteinhartHart::new(a, 1.0 / curve.beta_kelvin, 0.0);
                for celsius in [-40.0, 0.0, 25.0, 60.0, 125.0] {
                    let ratio = same.ohm_at(celsius) / curve.ohm_at(celsius);
                    assert!((ratio - 1.0).abs() < 1e-12, "{celsius} degC: {ratio}");
                }
            }
            // What the sensor does in its divider: checked where that is worked out, in `tests/tests/sensor_divider.rs`.
            "SELF" | "DIV" => continue,
            "MIL" => row.check(Beta::between((25.0, row.input("ratio")), (125.0, 1.0))),
            kind if kind.starts_with('B') => row.check(beta(&row).ohm_at(row.input("t_C"))),
            other => panic!("{id}: no check for {other}"),
        }
        checked += 1;
    }
    assert_eq!(checked, 93);
}

#[test]
fn platinum() {
    let mut checked = 0;
    let pt100 = Platinum::new(100.0);
    let unit = Platinum::new(1.0);
    let rows = rows("platinum_rtd.csv");
    let coefficient = |i: usize| {
        let id = format!("PT-E1137-D{i}");
        rows.iter()
            .find(|row| row.id == id)
            .expect("a coefficient")
            .number()
    };
    for row in &rows {
        let id = row.id.as_str();
        if id.starts_with("PT100-") {
            row.check(pt100.ohm_at(row.input("t_C")));
        } else if id.starts_with("PT-HI-") {
            row.check(unit.ohm_at(row.input("t_C")));
        } else if id.starts_with("PT-SENS-") {
            let (t, h) = (row.input("t_C"), 1e-3);
            row.check((unit.ohm_at(t + h) - unit.ohm_at(t - h)) / (2.0 * h));
        } else if id.starts_with("PT-INV-") {
            row.check(Platinum::new(row.input("R0")).celsius_at(row.input("R_ohm")));
        } else if id.starts_with("PT-ALPHA") {
            row.check((pt100.ohm_at(100.0) - pt100.ohm_at(0.0)) / (100.0 * pt100.ohm_at(0.0)));
        } else if id == "PT-E1137-ERR" {
            // The standard's own inverse polynomial below zero, against our inverse.
            let mut worst = 0f64;
            for step in 0..=400 {
                let t = -0.5 * f64::from(step);
                let w = unit.ohm_at(t) - 1.0;
                let polynomial: f64 = (1..=4).map(|i| coefficient(i) * w.powi(i as i32)).sum();
                worst = worst.max((polynomial - unit.celsius_at(1.0 + w)).abs());
            }
            row.check(worst);
        } else {
            if id.starts_with("PT-TOL-") {
                continue; // read by sensor_divider.rs
            }
            assert!(id.starts_with("PT-E1137-D"), "{id}: no check");
        }
        checked += 1;
    }
    assert_eq!(checked, 83);
}
