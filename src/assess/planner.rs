use core::fmt;
use std::cell::OnceCell;
use std::ops::ControlFlow;

use crate::assess::Assessment;
use crate::figure::{Figures, RunningRate};
use crate::machine::Machine;
use crate::population::{Layout, Population, PopulationError};
use crate::rule::RuleBook;
use crate::search::{Budget, Progress, Watch};
use crate::stated::Schema;

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
#[derive(Clone, Copy)]
pub struct Planner<'a> {
    machine: &'a Machine,
    rules: &'a RuleBook,
    watch: Option<Watch<'a>>,
}

impl fmt::Debug for Planner<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { machine, rules, watch } = self;
        let watched = watch.is_some();
        f.debug_struct("Planner").field("machine", machine).field("rules", rules).field("watched", &watched).finish()
    }
}

impl<'a> Planner<'a> {
    /// A planner for a machine under some rules.
    #[must_use]
    pub const fn new(machine: &'a Machine, rules: &'a RuleBook) -> Self {
        Self { machine, rules, watch: None }
    }

    /// The same planner, which tells how far each search has come, mostly every few hundred microseconds, and stops one when
    /// it is told to. It counts work and looks at no clock: a caller who wants to stop after a time looks at his own.
    ///
    /// ```
    /// use std::ops::ControlFlow;
    /// use std::sync::atomic::{AtomicBool, Ordering};
    ///
    /// use slotwright::purchase::{Offer, Outcome, PlanRequest, StopReason};
    /// use slotwright::{Capacity, Label, Machine, Planner, Price, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let cancelled = AtomicBool::new(true); // set by another thread, or a signal
    /// let watch = |_progress| match cancelled.load(Ordering::Relaxed) {
    ///     true => ControlFlow::Break(()),
    ///     false => ControlFlow::Continue(()),
    /// };
    /// let planner = Planner::new(&machine, &rules).watched(&watch);
    ///
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 16);
    /// let request = PlanRequest::new().usable_at_least(Capacity::from_gib(128)).offer(offer);
    /// let outcome = planner.plan(&request)?;
    /// assert!(matches!(outcome, Outcome::Stopped { reason: StopReason::Cancelled, .. }));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub const fn watched(self, watch: &'a (dyn Fn(Progress) -> ControlFlow<()> + Sync)) -> Self {
        Self { watch: Some(watch), ..self }
    }

    /// The same planner under other rules.
    pub(crate) const fn under<'b>(self, rules: &'b RuleBook) -> Planner<'b>
    where
        'a: 'b,
    {
        Planner { machine: self.machine, rules, watch: self.watch }
    }

    /// So many nodes for a search.
    pub(crate) const fn budget(&self, nodes: u64) -> Budget<'a> {
        Budget::new(nodes, self.watch)
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

    /// Judges a population that runs in the machine: what runs is evidence, so that a fact that nobody knows of a module is
    /// taken to be accepted, and is a note.
    ///
    /// ```
    /// use slotwright::module::{Generation, MemoryModule, ModuleKind};
    /// use slotwright::population::Population;
    /// use slotwright::{Capacity, DataRate, Machine, Planner, RuleBook, Severity, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let planner = Planner::new(&machine, &rules);
    /// // neither width nor density
    /// let module = MemoryModule::builder(Generation::Ddr4, ModuleKind::Registered, Capacity::from_gib(16))
    ///     .package_ranks(2)
    ///     .grade(DataRate::DDR4_2400)
    ///     .build()?;
    /// let population = Population::new().with("A1".parse()?, module);
    /// assert!(planner.assess(&population)?.from_severity(Severity::Warning).any(|finding| finding.code == *"die-density"));
    /// assert!(planner.assess_in_use(&population)?.from_severity(Severity::Warning).all(|finding| finding.code != *"die-density"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Planner::assess`].
    pub fn assess_in_use(&self, population: &Population) -> Result<Assessment, PopulationError> {
        let running = population.as_it_runs(self.machine);
        self.assess(running.as_ref().unwrap_or(population))
    }

    /// Judges a layout.
    #[must_use]
    pub fn assess_layout(&self, layout: &Layout<'_>) -> Assessment {
        let rate = OnceCell::from(RunningRate::of(layout));
        let findings = self.rules.check_at(layout, &rate);
        let running_rate = rate.into_inner().unwrap_or_else(|| RunningRate::of(layout));
        Assessment { schema: Schema, figures: Figures::at(layout, running_rate), findings }
    }
}
