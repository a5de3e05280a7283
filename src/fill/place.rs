//! The best legal placing of given modules: exact, by sets of reachable states.
//!
//! The voltage of the whole comes first (`drive.rs`), for what a load comes to depends on it. Then
//! levels of the rate and targets are tried in the documented order; for each, slots are decided in fill order
//! (`descend.rs`). What a processor's channels can take between them is a set of states (`reach.rs`), and how these can
//! be shared out among processors says which targets there are (`split.rs`). Rules that such sets cannot express are
//! asked of the complete candidate, and the search goes back where they refuse.

use std::cmp::{Ordering, Reverse};
use std::rc::Rc;

use itertools::Itertools;

use crate::fill::candidate::{judge, settled};
use crate::fill::choices::{Choices, OpenPlaces};
use crate::fill::drive::Drive;
use crate::fill::exempt::ExemptLayouts;
use crate::fill::loads::{Load, Loads};
use crate::fill::looks::Looks;
use crate::fill::pace::Paces;
use crate::fill::rates::{LevelRate, SpeedScale};
use crate::fill::reach::Reach;
use crate::fill::reachable::{Reachable, narrowed_to};
use crate::fill::rows::RowsInForce;
use crate::fill::split::Shares;
use crate::fill::target::{Target, TargetRank};
use crate::fill::{ClassId, Demand, Level, PlaceId, Placed, PresentGroup, ShapeIx, SlotModel};
use crate::platform::RatePolicy;
use crate::search::{Budget, Index, StopReason};

/// A search for the best placing of a demand.
pub(crate) struct Placing<'m, 'a> {
    pub(crate) model: &'m SlotModel<'a>,
    pub(crate) demand: &'m Demand,
    pub(crate) loads: &'m Loads,
    pub(crate) scale: SpeedScale,
    exempt: &'m ExemptLayouts,
    pub(crate) reach: Reach<'m, 'a>,
    pub(crate) shares: Shares<'m>,
    /// What each place may still hold.
    pub(crate) open: OpenPlaces,
    /// Whether the rate of a candidate may lie below the level of each of its loads.
    level_is_hopeful: bool,
    /// The level and target that are being tried.
    pub(crate) level: Level,
    pub(crate) target: Target,
    /// The levels that are tried, best first.
    levels: Vec<Level>,
    /// The levels that processors may have at the level that is being tried.
    pub(crate) rates: Vec<LevelRate>,
    /// Whether partial candidates are held against rules too: once a complete one was refused.
    pub(crate) careful: bool,
}

/// The best placing of a demand; `None` where there is none.
pub(crate) fn place(
    model: &SlotModel<'_>,
    errors: &SlotModel<'_>,
    demand: &Demand,
    budget: &mut Budget,
) -> Result<Option<Placed>, StopReason> {
    if let Some(at) = settled(model, demand) {
        return judge(model, errors, demand, at, budget);
    }
    let Some((at, all_stay)) = model.as_before(demand) else { return search(model, errors, demand, budget) };
    let as_before = judge(model, errors, demand, at, budget)?;
    // what is there already, and will do, is left as it is
    if all_stay && as_before.is_some() && !demand.quality_first {
        return Ok(as_before);
    }
    let found = search(model, errors, demand, budget)?;
    Ok(match (as_before, found) {
        (Some(before), Some(found)) if before.order(&found) == Ordering::Greater => Some(found),
        (before, found) => before.or(found),
    })
}

/// The best placing of a demand of which some module is not settled.
fn search(
    model: &SlotModel<'_>,
    errors: &SlotModel<'_>,
    demand: &Demand,
    budget: &mut Budget,
) -> Result<Option<Placed>, StopReason> {
    let Some((merged, looks)) = Looks::of(model, errors, demand) else {
        return search_kinds(model, errors, demand, budget);
    };
    let placed = search_kinds(model, errors, &merged, budget)?;
    Ok(placed.map(|placed| looks.tell_apart(model, demand, placed)))
}

