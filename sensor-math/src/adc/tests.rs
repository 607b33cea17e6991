use super::{Adc, FullScale, Reference};

/// An ideal converter gives the code whose step holds the input: code `c` from `c` to `c + 1` steps.
#[test]
fn a_code_stands_for_its_own_step_at_every_width() {
    let mut cases = 0;
    for bits in 8..=16_u32 {
        let plain = Adc::ratiometric(bits);
        let last = u16::try_from((1_u32 << bits) - 1).unwrap();
        for (adc, steps) in [
            (plain, f64::from(1_u32 << bits)),
            (plain.with_last_code_as_full_scale(), f64::from(last)),
        ] {
            assert_eq!(
                (adc.bits, adc.last_code(), adc.steps()),
                (bits, last, steps)
            );
            for code in (0..=last).step_by(if bits > 10 { 37 } else { 1 }) {
                for within in [0.25, 0.5, 0.75] {
                    let position = f64::from(code) + within;
                    let ratio = position / steps;
                    assert_eq!(adc.code_at(ratio), code, "{adc:?} at {ratio}");
                    assert!((adc.ratio_at(position) - ratio).abs() < 1e-15);
                    assert!((adc.position_at(ratio) - position).abs() < 1e-9);
                    cases += 1;
                }
            }
            assert_eq!(adc.code_at(-0.1), 0, "saturates below");
            assert_eq!(adc.code_at(-1e30), 0);
            assert_eq!(adc.code_at(1.001), last, "saturates above");
            assert_eq!(adc.code_at(1e30), last);
        }
    }
    // all codes of 8, 9 and 10 bits, every 37th of 11 to 16, in both conventions
    let sampled: i32 = (11..=16).map(|bits| ((1 << bits) - 1) / 37 + 1).sum();
    assert_eq!(cases, 2 * 3 * (256 + 512 + 1024 + sampled));
}

/// Where full scale begins or ends with the last code: the two conventions of data sheets.
#[test]
fn full_scale_is_a_code_more_or_not() {
    let codes = Adc::ratiometric(10);
    assert_eq!(codes.full_scale, FullScale::Codes);
    assert_eq!(
        (codes.position_at(1.0), codes.ratio_at(512.0)),
        (1024.0, 0.5)
    );
    let last = codes.with_last_code_as_full_scale();
    assert_eq!(last.full_scale, FullScale::LastCode);
    assert_eq!((last.position_at(1.0), last.ratio_at(511.5)), (1023.0, 0.5));
    assert_eq!(last.reference, Reference::Ratiometric);
}

/// 2.5 V of reference on a divider at 5 V: half the divider's voltage is full scale.
#[test]
fn a_fixed_reference_scales_the_ratio() {
    let adc = Adc::ratiometric(12).with_fixed_reference(2.5, 5.0);
    assert_eq!(adc.reference_ratio(), 0.5);
    assert_eq!(
        (adc.ratio_at(2048.0), adc.position_at(0.25)),
        (0.25, 2048.0)
    );
    assert_eq!((adc.code_at(0.125), adc.code_at(0.5)), (1024, 4095));
    assert_eq!(Adc::ratiometric(12).reference_ratio(), 1.0);
    // 1.1 V of reference at 3.3 V: a third of the ratio
    let adc = Adc::ratiometric(12).with_fixed_reference(1.1, 3.3);
    assert!((adc.ratio_at(4096.0) - 1.0 / 3.0).abs() < 1e-15);
}

#[test]
fn widths_and_voltages_that_cannot_be_are_refused() {
    for bits in 0..=40 {
        let adc = Adc::ratiometric(bits);
        assert_eq!(adc.is_valid(), (8..=16).contains(&bits), "{bits} bits");
    }
    for (bad, good) in [
        (0.0, 3.3),
        (-1.0, 3.3),
        (f64::INFINITY, 3.3),
        (f64::NAN, 3.3),
    ] {
        assert!(
            !Adc::ratiometric(10)
                .with_fixed_reference(bad, good)
                .is_valid(),
            "{bad}"
        );
        assert!(
            !Adc::ratiometric(10)
                .with_fixed_reference(good, bad)
                .is_valid(),
            "{bad}"
        );
    }
    let fixed = Adc::ratiometric(10).with_fixed_reference(0.1, 0.2);
    assert!(fixed.is_valid());
    assert!(!Adc { bits: 17, ..fixed }.is_valid());
}
