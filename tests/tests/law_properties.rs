//! Properties of the law on the shipped integers, against exact integer arithmetic in 128 bits that
//! shares no code with the crate: for any input, state and gains, at 16/32 and 32/64, with the upper-half
//! and the whole-word comparisons. Overflow checks and debug assertions are on, so an operation that
//! wrapped or lost a bit anywhere would end the test.

use controller_core::gain::Mantissas;
use controller_core::law::{Action, Integrating, Integrator, PiState, PidState, Settings, pi, pid};
use controller_core::setpoint::{Weight, set_point_change};
use controller_core::word::{Multiply, Native};
use hushloop_tests::random::{CASES, sweep};
use proptest::prelude::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Compares upper halves, as 8- and 16-bit machines do.
struct Halves;
impl Multiply<i16> for Halves {
    const WHOLE: bool = false;
}
impl Multiply<i32> for Halves {
    const WHOLE: bool = false;
}
/// Compares whole words.
struct Whole;
impl Multiply<i16> for Whole {
    const WHOLE: bool = true;
}
impl Multiply<i32> for Whole {
    const WHOLE: bool = true;
}

/// The exact law, in units of 2^-n output LSB.
#[derive(Clone, Copy)]
struct Exact {
    bits: u32,
    sp: u32,
    kp: i128,
    ki: i128,
    kd: i128,
    lo: i128,
    hi: i128,
    reverse: bool,
}

impl Exact {
    fn domain(&self, x: i128) -> i128 {
        let quarter = 1 << (self.bits - 2);
        x.max(-quarter).min(quarter - 1)
    }
    fn error(&self, set_point: i128, measurement: i128) -> i128 {
        let e = self.domain(measurement) - self.domain(set_point);
        if self.reverse { -e } else { e }
    }
    /// `kp*e + kd*g`, in 2^-n LSB
    fn pd(&self, e: i128, g: i128) -> i128 {
        (self.kp * e + self.kd * g) << (self.bits - self.sp)
    }
    /// Twice the distance of `demand` from the exact demand of the integral `i`, in 2^-n LSB: at most 2^n.
    fn twice_off(&self, e: i128, g: i128, i: i128, demand: i128) -> i128 {
        let exact = (self.pd(e, g) + i)
            .max(self.lo << self.bits)
            .min(self.hi << self.bits);
        2 * ((demand << self.bits) - exact).abs()
    }
    /// The integral after this sample, confined to the values that round into the limits.
    fn next(&self, e: i128, i: i128) -> i128 {
        let half = 1 << (self.bits - 1);
        (i + self.ki * e)
            .max((self.lo << self.bits) - half)
            .min((self.hi << self.bits) + half - 1)
    }
}

