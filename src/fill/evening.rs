//! The search for what makes a population even.

use std::collections::BTreeSet;

use itertools::Itertools;

use crate::assess::Planner;
use crate::figure::{MemoryBandwidth, RunningRate};
use crate::fill::slot_model::ModelChannel;
use crate::fill::{
    ArrangeError, ClassId, Contents, Demand, Evened, PlaceId, Placed, Present, PresentGroup, SlotModel, kept_empty,
    place,
};
use crate::finding::Severity;
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Content, Layout, Occupant, Population};
use crate::search::{Budget, Index, StopReason, Table, wide};
use crate::unit::Name;

/// How to make a population even.
#[derive(Clone, Copy)]
pub(crate) enum Way {
    Adding,
    Moving,
    TakingOut,
}

pub(crate) fn bandwidth(layout: &Layout<'_>) -> MemoryBandwidth {
    MemoryBandwidth::of(layout, &RunningRate::of(layout))
}

/// How many modules of each class there are.
type Counts = Table<ClassId, usize>;

fn count(counts: &mut Counts, class: ClassId) {
    counts.get_mut(class).into_iter().for_each(|count| *count += 1);
}

pub(crate) struct Evening<'a> {
    model: SlotModel<'a>,
    /// The class that sits in each place now.
    present: Contents,
    /// Places that are to be empty.
    kept_empty: Vec<PlaceId>,
    /// Modules that sit where they cannot be used.
    stranded: Vec<(SlotId, ClassId)>,
    /// Slots whose modules are faulty.
    faulty: Vec<SlotId>,
    /// How many channels there are to fill.
    channels: u64,
}

impl<'a> Evening<'a> {
    pub(crate) fn new(
        planner: &Planner<'a>,
        layout: &Layout<'a>,
        keep_empty: &BTreeSet<Name>,
    ) -> Result<Self, ArrangeError> {
        let machine = planner.machine();
        let kept = kept_empty(layout, keep_empty)?;
        let slots = || machine.platform().slot_ids();
        let mut classes: Vec<&'a MemoryModule> = slots().filter_map(|slot| layout.get(slot).module()).collect();
        classes.sort();
        classes.dedup();
        let model = SlotModel::new(machine, planner.rules(), Severity::Error, classes, layout.without_modules());
        let class_at = |slot: SlotId| {
            let module = layout.get(slot).module()?;
            model.classes.values().binary_search(&module).ok().map(ClassId::of)
        };
        let present: Contents = model.slots.values().iter().map(|slot| class_at(slot.id)).collect();
        let is_place = |slot: SlotId| model.slots.values().iter().any(|known| known.id == slot);
        let stranded =
            slots().filter(|&slot| !is_place(slot)).filter_map(|slot| Some((slot, class_at(slot)?))).collect();
        let faulty = slots().filter(|&slot| matches!(layout.get(slot), Content::Faulty(..))).collect();
        let kept_empty = kept.iter().filter_map(|&slot| model.slots.find(|known| known.id == slot)).collect();
        let channels = model.channels_with_memory().count();
        Ok(Self { present, kept_empty, stranded, faulty, channels: wide(channels), model })
    }

    /// Whether all channels that take memory hold the same.
    pub(crate) fn is_even(&self) -> bool {
        let held = |channel: &ModelChannel| -> u64 {
            let classes = channel.slots.iter().filter_map(|&place| *self.present.get(place)?);
            classes.map(|class| self.model.capacity_of(class)).sum()
        };
        self.model.channels_with_memory().map(held).all_equal()
    }

    pub(crate) fn find(&self, way: Way, budget: &mut Budget) -> Result<Option<Evened>, StopReason> {
        let usable = || self.present.values().iter().flatten();
        match way {
            Way::Adding => {
                let room = self.present.values().iter().filter(|class| class.is_none()).count();
                let first = usize::from(self.stranded.is_empty() && self.faulty.is_empty());
                self.fewest(first..=room, &|added, budget| self.with_added(added, budget), budget)
            }
            Way::TakingOut => {
                let most = usable().count().saturating_sub(1);
                self.fewest(1..=most, &|taken, budget| self.with_taken_out(taken, budget), budget)
            }
            Way::Moving => self.moving(budget),
        }
    }

