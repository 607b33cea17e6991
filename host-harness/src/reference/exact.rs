//! The law in exact arithmetic on the quantised gains: what the integers may differ from by half an LSB.

/// One loop in whole numbers wide enough that nothing is ever rounded.
///
/// Output in units of 2^-16 of a duty LSB; an i128 holds every intermediate.
#[derive(Clone, Debug)]
pub struct ExactLaw {
    /// Proportional mantissa over 2^`scale`.
    pub kp: u16,
    /// Integral mantissa over 2^16.
    pub ki: u16,
    /// Derivative mantissa over 2^`scale`.
    pub kd: u16,
    /// Fraction bits of kp and kd.
    pub scale: u32,
    /// The filter averages over 2^this samples.
    pub filter_exponent: u32,
    /// Lower limit, duty LSB.
    pub lo: i16,
    /// Upper limit, duty LSB.
    pub hi: i16,
    /// True for cooling.
    pub cooling: bool,
    integrator: i128,
    filtered: Option<i128>,
}

const UNIT: i128 = 1 << 16;

/// The integrator is confined to what rounds into `lo..=hi`: half an LSB beyond either limit, short of the
/// value that would round to the next word. That is the law's own definition (its clamp tests the top word
/// of a register that holds the rounding half), so the oracle has it too.
fn confine(integrator: i128, lo: i16, hi: i16) -> i128 {
    integrator.clamp(
        UNIT * i128::from(lo) - UNIT / 2,
        UNIT * i128::from(hi) + UNIT / 2 - 1,
    )
}

impl ExactLaw {
    /// A loop at its start: cooling at full integrator, heating at none.
    #[must_use]
    #[allow(clippy::too_many_arguments)]
    pub fn new(
        kp: u16,
        ki: u16,
        kd: u16,
        scale: u32,
        filter_exponent: u32,
        lo: i16,
        hi: i16,
        cooling: bool,
    ) -> Self {
        let integrator = UNIT * i128::from(if cooling { hi } else { lo });
        Self {
            kp,
            ki,
            kd,
            scale,
            filter_exponent,
            lo,
            hi,
            cooling,
            integrator,
            filtered: None,
        }
    }

    /// The exact output of one sample, before rounding, as a real number of LSB; moves the state on.
    pub fn step(&mut self, set_point: i16, measurement: i16) -> f64 {
        let (sum, increment) = self.sample(set_point, measurement);
        self.integrate(increment);
        self.limited(sum)
    }

    /// The same with conditional integration: the integrator stands still while the sum is outside what rounds
    /// into `lo..=hi` and the increment pushes it further out.
    pub fn step_conditional(&mut self, set_point: i16, measurement: i16) -> f64 {
        let (sum, increment) = self.sample(set_point, measurement);
        let outwards = sum - confine(sum, self.lo, self.hi);
        if outwards.signum() * increment.signum() <= 0 {
            self.integrate(increment);
        }
        self.limited(sum)
    }

    /// The same with tracking of the duty `applied`: the integrator also takes `gain / 2^16` of what the sum would
    /// have to change by to round to `applied`, measured before rounding, at most full duty. As the filter's whole
    /// part is the law's input by definition, so is the sum in whole units of 2^-`scale` LSB.
    pub fn step_tracking(
        &mut self,
        set_point: i16,
        measurement: i16,
        gain: u16,
        applied: i16,
    ) -> f64 {
        let (sum, increment) = self.sample(set_point, measurement);
        let step = UNIT >> self.scale;
        let seen = (sum + UNIT / 2).div_euclid(step) * step;
        let applied = i128::from(applied.max(0)) * UNIT;
        let full = UNIT * i128::from(i16::MAX);
        let excess = (seen.clamp(applied, applied + UNIT - step) - seen).clamp(-full, full);
        self.integrate(increment + (i128::from(gain) * excess).div_euclid(UNIT));
        self.limited(sum)
    }

    /// The integral, in 2^-16 LSB.
    #[must_use]
    pub fn integral(&self) -> i128 {
        self.integrator
    }

    /// The unlimited sum of the terms and the increment of one sample, in 2^-16 LSB; the filter moves on.
    fn sample(&mut self, set_point: i16, measurement: i16) -> (i128, i128) {
        let domain = |x: i16| i128::from(x.clamp(-(1 << 14), (1 << 14) - 1));
        let (m, r) = (domain(measurement), domain(set_point));
        let sign = if self.cooling { 1 } else { -1 };
        let e = sign * (m - r);
        let filtered = self.filtered.unwrap_or(m << self.filter_exponent);
        // the filter's whole part is the law's input by definition; its residue is kept
        let difference = m - filtered.div_euclid(1 << self.filter_exponent);
        let g = sign * difference;
        self.filtered = Some(filtered + difference);
        let shared = (i128::from(self.kp) * e + i128::from(self.kd) * g) * (UNIT >> self.scale);
        (shared + self.integrator, i128::from(self.ki) * e)
    }

    fn integrate(&mut self, increment: i128) {
        self.integrator = confine(self.integrator + increment, self.lo, self.hi);
    }

    fn limited(&self, sum: i128) -> f64 {
        let (low, high) = (UNIT * i128::from(self.lo), UNIT * i128::from(self.hi));
        sum.clamp(low, high) as f64 / UNIT as f64
    }

    /// Absorbs a set-point change without a bump.
    pub fn change_set_point(&mut self, old: i16, new: i16) {
        let sign = if self.cooling { 1 } else { -1 };
        let share =
            sign * i128::from(self.kp) * (i128::from(new) - i128::from(old)) * (UNIT >> self.scale);
        self.integrator = confine(self.integrator + share, self.lo, self.hi);
    }
}
