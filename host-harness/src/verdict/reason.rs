//! A reason: what is wrong, what to do about it, and a word for machines.

use serde::Serialize;

/// What a reason is about. Its words stay the same for ever: scripts compare them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Code {
    /// The law could overflow.
    Overflow,
    /// The table errs by more than is wanted.
    TableError,
    /// The law leaves its bound.
    LawError,
    /// The actuator's floor is below what keeps a fan turning.
    FanStandsStill,
    /// The surroundings alone are above the trip.
    SurroundingsAboveTrip,
    /// The set point is on the wrong side of the surroundings.
    SetPointBeyondSurroundings,
    /// The temperature leaves the table.
    OffTable,
    /// The sample period is longer than what the plant needs.
    PeriodTooLong,
    /// A guard reports a fault where there is none.
    Alarm,
    /// The actuator does all it can and that is not enough.
    Saturated,
    /// A cycle goes on.
    Hunting,
    /// The temperature does not stay within the band.
    NotSettled,
    /// It takes too long to.
    SlowSettling,
    /// Too little integral action.
    TooLittleIntegral,
    /// The temperature comes above the hard limit.
    HardLimit,
    /// Above the acceptable peak.
    Peak,
    /// Below the set point.
    Undershoot,
    /// The duty moves too much.
    Travel,
    /// It jitters too much.
    Jitter,
    /// It jumps.
    DutyStep,
    /// The loop is too near to hunting.
    Sensitivity,
    /// Fan or switch start too often.
    Starts,
    /// The scenario is too short to judge.
    TooShort,
}

/// What is not accepted of a design.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reason {
    /// What it is about, for machines.
    pub code: Code,
    /// What is wrong, with figures.
    pub what: String,
    /// What to do about it.
    pub remedy: String,
}

impl Reason {
    /// A reason.
    pub fn new(code: Code, what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self {
            code,
            what: what.into(),
            remedy: remedy.into(),
        }
    }
}