macro_rules! width {
    ($name:ident, $narrow:ty, $unsigned:ty, $acc:ty, $wide:ty, [$($sp:literal),*]) => {
        mod $name {
            use super::*;
            const N: u32 = <$narrow>::BITS;

            #[derive(Clone, Copy, Debug)]
            pub struct Case {
                pub kp: $unsigned, pub ki: $unsigned, pub kd: $unsigned,
                pub lo: $narrow, pub hi: $narrow, pub reverse: bool,
                pub set_point: $narrow, pub measurement: $narrow, pub filtered: $narrow,
                pub integral: $acc, pub sp: u32,
            }

            fn half<X>(i: $acc) -> i128 { let _ = core::marker::PhantomData::<X>; i as i128 - (1 << (N - 1)) }

            fn check_at<const SP: u32, M: Multiply<$narrow>>(c: &Case) -> Result<(), String> {
                let action = if c.reverse { Action::Reverse } else { Action::Direct };
                let m = Mantissas { kp: c.kp, ki: c.ki, kd: c.kd };
                let s = match Settings::<$narrow, SP>::new(m, c.lo, c.hi, action) {
                    Ok(s) => s,
                    Err(e) => return Err(format!("refused: {e}")),
                };
                let x = Exact { bits: N, sp: SP, kp: c.kp.into(), ki: c.ki.into(), kd: c.kd.into(), lo: c.lo.into(), hi: c.hi.into(), reverse: c.reverse };
                let integrator = Integrator::from_word(&s, c.integral);
                let i = half::<()>(integrator.word());
                let e = x.error(c.set_point.into(), c.measurement.into());
                let within = |w: $acc| (w >> N) as i128 >= c.lo as i128 && (w >> N) as i128 <= c.hi as i128;
                let say = |what: &str| Err(format!("{what}: {c:?}, SP {SP}"));
                // PI
                let mut state = PiState::with(integrator);
                let terms = pi::terms::<_, SP, M>(&s, &state, c.set_point, c.measurement);
                let u = pi::step::<_, SP, M>(&s, &mut state, c.set_point, c.measurement);
                if u < c.lo || u > c.hi { return say("PI output outside its limits"); }
                if x.twice_off(e, 0, i, u.into()) > 1 << N { return say("PI output off by more than half an LSB"); }
                if !within(state.integrator().word()) { return say("integrator outside its clamp"); }
                if half::<()>(state.integrator().word()) != x.next(e, i) { return say("integrator not exact"); }
                if terms.demand != u { return say("terms disagree with the step"); }
                if terms.p as i128 != (x.kp * e) >> SP { return say("P term"); }
                if terms.i as i128 != (i + (1 << (N - 1))) >> N { return say("I term"); }
                // PID
                let mut state = PidState::<_, 3>::with(integrator, c.filtered);
                let f = x.domain(c.filtered.into());
                let g = (x.domain(c.measurement.into()) - f) * if c.reverse { -1 } else { 1 };
                let terms = pid::terms::<_, SP, 3, M>(&s, &state, c.set_point, c.measurement);
                let u = pid::step::<_, SP, 3, M>(&s, &mut state, c.set_point, c.measurement);
                if u < c.lo || u > c.hi { return say("PID output outside its limits"); }
                if x.twice_off(e, g, i, u.into()) > 1 << N { return say("PID output off by more than half an LSB"); }
                if half::<()>(state.integrator().word()) != x.next(e, i) { return say("PID integrator not exact"); }
                if state.filtered() as i128 != 8 * f + x.domain(c.measurement.into()) - f { return say("filter not exact"); }
                if terms.demand != u { return say("PID terms disagree with the step"); }
                if terms.d as i128 != (x.kd * g) >> SP { return say("D term"); }
                Ok(())
            }

            pub fn check(c: &Case) -> Result<(), String> {
                match c.sp {
                    $($sp => { check_at::<$sp, Halves>(c)?; check_at::<$sp, Whole>(c) })*
                    other => Err(format!("no SP {other} here")),
                }
            }

            /// Random case, biased to the edges: a word is drawn with a random number of leading bits.
            pub fn draw(r: &mut ChaCha8Rng) -> Case {
                let word = |r: &mut ChaCha8Rng| -> $acc {
                    let w = r.random::<$acc>();
                    match r.random::<u8>() % 8 { 0 => 0, 1 => <$acc>::MAX, 2 | 3 => w >> (r.random::<u32>() % <$acc>::BITS), _ => w }
                };
                let sps = [$($sp),*];
                let sp: u32 = sps[r.random::<u32>() as usize % sps.len()];
                let greatest = ((1_u128 << (2 * N - 1)) - (1 << (N - 1 + sp))) / ((1 << (N - 1)) - 1);
                let kp = (word(r) as $unsigned as u128).min(greatest);
                let kd = (word(r) as $unsigned as u128).min(greatest - kp);
                let (a, b) = (word(r) as $narrow & <$narrow>::MAX, word(r) as $narrow & <$narrow>::MAX);
                let (lo, hi) = if a == b { (0, <$narrow>::MAX) } else { (a.min(b), a.max(b)) };
                Case { kp: kp as $unsigned, ki: word(r) as $unsigned, kd: kd as $unsigned, lo, hi, reverse: r.random::<u8>() & 1 == 1,
                    set_point: word(r) as $narrow, measurement: word(r) as $narrow, filtered: word(r) as $narrow,
                    integral: word(r), sp }
            }

            /// Largest distance from the exact law over a run, in units of 2^-(n+1) LSB (half an LSB is 2^n).
            pub fn run<const SP: u32, M: Multiply<$narrow>>(kp: $unsigned, ki: $unsigned, kd: $unsigned, reverse: bool, samples: u32) -> (i128, u32) {
                let action = if reverse { Action::Reverse } else { Action::Direct };
                let (lo, hi) = (<$narrow>::MAX / 5, <$narrow>::MAX);
                let s = Settings::<$narrow, SP>::new(Mantissas { kp, ki, kd }, lo, hi, action).unwrap();
                let x = Exact { bits: N, sp: SP, kp: kp.into(), ki: ki.into(), kd: kd.into(), lo: lo.into(), hi: hi.into(), reverse };
                let mut r = ChaCha8Rng::seed_from_u64(4);
                let unit = 1_i128 << (N - 9); // one kelvin: 128 counts at 16 bits
                let set_point = 40 * unit;
                let mut state = PidState::<_, 3>::start(&s, (38 * unit) as $narrow);
                let mut plain = PiState::start(&s);
                let mut i = (if reverse { lo } else { hi } as i128) << N;
                let mut i_plain = i;
                let mut filtered = (38 * unit) << 3;
                let (mut worst, mut unsaturated) = (0, 0);
                for k in 0..samples {
                    // A box near its set point: slow swing of 2 K, sensor noise of 0.3 K, and a load step of 3 K.
                    let swing = (f64::from(k) / 700.0).sin() * 2.0 + if k % 7200 > 4000 { 3.0 } else { -1.0 };
                    let noise = (r.random::<f64>() - 0.5) * 0.6;
                    let m = set_point + ((swing + noise) * unit as f64) as i128;
                    let e = x.error(set_point, m);
                    let g = (m - (filtered >> 3)) * if reverse { -1 } else { 1 };
                    let u = pid::step::<_, SP, 3, M>(&s, &mut state, set_point as $narrow, m as $narrow);
                    worst = worst.max(x.twice_off(e, g, i, u.into()));
                    if u > lo && u < hi { unsaturated += 1; }
                    let v = pi::step::<_, SP, M>(&s, &mut plain, set_point as $narrow, m as $narrow);
                    worst = worst.max(x.twice_off(e, 0, i_plain, v.into()));
                    i = x.next(e, i);
                    i_plain = x.next(e, i_plain);
                    filtered += m - (filtered >> 3);
                }
                (worst, unsaturated)
            }
        }
    };
}
width!(w16, i16, u16, u32, i32, [1, 2, 4, 7, 8, 10, 12, 15]);
width!(w32, i32, u32, u64, i64, [1, 2, 8, 15, 16, 20, 24, 31]);

