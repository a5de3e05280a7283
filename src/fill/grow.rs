//! Grows the states of a processor channel by channel: from what some channels can hold between them, by every load of
//! the next.

use std::rc::Rc;

use itertools::Itertools;

use crate::fill::beside::Company;
use crate::fill::choices::{Choices, OpenPlaces};
use crate::fill::loads::{Load, Loads};
use crate::fill::pace::Held;
use crate::fill::profiles::Holding;
use crate::fill::{ChannelIx, Level, LikeGroup, MateIx, ShapeIx, SlotModel, SortIx, StepIx};
use crate::search::{Index, StateIx, StateSet};

/// Which loads the channels of a processor may carry, whatever its places may hold.
#[derive(Clone, Copy)]
pub(crate) struct LoadFilter<'q> {
    /// The level that each load must reach.
    level: Level,
    held: &'q Held,
    /// The loads that may stand beside each other; any where absent.
    company: Option<&'q Company>,
    /// What every load with modules is, where that is one sort.
    sort: Option<SortIx>,
    /// Whether no load may have modules.
    is_bare: bool,
    /// Whether an odd number of channels with memory may be refused.
    pub(crate) bars_odd: bool,
}

impl<'q> LoadFilter<'q> {
    /// The loads that reach a level, hold what a way says, and are of this company and sort, where these are given.
    pub(crate) fn new(level: Level, held: &'q Held, company: Option<&'q Company>, sort: Option<SortIx>) -> Self {
        Self { level, held, company, sort, is_bare: false, bars_odd: false }
    }

    /// States in which no channel is as full as the way says are left to other ways.
    pub(crate) fn exact(mut self, mut loads: impl Iterator<Item = (ShapeIx, &'q Load)>) -> Self {
        if let Held::AtMost(most) | Held::JustOrNothing(most) = self.held {
            self.is_bare = !loads.any(|(shape, load)| load.usable == *most && self.admits(shape, load));
        }
        self
    }

    /// Processors may be refused for an odd number of channels with memory.
    pub(crate) fn barring_odd(self) -> Self {
        Self { bars_odd: true, ..self }
    }

    pub(crate) fn admits(&self, shape: ShapeIx, load: &Load) -> bool {
        let held = match self.held {
            Held::Any | Held::OneOf(_) => true,
            Held::AtMost(most) => load.usable <= *most,
            Held::JustOrNothing(held) => load.usable == *held || load.usable == 0,
        };
        held && load.level >= self.level
            && (load.modules == 0 || (!self.is_bare && self.sort.is_none_or(|sort| load.sort == Some(sort))))
            && self.company.is_none_or(|company| company.admits(shape, load.legal))
    }
}

/// The growth of one processor's states under a filter.
pub(crate) struct Growth<'q, 'a> {
    pub(crate) model: &'q SlotModel<'a>,
    pub(crate) loads: &'q Loads,
    /// The processor's channels, and the group of like ones that each belongs to.
    pub(crate) channels: &'q [ChannelIx],
    pub(crate) groups: &'q [Option<LikeGroup>],
    pub(crate) open: &'q OpenPlaces,
    pub(crate) filter: LoadFilter<'q>,
}

/// How far a walk over the channels has come that looks at each by itself.
struct Walk<'w> {
    /// What the loads of a group have in common, once its first channel is settled.
    settled: Vec<Settled>,
    /// The states that were reached with all channels.
    all: &'w mut StateSet,
}

struct Settled {
    group: LikeGroup,
    mate: Option<MateIx>,
}

/// What each channel of a processor holds, in each way that is still open; sorted. Absent where that is no matter.
type Profiles<'p> = Option<&'p [Vec<Holding>]>;

impl Growth<'_, '_> {
    /// Adds what the channels can hold between them to `all`.
    pub(crate) fn add_to(&self, all: &mut StateSet) {
        let mut start = self.loads.states.no_states();
        start.insert(StateIx::of(0));
        match self.filter.held {
            Held::OneOf(profiles) => self.each_by_itself(0, Some(profiles), &start, &mut Walk { settled: vec![], all }),
            _ if self.groups.iter().any(Option::is_some) => {
                self.each_by_itself(0, None, &start, &mut Walk { settled: vec![], all });
            }
            _ => self.all_alike(start, all),
        }
    }

    /// Adds them where what one channel carries bounds no other.
    fn all_alike(&self, mut states: StateSet, all: &mut StateSet) {
        let mut next = self.loads.states.no_states();
        let mut steps: Vec<StepIx> = Vec::new();
        let mut before: Option<ChannelIx> = None;
        for &channel in self.channels {
            let Some(loads) = self.loads.channels.get(channel) else { return };
            let repeats = before.is_some_and(|before| {
                self.loads.channels.get(before).is_some_and(|other| Rc::ptr_eq(other, loads))
                    && choices_of(self.model, before, self.open).eq(choices_of(self.model, channel, self.open))
            });
            before = Some(channel);
            if !repeats {
                steps.clear();
                for load in self.fitting(channel, loads) {
                    if !steps.contains(&load.step) {
                        steps.push(load.step);
                    }
                }
            }
            if steps.is_empty() {
                return;
            }
            self.raise(&states, &steps, &mut next);
            std::mem::swap(&mut states, &mut next);
        }
        all.add(&states);
    }

    /// Makes `next` what a set becomes by any of some steps.
    fn raise(&self, states: &StateSet, steps: &[StepIx], next: &mut StateSet) {
        next.clear();
        for step in steps.iter().filter_map(|&step| self.loads.steps.get(step)) {
            next.add_raised(states, &step.room, step.raise);
        }
    }

