//! Every law and transfer against exact integer arithmetic in 64 bits, which shares no code with the crate,
//! over edges and pseudo-random cases at 16/32, with both ways of comparing. (Many more cases and both widths:
//! in the `tests` package; all cases: in the proofs.)

extern crate std;
use super::pid_smooth::{self, SmoothState};
use super::windup;
use super::{
    Action, Integrating, Integrator, PiState, PidState, Settings, Signals, Terms, one_product, pi,
    pid, transfer,
};
use crate::gain::Mantissas;
use crate::setpoint::{SetPoint, Weight, set_point_change};
use crate::word::{Multiply, Native};
use std::format;

const SP: u32 = 8;
const K: u32 = 3;

/// Compares upper halves, as 8- and 16-bit machines do.
struct Halves;
impl Multiply<i16> for Halves {
    const WHOLE: bool = false;
}

#[derive(Clone, Copy, Debug)]
struct Case {
    kp: u16,
    ki: u16,
    kd: u16,
    lo: i16,
    hi: i16,
    reverse: bool,
    set_point: i16,
    measurement: i16,
    filtered: i16,
    word: u32,
    other: u16,
    duty: i16,
}

/// Words near what matters, and any words, from a fixed sequence (Knuth's MMIX generator).
struct Draw(u64);

impl Draw {
    fn next(&mut self) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        self.0 >> 24
    }
    fn signal(&mut self) -> i16 {
        let any = self.next() as i16;
        match self.next() % 6 {
            0 => [0, 1, -1, 16_383, -16_384, i16::MAX, i16::MIN, 16_384][(any & 7) as usize],
            1 => any >> 8,
            2 => any >> 4,
            _ => any,
        }
    }
    fn gain(&mut self) -> u16 {
        let any = self.next() as u16;
        match self.next() % 4 {
            0 => any >> 6,
            1 => any >> 3,
            2 if any & 3 == 0 => 0,
            _ => any,
        }
    }
    fn case(&mut self) -> Case {
        // kp + kd at most (2^31 - 2^23) / 32767
        let kp = self.gain().min(65_281);
        let (a, b) = (self.signal() & i16::MAX, self.signal() & i16::MAX);
        let (lo, hi) = if a == b {
            (0, i16::MAX)
        } else {
            (a.min(b), a.max(b))
        };
        let top = (self.next() % 5) as i64;
        let word = match top {
            0 => i64::from(lo) << 16,
            1 => i64::from(hi) << 16 | 0xffff,
            _ => self.next() as u32 as i64,
        };
        Case {
            kp,
            ki: self.gain(),
            kd: self.gain().min(65_281 - kp),
            lo,
            hi,
            reverse: self.next() & 1 == 1,
            set_point: self.signal(),
            measurement: self.signal(),
            filtered: self.signal(),
            word: word as u32,
            other: self.gain(),
            duty: self.signal() & i16::MAX,
        }
    }
}

impl Case {
    fn signals(&self) -> Signals<i16> {
        Signals::from_filtered(
            self.settings().action(),
            self.set_point,
            self.measurement,
            self.filtered,
        )
    }
}

fn domain(x: i16) -> i64 {
    i64::from(x).clamp(-16_384, 16_383)
}

impl Case {
    fn settings(&self) -> Settings<i16, SP> {
        let gains = Mantissas {
            kp: self.kp,
            ki: self.ki,
            kd: self.kd,
        };
        let action = if self.reverse {
            Action::Reverse
        } else {
            Action::Direct
        };
        Settings::<i16, SP>::new(gains, self.lo, self.hi, action).unwrap()
    }
    fn signed(&self, x: i64) -> i64 {
        if self.reverse { -x } else { x }
    }
    fn error(&self) -> i64 {
        self.signed(domain(self.measurement) - domain(self.set_point))
    }
    fn slope(&self) -> i64 {
        self.signed(domain(self.measurement) - domain(self.filtered))
    }
    /// The integrator's word after it was limited: `I * 2^16 + 2^15`.
    fn start(&self) -> i64 {
        self.confined(i64::from(self.word))
    }
    fn confined(&self, word: i64) -> i64 {
        word.clamp(i64::from(self.lo) << 16, i64::from(self.hi) << 16 | 0xffff)
    }
    /// `round(pd + I)` without and within the limits, `pd` with `SP` fraction bits.
    fn output(&self, pd: i64) -> (i64, i64) {
        let unlimited = ((pd << (16 - SP)) + self.start()) >> 16;
        (unlimited, unlimited.clamp(self.lo.into(), self.hi.into()))
    }
    fn same_terms(&self, terms: Terms<i16>, p: i64, d: i64) {
        let (unlimited, demand) = self.output(p + d);
        let got = [terms.p, terms.i, terms.d, terms.unclamped].map(i64::from);
        assert_eq!(
            got,
            [p >> SP, self.start() >> 16, d >> SP, unlimited],
            "{self:?}"
        );
        assert_eq!(i64::from(terms.demand), demand, "{self:?}");
    }
}

