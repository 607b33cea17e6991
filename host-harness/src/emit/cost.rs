//! What a design costs on each target, before anything is flashed: from the table that `.ci/on-target` measures under
//! simulators and compares on every run.

use std::sync::OnceLock;

/// The committed measurements.
const MEASURED: &str = include_str!("../../../benches/targets.csv");

/// Bytes of one law's gains and limits, wherever they are kept.
const SETTINGS_BYTES: u32 = 12;

/// Form of the law.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LawForm {
    /// Proportional and integral.
    Pi,
    /// With the filtered derivative.
    Pid,
}

impl LawForm {
    const fn subject(self) -> &'static str {
        match self {
            Self::Pi => "law/pi",
            Self::Pid => "law/pid",
        }
    }

    /// Bytes of state in RAM.
    #[must_use]
    pub const fn state_bytes(self) -> u32 {
        match self {
            Self::Pi => 4,
            Self::Pid => 8,
        }
    }
}

/// Encoding of the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TableForm {
    /// Uniform steps.
    Uniform,
    /// Zones of uniform steps.
    Zones,
    /// Packed knots.
    Packed,
}

impl TableForm {
    const fn subject(self) -> &'static str {
        match self {
            Self::Uniform => "lookup/uniform",
            Self::Zones => "lookup/zones",
            Self::Packed => "lookup/packed",
        }
    }
}

/// One measured subject on one target.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// The target, as the compiler calls it.
    pub target: String,
    /// `cycles` or `instructions`.
    pub unit: String,
    /// What was measured.
    pub subject: String,
    /// Mean of a call.
    pub mean: f64,
    /// Worst call seen.
    pub worst: f64,
    /// Code reached, helpers included, tables not.
    pub flash_bytes: u32,
    /// Stack, return address included.
    pub stack_bytes: u32,
}

/// What one sample of a design costs on one target.
#[derive(Clone, Debug, PartialEq)]
pub struct Cost {
    /// The target, as the compiler calls it.
    pub target: String,
    /// What `mean` and `worst` count: `cycles` or `instructions`.
    pub unit: String,
    /// Lookup and law together, mean.
    pub mean: f64,
    /// Lookup and law together, worst.
    pub worst: f64,
    /// Code of both with every helper, gains, limits and the table itself.
    pub flash_bytes: u32,
    /// State, and the deeper stack of the two.
    pub ram_bytes: u32,
}

fn parse(text: &str) -> Option<Vec<Measured>> {
    let mut rows = Vec::new();
    for line in text
        .lines()
        .filter(|line| !line.starts_with('#') && !line.starts_with("target,"))
    {
        let fields: Vec<&str> = line.split(',').collect();
        let [target, unit, subject, mean, worst, flash, stack] = fields[..] else {
            return None;
        };
        rows.push(Measured {
            target: target.to_owned(),
            unit: unit.to_owned(),
            subject: subject.to_owned(),
            mean: mean.parse().ok()?,
            worst: worst.parse().ok()?,
            flash_bytes: flash.parse().ok()?,
            stack_bytes: stack.parse().ok()?,
        });
    }
    Some(rows)
}

/// Every measurement, in the order of the committed table.
///
/// # Panics
/// When the committed table cannot be read: a test reads it.
#[must_use]
pub fn measured() -> &'static [Measured] {
    static ROWS: OnceLock<Vec<Measured>> = OnceLock::new();
    ROWS.get_or_init(|| {
        parse(MEASURED).expect("benches/targets.csv is seven columns of text and numbers")
    })
}

fn find(target: &str, subject: &str) -> Option<&'static Measured> {
    measured()
        .iter()
        .find(|row| row.target == target && row.subject == subject)
}

/// What a design with this law and this table costs, a row for each target. `table_bytes` is what the table itself takes.
#[must_use]
pub fn costs(law: LawForm, table: TableForm, table_bytes: u32) -> Vec<Cost> {
    measured()
        .iter()
        .filter(|row| row.subject == law.subject())
        .filter_map(|law_row| {
            let lookup = find(&law_row.target, table.subject())?;
            Some(Cost {
                target: law_row.target.clone(),
                unit: law_row.unit.clone(),
                mean: law_row.mean + lookup.mean,
                worst: law_row.worst + lookup.worst,
                flash_bytes: law_row.flash_bytes
                    + lookup.flash_bytes
                    + SETTINGS_BYTES
                    + table_bytes,
                ram_bytes: law.state_bytes() + law_row.stack_bytes.max(lookup.stack_bytes),
            })
        })
        .collect()
}