/// Output within limits, integrator inside its clamp and exact, output within half an LSB of exact
/// arithmetic, nothing wraps: 10^6 random cases at 16/32, each with both comparisons.
#[test]
fn any_input_16() {
    assert_eq!(sweep(16, |r| w16::check(&w16::draw(r))), CASES);
}

/// The same at 32/64.
#[test]
fn any_input_32() {
    assert_eq!(sweep(32, |r| w32::check(&w32::draw(r))), CASES);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4096, failure_persistence: None, ..ProptestConfig::default() })]

    /// The same claims with cases that shrink.
    #[test]
    fn any_input_shrinking(seed in any::<u64>()) {
        let mut r = ChaCha8Rng::seed_from_u64(seed);
        prop_assert_eq!(w16::check(&w16::draw(&mut r)), Ok(()));
        prop_assert_eq!(w32::check(&w32::draw(&mut r)), Ok(()));
    }

    /// At weight 0 a set-point change moves the output only when the wanted integrator does not fit, and
    /// then to a demand between no bump and the full kick.
    #[test]
    fn set_point_change_is_bumpless(
        kp in any::<u16>(), lo in 0..16_000_i16, hi in 17_000..=i16::MAX, reverse in any::<bool>(),
        old in any::<i16>(), new in any::<i16>(), measurement in any::<i16>(), word in any::<u32>(),
    ) {
        let kp = kp.min(Settings::<i16, 8>::gain_sum_max().min(65_535) as u16);
        let action = if reverse { Action::Reverse } else { Action::Direct };
        let s = Settings::<i16, 8>::new(Mantissas { kp, ki: 0, kd: 0 }, lo, hi, action).unwrap();
        let start = Integrator::from_word(&s, word);
        let mut state = PiState::with(start);
        let before = pi::step::<_, 8, Native>(&s, &mut state, old, measurement);
        let kick = pi::step::<_, 8, Native>(&s, &mut state, new, measurement);
        set_point_change::<_, 8, Native>(&s, &mut state, old, new, Weight::bumpless());
        let after = pi::step::<_, 8, Native>(&s, &mut state, new, measurement);
        let domain = |x: i16| i64::from(x.clamp(-16384, 16383));
        let change = domain(new) - domain(old);
        let wanted = i64::from(start.word()) + ((i64::from(kp) * if reverse { -change } else { change }) << 8);
        if wanted >= i64::from(lo) << 16 && wanted <= i64::from(hi) << 16 | 0xffff {
            prop_assert_eq!(i64::from(state.integrator().word()), wanted);
            prop_assert_eq!(after, before);
        } else {
            prop_assert!(after >= before.min(kick) && after <= before.max(kick), "{} {} {}", before, after, kick);
        }
    }

    /// At weight 1 the law is the plain one.
    #[test]
    fn plain_weight_absorbs_nothing(kp in 0..60_000_u16, old in any::<i16>(), new in any::<i16>(), word in any::<u32>()) {
        let s = Settings::<i16, 8>::new(Mantissas { kp, ki: 0, kd: 0 }, 0, i16::MAX, Action::Direct).unwrap();
        let mut state = PiState::with(Integrator::from_word(&s, word));
        let before = state;
        set_point_change::<_, 8, Native>(&s, &mut state, old, new, Weight::plain());
        prop_assert_eq!(state, before);
    }
}

