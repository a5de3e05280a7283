//! What slots and channels of a model can hold at all, asked before numbers are chosen.

use itertools::Itertools;

use crate::fill::{ChannelIx, ClassId, Level, ONE_LOAD, SlotModel, SocketIx};
use crate::search::{Budget, StopReason, wide};

/// The room that channels have for modules, of which some take more than others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Room {
    /// What one module takes, by class.
    pub(crate) each: Vec<usize>,
    /// What all channels have.
    pub(crate) all: usize,
}

impl SlotModel<'_> {
    /// Whether some slot takes modules of a class.
    pub(crate) fn takes(&self, class: ClassId) -> bool {
        let mut places = self.unlike_channels().flat_map(|(_, channel)| &channel.slots);
        places.any(|&place| self.admits(place, class))
    }

    /// Whether an odd number of a processor's channels, above one and below all, is refused whatever of these classes they
    /// hold.
    pub(crate) fn refuses_odd_channels(&self, errors: &SlotModel<'_>, socket: SocketIx, classes: &[ClassId]) -> bool {
        let processor = self.sockets.get(socket).and_then(|socket| self.machine.processor(socket.id));
        let alone = |channel: ChannelIx, class: ClassId| {
            let slots = errors.places_of(channel).len();
            codes(&[class], slots).iter().any(|code| {
                let places = errors.places_of(channel).iter().zip(code);
                let admitted =
                    |(&place, class): (_, &Option<ClassId>)| class.is_none_or(|class| errors.admits(place, class));
                places.into_iter().all(admitted) && errors.load(channel, code).is_some()
            })
        };
        self.in_force.odd_channels
            && processor.is_some_and(|processor| processor.description().interleave.is_none())
            && self.machine.mode_description().is_none()
            && self.channels_of(socket).iter().all(|&channel| classes.iter().all(|&class| alone(channel, class)))
    }

    /// What room there is for modules of some classes in all channels at a level, as far as that can be seen channel by channel.
    pub(crate) fn room(&self, classes: &[ClassId], level: Level, budget: &mut Budget<'_>) -> Result<Room, StopReason> {
        let mut channels = Vec::new();
        for (channel, entry) in self.unlike_channels() {
            let alike = self.channels.values().iter().filter(|other| other.shape == entry.shape).count();
            channels.push((channel, alike, self.room_of(channel, classes, level, budget)?));
        }
        let all = channels.iter().map(|&(_, alike, most)| alike * most).sum();
        let plain = Room { each: vec![1; classes.len()], all };
        // what can fill no channel alone takes more of it
        let mut each = Vec::with_capacity(classes.len());
        for &class in classes {
            let mut takes: Option<usize> = None;
            for &(channel, _, most) in &channels {
                let alone = self.room_of(channel, &[class], level, budget)?;
                let own = most.checked_div(alone);
                takes = takes.into_iter().chain(own).min();
            }
            each.push(takes.unwrap_or(1).max(1));
        }
        if each.iter().all(|&takes| takes == 1) {
            return Ok(plain);
        }
        let takes: Vec<(ClassId, usize)> = classes.iter().copied().zip(each.iter().copied()).collect();
        let mut all = 0;
        for (channel, alike, most) in channels {
            match self.most_taken(channel, &takes, (level, most), budget)? {
                Some(taken) => all += alike * taken,
                None => return Ok(plain),
            }
        }
        Ok(Room { each, all })
    }

    /// What a legal load takes of a channel at most, where each module takes so much; `None` where there are too many loads.
    fn most_taken(
        &self,
        channel: ChannelIx,
        takes: &[(ClassId, usize)],
        (level, most): (Level, usize),
        budget: &mut Budget<'_>,
    ) -> Result<Option<usize>, StopReason> {
        let slots = self.places_of(channel).len();
        let loads = (0..slots).fold(1, |all: usize, _| all.saturating_mul(takes.len() + 1));
        if loads > Self::MOST_LOADS {
            return Ok(None);
        }
        let mut taken = most;
        for count in 1..=slots {
            for load in takes.iter().combinations_with_replacement(count) {
                let own: usize = load.iter().map(|(_, takes)| takes).sum();
                if own > taken {
                    budget.work(ONE_LOAD)?;
                    let load: Vec<ClassId> = load.into_iter().map(|&(class, _)| class).collect();
                    taken = if self.carries_in(channel, &load, level) { own } else { taken };
                }
            }
        }
        Ok(Some(taken))
    }

    /// Every number of modules of some classes that a channel may carry at a level, each class beside itself; `None` where more
    /// loads would have to be judged than `most`.
    pub(crate) fn loads_of(
        &self,
        channel: ChannelIx,
        classes: &[ClassId],
        (level, most): (Level, usize),
        budget: &mut Budget<'_>,
    ) -> Result<Option<Vec<Vec<ClassId>>>, StopReason> {
        let slots = self.places_of(channel).len();
        let all = || (1..=slots).flat_map(|count| classes.iter().copied().combinations_with_replacement(count));
        if all().take(most + 1).count() > most {
            return Ok(None);
        }
        let mut loads = Vec::new();
        for load in all() {
            budget.work(ONE_LOAD)?;
            loads.extend(self.carries_in(channel, &load, level).then_some(load));
        }
        Ok(Some(loads))
    }

    /// Whether a channel may carry these classes in some order at a level.
    fn carries_in(&self, channel: ChannelIx, load: &[ClassId], level: Level) -> bool {
        let codes = codes(load, self.places_of(channel).len());
        codes.iter().any(|code| self.load(channel, code).is_some_and(|facts| facts.level >= level))
    }

    /// How many loads are judged to see how many modules a channel may carry.
    const MOST_LOADS: usize = 5_000;

    /// How many modules of some classes a channel may carry at a level at most.
    pub(crate) fn room_of(
        &self,
        channel: ChannelIx,
        classes: &[ClassId],
        level: Level,
        budget: &mut Budget<'_>,
    ) -> Result<usize, StopReason> {
        let slots = self.places_of(channel).len();
        let carries = |load: &[ClassId]| self.carries_in(channel, load, level);
        for count in (1..=slots).rev() {
            budget.work(ONE_LOAD)?;
            // mostly some class alone will do
            if classes.iter().any(|&class| carries(&vec![class; count])) {
                return Ok(count);
            }
            let loads = (0..slots).fold(1, |all: usize, _| all.saturating_mul(classes.len() + 1));
            if loads > Self::MOST_LOADS {
                return Ok(count);
            }
            budget.work(ONE_LOAD * wide(loads))?;
            if classes.iter().copied().combinations_with_replacement(count).any(|load| carries(&load)) {
                return Ok(count);
            }
        }
        Ok(0)
    }

    /// Whether some channel may carry these classes, in some order and with some slots left empty, at a level; beside an empty
    /// channel of its kind, where what is an error is given.
    pub(crate) fn carries(&self, classes: &[ClassId], level: Level, beside_empty: Option<&SlotModel<'_>>) -> bool {
        self.unlike_channels().filter(|(_, entry)| entry.slots.len() >= classes.len()).any(|(channel, entry)| {
            let codes = codes(classes, entry.slots.len());
            codes.iter().any(|code| {
                self.load(channel, code).is_some_and(|facts| facts.level >= level)
                    && beside_empty.is_none_or(|errors| self.may_stand_beside_empty(errors, channel, code))
            })
        })
    }
}

