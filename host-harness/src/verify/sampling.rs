//! Random cases of one loop against exact 128-bit arithmetic.

use crate::integers::{LawIntegers, with_filter, with_scale};
use controller_core::law::{Action, Integrating, Integrator, PiState, PidState, Settings, pi, pid};
use controller_core::setpoint::{Weight, set_point_change};
use controller_core::word::Multiply;
use hushloop_proof::property::{Halves, Whole};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use std::marker::PhantomData;

/// How many cases were tried, and how many failed each claim.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Cases tried.
    pub cases: u64,
    /// Output or integrator outside its limits.
    pub outside: u64,
    /// Output more than half an LSB from the exact law, or integrator not exact.
    pub inexact: u64,
    /// A hotter history that cooled less.
    pub disordered: u64,
    /// A bump at a set-point change although the wanted integrator fits.
    pub bumped: u64,
    /// The output stuck for `ceil(2^16 / (ki |e|))` samples.
    pub stuck: u64,
    /// Dead-zone cases tried: those with an error, a `ki`, and at most 4096 samples to wait.
    pub dead_zone_cases: u64,
    /// Largest distance from the exact law seen, in 2^-17 LSB; 65536 is half an LSB.
    pub worst: u64,
}

impl Tally {
    fn plus(self, o: Self) -> Self {
        Self {
            cases: self.cases + o.cases,
            outside: self.outside + o.outside,
            inexact: self.inexact + o.inexact,
            disordered: self.disordered + o.disordered,
            bumped: self.bumped + o.bumped,
            stuck: self.stuck + o.stuck,
            dead_zone_cases: self.dead_zone_cases + o.dead_zone_cases,
            worst: self.worst.max(o.worst),
        }
    }

    /// The largest distance from the exact law seen, in output LSB.
    #[must_use]
    pub fn worst_lsb(&self) -> f64 {
        self.worst as f64 / 131_072.0
    }
}

fn domain(x: i16) -> i64 {
    i64::from(x).clamp(-16_384, 16_383)
}

/// The law at constants that are known only at run time.
trait Law: Sync {
    /// `filtered` is the filter's word, its residue included.
    fn step(&self, integral: u32, filtered: i32, set_point: i16, measurement: i16) -> (i16, u32);
    fn demand(&self, integral: u32, set_point: i16, measurement: i16) -> i16;
    fn absorb(&self, integral: u32, old: i16, new: i16) -> u32;
}

struct Pi<const SP: u32, M>(Settings<i16, SP>, PhantomData<fn() -> M>);
struct Pid<const SP: u32, const K: u32, M>(Settings<i16, SP>, PhantomData<fn() -> M>);

fn demand<const SP: u32, M: Multiply<i16>>(
    s: &Settings<i16, SP>,
    integral: u32,
    set_point: i16,
    measurement: i16,
) -> i16 {
    let state = PiState::with(Integrator::from_word(s, integral));
    pi::terms::<_, SP, M>(s, &state, set_point, measurement).demand
}

fn absorb<const SP: u32, M: Multiply<i16>>(
    s: &Settings<i16, SP>,
    integral: u32,
    old: i16,
    new: i16,
) -> u32 {
    let mut state = PiState::with(Integrator::from_word(s, integral));
    set_point_change::<_, SP, M>(s, &mut state, old, new, Weight::bumpless());
    state.integrator().word()
}

impl<const SP: u32, M: Multiply<i16>> Law for Pi<SP, M> {
    fn step(&self, integral: u32, _: i32, set_point: i16, measurement: i16) -> (i16, u32) {
        let mut state = PiState::with(Integrator::from_word(&self.0, integral));
        let u = pi::step::<_, SP, M>(&self.0, &mut state, set_point, measurement);
        (u, state.integrator().word())
    }
    fn demand(&self, integral: u32, set_point: i16, measurement: i16) -> i16 {
        demand::<SP, M>(&self.0, integral, set_point, measurement)
    }
    fn absorb(&self, integral: u32, old: i16, new: i16) -> u32 {
        absorb::<SP, M>(&self.0, integral, old, new)
    }
}

