//! The list of claims about one loop, each with how it is known.
//!
//! "Proven" is said of a claim only when every statement that it rests on is proven for this very configuration: width,
//! scale, filter, action and either comparison. That is known from the certificate, whose questions are built again from
//! the sources that this program was compiled from, or from solvers that are asked now.

use super::overflow::intervals;
use super::sampling::{Tally, sample};
use super::threshold::{Enumeration, enumerate};
use crate::integers::LawIntegers;
use hushloop_proof::certificate::{self, Certificate};
use hushloop_proof::designs::{self, Configuration};
use hushloop_proof::solve::{self, Property, Report, Solver};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// How a claim is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum How {
    /// For every input and state, by intervals or by solvers.
    Proven,
    /// Every case was decided.
    Enumerated,
    /// Random cases were tried.
    Tested,
    /// Nothing is said.
    #[serde(rename = "not claimed")]
    NotClaimed,
}

impl How {
    /// In words.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Self::Proven => "proven",
            Self::Enumerated => "enumerated",
            Self::Tested => "tested",
            Self::NotClaimed => "not claimed",
        }
    }
}

/// A claim about a loop.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Claim {
    /// What is said.
    pub claim: String,
    /// How it is known.
    pub how: How,
    /// Cases decided, tried, or obligations proven.
    pub cases: u64,
    /// Did it hold? Nothing for what is not claimed.
    pub holds: Option<bool>,
    /// What the cases are, or why nothing is claimed.
    pub note: String,
    /// The file that states it, from the project's root.
    pub file: &'static str,
}

impl Claim {
    pub(super) fn new(
        claim: &str,
        how: How,
        cases: u64,
        holds: bool,
        note: impl Into<String>,
    ) -> Self {
        Self {
            claim: claim.to_string(),
            how,
            cases,
            holds: Some(holds),
            note: note.into(),
            file: "",
        }
    }

    fn not_claimed(claim: &str, why: &str) -> Self {
        Self {
            claim: claim.to_string(),
            how: How::NotClaimed,
            cases: 0,
            holds: None,
            note: why.to_string(),
            file: "",
        }
    }

    pub(super) fn stated_in(self, file: &'static str) -> Self {
        Self { file, ..self }
    }
}

/// How much work to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Effort {
    /// The certificate in this text, where it covers the loop; else intervals, thresholds, 2^20 random cases.
    Quick(String),
    /// Minutes: solvers are asked now, run by this Python interpreter; thresholds and 2^26 random cases.
    Full(PathBuf),
}

impl Effort {
    /// With the certificate that this program was compiled with.
    #[must_use]
    pub fn quick() -> Self {
        Self::Quick(certificate::BUILT_IN.to_string())
    }
}

/// Told what is being done and how far it is: `(stage, done, of)`.
pub type Progress<'a> = &'a (dyn Fn(&str, u64, u64) + Sync);

const WRAP: &str = "no operation wraps or loses a bit, for any input and reachable state";
const LIMITS: &str = "output and integrator stay within the limits";
const EXACT: &str = "output within half an LSB of the exact law for ever, integrator exact";
const ORDER: &str =
    "order: a hotter history never yields less cooling, a colder one never less heat";
const BUMPLESS: &str = "a set-point change makes no bump while the wanted integrator fits, else the nearest attainable";
const DEAD_ZONE: &str = "no dead zone: with an error the output moves, or is at its limit";
const PANIC: &str = "no reachable panic in the linked image";

const PROPERTY: &str = "host-harness/proof/src/property.rs";
const BEGINS: &str = "host-harness/proof/src/begins.rs";

/// What is known of the questions.
enum Evidence {
    Certificate(Certificate),
    Solvers(Report),
}

/// A design's loop as the proof sees it. The actions and filters that it does not have do not matter.
fn configuration(subject: &LawIntegers) -> Configuration {
    Configuration {
        scale: subject.scale,
        filter: subject.has_derivative().then_some(subject.filter_exponent),
        action: subject.action,
    }
}

/// The claims of the proof that apply to the subject.
fn applicable(subject: &LawIntegers) -> Vec<&'static str> {
    let mut list = vec![designs::EXACT, designs::BUMPLESS];
    if subject.ki != 0 {
        list.push(designs::DEAD_ZONE);
    }
    if !subject.has_derivative() {
        list.extend([designs::ORDER, designs::SHAPE]);
    }
    list
}

