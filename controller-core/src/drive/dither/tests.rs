use super::{Dither, DitherConfig, Polarity};
use crate::duty::Duty;
use core::mem::size_of;

#[test]
fn state_is_six_bytes() {
    assert_eq!(size_of::<Dither>(), 6);
}

/// Every duty, every period, every floor and every carried rest of the 7-bit duty word: one tick
/// never gives more than the period nor less than the floor, carries less than one clock, and
/// loses nothing.
#[test]
fn every_input_at_eight_bits() {
    let mut cases = 0_u64;
    for top in 16..=255_u16 {
        // Each floor code a floor duty can lead to, once.
        let mut last_floor_code = u16::MAX;
        for floor in 0..=127_u16 {
            let config = DitherConfig::<7>::of_any_width(top, floor, Polarity::ActiveHigh);
            let least = (u32::from(floor) * u32::from(top)).div_ceil(127);
            assert_eq!(u32::from(config.floor_code), least, "never below the floor");
            assert!(config.floor_code <= top);
            if config.floor_code == last_floor_code {
                continue;
            }
            last_floor_code = config.floor_code;
            for duty in 0..=127_u16 {
                for carried in 0..127_u16 {
                    let mut dither = Dither::<7> {
                        carried,
                        ..Dither::<7>::default()
                    };
                    dither.set_word(&config, duty);
                    let code = dither.tick(&config);
                    assert!(code <= top);
                    assert!(dither.carried < 127);
                    assert!(duty == 0 || code >= config.floor_code);
                    let ideal = u32::from(duty) * u32::from(top);
                    if duty == 0 {
                        assert_eq!((code, dither.carried), (0, carried));
                    } else if ideal / 127 >= u32::from(config.floor_code) {
                        let given = u32::from(code) * 127 + u32::from(dither.carried);
                        assert_eq!(given, ideal + u32::from(carried), "nothing is lost");
                    } else {
                        assert_eq!((code, dither.carried), (config.floor_code, carried));
                    }
                    cases += 1;
                }
            }
        }
    }
    // Floor codes a period can have: all of 0 ..= top while top < 127, else one for each of the
    // 128 floors; each with 128 duties and 127 carried rests.
    let floor_codes = (16..=126).map(|top| top + 1).sum::<u64>() + 129 * 128;
    assert_eq!(cases, floor_codes * 128 * 127);
    assert_eq!(cases, 398_337_024);
}

/// Over a full cycle of ONE ticks the sum of codes is exactly `duty * top`: the average is the
/// duty itself, far inside half a step.
#[test]
fn the_average_over_a_full_cycle_is_exact() {
    let mut cycles = 0;
    for top in [16, 17, 100, 255, 256, 640, 1000, 32_767, 65_534, 65_535] {
        let config = DitherConfig::constant(top, Duty::fraction(0.2), Polarity::ActiveHigh);
        let exact_from = config.exact_from().bits();
        for duty in [
            exact_from,
            exact_from + 1,
            16_383,
            16_384,
            23_456,
            32_766,
            32_767,
        ] {
            let mut dither = Dither::new();
            dither.set(&config, Duty::constant(duty));
            let start = dither;
            let mut sum = 0_u64;
            for _ in 0..Duty::ONE {
                let code = dither.tick(&config);
                assert!(code >= config.floor_code() && code <= top);
                sum += u64::from(code);
            }
            assert_eq!(sum, duty as u64 * u64::from(top), "duty {duty}, top {top}");
            assert_eq!(dither, start, "the cycle closes");
            cycles += 1;
        }
    }
    assert_eq!(cycles, 70);
}

#[test]
fn exactness_begins_where_it_says() {
    for top in [16, 17, 31, 100, 255, 256, 640, 4_095, 65_535] {
        for floor in [1, 2, 3_277, 6_553, 9_830, 32_766, 32_767] {
            let floor = Duty::constant(floor);
            let config = DitherConfig::constant(top, floor, Polarity::ActiveHigh);
            let from = config.exact_from();
            assert!(from >= floor);
            assert!(from.split(top).0 >= config.floor_code());
            if from > Duty::OFF {
                let below = Duty::constant(from.bits() - 1);
                assert!(below.split(top).0 < config.floor_code());
            }
        }
    }
}

#[test]
fn an_inverted_pin_gets_the_complement() {
    let floor = Duty::fraction(0.3);
    let high = DitherConfig::constant(1000, floor, Polarity::ActiveHigh);
    let low = DitherConfig::constant(1000, floor, Polarity::ActiveLow);
    let (mut one, mut other) = (Dither::new(), Dither::new());
    for duty in [0, 1, 9_000, 12_345, 32_767] {
        one.set(&high, Duty::constant(duty));
        other.set(&low, Duty::constant(duty));
        for _ in 0..50 {
            assert_eq!(one.tick(&high) + other.tick(&low), 1000);
        }
    }
}

#[test]
fn a_sequence_of_duties_keeps_its_average() {
    let config = DitherConfig::constant(100, Duty::OFF, Polarity::ActiveHigh);
    let mut dither = Dither::new();
    let (mut given, mut asked) = (0_u64, 0_u64);
    for tick in 0..10_000_u64 {
        let duty = (tick * 7_919 % 32_768) as i16;
        dither.set(&config, Duty::constant(duty));
        given += u64::from(dither.tick(&config)) * 32_767;
        asked += duty as u64 * 100;
        assert!(asked - given < 32_767, "never a clock behind");
    }
}

#[test]
fn a_duty_below_the_floor_gives_the_floor_and_none_gives_none() {
    let config = DitherConfig::constant(100, Duty::fraction(0.3), Polarity::ActiveHigh);
    for (duty, code) in [(0, 0), (1, 30), (9_000, 30), (16_384, 50)] {
        let mut dither = Dither::new();
        dither.set(&config, Duty::constant(duty));
        assert_eq!(dither.tick(&config), code, "duty {duty}");
    }
}

#[test]
fn a_period_that_is_too_short_is_refused_in_words() {
    let error = DitherConfig::new(15, Duty::OFF, Polarity::ActiveHigh).unwrap_err();
    assert_eq!(
        error.message(),
        "dither: timer period below 16 clocks; accepted: 16 ..= 65535"
    );
    assert!(DitherConfig::new(16, Duty::OFF, Polarity::ActiveHigh).is_ok());
}
