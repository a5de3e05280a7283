//! What the rules say of one load of a channel, each asked once.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

use crate::figure::usable;
use crate::figure::{RowMemo, channel_limits};
use crate::fill::{ChannelIx, ClassId, HeldIx, KeyIx, Level, MateIx, ShapeIx, SlotModel, SortIx, step_under};
use crate::finding::FactValue;
use crate::platform::SlotId;
use crate::population::{ChannelLoad, Content, Layout};
use crate::rule::even::Held;
use crate::rule::{MixOf, suitable_voltages};
use crate::search::{Index, Table};
use crate::unit::{DataRate, Voltage};

/// A load of a channel: a class or nothing for each of its places, from the far end.
pub(crate) type LoadCode = Vec<Option<ClassId>>;

/// What is known of a legal load.
#[derive(Debug, Clone)]
pub(crate) struct LoadFacts {
    /// The highest step that its limits allow, at the best voltage.
    pub(crate) level: Level,
    /// The same at each voltage that suits all of its modules and its processor; none of an empty one.
    pub(crate) driven: Vec<Driven>,
    /// Its key under a caller's rule that populated channels be alike, where one is in force.
    pub(crate) key: Option<KeyIx>,
    /// What it holds by round, where a rule asks that populated channels hold the same; absent for an empty one.
    pub(crate) held: Option<HeldIx>,
    /// What of it repeats, where the loads of all channels are the same.
    pub(crate) sort: Option<SortIx>,
    /// What it holds less spare ranks, in MiB.
    pub(crate) usable: u64,
    /// What it must have in common with the other channels of its group in the mode, where the rules ask for it.
    pub(crate) mate: Option<MateIx>,
}

/// What a load is at one voltage.
#[derive(Debug, Clone)]
pub(crate) struct Driven {
    /// Absent where none is known to suit it.
    pub(crate) voltage: Option<Voltage>,
    /// The highest step that its limits allow.
    pub(crate) level: Level,
    /// Whether a table bars it, so that what is driven as a whole takes another voltage where there is one.
    pub(crate) is_barred: bool,
    /// Whether a rule says that this matters.
    pub(crate) is_refused: bool,
}

impl LoadFacts {
    /// What it is at a voltage that suits it.
    pub(crate) fn driven_at(&self, voltage: Voltage) -> Option<&Driven> {
        self.driven.iter().find(|driven| driven.voltage == Some(voltage))
    }
}

/// What is known of the loads that were asked about.
pub(crate) struct JudgedLoads<'a> {
    /// A layout to put loads in one after the other.
    scratch: RefCell<Layout<'a>>,
    by_shape: RefCell<Table<ShapeIx, BTreeMap<LoadCode, Option<Rc<LoadFacts>>>>>,
    keys: RefCell<Table<KeyIx, FactValue>>,
    pub(crate) held: RefCell<Table<HeldIx, Held>>,
    sorts: RefCell<Table<SortIx, Vec<usize>>>,
    mates: RefCell<Table<MateIx, FactValue>>,
}

impl<'a> JudgedLoads<'a> {
    /// Nothing judged yet, on a machine with channels of so many shapes.
    pub(crate) fn new(fixed: &Layout<'a>, shapes: usize) -> Self {
        Self {
            scratch: RefCell::new(fixed.clone()),
            by_shape: RefCell::new(Table::filled(BTreeMap::new(), shapes)),
            keys: RefCell::default(),
            held: RefCell::default(),
            sorts: RefCell::default(),
            mates: RefCell::default(),
        }
    }
}

