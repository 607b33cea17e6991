//! Published tuning rules: a model in, gains out.
//!
//! Every rule is written for positive gain of the plant; `Kc` is the gain of the law, output of the law a unit of error.
//! With a finite lag `K` is the static gain, `T` the lag, `L` the dead time, `a = K L / T`; integrating plants are the limit of
//! an infinite lag at the same initial slope. A rule that does not speak of a plant gives `None`.
//!
//! | rule | P | PI | PID | source |
//! |---|---|---|---|---|
//! | Ziegler and Nichols, step | `1/a` | `0.9/a`, `Ti = 3 L` | `1.2/a`, `2 L`, `L/2` | Trans. ASME 64 (1942) 759 |
//! | Ziegler and Nichols, cycle | `0.5 Ku` | `0.45 Ku`, `Tu/1.2` | `0.6 Ku`, `Tu/2`, `Tu/8` | the same |
//! | Cohen and Coon | `(1 + L/3T)/a` | `(0.9 + L/12T)/a`, `L (30 + 3 L/T)/(9 + 20 L/T)` | `(4/3 + L/4T)/a`, `L (32 + 6 L/T)/(13 + 8 L/T)`, `4 L/(11 + 2 L/T)` | Trans. ASME 75 (1953) 827 |
//! | lambda | | `T/(K (lambda + L))`, `T` | | Astrom and Hagglund, Advanced PID Control (2006) |
//! | IMC, improved PI | | `(2 T + L)/(2 K lambda)`, `T + L/2` | | Rivera, Morari, Skogestad, IEC PDD 25 (1986) 252 |
//! | SIMC | | `T/(K (tc + L))`, `min(T, 4 (tc + L))` | series form, `Td = second lag` | Skogestad, J. Process Control 13 (2003) 291 |
//! | AMIGO | | see `amigo` | see `amigo` | Astrom and Hagglund, J. Process Control 14 (2004) 635 |
//! | Tyreus and Luyben | | `Ku/3.2`, `2.2 Tu` | `Ku/2.2`, `2.2 Tu`, `Tu/6.3` | Ind. Eng. Chem. Res. 31 (1992) 2625 |

use controller_core::gain::Gains;

use super::model::Model;

/// Which terms the law has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Terms {
    /// Proportional only.
    P,
    /// Proportional and integral.
    Pi,
    /// All three.
    Pid,
}

impl Terms {
    /// `P`, `PI` or `PID`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::P => "P",
            Self::Pi => "PI",
            Self::Pid => "PID",
        }
    }
}

/// A rule.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rule {
    /// Ziegler and Nichols from the step response.
    ZieglerNicholsStep,
    /// Ziegler and Nichols from the ultimate cycle.
    ZieglerNicholsCycle,
    /// Cohen and Coon.
    CohenCoon,
    /// Lambda tuning with this time constant of the closed loop, seconds.
    Lambda(f64),
    /// Internal model control, the improved PI rule, with this filter time, seconds.
    Imc(f64),
    /// SIMC with this time constant of the closed loop, seconds; its author's choice is the dead time.
    Simc(f64),
    /// AMIGO.
    Amigo,
    /// Tyreus and Luyben.
    TyreusLuyben,
}

impl Rule {
    /// Every rule with its usual parameters for this model: lambda of one and three dead times; for IMC 1.7 dead times, the
    /// least that its authors advise.
    #[must_use]
    pub fn all(model: &Model) -> Vec<Self> {
        let dead = model.dead_time_s;
        vec![
            Self::ZieglerNicholsStep,
            Self::ZieglerNicholsCycle,
            Self::CohenCoon,
            Self::Lambda(dead),
            Self::Lambda(3.0 * dead),
            Self::Imc(1.7 * dead),
            Self::Simc(dead),
            Self::Amigo,
            Self::TyreusLuyben,
        ]
    }

    /// Its name, with its parameter.
    #[must_use]
    pub fn name(self, model: &Model) -> String {
        let share = |time: f64| format!("{:.1} L", time / model.dead_time_s);
        match self {
            Self::ZieglerNicholsStep => "Ziegler-Nichols, step".to_owned(),
            Self::ZieglerNicholsCycle => "Ziegler-Nichols, cycle".to_owned(),
            Self::CohenCoon => "Cohen-Coon".to_owned(),
            Self::Lambda(lambda) => format!("lambda = {}", share(lambda)),
            Self::Imc(lambda) => format!("IMC, {}", share(lambda)),
            Self::Simc(tc) => format!("SIMC, {}", share(tc)),
            Self::Amigo => "AMIGO".to_owned(),
            Self::TyreusLuyben => "Tyreus-Luyben".to_owned(),
        }
    }