    /// How many modules of each class are present in usable slots.
    fn counts(&self) -> Counts {
        let mut counts = Table::filled(0, self.model.classes.len());
        self.present.values().iter().flatten().for_each(|&class| count(&mut counts, class));
        counts
    }

    /// What each channel holds where so many modules of each class are shared out evenly.
    fn even_share(&self, counts: &Counts) -> Option<u64> {
        let of_class = |(class, &count)| self.model.capacity_of(class).saturating_mul(wide(count));
        // sums of capacity saturate far beyond any machine
        let total = counts.iter().map(of_class).fold(0, u64::saturating_add);
        let share = total.checked_div(self.channels)?;
        (share > 0 && share * self.channels == total).then_some(share)
    }

    /// The best even placing of the fewest modules, so many at least and at most, for which there is one.
    fn fewest(
        &self,
        numbers: std::ops::RangeInclusive<usize>,
        with: &dyn Fn(&Counts, &mut Budget) -> Result<Option<Found>, StopReason>,
        budget: &mut Budget,
    ) -> Result<Option<Evened>, StopReason> {
        for number in numbers {
            let mut best: Option<Found> = None;
            let mut counts = Table::filled(0, self.model.classes.len());
            self.choose(ClassId::of(0), number, &mut counts, &mut |counts| {
                budget.spend()?;
                let found = with(counts, budget)?;
                let is_better = |found: &Found| best.as_ref().is_none_or(|(best, _)| found.0.order(best).is_lt());
                if let Some(found) = found.filter(is_better) {
                    best = Some(found);
                }
                Ok(())
            })?;
            if let Some((placed, added)) = best {
                return Ok(Some(self.evened(&placed, &added)));
            }
        }
        Ok(None)
    }

    /// Every way to choose so many modules of the classes from one on.
    fn choose(
        &self,
        class: ClassId,
        left: usize,
        chosen: &mut Counts,
        visit: &mut dyn FnMut(&Counts) -> Result<(), StopReason>,
    ) -> Result<(), StopReason> {
        let Some(last) = chosen.ids().next_back() else { return Ok(()) };
        for count in (if class == last { left } else { 0 })..=left {
            chosen.get_mut(class).into_iter().for_each(|entry| *entry = count);
            if class == last { visit(chosen)? } else { self.choose(class.after(1), left - count, chosen, visit)? }
        }
        chosen.get_mut(class).into_iter().for_each(|entry| *entry = 0);
        Ok(())
    }

    /// So many of each class, in no place that is to be empty.
    fn demand(&self, counts: &Counts, share: u64) -> Demand {
        Demand {
            counts: counts.iter().map(|(class, &count)| (class, count)).collect(),
            pinned: self.kept_empty.iter().map(|&place| (place, None)).collect(),
            even: Some(share),
            ..Demand::default()
        }
    }

    /// The best even placing of what is present, left where it is, with so many further modules of each class.
    fn with_added(&self, added: &Counts, budget: &mut Budget) -> Result<Option<Found>, StopReason> {
        let before = self.counts();
        let counts: Counts = before.values().iter().zip(added.values()).map(|(a, b)| a + b).collect();
        let Some(share) = self.even_share(&counts) else { return Ok(None) };
        let mut demand = self.demand(&counts, share);
        let filled = self.present.iter().filter(|(_, class)| class.is_some());
        demand.pinned.extend(filled.map(|(place, &class)| (place, class)));
        let placed = place(&self.model, &self.model, &demand, budget)?;
        Ok(placed.map(|placed| (placed, added.clone())))
    }

