//! What the bounds on unlike modules, channels and processors mean for a model.

use std::cell::OnceCell;

use crate::figure::RunningRate;
use crate::fill::{ClassId, MixInForce, SlotModel};
use crate::finding::FactValue;
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Content, Layout, ModuleSite};
use crate::rule::{KeyResult, MixOf};
use crate::search::Table;
use crate::stated::Scope;

/// A bound on unlike modules whose keys are the same in every slot.
pub(crate) struct MixKeys {
    pub(crate) within: Scope,
    pub(crate) at_most: usize,
    /// The key of each class; none where it takes no part, or has no key that is known.
    pub(crate) keys: Table<ClassId, Option<FactValue>>,
}

impl SlotModel<'_> {
    /// Whether no rule refuses a complete candidate whose modules, channels, counts and mixes are allowed.
    pub(crate) fn allows(&self, layout: &Layout<'_>, rate: &OnceCell<RunningRate>) -> bool {
        self.in_force.allows(layout, rate, self.before.as_ref())
            && (self.keys_are_steady || self.in_force.allows_classes(layout, rate))
    }

    /// Reads the keys of the classes under each bound on unlike modules, in every sort of slot: which bounds have the same keys
    /// in all of them, and whether all do and every key is known.
    pub(crate) fn read_mixes(&self) -> (Vec<MixKeys>, bool) {
        let (mut steady, mut all) = (Vec::new(), true);
        let mut sorts = Vec::new();
        let mut sites: Vec<(SlotId, bool)> = Vec::new();
        for channel in self.channels.values() {
            for (index, place) in channel.slots.iter().enumerate() {
                let Some(slot) = self.slots.get(*place) else { continue };
                let sort = (slot.socket, channel.shape, index);
                sites.push((slot.id, !sorts.contains(&sort)));
                sorts.push(sort);
            }
        }
        for mix in &self.in_force.mixes {
            let MixOf::Modules(key) = mix.of else { continue };
            // in every slot where the rule does not promise to look at no more than its sort
            let sites = sites.iter().filter(|(_, is_first)| *is_first || !mix.is_uniform);
            let sites: Vec<SlotId> = sites.map(|&(slot, _)| slot).collect();
            let of = |&module: &&MemoryModule| -> Vec<KeyResult> {
                sites.iter().map(|&slot| key(&ModuleSite { machine: self.machine, slot, module })).collect()
            };
            let keys: Vec<Vec<KeyResult>> = self.classes.values().iter().map(of).collect();
            let is_steady = keys.iter().all(|keys| keys.windows(2).all(|pair| pair.first() == pair.last()));
            all &= is_steady && keys.iter().all(|keys| keys.iter().all(Result::is_ok));
            if is_steady {
                let key = |keys: Vec<KeyResult>| keys.into_iter().next().and_then(|key| key.ok().flatten());
                let keys = keys.into_iter().map(key).collect();
                steady.push(MixKeys { within: mix.bound.within, at_most: mix.bound.at_most, keys });
            }
        }
        (steady, all)
    }

    /// The bounds within a scope whose keys are the same in every slot.
    pub(crate) fn mixes_within(&self, within: Scope) -> impl Iterator<Item = &MixKeys> {
        self.mixes.iter().filter(move |mix| mix.within == within)
    }

    /// Whether a processor may hold modules of two classes, with all of its places filled or not.
    pub(crate) fn may_meet(&self, one: ClassId, other: ClassId, is_full: bool) -> bool {
        let (Some(a), Some(b)) = (self.classes.get(one), self.classes.get(other)) else { return true };
        let key = |mix: &MixKeys, class| mix.keys.get(class).cloned().flatten();
        let is_one_key = |mix: &MixKeys| key(mix, one).zip(key(mix, other)).is_none_or(|(one, other)| one == other);
        let mut mixes = self.mixes_within(Scope::Socket).filter(|mix| mix.at_most == 1);
        mixes.all(is_one_key) && !self.in_force.apart.iter().any(|bars| bars(a, b, is_full) || bars(b, a, is_full))
    }

    /// Whether the bounds on unlike modules of the machine allow these classes together.
    pub(crate) fn mixes_allow(&self, counts: &[(ClassId, usize)]) -> bool {
        self.mixes_within(Scope::Machine).all(|mix| {
            let key = |&(class, _): &(ClassId, usize)| mix.keys.get(class)?.as_ref();
            let is_new = |&(index, found): &(usize, &FactValue)| {
                !counts.iter().take(index).filter_map(key).any(|other| other == found)
            };
            let found = counts.iter().enumerate().filter_map(|(index, count)| Some((index, key(count)?)));
            counts.len() <= mix.at_most || found.filter(is_new).count() <= mix.at_most
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

    /// Whether a rule in force asks that the populated channels of a processor be alike.
    pub(crate) fn channels_are_alike(&self) -> bool {
        let of_channels = |mix: &&MixInForce<'_>| matches!(mix.of, MixOf::Channels(_) | MixOf::Loads(_));
        self.in_force.mixes.iter().filter(of_channels).any(MixInForce::asks_like_channels)
    }
}
