//! Gain schedule: other gains at other temperatures or duties, changed without a bump.

use super::{Integrating, Settings, Signals, transfer};
use crate::word::{Multiply, Narrow};

/// One row of a schedule: these settings from this value of the scheduling signal on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Row<N: Narrow, const SP: u32> {
    /// The row applies from here upwards, in counts of the scheduling signal (a measurement, or the demand).
    /// That of the first row is not looked at: it applies from the bottom.
    pub from: N,
    /// What applies.
    pub settings: Settings<N, SP>,
}

/// A schedule over at least one row, in rising order of `from`.
#[derive(Clone, Copy, Debug)]
pub struct Schedule<'a, N: Narrow, const SP: u32> {
    first: &'a Row<N, SP>,
    rest: &'a [Row<N, SP>],
    hysteresis: N,
}

/// Why a schedule was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ScheduleError {
    /// No row at all.
    Empty,
    /// The row of this index does not lie above the one before it by more than the hysteresis.
    Order(usize),
    /// The row of this index acts the other way.
    Action(usize),
    /// The hysteresis is negative.
    Hysteresis,
}

impl core::fmt::Display for ScheduleError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Empty => write!(f, "a schedule needs at least one row"),
            Self::Order(row) => write!(
                f,
                "row {row} must begin above row {} by more than the hysteresis",
                row - 1
            ),
            Self::Action(row) => write!(f, "row {row} acts the other way; all rows must act alike"),
            Self::Hysteresis => write!(f, "the hysteresis must not be negative"),
        }
    }
}

impl core::error::Error for ScheduleError {}

impl<'a, N: Narrow, const SP: u32> Schedule<'a, N, SP> {
    /// Checks and makes a schedule. `hysteresis`: how far below a row's beginning the signal must fall before the
    /// row below takes over, in counts.
    ///
    /// # Errors
    /// [`ScheduleError`] names the row.
    pub fn new(rows: &'a [Row<N, SP>], hysteresis: N) -> Result<Self, ScheduleError> {
        let (first, rest) = rows.split_first().ok_or(ScheduleError::Empty)?;
        if hysteresis.below(N::literal(0)) {
            return Err(ScheduleError::Hysteresis);
        }
        let mut before = first;
        for (index, row) in rest.iter().enumerate() {
            if row.settings.action != first.settings.action {
                return Err(ScheduleError::Action(index + 1));
            }
            // The first row's beginning is the bottom, so the second may begin anywhere.
            if index > 0 && !before.from.saturating_plus(hysteresis).below(row.from) {
                return Err(ScheduleError::Order(index + 1));
            }
            before = row;
        }
        Ok(Self {
            first,
            rest,
            hysteresis,
        })
    }

    /// The index of the row that applies at `signal`, coming from row `now`.
    #[must_use]
    pub fn row_at(&self, signal: N, now: usize) -> usize {
        let mut index = 0;
        for (above, row) in self.rest.iter().enumerate() {
            // A row that applies already is held down to its beginning less the hysteresis.
            let held = above < now;
            let margin = if held {
                N::literal(0).minus(self.hysteresis)
            } else {
                N::literal(0)
            };
            if signal.below(row.from.saturating_plus(margin)) {
                break;
            }
            index = above + 1;
        }
        index
    }

    /// The settings of a row; of the last one when there is no such row.
    #[must_use]
    pub fn settings(&self, row: usize) -> &'a Settings<N, SP> {
        match row.checked_sub(1) {
            None => &self.first.settings,
            Some(index) => {
                &self
                    .rest
                    .get(index)
                    .or(self.rest.last())
                    .unwrap_or(self.first)
                    .settings
            }
        }
    }

    /// Looks at the signal; on a change of row lets the integrator take the difference of the terms, so that the
    /// output makes no bump while the wanted integrator fits. `signals` are those of the last sample.
    /// Returns the row that applies now.
    ///
    /// ```
    /// use controller_core::{gain::Mantissas, word::Native};
    /// use controller_core::law::{pi, Action, Integrator, PiState, Settings, Signals, schedule::{Row, Schedule}};
    /// const fn gains(kp: u16) -> Settings<i16, 8> {
    ///     Settings::<i16, 8>::constant(Mantissas { kp, ki: 100, kd: 0 }, 0, 32767, Action::Direct)
    /// }
    /// const ROWS: [Row<i16, 8>; 2] =
    ///     [Row { from: 0, settings: gains(1300) }, Row { from: 50 * 128, settings: gains(650) }];
    /// let schedule = Schedule::new(&ROWS, 128).unwrap();
    /// let mut state = PiState::with(Integrator::exactly(&ROWS[0].settings, 10000));
    /// let (wanted, measured) = (48 * 128, 51 * 128);
    /// let before = pi::terms::<_, 8, Native>(schedule.settings(0), &state, wanted, measured).demand;
    /// let seen = Signals::of(Action::Direct, wanted, measured);
    /// let row = schedule.look::<Native>(&mut state, 0, measured, seen);
    /// assert_eq!(row, 1);
    /// assert_eq!(pi::terms::<_, 8, Native>(schedule.settings(row), &state, wanted, measured).demand, before);
    /// ```
    pub fn look<M: Multiply<N>>(
        &self,
        state: &mut impl Integrating<N>,
        now: usize,
        signal: N,
        signals: Signals<N>,
    ) -> usize {
        let row = self.row_at(signal, now);
        if row != now {
            transfer::to_gains::<N, SP, M>(self.settings(now), self.settings(row), state, signals);
        }
        row
    }
}

#[cfg(test)]
mod tests;
