//! Grows the states of a processor channel by channel: from what some channels can hold between them, by every load of
//! the next.

use std::rc::Rc;

use itertools::Itertools;

use crate::fill::choices::{Choices, OpenPlaces};
use crate::fill::loads::{Load, Loads};
use crate::fill::marks::{Marks, OwnLoads};
use crate::fill::pace::Held;
use crate::fill::profiles::Holding;
use crate::fill::{ChannelIx, LikeGroup, MateIx, SlotModel, StepIx};
use crate::search::{Index, StateIx, StateSet};

/// The loads of a channel that what its places may hold leaves, each with its number among those of its processor.
type Left<'m> = Rc<Vec<(usize, &'m Load)>>;

/// The loads of a processor's channels that what their places may hold leaves.
pub(crate) struct LoadsLeft<'m>(Vec<Left<'m>>);

impl<'m> LoadsLeft<'m> {
    pub(crate) fn new(model: &SlotModel<'_>, own: &OwnLoads<'m>, channels: &[ChannelIx], open: &OpenPlaces) -> Self {
        let mut left: Vec<Left<'m>> = Vec::with_capacity(channels.len());
        let mut before: Option<Vec<Choices>> = None;
        for (at, &channel) in channels.iter().enumerate() {
            let choices: Vec<Choices> =
                choices_of(model, channel, open).map(|all| all.unwrap_or(Choices::NONE)).collect();
            let repeats =
                at.checked_sub(1).is_some_and(|last| own.are_alike(last, at)) && before.as_ref() == Some(&choices);
            let fits = |(_, load): &(usize, &Load)| {
                choices.iter().zip(&load.contents).all(|(choices, &content)| choices.meets(content))
            };
            let own_left = match left.last().filter(|_| repeats) {
                Some(same) => Rc::clone(same),
                None => Rc::new(own.of_channel(at).filter(fits).collect()),
            };
            left.push(own_left);
            before = Some(choices);
        }
        Self(left)
    }
}

/// The growth of one processor's states, by what of the loads that are left is marked.
pub(crate) struct Growth<'q, 'm> {
    pub(crate) loads: &'q Loads,
    pub(crate) left: &'q LoadsLeft<'m>,
    pub(crate) marks: &'q Marks,
    pub(crate) held: &'q Held,
    /// The group of like channels that each channel belongs to.
    pub(crate) groups: &'q [Option<LikeGroup>],
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

impl<'m> Growth<'_, 'm> {
    /// Adds what the channels can hold between them to `all`.
    pub(crate) fn add_to(&self, all: &mut StateSet) {
        let mut start = self.loads.states.no_states();
        start.insert(StateIx::of(0));
        match self.held {
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
        let mut before: Option<&Left<'m>> = None;
        for left in &self.left.0 {
            if !before.is_some_and(|before| Rc::ptr_eq(before, left)) {
                steps.clear();
                // loads of one step come one after the other
                steps.extend(self.fitting(left).map(|load| load.step).dedup());
            }
            before = Some(left);
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
    fn fitting<'s>(&'s self, left: &'s Left<'m>) -> impl Iterator<Item = &'m Load> + 's {
        left.iter().filter(|(number, _)| self.marks.has(*number)).map(|&(_, load)| load)
    }

    /// Adds them channel by channel from `at` on, each with a choice of its own of what it holds and what its group has
    /// in common.
    fn each_by_itself(&self, at: usize, profiles: Profiles<'_>, states: &StateSet, walk: &mut Walk<'_>) {
        let Some(left) = self.left.0.get(at) else { return walk.all.add(states) };
        let group = self.groups.get(at).copied().flatten();
        let settled = group.and_then(|group| walk.settled.iter().find(|known| known.group == group));
        let settled = settled.map(|known| known.mate);
        let mut fitting: Vec<&Load> = self.fitting(left).collect();
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
            let own = OwnLoads::new(&model, &loads, SocketIx::of(0));
            let left = LoadsLeft::new(&model, &own, channels, &open);
            let marks = own.marks(|_, _| true);
            let mut states = loads.states.no_states();
            let growth = Growth { loads: &loads, left: &left, marks: &marks, held, groups };
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
