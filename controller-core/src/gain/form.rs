//! The three usual forms of a PID law's gains, all turned into the parallel one.

/// Physical gains in parallel form: `duty = kp*e + ki*(integral of e) + kd*(slope of e)`.
///
/// `kp` in duty fraction per kelvin, `ki` in duty fraction per kelvin and second, `kd` in duty fraction
/// per kelvin a second. Not checked here; [`crate::gain::Quantised`] does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gains {
    /// Proportional gain, duty fraction per kelvin.
    pub kp_per_kelvin: f64,
    /// Integral gain, duty fraction per kelvin and second.
    pub ki_per_kelvin_second: f64,
    /// Derivative gain, duty fraction times second per kelvin.
    pub kd_second_per_kelvin: f64,
}

impl Gains {
    /// Parallel form, as it is.
    #[must_use]
    pub const fn parallel(
        kp_per_kelvin: f64,
        ki_per_kelvin_second: f64,
        kd_second_per_kelvin: f64,
    ) -> Self {
        Self {
            kp_per_kelvin,
            ki_per_kelvin_second,
            kd_second_per_kelvin,
        }
    }

    /// Standard (ISA) form `Kc (1 + 1/(Ti s) + Td s)`: `ki = Kc/Ti`, `kd = Kc Td`. Source: Astrom and
    /// Hagglund, Advanced PID Control, 2006. `ti_s` infinite means no integral action.
    ///
    /// ```
    /// let g = controller_core::gain::Gains::standard(0.05, 100.0, 8.0);
    /// assert!((g.ki_per_kelvin_second - 0.0005).abs() < 1e-12 && (g.kd_second_per_kelvin - 0.4).abs() < 1e-12);
    /// ```
    #[must_use]
    pub const fn standard(kc_per_kelvin: f64, ti_s: f64, td_s: f64) -> Self {
        Self::parallel(kc_per_kelvin, kc_per_kelvin / ti_s, kc_per_kelvin * td_s)
    }

    /// Series form `Kc (1 + 1/(Ti s)) (1 + Td s)`: with `f = 1 + Td/Ti` the standard form has `Kc f`,
    /// `Ti f`, `Td / f`. Source: Skogestad, J. Process Control 13 (2003) 291-309, whose rules are in this
    /// form.
    ///
    /// ```
    /// let g = controller_core::gain::Gains::series(1.0, 4.0, 1.0);
    /// assert!((g.kp_per_kelvin - 1.25).abs() < 1e-12);
    /// assert!((g.ki_per_kelvin_second - 0.25).abs() < 1e-12 && (g.kd_second_per_kelvin - 1.0).abs() < 1e-12);
    /// ```
    #[must_use]
    pub const fn series(kc_per_kelvin: f64, ti_s: f64, td_s: f64) -> Self {
        let f = 1.0 + td_s / ti_s;
        Self::standard(kc_per_kelvin * f, ti_s * f, td_s / f)
    }

    /// The same gains in standard form: `(Kc, Ti, Td)`. `Ti` is infinite without integral action.
    #[must_use]
    pub const fn to_standard(self) -> (f64, f64, f64) {
        (
            self.kp_per_kelvin,
            self.kp_per_kelvin / self.ki_per_kelvin_second,
            self.kd_second_per_kelvin / self.kp_per_kelvin,
        )
    }
}

/// The filter exponent `K` whose time constant `(2^K - 1) * period` is nearest to `filter_s`, at most
/// `greatest`. For the standard form with filter factor `N`, `filter_s = Td / N`.
///
/// ```
/// assert_eq!(controller_core::gain::filter_exponent(0.75, 0.25, 15), 2); // (4 - 1) * 0.25 s
/// assert_eq!(controller_core::gain::filter_exponent(0.0, 0.25, 15), 0);
/// ```
#[must_use]
pub const fn filter_exponent(filter_s: f64, period_s: f64, greatest: u32) -> u32 {
    let mut k = 0;
    while k < greatest {
        let here = ((1_u64 << k) - 1) as f64 * period_s;
        let next = ((2_u64 << k) - 1) as f64 * period_s;
        if filter_s - here <= next - filter_s {
            return k;
        }
        k += 1;
    }
    greatest
}