impl SlotModel<'_> {
    /// What is known of a load of a channel; `None` where rules on channels refuse it.
    pub(crate) fn load(&self, channel: ChannelIx, code: &[Option<ClassId>]) -> Option<Rc<LoadFacts>> {
        let shape = self.channels.get(channel)?.shape;
        if let Some(known) = self.judged.by_shape.borrow().get(shape).and_then(|known| known.get(code)) {
            return known.clone();
        }
        let facts = self.judge_code(channel, code).map(Rc::new);
        if let Some(known) = self.judged.by_shape.borrow_mut().get_mut(shape) {
            known.insert(code.to_vec(), facts.clone());
        }
        facts
    }

    /// Puts a load into its channel, asks the rules, and takes it out again.
    fn judge_code(&self, channel: ChannelIx, code: &[Option<ClassId>]) -> Option<LoadFacts> {
        let channel = self.channels.get(channel)?;
        let content = |class: Option<ClassId>| match class.and_then(|class| self.classes.get(class)) {
            Some(&module) => Content::Module(module),
            None => Content::Empty,
        };
        let ids = || channel.slots.iter().filter_map(|&place| Some(self.slots.get(place)?.id));
        let mut scratch = self.judged.scratch.borrow_mut();
        ids().zip(code).for_each(|(id, &class)| scratch.set(id, content(class)));
        let facts = self.judge_load(&ChannelLoad::new(&scratch, channel.id), code);
        ids().for_each(|id| scratch.set(id, Content::Empty));
        facts
    }

    fn judge_load(&self, load: &ChannelLoad<'_>, code: &[Option<ClassId>]) -> Option<LoadFacts> {
        if !self.in_force.loads.allows_channel(load) {
            return None;
        }
        let driven = if load.is_empty() { Vec::new() } else { self.driven(load) };
        let levels = driven.iter().filter(|driven| !driven.is_refused).map(|driven| driven.level);
        let level = if load.is_empty() { Level::UNBOUNDED } else { levels.max()? };
        let key = if load.is_empty() { None } else { self.key(load) };
        let key = key.map(|key| number(&mut self.judged.keys.borrow_mut(), key));
        let held = if load.is_empty() { None } else { self.held(load) };
        let held = held.map(|held| number(&mut self.judged.held.borrow_mut(), held));
        let sort = self.repeats.as_ref().filter(|_| !load.is_empty()).map(|repeats| repeats.sorts_of(code));
        let sort = sort.map(|sort| number(&mut self.judged.sorts.borrow_mut(), sort));
        let mate = self.in_force.like_groups.first().map(|like| (like.key)(load));
        let mate = mate.map(|mate| number(&mut self.judged.mates.borrow_mut(), mate));
        Some(LoadFacts {
            level,
            driven,
            key,
            held,
            sort,
            usable: usable::unspared(load, self.machine.mode_description()),
            mate,
        })
    }

    /// What a channel holds by round, where a rule asks that channels hold the same.
    fn held(&self, load: &ChannelLoad<'_>) -> Option<Held> {
        let fact = self.in_force.like_channels()?;
        let machine = self.machine;
        let units = machine.units(load.channel().socket);
        let unit = units.iter().find(|unit| unit.channels.contains(&load.id()))?;
        let own = |slots: &Vec<SlotId>| {
            let slot = slots.iter().copied().find(|&slot| machine.platform().slot(slot).channel == load.id())?;
            match load.contents().find(|(other, _)| *other == slot)?.1 {
                Content::Other(_) => None,
                Content::Module(module) => Some(vec![fact(module)]),
                Content::Empty | Content::Faulty(..) | Content::Blank => Some(Vec::new()),
            }
        };
        Some(unit.rounds.iter().map(own).collect())
    }

    /// What a load with modules must have in common with the others, where a caller's rule asks for it.
    fn key(&self, load: &ChannelLoad<'_>) -> Option<FactValue> {
        let mut alike = self.in_force.mixes.iter().filter(|mix| mix.asks_like_channels());
        alike.find_map(|mix| match mix.of {
            MixOf::Channels(key) => key(load).ok().flatten(),
            _ => None,
        })
    }

    /// What a load is at each voltage that suits it.
    fn driven(&self, load: &ChannelLoad<'_>) -> Vec<Driven> {
        let at_most = load.processor().map(|processor| processor.description().max_rate_mts.value);
        let at_most = at_most.or(DataRate::from_mts(DataRate::MAX_MTS).ok());
        let at = |voltage: Option<Voltage>| {
            // what is driven at no voltage that is known has no rate
            let (mut limit, mut known, mut is_barred) = (at_most, voltage.is_some(), false);
            channel_limits(*load, voltage, &mut RowMemo::default(), &mut |raw| {
                is_barred |= raw.is_barred();
                match raw.rate() {
                    Some(rate) => limit = limit.map(|limit| limit.min(rate)),
                    None => known = false,
                }
            });
            let level = if known { step_under(self.machine, limit) } else { Level::NO_RATE };
            Driven { voltage, level, is_barred, is_refused: self.in_force.loads.bars(load, voltage) }
        };
        suitable_voltages(load).into_iter().map(at).collect()
    }
}

/// The index of a value in a list, to whose end it is put where it is new.
fn number<I: Index, T: PartialEq>(known: &mut Table<I, T>, value: T) -> I {
    known.find(|other| *other == value).unwrap_or_else(|| known.push(value))
}
