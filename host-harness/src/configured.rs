//! The checked configuration of a plan's station as a tree of named numbers, and as the station's own type.
//!
//! Everything that speaks of the configuration (module, header, comparison, report) goes over this tree, which the
//! crates' own types tell; nothing in the host knows their fields a second time.

use controller_core::drive::output::{Drive, FanDrive, PwmHeaterDrive, SwitchedHeaterDrive};
use controller_core::duty::Duty;
use controller_core::fields::{Field, Fields, Unit, Value, Walk, Written};
use controller_core::law::Settings;
use controller_core::station::{Law, Pi, Pid, StationConfig, StationParts};
use fixed::FixedI16;
use fixed::types::extra::U7;

use crate::plan::{DrivePlan, Plan};

/// A station's configuration. Temperatures are raw words: their format is a label that no arithmetic of the station
/// looks at, so one format serves for all.
pub type Config<D, const SP: u32> = StationConfig<SP, D, U7>;

/// A drive whose pin can be read as a count of clocks.
pub trait Pin: Drive<Config: Send + Sync> + Clone + Send + Sync + 'static {
    /// Clocks of the timer's period, or 1 where the pin is only on or off.
    fn period(config: &Self::Config) -> u16;
    /// Clocks of this tick in which the pin drives.
    fn clocks(config: &Self::Config, output: Self::Output) -> u16;
}

impl Pin for FanDrive<1> {
    fn period(config: &Self::Config) -> u16 {
        config.timer.top()
    }
    fn clocks(config: &Self::Config, output: [u16; 1]) -> u16 {
        // a compare value is its own inverse
        config.timer.compare(output[0])
    }
}

impl Pin for SwitchedHeaterDrive {
    fn period(_config: &Self::Config) -> u16 {
        1
    }
    fn clocks(_config: &Self::Config, output: bool) -> u16 {
        u16::from(output)
    }
}

impl Pin for PwmHeaterDrive {
    fn period(config: &Self::Config) -> u16 {
        config.timer.top()
    }
    fn clocks(config: &Self::Config, output: u16) -> u16 {
        config.timer.compare(output)
    }
}

/// What is done with a station's configuration once its types are known.
pub trait WithStation {
    /// What comes of it.
    type Out;
    /// Does it. `remake` gives the same configuration with other settings.
    fn with<L, D, const SP: u32>(
        self,
        plan: &Plan,
        config: Config<D, SP>,
        remake: &dyn Fn(Settings<i16, SP>) -> Config<D, SP>,
    ) -> Self::Out
    where
        L: Law<SP, State: Send + Sync> + 'static,
        D: Pin;
}

const CHECKED: &str = "checked when the design was read";

fn with_law<D: Pin, V: WithStation, const SP: u32>(
    plan: &Plan,
    drive: D::Config,
    visitor: V,
) -> V::Out {
    let make = |settings| {
        StationConfig::new(StationParts {
            settings,
            set_point: FixedI16::from_bits(plan.set_point),
            drive,
            guards: plan.guards,
        })
        .expect(CHECKED)
    };
    let config = make(plan.law.settings().expect(CHECKED));
    if !plan.law.has_derivative() {
        return visitor.with::<Pi, D, SP>(plan, config, &make);
    }
    match plan.law.filter_exponent {
        1 => visitor.with::<Pid<1>, D, SP>(plan, config, &make),
        2 => visitor.with::<Pid<2>, D, SP>(plan, config, &make),
        3 => visitor.with::<Pid<3>, D, SP>(plan, config, &make),
        4 => visitor.with::<Pid<4>, D, SP>(plan, config, &make),
        5 => visitor.with::<Pid<5>, D, SP>(plan, config, &make),
        6 => visitor.with::<Pid<6>, D, SP>(plan, config, &make),
        7 => visitor.with::<Pid<7>, D, SP>(plan, config, &make),
        _ => visitor.with::<Pid<8>, D, SP>(plan, config, &make),
    }
}

fn with_scale<D: Pin, V: WithStation>(plan: &Plan, drive: D::Config, visitor: V) -> V::Out {
    match plan.law.scale {
        4 => with_law::<D, V, 4>(plan, drive, visitor),
        8 => with_law::<D, V, 8>(plan, drive, visitor),
        _ => with_law::<D, V, 12>(plan, drive, visitor),
    }
}