    /// The loads that a channel may carry.
    fn fitting<'l>(&self, channel: ChannelIx, loads: &'l [Load]) -> impl Iterator<Item = &'l Load> {
        let choices: Vec<Choices> =
            choices_of(self.model, channel, self.open).map(|all| all.unwrap_or(Choices::NONE)).collect();
        let shape = self.model.channels.get(channel).map(|channel| channel.shape);
        loads.iter().filter(move |load| {
            let mut places = choices.iter().zip(&load.contents);
            shape.is_some_and(|shape| self.filter.admits(shape, load))
                && places.all(|(choices, &content)| choices.meets(content))
        })
    }

    /// Adds them channel by channel from `at` on, each with a choice of its own of what it holds and what its group has
    /// in common.
    fn each_by_itself(&self, at: usize, profiles: Profiles<'_>, states: &StateSet, walk: &mut Walk<'_>) {
        let Some(&channel) = self.channels.get(at) else { return walk.all.add(states) };
        let Some(loads) = self.loads.channels.get(channel) else { return };
        let group = self.groups.get(at).copied().flatten();
        let settled = group.and_then(|group| walk.settled.iter().find(|known| known.group == group));
        let settled = settled.map(|known| known.mate);
        let mut fitting: Vec<&Load> = self.fitting(channel, loads).collect();
        fitting.retain(|load| settled.is_none_or(|mate| load.mate == mate));
        let mut next = self.loads.states.no_states();
        for part in parts(profiles, at) {
            let wanted = part.and_then(|part| part.first()?.get(at).copied());
            let mut chosen = fitting.clone();
            chosen.retain(|load| wanted.is_none_or(|wanted: Holding| wanted.is_of(load)));
            let Some(group) = group.filter(|_| settled.is_none()) else {
                self.carry_on(at, part, &chosen, states, &mut next, walk);
                continue;
            };
            for mate in chosen.iter().map(|load| load.mate).sorted_unstable().dedup() {
                let alike: Vec<&Load> = chosen.iter().copied().filter(|load| load.mate == mate).collect();
                walk.settled.push(Settled { group, mate });
                self.carry_on(at, part, &alike, states, &mut next, walk);
                walk.settled.pop();
            }
        }
    }

    /// Raises the states by some loads of the channel at `at`, and goes on with the next channel.
    fn carry_on(
        &self,
        at: usize,
        profiles: Profiles<'_>,
        chosen: &[&Load],
        states: &StateSet,
        next: &mut StateSet,
        walk: &mut Walk<'_>,
    ) {
        let steps: Vec<StepIx> = chosen.iter().map(|load| load.step).sorted_unstable().dedup().collect();
        self.raise(states, &steps, next);
        if !next.is_empty() {
            self.each_by_itself(at + 1, profiles, next, walk);
        }
    }
}

/// The profiles in parts of one holding of the channel at `at`; all of them as one part where there are none.
fn parts(profiles: Profiles<'_>, at: usize) -> Vec<Profiles<'_>> {
    let held = |profile: &Vec<Holding>| profile.get(at).copied();
    match profiles {
        None => vec![None],
        Some(profiles) => profiles.chunk_by(|a, b| held(a) == held(b)).map(Some).collect(),
    }
}

/// What each place of a channel may hold.
pub(crate) fn choices_of<'o>(
    model: &'o SlotModel<'_>,
    channel: ChannelIx,
    open: &'o OpenPlaces,
) -> impl Iterator<Item = Option<Choices>> + 'o {
    model.places_of(channel).iter().map(|&place| open.get(place).copied())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fill::drive::Drive;
    use crate::fill::{Demand, SocketIx};
    use crate::finding::Severity;
    use crate::population::Layout;
    use crate::rule::RuleBook;
    use crate::search::Budget;
    use crate::testing;

    /// Looking at channels one by one, for every way to fill them, reaches what looking at them all at once does; and
    /// so it does where all belong to a group in which every load has the same mate.
    #[test]
    fn channels_one_by_one_reach_the_same() {
        let machine = testing::machine(testing::board_of(1, 3, 2), testing::processor());
        let (plain, quad, rules) = (testing::plain(), testing::quad(), RuleBook::standard());
        let classes = vec![&plain, &quad];
        let model = SlotModel::new(&machine, &rules, Severity::Error, classes, Layout::empty(&machine));
        let counts = model.classes.ids().map(|class| (class, 3)).collect();
        let demand = Demand { counts, any_will_do: true, ..Demand::default() };
        let loads =
            Loads::new(&model, &model, (&demand, Drive::Hoped), &mut Budget::new(1_000_000, None)).unwrap().unwrap();
        let channels = model.channels_of(SocketIx::of(0));
        let open: OpenPlaces =
            model.slots.values().iter().map(|_| Choices::modules(loads.kinds.ids()).or_nothing()).collect();
        let held: Vec<u64> = loads.of_channels(&channels[..1]).map(|load| load.usable).sorted().dedup().collect();
        let just = |&mib: &u64| Holding { mib, modules: None };
        let profiles = channels.iter().map(|_| held.iter().map(just)).multi_cartesian_product().collect();
        let reached = |held: &Held, groups: &[Option<LikeGroup>]| {
            let filter = LoadFilter::new(Level::NO_RATE, held, None, None);
            let mut states = loads.states.no_states();
            let growth = Growth { model: &model, loads: &loads, channels, groups, open: &open, filter };
            growth.add_to(&mut states);
            states
        };
        let all = reached(&Held::Any, &[None; 3]);
        assert!(all.iter().count() > 10);
        assert!(held.len() > 2);
        let one_of = Held::OneOf(profiles);
        let group = [Some(LikeGroup::of(0)); 3];
        assert_eq!(reached(&one_of, &[None; 3]), all);
        assert_eq!(reached(&one_of, &group), all);
        assert_eq!(reached(&Held::Any, &group), all);
    }
}
