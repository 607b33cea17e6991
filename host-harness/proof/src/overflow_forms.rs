//! The interval run over everything in `law` beside plain PI and PID: the constructors' closed-form checks suffice for
//! all of it. Gains are points, so that a difference of two is known; all else is every value it can have.
//!
//! Tracking is not here: it takes the fraction of an excess as a difference that intervals cannot see through. The
//! solvers prove it.

use super::interval::{Interval, Record, record};
use super::overflow::{Gain, Ranges, Signal, Sum, integrator, merge, settings};
use super::property::{Halves, Whole};
use crate::with_any_scale;
use controller_core::law::every::{self, Every};
use controller_core::law::pid_smooth::{self, SmoothState};
use controller_core::law::schedule::{Row, Schedule};
use controller_core::law::two_position::{TwoPosition, TwoPositionState};
use controller_core::law::{
    Action, Integrator, PiState, PidState, Settings, Signals, one_product, pid, select, shaping,
    transfer, windup,
};
use controller_core::word::Multiply;

/// What stands in the way of a proof, of each form.
type Forms = Vec<(&'static str, Record)>;

fn not_negative() -> Signal {
    Signal::new(0, 32_767)
}

fn any_error() -> Sum {
    Sum::new(-32_767, 32_767)
}

fn any_slope() -> Signal {
    Signal::new(-32_767, 32_767)
}

/// Any filter word of `2^K` samples.
fn pid_state<const K: u32>(ranges: Ranges) -> PidState<Signal, K> {
    let filtered = Sum::new(-(1_i128 << (14 + K)), (1 << (14 + K)) - 1);
    PidState::assumed(integrator(ranges), filtered)
}

fn pid_step<const SP: u32, const K: u32, M: Multiply<Signal>>(ranges: Ranges, action: Action) {
    let s = settings::<SP>(ranges, action);
    let any = Signal::any();
    let mut state = pid_state::<K>(ranges);
    let _ = pid::terms::<_, SP, K, M>(&s, &state, any, any);
    let _ = pid::step::<_, SP, K, M>(&s, &mut state, any, any);
    let _ = PidState::<_, K>::restored(&s, Interval::any(), Interval::any());
}

/// One sample of each other form of the law.
fn forms<const SP: u32, M: Multiply<Signal>>(ranges: Ranges, action: Action) -> Forms {
    let s = settings::<SP>(ranges, action);
    let any = Signal::any();
    let start = PiState::with(integrator(ranges));
    let filtered = || pid_state::<3>(ranges);
    let every = record(|| {
        for _ in [true, false] {
            let mut count = Every::new(2);
            let _ = every::step::<_, SP, M>(&s, &mut start.clone(), &mut count, any, any);
            let _ = every::step::<_, SP, M>(&s, &mut filtered(), &mut count, any, any);
        }
    });
    let conditional = record(|| {
        let _ = windup::conditional::<_, SP, M>(&s, &mut start.clone(), any, any);
    });
    let conditional_pid = record(|| {
        let _ = windup::conditional::<_, SP, M>(&s, &mut filtered(), any, any);
    });
    let one = record(|| {
        let _ = one_product::pi_step::<_, SP, M>(&s, &mut start.clone(), any, any);
    });
    let series = record(|| {
        let mut state = pid_state::<3>(ranges);
        let _ = one_product::series_step::<_, SP, 3, 2, M>(&s, &mut state, any, any);
        let mut state = pid_state::<0>(ranges);
        let _ = one_product::series_step::<_, SP, 0, 15, M>(&s, &mut state, any, any);
    });
    let mut smooth = Record::default();
    // In 64 parts: how far a measurement is from the filter depends on where the filter is.
    const PART: i128 = 1 << 25;
    for part in -32..32_i128 {
        let at = Sum::new(part * PART, (part + 1) * PART - 1);
        merge(
            &mut smooth,
            record(|| {
                let mut state = SmoothState::assumed(integrator(ranges), at);
                let _ = pid_smooth::terms::<_, SP, M>(&s, &state, any, any);
                let _ = pid_smooth::step::<_, SP, M>(&s, &mut state, Gain::any(), any, any);
                let _ = SmoothState::restored(&s, Interval::any(), Interval::any());
            }),
        );
    }
    let changes = record(|| {
        let mut state = start;
        transfer::to_automatic::<_, SP, M>(
            &s,
            &mut state,
            not_negative(),
            Signals::assumed(any_error(), any_slope()),
        );
        let mut state = start;
        transfer::feed_forward::<_, SP, M>(&s, &mut state, any, any);
        let mut state = PiState::with(Integrator::assumed(Interval::any()));
        transfer::to_limits(&s, &mut state);
        let _ = Signals::from_filtered(action, any, any, any).narrow_error();
    });
    vec![
        ("every m-th sample", every.0),
        ("conditional", conditional.0),
        ("conditional, PID", conditional_pid.0),
        ("one product", one.0),
        ("series", series.0),
        ("any filter", smooth),
        ("changes", changes.0),
    ]
}

/// A change from some gains to others, through a schedule of two rows.
fn rows<const SP: u32, M: Multiply<Signal>>(old: Ranges, new: Ranges, action: Action) -> Record {
    let rows: [Row<Signal, SP>; 2] = [old, new].map(|ranges| Row {
        from: Signal::any(),
        settings: settings::<SP>(ranges, action),
    });
    let run = || {
        let Ok(schedule) = Schedule::new(&rows, not_negative()) else {
            unreachable!("two rows are always in order")
        };
        let mut state = PiState::with(integrator(old));
        schedule.look::<M>(
            &mut state,
            0,
            Signal::any(),
            Signals::assumed(any_error(), any_slope()),
        );
    };
    record(run).0
}

fn ranges(kp: u64, kd: u64) -> Ranges {
    let exactly = |value: u64| Gain::new(value.into(), value.into());
    Ranges {
        kp: exactly(kp),
        ki: Gain::any(),
        kd: exactly(kd),
        lo: not_negative(),
        hi: not_negative(),
    }
}

/// Gains over their range with the greatest `kd` that goes with each.
fn corners(bound: u64, step: usize) -> Vec<(u64, u64)> {
    let top = bound.min(65_535);
    let kps = (0..=top).step_by(step).chain([top]);
    kps.map(|kp| (kp, (bound - kp).min(65_535))).collect()
}

const ACTIONS: [Action; 2] = [Action::Direct, Action::Reverse];

/// Every form and change at every scale: what the constructors accept cannot overflow.
#[test]
fn the_constructors_checks_suffice_for_every_form() {
    let (mut runs, mut operations) = (0_u64, 0_u64);
    let mut checked = |what: &str, record: Record| {
        assert_eq!(record.failures, Vec::<String>::new(), "{what}");
        runs += 1;
        operations += record.operations;
    };
    for scale in 1..=15 {
        with_any_scale!(scale, SP => {
            for (kp, kd) in corners(Settings::<i16, SP>::gain_sum_max(), 4_000) {
                for action in ACTIONS {
                    let all = [forms::<SP, Halves>(ranges(kp, kd), action), forms::<SP, Whole>(ranges(kp, kd), action)];
                    for (form, record) in all.into_iter().flatten() {
                        checked(&format!("{form}: scale {scale}, kp {kp}, kd {kd}"), record);
                    }
                    for (kp2, kd2) in corners(Settings::<i16, SP>::gain_sum_max(), 16_000) {
                        let (old, new) = (ranges(kp, kd), ranges(kp2, kd2));
                        checked(&format!("rows: scale {scale}, {kp}, {kd} to {kp2}, {kd2}"), rows::<SP, Whole>(old, new, action));
                    }
                }
            }
        }, else ());
    }
    assert_eq!(runs, 9_992);
    assert!(operations > 1_000_000, "{operations}");
}

/// PID with every filter whose words have room: 2^0 to 2^16 samples.
#[test]
fn every_filter_has_room() {
    let mut runs = 0;
    macro_rules! filters {
        ([$($sp:literal),*], $ks:tt) => { $(filters!(@ $sp, $ks);)* };
        (@ $sp:literal, [$($k:literal),*]) => { $(
            for (kp, kd) in corners(Settings::<i16, $sp>::gain_sum_max(), 8_000) {
                for action in ACTIONS {
                    for (record, _) in [
                        record(|| pid_step::<$sp, $k, Halves>(ranges(kp, kd), action)),
                        record(|| pid_step::<$sp, $k, Whole>(ranges(kp, kd), action)),
                    ] {
                        assert_eq!(record.failures, Vec::<String>::new(), "SP {}, K {}, kp {kp}, kd {kd}", $sp, $k);
                        runs += 1;
                    }
                }
            }
        )* };
    }
    filters!(
        [1, 8, 15],
        [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16]
    );
    assert_eq!(runs, 1_768);
    // The control, 2^18 samples, is a doc test of `PidState` that must not compile.
}

/// What needs no gains: two-position, shapers, high-select.
#[test]
fn what_surrounds_the_law_has_room() {
    let (any, count) = (Signal::any(), Gain::any());
    let mut operations = 0;
    for action in ACTIONS {
        for on in [false, true] {
            let (record, paths) = record(|| {
                let Ok(law) = TwoPosition::new(not_negative(), count, count, action) else {
                    unreachable!("a band that is not negative is accepted")
                };
                let mut state = TwoPositionState::holding(on, count);
                law.step(&mut state, any, any);
            });
            assert_eq!((record.failures, paths), (Vec::new(), 6));
            operations += record.operations;
        }
    }
    let (record, _) = record(|| {
        // Negative amounts count as none, which unit tests enumerate at 8 bits; what the error dead band takes off, the
        // solvers see through and intervals do not.
        let _ = shaping::slew(any, any, not_negative(), not_negative());
        let _ = shaping::ramp(any, any, not_negative());
        let _ = shaping::backlash(any, any, not_negative());
        let _ = select::highest(&[any, any, any]);
    });
    assert_eq!(record.failures, Vec::<String>::new());
    operations += record.operations;
    assert!(operations > 30, "{operations}");
}

/// The control: gains one above their bound are found in every form that adds P and the integrator.
#[test]
fn one_above_the_bound_is_found_in_every_form() {
    // (2^31 - 2^23) / 32767 = 65281 at scale 8.
    let found = forms::<8, Whole>(ranges(65_282, 0), Action::Direct);
    let clean: Vec<&str> = found
        .iter()
        .filter(|(_, record)| record.failures.is_empty())
        .map(|(form, _)| *form)
        .collect();
    assert_eq!(clean, ["changes"]);
    assert_eq!(found.len(), 7);
}
