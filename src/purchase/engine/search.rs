//! The search for the best plan: candidates are numbers of modules by class, cheapest first; each is sourced and placed
//! exactly and compared in the documented order.

use std::cmp::Reverse;
use std::collections::{HashMap, HashSet};
use std::rc::Rc;

use crate::figure::{PowerDraw, UsableCapacity};
use crate::fill::{
    ClassId, Contents, Demand, Level, PlaceId, Placed, SlotModel, by_turn, free_slots, judge, place, step_under,
};
use crate::module::MemoryModule;
use crate::platform::RatePolicy;
use crate::purchase::answered::{Merits, power};
use crate::purchase::engine::classes::{Class, ModuleClasses, count_of, times};
use crate::purchase::engine::context::SearchContext;
use crate::purchase::engine::cost::{Amount, CostParts};
use crate::purchase::engine::crowding::Crowding;
use crate::purchase::engine::goal::Goal;
use crate::purchase::engine::hope::Aim;
use crate::purchase::engine::ideal::Ideal;
use crate::purchase::engine::joint::Sourcing;
use crate::purchase::engine::key::{PlanKey, Priority, priorities};
use crate::purchase::engine::needs::{Bounds, Needs};
use crate::search::{Budget, StopReason, Table};
use crate::unit::{Bandwidth, Capacity};

/// A plan before it is written out.
#[derive(Debug, Clone)]
pub(crate) struct Found<'a> {
    pub(crate) key: PlanKey,
    /// What sits in each place.
    pub(crate) at: Contents,
    pub(crate) free: Vec<PlaceId>,
    /// How many present modules are used.
    pub(crate) used: Table<ClassId, usize>,
    pub(crate) sourcing: Sourcing<'a>,
    /// Labour and credit, moves included.
    pub(crate) handling: CostParts,
    /// What all comes to.
    pub(crate) cost: CostParts,
}

impl Found<'_> {
    /// What the plan is like.
    pub(crate) fn merits(&self, model: &SlotModel<'_>) -> Merits {
        let layout = model.layout(&self.at);
        Merits {
            cost: self.key.cost,
            usable: UsableCapacity::of(&layout).total_mib,
            rate: self.key.rate.0,
            bandwidth: self.key.bandwidth.0.1,
            free: self.key.free.0,
            power: power(PowerDraw::of(&layout)),
        }
    }
}

/// Numbers of modules by class, and how many present ones are among them.
pub(crate) struct Candidate<'c> {
    pub(crate) counts: &'c [(ClassId, usize)],
    pub(crate) used: Table<ClassId, usize>,
    /// Labour and credit, moves left out.
    pub(crate) handling: CostParts,
}

impl Candidate<'_> {
    /// How many modules each machine then has.
    pub(crate) fn modules(&self) -> usize {
        self.counts.iter().map(|&(_, count)| count).sum()
    }

    /// How many of them are there now.
    pub(crate) fn kept(&self) -> usize {
        self.used.values().iter().sum()
    }
}

/// One question asked of the engine.
pub(crate) struct Search<'s, 'a> {
    pub(crate) context: &'s SearchContext<'a>,
    /// The classes as suppliers stand who charge.
    pub(crate) classes: Rc<ModuleClasses<'a>>,
    pub(crate) needs: Needs,
    pub(crate) bounds: Bounds,
    pub(crate) goal: Goal,
    /// The best plan so far, at what it costs as suppliers stand.
    pub(crate) best: Option<Found<'a>>,
    /// The best plan so far, at what it costs.
    pub(crate) settled: Option<Found<'a>>,
    /// What any plan costs at least, where the search ended before all was settled of suppliers.
    pub(crate) proved: Option<Amount>,
    /// What the candidates that were not looked at yet cost at least, as far as the search has come.
    pub(crate) rest_costs: Option<Amount>,
    /// What the candidates cost at least that come after those among which numbers are chosen just now.
    pub(crate) later_costs: Option<Amount>,
    /// Whether modules go in by turn, where that is legal, in the place of the best slots.
    pub(crate) by_turn: bool,
    /// How many channels candidates fill at most, as far as the search knows just now.
    pub(crate) most_channels: usize,
    pub(crate) priorities: Table<ClassId, Priority>,
    /// The highest step that each class's grade allows.
    pub(crate) levels: Table<ClassId, Level>,
    allowed: Table<ClassId, bool>,
    /// Which classes together make a load that some channel may carry.
    loads: HashMap<(Vec<ClassId>, bool, Level), bool>,
    /// What plans can be like at best that cost no more than so much, where that is known.
    pub(crate) ideals: Option<(Amount, Vec<Ideal>)>,
    /// By level, the highest first: how many modules the channels have room for, where that was asked.
    pub(crate) rooms: Vec<(Level, usize)>,
    /// What nothing but is looked for just now.
    pub(crate) aim: Option<Aim>,
    /// How many numbers are looked at before ties are settled by what plans can be like: most searches are through by then.
    pub(crate) first_tries: u64,
    /// How many numbers may still be looked at just now, where there is a limit.
    pub(crate) tries_left: Option<u64>,
    /// What was learnt of numbers that channels have no room for.
    pub(crate) crowding: Option<Crowding>,
    /// Numbers that cannot be placed, whatever of them stays where it is or moves.
    barred: HashSet<Vec<(ClassId, usize)>>,
}

