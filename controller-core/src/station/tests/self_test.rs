//! Liveness and the background test of the configuration.

use super::*;

#[test]
fn no_token_without_an_output_tick_nor_with_a_changed_configuration() {
    let mut station = running();
    station.output_tick();
    assert!(station.step(celsius(40.0), 4).is_some());
    assert!(
        station.step(celsius(40.0), 4).is_none(),
        "the output's clock is dead"
    );
    station.output_tick();
    assert!(station.step(celsius(40.0), 4).is_some());

    let good = StationConfig::<8, FanDrive>::constant(COOL_PARTS).with_checksum(COOL.checksum());
    let mut bad_parts = COOL_PARTS;
    bad_parts.settings = Settings::<i16, 8>::constant(
        Mantissas { kp: 2_001, ..GAINS },
        6_553,
        32_767,
        Action::Direct,
    );
    let bad = StationConfig::<8, FanDrive>::constant(bad_parts).with_checksum(COOL.checksum());
    let mut station = Cooling::new(&good);
    for _ in 0..200 {
        sample(&mut station, celsius(40.0));
    }
    let mut station = station.with_config(&bad);
    let parts = <StationConfig<8, FanDrive> as Fields>::PARTS;
    assert_eq!(parts, 5);
    let steps = (1..)
        .find(|_| {
            station.output_tick();
            station.step(celsius(40.0), 4).is_none()
        })
        .unwrap();
    assert!(steps <= 2 * u32::from(parts), "{steps} for {parts} parts");
    assert_eq!(station.demand(), Duty::FULL, "safe in the same step");

    // Onto a timer of a shorter period, with the pin either way: no compare value beyond its end.
    let mut parts = COOL_PARTS;
    for polarity in [Polarity::ActiveHigh, Polarity::ActiveLow] {
        parts.drive.timer = DitherConfig::constant(100, FLOOR, polarity);
        let short = StationConfig::<8, FanDrive>::constant(parts);
        let mut station = running().with_config(&short);
        for _ in 0..300 {
            assert!(station.output_tick()[0] <= 100);
        }
    }

    let untested = bad.without_checksum();
    let mut station = Cooling::new(&untested);
    for _ in 0..200 {
        sample(&mut station, celsius(40.0));
        assert!(!station.alarms().has(Alarm::SelfTest));
    }
}

#[test]
fn every_word_of_the_configuration_is_summed() {
    // the first part by hand: gains, limits, action, scale, set point
    let by_hand = [2_000, 600, 0, 6_553, 32_767, 1, 8, 40 * 128]
        .into_iter()
        .fold(crate::station::Checksum::new(), |sum, word| sum.word(word));
    let mut sum = crate::station::Checksum::new();
    COOL.walk_part(0, &mut sum);
    assert_eq!(sum, by_hand);
    // each part, changed alone, changes the sum
    let sum = |change: fn(&mut StationParts<8, FanDrive>)| {
        let mut parts = COOL_PARTS;
        change(&mut parts);
        StationConfig::<8, FanDrive>::constant(parts).checksum()
    };
    let sums = [
        sum(|_| {}),
        sum(|p| p.set_point = FixedI16::<U7>::lit("40.5")),
        sum(|p| p.guards.sensor = SensorConfig::constant(3, 3)),
        sum(|p| p.guards.stale = StaleConfig::constant(7)),
        sum(|p| p.guards.trip = TripConfig::constant(60 * 128, 5 * 128, 3)),
        sum(|p| p.guards.rate = None),
        sum(|p| p.guards.stuck = None),
        sum(|p| p.guards.effect = None),
        sum(|p| p.guards.hunting = None),
        sum(|p| p.guards.on_hunting = OnHunting::Report),
        sum(|p| p.drive.wiring = Wiring::ThreeWireLinear),
        sum(|p| p.drive.tachometer = None),
        sum(|p| p.drive.timer = DitherConfig::constant(999, FLOOR, Polarity::ActiveHigh)),
        sum(|p| p.drive.fans.stagger = 1),
    ];
    for (at, one) in sums.iter().enumerate() {
        assert!(!sums[..at].contains(one), "part {at}");
    }
}
