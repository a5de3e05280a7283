//! What the bounds on unlike modules, channels and processors mean for a model.

use std::cell::OnceCell;

use crate::figure::RunningRate;
use crate::fill::{ClassId, KindIx, MixInForce, ShapeIx, SlotModel, SocketIx};
use crate::finding::FactValue;
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Content, Layout, ModuleSite};
use crate::rule::{KeyResult, MixOf, ModuleFact};
use crate::search::Table;
use crate::stated::Scope;

impl SlotModel<'_> {
    /// Whether no rule refuses a complete candidate whose modules, channels, counts and mixes are allowed.
    pub(crate) fn allows(&self, layout: &Layout<'_>, rate: &OnceCell<RunningRate>) -> bool {
        self.in_force.allows(layout, rate) && (self.keys_are_steady || self.in_force.allows_classes(layout, rate))
    }

    /// Whether the keys of a bound on unlike modules are known for every class, and the same in every sort of slot; in every
    /// slot where the rule does not promise to look at no more. Other bounds have no such keys.
    pub(crate) fn is_known_and_steady(&self, mix: &MixInForce<'_>) -> bool {
        let keys = self.keys(mix);
        keys.values().iter().all(|keys| keys.iter().all(Result::is_ok)) && is_steady(&keys)
    }

    /// For each class its keys under a bound on unlike modules, in every sort of slot.
    fn keys(&self, mix: &MixInForce<'_>) -> Table<ClassId, Vec<KeyResult>> {
        let MixOf::Modules(key) = mix.of else { return Table::default() };
        let mut sorts: Vec<(SocketIx, Option<ShapeIx>)> = Vec::new();
        let mut sites: Vec<SlotId> = Vec::new();
        for slot in self.slots.values() {
            let sort = (slot.socket, self.channels.get(slot.channel).map(|channel| channel.shape));
            if !mix.is_uniform || !sorts.contains(&sort) {
                sorts.push(sort);
                sites.push(slot.id);
            }
        }
        let of = |&module: &&MemoryModule| {
            sites.iter().map(|&slot| key(&ModuleSite { machine: self.machine, slot, module })).collect()
        };
        self.classes.values().iter().map(of).collect()
    }

    /// The bounds on unlike modules of the machine, or of each processor, whose keys are the same in every slot, with the
    /// key of each class.
    pub(crate) fn mixes_within(&self, within: Scope) -> Vec<(usize, Table<ClassId, Option<FactValue>>)> {
        let of_scope = self.in_force.mixes.iter().filter(|mix| mix.bound.within == within);
        of_scope
            .filter(|mix| matches!(mix.of, MixOf::Modules(_)))
            .map(|mix| (mix.bound.at_most, self.keys(mix)))
            .filter(|(_, keys)| is_steady(keys))
            .map(|(at_most, keys)| {
                let key = |keys: Vec<KeyResult>| keys.into_iter().next().and_then(|key| key.ok().flatten());
                (at_most, keys.into_values().map(key).collect())
            })
            .collect()
    }

    /// Whether the bounds on unlike modules of the machine allow these classes together.
    pub(crate) fn mixes_allow(&self, counts: &[(ClassId, usize)]) -> bool {
        self.mixes.iter().all(|(at_most, keys)| {
            let key = |&(class, _): &(ClassId, usize)| keys.get(class)?.as_ref();
            let is_new = |&(index, found): &(usize, &FactValue)| {
                !counts.iter().take(index).filter_map(key).any(|other| other == found)
            };
            let found = counts.iter().enumerate().filter_map(|(index, count)| Some((index, key(count)?)));
            counts.len() <= *at_most || found.filter(is_new).count() <= *at_most
        })
    }

    /// Whether no rule that looks at numbers alone refuses so many modules of each class, which find room.
    pub(crate) fn allows_numbers(&self, counts: &[(ClassId, usize)]) -> bool {
        if !self.in_force.looks_at_numbers() {
            return true;
        }
        let modules = counts.iter().flat_map(|&(class, count)| std::iter::repeat_n(self.classes.get(class), count));
        let mut layout = self.fixed.clone();
        for (slot, module) in self.slots.values().iter().zip(modules.flatten()) {
            layout.set(slot.id, Content::Module(module));
        }
        self.in_force.allows_numbers(&layout)
    }

    /// Which classes a processor may have together, by the bounds on unlike modules; `None` where none says so.
    pub(crate) fn socket_mixes(&self) -> Option<Vec<(usize, Table<ClassId, Option<FactValue>>)>> {
        let mixes = self.mixes_within(Scope::Socket);
        (!mixes.is_empty()).then_some(mixes)
    }

    /// Whether a rule in force asks that the populated channels of a processor be alike.
    pub(crate) fn channels_are_alike(&self) -> bool {
        let of_channels = |mix: &&MixInForce<'_>| matches!(mix.of, MixOf::Channels(_) | MixOf::Loads(_));
        self.in_force.mixes.iter().filter(of_channels).any(MixInForce::asks_like_channels)
    }

    /// What tells loads apart where a rule in force asks that the populated channels of a processor be alike in the facts of
    /// their modules, and classes of one such fact have one capacity: all channels with memory then hold as much.
    pub(crate) fn loads_repeat(&self) -> Option<&ModuleFact> {
        let fact = self.in_force.like_channels()?;
        let capacity = |module: &MemoryModule| FactValue::CapacityMib(module.capacity());
        self.decides(fact, &capacity).then_some(fact)
    }

    /// Whether rules ask, too, that processors with memory have the same loads in as many channels.
    pub(crate) fn sockets_repeat(&self) -> bool {
        match (self.loads_repeat(), self.in_force.like_processors()) {
            (Some(loads), Some(processors)) => self.decides(processors, loads),
            _ => false,
        }
    }

    /// Whether classes of one fact have one other fact.
    fn decides(&self, fact: &Fact, other: &Fact) -> bool {
        let facts: Vec<_> = self.classes.values().iter().map(|module| (fact(module), other(module))).collect();
        facts
            .iter()
            .all(|(fact, other)| facts.iter().find(|(known, _)| known == fact).is_none_or(|first| first.1 == *other))
    }

    /// For each kind the first that the rule on processors does not tell from it; `None` where
    /// there is no such rule.
    pub(crate) fn alike_to_sockets(&self, kinds: &Table<KindIx, ClassId>) -> Option<Table<KindIx, KindIx>> {
        let fact = self.in_force.like_processors()?;
        let mut known: Table<KindIx, FactValue> = Table::default();
        for &class in kinds.values() {
            known.push(fact(self.classes.get(class)?));
        }
        // each is at least its own first
        known.values().iter().map(|own| known.find(|other| other == own)).collect()
    }
}

/// What of a module tells loads apart.
type Fact = dyn Fn(&MemoryModule) -> FactValue + Send + Sync;

/// Whether each class has one key in all slots.
fn is_steady(keys: &Table<ClassId, Vec<KeyResult>>) -> bool {
    keys.values().iter().all(|keys| keys.windows(2).all(|pair| pair.first() == pair.last()))
}