impl Evidence {
    fn gather(
        subject: &LawIntegers,
        effort: &Effort,
        progress: Progress<'_>,
    ) -> Result<Self, String> {
        let python = match effort {
            Effort::Quick(text) => {
                let read = Certificate::read(text).map_err(|refused| refused.to_string());
                return read.map(Self::Certificate);
            }
            Effort::Full(python) => python,
        };
        let properties = configuration(subject)
            .properties(&applicable(subject))
            .ok_or("there is no proof of this configuration")?;
        Self::ask(properties, python, progress)
    }

    fn ask(
        mut properties: Vec<Property>,
        python: &Path,
        progress: Progress<'_>,
    ) -> Result<Self, String> {
        properties.extend(designs::controls());
        let total = std::sync::atomic::AtomicU64::new(0);
        let done = std::sync::atomic::AtomicU64::new(0);
        let order = std::sync::atomic::Ordering::Relaxed;
        let start = |n: usize| total.store(n as u64, order);
        let tick = || {
            let n = done.fetch_add(1, order) + 1;
            progress("solvers", n, total.load(order));
        };
        let solvers = ["z3", "cvc5"].map(|name| Solver::of_python(python, name));
        solve::run(&properties, &solvers, true, 60, &start, &tick)
            .map(Self::Solvers)
            .map_err(|e| e.to_string())
    }

    /// The obligations behind a claim and what vouches for them; or why it is not proven.
    fn of(&self, subject: &LawIntegers, claim: &str) -> Result<(u64, String), String> {
        let configuration = configuration(subject);
        let properties = configuration
            .properties(&[claim])
            .ok_or("there is no proof of this configuration")?;
        let at = match configuration.filter {
            Some(k) => format!("scale {}, K {k}", configuration.scale),
            None => format!("scale {}", configuration.scale),
        };
        match self {
            Self::Certificate(certificate) => {
                let n = certificate.covers(&properties)?;
                let (date, solvers) = (&certificate.date, certificate.solvers.join(", "));
                let note = format!(
                    "certificate of {date}, two solvers ({solvers}): obligations at {at}, all gains and limits, either comparison"
                );
                Ok((n as u64, note))
            }
            Self::Solvers(report) => {
                if !report.failures.is_empty() {
                    return Err(report.failures[0].clone());
                }
                let of = |p: &Property| {
                    let found = report
                        .outcomes
                        .iter()
                        .find(|o| o.statement == p.statement && o.scope == p.scope);
                    let good = found.filter(|o| o.good && o.proven + o.by_ranges > 0);
                    good.map(|o| o.proven + o.by_ranges)
                        .ok_or_else(|| format!("not proven: {}", p.name()))
                };
                let n = properties.iter().map(of).sum::<Result<usize, _>>()?;
                let note = format!(
                    "two solvers asked now: obligations at {at}, all gains and limits, either comparison; every control caught"
                );
                Ok((n as u64, note))
            }
        }
    }
}

/// How far the output may be from that of a law whose filter passes on fractions of a count as well, in LSB: the share of
/// a count that the filter keeps back, times `kd`, and the rounding.
#[must_use]
pub fn beside_a_finer_filter_lsb(subject: &LawIntegers) -> f64 {
    let kept_back = 1.0 - 1.0 / f64::from(1_u32 << subject.filter_exponent);
    f64::from(subject.kd) / f64::from(1_u32 << subject.scale) * kept_back + 0.5
}