    /// The rule's gains in parallel form; `None` where the rule has none for these terms or this plant.
    #[must_use]
    pub fn gains(self, model: &Model, terms: Terms) -> Option<Gains> {
        let (a, dead, r) = (model.a(), model.dead_time_s, model.ratio());
        if dead <= 0.0 {
            return None; // every rule divides by the dead time
        }
        let standard = |kc: f64, ti: f64, td: f64| Some(Gains::standard(kc, ti, td));
        let never = f64::INFINITY;
        match self {
            Self::ZieglerNicholsStep => match terms {
                Terms::P => standard(1.0 / a, never, 0.0),
                Terms::Pi => standard(0.9 / a, 3.0 * dead, 0.0),
                Terms::Pid => standard(1.2 / a, 2.0 * dead, 0.5 * dead),
            },
            Self::ZieglerNicholsCycle => {
                let (ku, tu) = model.ultimate()?;
                match terms {
                    Terms::P => standard(0.5 * ku, never, 0.0),
                    Terms::Pi => standard(0.45 * ku, tu / 1.2, 0.0),
                    Terms::Pid => standard(0.6 * ku, 0.5 * tu, 0.125 * tu),
                }
            }
            Self::CohenCoon => match terms {
                Terms::P => standard((1.0 + r / 3.0) / a, never, 0.0),
                Terms::Pi => standard(
                    (0.9 + r / 12.0) / a,
                    dead * (30.0 + 3.0 * r) / (9.0 + 20.0 * r),
                    0.0,
                ),
                Terms::Pid => standard(
                    (4.0 / 3.0 + r / 4.0) / a,
                    dead * (32.0 + 6.0 * r) / (13.0 + 8.0 * r),
                    4.0 * dead / (11.0 + 2.0 * r),
                ),
            },
            Self::Lambda(lambda) if terms == Terms::Pi && model.lag_s.is_finite() => {
                standard(1.0 / (model.slope * (lambda + dead)), model.lag_s, 0.0)
            }
            Self::Imc(lambda) if terms == Terms::Pi && model.lag_s.is_finite() => {
                let ti = model.lag_s + 0.5 * dead;
                standard(ti / (model.gain() * lambda), ti, 0.0)
            }
            Self::Simc(tc) => {
                let kc = 1.0 / (model.slope * (tc + dead));
                let ti = model.lag_s.min(4.0 * (tc + dead));
                match terms {
                    Terms::P => None,
                    Terms::Pi if model.second_s > 0.0 => None, // for one lag only: reduce the model first
                    Terms::Pi => standard(kc, ti, 0.0),
                    Terms::Pid if model.second_s > 0.0 => {
                        Some(Gains::series(kc, ti, model.second_s))
                    }
                    Terms::Pid => None,
                }
            }
            Self::Amigo => amigo(model, terms),
            Self::TyreusLuyben => {
                let (ku, tu) = model.ultimate()?;
                match terms {
                    Terms::P => None,
                    Terms::Pi => standard(ku / 3.2, 2.2 * tu, 0.0),
                    Terms::Pid => standard(ku / 2.2, 2.2 * tu, tu / 6.3),
                }
            }
            Self::Lambda(_) | Self::Imc(_) => None,
        }
    }
}

/// AMIGO for a first-order model with dead time; for an infinite lag its limit.
///
/// PI: `Kc = 0.15/K + (0.35 - L T/(L + T)^2) T/(K L)`, `Ti = 0.35 L + 13 L T^2/(T^2 + 12 L T + 7 L^2)`;
/// PID: `Kc = (0.2 + 0.45 T/L)/K`, `Ti = L (0.4 L + 0.8 T)/(L + 0.1 T)`, `Td = 0.5 L T/(0.3 L + T)`.
/// Source: Astrom and Hagglund, J. Process Control 14 (2004) 635-650. With `r = L/T` and `a = K r` they have a limit at `r = 0`.
fn amigo(model: &Model, terms: Terms) -> Option<Gains> {
    let (a, dead, r) = (model.a(), model.dead_time_s, model.ratio());
    match terms {
        Terms::P => None,
        Terms::Pi => {
            let kc = (0.15 * r + 0.35 - r / ((r + 1.0) * (r + 1.0))) / a;
            let ti = 0.35 * dead + 13.0 * dead / (1.0 + 12.0 * r + 7.0 * r * r);
            Some(Gains::standard(kc, ti, 0.0))
        }
        Terms::Pid => {
            let kc = (0.2 * r + 0.45) / a;
            let ti = dead * (0.4 * r + 0.8) / (r + 0.1);
            let td = 0.5 * dead / (0.3 * r + 1.0);
            Some(Gains::standard(kc, ti, td))
        }
    }
}