impl<const SP: u32, const K: u32, M: Multiply<i16>> Law for Pid<SP, K, M> {
    fn step(&self, integral: u32, filtered: i32, set_point: i16, measurement: i16) -> (i16, u32) {
        let mut state = PidState::<_, K>::restored(&self.0, integral, filtered);
        let u = pid::step::<_, SP, K, M>(&self.0, &mut state, set_point, measurement);
        (u, state.integrator().word())
    }
    fn demand(&self, integral: u32, set_point: i16, measurement: i16) -> i16 {
        demand::<SP, M>(&self.0, integral, set_point, measurement)
    }
    fn absorb(&self, integral: u32, old: i16, new: i16) -> u32 {
        absorb::<SP, M>(&self.0, integral, old, new)
    }
}

struct Case<'a> {
    subject: &'a LawIntegers,
    law: &'a dyn Law,
}

impl Case<'_> {
    fn run(&self, r: &mut ChaCha8Rng, tally: &mut Tally) {
        let s = self.subject;
        let (lo, hi) = (i64::from(s.lo), i64::from(s.hi));
        let direct = s.action == Action::Direct;
        let sign = |x: i64| if direct { x } else { -x };
        let near = r.random::<u8>() & 1 == 0;
        let set_point: i16 = r.random();
        let measurement = if near {
            set_point.saturating_add(r.random::<i8>().into())
        } else {
            r.random()
        };
        let word = (lo << 16) as u64 + r.random::<u64>() % ((hi - lo + 1) << 16) as u64;
        let i = word as i64;
        let filtered = self.filtered(r, measurement);
        tally.cases += 1;

        let e = sign(domain(measurement) - domain(set_point));
        let mut pd = i64::from(s.kp) * e;
        if s.has_derivative() {
            let smooth = i64::from(filtered).div_euclid(1 << s.filter_exponent);
            pd += i64::from(s.kd) * sign(domain(measurement) - smooth);
        }
        let (u, next) = self.law.step(word as u32, filtered, set_point, measurement);
        let (u, next) = (i64::from(u), i64::from(next));
        let exact = ((i128::from(pd) << (16 - s.scale)) + i128::from(i) - 32_768)
            .clamp(i128::from(lo) << 16, i128::from(hi) << 16);
        let off = 2 * ((i128::from(u) << 16) - exact).unsigned_abs() as u64;
        tally.worst = tally.worst.max(off);
        tally.outside += u64::from(u < lo || u > hi || next >> 16 < lo || next >> 16 > hi);
        let due = (i + i64::from(s.ki) * e).clamp(lo << 16, hi << 16 | 0xffff);
        tally.inexact += u64::from(off > 65_536 || next != due);
        if !s.has_derivative() {
            self.histories(r, tally, set_point, measurement, word as u32);
        }
        self.set_point_change(r, tally, set_point, measurement, word as u32);
    }

    /// Any word of the filter, residue and all; half of them near the measurement.
    fn filtered(&self, r: &mut ChaCha8Rng, measurement: i16) -> i32 {
        let k = self.subject.filter_exponent;
        let any = r.random::<i32>() >> (17 - k);
        if r.random::<u8>() & 1 == 0 {
            return any;
        }
        let near = (domain(measurement) << k) as i32 + i32::from(r.random::<i16>() >> 4);
        near.clamp(-(1 << (14 + k)), (1 << (14 + k)) - 1)
    }

    /// Four samples of two histories, the second nowhere cooler; and a wait in the dead zone.
    fn histories(
        &self,
        r: &mut ChaCha8Rng,
        tally: &mut Tally,
        set_point: i16,
        measurement: i16,
        word: u32,
    ) {
        let s = self.subject;
        let (mut cool, mut hot) = (word, word);
        for _ in 0..4 {
            let m = measurement.saturating_add(r.random::<i16>() >> 6);
            let hotter = m.saturating_add((r.random::<i16>() >> 6).saturating_abs());
            let a = self.law.step(cool, 0, set_point, m);
            let b = self.law.step(hot, 0, set_point, hotter);
            (cool, hot) = (a.1, b.1);
            tally.disordered += u64::from(if s.action == Action::Direct {
                b.0 < a.0
            } else {
                b.0 > a.0
            });
        }
        let ki = i64::from(s.ki);
        let error = |m: i16| domain(m) - domain(set_point);
        let wait = |e: i64| (65_536 + ki * e.abs() - 1) / (ki * e.abs()).max(1);
        // One in 64 of the long waits is enough; in place of the others a measurement far away.
        let long = wait(error(measurement)) > 16 && r.random::<u8>() >= 4;
        let measurement = if long {
            r.random::<i16>() >> 1
        } else {
            measurement
        };
        let e = error(measurement);
        let wait = wait(e);
        if e == 0 || ki == 0 || wait > 4096 {
            return;
        }
        tally.dead_zone_cases += 1;
        let rising = (e > 0) == (s.action == Action::Direct);
        let (first, mut integral) = self.law.step(word, 0, set_point, measurement);
        if first == if rising { s.hi } else { s.lo } {
            return;
        }
        for _ in 1..wait {
            integral = self.law.step(integral, 0, set_point, measurement).1;
        }
        let (last, _) = self.law.step(integral, 0, set_point, measurement);
        tally.stuck += u64::from(if rising { last <= first } else { last >= first });
    }

    fn set_point_change(
        &self,
        r: &mut ChaCha8Rng,
        tally: &mut Tally,
        old: i16,
        measurement: i16,
        word: u32,
    ) {
        let s = self.subject;
        let new = old.saturating_add(r.random::<i16>() >> 5);
        let before = self.law.demand(word, old, measurement);
        let kick = self.law.demand(word, new, measurement);
        let after = self
            .law
            .demand(self.law.absorb(word, old, new), new, measurement);
        let change = domain(new) - domain(old);
        let change = if s.action == Action::Direct {
            change
        } else {
            -change
        };
        let wanted = i64::from(word) + ((i64::from(s.kp) * change) << (16 - s.scale));
        let fits = wanted >> 16 >= i64::from(s.lo) && wanted >> 16 <= i64::from(s.hi);
        let between = after >= before.min(kick) && after <= before.max(kick);
        tally.bumped += u64::from(if fits { after != before } else { !between });
    }
}