fn word(state: &impl Integrating<i16>) -> i64 {
    state.integrator().word().into()
}

fn check<M: Multiply<i16>>(c: &Case) {
    let s = c.settings();
    let (e, g, start) = (c.error(), c.slope(), c.start());
    let (kp, ki, kd) = (i64::from(c.kp), i64::from(c.ki), i64::from(c.kd));
    let integrator = Integrator::from_word(&s, c.word);
    assert_eq!(i64::from(integrator.word()), start);
    assert_eq!(i64::from(integrator.rounded()), start >> 16);
    let say = |what: &str| format!("{what}: {c:?}");

    let mut state = PiState::with(integrator);
    c.same_terms(
        pi::terms::<_, SP, M>(&s, &state, c.set_point, c.measurement),
        kp * e,
        0,
    );
    let u = pi::step::<_, SP, M>(&s, &mut state, c.set_point, c.measurement);
    assert_eq!(i64::from(u), c.output(kp * e).1, "{}", say("PI"));
    assert_eq!(
        word(&state),
        c.confined(start + ki * e),
        "{}",
        say("PI integrator")
    );

    let mut state = PidState::<_, K>::with(integrator, c.filtered);
    assert_eq!(i64::from(state.filtered()), domain(c.filtered) << K);
    let terms = pid::terms::<_, SP, K, M>(&s, &state, c.set_point, c.measurement);
    c.same_terms(terms, kp * e, kd * g);
    let u = pid::step::<_, SP, K, M>(&s, &mut state, c.set_point, c.measurement);
    assert_eq!(i64::from(u), c.output(kp * e + kd * g).1, "{}", say("PID"));
    assert_eq!(
        word(&state),
        c.confined(start + ki * e),
        "{}",
        say("PID integrator")
    );
    let moved = (domain(c.filtered) << K) + domain(c.measurement) - domain(c.filtered);
    assert_eq!(i64::from(state.filtered()), moved, "{}", say("filter"));

    let mut state = SmoothState::with(integrator, c.filtered);
    let terms = pid_smooth::terms::<_, SP, M>(&s, &state, c.set_point, c.measurement);
    c.same_terms(terms, kp * e, kd * g);
    let u = pid_smooth::step::<_, SP, M>(&s, &mut state, c.other, c.set_point, c.measurement);
    assert_eq!(
        i64::from(u),
        c.output(kp * e + kd * g).1,
        "{}",
        say("smooth")
    );
    assert_eq!(
        word(&state),
        c.confined(start + ki * e),
        "{}",
        say("smooth integrator")
    );
    // its filter shows in the next slope: y' = y + a (m - y), floored
    let rise = domain(c.measurement) - domain(c.filtered);
    let y = ((domain(c.filtered) << 16) + i64::from(c.other) * rise) >> 16;
    let next = pid_smooth::terms::<_, SP, M>(&s, &state, c.set_point, c.measurement);
    let slope = c.signed(domain(c.measurement) - y);
    assert_eq!(
        i64::from(next.d),
        (kd * slope) >> SP,
        "{}",
        say("smooth filter")
    );

    let mut state = PiState::with(integrator);
    let u = one_product::pi_step::<_, SP, M>(&s, &mut state, c.set_point, c.measurement);
    assert_eq!(i64::from(u), c.output(kp * e).1, "{}", say("one product"));
    assert_eq!(
        word(&state),
        c.confined(start + kp * e),
        "{}",
        say("one product")
    );

    series::<2, M>(c);
    // a lead that does not fit its word by far
    series::<20, M>(c);
}

fn series<const L: u32, M: Multiply<i16>>(c: &Case) {
    let s = c.settings();
    let mut state = PidState::<_, K>::with(Integrator::from_word(&s, c.word), c.filtered);
    let u = one_product::series_step::<_, SP, K, L, M>(&s, &mut state, c.set_point, c.measurement);
    let lead = (c.error() + (c.slope() << L)).clamp(-32_767, 32_767);
    let product = i64::from(c.kp) * lead;
    assert_eq!(i64::from(u), c.output(product).1, "series {L}: {c:?}");
    assert_eq!(
        word(&state),
        c.confined(c.start() + product),
        "series {L}: {c:?}"
    );
    let moved = (domain(c.filtered) << K) + domain(c.measurement) - domain(c.filtered);
    assert_eq!(
        i64::from(state.filtered()),
        moved,
        "series {L} filter: {c:?}"
    );
}

