extern crate std;
use super::{NegativeBand, TwoPosition, TwoPositionState};
use crate::law::Action;
use std::string::ToString;

/// The truth table: position, how long it is held, and where the measurement lies.
#[test]
fn every_state_follows_the_truth_table() {
    let mut cases = 0;
    for (minimum_on, minimum_off) in [(0, 0), (1, 3), (3, 1), (u16::MAX, u16::MAX)] {
        for half_band in [0, 10_i16] {
            for action in [Action::Direct, Action::Reverse] {
                let law = TwoPosition::new(half_band, minimum_on, minimum_off, action).unwrap();
                for difference in -12..=12_i16 {
                    for on in [false, true] {
                        for held in [0, 1, 2, 3, 4, u16::MAX - 1, u16::MAX] {
                            let mut state = TwoPositionState::holding(on, held);
                            let says = law.step(&mut state, 500, 500 + difference);
                            let wanting = match action {
                                Action::Direct => difference,
                                Action::Reverse => -difference,
                            };
                            let free = held >= if on { minimum_on } else { minimum_off };
                            let expected = if wanting > half_band && free {
                                true
                            } else if wanting < -half_band && free {
                                false
                            } else {
                                on
                            };
                            assert_eq!((says, state.is_on()), (expected, expected));
                            let held = if expected == on {
                                held.saturating_add(1)
                            } else {
                                1
                            };
                            assert_eq!(state.held(), held);
                            cases += 1;
                        }
                    }
                }
            }
        }
    }
    assert_eq!(cases, 4 * 2 * 2 * 25 * 2 * 7);
}

/// At the start it may switch at once; after a rest that begins now, after the minimum time off.
#[test]
fn it_starts_free_or_resting() {
    let law = TwoPosition::new(0_i16, 2, 3, Action::Reverse).unwrap();
    let mut free = TwoPositionState::start();
    assert_eq!(free.held(), u16::MAX);
    assert!(!free.is_on() && law.step(&mut free, 100, 50));
    let mut resting = TwoPositionState::resting();
    assert_eq!(resting.held(), 0);
    let on = [0; 5].map(|_| law.step(&mut resting, 100, 50));
    assert_eq!(on, [false, false, false, true, true]);
}

#[test]
fn a_negative_band_is_refused() {
    assert_eq!(
        TwoPosition::new(-1_i16, 0, 0, Action::Direct),
        Err(NegativeBand)
    );
    assert!(TwoPosition::new(0_i16, 0, 0, Action::Direct).is_ok());
    assert!(NegativeBand.to_string().contains("zero or more"));
}