/// An hour at 4 Hz with noisy input, at both widths, with and without D: never more than 0.500 LSB from
/// the exact law that keeps its own integral.
#[test]
fn an_hour_within_half_an_lsb() {
    const SAMPLES: u32 = 4 * 3600;
    for reverse in [false, true] {
        let (worst, unsaturated) = w16::run::<8, Native>(1300, 655, 5000, reverse, SAMPLES);
        assert!(worst <= 1 << 16, "16/32: {} LSB", worst as f64 / 131_072.0);
        assert!(
            unsaturated > SAMPLES / 4,
            "{unsaturated} samples inside the limits prove little"
        );
        let (worst, unsaturated) =
            w32::run::<16, Native>(332_800, 42_949_673, 1_280_000, reverse, SAMPLES);
        assert!(
            worst <= 1 << 32,
            "32/64: {} LSB",
            worst as f64 / 8_589_934_592.0
        );
        assert!(
            unsaturated > SAMPLES / 4,
            "{unsaturated} samples inside the limits prove little"
        );
    }
}

#[test]
fn sizes() {
    assert_eq!(size_of::<PiState<i16>>(), 4);
    assert_eq!(size_of::<PidState<i16, 3>>(), 8);
    assert_eq!(size_of::<Settings<i16, 8>>(), 12);
}

/// Each precondition of the proofs is refused with its own error.
#[test]
fn settings_refuse_what_breaks_a_proof() {
    use controller_core::law::SettingsError as E;
    let m = |kp, kd| Mantissas { kp, ki: 65_535, kd };
    assert_eq!(Settings::<i16, 8>::gain_sum_max(), 65_281);
    assert!(Settings::<i16, 8>::new(m(65_281, 0), 0, 32_767, Action::Direct).is_ok());
    assert_eq!(
        Settings::<i16, 8>::new(m(65_282, 0), 0, 32_767, Action::Direct),
        Err(E::GainSum {
            sum: 65_282,
            greatest: 65_281
        })
    );
    assert_eq!(
        Settings::<i16, 8>::new(m(40_000, 40_000), 0, 32_767, Action::Direct),
        Err(E::GainSum {
            sum: 80_000,
            greatest: 65_281
        })
    );
    assert_eq!(
        Settings::<i16, 8>::new(m(1, 0), 5, 5, Action::Reverse),
        Err(E::Limits { lo: 5, hi: 5 })
    );
    assert_eq!(
        Settings::<i16, 8>::new(m(1, 0), -1, 5, Action::Reverse),
        Err(E::Limits { lo: -1, hi: 5 })
    );
    assert_eq!(
        Settings::<i16, 0>::new(m(1, 0), 0, 5, Action::Reverse),
        Err(E::Scale {
            fraction_bits: 0,
            greatest: 15
        })
    );
    assert!(matches!(
        Settings::<i16, 16>::new(m(1, 0), 0, 5, Action::Reverse),
        Err(E::Scale { .. })
    ));
}
