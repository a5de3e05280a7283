//! The loads of each channel in terms of a demand, and the states they add up in.

use std::rc::Rc;

use crate::fill::choices::Choices;
use crate::fill::drive::Drive;
use crate::fill::legal_loads::LegalLoads;
use crate::fill::spares::Spares;
use crate::fill::state_space::{Counted, StateSpace};
use crate::fill::{ChannelIx, ClassId, Demand, KindIx, LoadFacts, MateIx, Present, ShapeIx, SlotModel};
use crate::fill::{Level, SortIx, StepIx, VectorIx};
use crate::search::{Budget, SearchSize, StateIx, StateSet, StopReason, Table, wide};
use crate::stated::Scope;

/// A load of one channel in terms of the demand's kinds.
pub(crate) struct Load {
    /// For each place from the far end: a module of a kind, or nothing.
    pub(crate) contents: Vec<Choices>,
    /// How many modules it has.
    pub(crate) modules: usize,
    pub(crate) step: StepIx,
    pub(crate) level: Level,
    /// Its place among the legal loads of its channel.
    pub(crate) legal: usize,
    pub(crate) sort: Option<SortIx>,
    /// What it holds less spare ranks, in MiB.
    pub(crate) usable: u64,
    pub(crate) mate: Option<MateIx>,
}

/// What raising a state by a load does.
pub(crate) struct Step {
    counts: Counted,
    /// The state of the load by itself.
    pub(crate) raise: StateIx,
    /// The states that have room for it.
    pub(crate) room: StateSet,
}

/// The loads that a demand's numbers have room for.
pub(crate) struct Loads {
    /// The classes of which there are some, that of highest priority first.
    pub(crate) kinds: Table<KindIx, ClassId>,
    pub(crate) counts: Table<KindIx, usize>,
    pub(crate) states: StateSpace,
    /// In MiB.
    capacities: Table<VectorIx, u64>,
    pub(crate) steps: Table<StepIx, Step>,
    /// Shared by channels that carry the same loads.
    pub(crate) channels: Table<ChannelIx, Rc<Vec<Load>>>,
    groups: usize,
    /// How many slots all channels can lose at most; 0 where it does not matter.
    most_lost: usize,
    spares: Spares,
    /// Whether some load with room in the counts is barred at the voltage, so that a higher one may be taken.
    pub(crate) may_be_barred: bool,
}

