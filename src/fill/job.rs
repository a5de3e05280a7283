//! Answers one question of how to arrange modules.

use std::rc::Rc;

use crate::assess::Planner;
use crate::fill::reasons::reasons;
use crate::fill::{
    ArrangeError, ArrangeRequest, Arrangement, ClassId, Contents, Demand, Illegal, Legal, PlaceId, Placed,
    RulesInForce, SlotModel, SlotUse, ToldApart, by_turn, fewest_without, free_slots, judge, kept_empty, place,
    said_first, share_out,
};
use crate::finding::{Finding, Severity};
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Content, Fitted, Layout, Occupant, Population};
use crate::rule::RuleBook;
use crate::search::{Budget, Index, InternalFault, StopReason, Table};
use crate::stated::Schema;
use crate::unit::Name;

/// Modules by class: those that no rule in force tells apart are one.
struct Sorts<'r, 'a> {
    told_apart: ToldApart<'r, 'a>,
    /// The facts of each class and the module that stands for it; sorted.
    classes: Table<ClassId, (MemoryModule, &'a MemoryModule)>,
}

impl<'r, 'a> Sorts<'r, 'a> {
    fn new(modules: impl Iterator<Item = &'a MemoryModule>, told_apart: ToldApart<'r, 'a>) -> Self {
        let mut classes: Vec<(MemoryModule, &MemoryModule)> =
            modules.map(|module| (told_apart.facts(module), module)).collect();
        // the first in order stands for its class
        classes.sort();
        classes.dedup_by(|a, b| a.0 == b.0);
        Self { told_apart, classes: classes.into_iter().collect() }
    }

    fn class_of(&self, module: &MemoryModule) -> Option<ClassId> {
        let facts = self.told_apart.facts(module);
        self.classes.values().binary_search_by(|(known, _)| known.cmp(&facts)).ok().map(ClassId::of)
    }
}

/// Counts further modules of a class.
fn add(counts: &mut Table<ClassId, usize>, class: ClassId, count: usize) {
    // more than a number says find no slot either
    counts.get_mut(class).into_iter().for_each(|sum| *sum = sum.saturating_add(count));
}

pub(crate) struct Job<'a> {
    machine: &'a Machine,
    in_force: Rc<RulesInForce<'a>>,
    request: &'a ArrangeRequest,
    around: Layout<'a>,
    /// Modules that no rule in force tells apart are one class.
    classes: Vec<&'a MemoryModule>,
    /// The modules to arrange and how many of each, in the order of their facts.
    pieces: Table<ClassId, Vec<(&'a MemoryModule, usize)>>,
    demand: Demand,
    /// Modules of the population around that are faulty, or in slots that cannot be used.
    stranded: bool,
    /// Whether an answer that nothing is legal says without which rules it would be.
    explains: bool,
}

impl<'a> Job<'a> {
    /// How many nodes a first arrangement may take once a search has stopped.
    const FIRST_NODES: u64 = 20_000;

    pub(crate) fn new(planner: &Planner<'a>, request: &'a ArrangeRequest) -> Result<Self, ArrangeError> {
        let machine = planner.machine();
        let around = Layout::new(machine, &request.around)?;
        let in_force = Rc::new(RulesInForce::new(machine, planner.rules(), Severity::Error));
        let told_apart = ToldApart::new(machine, &in_force, false);
        let all = request.pieces.iter().map(|(module, _)| module);
        let sorts = Sorts::new(all.chain(request.around.modules().map(|(_, fitted)| &fitted.module)), told_apart);
        let mut counts: Table<ClassId, usize> = Table::filled(0, sorts.classes.len());
        let mut pieces: Table<ClassId, Vec<(&'a MemoryModule, usize)>> = Table::filled(vec![], sorts.classes.len());
        for (module, count) in &request.pieces {
            let Some(class) = sorts.class_of(module) else { continue };
            add(&mut counts, class, *count);
            pieces.get_mut(class).into_iter().for_each(|pieces| pieces.push((module, *count)));
        }
        pieces.iter_mut().for_each(|(_, pieces)| pieces.sort_by_key(|(module, _)| *module));
        let usable = |&slot: &SlotId| !matches!(around.get(slot), Content::Other(_));
        let places: Table<PlaceId, SlotId> = machine.live_slots().filter(usable).collect();
        let mut pinned = Vec::new();
        for (place, &slot) in places.iter() {
            if let Some(class) = around.get(slot).module().and_then(|module| sorts.class_of(module)) {
                add(&mut counts, class, 1);
                pinned.push((place, Some(class)));
            }
        }
        for id in kept_empty(&around, &request.keep_empty)? {
            pinned.extend(places.find(|&other| other == id).map(|place| (place, None)));
        }
        let stranded = around.has_faulty() || around.modules().any(|site| !machine.is_live(site.slot));
        let counts = counts.iter().map(|(class, &count)| (class, count)).collect();
        let demand = Demand { counts, pinned, ..Demand::default() };
        let classes = sorts.classes.into_values().map(|(_, module)| module).collect();
        Ok(Self { machine, in_force, request, around, classes, pieces, demand, stranded, explains: true })
    }

    /// The same without asking which rules stand in the way.
    pub(crate) fn unexplained(self) -> Self {
        Self { explains: false, ..self }
    }

    /// What is there beside modules.
    fn fixed(&self) -> Layout<'a> {
        self.around.without_modules()
    }

