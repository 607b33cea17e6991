extern crate std;
use super::{GainError, Gains, Mantissas, Quantised, Sampling, Which, filter_exponent};
use std::string::ToString;

const SAMPLING: Sampling = Sampling {
    period_s: 0.25,
    temperature_fraction_bits: 7,
    gain_fraction_bits: 8,
    filter_exponent: 3,
};

fn quantise(kp: f64, ki: f64, kd: f64) -> Result<Quantised<i16>, GainError> {
    Quantised::<i16>::new(Gains::parallel(kp, ki, kd), SAMPLING)
}

fn near(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * b.abs()
}

/// What the law computes with the integers is what the physical gains ask for: a duty in LSB from an
/// error in temperature counts, by way of units only.
#[test]
fn integers_mean_the_physical_gains() {
    let mut cases = 0;
    for period_s in [0.1, 0.25, 1.0, 4.0] {
        for temperature_fraction_bits in [0, 4, 7] {
            for gain_fraction_bits in [1, 4, 8, 12] {
                for filter_exponent in [0, 3, 15] {
                    let sampling = Sampling {
                        period_s,
                        temperature_fraction_bits,
                        gain_fraction_bits,
                        filter_exponent,
                    };
                    // 200 to 300 counts of each mantissa
                    let counts_per_kelvin = f64::from(1 << temperature_fraction_bits);
                    let scale = f64::from(1 << gain_fraction_bits);
                    let samples = f64::from(1 << filter_exponent);
                    // duty LSB for one temperature count, as a share of full duty for one kelvin
                    let per_kelvin = |lsb: f64| lsb / 32_767.0 * counts_per_kelvin;
                    let gains = Gains::parallel(
                        per_kelvin(300.0 / scale),
                        per_kelvin(250.0 / 65_536.0) / period_s,
                        per_kelvin(200.0 / scale) * period_s * samples,
                    );
                    let quantised = Quantised::<i16>::new(gains, sampling).unwrap();
                    let wanted = Mantissas {
                        kp: 300,
                        ki: 250,
                        kd: 200,
                    };
                    assert_eq!(quantised.mantissas(), wanted, "{sampling:?}");
                    assert_eq!(quantised.sampling(), sampling);
                    let back = quantised.gains();
                    assert!(near(back.kp_per_kelvin, gains.kp_per_kelvin, 1e-12));
                    assert!(near(
                        back.ki_per_kelvin_second,
                        gains.ki_per_kelvin_second,
                        1e-12
                    ));
                    assert!(near(
                        back.kd_second_per_kelvin,
                        gains.kd_second_per_kelvin,
                        1e-12
                    ));
                    cases += 1;
                }
            }
        }
    }
    assert_eq!(cases, 4 * 3 * 4 * 3);
}

/// The module's example of a design, by hand: kp 0.05 * 32767/128 * 256 = 3276.7, ki 0.0005 * 0.25 *
/// 32767/128 * 65536 = 2097.09, kd 0.4/(0.25*8) * 65534 = 13106.8; and the same at 32 bits.
#[test]
fn gains_of_a_design() {
    let good = quantise(0.05, 0.0005, 0.4).unwrap();
    let wanted = Mantissas {
        kp: 3277,
        ki: 2097,
        kd: 13_107,
    };
    assert_eq!(good.mantissas(), wanted);
    let back = good.gains();
    assert!(near(back.kp_per_kelvin, 0.05, 1e-4));
    assert!(near(back.ki_per_kelvin_second, 0.0005, 1e-4));
    assert!(near(back.kd_second_per_kelvin, 0.4, 1e-4));
    let fine = Sampling {
        temperature_fraction_bits: 23,
        gain_fraction_bits: 16,
        ..SAMPLING
    };
    let wide = Quantised::<i32>::new(Gains::parallel(0.05, 0.0005, 0.4), fine).unwrap();
    // 2147483647 / 2^23 = 255.9999999 duty LSB a count and full duty a kelvin
    assert_eq!(wide.mantissas().kp, 838_861); // 0.05 * 256 * 65536 = 838860.8
    assert_eq!(wide.mantissas().ki, 137_438_953); // 0.0005 * 0.25 * 256 * 2^32
    assert_eq!(wide.mantissas().kd, 3_355_443); // 0.4 / 2 * 256 * 65536
}

