use core::fmt;

use serde::{Deserialize, Serialize};

use crate::assess::{Assessment, Planner};
use crate::figure::UsableCapacity;
use crate::finding::{Finding, Severity};
use crate::machine::Machine;
use crate::population::{Population, PopulationError};
use crate::rule::RuleBook;
use crate::stated::Schema;
use crate::unit::{DataRate, Name};

/// What a redundancy mode would make of a population.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ModeLeft {
    /// The version of the document's form.
    pub schema: Schema,
    /// The mode.
    pub mode: Name,
    /// What the rules have against the population in this mode, errors alone: the population meets the mode where there
    /// are none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<Finding>,
    /// What it would leave, and what it asks for.
    pub usable: UsableCapacity,
    /// The rate at which all memory would run; absent where processors differ, or there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_mts: Option<DataRate>,
}

impl ModeLeft {
    /// Whether the population meets the mode.
    #[must_use]
    pub fn is_met(&self) -> bool {
        self.errors.is_empty()
    }
}

impl fmt::Display for ModeLeft {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { schema: _, mode, errors, usable, rate_mts } = self;
        if errors.is_empty() {
            write!(f, "{mode}: {} usable", usable.total_mib)?;
            return rate_mts.map_or(Ok(()), |rate| write!(f, " at {rate}"));
        }
        write!(f, "{mode}: not met")?;
        errors.iter().try_for_each(|error| write!(f, "\n  {error}"))
    }
}

impl Planner<'_> {
    /// Which redundancy modes a population meets, and what each would leave of it: the independent mode, then those of the
    /// platform in its order. The rules are held against it in each mode; errors alone count.
    ///
    /// ```
    /// use slotwright::population::{Occupant, Population};
    /// use slotwright::{Label, Machine, Planner, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let four: Population =
    ///     ["A1", "B1", "C1", "D1"].iter().map(|slot| (slot.parse().unwrap(), Occupant::module(module.clone()))).collect();
    ///
    /// let modes = Planner::new(&machine, &rules).modes(&four)?;
    /// let left = |name: &str| modes.iter().find(|left| left.mode == *name).map(|left| left.to_string());
    /// assert_eq!(left("independent").as_deref(), Some("independent: 128 GB usable at 2400 MT/s"));
    /// assert_eq!(left("mirrored").as_deref(), Some("mirrored: 64 GB usable at 2400 MT/s"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// All slot labels of the population that the machine's board does not have.
    pub fn modes(&self, population: &Population) -> Result<Vec<ModeLeft>, PopulationError> {
        self.machine().in_each_mode().map(|machine| mode_left(&machine, self.rules(), population)).collect()
    }
}

fn mode_left(machine: &Machine, rules: &RuleBook, population: &Population) -> Result<ModeLeft, PopulationError> {
    let Assessment { schema: _, figures, mut findings } = Planner::new(machine, rules).assess(population)?;
    findings.retain(|finding| finding.severity == Severity::Error);
    let (usable, rate_mts) = (figures.usable, figures.running_rate.rate());
    Ok(ModeLeft { schema: Schema, mode: usable.mode.clone(), errors: findings, usable, rate_mts })
}
