use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::figure::{MemoryBandwidth, RunningRate, filled};
use crate::fill::{ClassId, Contents, Demand, PlaceId, Placed, Present, PresentGroup, SlotModel, place};
use crate::finding::Severity;
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::population::{Content, Layout, Occupant, Population, PopulationError};
use crate::search::{Budget, Index, StopReason, Table, wide};

/// What would make a population even: the same capacity in every channel with slots of every processor.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct EvenOut {
    /// Whether it is even already; nothing is proposed then.
    pub is_even: bool,
    /// Its bandwidth as it is.
    pub bandwidth: MemoryBandwidth,
    /// The fewest further modules of the sorts present that make it even, with everything else left where it is;
    /// absent where none do.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adding: Option<Evened>,
    /// The fewest moves that make it even, with nothing added or taken out; absent where none do.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moving: Option<Evened>,
    /// Why the search ended before it had looked at everything, if it did: what is absent may exist then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}

/// An even population, and how it comes about.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Evened {
    /// What sits in each slot then.
    pub population: Population,
    /// The modules added: each sort, and how many of it.
    pub added: Vec<(MemoryModule, usize)>,
    /// How many modules change their slots.
    pub moves: usize,
    /// The bandwidth then.
    pub bandwidth: MemoryBandwidth,
}

impl Planner<'_> {
    /// What would make a population even, under the rules in force (errors; warnings never decide): the fewest
    /// further modules of sorts that are present, and the fewest moves alone. Of as many modules, the choice that
    /// arranges best in the [documented order](Planner::arrange).
    ///
    /// ```
    /// use slotwright::assess::Planner;
    /// use slotwright::machine::Machine;
    /// use slotwright::module::Label;
    /// use slotwright::population::{Occupant, Population};
    /// use slotwright::reference;
    /// use slotwright::rule::RuleBook;
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let slots = ["A1", "B1", "C1", "D1", "A2", "B2"];
    /// let uneven: Population = slots.iter().map(|slot| (slot.parse().unwrap(), Occupant::module(module.clone()))).collect();
    ///
    /// let even = Planner::new(&machine, &rules).even_out(&uneven)?;
    /// let adding = even.adding.unwrap();
    /// assert_eq!(adding.added, [(module, 2)]); // 2-2-1-1 to 2-2-2-2
    /// assert_eq!(even.bandwidth.spread_mbps.to_string(), "57.6 GB/s");
    /// assert_eq!(adding.bandwidth.spread_mbps.to_string(), "76.8 GB/s");
    /// assert_eq!(even.moving, None); // six modules make no even four channels
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// All slot labels of the population that the machine's board does not have.
    pub fn even_out(&self, population: &Population) -> Result<EvenOut, PopulationError> {
        let machine = self.machine();
        let layout = Layout::new(machine, population)?;
        let bandwidth = bandwidth(&layout);
        let channels: Vec<u64> = filled(&layout).into_iter().flat_map(|socket| socket.caps).collect();
        let is_even = channels.iter().all(|cap| Some(cap) == channels.first());
        let mut even = EvenOut { is_even, bandwidth, adding: None, moving: None, stopped: None };
        if !is_even {
            let job = Evening::new(self, &layout, channels.len());
            for (found, way) in [(&mut even.adding, Way::Adding), (&mut even.moving, Way::Moving)] {
                // each has nodes of its own, so that one does not hide the other
                match job.find(way, &mut self.budget(Self::EVENING_NODES / 2)) {
                    Ok(evened) => *found = evened,
                    Err(reason) => even.stopped = Some(reason),
                }
            }
        }
        Ok(even)
    }

    /// How many nodes the two searches of [`Planner::even_out`] may visit together.
    pub const EVENING_NODES: u64 = 2_000_000;
}

fn bandwidth(layout: &Layout<'_>) -> MemoryBandwidth {
    MemoryBandwidth::of(layout, &RunningRate::of(layout))
}

/// How many modules of each class there are.
type Counts = Table<ClassId, usize>;

struct Evening<'a> {
    machine: &'a Machine,
    model: SlotModel<'a>,
    /// The class that sits in each place now.
    present: Contents,
    /// How many channels there are to fill.
    channels: u64,
    /// Modules that sit where they cannot be used.
    stranded: bool,
}

/// How to make a population even.
#[derive(Clone, Copy)]
enum Way {
    Adding,
    Moving,
}

impl<'a> Evening<'a> {
    fn new(planner: &Planner<'a>, layout: &Layout<'a>, channels: usize) -> Self {
        let machine = planner.machine();
        let mut classes: Vec<&'a MemoryModule> =
            machine.platform().slot_ids().filter_map(|slot| layout.get(slot).module()).collect();
        classes.sort();
        classes.dedup();
        let mut fixed = Layout::empty(machine);
        for (slot, device) in layout.other_devices() {
            fixed.set(slot, Content::Other(device));
        }
        let model = SlotModel::new(machine, planner.rules(), Severity::Error, classes, fixed);
        let class_of = |module: &MemoryModule| model.classes.values().binary_search(&module).ok().map(ClassId::of);
        let present = model.slots.values().iter().map(|slot| layout.get(slot.id).module().and_then(class_of));
        let present = present.collect();
        let stranded = layout.modules().any(|site| !site.is_live());
        Self { machine, model, present, channels: wide(channels), stranded }
    }