#[test]
fn gains_that_are_no_gains_are_refused() {
    for bad in [-0.1, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        for (which, got) in [
            (Which::Proportional, quantise(bad, 0.0, 0.0)),
            (Which::Integral, quantise(0.05, bad, 0.0)),
            (Which::Derivative, quantise(0.05, 0.0, bad)),
        ] {
            assert!(
                matches!(got, Err(GainError::NotAGain { which: named, .. }) if named == which),
                "{bad}"
            );
        }
    }
    assert!(
        quantise(0.0, 0.0, 0.0).is_ok(),
        "a gain of zero is a choice"
    );
    assert_eq!(quantise(0.05, 0.0, 0.0).unwrap().mantissas().ki, 0);
}

/// Up to the greatest integer, and half a count beyond, which rounds to it.
#[test]
fn a_gain_too_large_for_its_word_is_refused() {
    // one count of kp is 1 / 65534 of full duty a kelvin
    let kp = |counts: f64| quantise(counts / 65_534.0, 0.0, 0.0);
    assert_eq!(kp(65_535.0).unwrap().mantissas().kp, 65_535);
    assert_eq!(kp(65_535.4).unwrap().mantissas().kp, 65_535);
    for counts in [65_535.6, 65_536.0, 1e12] {
        let Err(GainError::TooLarge {
            which,
            value,
            greatest,
        }) = kp(counts)
        else {
            panic!("{counts}")
        };
        assert_eq!((which, value), (Which::Proportional, counts / 65_534.0));
        assert!(near(greatest, 65_535.0 / 65_534.0, 1e-12), "{greatest}");
    }
}

/// Rounding may change a gain by 1 % either way: 50 counts are always enough, 49.4 are not.
#[test]
fn a_gain_too_coarse_for_its_word_is_refused() {
    let kp = |counts: f64| quantise(counts / 65_534.0, 0.0, 0.0);
    for counts in [50.0, 50.49, 50.5, 49.51, 49.49, 1.0, 1.009, 0.991, 7.06] {
        let got = kp(counts).expect("within a percent").mantissas().kp;
        assert_eq!(f64::from(got), counts.round(), "{counts}");
    }
    for (counts, rounded) in [
        (1.011, 1),
        (0.989, 1),
        (0.4, 0),
        (0.6, 1),
        (10.4, 10),
        (10.6, 11),
        (48.5, 49),
        (48.49, 48),
    ] {
        let Err(GainError::TooCoarse {
            which,
            value,
            mantissa,
            least,
        }) = kp(counts)
        else {
            panic!("{counts}")
        };
        assert_eq!((which, value), (Which::Proportional, counts / 65_534.0));
        assert_eq!(mantissa, rounded, "{counts}");
        assert!(near(least, 50.0 / 65_534.0, 1e-12), "{least}");
    }
    assert!(matches!(
        quantise(0.05, 1e-9, 0.0),
        Err(GainError::TooCoarse {
            which: Which::Integral,
            mantissa: 0,
            ..
        })
    ));
    assert!(matches!(
        quantise(0.05, 0.0, 0.4 / 13_107.0 * 1.4),
        Err(GainError::TooCoarse {
            which: Which::Derivative,
            mantissa: 1,
            ..
        })
    ));
}

#[test]
fn samplings_that_make_no_sense_are_refused() {
    let gains = Gains::parallel(0.0, 0.0, 0.0);
    let new = |sampling| Quantised::<i16>::new(gains, sampling);
    assert!(new(SAMPLING).is_ok());
    for bad in [
        [0.0, -1.0, f64::NAN, f64::INFINITY].map(|period_s| Sampling {
            period_s,
            ..SAMPLING
        }),
        [0, 16, 17, 99].map(|gain_fraction_bits| Sampling {
            gain_fraction_bits,
            ..SAMPLING
        }),
        [16, 17, 63, 99].map(|temperature_fraction_bits| Sampling {
            temperature_fraction_bits,
            ..SAMPLING
        }),
        [16, 17, 63, 99].map(|filter_exponent| Sampling {
            filter_exponent,
            ..SAMPLING
        }),
    ]
    .as_flattened()
    {
        assert_eq!(new(*bad), Err(GainError::Sampling), "{bad:?}");
    }
}