/// Calls the visitor with the configuration of a plan: the one place that turns run-time numbers into the station's
/// types.
///
/// # Panics
///
/// Never for a plan made from a design that was read: the reader's checks are the constructors' own.
pub fn with_station<V: WithStation>(plan: &Plan, visitor: V) -> V::Out {
    match plan.drive {
        DrivePlan::Fans(drive) => with_scale::<FanDrive<1>, V>(plan, drive, visitor),
        DrivePlan::Switch(drive) => with_scale::<SwitchedHeaterDrive, V>(plan, drive, visitor),
        DrivePlan::Pwm(drive) => with_scale::<PwmHeaterDrive, V>(plan, drive, visitor),
    }
}

/// One field of a configuration, or a group of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Node {
    /// A number.
    Number {
        /// What it is.
        field: Field,
        /// Its value.
        value: Value,
        /// Whether it is an argument of the constructor.
        argument: bool,
    },
    /// A group.
    Group {
        /// What it is.
        field: Field,
        /// How it is written in Rust.
        written: Written,
        /// Whether it may be absent.
        optional: bool,
        /// What is in it.
        fields: Vec<Node>,
    },
    /// A group that is absent.
    Absent {
        /// What it would be.
        field: Field,
    },
}

/// One number by its whole name, with what it means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Number {
    /// Pieces of the name joined by `_`, in small letters.
    pub name: String,
    /// Its value.
    pub value: i64,
    /// What it counts.
    pub unit: Unit,
    /// What it means.
    pub meaning: &'static str,
}

/// Collects the tree; the last of `open` is the group that is being walked.
#[derive(Default)]
struct Collector {
    open: Vec<Node>,
}

impl Collector {
    fn number(&mut self, field: &Field, value: Value, argument: bool) {
        self.open.push(Node::Number {
            field: *field,
            value,
            argument,
        });
    }

    fn enter<T: Fields>(&mut self, field: &Field, group: &T, part: u8, optional: bool) {
        let mut fields = Vec::new();
        if part > 0
            && let Some(Node::Group {
                field: last,
                fields: begun,
                ..
            }) = self.open.last_mut()
            && last == field
        {
            fields = std::mem::take(begun);
            self.open.pop();
        }
        let outer = std::mem::replace(&mut self.open, fields);
        group.walk_part(part, self);
        let fields = std::mem::replace(&mut self.open, outer);
        self.open.push(Node::Group {
            field: *field,
            written: group.written(),
            optional,
            fields,
        });
    }
}

impl Walk for Collector {
    fn value(&mut self, field: &Field, value: Value) {
        self.number(field, value, true);
    }

    fn parameter(&mut self, field: &Field, value: Value) {
        self.number(field, value, false);
    }

    fn part<T: Fields>(&mut self, field: &Field, group: &T, part: u8) {
        self.enter(field, group, part, false);
    }

    fn option<T: Fields>(&mut self, field: &Field, group: Option<&T>) {
        let Some(group) = group else {
            self.open.push(Node::Absent { field: *field });
            return;
        };
        for part in 0..T::PARTS {
            self.enter(field, group, part, true);
        }
    }
}

struct Tree;

impl WithStation for Tree {
    type Out = (Vec<Node>, u16);
    fn with<L, D, const SP: u32>(
        self,
        _plan: &Plan,
        config: Config<D, SP>,
        _remake: &dyn Fn(Settings<i16, SP>) -> Config<D, SP>,
    ) -> Self::Out
    where
        L: Law<SP, State: Send + Sync> + 'static,
        D: Pin,
    {
        let mut collector = Collector::default();
        config.walk(&mut collector);
        (collector.open, config.checksum())
    }
}

/// The fields of a plan's station in the order of the walk, and the checksum that its self-test expects.
#[must_use]
pub fn tree(plan: &Plan) -> (Vec<Node>, u16) {
    with_station(plan, Tree)
}

/// Every number of a tree by its whole name.
#[must_use]
pub fn numbers(tree: &[Node]) -> Vec<Number> {
    let mut out = Vec::new();
    flatten("", tree, &mut out);
    out
}

fn join(path: &str, label: &str) -> String {
    match (path, label) {
        ("", label) => label.to_owned(),
        (path, "") => path.to_owned(),
        (path, label) => format!("{path}_{label}"),
    }
}