    /// The best even placing of what is present less so many modules of each class, each left where it is.
    fn with_taken_out(&self, taken: &Counts, budget: &mut Budget) -> Result<Option<Found>, StopReason> {
        let before = self.counts();
        let left = before.values().iter().zip(taken.values()).map(|(all, taken)| all.checked_sub(*taken));
        let Some(counts) = left.collect::<Option<Vec<usize>>>() else { return Ok(None) };
        let counts: Counts = counts.into_iter().collect();
        let Some(share) = self.even_share(&counts) else { return Ok(None) };
        // of each class only so many are used
        let used: Table<PresentGroup, usize> = counts.values().iter().copied().collect();
        let groups: Table<ClassId, PresentGroup> = used.ids().collect();
        let group = |class: ClassId| groups.get(class).copied();
        let present = |class: &Option<ClassId>| class.and_then(|class| Some(Present { class, group: group(class)? }));
        let demand = Demand {
            present: self.present.values().iter().map(present).collect(),
            most_moves: Some(0),
            used: used.clone(),
            ..self.demand(&counts, share)
        };
        let placed = place(&self.model, &self.model, &demand, budget)?;
        Ok(placed.map(|placed| (placed, Table::filled(0, counts.len()))))
    }

    /// The best even placing of the fewest moves; those who cannot be used where they are move in any case.
    fn moving(&self, budget: &mut Budget) -> Result<Option<Evened>, StopReason> {
        let mut counts = self.counts();
        self.stranded.iter().for_each(|&(_, class)| count(&mut counts, class));
        let Some(share) = self.even_share(&counts) else { return Ok(None) };
        // all of them are used, so that they make one group
        let mut used = Table::default();
        let group: PresentGroup = used.push(counts.values().iter().sum());
        let present = |class: &Option<ClassId>| class.map(|class| Present { class, group });
        let demand = Demand {
            used,
            present: self.present.values().iter().map(present).collect(),
            moves_first: true,
            ..self.demand(&counts, share)
        };
        let placed = place(&self.model, &self.model, &demand, budget)?;
        let none = Table::filled(0, counts.len());
        Ok(placed.map(|placed| self.evened(&placed, &none)))
    }

    fn evened(&self, placed: &Placed, added: &Counts) -> Evened {
        let platform = self.model.machine.platform();
        let module = |class: ClassId| self.model.classes.get(class).map(|module| (*module).clone());
        let label = |slot: SlotId| platform.slot(slot).label().clone();
        let at = |place: PlaceId| Some(label(self.model.slots.get(place)?.id));
        let fitted =
            placed.at.iter().filter_map(|(place, &class)| Some((at(place)?, Occupant::module(module(class?)?))));
        let rest = platform.slot_ids().filter_map(|slot| match self.model.fixed.get(slot) {
            Content::Other(device) => Some((label(slot), Occupant::OtherDevice(device.clone()))),
            Content::Blank => Some((label(slot), Occupant::Blank)),
            Content::Empty | Content::Module(_) | Content::Faulty(..) => None,
        });
        let added: Vec<(MemoryModule, usize)> = added
            .iter()
            .filter(|&(_, &count)| count > 0)
            .filter_map(|(class, &count)| Some((module(class)?, count)))
            .collect();
        let moves = placed.target.moves;
        let emptied = |place: PlaceId| placed.at.get(place).is_some_and(Option::is_none);
        let gone = self.present.iter().filter(|&(place, class)| class.is_some() && emptied(place));
        let gone = gone.filter(|_| moves == 0).filter_map(|(place, _)| at(place));
        let stranded = self.stranded.iter().filter(|_| moves == 0).map(|&(slot, _)| label(slot));
        let mut taken_out: Vec<Name> =
            gone.chain(stranded).chain(self.faulty.iter().map(|&slot| label(slot))).collect();
        taken_out.sort();
        // a module in a slot that held a blank comes in its place
        let population: Population = rest.chain(fitted).collect();
        Evened { population, added, moves, taken_out, bandwidth: bandwidth(&self.model.layout(&placed.at)) }
    }
}

/// A placing, and what is added in it.
type Found = (Placed, Counts);
