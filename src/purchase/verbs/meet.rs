use std::collections::BTreeSet;

use crate::assess::Planner;
use crate::figure::UsableCapacity;
use crate::finding::Severity;
use crate::module::MemoryModule;
use crate::population::{Layout, Population};
use crate::purchase::{ModeChange, ModeOutcome, ModuleSource, Offer, Outcome, Plan, PlanRequest, RequestError};
use crate::unit::{Currency, Name, Price};

impl Planner<'_> {
    /// The fewest handlings that make a population meet the machine's redundancy mode without an error, with
    /// further modules of the sorts present as needed, and with at least the capacity that the mode would leave of
    /// what is there. `None` where no change does, or where the search used up its nodes.
    ///
    /// ```
    /// use slotwright::assess::Planner;
    /// use slotwright::machine::Machine;
    /// use slotwright::module::Label;
    /// use slotwright::platform::Settings;
    /// use slotwright::population::{Occupant, Population};
    /// use slotwright::reference;
    /// use slotwright::rule::RuleBook;
    ///
    /// let mirrored = Settings { mode: Some("mirrored".parse()?), ..Settings::default() };
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").settings(mirrored);
    /// let machine = machine.build()?;
    /// let rules = RuleBook::standard();
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let three: Population =
    ///     ["A1", "B1", "C1"].iter().map(|slot| (slot.parse().unwrap(), Occupant::module(module.clone()))).collect();
    ///
    /// let outcome = Planner::new(&machine, &rules).meet_mode(&three)?;
    /// let change = outcome.change().unwrap();
    /// assert_eq!((change.handlings, change.added[0].0.as_str()), (1, "D1")); // a mate for C1
    /// assert_eq!(change.usable_mib.whole_gib(), Some(64));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// All slot labels of the population that the machine's board does not have.
    pub fn meet_mode(&self, population: &Population) -> Result<ModeOutcome, RequestError> {
        let machine = self.machine();
        let one = Price::new(1, Currency::NONE);
        let mut request = PlanRequest::new().present(population.clone()).labour_per_handling(one);
        request = request.refuse_from(Severity::Error);
        if let Ok(layout) = Layout::new(machine, population) {
            request = request.usable_at_least(UsableCapacity::of(&layout).total_mib);
        }
        let sorts: BTreeSet<&MemoryModule> = population.modules().map(|(_, fitted)| &fitted.module).collect();
        let slots = u32::try_from(machine.platform().slots().len()).unwrap_or(u32::MAX);
        for (index, module) in sorts.into_iter().enumerate() {
            let id = Name::lossy(&format!("sort {index}"));
            request = request.offer(Offer::new(id, module.clone(), Price::new(0, Currency::NONE), slots));
        }
        Ok(match self.plan(&request)? {
            Outcome::Optimal(plan) => ModeOutcome::Change(change(plan)),
            Outcome::Infeasible(_) => ModeOutcome::Nothing,
            Outcome::Stopped { best, cost_at_least: _, reason } => {
                ModeOutcome::Stopped { reason, best: best.map(|plan| Box::new(change(plan))) }
            }
        })
    }
}

/// What a plan changes.
fn change(plan: Plan) -> ModeChange {
    let (mut moves, mut added) = (Vec::new(), Vec::new());
    for slot in plan.slots {
        match slot.source {
            ModuleSource::Stays => {}
            ModuleSource::MovesFrom { slot: from } => moves.push((from, slot.slot)),
            ModuleSource::Shelf { .. } | ModuleSource::Offer { .. } => added.push((slot.slot, slot.module)),
        }
    }
    ModeChange {
        handlings: plan.handlings,
        moves,
        added,
        pulled: plan.pulled.into_iter().map(|pulled| pulled.slot).collect(),
        population: plan.population,
        usable_mib: plan.assessment.figures.usable.total_mib,
    }
}
