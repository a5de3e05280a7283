use std::collections::BTreeSet;

use crate::assess::Planner;
use crate::figure::UsableCapacity;
use crate::figure::usable::{depends_on_places, usable_of};
use crate::finding::{Severity, Verdict};
use crate::module::MemoryModule;
use crate::population::{Layout, Population};
use crate::purchase::{ModeAnswer, ModeChange, ModeRequest, ModuleSource, Offer, Plan, PlanRequest, RequestError};
use crate::stated::Schema;
use crate::unit::{Capacity, Currency, Name, Price};

impl Planner<'_> {
    /// How a population can meet the machine's redundancy mode without an error: by moving what is there; where that does
    /// not do, by further modules of the sorts present, or by pulling some. Added modules cost more than any number of
    /// moves. All but pulling keeps at least the capacity that the mode would leave of what is there.
    ///
    /// The reverse question, which modes a population meets, is [`Planner::modes`].
    ///
    /// ```
    /// use slotwright::assess::Planner;
    /// use slotwright::machine::Machine;
    /// use slotwright::module::Label;
    /// use slotwright::platform::Settings;
    /// use slotwright::population::{Occupant, Population};
    /// use slotwright::reference;
    /// use slotwright::rule::RuleBook;
    /// use slotwright::unit::Name;
    ///
    /// let mirrored = Settings::default().mode(Name::new("mirrored")?);
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").settings(mirrored);
    /// let machine = machine.build()?;
    /// let rules = RuleBook::standard();
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let three: Population =
    ///     ["A1", "B1", "C1"].iter().map(|slot| (slot.parse().unwrap(), Occupant::module(module.clone()))).collect();
    ///
    /// let answer = Planner::new(&machine, &rules).meet_mode(&three)?;
    /// assert_eq!(answer.moving, None);
    /// let adding = answer.adding.unwrap();
    /// assert_eq!((adding.handlings, adding.added[0].0.as_str()), (1, "D1")); // a mate for C1
    /// assert_eq!(adding.usable_mib.whole_gib(), Some(64));
    /// assert_eq!(answer.pulling.unwrap().pulled[0].as_str(), "C1"); // the odd one out
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// All slot labels of the population that the machine's board does not have.
    pub fn meet_mode(&self, population: &Population) -> Result<ModeAnswer, RequestError> {
        self.meet_mode_with(&ModeRequest::new(population.clone()))
    }

    /// The same with what a request says beside the population.
    ///
    /// # Errors
    /// As [`Planner::meet_mode`], and a slot to keep empty that the board does not have, or in which another device stays.
    pub fn meet_mode_with(&self, request: &ModeRequest) -> Result<ModeAnswer, RequestError> {
        let machine = self.machine();
        let one = Price::new(1, Currency::NONE);
        let mut base = PlanRequest::new().present(request.population.clone()).labour_per_handling(one);
        base = base.refuse_from(Severity::Error).nodes(request.nodes);
        base.present.keep_empty = request.keep_empty.clone();
        let whole = base.clone().usable_at_least(self.left_of_all(&request.population));
        let mut answer = ModeAnswer {
            schema: Schema,
            mode: machine.mode_name().clone(),
            moving: None,
            adding: None,
            pulling: None,
            stopped: None,
        };
        answer.moving = self.least_change(&whole, &mut answer)?;
        if answer.moving.is_none() {
            answer.adding = self.least_change(&self.with_more(whole), &mut answer)?;
            answer.pulling = self.least_change(&base, &mut answer)?;
        }
        Ok(answer)
    }

    /// The capacity that the mode would leave of all modules that are not faulty; where that hangs on where they sit, of
    /// those that can be used as they are.
    fn left_of_all(&self, population: &Population) -> Capacity {
        let machine = self.machine();
        if depends_on_places(machine) {
            // a population of another board is reported by the plan
            return Layout::new(machine, population)
                .map_or(Capacity::ZERO, |layout| UsableCapacity::of(&layout).total_mib);
        }
        let whole = population.modules().filter(|(_, fitted)| fitted.fault.is_none());
        let held: Capacity = whole.map(|(_, fitted)| fitted.module.capacity()).sum();
        usable_of(machine.mode_description(), held.mib())
    }

    /// The same request with further modules of the sorts present, each dearer than all handlings together.
    fn with_more(&self, request: PlanRequest) -> PlanRequest {
        let slots = u32::try_from(self.machine().platform().slots().len()).unwrap_or(u32::MAX);
        let price = Price::new(4 * u64::from(slots), Currency::NONE);
        let sorts: BTreeSet<MemoryModule> =
            request.present.population.modules().map(|(_, fitted)| fitted.module.clone()).collect();
        let offers = sorts.into_iter().enumerate();
        request.offers(
            offers.map(|(index, module)| Offer::new(Name::lossy(&format!("sort {index}")), module, price, slots)),
        )
    }

    /// The least change in one way, as far as the search came.
    fn least_change(&self, request: &PlanRequest, answer: &mut ModeAnswer) -> Result<Option<ModeChange>, RequestError> {
        request.check(self.machine())?;
        let (found, stopped) = self.found(request, &mut self.budget(request.nodes));
        answer.stopped = answer.stopped.or(stopped);
        Ok(found.map(change))
    }
}

/// What a plan changes.
fn change(plan: Plan) -> ModeChange {
    let (mut moves, mut added) = (Vec::new(), Vec::new());
    for slot in plan.slots {
        match slot.source {
            ModuleSource::Stays | ModuleSource::Other(_) => {}
            ModuleSource::MovesFrom { slot: from } => moves.push((from, slot.slot)),
            ModuleSource::Shelf { .. } | ModuleSource::Offer { .. } => added.push((slot.slot, slot.module)),
        }
    }
    let warnings = plan.assessment.from_severity(Severity::Warning);
    ModeChange {
        warnings: warnings.filter(|finding| finding.verdict == Verdict::Violated).cloned().collect(),
        handlings: plan.handlings,
        moves,
        added,
        pulled: plan.pulled.into_iter().map(|pulled| pulled.slot).collect(),
        population: plan.population,
        usable_mib: plan.assessment.figures.usable.total_mib,
    }
}