fn law<M: Multiply<i16> + 'static>(subject: &LawIntegers) -> Option<Box<dyn Law>> {
    with_scale!(subject.scale, SP => {
        let s = subject.settings::<SP>().ok()?;
        if subject.has_derivative() {
            with_filter!(subject.filter_exponent, K => Some(Box::new(Pid::<SP, K, M>(s, PhantomData))), else None)
        } else {
            Some(Box::new(Pi::<SP, M>(s, PhantomData)))
        }
    }, else None)
}

/// Tries at least this many random cases (rounded up to a multiple of 16384) of the subject's law, half of
/// them with each kind of comparison. `None` when the constructor refuses the loop or a shift is not covered.
#[must_use]
pub fn sample(subject: &LawIntegers, cases: u64, tick: &(dyn Fn(u64) + Sync)) -> Option<Tally> {
    const CHUNK: u64 = 1 << 14;
    let (halves, whole) = (law::<Halves>(subject)?, law::<Whole>(subject)?);
    let chunk = |seed: u64| {
        let mut r = ChaCha8Rng::seed_from_u64(seed);
        let mut tally = Tally::default();
        for n in 0..CHUNK {
            let law = if n & 1 == 0 { &*halves } else { &*whole };
            Case { subject, law }.run(&mut r, &mut tally);
        }
        tick(CHUNK);
        tally
    };
    Some(
        (0..cases.div_ceil(CHUNK))
            .into_par_iter()
            .map(chunk)
            .reduce(Tally::default, Tally::plus),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_million_cases_of_two_loops() {
        for (kd, action) in [(0, Action::Direct), (5000, Action::Reverse)] {
            let subject = LawIntegers {
                kp: 1300,
                ki: 655,
                kd,
                scale: 8,
                filter_exponent: 3,
                lo: 6554,
                hi: 32767,
                action,
            };
            let tally = sample(&subject, 1 << 20, &|_| {}).unwrap();
            assert_eq!(tally.cases, 1 << 20);
            let failed =
                tally.outside + tally.inexact + tally.disordered + tally.bumped + tally.stuck;
            assert_eq!(failed, 0, "{tally:?}");
            assert!(tally.worst > 65_000 && tally.worst <= 65_536, "{tally:?}");
            assert!(kd != 0 || tally.dead_zone_cases > 1_000_000, "{tally:?}");
        }
    }
}
