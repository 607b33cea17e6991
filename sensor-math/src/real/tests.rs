extern crate std;
use super::*;

fn relative(got: f64, want: f64) -> f64 {
    ((got - want) / want).abs()
}

#[test]
fn halves_of_ln_2_add_up() {
    assert_eq!(LN2_HI + LN2_LO, core::f64::consts::LN_2);
    // so that a product with a whole number below 2^20 is exact
    assert_eq!(LN2_HI.to_bits() & 0xf_ffff, 0);
}

/// 20 decades either side of one in steps of 0.1 %, and a fine sweep around one.
#[test]
fn logarithm_and_roots_agree_with_std() {
    let mut cases = 0;
    let mut x = 1e-20;
    while x < 1e20 {
        let (got, want) = (ln(x), x.ln());
        assert!(
            (got - want).abs() <= 3e-16 * want.abs() + 3e-16,
            "ln({x}) = {got}, not {want}"
        );
        assert!(relative(sqrt(x), x.sqrt()) < 3e-16, "sqrt({x})");
        x *= 1.001;
        cases += 1;
    }
    let mut x = 0.5;
    while x < 2.0 {
        assert!((ln(x) - x.ln()).abs() <= 3e-16, "ln({x})");
        x += 1.0 / 4096.0;
        cases += 1;
    }
    assert_eq!(cases, 92_150 + 6_144);
}

#[test]
fn exponential_agrees_with_std() {
    let mut cases = 0;
    let mut x = -700.0;
    while x < 700.0 {
        assert!(relative(exp(x), x.exp()) < 4e-16, "exp({x})");
        x += 0.017;
        cases += 1;
    }
    assert_eq!(cases, 82_353);
    assert_eq!(exp(0.0), 1.0);
}

#[test]
fn edges() {
    assert_eq!(ln(0.0), f64::NEG_INFINITY);
    assert!(ln(-1.0).is_nan());
    assert_eq!(ln(f64::INFINITY), f64::INFINITY);
    assert!((ln(5e-324) - 5e-324f64.ln()).abs() < 1e-12);
    assert_eq!(exp(800.0), f64::INFINITY);
    assert_eq!(exp(-800.0), 0.0);
    assert!(sqrt(-1.0).is_nan());
    assert_eq!(
        (
            floor(-0.5),
            floor(-1.0),
            floor(1.99),
            round(-0.5),
            round(2.5)
        ),
        (-1, -1, 1, 0, 3)
    );
}

/// The ends of the exponents, where results leave the normal numbers.
#[test]
fn exponential_at_the_ends_of_its_range() {
    for x in [709.0, 709.78, -708.0, -700.5] {
        assert!(relative(exp(x), x.exp()) < 4e-16, "exp({x})");
    }
    // below the smallest normal number one bit is more than 4e-16
    for x in [-709.0, -720.0, -740.0, -745.1] {
        assert!((exp(x) - x.exp()).abs() <= 5e-324, "exp({x}) = {}", exp(x));
    }
    assert!(exp(709.782_712_893_384).is_finite());
    assert_eq!(exp(709.783), f64::INFINITY);
    assert_eq!(
        (exp(-745.3), exp(f64::NEG_INFINITY), exp(f64::INFINITY)),
        (0.0, 0.0, f64::INFINITY)
    );
    assert!(exp(f64::NAN).is_nan());
}

#[test]
fn logarithm_of_the_smallest_numbers() {
    for x in [
        5e-324,
        1e-320,
        1e-310,
        f64::MIN_POSITIVE,
        2e-308,
        1e-300,
        f64::MAX,
    ] {
        assert!(relative(ln(x), x.ln()) < 3e-16, "ln({x})");
    }
    assert_eq!(ln(1.0), 0.0);
    assert!(ln(f64::NAN).is_nan() && ln(-5e-324).is_nan() && ln(f64::NEG_INFINITY).is_nan());
}

#[test]
fn roots_at_the_ends() {
    assert_eq!(
        (sqrt(0.0), sqrt(f64::INFINITY), sqrt(1.0), sqrt(144.0)),
        (0.0, f64::INFINITY, 1.0, 12.0)
    );
    assert!(sqrt(f64::NAN).is_nan() && sqrt(f64::NEG_INFINITY).is_nan());
    for x in [f64::MIN_POSITIVE, f64::MAX, 1e-300, 1e300] {
        assert!(relative(sqrt(x), x.sqrt()) < 3e-16, "sqrt({x})");
    }
}

#[test]
fn whole_numbers() {
    assert_eq!(
        (floor(-1e30), floor(1e30)),
        (i64::MIN, i64::MAX),
        "saturates"
    );
    assert_eq!(
        (floor(f64::NEG_INFINITY), floor(f64::INFINITY)),
        (i64::MIN, i64::MAX)
    );
    for x in [
        -3.0,
        -2.5,
        -1.0,
        -0.25,
        0.0,
        0.25,
        1.0,
        2.5,
        3.0,
        1e9,
        -1e9,
        1e9 + 0.5,
        -1e9 - 0.5,
    ] {
        assert_eq!(floor(x) as f64, x.floor(), "floor({x})");
        assert_eq!(round(x) as f64, (x + 0.5).floor(), "round({x})");
        assert_eq!(abs(x), x.abs(), "abs({x})");
    }
}
