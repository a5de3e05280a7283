use std::cell::OnceCell;

use crate::assess::Assessment;
use crate::figure::{Figures, RunningRate};
use crate::machine::Machine;
use crate::population::{Layout, Population, PopulationError};
use crate::rule::RuleBook;

/// The context of every question: a machine and the rules in force.
///
/// To compare settings, make several machines and a planner for each.
///
/// ```
/// use slotwright::assess::Planner;
/// use slotwright::machine::Machine;
/// use slotwright::module::Label;
/// use slotwright::population::Population;
/// use slotwright::reference;
/// use slotwright::rule::RuleBook;
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// let rules = RuleBook::standard();
/// let planner = Planner::new(&machine, &rules);
///
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let assessment = planner.assess(&Population::new().with("A1".parse()?, module))?;
/// assert!(assessment.is_legal());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct Planner<'a> {
    machine: &'a Machine,
    rules: &'a RuleBook,
}

impl<'a> Planner<'a> {
    /// A planner for a machine under some rules.
    #[must_use]
    pub const fn new(machine: &'a Machine, rules: &'a RuleBook) -> Self {
        Self { machine, rules }
    }

    /// The machine.
    #[must_use]
    pub const fn machine(&self) -> &'a Machine {
        self.machine
    }

    /// The rules.
    #[must_use]
    pub const fn rules(&self) -> &'a RuleBook {
        self.rules
    }

    /// Judges a population.
    ///
    /// # Errors
    /// All slot labels of the population that the machine's board does not have: "Z9" on a board
    /// without such a slot.
    pub fn assess(&self, population: &Population) -> Result<Assessment, PopulationError> {
        Ok(self.assess_layout(&Layout::new(self.machine, population)?))
    }

    /// Judges a layout.
    #[must_use]
    pub fn assess_layout(&self, layout: &Layout<'_>) -> Assessment {
        let rate = OnceCell::from(RunningRate::of(layout));
        let findings = self.rules.check_at(layout, &rate);
        let running_rate = rate.into_inner().unwrap_or_else(|| RunningRate::of(layout));
        Assessment { figures: Figures::at(layout, running_rate), findings }
    }
}