    /// How many modules of each class are present.
    fn counts(&self) -> Counts {
        let mut counts = Table::filled(0, self.model.classes.len());
        for &class in self.present.values().iter().flatten() {
            counts.get_mut(class).into_iter().for_each(|count| *count += 1);
        }
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

    fn find(&self, way: Way, budget: &mut Budget) -> Result<Option<Evened>, StopReason> {
        match way {
            Way::Adding => self.adding(budget),
            Way::Moving => self.moving(budget),
        }
    }

    fn adding(&self, budget: &mut Budget) -> Result<Option<Evened>, StopReason> {
        if self.stranded {
            return Ok(None);
        }
        let room = self.present.values().iter().filter(|class| class.is_none()).count();
        for more in 1..=room {
            let mut best: Option<(Counts, Placed)> = None;
            let mut added = Table::filled(0, self.model.classes.len());
            self.choose(ClassId::of(0), more, &mut added, &mut |added| {
                budget.spend()?;
                if let Some(placed) = self.with_added(added, budget)? {
                    if best.as_ref().is_none_or(|(_, best)| placed.order(best).is_lt()) {
                        best = Some((added.clone(), placed));
                    }
                }
                Ok(())
            })?;
            if let Some((added, placed)) = best {
                return Ok(Some(self.evened(&placed, &added, 0)));
            }
        }
        Ok(None)
    }

    /// The best even placing of what is present, left where it is, with so many further modules of each class.
    fn with_added(&self, added: &Counts, budget: &mut Budget) -> Result<Option<Placed>, StopReason> {
        let before = self.counts();
        let counts: Counts = before.values().iter().zip(added.values()).map(|(a, b)| a + b).collect();
        let Some(share) = self.even_share(&counts) else { return Ok(None) };
        let pinned = self.present.iter().filter(|(_, class)| class.is_some());
        let demand = Demand {
            counts: counts.iter().map(|(class, &count)| (class, count)).collect(),
            pinned: pinned.map(|(place, &class)| (place, class)).collect(),
            even: Some(share),
            ..Demand::default()
        };
        place(&self.model, &self.model, &demand, budget)
    }

    /// Every way to choose so many modules of the classes from one on.
    fn choose(
        &self,
        class: ClassId,
        left: usize,
        added: &mut Counts,
        visit: &mut dyn FnMut(&Counts) -> Result<(), StopReason>,
    ) -> Result<(), StopReason> {
        let Some(last) = added.ids().next_back() else { return Ok(()) };
        for count in (if class == last { left } else { 0 })..=left {
            added.get_mut(class).into_iter().for_each(|entry| *entry = count);
            if class == last { visit(added)? } else { self.choose(class.after(1), left - count, added, visit)? }
        }
        added.get_mut(class).into_iter().for_each(|entry| *entry = 0);
        Ok(())
    }

    fn moving(&self, budget: &mut Budget) -> Result<Option<Evened>, StopReason> {
        let counts = self.counts();
        let (Some(share), false) = (self.even_share(&counts), self.stranded) else { return Ok(None) };
        // all of them are used, so that they make one group
        let mut used = Table::default();
        let group: PresentGroup = used.push(counts.values().iter().sum());
        let present = |class: &Option<ClassId>| class.map(|class| Present { class, group });
        let demand = Demand {
            used,
            counts: counts.iter().map(|(class, &count)| (class, count)).collect(),
            present: self.present.values().iter().map(present).collect(),
            moves_first: true,
            even: Some(share),
            ..Demand::default()
        };
        let placed = place(&self.model, &self.model, &demand, budget)?;
        Ok(placed.map(|placed| self.evened(&placed, &Table::filled(0, counts.len()), placed.target.moves)))
    }

    fn evened(&self, placed: &Placed, added: &Counts, moves: usize) -> Evened {
        let platform = self.machine.platform();
        let module = |class: ClassId| self.model.classes.get(class).map(|module| (*module).clone());
        let label = |place: PlaceId| Some(platform.slot(self.model.slots.get(place)?.id).label.clone());
        let modules =
            placed.at.iter().filter_map(|(place, &class)| Some((label(place)?, Occupant::module(module(class?)?))));
        let devices = self.model.fixed.other_devices();
        let devices =
            devices.map(|(slot, device)| (platform.slot(slot).label.clone(), Occupant::OtherDevice(device.clone())));
        let added = added.iter().filter(|&(_, &count)| count > 0);
        Evened {
            population: modules.chain(devices).collect(),
            added: added.filter_map(|(class, &count)| Some((module(class)?, count))).collect(),
            moves,
            bandwidth: bandwidth(&self.model.layout(&placed.at)),
        }
    }
}