fn check_windup<M: Multiply<i16>>(c: &Case) {
    let s = c.settings();
    let (e, g, start) = (c.error(), c.slope(), c.start());
    let (kp, ki, kd) = (i64::from(c.kp), i64::from(c.ki), i64::from(c.kd));
    let integrator = Integrator::from_word(&s, c.word);
    let (lo, hi) = (i64::from(c.lo), i64::from(c.hi));

    let mut one = PiState::with(integrator);
    let mut two = PidState::<_, K>::with(integrator, c.filtered);
    let demands = [
        windup::conditional::<_, SP, M>(&s, &mut one, c.set_point, c.measurement),
        windup::conditional::<_, SP, M>(&s, &mut two, c.set_point, c.measurement),
    ];
    for (u, (pd, after)) in demands
        .into_iter()
        .zip([(kp * e, word(&one)), (kp * e + kd * g, word(&two))])
    {
        let (unlimited, demand) = c.output(pd);
        let frozen = unlimited > hi && ki * e > 0 || unlimited < lo && ki * e < 0;
        let wanted = if frozen {
            start
        } else {
            c.confined(start + ki * e)
        };
        assert_eq!(
            (i64::from(u), after),
            (demand, wanted),
            "conditional: {c:?}"
        );
    }

    // another duty goes out than the demand, in every other case the demand itself
    let applied = |u: i16| if c.word & 1 == 0 { u } else { c.duty };
    let mut one = PiState::with(integrator);
    let mut two = PidState::<_, K>::with(integrator, c.filtered);
    let out = [
        windup::tracking::<_, SP, M>(&s, &mut one, c.set_point, c.measurement, c.other, applied),
        windup::tracking::<_, SP, M>(&s, &mut two, c.set_point, c.measurement, c.other, applied),
    ];
    for (out, (pd, after)) in out
        .into_iter()
        .zip([(kp * e, word(&one)), (kp * e + kd * g, word(&two))])
    {
        let given = if c.word & 1 == 0 {
            c.output(pd).1
        } else {
            i64::from(c.duty)
        };
        let sum = pd + (start >> (16 - SP));
        let rounds_to_given = sum.clamp(given << SP, (given << SP) + (1 << SP) - 1);
        let full = 32_767 << SP;
        let excess = (rounds_to_given - sum).clamp(-full, full);
        let wanted = c.confined(start + ki * e + ((i64::from(c.other) * excess) >> SP));
        assert_eq!((i64::from(out), after), (given, wanted), "tracking: {c:?}");
    }
}

fn check_transfer<M: Multiply<i16>>(c: &Case, new: &Case) {
    let s = c.settings();
    let (e, g, start) = (c.error(), c.slope(), c.start());
    let (kp, kd) = (i64::from(c.kp), i64::from(c.kd));
    let integrator = Integrator::from_word(&s, c.word);
    let at = |state: &PiState<i16>| word(state);

    let mut state = PiState::with(integrator);
    transfer::to_automatic::<_, SP, M>(&s, &mut state, c.duty, c.signals());
    let duty = i64::from(c.duty.clamp(c.lo, c.hi));
    let wanted = c.confined((duty << 16) + 0x8000 - ((kp * e + kd * g) << (16 - SP)));
    assert_eq!(at(&state), wanted, "to automatic: {c:?}");

    let new = Case {
        reverse: c.reverse,
        ..*new
    };
    let mut state = PiState::with(integrator);
    let seen = c.signals();
    assert_eq!((i64::from(seen.error()), i64::from(seen.slope())), (e, g));
    assert_eq!(i64::from(seen.narrow_error()), e);
    transfer::to_gains::<_, SP, M>(&s, &new.settings(), &mut state, seen);
    let share = (kp - i64::from(new.kp)) * e + (kd - i64::from(new.kd)) * g;
    assert_eq!(
        at(&state),
        new.confined(start + (share << (16 - SP))),
        "to gains: {c:?}"
    );

    let mut state = PiState::with(integrator);
    transfer::to_limits(&new.settings(), &mut state);
    assert_eq!(at(&state), new.confined(start), "to limits: {c:?}");

    let mut state = PiState::with(integrator);
    transfer::feed_forward::<_, SP, M>(&s, &mut state, c.duty, new.duty);
    let change = i64::from(new.duty) - i64::from(c.duty);
    assert_eq!(
        at(&state),
        c.confined(start + (change << 16)),
        "feed-forward: {c:?}"
    );

    let mut state = PiState::with(integrator);
    let b = i64::from(new.duty).min(16_384);
    let weight = Weight::from_word(new.duty);
    set_point_change::<_, SP, M>(&s, &mut state, c.set_point, new.set_point, weight);
    // round((1 - b) kp), and the change as the action sees it
    let gain = (kp * (16_384 - b) + 8_192) >> 14;
    let change = c.signed(domain(new.set_point) - domain(c.set_point));
    let wanted = c.confined(start + ((gain * change) << (16 - SP)));
    assert_eq!(at(&state), wanted, "set point: {c:?} to {new:?}");
}