fn flatten(path: &str, nodes: &[Node], out: &mut Vec<Number>) {
    for node in nodes {
        match node {
            Node::Number { field, value, .. } => out.push(Number {
                name: join(path, field.label),
                value: value.number(),
                unit: field.unit,
                meaning: field.meaning,
            }),
            Node::Group { field, fields, .. } => flatten(&join(path, field.label), fields, out),
            Node::Absent { .. } => {}
        }
    }
}

/// What a number stands for in a plan's physical units; nothing where it stands for itself.
#[must_use]
pub fn physical(plan: &Plan, unit: Unit, value: i64) -> Option<String> {
    let value = value as f64;
    let kelvin = value / f64::from(1u32 << plan.fraction_bits);
    let percent = 100.0 * value / f64::from(Duty::ONE);
    let period_s = f64::from(plan.period_ms) / 1000.0;
    Some(match unit {
        Unit::Temperature => format!("{kelvin} degC"),
        Unit::Kelvin => format!("{kelvin} K"),
        Unit::KelvinSamples => format!("{:.2} K s", kelvin * period_s),
        Unit::Duty => format!("{percent:.2} %"),
        Unit::DutyPerSample => format!("{:.2} %/s", percent / period_s),
        Unit::Samples => format!("{} s", rounded(value * period_s)),
        Unit::Ticks => format!("{} s", rounded(value * plan.tick_s)),
        _ => return None,
    })
}

/// To a microsecond, without what decimal fractions leave over.
fn rounded(seconds: f64) -> f64 {
    (seconds * 1e6).round() / 1e6
}

#[cfg(test)]
mod tests {
    use super::{Node, Unit, numbers, physical, tree};
    use crate::plan::Plan;

    fn plan(name: &str) -> Plan {
        let path = format!("{}/designs/{name}.toml", env!("CARGO_MANIFEST_DIR"));
        let design = crate::design::load(path.as_ref()).unwrap_or_else(|e| panic!("{e}"));
        Plan::new(&design)
    }

    #[test]
    fn every_number_has_a_name_of_its_own_that_c_accepts_and_a_meaning() {
        for name in ["studio-rack", "seedling-tray", "brew-kettle"] {
            let list = numbers(&tree(&plan(name)).0);
            assert!(list.len() > 25, "{name}: {}", list.len());
            for (at, number) in list.iter().enumerate() {
                let word = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
                assert!(number.name.chars().all(word), "{number:?}");
                assert!(!number.meaning.is_empty(), "{number:?}");
                let others = list[..at].iter().filter(|other| other.name == number.name);
                assert_eq!(others.count(), 0, "{number:?}");
            }
        }
    }

    #[test]
    fn the_tree_of_the_rack_is_what_its_design_asks_for() {
        let plan = plan("studio-rack");
        let (tree, _) = tree(&plan);
        let list = numbers(&tree);
        let value = |name: &str| list.iter().find(|n| n.name == name).expect("there").value;
        // studio-rack.toml: 38 degC, trip at 46 degC, floor 20 %, push of 60 % for 2 s, 25 kHz from 8 MHz
        assert_eq!(value("set_point"), 38 * 128);
        assert_eq!(value("trip"), 46 * 128);
        assert_eq!(value("fan_floor"), 6553);
        assert_eq!(value("fan_spin_up_ticks"), 200);
        assert_eq!(value("pwm_period_counts"), 320);
        assert_eq!(value("kp"), i64::from(plan.law.kp));
        // each group once, although the drive's parts are walked one at a time
        let groups: Vec<&str> = tree
            .iter()
            .filter_map(|node| match node {
                Node::Group { field, .. } => Some(field.name),
                _ => None,
            })
            .collect();
        assert_eq!(groups, ["settings", "guards", "drive"]);
    }

    #[test]
    fn physical_units_are_those_of_the_plan() {
        let plan = plan("studio-rack");
        for (unit, value, said) in [
            (Unit::Temperature, 4864, Some("38 degC")),
            (Unit::Kelvin, 192, Some("1.5 K")),
            (Unit::Duty, 32_767, Some("100.00 %")),
            (Unit::Samples, 120, Some("60 s")),
            (Unit::Ticks, 200, Some("2 s")),
            (Unit::KelvinSamples, 3200, Some("12.50 K s")),
            (Unit::Clocks, 320, None),
        ] {
            assert_eq!(physical(&plan, unit, value).as_deref(), said);
        }
    }
}