#[test]
fn errors_name_the_gain_its_value_and_what_is_accepted() {
    let text = |got: Result<Quantised<i16>, GainError>| got.unwrap_err().to_string();
    let kp = text(quantise(-0.5, 0.0, 0.0));
    assert!(
        kp.contains("kp is -0.5") && kp.contains("zero or a positive number"),
        "{kp}"
    );
    let ki = text(quantise(0.05, 1e9, 0.0));
    // 65535 / (0.25 * 32767 / 128 * 65536)
    assert!(
        ki.contains("ki is 1000000000") && ki.contains("up to 0.015625"),
        "{ki}"
    );
    let kd = text(quantise(0.05, 0.0, 1e-5));
    assert!(
        kd.contains("kd is 0.00001") && kd.contains("round to 0 counts"),
        "{kd}"
    );
    // 50 counts of 1 / 65534 * 2 s
    assert!(kd.contains("from 1.526e-3"), "{kd}");
    assert!(GainError::Sampling.to_string().contains("positive period"));
}

/// The forms are one law: their transfer functions agree at every frequency tried, in complex
/// arithmetic written out from the definitions.
#[test]
fn forms_have_the_same_response() {
    /// `kp + ki/(jw) + kd jw`
    fn parallel(g: Gains, w: f64) -> (f64, f64) {
        let imaginary = g.kd_second_per_kelvin * w - g.ki_per_kelvin_second / w;
        (g.kp_per_kelvin, imaginary)
    }
    let close = |a: (f64, f64), b: (f64, f64)| {
        let size = b.0.hypot(b.1);
        (a.0 - b.0).hypot(a.1 - b.1) <= 1e-12 * size
    };
    let mut cases = 0;
    for kc in [0.02, 1.0, 3.5] {
        for ti in [4.0, 100.0, 750.0] {
            for td in [0.0, 1.0, 8.0] {
                for w in [1e-3, 0.02, 0.7, 30.0] {
                    // Kc (1 + 1/(Ti jw) + Td jw)
                    let standard = (kc, kc * (td * w - 1.0 / (ti * w)));
                    assert!(close(parallel(Gains::standard(kc, ti, td), w), standard));
                    // Kc (1 + 1/(Ti jw)) (1 + Td jw), multiplied out
                    let (i, d) = (-1.0 / (ti * w), td * w);
                    let series = (kc * (1.0 - i * d), kc * (i + d));
                    assert!(close(parallel(Gains::series(kc, ti, td), w), series));
                    cases += 1;
                }
                let (k, i, d) = Gains::standard(kc, ti, td).to_standard();
                assert!(near(k, kc, 1e-12) && near(i, ti, 1e-12) && near(d, td, 1e-12));
            }
        }
    }
    assert_eq!(cases, 3 * 3 * 3 * 4);
    let no_integral = Gains::standard(2.0, f64::INFINITY, 3.0);
    assert_eq!(no_integral, Gains::parallel(2.0, 0.0, 6.0));
    assert_eq!(no_integral.to_standard(), (2.0, f64::INFINITY, 3.0));
}

/// The exponent is the best of all, found by trying each.
#[test]
fn filter_exponents_are_the_nearest() {
    let mut cases = 0;
    for period_s in [0.1, 0.25, 1.0] {
        for greatest in [0, 1, 5, 15] {
            let mut filter_s = 0.0;
            while filter_s < 9_000.0 {
                let off = |k: u32| (filter_s - f64::from((1 << k) - 1) * period_s).abs();
                let k = filter_exponent(filter_s, period_s, greatest);
                assert!(k <= greatest);
                // of two equally near, the lesser
                assert!((0..k).all(|other| off(other) > off(k) + 1e-9 || off(other) > off(k)));
                assert!(
                    (k..=greatest).all(|other| off(other) >= off(k)),
                    "{filter_s} s: {k}"
                );
                filter_s = filter_s * 1.13 + 0.05;
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 3 * 4 * 83);
    // half-way between (2 - 1) and (4 - 1) periods
    assert_eq!(
        [0.5, 0.49, 0.51].map(|s| filter_exponent(s, 0.25, 15)),
        [1, 1, 2]
    );
}
