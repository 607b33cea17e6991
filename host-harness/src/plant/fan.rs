//! A fan: speed follows duty with a lag, stops below its stall duty and needs a push to start.

/// A fan's mechanics. Speed and flow are shares of full; flow is proportional to speed (fan laws).
#[derive(Clone, Debug, PartialEq)]
pub struct Fan {
    /// Time constant of the speed, seconds.
    pub lag_s: f64,
    /// A turning fan stops when the duty stays below this share.
    pub stall: f64,
    /// A standing fan starts when the duty reaches this share.
    pub start: f64,
    /// Speed now, share of full.
    pub speed: f64,
    /// True while the rotor turns.
    pub turning: bool,
    /// True when something holds the rotor (fault injection).
    pub blocked: bool,
}

impl Fan {
    /// A standing fan.
    #[must_use]
    pub fn standing(lag_s: f64, stall: f64, start: f64) -> Self {
        Self {
            lag_s,
            stall,
            start: start.max(stall),
            speed: 0.0,
            turning: false,
            blocked: false,
        }
    }

    /// The speed that a turning fan comes to at `duty`, share of full.
    #[must_use]
    pub fn speed_at(&self, duty: f64) -> f64 {
        duty
    }

    /// Advances by `seconds` at `duty`.
    pub fn advance(&mut self, seconds: f64, duty: f64) {
        self.turning = !self.blocked
            && if self.turning {
                duty >= self.stall
            } else {
                duty >= self.start
            };
        let target = if self.turning {
            self.speed_at(duty)
        } else {
            0.0
        };
        self.speed += (target - self.speed) * (1.0 - (-seconds / self.lag_s).exp());
    }
}