#[test]
fn laws_and_transfers_are_exact() {
    let mut draw = Draw(4);
    let mut cases = 0;
    for _ in 0..4_000 {
        let (case, new) = (draw.case(), draw.case());
        check::<Native>(&case);
        check::<Halves>(&case);
        check_windup::<Native>(&case);
        check_windup::<Halves>(&case);
        check_transfer::<Native>(&case, &new);
        check_transfer::<Halves>(&case, &new);
        cases += 1;
    }
    assert_eq!(cases, 4_000);
}

/// Every PI case of 11 x 11 signals at the edges, with gains and limits there too.
#[test]
fn the_edges_are_exact() {
    let signals = [
        i16::MIN,
        -16_385,
        -16_384,
        -16_383,
        -1,
        0,
        1,
        16_382,
        16_383,
        16_384,
        i16::MAX,
    ];
    let mut cases = 0;
    for set_point in signals {
        for measurement in signals {
            for (kp, ki, kd) in [
                (65_281, 65_535, 0),
                (0, 1, 65_281),
                (1, 0, 1),
                (256, 9, 300),
            ] {
                for (lo, hi) in [(0, i16::MAX), (0, 1), (i16::MAX - 1, i16::MAX)] {
                    for reverse in [false, true] {
                        for word in [0, u32::MAX, 1 << 31] {
                            let case = Case {
                                kp,
                                ki,
                                kd,
                                lo,
                                hi,
                                reverse,
                                set_point,
                                measurement,
                                filtered: set_point,
                                word,
                                other: 65_535,
                                duty: 9,
                            };
                            check::<Native>(&case);
                            check::<Halves>(&case);
                            check_windup::<Halves>(&case);
                            cases += 1;
                        }
                    }
                }
            }
        }
    }
    assert_eq!(cases, 11 * 11 * 4 * 3 * 2 * 3);
}

fn settings(ki: u16, action: Action) -> Settings<i16, SP> {
    let gains = Mantissas {
        kp: 1_300,
        ki,
        kd: 5_000,
    };
    Settings::<i16, SP>::constant(gains, 6_554, 30_000, action)
}

/// Before anything is measured a loop errs to the safe side: cooling starts full, heating with nothing; and
/// a cooling loop that nothing could unwind, with nothing as well.
#[test]
fn loops_start_on_the_safe_side() {
    let first = |s: &Settings<i16, SP>| {
        let pid = PidState::<_, K>::start(s, 5_000);
        assert_eq!(pid.integrator(), PiState::start(s).integrator());
        assert_eq!(pid.filtered(), 5_000 << K);
        word(&PiState::start(s))
    };
    let exactly = |duty: i64| (duty << 16) + 0x8000;
    assert_eq!(first(&settings(100, Action::Direct)), exactly(30_000));
    assert_eq!(first(&settings(0, Action::Direct)), exactly(6_554));
    assert_eq!(first(&settings(100, Action::Reverse)), exactly(6_554));
    assert_eq!(first(&settings(0, Action::Reverse)), exactly(6_554));
    assert_eq!(Action::Direct.opposite(), Action::Reverse);
    assert_eq!(Action::Reverse.opposite(), Action::Direct);
}