/// Checks every claim about the subject that applies to it.
///
/// # Errors
/// With [`Effort::Full`], when the solvers cannot be run; with [`Effort::Quick`], when the certificate is refused.
pub fn claims(
    subject: &LawIntegers,
    effort: &Effort,
    progress: Progress<'_>,
) -> Result<Vec<Claim>, String> {
    let mut list = Vec::new();
    let derivative = subject.has_derivative();

    progress("intervals", 0, 1);
    let record = intervals(subject);
    let note = match record.failures.first() {
        None => "operations shown exact on intervals, both kinds of comparison".to_string(),
        Some(first) => first.clone(),
    };
    let wrap = Claim::new(
        WRAP,
        How::Proven,
        record.operations,
        record.failures.is_empty(),
        note,
    );
    list.push(wrap.stated_in("host-harness/proof/src/overflow.rs"));
    if !record.failures.is_empty() {
        // Nothing below means anything when an operation can wrap.
        return Ok(list);
    }

    let evidence = Evidence::gather(subject, effort, progress)?;
    let known = |claim: &str| evidence.of(subject, claim);
    let unproven: Vec<String> = applicable(subject)
        .into_iter()
        .filter_map(|claim| known(claim).err())
        .collect();
    let full = matches!(effort, Effort::Full(_));
    let cases: u64 = match (full, unproven.is_empty()) {
        (true, _) => 1 << 26,
        (false, true) => 1 << 16,
        (false, false) => 1 << 20,
    };
    let tried = std::sync::atomic::AtomicU64::new(0);
    let tick = |n: u64| {
        let sum = tried.fetch_add(n, std::sync::atomic::Ordering::Relaxed) + n;
        progress("random cases", sum, cases);
    };
    let tally: Tally =
        sample(subject, cases, &tick).ok_or("the law's constructor refuses this loop")?;

    // The samples must agree with what is proven, all the same.
    let say = |claim: &str, of: &str, failed: u64, tried: (u64, &str), file: &'static str| {
        match known(of) {
            Ok((n, note)) => Claim::new(claim, How::Proven, n, failed == 0, note).stated_in(file),
            Err(why) => {
                let note = format!("{}; not proven: {why}", tried.1);
                Claim::new(claim, How::Tested, tried.0, failed == 0, note)
                    .stated_in("host-harness/src/verify/sampling.rs")
            }
        }
    };
    let sampled = (tally.cases, "random cases");
    list.push(say(
        LIMITS,
        designs::EXACT,
        tally.outside,
        sampled,
        PROPERTY,
    ));
    let worst = format!(
        "random cases; largest distance {:.3} LSB",
        tally.worst_lsb()
    );
    let exact = if derivative {
        format!(
            "{EXACT}; its filter passes on whole counts: beside one that passes on fractions, within {:.1} LSB",
            beside_a_finer_filter_lsb(subject)
        )
    } else {
        EXACT.to_string()
    };
    list.push(say(
        &exact,
        designs::EXACT,
        tally.inexact,
        (tally.cases, &worst),
        PROPERTY,
    ));
    if derivative {
        list.push(Claim::not_claimed(
            ORDER,
            "a derivative term does not keep order",
        ));
    } else {
        if full || known(designs::EXACT).is_err() {
            progress("thresholds", 0, 1);
            list.push(thresholds(subject, known(designs::SHAPE).is_ok())?);
        }
        let tried = (tally.cases, "random pairs of histories");
        list.push(say(
            ORDER,
            designs::ORDER,
            tally.disordered,
            tried,
            PROPERTY,
        ));
    }
    let file = if derivative { BEGINS } else { PROPERTY };
    let tried = (tally.cases, "random changes");
    list.push(say(BUMPLESS, designs::BUMPLESS, tally.bumped, tried, file));
    list.push(dead_zone(subject, &tally, known(designs::DEAD_ZONE)).stated_in(file));
    let panic = Claim::not_claimed(
        PANIC,
        "checked for each target when its firmware is linked, not here",
    );
    list.push(panic.stated_in("firmware/runner/src/panics.rs"));
    Ok(list)
}

/// Every pair of integral and error, decided at thresholds: worth what the law's shape is known by.
fn thresholds(subject: &LawIntegers, shape: bool) -> Result<Claim, String> {
    let done: Enumeration = enumerate(subject).ok_or("the law's constructor refuses this loop")?;
    let given = if shape {
        "given the law's proven shape"
    } else {
        "given the law's shape, which is not proven"
    };
    let note = format!(
        "(integral, error) pairs, decided by {} evaluations at thresholds, {given}",
        done.evaluations
    );
    let how = if shape { How::Enumerated } else { How::Tested };
    let claim = Claim::new(EXACT, how, done.pairs, done.mismatches == 0, note);
    Ok(claim.stated_in("host-harness/src/verify/threshold.rs"))
}

