extern crate std;
use super::{Row, Schedule, ScheduleError};
use crate::gain::Mantissas;
use crate::law::{Action, Integrating, Integrator, PiState, Settings, Signals, pi};
use crate::word::Native;
use std::string::ToString;

const fn row(from: i16, kp: u16, action: Action) -> Row<i16, 8> {
    let gains = Mantissas { kp, ki: 0, kd: 0 };
    Row {
        from,
        settings: Settings::<i16, 8>::constant(gains, 0, 32_767, action),
    }
}

const ROWS: [Row<i16, 8>; 4] = [
    row(0, 100, Action::Direct),
    row(-50, 200, Action::Direct),
    row(40, 300, Action::Direct),
    row(90, 400, Action::Direct),
];

/// A row begins at its mark, and ends the hysteresis below it.
#[test]
fn a_row_begins_at_its_mark_and_ends_below_it() {
    let schedule = Schedule::new(&ROWS, 7).unwrap();
    let mut cases = 0;
    for signal in -200..200 {
        for now in 0..4 {
            // highest row whose beginning is reached, or left by no more than the hysteresis
            let mark = |row: usize| if row <= now { -7 } else { 0 };
            let wanted = (1..4)
                .rev()
                .find(|row| signal >= ROWS[*row].from + mark(*row))
                .unwrap_or(0);
            assert_eq!(schedule.row_at(signal, now), wanted, "{signal} from {now}");
            cases += 1;
        }
    }
    assert_eq!(cases, 1_600);
    for (index, row) in ROWS.iter().enumerate() {
        assert_eq!(schedule.settings(index), &row.settings);
    }
    assert_eq!(schedule.settings(9), &ROWS[3].settings);
    let single = Schedule::new(&ROWS[..1], 0).unwrap();
    assert_eq!(
        (single.row_at(i16::MAX, 0), single.settings(5)),
        (0, &ROWS[0].settings)
    );
    // at the end of the words
    let end = [ROWS[0], row(i16::MIN, 1, Action::Direct)];
    assert_eq!(Schedule::new(&end, 9).unwrap().row_at(i16::MIN, 0), 1);
}

/// The change of row makes no bump; staying makes no change.
#[test]
fn rows_change_without_a_bump() {
    let schedule = Schedule::new(&ROWS, 7).unwrap();
    let start = PiState::with(Integrator::exactly(&ROWS[0].settings, 10_000));
    let mut state = start;
    let seen = Signals::of(Action::Direct, 0, 300);
    assert_eq!(schedule.look::<Native>(&mut state, 1, 39, seen), 1);
    assert_eq!(state, start);
    let demand = |row: usize, state: &PiState<i16>| {
        pi::terms::<_, 8, Native>(schedule.settings(row), state, 0, 300).demand
    };
    for (now, signal, then) in [(1, 40, 2), (2, 90, 3), (3, 39, 2), (2, -58, 0)] {
        let before = demand(now, &state);
        assert_eq!(schedule.look::<Native>(&mut state, now, signal, seen), then);
        assert_eq!(demand(then, &state), before);
        assert_ne!(state.integrator(), start.integrator());
    }
}

#[test]
fn schedules_that_cannot_be_are_refused() {
    let new = |rows: &[Row<i16, 8>], hysteresis: i16| Schedule::new(rows, hysteresis).err();
    assert_eq!(new(&[], 0), Some(ScheduleError::Empty));
    assert_eq!(new(&ROWS, -1), Some(ScheduleError::Hysteresis));
    assert_eq!(new(&ROWS, 0), None);
    assert_eq!(new(&ROWS, 49), None);
    assert_eq!(
        new(&ROWS, 50),
        Some(ScheduleError::Order(3)),
        "90 is not above 40 + 50"
    );
    assert_eq!(
        new(&[ROWS[0], ROWS[2], ROWS[1]], 0),
        Some(ScheduleError::Order(2))
    );
    assert_eq!(
        new(&[ROWS[3], ROWS[1]], 0),
        None,
        "the first row begins at the bottom"
    );
    let other = row(60, 1, Action::Reverse);
    assert_eq!(
        new(&[ROWS[0], ROWS[1], other], 0),
        Some(ScheduleError::Action(2))
    );
    for (error, word) in [
        (ScheduleError::Empty, "at least one row"),
        (ScheduleError::Order(2), "row 2 must begin above row 1"),
        (ScheduleError::Action(3), "row 3 acts the other way"),
        (ScheduleError::Hysteresis, "not be negative"),
    ] {
        assert!(error.to_string().contains(word), "{error}");
    }
}