impl Loads {
    /// The loads of a demand, or `None` where it cannot be met whatever is where.
    pub(crate) fn new(
        model: &SlotModel<'_>,
        errors: &SlotModel<'_>,
        (demand, drive): (&Demand, Drive<'_>),
        budget: &mut Budget,
    ) -> Result<Option<Self>, StopReason> {
        let by_priority = demand.kinds_by_priority(model);
        if !may_find_room(model, &by_priority) {
            return Ok(None);
        }
        if by_priority.len() > Choices::MOST_KINDS {
            let (found, limit) = (wide(by_priority.len()), wide(Choices::MOST_KINDS));
            return Err(StopReason::TooLarge { what: SearchSize::SortsOfModule, found, limit });
        }
        let kinds: Table<KindIx, ClassId> = by_priority.iter().map(|&(class, _)| class).collect();
        let counts: Table<KindIx, usize> = by_priority.iter().map(|&(_, count)| count).collect();
        // where any placing will do, how many slots it loses is no matter
        let most_lost = match demand.any_will_do && demand.most_lost.is_none() {
            true => 0,
            false => lost_at_most(errors, kinds.values(), budget)?,
        };
        let spares = Spares::of(model, kinds.values(), budget)?;
        let stays = demand.used.ids().map(|group| demand.places_of(group)).collect();
        // each processor says of a lower voltage at most once that it is barred
        let barred = Table::filled(model.sockets.len(), drive.lower().len());
        let limits = Counted { kinds: counts.clone(), stays, lost: most_lost, spares: spares.limits(), barred };
        let states = StateSpace::new(&limits)?;
        // the steps of a load are sets over all states
        budget.work(wide(states.size()))?;
        let capacities = capacities(model, &kinds, &counts);
        let mut loads = Self {
            kinds,
            counts,
            states,
            capacities,
            steps: Table::default(),
            channels: Table::default(),
            groups: demand.used.len(),
            most_lost,
            spares,
            may_be_barred: false,
        };
        loads.gather(model, errors, (demand, drive), budget)?;
        Ok(Some(loads))
    }

    /// The loads of each channel that the counts have room for.
    fn gather(
        &mut self,
        model: &SlotModel<'_>,
        errors: &SlotModel<'_>,
        (demand, drive): (&Demand, Drive<'_>),
        budget: &mut Budget,
    ) -> Result<(), StopReason> {
        type Sort = (ShapeIx, Vec<Option<Present>>);
        let mut known: Vec<(Sort, Rc<Vec<Load>>)> = Vec::new();
        for (channel, entry) in model.channels.iter() {
            let present = entry.slots.iter().map(|&place| demand.present_at(place)).collect();
            let sort = (entry.shape, present);
            if let Some((_, loads)) = known.iter().find(|(other, _)| *other == sort) {
                self.channels.push(Rc::clone(loads));
                continue;
            }
            let legal = model.legal_loads(channel, self.kinds.values(), budget)?;
            let losses = errors.legal_loads(channel, self.kinds.values(), budget)?;
            let loads = Rc::new(self.loads_of(model, channel, (&legal, &losses), (demand, drive), &sort.1));
            known.push((sort, Rc::clone(&loads)));
            self.channels.push(loads);
        }
        Ok(())
    }

    /// The legal loads of a channel that hold what is asked for, have room in the counts and may be driven so. How many slots
    /// each loses is what `losses` says.
    fn loads_of(
        &mut self,
        model: &SlotModel<'_>,
        channel: ChannelIx,
        (legal, losses): (&LegalLoads, &LegalLoads),
        (demand, drive): (&Demand, Drive<'_>),
        present: &[Option<Present>],
    ) -> Vec<Load> {
        // a channel that takes no memory holds nothing, evenly or not
        let even = demand.even.filter(|_| model.takes_memory(channel));
        let mut loads = Vec::new();
        for (index, load) in legal.loads.iter().enumerate() {
            let held = held(model, &load.code);
            if even.is_some_and(|even| even != held) {
                continue;
            }
            let kind_of = |class: &Option<ClassId>| class.and_then(|class| self.kinds.find(|&kind| kind == class));
            let contents: Vec<Option<KindIx>> = load.code.iter().map(kind_of).collect();
            let LoadFacts { sort, usable, mate, .. } = *load.facts;
            let mut counts = self.counted(present, &contents);
            if self.most_lost > 0 {
                let known = losses.loads.iter().find(|other| other.code == load.code);
                // a load that is refused there loses nothing that counts
                counts.lost = known.map_or(0, |known| known.lost).min(self.most_lost);
            }
            // what a load spares is less than what it holds, and there is a number for all of it
            let Some(spares) = self.spares.count(held.saturating_sub(usable)) else { continue };
            counts.spares = spares;
            if !self.states.has_room_for(&counts) {
                continue;
            }
            self.may_be_barred |= drive.is_barred(&load.facts);
            let Some(level) = drive.level(&load.facts) else { continue };
            let modules = contents.iter().flatten().count();
            let contents: Vec<Choices> = contents.into_iter().map(Choices::only).collect();
            for barred in drive.barred_lower(&load.facts) {
                if let Some(step) = self.step_for(Counted { barred, ..counts.clone() }) {
                    let contents = contents.clone();
                    loads.push(Load { contents, modules, step, level, legal: index, sort, usable, mate });
                }
            }
        }
        // those of one step one after the other
        loads.sort_by_key(|load: &Load| load.step);
        loads
    }

    /// The modules of a load by kind, and how many of each group of present ones stay with it.
    fn counted(&self, present: &[Option<Present>], contents: &[Option<KindIx>]) -> Counted {
        let mut counts = Counted::nothing(self.kinds.len(), self.groups);
        for (present, content) in present.iter().zip(contents) {
            let Some(kind) = *content else { continue };
            counts.kinds.get_mut(kind).into_iter().for_each(|count| *count += 1);
            let class = self.kinds.get(kind);
            if let Some(stays) = present.filter(|present| Some(&present.class) == class) {
                counts.stays.get_mut(stays.group).into_iter().for_each(|count| *count += 1);
            }
        }
        counts
    }

    /// The step of what a load counts; `None` where that is more than the demand has.
    fn step_for(&mut self, counts: Counted) -> Option<StepIx> {
        if let Some(known) = self.steps.find(|step| step.counts == counts) {
            return Some(known);
        }
        let raise = self.states.number(&counts)?;
        Some(self.steps.push(Step { room: self.states.room_for(&counts), counts, raise }))
    }

    /// How many modules there are.
    pub(crate) fn total(&self) -> usize {
        self.counts.values().iter().sum()
    }

    /// What all modules hold, in MiB.
    pub(crate) fn total_capacity(&self) -> u64 {
        self.capacity(self.states.everything())
    }

    /// What the modules of a count vector hold, in MiB; the table has every vector.
    pub(crate) fn capacity(&self, vector: VectorIx) -> u64 {
        self.capacities.get(vector).copied().unwrap_or(0)
    }

    /// What the modules of a state hold less spare ranks, in MiB.
    pub(crate) fn usable(&self, state: StateIx) -> u64 {
        let held = self.capacity(self.states.vector_of(state));
        // no state spares more than it holds
        held.saturating_sub(self.spares.amount(|sort| self.states.spares(state, sort)))
    }

    /// The loads of all channels of a processor.
    pub(crate) fn of_channels<'l>(&'l self, channels: &'l [ChannelIx]) -> impl Iterator<Item = &'l Load> + Clone {
        channels.iter().filter_map(|&channel| self.channels.get(channel)).flat_map(|loads| loads.iter())
    }

    /// The states whose count vectors `allows` lets pass.
    pub(crate) fn states_that(&self, mut allows: impl FnMut(VectorIx) -> bool) -> StateSet {
        let mut states = self.states.no_states();
        for vector in self.states.vectors().filter(|&vector| allows(vector)) {
            self.states.states_with(vector).for_each(|state| states.insert(state));
        }
        states
    }

    /// The states whose number of modules `allows` lets pass.
    pub(crate) fn states_where(&self, allows: impl Fn(usize) -> bool) -> StateSet {
        let mut sums = vec![0usize];
        for &count in self.counts.values() {
            sums = (0..=count).flat_map(|many| sums.iter().map(move |&rest| rest + many)).collect();
        }
        let sums: Table<VectorIx, usize> = sums.into_iter().collect();
        let allowed: Vec<bool> = (0..=self.total()).map(allows).collect();
        self.states_that(|vector| sums.get(vector).is_some_and(|&sum| allowed.get(sum) == Some(&true)))
    }
}

/// Whether so many modules of each class find places, and no bound on the numbers of the machine refuses them.
fn may_find_room(model: &SlotModel<'_>, counts: &[(ClassId, usize)]) -> bool {
    // more than can be counted find no room
    let total = counts.iter().try_fold(0usize, |total, &(_, count)| total.checked_add(count));
    let Some(total) = total.filter(|&total| total <= model.slots.len()) else { return false };
    let mut bounds = model.in_force.counts.iter().filter(|bound| bound.within == Scope::Machine);
    bounds.all(|bound| bound.allows(total)) && model.mixes_allow(counts) && model.allows_numbers(counts)
}

/// How many slots all channels can lose at most; 0 where every load of a channel loses as many, so that it is no
/// matter.
fn lost_at_most(errors: &SlotModel<'_>, classes: &[ClassId], budget: &mut Budget) -> Result<usize, StopReason> {
    let (mut loses_alike, mut most) = (true, 0);
    for channel in errors.channels.ids() {
        let legal = errors.legal_loads(channel, classes, budget)?;
        loses_alike &= legal.loses_alike;
        // a channel that may carry nothing at all loses nothing
        most += legal.loads.iter().map(|load| load.lost).max().unwrap_or(0);
    }
    Ok(if loses_alike { 0 } else { most })
}

/// What the modules of a load hold, in MiB. Like all sums of capacity it saturates, far beyond any machine.
pub(crate) fn held(model: &SlotModel<'_>, code: &[Option<ClassId>]) -> u64 {
    code.iter().flatten().map(|&class| model.capacity_of(class)).fold(0, u64::saturating_add)
}

/// What each count vector holds, in MiB.
fn capacities(
    model: &SlotModel<'_>,
    kinds: &Table<KindIx, ClassId>,
    counts: &Table<KindIx, usize>,
) -> Table<VectorIx, u64> {
    let mut capacities: Vec<u64> = vec![0];
    for (&class, &count) in kinds.values().iter().zip(counts.values()) {
        let size = model.capacity_of(class);
        let with = |many: usize| size.saturating_mul(wide(many));
        capacities =
            (0..=count).flat_map(|many| capacities.iter().map(move |&rest| rest.saturating_add(with(many)))).collect();
    }
    capacities.into_iter().collect()
}