fn dead_zone(subject: &LawIntegers, tally: &Tally, known: Result<(u64, String), String>) -> Claim {
    if subject.ki == 0 {
        return Claim::not_claimed(DEAD_ZONE, "there is no integral action");
    }
    let wait = 65_536_u32.div_ceil(subject.ki.into());
    let within = format!(
        "within {wait} samples at an error of one count, {} at one kelvin of 128",
        65_536_u32.div_ceil(u32::from(subject.ki) * 128)
    );
    let settled = if subject.has_derivative() {
        ", once the derivative's filter has settled"
    } else {
        ""
    };
    let claim = format!("{DEAD_ZONE}{settled}; {within}");
    match known {
        Ok((n, note)) => Claim::new(&claim, How::Proven, n, tally.stuck == 0, note),
        Err(why) if subject.has_derivative() => Claim::not_claimed(&claim, &why),
        Err(why) => {
            let note = format!("random waits of up to 4096 samples; not proven: {why}");
            let holds = tally.stuck == 0;
            Claim::new(&claim, How::Tested, tally.dead_zone_cases, holds, note)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use controller_core::law::Action;

    fn quiet(_: &str, _: u64, _: u64) {}

    fn subject(kd: u16) -> LawIntegers {
        // A gain of 78 LSB/LSB saturates most errors, which keeps the threshold enumeration of a test build short.
        LawIntegers {
            kp: 20_000,
            ki: 655,
            kd,
            scale: 8,
            filter_exponent: 3,
            lo: 6554,
            hi: 32767,
            action: Action::Direct,
        }
    }

    use How::{NotClaimed, Proven, Tested};

    fn hows(list: &[Claim]) -> Vec<How> {
        list.iter().map(|c| c.how).collect()
    }

    #[test]
    fn every_claim_of_a_pi_loop() {
        let list = claims(&subject(0), &Effort::quick(), &quiet).unwrap();
        let due = [Proven, Proven, Proven, Proven, Proven, Proven, NotClaimed];
        assert_eq!(hows(&list), due, "{list:#?}");
        assert!(list.iter().all(|c| c.holds != Some(false)), "{list:#?}");
        assert!(
            list[1].note.contains("certificate of 20"),
            "{}",
            list[1].note
        );
    }

    #[test]
    fn a_pid_loop_claims_no_order() {
        let list = claims(&subject(5000), &Effort::quick(), &quiet).unwrap();
        let order = list.iter().find(|c| c.claim.starts_with("order")).unwrap();
        assert_eq!((order.how, order.holds), (NotClaimed, None));
        assert!(list.iter().all(|c| c.holds != Some(false)), "{list:#?}");
    }

    /// Every scale and filter that a design can get is in the certificate.
    #[test]
    fn every_configuration_is_proven() {
        let certificate = Certificate::read(certificate::BUILT_IN).unwrap();
        let evidence = Evidence::Certificate(certificate);
        let mut cases = 0;
        for scale in designs::SCALES {
            for filter_exponent in designs::FILTERS {
                for (kd, action) in [
                    (0, Action::Reverse),
                    (9, Action::Direct),
                    (9, Action::Reverse),
                ] {
                    let subject = LawIntegers {
                        scale,
                        filter_exponent,
                        action,
                        ..subject(kd)
                    };
                    for claim in applicable(&subject) {
                        let known = evidence.of(&subject, claim);
                        assert!(known.is_ok(), "{subject:?}, {claim}: {known:?}");
                        cases += 1;
                    }
                }
            }
        }
        assert_eq!(cases, 3 * 8 * (5 + 3 + 3));
    }

    /// From a proof of another configuration nothing is proven: with everything of K 3 known, K 5 is tested.
    #[test]
    fn a_proof_of_another_configuration_is_none() {
        let text = certificate::BUILT_IN;
        let body: String = text
            .lines()
            .filter(|l| !l.starts_with("seal ") && !l.contains(" K 5 "))
            .map(|l| format!("{l}\n"))
            .collect();
        let seal = certificate::sha256(body.as_bytes());
        let without = Effort::Quick(format!("{body}seal {seal}\n"));
        let loop_of = |filter_exponent| LawIntegers {
            filter_exponent,
            ..subject(5000)
        };
        let proven = claims(&loop_of(3), &without, &quiet).unwrap();
        assert_eq!(proven.iter().filter(|c| c.how == Proven).count(), 5);
        let tested = claims(&loop_of(5), &without, &quiet).unwrap();
        let due = [
            Proven, Tested, Tested, NotClaimed, Tested, NotClaimed, NotClaimed,
        ];
        assert_eq!(hows(&tested), due, "{tested:#?}");
        assert!(
            tested[1].note.contains("not in the certificate"),
            "{}",
            tested[1].note
        );
    }

    #[test]
    fn a_certificate_that_was_edited_is_refused() {
        let edited = certificate::BUILT_IN.replacen("proven", "proven ", 1);
        let refused = claims(&subject(0), &Effort::Quick(edited), &quiet).unwrap_err();
        assert!(refused.contains("was edited"), "{refused}");
        // Resealed, but with another fingerprint of the questions: they are built anew and differ.
        let line = certificate::BUILT_IN
            .lines()
            .find(|l| l.contains(" pi_exact 16/32 SP 8 halves cooling"))
            .unwrap();
        let other = line.replacen(
            line.split(' ').nth(3).unwrap(),
            &certificate::sha256(b""),
            1,
        );
        let body: String = certificate::BUILT_IN
            .lines()
            .filter(|l| !l.starts_with("seal "))
            .map(|l| format!("{}\n", if l == line { &other } else { l }))
            .collect();
        let seal = certificate::sha256(body.as_bytes());
        let resealed = Effort::Quick(format!("{body}seal {seal}\n"));
        let list = claims(&subject(0), &resealed, &quiet).unwrap();
        assert_eq!(list[2].how, Tested);
        assert!(
            list[2].note.contains("questions changed"),
            "{}",
            list[2].note
        );
    }

    /// Without a certificate of this very configuration nothing but the intervals proves anything.
    #[test]
    fn without_a_certificate_nothing_is_proven() {
        let body = "hushloop proof certificate 1\ndate 2026-01-01\n";
        let seal = certificate::sha256(body.as_bytes());
        let empty = Effort::Quick(format!("{body}seal {seal}\n"));
        let list = claims(&subject(5000), &empty, &quiet).unwrap();
        let due = [
            Proven, Tested, Tested, NotClaimed, Tested, NotClaimed, NotClaimed,
        ];
        assert_eq!(hows(&list), due, "{list:#?}");
        assert!(
            list[1].note.contains("not in the certificate"),
            "{}",
            list[1].note
        );
    }

    #[test]
    fn an_overflow_ends_the_list() {
        let list = claims(&subject(60_000), &Effort::quick(), &quiet).unwrap();
        assert_eq!(list.len(), 1);
        assert_eq!(list[0].holds, Some(false));
    }

    /// Against a law in real arithmetic whose filter rounds nothing: within what is said, and not far from it.
    #[test]
    fn a_finer_filter_is_as_near_as_said() {
        use controller_core::law::{Integrator, PidState, pid};
        use controller_core::word::Native;
        let subject = LawIntegers {
            kp: 300,
            ki: 0,
            ..subject(5000)
        };
        let settings = subject.settings::<8>().unwrap();
        let mut state = PidState::<i16, 3>::with(Integrator::exactly(&settings, 20_000), 0);
        let (mut smooth, mut worst) = (0.0_f64, 0.0_f64);
        // Random, then what is worst: at rest from above the filter keeps back 7 eighths, one count more and it keeps nothing.
        let mut random = 1_u32;
        for n in 0..10_000_u32 {
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let m = match n % 1000 {
                0..400 => (random >> 24) as i16 - 128,
                400..500 => 200,
                500..900 => 0,
                _ => 1,
            };
            let u = pid::step::<_, 8, 3, Native>(&settings, &mut state, 0, m);
            let g = f64::from(m) - smooth;
            smooth += g / 8.0;
            let exact = (300.0 * f64::from(m) + 5000.0 * g) / 256.0 + 20_000.0;
            worst = worst.max((f64::from(u) - exact.clamp(6554.0, 32767.0)).abs());
        }
        let said = beside_a_finer_filter_lsb(&subject);
        assert!(worst <= said && worst > 0.9 * said, "{worst} of {said}");
    }
}