    fn model(&self) -> SlotModel<'a> {
        SlotModel::under(self.machine, Rc::clone(&self.in_force), self.classes.clone(), self.fixed())
    }

    pub(crate) fn answer(&self, planner: &Planner<'a>, budget: &mut Budget) -> Result<Arrangement, StopReason> {
        let model = self.model();
        if !self.stranded {
            if let Some(placed) = place(&model, &model, &self.demand, budget)? {
                return Ok(Arrangement::Best(self.legal(planner, &model, &placed, budget)?));
            }
        }
        self.illegal(planner, &model, budget).map(Arrangement::Illegal)
    }

    /// How far a search came that ended before it was through: a legal arrangement, if one is soon found.
    pub(crate) fn stopped(&self, planner: &Planner<'a>, reason: StopReason) -> Arrangement {
        let model = self.model();
        let mut budget = Budget::new(Self::FIRST_NODES, None);
        let (at, left_over) = by_turn(&model, &self.demand);
        let mut first = || {
            let placed = judge(&model, &model, &self.demand, at.clone(), &mut budget).ok().flatten()?;
            self.legal(planner, &model, &placed, &mut budget).ok()
        };
        let best = if left_over == 0 && !self.stranded { first() } else { None };
        Arrangement::Stopped { schema: Schema, reason, best: best.map(Box::new) }
    }

    fn legal(
        &self,
        planner: &Planner<'a>,
        model: &SlotModel<'a>,
        placed: &Placed,
        budget: &mut Budget,
    ) -> Result<Legal, StopReason> {
        // a place that the model has is a slot of the board
        let label = |place: PlaceId| {
            let id = model.slots.get(place).map(|slot| slot.id);
            id.map_or(Name::lossy(""), |id| self.machine.platform().slot(id).label().clone())
        };
        let population = self.population(model, &placed.at);
        let assessment = planner.assess(&population);
        let assessment = assessment.map_err(|_| StopReason::Internal { fault: InternalFault::NotOnTheBoard })?;
        let reasons = reasons(planner, model, &self.demand, placed);
        Ok(Legal {
            schema: Schema,
            population,
            assessment,
            slots: reasons.into_iter().map(|(place, reason)| SlotUse { slot: label(place), reason }).collect(),
            free_slots: free_slots(model, &placed.at, budget)?.into_iter().map(label).collect(),
        })
    }

    /// The placing as a population. What stays keeps what is known of it; modules that work alike are shared out so that
    /// few different parts come into a channel.
    fn population(&self, model: &SlotModel<'_>, at: &Contents) -> Population {
        let platform = self.machine.platform();
        let mut population = self.request.around.clone();
        for (class, pieces) in self.pieces.iter() {
            let slots = model.slots.values().iter().zip(at.values());
            let own = slots.filter(|(_, held)| **held == Some(class)).map(|(slot, _)| slot.id);
            let stays = |slot: &SlotId| self.around.get(*slot).module().is_some();
            let (there, open): (Vec<SlotId>, Vec<SlotId>) = own.partition(stays);
            let there = there.into_iter().filter_map(|slot| Some((slot, self.around.get(slot).module()?)));
            let there: Vec<(SlotId, &MemoryModule)> = there.collect();
            let each = pieces.iter().flat_map(|&(module, count)| std::iter::repeat_n((module.clone(), ()), count));
            let modules = each.take(open.len()).collect();
            let shared = share_out(platform, &open, &there, modules).into_iter().map(|(module, ())| module);
            for (slot, module) in open.iter().zip(shared) {
                let label = platform.slot(*slot).label().clone();
                population.put(label, Occupant::Module(Fitted::new(module)));
            }
        }
        population
    }

    fn illegal(
        &self,
        planner: &Planner<'a>,
        model: &SlotModel<'a>,
        budget: &mut Budget,
    ) -> Result<Illegal, StopReason> {
        let (at, left_over) = by_turn(model, &self.demand);
        let by_turn = self.population(model, &at);
        let findings = match planner.assess(&by_turn) {
            Ok(assessment) => assessment.findings,
            Err(_) => return Err(StopReason::Internal { fault: InternalFault::NotOnTheBoard }),
        };
        let legal_without = if left_over == 0 && !self.stranded && self.explains {
            self.legal_without(planner.rules(), &findings, budget)?
        } else {
            Vec::new()
        };
        Ok(Illegal { schema: Schema, by_turn, left_over, findings, legal_without })
    }

    /// A smallest set of rules, found by giving up as few as possible, without which an arrangement is
    /// legal.
    fn legal_without(
        &self,
        rules: &'a RuleBook,
        findings: &[Finding],
        budget: &mut Budget,
    ) -> Result<Vec<Name>, StopReason> {
        let codes = said_first(rules, findings);
        for code in &codes {
            if self.is_legal_under(&rules.without_all(std::slice::from_ref(code)), budget)? {
                return Ok(vec![code.clone()]);
            }
        }
        let fewest = fewest_without(rules, codes, |fewer| self.is_legal_under(fewer, budget))?;
        Ok(fewest.unwrap_or_default())
    }

    fn is_legal_under(&self, rules: &RuleBook, budget: &mut Budget) -> Result<bool, StopReason> {
        let model = SlotModel::new(self.machine, rules, Severity::Error, self.classes.clone(), self.fixed());
        let demand = Demand { any_will_do: true, ..self.demand.clone() };
        Ok(place(&model, &model, &demand, budget)?.is_some())
    }
}