impl<'s, 'a> Search<'s, 'a> {
    const FIRST_TRIES: u64 = 64;

    pub(crate) fn new(context: &'s SearchContext<'a>, needs: Needs, goal: Goal) -> Self {
        let (model, classes) = (&context.model, &context.classes);
        let level = |module: &MemoryModule| {
            let grade = module.grade().map_or(Level::NO_RATE, |grade| step_under(model.machine, Some(grade)));
            grade.min(model.top_level)
        };
        let mut search = Self {
            context,
            classes: Rc::clone(classes),
            bounds: Bounds::new(model, &needs),
            needs,
            goal,
            best: None,
            settled: None,
            proved: None,
            rest_costs: None,
            later_costs: None,
            by_turn: false,
            most_channels: model.channels.len(),
            priorities: priorities(model, classes),
            levels: classes.all.values().iter().map(|class| level(class.module)).collect(),
            allowed: Table::default(),
            loads: HashMap::new(),
            ideals: None,
            rooms: Vec::new(),
            aim: None,
            first_tries: Self::FIRST_TRIES,
            tries_left: None,
            crowding: None,
            barred: HashSet::new(),
        };
        search.allowed = classes.all.iter().map(|(id, class)| search.admits(id, class)).collect();
        search
    }

    pub(crate) fn model(&self) -> &'s SlotModel<'a> {
        &self.context.model
    }

