use crate::message::speaks_its_message;

/// Why a guard's numbers were refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[repr(u8)]
#[non_exhaustive]
pub enum GuardError {
    /// A number of samples that decide is 0.
    Samples,
    /// The rate limit is 0 or negative.
    RateLimit,
    /// The stale limit is 0.
    StaleLimit,
    /// The trip's hysteresis is 0, negative, or carries the reset below the range of the word.
    Hysteresis,
    /// The limit on the integrated absolute error is 0.
    IntegratedError,
    /// The number of detections is 0.
    Detections,
    /// The answer expected of the plant is 0 or negative.
    Response,
    /// The margin from the set point is negative.
    Margin,
}

impl GuardError {
    /// What was wrong and what would be accepted.
    #[must_use]
    pub const fn message(self) -> &'static str {
        match self {
            Self::Samples => "guard: number of samples is 0; accepted: 1 or more",
            Self::RateLimit => "guard: rate limit below 1; accepted: 1 ..= 32767 steps a sample",
            Self::StaleLimit => "guard: stale limit is 0 ticks; accepted: 1 ..= 65535",
            Self::Hysteresis => {
                "guard: hysteresis below 1, or trip - hysteresis below -32768; accepted: 1 ..= trip + 32768"
            }
            Self::IntegratedError => {
                "guard: limit on the integrated absolute error is 0; accepted: 1 ..= 2^31"
            }
            Self::Detections => "guard: number of detections is 0; accepted: 1 ..= 255",
            Self::Response => "guard: expected response below 1; accepted: 1 ..= 32767 steps",
            Self::Margin => "guard: margin is negative; accepted: 0 ..= 32767 steps",
        }
    }
}

speaks_its_message!(GuardError);

#[cfg(test)]
mod tests {
    use super::GuardError;
    use crate::message::tests::speaks;

    #[test]
    fn refusals_say_what_would_be_accepted() {
        for (error, accepted) in [
            (GuardError::Samples, "1 or more"),
            (GuardError::RateLimit, "1 ..= 32767 steps a sample"),
            (GuardError::StaleLimit, "1 ..= 65535"),
            (GuardError::Hysteresis, "1 ..= trip + 32768"),
            (GuardError::IntegratedError, "1 ..= 2^31"),
            (GuardError::Detections, "1 ..= 255"),
            (GuardError::Response, "1 ..= 32767 steps"),
            (GuardError::Margin, "0 ..= 32767 steps"),
        ] {
            speaks(&error, error.message(), "guard: ", accepted);
        }
    }
}
