//! The verb: what was planned against what is reported.

use std::collections::{BTreeMap, BTreeSet};

use crate::acceptance::compare::Judge;
use crate::acceptance::first::{identity, time, withheld};
use crate::acceptance::pieces::{Seen, machine_reports, pieces};
use crate::acceptance::scene::Scene;
use crate::acceptance::{AcceptanceCheck, AcceptanceError, AcceptanceRequest};
use crate::assess::Planner;
use crate::machine::Machine;
use crate::population::{Layout, Medium, Observed, Population, Report, SeenModule};
use crate::unit::Name;

impl Planner<'_> {
    /// Whether the machine reports what was planned, and if not, why.
    ///
    /// ```
    /// use slotwright::acceptance::{AcceptanceRequest, SlotVerdict, WorkFault};
    /// use slotwright::population::{Observed, Population};
    /// use slotwright::{Label, Machine, Planner, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let planner = Planner::new(&machine, &rules);
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let planned = Population::new().with("A1".parse()?, module.clone()).with("B1".parse()?, module);
    ///
    /// // what a sound machine would report
    /// let report = planner.expected_report(&planned, None, &[])?;
    /// let check = planner.acceptance(&AcceptanceRequest::new(planned.clone(), Observed::from(report)))?;
    /// assert!(check.is_accepted());
    ///
    /// // the module of B1 went into C1
    /// let fault = WorkFault::WrongSlot { from: "B1".parse()?, to: "C1".parse()? };
    /// let report = planner.expected_report(&planned, None, &[fault.clone()])?;
    /// let check = planner.acceptance(&AcceptanceRequest::new(planned, Observed::from(report)))?;
    /// assert_eq!(check.slots.iter().filter(|slot| slot.verdict == SlotVerdict::Differs).count(), 2);
    /// assert_eq!(check.causes.unwrap().groups[0].alternatives[0].causes[0].fault, fault);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// Populations that name slots which the board lacks, or one module in two slots; a module that is of one sort before and of another
    /// after; no report of the machine itself; a report that does not fit the board, or of a virtual machine.
    pub fn acceptance(&self, request: &AcceptanceRequest) -> Result<AcceptanceCheck, AcceptanceError> {
        let machine = self.machine();
        check_populations(machine, request)?;
        let observed = judged_reports(request)?;
        let sited = observed.bare_on(machine.platform())?;
        let is_alone = observed.reports().iter().all(|report| report.medium == Medium::Machine);
        let alone =
            if is_alone { None } else { Some(observed.of_media(&[Medium::Machine]).bare_on(machine.platform())?) };
        let identity = identity(request);
        let planned = pieces(machine, &request.planned, &request.own_ids);
        let before = request.before.as_ref().map(|before| pieces(machine, before, &request.own_ids));
        let mut seen = Seen::of(machine, &sited, alone.as_ref(), &observed);
        seen.know(&planned, before.as_deref());
        if let Ok(each) = without_part_numbers(&observed).bare_on(machine.platform()) {
            seen.know_inferred(machine, &each);
        }
        let time = time(request, &planned, before.as_deref(), &seen);
        if let Some(check) = withheld(machine.platform().name(), &identity, &time) {
            return Ok(check);
        }
        let judge = Judge {
            planner: *self,
            request,
            scene: Scene::new(machine, &planned, &seen),
            before: before.as_deref(),
            sited: &sited,
        };
        Ok(judge.check(identity, time))
    }
}

fn check_populations(machine: &Machine, request: &AcceptanceRequest) -> Result<(), AcceptanceError> {
    Layout::new(machine, &request.planned).map_err(AcceptanceError::Planned)?;
    let planned = individuals(&request.planned, "planned", &request.own_ids)?;
    let Some(before) = &request.before else { return Ok(()) };
    Layout::new(machine, before).map_err(AcceptanceError::Before)?;
    for (id, (_, module)) in individuals(before, "before", &request.own_ids)? {
        let unlike = planned.get(&id).filter(|(_, other)| SeenModule::of(other).is_unlike(&SeenModule::of(module)));
        if let Some((_, other)) = unlike {
            let (before, planned) = (module.to_string(), other.to_string());
            return Err(AcceptanceError::UnlikeIndividual { id, before, planned });
        }
    }
    Ok(())
}

type Individuals<'p> = BTreeMap<Name, (&'p Name, &'p crate::module::MemoryModule)>;

/// The named modules of a population, each in one slot.
fn individuals<'p>(
    population: &'p Population,
    which: &'static str,
    own_ids: &BTreeSet<Name>,
) -> Result<Individuals<'p>, AcceptanceError> {
    let mut individuals: Individuals<'p> = BTreeMap::new();
    for (slot, fitted) in population.modules() {
        let Some(individual) = fitted.individual.as_ref().filter(|own| !own_ids.contains(&own.id)) else { continue };
        if let Some((other, _)) = individuals.insert(individual.id.clone(), (slot, &fitted.module)) {
            let slots = [other, slot].into_iter().collect();
            return Err(AcceptanceError::IndividualTwice { population: which, id: individual.id.clone(), slots });
        }
    }
    Ok(individuals)
}

/// The same reports without part numbers: what is told of each slot by itself.
fn without_part_numbers(observed: &Observed) -> Observed {
    let bare = |report: &Report| {
        let mut report = report.clone();
        for place in &mut report.places {
            place.module = place.module.take().map(|module| module.part_number(None));
        }
        report
    };
    Observed::of(observed.reports().iter().map(bare)).unwrap_or_else(|_| observed.clone())
}

/// The reports that are judged: the machine's own, and SPD, labels and the caller's word beside them.
fn judged_reports(request: &AcceptanceRequest) -> Result<Observed, AcceptanceError> {
    if machine_reports(&request.observed).next().is_none() {
        let media: Vec<String> = request.observed.reports().iter().map(|report| report.medium.to_string()).collect();
        let found = match media.as_slice() {
            [] => "there is no report".to_owned(),
            media => format!("there is no more than {}", media.join(", ")),
        };
        return Err(AcceptanceError::NoMachineReport { found });
    }
    Ok(request.observed.of_media(&[Medium::Machine, Medium::Spd, Medium::Label, Medium::Caller]))
}
