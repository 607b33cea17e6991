//! The sensor curves against an oracle. (Against published values: in `sensor-math` itself.)

use host_harness::reference::sensor as oracle;
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
