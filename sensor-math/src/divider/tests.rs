use super::{Divider, Side};

/// Kirchhoff by conductances: the ADC's node of a divider from 1 V, all currents summing to zero.
fn node_volts(divider: &Divider, sensor_ohm: f64) -> f64 {
    let sensor = 1.0 / sensor_ohm + divider.parallel_ohm.map_or(0.0, |ohm| 1.0 / ohm);
    let network = 1.0 / (divider.series_ohm + 1.0 / sensor);
    let resistor = 1.0 / divider.resistor_ohm;
    let up = match divider.side {
        Side::Supply => network,
        Side::Ground => resistor,
    };
    up / (network + resistor)
}

fn dividers() -> [Divider; 8] {
    [Side::Supply, Side::Ground]
        .map(|side| {
            let plain = Divider::new(side, 4_700.0);
            [
                plain,
                plain.with_series(330.0),
                plain.with_parallel(22_000.0),
                plain.with_parallel(22_000.0).with_series(330.0),
            ]
        })
        .as_flattened()
        .try_into()
        .unwrap()
}

#[test]
fn ratio_is_the_nodes_voltage_and_inverts() {
    let mut cases = 0;
    for divider in dividers() {
        let mut ohm = 1.0;
        while ohm < 1e6 {
            let ratio = divider.ratio_at(ohm);
            let volts = node_volts(&divider, ohm);
            assert!(
                (ratio - volts).abs() < 1e-14,
                "{divider:?} at {ohm}: {ratio}, not {volts}"
            );
            let back = divider.ohm_at(ratio);
            assert!(
                (back / ohm - 1.0).abs() < 1e-9,
                "{divider:?} at {ohm}: {back}"
            );
            ohm *= 1.05;
            cases += 1;
        }
    }
    assert_eq!(cases, 8 * 284);
}

/// A broken wire and a short leave what the other resistors say.
#[test]
fn a_broken_wire_and_a_short() {
    let linear = Divider::new(Side::Supply, 1_000.0)
        .with_parallel(3_000.0)
        .with_series(500.0);
    assert_eq!(linear.network_ohm(f64::INFINITY), 3_500.0);
    assert_eq!(linear.network_ohm(0.0), 500.0);
    assert_eq!(linear.network_ohm(3_000.0), 2_000.0);
    assert_eq!(linear.ratio_at(f64::INFINITY), 1_000.0 / 4_500.0);
    let to_ground = Divider {
        side: Side::Ground,
        ..linear
    };
    assert_eq!(to_ground.ratio_at(f64::INFINITY), 3_500.0 / 4_500.0);
    assert_eq!(to_ground.ratio_at(0.0), 500.0 / 1_500.0);
    for (side, open, short) in [(Side::Supply, 0.0, 1.0), (Side::Ground, 1.0, 0.0)] {
        let plain = Divider::new(side, 1_000.0);
        assert_eq!(
            (plain.ratio_at(f64::INFINITY), plain.ratio_at(0.0)),
            (open, short)
        );
    }
}

/// Ratios that no sensor gives come back as the nearer end, at the ends and beyond them.
#[test]
fn ratios_that_no_resistance_gives() {
    for (side, hot, cold) in [(Side::Supply, 1.0, 0.0), (Side::Ground, 0.0, 1.0)] {
        let out = |ratio: f64, by: f64| if ratio > 0.5 { ratio + by } else { ratio - by };
        for by in [0.0, 0.1, 5.0] {
            let plain = Divider::new(side, 1_000.0);
            assert_eq!(plain.ohm_at(out(hot, by)), 0.0, "{side:?} {by}");
            assert_eq!(plain.ohm_at(out(cold, by)), f64::INFINITY, "{side:?} {by}");
        }
        let linear = Divider::new(side, 1_000.0)
            .with_parallel(3_000.0)
            .with_series(500.0);
        // a network of 500 ohm is a short, one of 3500 ohm a broken wire; nothing lies beyond
        let network = |ohm: f64| Divider::new(side, 1_000.0).ratio_at(ohm);
        assert_eq!(linear.ohm_at(network(400.0)), 0.0);
        assert!(linear.ohm_at(network(500.5)) < 1.0 && linear.ohm_at(network(500.5)) > 0.0);
        assert_eq!(linear.ohm_at(network(3_600.0)), f64::INFINITY);
        assert_eq!(linear.ohm_at(network(1e9)), f64::INFINITY);
        assert!(linear.ohm_at(network(3_499.0)) > 1e6);
    }
    // exactly the parallel resistor: 1/(1 - 1/2) - 1 = 1 kohm of network
    let exact = Divider::new(Side::Supply, 1_000.0).with_parallel(1_000.0);
    assert_eq!(exact.ohm_at(0.5), f64::INFINITY);
}

#[test]
fn impossible_resistances_are_refused() {
    let good = Divider::new(Side::Supply, 1_000.0)
        .with_parallel(3_000.0)
        .with_series(500.0);
    assert!(good.is_valid() && Divider::new(Side::Ground, 1e-3).is_valid());
    assert!(good.with_series(0.0).is_valid(), "no series resistor");
    for bad in [0.0, -1.0, f64::INFINITY, f64::NEG_INFINITY, f64::NAN] {
        assert!(!good.with_parallel(bad).is_valid(), "{bad}");
        assert!(
            !Divider {
                resistor_ohm: bad,
                ..good
            }
            .is_valid(),
            "{bad}"
        );
        assert!(bad == 0.0 || !good.with_series(bad).is_valid(), "{bad}");
    }
}
