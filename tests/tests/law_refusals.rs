//! What breaks a proof's precondition is refused with a message that says why. In a `const` item the same call is a
//! compile error with this very message (E0080); the doctests of the constructors show that it does not compile.

use controller_core::gain::{Gains, Mantissas, Quantised, Sampling};
use controller_core::law::{Action, Settings};
use controller_core::setpoint::SetPoint;

fn refusal(f: impl FnOnce() + std::panic::UnwindSafe) -> String {
    let panic = std::panic::catch_unwind(f).expect_err("it must be refused");
    panic
        .downcast_ref::<&str>()
        .map_or_else(String::new, ToString::to_string)
}

fn settings(kp: u16, kd: u16, lo: i16, hi: i16) -> String {
    refusal(move || {
        let _ = Settings::<i16, 8>::constant(Mantissas { kp, ki: 1, kd }, lo, hi, Action::Direct);
    })
}

fn gains(kp: f64, ki: f64) -> String {
    let sampling = Sampling {
        period_s: 0.25,
        temperature_fraction_bits: 7,
        gain_fraction_bits: 8,
        filter_exponent: 3,
    };
    refusal(move || {
        let _ = Quantised::<i16>::constant(Gains::parallel(kp, ki, 0.0), sampling);
    })
}

#[test]
fn messages() {
    assert!(settings(40_000, 40_000, 0, 32_767).contains("kp + kd is above its bound"));
    assert!(settings(1, 0, 20_000, 20_000).contains("0 <= lo < hi"));
    assert!(settings(1, 0, -1, 20_000).contains("0 <= lo < hi"));
    assert!(gains(-0.05, 0.0).contains("negative, infinite or not a number"));
    assert!(gains(f64::NAN, 0.0).contains("negative, infinite or not a number"));
    assert!(gains(2.0, 0.0).contains("too large for its word"));
    assert!(gains(0.05, 1e-9).contains("rounds to nothing or by more than 1 %"));
    let outside = refusal(|| {
        let _ = SetPoint::<i16>::constant(20_000);
    });
    assert!(outside.contains("outside the law's domain"), "{outside}");
}