/// A warm restart takes what the words may be and limits the rest.
#[test]
fn a_restart_limits_what_it_is_given() {
    let s = settings(100, Action::Direct);
    let restored = |word: u32, filtered: i32| {
        let state = PidState::<_, K>::restored(&s, word, filtered);
        (state.integrator().word(), state.filtered())
    };
    let (floor, ceiling) = (6_554 << 16, 30_000 << 16 | 0xffff);
    assert_eq!(restored(20_000 << 16, 1_234), (20_000 << 16, 1_234));
    assert_eq!(restored(0, i32::MIN), (floor, -16_384 << K));
    assert_eq!(restored(u32::MAX, i32::MAX), (ceiling, (16_384 << K) - 1));
    assert_eq!(
        restored(floor, (16_384 << K) - 1),
        (floor, (16_384 << K) - 1)
    );
    assert_eq!(restored(ceiling, -16_384 << K), (ceiling, -16_384 << K));
    let mut state = PidState::<_, K>::restored(&s, 20_000 << 16, 99);
    state.reseed(i16::MAX);
    assert_eq!(
        (word(&state), state.filtered()),
        (20_000 << 16, 16_383 << K)
    );
    state.set_integrator(Integrator::exactly(&s, 7_000));
    assert_eq!(state.integrator().rounded(), 7_000);
    let mut smooth = SmoothState::with(Integrator::exactly(&s, 7_000), 0);
    smooth.set_integrator(Integrator::exactly(&s, 8_000));
    assert_eq!(smooth.integrator().rounded(), 8_000);
}

/// What was checked reads back as it was given.
#[test]
fn settings_read_back() {
    let s = settings(655, Action::Reverse);
    let gains = Mantissas {
        kp: 1_300,
        ki: 655,
        kd: 5_000,
    };
    assert_eq!(
        (s.mantissas(), s.lo(), s.hi(), s.action()),
        (gains, 6_554, 30_000, Action::Reverse)
    );
}

#[test]
fn refusals_of_settings_say_what_is_accepted() {
    let text =
        |got: Result<Settings<i16, SP>, super::SettingsError>| format!("{}", got.unwrap_err());
    let gains = |kp| Mantissas { kp, ki: 0, kd: 1 };
    let new = |kp, lo| Settings::<i16, SP>::new(gains(kp), lo, 5, Action::Direct);
    assert!(text(new(65_281, 0)).contains("kp + kd is 65282; at this scale at most 65281"));
    assert!(text(new(1, 5)).contains("output limits 5..5; accepted: 0 <= lo < hi"));
    let scale = Settings::<i16, 16>::new(gains(1), 0, 5, Action::Direct).unwrap_err();
    assert!(format!("{scale}").contains("16 fraction bits; 1 to 15"));
}

/// A checked set point is the plain word, and the law takes either.
#[test]
fn set_points_of_both_kinds_mean_the_same() {
    let s = settings(655, Action::Direct);
    for counts in [-16_384, -1, 0, 5_120, 16_383] {
        let checked = SetPoint::<i16>::new(counts).unwrap();
        assert_eq!(
            (checked.counts(), SetPoint::nearest(counts)),
            (counts, checked)
        );
        let (mut one, mut two) = (PiState::start(&s), PiState::start(&s));
        let u = pi::step::<_, SP, Native>(&s, &mut one, counts, 5_000);
        assert_eq!(u, pi::step::<_, SP, Native>(&s, &mut two, checked, 5_000));
        assert_eq!(one, two);
    }
    assert_eq!(SetPoint::nearest(i16::MAX).counts(), 16_383);
    assert_eq!(SetPoint::nearest(i16::MIN).counts(), -16_384);
    assert_eq!(
        (Weight::<i16>::from_word(-5), Weight::from_word(i16::MAX)),
        (Weight::bumpless(), Weight::plain())
    );
    let text = std::string::ToString::to_string(&SetPoint::<i16>::new(16_384).unwrap_err());
    assert!(
        text.contains("16384") && text.contains("-16384..=16383"),
        "{text}"
    );
}

/// Ti of the forms with one product, in samples: with ki = kp as integers, kp / 2^SP against ki / 2^n.
#[test]
fn integral_time_of_one_product() {
    assert_eq!(one_product::integral_time_periods(16, 8), 256);
    assert_eq!(one_product::integral_time_periods(32, 31), 2);
}

/// The greatest demand wins, the first of several.
#[test]
fn the_greatest_demand_wins() {
    use super::select::highest;
    let mut cases = 0;
    for code in 0..256_u16 {
        let four = [0, 1, 2, 3].map(|i| (code >> (2 * i) & 3) as i16 - 1);
        let most = four.iter().max().unwrap();
        let first = four.iter().position(|x| x == most).unwrap();
        assert_eq!(highest(&four), Some((first, *most)));
        cases += 1;
    }
    assert_eq!(cases, 256);
    assert_eq!(
        (highest(&[-7_i16]), highest::<i16>(&[])),
        (Some((0, -7)), None)
    );
}
