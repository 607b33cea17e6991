//! Which way the loop acts.

/// The sign of the loop.
///
/// *Direct* action answers a rising measurement with a rising demand: cooling. *Reverse* action
/// answers it with a falling one: heating.
///
/// ```
/// use controller_core::law::Action;
/// assert_eq!(Action::Direct.opposite(), Action::Reverse);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Action {
    /// Hotter asks for more: cooling.
    Direct,
    /// Hotter asks for less: heating.
    Reverse,
}

impl Action {
    /// The other one.
    #[must_use]
    pub const fn opposite(self) -> Self {
        match self {
            Self::Direct => Self::Reverse,
            Self::Reverse => Self::Direct,
        }
    }
}