/// What the whole application of the studio rack costs, measured as it would be flashed: a step of its station with
/// every guard and the reading before it; all of its flash; all of its RAM, stack included. Other designs differ by their
/// table, law and drive.
#[must_use]
pub fn application() -> Vec<Cost> {
    measured()
        .iter()
        .filter(|row| row.subject == "image/application")
        .filter_map(|image| {
            let step = find(&image.target, "station/step")?;
            let read = find(&image.target, "station/read")?;
            Some(Cost {
                target: image.target.clone(),
                unit: image.unit.clone(),
                mean: step.mean + read.mean,
                worst: step.worst + read.worst,
                flash_bytes: image.flash_bytes,
                ram_bytes: image.stack_bytes,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_committed_table_has_law_and_lookup_on_four_targets() {
        for (law, table) in [
            (LawForm::Pi, TableForm::Uniform),
            (LawForm::Pid, TableForm::Zones),
            (LawForm::Pid, TableForm::Packed),
        ] {
            let costs = costs(law, table, 0);
            let units: Vec<(&str, &str)> = costs
                .iter()
                .map(|cost| (cost.target.as_str(), cost.unit.as_str()))
                .collect();
            assert_eq!(
                units,
                [
                    ("msp430-none-elf", "cycles"),
                    ("avr-none", "cycles"),
                    ("thumbv6m-none-eabi", "instructions"),
                    ("riscv32imc-unknown-none-elf", "instructions")
                ]
            );
        }
    }

    #[test]
    fn a_cost_is_the_sum_of_its_rows_and_the_table() {
        let row = |subject: &str| {
            measured()
                .iter()
                .find(|row| row.target == "avr-none" && row.subject == subject)
                .unwrap()
        };
        let (law, lookup) = (row("law/pid"), row("lookup/uniform"));
        let cost = &costs(LawForm::Pid, TableForm::Uniform, 50)[1];
        assert_eq!(cost.mean, law.mean + lookup.mean);
        assert_eq!(cost.worst, law.worst + lookup.worst);
        assert_eq!(
            cost.flash_bytes,
            law.flash_bytes + lookup.flash_bytes + 12 + 50
        );
        assert_eq!(cost.ram_bytes, 8 + law.stack_bytes.max(lookup.stack_bytes));
    }

    #[test]
    fn a_derivative_is_never_free() {
        let (pi, pid) = (
            costs(LawForm::Pi, TableForm::Uniform, 0),
            costs(LawForm::Pid, TableForm::Uniform, 0),
        );
        for (pi, pid) in pi.iter().zip(&pid) {
            assert!(
                pid.mean > pi.mean
                    && pid.worst > pi.worst
                    && pid.flash_bytes > pi.flash_bytes
                    && pid.ram_bytes >= pi.ram_bytes + 4
            );
        }
    }

    #[test]
    fn the_whole_application_costs_more_than_its_law_and_lookup() {
        let (part, whole) = (costs(LawForm::Pi, TableForm::Uniform, 100), application());
        assert_eq!(whole.len(), 4);
        for (part, whole) in part.iter().zip(&whole) {
            assert_eq!((&part.target, &part.unit), (&whole.target, &whole.unit));
            assert!(
                whole.mean > part.mean
                    && whole.worst > part.worst
                    && whole.flash_bytes > part.flash_bytes
                    && whole.ram_bytes > part.ram_bytes
            );
        }
    }

    #[test]
    fn a_damaged_table_is_noticed() {
        assert_eq!(parse("avr-none,cycles,law/pi,209.8,213,352"), None);
        assert_eq!(parse("avr-none,cycles,law/pi,fast,213,352,10"), None);
        assert_eq!(
            parse("# note\ntarget,unit\navr-none,cycles,law/pi,209.8,213,352,10")
                .unwrap()
                .len(),
            1
        );
    }
}
