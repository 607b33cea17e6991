//! All guards of a station, as they are configured.

use super::effect::EffectConfig;
use super::hunting::{HuntingConfig, OnHunting};
use super::rate::RateConfig;
use super::sensor::SensorConfig;
use super::stale::StaleConfig;
use super::stuck::StuckConfig;
use super::trip::TripConfig;
use crate::fields::{Fields, Unit, Value, Walk, Written, field, labelled};

/// Every guard's configuration; lives in flash. Each is checked by its own constructor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct GuardsConfig {
    /// Sensor fault, confirmed.
    pub sensor: SensorConfig,
    /// Latest time of the next sample, in output ticks.
    pub stale: StaleConfig,
    /// Over-temperature.
    pub trip: TripConfig,
    /// Rate of change, when wanted.
    pub rate: Option<RateConfig>,
    /// Stuck reading, when wanted.
    pub stuck: Option<StuckConfig>,
    /// Actuator without effect, when wanted.
    pub effect: Option<EffectConfig>,
    /// Hunting, when wanted.
    pub hunting: Option<HuntingConfig>,
    /// What to do about it.
    pub on_hunting: OnHunting,
}

impl Fields for GuardsConfig {
    // two, so that the self-test's share of a sample stays short
    const PARTS: u8 = 2;

    fn written(&self) -> Written {
        Written::Struct("controller_core::guard::GuardsConfig")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, part: u8, walk: &mut W) {
        let Self {
            sensor,
            stale,
            trip,
            rate,
            stuck,
            effect,
            hunting,
            on_hunting,
        } = self;
        if part == 0 {
            walk.group(
                &labelled("sensor", "sensor_fault", Unit::Group, "sensor fault"),
                sensor,
            );
            walk.group(&field("stale", Unit::Group, "stale sample"), stale);
            walk.group(&field("trip", Unit::Group, "over-temperature"), trip);
            walk.option(&field("rate", Unit::Group, "rate of change"), rate.as_ref());
        } else {
            walk.option(
                &field("stuck", Unit::Group, "stuck reading"),
                stuck.as_ref(),
            );
            walk.option(
                &field("effect", Unit::Group, "actuator without effect"),
                effect.as_ref(),
            );
            walk.option(&field("hunting", Unit::Group, "hunting"), hunting.as_ref());
            let (path, code) = match on_hunting {
                OnHunting::Report => ("controller_core::guard::hunting::OnHunting::Report", 0),
                OnHunting::HalveGains => {
                    ("controller_core::guard::hunting::OnHunting::HalveGains", 1)
                }
            };
            walk.value(
                &field(
                    "on_hunting",
                    Unit::Choice,
                    "0 reports hunting, 1 halves the gains as well",
                ),
                Value::Choice(path, code),
            );
        }
    }
}