    pub(crate) fn classes(&self) -> &ModuleClasses<'a> {
        &self.classes
    }

    /// The step that the required rate asks for, and the required bandwidth over as many channels as may be filled; `None`
    /// for no requirement.
    pub(crate) fn floor(&self) -> Option<Level> {
        let steps = self.model().machine.rate_steps();
        let of_rate = self.needs.rate.map(|rate| Level::step(steps.iter().filter(|&&step| step < rate).count()));
        // with a rate for each processor the others may make up for one
        let one_rate = self.model().machine.platform().description().rate_policy == RatePolicy::PerMachine;
        let bandwidth = self.needs.bandwidth.filter(|&least| one_rate && least > Bandwidth::ZERO);
        let of_bandwidth = bandwidth.map(|least| {
            let too_slow =
                |&step: &usize| self.most_bandwidth(self.hoped_rate(Level::step(step)), self.most_channels) < least;
            Level::step((0..steps.len()).take_while(too_slow).count())
        });
        of_rate.max(of_bandwidth)
    }

    /// Whether a module of the class may be used at all.
    fn admits(&self, id: ClassId, class: &Class<'_>) -> bool {
        let module = class.module;
        let of_kind = self.needs.kinds.as_ref().is_none_or(|kinds| kinds.contains(&module.kind()));
        let known = !self.needs.known_facts || module.is_known();
        let fast = self.floor().is_none_or(|floor| self.levels.get(id).is_some_and(|&level| level >= floor));
        !class.faulty && of_kind && known && fast && self.model().takes(id)
    }

    /// Searches as suppliers stand; afterwards `best` is the best plan, if there is one.
    pub(crate) fn run(&mut self, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        // a search that has no time looks at nothing
        budget.spend()?;
        if self.floor().is_some_and(|floor| floor > self.model().top_level) {
            return Ok(());
        }
        let is_lost = |(id, class): (ClassId, &Class<'_>)| {
            class.present.iter().any(|unit| unit.pinned && (unit.place.is_none() || !self.allowed(id)))
        };
        if self.classes().all.iter().any(is_lost) {
            return Ok(());
        }
        self.leave_as_it_is(budget)?;
        if self.is_done() {
            return Ok(());
        }
        if self.is_alike() { self.alike(budget) } else { self.loose(budget) }
    }

    /// Considers what is present, where all of it that is not faulty may be used: evenness may bar any like it but just this.
    fn leave_as_it_is(&mut self, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        let present = || self.classes().all.iter().filter(|(_, class)| !class.present.is_empty() && !class.faulty);
        let counts: Vec<(ClassId, usize)> = present().map(|(id, class)| (id, class.present.len())).collect();
        let held = present().map(|(_, class)| times(class.module.capacity(), class.present.len()));
        let may_stay =
            present().all(|(id, class)| self.allowed(id) && class.present.iter().all(|unit| unit.place.is_some()));
        if counts.is_empty() || !may_stay || !self.suits(held.sum()) {
            return Ok(());
        }
        self.consider(&counts, budget)
    }

    pub(crate) fn best_key(&self) -> Option<PlanKey> {
        self.best.as_ref().map(|best| best.key.clone())
    }

    pub(crate) fn is_done(&self) -> bool {
        matches!(self.goal, Goal::Any) && self.best.is_some()
    }

    pub(crate) fn allowed(&self, class: ClassId) -> bool {
        self.allowed.get(class) == Some(&true)
    }

    /// What cannot be beaten any more: the cost of the best plan so far.
    pub(crate) fn is_beaten(&self, cost: Amount) -> bool {
        !self.needs.quality_first && self.best.as_ref().is_some_and(|best| cost > best.key.cost)
            || self.needs.budget.is_some_and(|budget| cost > budget)
            || self.aim.as_ref().is_some_and(|aim| cost > aim.cost)
    }

    /// What any plan costs at least, as far as that is known.
    pub(crate) fn at_least(&self) -> Amount {
        let bound = self.proved.unwrap_or_else(|| self.least_of_all());
        let bound = self.rest_costs.map_or(bound, |rest| rest.max(bound));
        // what was looked at costs no less than the best plan
        self.best.as_ref().map_or(bound, |best| bound.min(best.key.cost))
    }

    /// Whether the capacity is what is asked for.
    pub(crate) fn suits(&self, capacity: Capacity) -> bool {
        capacity >= self.bounds.at_least && self.bounds.at_most.is_none_or(|most| capacity <= most)
    }

    /// Whether some order of these classes is a legal load of some channel; beside an empty one, where asked.
    pub(crate) fn is_possible(&mut self, classes: &[ClassId], beside_empty: bool) -> bool {
        let floor = self.floor().unwrap_or(Level::NO_RATE);
        let key = (classes.to_vec(), beside_empty, floor);
        if let Some(&known) = self.loads.get(&key) {
            return known;
        }
        let errors = beside_empty.then_some(&self.context.errors);
        let possible = self.model().carries(classes, floor, errors);
        self.loads.insert(key, possible);
        possible
    }

    /// Considers so many modules of each class, in each machine.
    pub(crate) fn consider(&mut self, counts: &[(ClassId, usize)], budget: &mut Budget<'_>) -> Result<(), StopReason> {
        budget.spend()?;
        if self.is_crowded(counts)
            || self.was_barred(counts)
            || !self.model().mixes_allow(counts)
            || !self.power_allows(counts)
        {
            return Ok(());
        }
        let total = counts.iter().map(|&(_, count)| count).sum();
        let least = self.classes().least_cost(counts);
        if let Goal::Every(_) = &self.goal {
            let follows = self.goal.follows_at_least(counts.iter().copied());
            let least = least.zip(follows).map(|(own, follows)| own + follows).filter(|&least| !self.is_beaten(least));
            if let Goal::Every(every) = &mut self.goal {
                every.found.extend(least.map(|least| (counts.to_vec(), least)));
            }
            return Ok(());
        }
        if least.is_none_or(|least| self.is_beaten(least) || !self.may_improve(least, counts, total..=total, total)) {
            return Ok(());
        }
        let mut choices: Vec<Vec<usize>> = vec![Vec::with_capacity(self.classes().all.len())];
        for (id, class) in self.classes().all.iter() {
            match self.used_options(class, count_of(counts, id)).as_slice() {
                [used] => choices.iter_mut().for_each(|choice| choice.push(*used)),
                options => {
                    let with = |choice: &Vec<usize>| {
                        let choice = choice.clone();
                        options.iter().map(move |&used| [choice.as_slice(), &[used]].concat())
                    };
                    choices = choices.iter().flat_map(with).collect();
                    budget.work(u64::try_from(choices.len()).map_err(|_| StopReason::INTERNAL_RANGE)?)?;
                }
            }
        }
        // the cheapest first, for it bounds the rest
        let mut choices: Vec<(Amount, Vec<usize>)> =
            choices.into_iter().filter_map(|used| Some((self.least_with(counts, &used)?, used))).collect();
        choices.sort_by(|(a, used), (b, other)| a.cmp(b).then_with(|| other.cmp(used)));
        for (least, used) in choices {
            if !self.consider_used(least, counts, used.into_iter().collect(), budget)?
                && self.is_barred(counts, budget)?
            {
                return Ok(());
            }
        }
        Ok(())
    }

    /// Whether numbers that could not be placed just so cannot be placed at all; learns from them then.
    fn is_barred(&mut self, counts: &[(ClassId, usize)], budget: &mut Budget<'_>) -> Result<bool, StopReason> {
        if self.by_turn {
            return Ok(false);
        }
        if self.classes().present() > 0 {
            let used = |(id, class): (ClassId, &Class<'_>)| count_of(counts, id).min(class.present.len());
            let used = self.classes().all.iter().map(used).collect();
            let candidate = Candidate { counts, used, handling: CostParts::default() };
            let left = self.model().slots.len().checked_sub(candidate.modules());
            let Some(spare) = left.and_then(|left| left.checked_sub(self.needs.free_slots)) else { return Ok(true) };
            let demand = Demand {
                moves_first: false,
                any_will_do: true,
                to_match: None,
                most_moves: None,
                ..self.demand(&candidate, 0, spare)
            };
            if place(self.model(), &self.context.errors, &demand, budget)?.is_some() {
                return Ok(false);
            }
            self.barred.insert(demand.counts);
        }
        self.learn_from(counts, budget)?;
        Ok(true)
    }

    /// Whether such numbers were found not to be placeable, of these classes or others that are placed as they are.
    fn was_barred(&self, counts: &[(ClassId, usize)]) -> bool {
        !self.barred.is_empty() && self.barred.contains(&self.as_placed(counts))
    }

    /// Whether the power of so many modules of each class is known and what is asked for.
    fn power_allows(&self, counts: &[(ClassId, usize)]) -> bool {
        let Some(most) = self.needs.power else { return true };
        let each = |&(class, count): &(ClassId, usize)| {
            let power = self.classes().all.get(class)?.module.power()?;
            u64::try_from(count).ok()?.checked_mul(u64::from(power.mw()))
        };
        counts.iter().map(each).try_fold(0u64, |sum, power| sum.checked_add(power?)).is_some_and(|sum| sum <= most)
    }

    /// What the candidate costs at least when so many present modules of each class are used.
    fn least_with(&self, counts: &[(ClassId, usize)], used: &[usize]) -> Option<Amount> {
        let all = self.classes().all.iter().zip(used);
        let own: Option<Amount> = all.map(|((id, class), &used)| class.cost(count_of(counts, id), used)).sum();
        Some(self.classes().market.paid() + own?)
    }

    /// How many present modules of a class may be among `count`.
    fn used_options(&self, class: &Class<'_>, count: usize) -> Vec<usize> {
        let Some((_, used)) = class.at_best(count) else { return Vec::new() };
        // with packs, breaks and surplus a further unit may cost less than any price says
        if class.plain && !class.may_trade && self.goal.lists_taken() == 0 {
            return vec![used];
        }
        let most = count.min(class.present.len());
        (class.pinned()..=most).filter(|&used| class.cost(count, used).is_some()).collect()
    }

    /// Considers so many modules of each class, of which so many are present ones; whether they were placed, or not worth it.
    fn consider_used(
        &mut self,
        least: Amount,
        counts: &[(ClassId, usize)],
        used: Table<ClassId, usize>,
        budget: &mut Budget<'_>,
    ) -> Result<bool, StopReason> {
        let handling =
            self.classes().all.iter().map(|(id, class)| class.handling(count_of(counts, id), used.get(id).copied()?));
        let handling: Option<CostParts> = handling.collect::<Option<Vec<_>>>().map(|all| all.into_iter().sum());
        let Some(handling) = handling else { return Err(StopReason::INTERNAL_RANGE) };
        let candidate = Candidate { counts, used, handling };
        let all = candidate.modules();
        let hope = self.hope(least, counts, &(all..=all), candidate.kept());
        if self.is_beaten(least) || hope.is_gt() {
            return Ok(true);
        }
        // where nothing but single units at a price is sold, the least is exact, and sourcing can wait
        let mut sourcing = None;
        let mut cost = least;
        if hope.is_eq() || !self.is_exact(&candidate) {
            let Some(found) = self.source(&candidate, budget)? else { return Ok(true) };
            cost = found.cost.total();
            if self.is_beaten(cost) || (hope.is_eq() && self.fills_later(counts, &found)) {
                return Ok(true);
            }
            sourcing = Some(found);
        }
        let left = self.model().slots.len().checked_sub(candidate.modules());
        let Some(spare) = left.and_then(|left| left.checked_sub(self.needs.free_slots)) else { return Ok(true) };
        let demand = self.demand(&candidate, cost, spare);
        let (model, errors) = (self.model(), &self.context.errors);
        let placed = match self.by_turn {
            true => judge(model, errors, &demand, by_turn(model, &demand).0, budget)?,
            false => place(model, errors, &demand, budget)?,
        };
        let Some(placed) = placed else { return Ok(false) };
        let moves = self.classes().labour.of(2 * placed.target.moves);
        if self.is_beaten(cost + moves.total()) {
            return Ok(true);
        }
        let sourcing = match sourcing {
            Some(sourcing) => sourcing,
            None => match self.source(&candidate, budget)? {
                Some(sourcing) => sourcing,
                None => return Ok(true),
            },
        };
        let free = free_slots(&self.context.errors, &placed.at, budget)?;
        if free.len() < self.needs.free_slots {
            return Ok(true);
        }
        let cost = sourcing.cost + moves;
        let key = self.key(&candidate, &placed, &sourcing, (cost.total(), free.len()));
        if self.best.as_ref().is_none_or(|best| key < best.key) {
            let handling = candidate.handling + moves;
            let found = Found { key, at: placed.at, free, used: candidate.used, sourcing, handling, cost };
            self.settle(&found, budget);
            self.best = Some(found);
        }
        Ok(true)
    }

    /// Whether what a candidate costs at least is what it costs.
    fn is_exact(&self, candidate: &Candidate<'_>) -> bool {
        let has_some = |id: ClassId| count_of(candidate.counts, id) > 0;
        self.needs.terms.spares == 0
            && self.goal.lists_taken() == 0
            && self.classes().all.iter().all(|(id, class)| class.plain || !has_some(id))
    }

    fn key(
        &self,
        candidate: &Candidate<'_>,
        placed: &Placed,
        sourcing: &Sourcing<'a>,
        (cost, free): (Amount, usize),
    ) -> PlanKey {
        let (kept, present) = (candidate.kept(), self.classes().present());
        let priority = |class: &Option<ClassId>| {
            class.and_then(|class| self.priorities.get(class).copied()).unwrap_or(Priority::Empty)
        };
        let handlings = candidate.modules() - kept + present - kept + 2 * placed.target.moves;
        let touched = handlings > self.classes().faulty();
        PlanKey {
            first: self.first(cost, touched),
            cost,
            touched,
            outside_rows: placed.outside_rows,
            bare: placed.target.bare,
            rate: Reverse(placed.rate),
            spread: placed.target.spread,
            bandwidth: Reverse(placed.bandwidth),
            handlings,
            parts: self.parts(sourcing, candidate).len(),
            free: Reverse(free),
            priorities: placed.at.values().iter().map(priority).collect(),
            taken: sourcing.units(),
            list: sourcing.list(),
            pulled: present - kept,
        }
    }
}
