//! Two thermal nodes that exchange heat, integrated so that any legal capacity and any step is stable.
//!
//! The method is ROS2, a two-stage Rosenbrock method: of second order whatever matrix stands for the Jacobian
//! (so the flow's change within a step and small nonlinear terms may be left out of it) and, with
//! gamma = 1 - 1/sqrt 2, L-stable: a node without capacity follows at once instead of growing.
//! Source: J. G. Verwer, E. J. Spee, J. G. Blom, W. Hundsdorfer, "A second-order Rosenbrock method applied to
//! photochemical dispersion problems", SIAM Journal on Scientific Computing 20 (1999) 1456.

/// 1 - 1/sqrt 2.
const GAMMA: f64 = 1.0 - std::f64::consts::FRAC_1_SQRT_2;

/// How two nodes change at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Balance {
    /// Kelvin per second.
    pub slopes: [f64; 2],
    /// Derivatives of the slopes by the temperatures, 1/s; an approximation will do.
    pub jacobian: [[f64; 2]; 2],
}

/// Solves `(1 - s J) k = right`.
fn solve(j: &[[f64; 2]; 2], s: f64, right: [f64; 2]) -> [f64; 2] {
    let (a, b) = (1.0 - s * j[0][0], -s * j[0][1]);
    let (c, d) = (-s * j[1][0], 1.0 - s * j[1][1]);
    let determinant = a * d - b * c;
    [
        (d * right[0] - b * right[1]) / determinant,
        (a * right[1] - c * right[0]) / determinant,
    ]
}

/// The two temperatures after `seconds`: `at_start` and `at_end` give the balance with what acts on the nodes
/// at either end of the step.
pub(super) fn step(
    from: [f64; 2],
    seconds: f64,
    at_start: impl Fn([f64; 2]) -> Balance,
    at_end: impl Fn([f64; 2]) -> Balance,
) -> [f64; 2] {
    let first = at_start(from);
    let k1 = solve(
        &first.jacobian,
        GAMMA * seconds,
        [seconds * first.slopes[0], seconds * first.slopes[1]],
    );
    let second = at_end([from[0] + k1[0], from[1] + k1[1]]).slopes;
    let k2 = solve(
        &first.jacobian,
        GAMMA * seconds,
        [
            seconds * second[0] - 2.0 * k1[0],
            seconds * second[1] - 2.0 * k1[1],
        ],
    );
    [
        from[0] + 1.5 * k1[0] + 0.5 * k2[0],
        from[1] + 1.5 * k1[1] + 0.5 * k2[1],
    ]
}

/// A first-order lag after `seconds` whose input goes in a straight line from `input.0` to `input.1`: exact.
pub(super) fn lag(from: f64, seconds: f64, lag_s: f64, input: (f64, f64)) -> f64 {
    let x = seconds / lag_s;
    let left = (-x).exp();
    // the mean of e^(-t/lag) over the step; 1 - x/2 where the difference would cancel
    let mean = if x < 1e-6 {
        1.0 - 0.5 * x
    } else {
        (1.0 - left) / x
    };
    from * left + input.0 * (mean - left) + input.1 * (1.0 - mean)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One node of time constant 1 s toward 100, the other 10 s behind it.
    fn balance(t: [f64; 2]) -> Balance {
        Balance {
            slopes: [100.0 - t[0], 0.1 * (t[0] - t[1])],
            jacobian: [[-1.0, 0.0], [0.1, -0.1]],
        }
    }

    fn after(steps: u32) -> [f64; 2] {
        (0..steps).fold([0.0, 0.0], |t, _| {
            step(t, 5.0 / f64::from(steps), balance, balance)
        })
    }

    /// The exact solution: 100 (1 - e^-t) and 100 - 100 (10 e^(-t/10) - e^-t) / 9.
    #[test]
    fn the_error_falls_by_four_when_the_step_is_halved() {
        let exact = [
            100.0 * (1.0 - (-5.0f64).exp()),
            100.0 - 100.0 * (10.0 * (-0.5f64).exp() - (-5.0f64).exp()) / 9.0,
        ];
        let error = |steps| {
            let got = after(steps);
            (got[0] - exact[0]).abs().max((got[1] - exact[1]).abs())
        };
        for steps in [40, 80, 160] {
            let order = (error(steps) / error(2 * steps)).log2();
            assert!((1.9..2.1).contains(&order), "{steps}: {order}");
        }
        assert!(error(100) < 0.01, "{}", error(100));
    }

    #[test]
    fn a_node_without_capacity_follows_and_never_grows() {
        for rate in [1e2, 1e4, 1e8] {
            let stiff = |t: [f64; 2]| Balance {
                slopes: [rate * (t[1] - t[0]), 0.0],
                jacobian: [[-rate, rate], [0.0, 0.0]],
            };
            let mut t = [500.0, 20.0];
            let mut far = 480.0f64;
            for _ in 0..40 {
                t = step(t, 0.25, stiff, stiff);
                assert!((t[0] - 20.0).abs() <= far, "{rate}: {t:?}");
                far = (t[0] - 20.0).abs();
            }
            assert!(far < 1e-6, "{rate}: {far}");
        }
    }

    /// Input 3 + 2 t, lag 4, from 1: 3 + 2 (t - 4) + (1 - 3 + 8) e^(-t/4).
    #[test]
    fn a_lag_follows_a_ramp_exactly_in_one_step_or_many() {
        let exact = |t: f64| 3.0 + 2.0 * (t - 4.0) + 6.0 * (-t / 4.0f64).exp();
        assert!((lag(1.0, 7.0, 4.0, (3.0, 17.0)) - exact(7.0)).abs() < 1e-12);
        let mut y = 1.0;
        for n in 0..1000 {
            let t = f64::from(n) * 0.007;
            y = lag(y, 0.007, 4.0, (3.0 + 2.0 * t, 3.0 + 2.0 * (t + 0.007)));
        }
        assert!((y - exact(7.0)).abs() < 1e-10);
        assert_eq!(lag(5.0, 0.0, 4.0, (9.0, 9.0)), 5.0);
        assert!((lag(5.0, 1e-9, 4.0, (9.0, 9.0)) - (5.0 + 1e-9)).abs() < 1e-12);
    }
}