/// Every way to put classes into a channel of so many slots.
fn codes(classes: &[ClassId], slots: usize) -> Vec<Vec<Option<ClassId>>> {
    type Code = Vec<Option<ClassId>>;
    fn fill(left: &mut Code, code: &mut Code, slots: usize, codes: &mut Vec<Code>) {
        if code.len() == slots {
            if left.is_empty() {
                codes.push(code.clone());
            }
            return;
        }
        if slots - code.len() > left.len() {
            code.push(None);
            fill(left, code, slots, codes);
            code.pop();
        }
        for index in 0..left.len() {
            if left.get(..index).is_some_and(|before| before.iter().any(|other| left.get(index) == Some(other))) {
                continue;
            }
            let class = left.remove(index);
            code.push(class);
            fill(left, code, slots, codes);
            code.pop();
            left.insert(index, class);
        }
    }
    let mut left: Code = classes.iter().map(|&class| Some(class)).collect();
    let mut codes = Vec::new();
    fill(&mut left, &mut Vec::new(), slots, &mut codes);
    codes
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use itertools::Itertools;

    use super::*;
    use crate::fill::step_under;
    use crate::finding::Severity;
    use crate::module::ModuleKind;
    use crate::population::Layout;
    use crate::processor::{ModulePattern, ProcessorDescription, RateTable};
    use crate::rule::RuleBook;
    use crate::search::Index;
    use crate::stated::Basis;
    use crate::testing::{board_of, machine, module, plain, processor};
    use crate::unit::DataRate;

    /// A load that is too fast in a channel takes no room: by rate, on 2 x 2 x 3.
    #[test]
    fn room_is_what_channels_carry_at_a_rate() {
        let rates = [Some(DataRate::DDR4_2400), Some(DataRate::DDR4_2133), Some(DataRate::DDR4_1600)];
        let table = RateTable::new(Basis::DataSheet)
            .by_load(&ModulePattern::kind(ModuleKind::Registered).ranks(2), &rates)
            .by_load(&ModulePattern::kind(ModuleKind::Registered).ranks(1), &[Some(DataRate::DDR4_2400); 3]);
        let machine = machine(board_of(2, 2, 3), ProcessorDescription { rate_table: Some(table), ..processor() });
        let (plain, single) = (plain(), module("16GB 1Rx4 PC4-2400T-RC1-11"));
        let rules = RuleBook::standard();
        let model = SlotModel::new(&machine, &rules, Severity::Error, vec![&plain, &single], Layout::empty(&machine));
        let ids: Vec<ClassId> = model.classes.ids().collect();
        let room = |classes: &[ClassId], rate: Option<DataRate>| {
            let level = rate.map_or(Level::NO_RATE, |rate| step_under(&machine, Some(rate)));
            let room = model.room(classes, level, &mut Budget::new(1000, None)).unwrap();
            (room.all, room.each)
        };
        let double = &ids[..1];
        assert_eq!(room(double, Some(DataRate::DDR4_2400)), (4, vec![1]));
        assert_eq!(room(double, Some(DataRate::DDR4_2133)), (8, vec![1]));
        assert_eq!(room(double, Some(DataRate::DDR4_1600)), (12, vec![1]));
        assert_eq!(room(double, None), (12, vec![1]));
        // of both, single-rank modules fill a channel at any rate
        assert_eq!(room(&ids, Some(DataRate::DDR4_1600)), (12, vec![1, 1]));
        // where they sit beside others the rate is that of the others' row: one takes as much as three
        assert_eq!(room(&ids, Some(DataRate::DDR4_2400)), (12, vec![3, 1]));
        assert_eq!(room(&[], None), (0, vec![]));
    }

    #[test]
    fn codes_are_all_different_orders_with_gaps() {
        for (classes, slots) in
            itertools::iproduct!([vec![], vec![0], vec![0, 0], vec![0, 1], vec![0, 1, 0]], 0..5_usize)
        {
            let classes: Vec<ClassId> = classes.into_iter().map(ClassId::of).collect();
            let mut contents: Vec<Option<ClassId>> = classes.iter().copied().map(Some).collect();
            contents.extend(std::iter::repeat_n(None, slots.saturating_sub(classes.len())));
            let all =
                if classes.len() > slots { vec![] } else { contents.iter().copied().permutations(slots).collect_vec() };
            let expected: BTreeSet<Vec<Option<ClassId>>> = all.into_iter().collect();
            let found = codes(&classes, slots);
            assert_eq!(found.len(), expected.len(), "{classes:?} {slots}");
            assert_eq!(found.into_iter().collect::<BTreeSet<_>>(), expected);
        }
    }
}
