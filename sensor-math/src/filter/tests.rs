extern crate std;
use super::*;

#[test]
fn medians_are_the_sorted_middle() {
    let mut cases = 0;
    for code in 0..5u16.pow(5) {
        let five = [0, 1, 2, 3, 4].map(|i| code / 5u16.pow(i) % 5);
        let mut sorted = five;
        sorted.sort_unstable();
        assert_eq!(median_of_5(five), sorted[2], "{five:?}");
        let three = [five[0], five[1], five[2]];
        let mut sorted = three;
        sorted.sort_unstable();
        assert_eq!(median_of_3(three), sorted[1], "{three:?}");
        cases += 1;
    }
    assert_eq!(cases, 3125);
}

/// Bounded by its inputs, and at rest exactly on every input.
#[test]
fn exponential_comes_to_rest_exactly() {
    let mut cases = 0u32;
    for word in (i16::MIN..=i16::MAX).step_by(251) {
        for start in [i16::MIN, -1, 0, 1, i16::MAX] {
            let mut filter = Exponential::<4>::new(start);
            for _ in 0..400 {
                let value = filter.push(word);
                assert!(value >= start.min(word) && value <= start.max(word));
            }
            assert_eq!(filter.value(), word, "from {start}");
            cases += 1;
        }
    }
    assert_eq!(cases, 262 * 5);
}

/// `2^EXTRA` times finer codes: the decimated code is the mean of the burst in fine codes, each
/// coarse code taken at its middle, rounded down to the code that holds it.
fn decimated<const BITS: u32, const EXTRA: u32>() -> u32 {
    let mut cases = 0;
    let samples = 4_u32.pow(EXTRA);
    assert_eq!(u32::from(Oversample::<BITS, EXTRA>::SAMPLES), samples);
    let top = u16::MAX >> (16 - BITS);
    let mut burst = Oversample::<BITS, EXTRA>::default();
    for start in [0, 1, 500, top - 3] {
        for spread in 0..4_u16 {
            let code = |i: u32| start + (i * 7 % 4) as u16 % (spread + 1);
            let mut sum_of_middles = 0.0;
            for i in 0..samples {
                sum_of_middles += f64::from(code(i)) + 0.5;
                let got = burst.push(code(i));
                if i + 1 < samples {
                    assert_eq!(got, None);
                } else {
                    let mean = sum_of_middles / f64::from(samples);
                    let fine = (mean * f64::from(1 << EXTRA)).floor();
                    assert_eq!(f64::from(got.unwrap()), fine, "{start} {spread}");
                }
            }
            cases += 1;
        }
    }
    cases
}

#[test]
fn a_burst_decimates_to_the_code_that_holds_its_mean() {
    let cases = decimated::<16, 0>()
        + decimated::<15, 1>()
        + decimated::<14, 2>()
        + decimated::<13, 3>()
        + decimated::<12, 4>()
        + decimated::<10, 6>();
    assert_eq!(cases, 6 * 16);
}

/// Against the sum it stands for, `y += (x - y) / 2^K`, in f64: what is kept is never a word off, and
/// after one time constant, `2^K` samples, a step is `1 - 1/e` done (nearly: within `2^-K`).
#[test]
fn exponential_follows_its_time_constant() {
    fn step<const K: u32>() {
        let samples = 1_u32 << K;
        let mut filter = Exponential::<K>::new(-8_000);
        let mut exact = -8_000.0_f64;
        for _ in 0..samples {
            exact += (8_000.0 - exact) / f64::from(samples);
            let value = f64::from(filter.push(8_000));
            assert!(
                (value - exact).abs() <= 1.5,
                "K = {K}: {value}, not {exact}"
            );
        }
        let done = (f64::from(filter.value()) + 8_000.0) / 16_000.0;
        let wanted = 1.0 - (-1.0_f64).exp();
        assert!(
            (done - wanted).abs() <= 0.3 / f64::from(samples) + 1e-3,
            "K = {K}: {done}"
        );
    }
    step::<1>();
    step::<2>();
    step::<4>();
    step::<8>();
    step::<15>();
}

/// A code beyond the converter's own counts as its last one: every code, one bit and the most bits more.
#[test]
fn a_code_beyond_the_last_is_the_last() {
    let mut cases = 0;
    for code in 0..=u16::MAX {
        let mut burst = Oversample::<10, 6>::default();
        let got = (0..4096).filter_map(|_| burst.push(code)).last();
        assert_eq!(got, Some(code.min(1023) * 64 + 32), "{code}");
        cases += 1;
    }
    assert_eq!(cases, 65_536);
}