/// The best placing of a demand whose classes are each placed for themselves: at each voltage at which the whole may be
/// driven.
fn search_kinds(
    model: &SlotModel<'_>,
    errors: &SlotModel<'_>,
    demand: &Demand,
    budget: &mut Budget,
) -> Result<Option<Placed>, StopReason> {
    let classes: Vec<ClassId> = demand.kinds_by_priority(model).into_iter().map(|(class, _)| class).collect();
    let Some(voltages) = model.common_voltages(&classes) else {
        return Ok(search_driven(model, errors, (demand, Drive::Hoped), budget)?.0);
    };
    let mut best: Option<Placed> = None;
    for last in 0..voltages.len() {
        let drive = Drive::At(voltages.get(..=last).unwrap_or_default());
        let (found, may_rise) = search_driven(model, errors, (demand, drive), budget)?;
        let is_better = |found: &Placed| best.as_ref().is_none_or(|best| found.order_by_rows(best) == Ordering::Less);
        if let Some(found) = found.filter(is_better) {
            best = Some(found);
        }
        if !may_rise || (demand.any_will_do && best.is_some()) {
            break;
        }
    }
    Ok(best)
}

/// The best placing of a demand that is driven so; and whether a higher voltage may be taken, for some load is barred.
fn search_driven(
    model: &SlotModel<'_>,
    errors: &SlotModel<'_>,
    (demand, drive): (&Demand, Drive<'_>),
    budget: &mut Budget,
) -> Result<(Option<Placed>, bool), StopReason> {
    let Some(loads) = Loads::new(model, errors, (demand, drive), budget)? else { return Ok((None, false)) };
    let exempt = ExemptLayouts::new(model, &loads);
    let paces = Paces::new(model, &loads, (&exempt, demand), budget)?;
    let scale = SpeedScale::new(model.machine, paces.scale);
    let least_swept = demand.least_swept.map_or(0, |least| scale.parts_needed(least));
    let mut placing = Placing {
        model,
        demand,
        loads: &loads,
        scale,
        exempt: &exempt,
        reach: Reach::new((model, errors), &loads, &paces, &exempt, budget)?,
        shares: Shares::new(model, &loads, demand, least_swept),
        open: OpenPlaces::default(),
        level_is_hopeful: matches!(drive, Drive::Hoped) || model.lowers_unlike_grades(),
        level: Level::NO_RATE,
        target: Target::NONE,
        levels: Vec::new(),
        rates: Vec::new(),
        careful: false,
    };
    placing.levels = placing.levels();
    Ok((placing.choose(budget)?, loads.may_be_barred))
}

/// A level, what processors can take at it, and the best target not yet tried.
struct Prospect {
    level: Level,
    reachable: Rc<Vec<Reachable>>,
    /// How many processors have no memory; any number where absent.
    bare: Option<usize>,
    target: Target,
}

impl Prospect {
    /// The order in which prospects are tried: where moves cost money, fewer come before a higher rate.
    fn order(&self, moves_first: bool) -> (usize, Option<usize>, Reverse<Level>, TargetRank) {
        let moves = if moves_first { self.target.moves } else { 0 };
        (moves, self.bare, Reverse(self.level), self.target.rank(moves_first))
    }
}

impl Placing<'_, '_> {
    /// What each place may hold before any row or decision.
    fn open_places(&self) -> OpenPlaces {
        // places at the same end of channels of one shape admit the same
        type Sort = (ShapeIx, usize);
        let mut known: Vec<(Sort, Choices)> = Vec::new();
        let mut open: OpenPlaces = self.model.slots.values().iter().map(|_| Choices::NONE).collect();
        for channel in self.model.channels.values() {
            for (index, &place) in channel.slots.iter().enumerate() {
                let sort = (channel.shape, index);
                let choices = match known.iter().find(|(other, _)| *other == sort) {
                    Some(&(_, choices)) => choices,
                    None => {
                        let admitted = |&(_, &class): &(_, &ClassId)| self.model.admits(place, class);
                        let kinds = self.loads.kinds.iter().filter(admitted).map(|(kind, _)| kind);
                        let choices = Choices::modules(kinds).or_nothing();
                        known.push((sort, choices));
                        choices
                    }
                };
                open.get_mut(place).into_iter().for_each(|entry| *entry = choices);
            }
        }
        for &(place, class) in &self.demand.pinned {
            let pinned = match class {
                None => Choices::only(None),
                Some(class) => self.only_class(class),
            };
            open.get_mut(place).into_iter().for_each(|choices| *choices = choices.and(pinned));
        }
        open
    }

    /// Just a module of a class; nothing at all where the demand has none of it.
    fn only_class(&self, class: ClassId) -> Choices {
        let kind = self.loads.kinds.find(|&kind| kind == class);
        kind.map_or(Choices::NONE, |kind| Choices::only(Some(kind)))
    }

    /// The best placing: inside all printed rows where there is one. Outside them, it follows at least those
    /// that must be followed.
    fn choose(&mut self, budget: &mut Budget) -> Result<Option<Placed>, StopReason> {
        let open = self.open_places();
        let lowest = self.levels.last().copied().unwrap_or(Level::NO_RATE);
        if !self.reach.may_hold_all(&open, lowest, budget)? {
            return Ok(None);
        }
        if self.model.rows.groups.is_empty() {
            return self.best(RowsInForce::None, &open, budget);
        }
        let otherwise = RowsInForce::Required;
        let inside = self.best(RowsInForce::All, &open, budget)?;
        // what is to be matched breaks no rows
        if self.demand.to_match.is_some() {
            return Ok(inside);
        }
        let Some(inside) = inside else {
            return Ok(self.best(otherwise, &open, budget)?.map(Placed::outside));
        };
        if !self.demand.moves_first || inside.target.moves == 0 {
            return Ok(Some(inside));
        }
        // moves cost money, and cost comes before printed rows
        let outside = self.best(otherwise, &open, budget)?;
        let outside = outside.filter(|outside| outside.target.moves < inside.target.moves);
        Ok(Some(outside.map_or(inside, Placed::outside)))
    }

    /// The best placing under some rows.
    fn best(
        &mut self,
        rows: RowsInForce,
        open: &OpenPlaces,
        budget: &mut Budget,
    ) -> Result<Option<Placed>, StopReason> {
        self.reach.follow(rows);
        let mut best: Option<Placed> = None;
        let exempt = self.exempt;
        let layouts = std::iter::once(None).chain(exempt.of_several.iter().map(Some));
        for (layout, open) in layouts.cartesian_product(self.reach.machine_rows(open)) {
            self.open = self.reach.impose(layout, &open);
            if let Some(placed) = self.best_in_order(budget)? {
                if best.as_ref().is_none_or(|best| placed.order(best) == Ordering::Less) {
                    best = Some(placed);
                }
            }
        }
        Ok(best)
    }

    /// The levels that are worth trying, best first.
    fn levels(&self) -> Vec<Level> {
        // one with fewer processors without memory comes first at any rate
        let fewest_bare = self.model.sockets.len().saturating_sub(self.loads.total());
        let to_match = self.demand.to_match.filter(|known| known.bare <= fewest_bare);
        let least = self.demand.least_level.max(to_match.map(|known| known.level));
        if self.demand.any_will_do {
            return vec![least.unwrap_or(Level::NO_RATE)];
        }
        let top = self.model.top_level;
        let mut channels: Vec<&Rc<Vec<Load>>> = self.loads.channels.values().iter().collect();
        channels.dedup_by(|a, b| Rc::ptr_eq(a, b));
        let mut levels: Vec<Level> =
            channels.into_iter().flat_map(|loads| loads.iter()).map(|load| load.level.min(top)).collect();
        levels.push(Level::NO_RATE);
        if self.level_is_hopeful {
            levels.extend((0..self.model.machine.rate_steps().len()).map(Level::step).filter(|&level| level <= top));
        }
        levels.retain(|&level| least.is_none_or(|least| level >= least));
        levels.extend(least);
        levels.sort_unstable();
        levels.dedup();
        levels.reverse();
        levels
    }

    /// How many processors may be without memory, the fewest first; where any placing will do, it is no matter.
    fn numbers_of_bare(&self) -> Vec<Option<usize>> {
        let sockets = self.model.sockets.len();
        match self.demand.any_will_do {
            true => vec![None],
            false => (sockets.saturating_sub(self.loads.total())..=sockets).map(Some).collect(),
        }
    }

    /// Tries levels and targets in the documented order until one can be placed.
    fn best_in_order(&mut self, budget: &mut Budget) -> Result<Option<Placed>, StopReason> {
        let moves_first = self.demand.moves_first;
        let mut known: Vec<(Level, Rc<Vec<Reachable>>)> = Vec::new();
        // processors without memory come before the rate
        let levels = self.levels.clone();
        let mut tries =
            self.numbers_of_bare().into_iter().flat_map(|bare| levels.iter().map(move |&level| (bare, level)));
        // of each level looked at
        let mut prospects: Vec<Prospect> = Vec::new();
        loop {
            // a lower level may do with fewer moves; where moves cost nothing, the highest comes first
            while moves_first || prospects.is_empty() {
                let Some((bare, level)) = tries.next() else { break };
                let reachable = match known.iter().find(|(other, _)| *other == level) {
                    Some((_, reachable)) => Rc::clone(reachable),
                    None => {
                        let reachable = Rc::new(self.reachable_at(level, budget)?);
                        known.push((level, Rc::clone(&reachable)));
                        reachable
                    }
                };
                let target = self.shares.next_target(&reachable, bare, None, budget)?;
                prospects.extend(target.map(|target| Prospect { level, reachable, bare, target }));
            }
            let next = prospects.iter().enumerate().min_by_key(|(_, prospect)| prospect.order(moves_first));
            let Some((next, _)) = next else { return Ok(None) };
            let mut prospect = prospects.swap_remove(next);
            // what comes later is no better
            if self.is_outdone(&prospect) {
                return Ok(None);
            }
            if let Some(placed) = self.place_at(&prospect, budget)? {
                return Ok(Some(placed));
            }
            if self.careful && self.reach.look_at_every_pace() {
                known.clear();
                for prospect in prospects.iter_mut().chain([&mut prospect]) {
                    prospect.reachable = Rc::new(self.reachable_at(prospect.level, budget)?);
                }
            }
            let later = self.shares.next_target(&prospect.reachable, prospect.bare, Some(prospect.target), budget)?;
            prospects.extend(later.map(|target| Prospect { target, ..prospect }));
        }
    }

    /// Whether what is to be matched comes before anything that a prospect can become.
    fn is_outdone(&self, Prospect { level, target, .. }: &Prospect) -> bool {
        let one_rate = self.model.machine.platform().description().rate_policy == RatePolicy::PerMachine;
        let Some(known) = self.demand.to_match.filter(|_| one_rate) else { return false };
        let bandwidth = if self.scale.is_exact() { self.scale.bandwidth(target.speed) } else { known.bandwidth };
        let ours = (target.bare, Reverse(*level), target.spread, Reverse(bandwidth));
        ours > (known.bare, Reverse(known.level), known.spread, Reverse(known.bandwidth))
    }

    /// The placing of a prospect that comes first in fill order, if one is legal.
    fn place_at(&mut self, prospect: &Prospect, budget: &mut Budget) -> Result<Option<Placed>, StopReason> {
        self.try_level(prospect.level);
        self.target = prospect.target;
        let open = self.open.clone();
        self.settle_stays();
        self.reach.narrow(Some(narrowed_to(&prospect.reachable, prospect.target)));
        let placed = self.descend(PlaceId::of(0), budget)?;
        self.reach.narrow(None);
        self.open = open;
        Ok(placed)
    }

    /// What processors can take at a level.
    fn reachable_at(&mut self, level: Level, budget: &mut Budget) -> Result<Vec<Reachable>, StopReason> {
        self.try_level(level);
        self.reach.reachable(&self.open, &self.rates, budget)
    }

    /// From now on at this level: processors may have it, and where each has a rate of its own, those above it.
    fn try_level(&mut self, level: Level) {
        self.level = level;
        let rate_of = |level: Level| {
            // where any placing will do, and without a rate, no pace matters
            let rate = level.rate(self.model.machine).filter(|_| !self.demand.any_will_do);
            LevelRate { level, rate: rate.map_or(0, |rate| self.scale.parts_of_rate(rate)) }
        };
        self.rates = match self.model.machine.platform().description().rate_policy {
            RatePolicy::PerMachine => vec![rate_of(level)],
            RatePolicy::PerSocket => self.levels.iter().filter(|&&other| other >= level).map(|&l| rate_of(l)).collect(),
        };
    }

    /// Where nothing may move, present modules that are all used stay in their places.
    fn settle_stays(&mut self) {
        if self.target.moves > 0 {
            return;
        }
        let demand = self.demand;
        let all_used =
            |group: PresentGroup| demand.used.get(group).is_some_and(|&used| used >= demand.places_of(group));
        for (place, present) in demand.present.iter() {
            let Some(present) = present.filter(|present| all_used(present.group)) else { continue };
            let stays = self.only_class(present.class);
            self.open.get_mut(place).into_iter().for_each(|choices| *choices = choices.and(stays));
        }
    }
}
