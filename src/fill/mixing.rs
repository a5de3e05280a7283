//! What the bounds on unlike modules, channels and processors mean for a grid.

use std::cell::OnceCell;

use crate::figure::RunningRate;
use crate::fill::{ActiveMix, Grid};
use crate::finding::FactValue;
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Content, Layout, ModuleSite, SocketLoad};
use crate::rule::{KeyResult, MixOf};
use crate::stated::Scope;

/// Reads a key from what sits on a processor.
type SocketKey = dyn Fn(&SocketLoad<'_>) -> KeyResult + Send + Sync;

impl Grid<'_> {
    /// Whether no rule refuses a complete candidate whose modules, channels, counts and mixes are allowed.
    pub(crate) fn allows(&self, layout: &Layout<'_>, rate: &OnceCell<RunningRate>) -> bool {
        self.active.allows(layout, rate) && (self.keys_are_steady || self.active.allows_classes(layout, rate))
    }

    /// Whether the keys of every class are known, and the same in every sort of slot.
    pub(crate) fn are_keys_steady(&self) -> bool {
        let mut sorts: Vec<(usize, usize)> = Vec::new();
        let mut sites: Vec<SlotId> = Vec::new();
        for slot in &self.slots {
            let sort = (slot.socket, self.channels.get(slot.channel).map_or(usize::MAX, |channel| channel.shape));
            if !sorts.contains(&sort) {
                sorts.push(sort);
                sites.push(slot.id);
            }
        }
        let of_modules = |mix: &ActiveMix<'_>| match mix.of {
            MixOf::Modules(key) => self.classes.iter().all(|&module| {
                let mut keys = sites.iter().map(|&slot| key(&ModuleSite { machine: self.machine, slot, module }));
                let first = keys.next();
                !matches!(first, Some(Err(_))) && keys.all(|key| Some(key) == first)
            }),
            MixOf::Channels(_) | MixOf::Sockets(_) => true,
        };
        self.active.mixes.iter().all(of_modules)
    }

    /// The bounds on unlike modules of the machine, or of each processor, with the key of each class in a slot.
    pub(crate) fn mixes_within(&self, within: Scope, slot: SlotId) -> Vec<(usize, Vec<Option<FactValue>>)> {
        let of_machine = self.active.mixes.iter().filter(|mix| mix.bound.within == within);
        of_machine
            .filter_map(|mix| {
                let MixOf::Modules(key) = mix.of else { return None };
                let key =
                    |&module: &&MemoryModule| key(&ModuleSite { machine: self.machine, slot, module }).ok().flatten();
                Some((mix.bound.at_most, self.classes.iter().map(key).collect()))
            })
            .collect()
    }

    /// Whether the bounds on unlike modules of the machine allow these classes together.
    pub(crate) fn mixes_allow(&self, kinds: &[(usize, usize)]) -> bool {
        self.mixes.iter().all(|(at_most, keys)| {
            let key = |&(class, _): &(usize, usize)| keys.get(class)?.as_ref();
            let is_new = |&(index, found): &(usize, &FactValue)| {
                !kinds.iter().take(index).filter_map(key).any(|other| other == found)
            };
            let found = kinds.iter().enumerate().filter_map(|(index, kind)| Some((index, key(kind)?)));
            kinds.len() <= *at_most || found.filter(is_new).count() <= *at_most
        })
    }

    /// Which classes a processor may have together, by the bounds on unlike modules; `None` where none says so, or
    /// where keys depend on the slot.
    pub(crate) fn socket_mixes(&self) -> Option<Vec<(usize, Vec<Option<FactValue>>)>> {
        let slot = self.slots.first().filter(|_| self.keys_are_steady)?;
        let mixes = self.mixes_within(Scope::Socket, slot.id);
        (!mixes.is_empty()).then_some(mixes)
    }

    /// Whether a rule in force asks that the populated channels of a processor be alike.
    pub(crate) fn channels_are_alike(&self) -> bool {
        self.active.mixes.iter().any(|mix| is_alike(mix.of, mix.bound.within, mix.bound.at_most))
    }

    /// Whether the standard rules in force ask that the populated channels of a processor be alike.
    pub(crate) fn loads_repeat(&self) -> bool {
        let is_it = |mix: &ActiveMix<'_>| mix.is_of("channels-alike") && mix.bound.within != Scope::Channel;
        self.active.mixes.iter().any(|mix| is_it(mix) && matches!(mix.of, MixOf::Channels(_)) && mix.bound.at_most == 1)
    }

    /// Whether they ask, too, that processors with memory have the same loads in as many channels.
    pub(crate) fn sockets_repeat(&self) -> bool {
        self.loads_repeat() && self.sockets_alike().is_some()
    }

    /// The standard rule that processors with memory have the same loads, where it is in force.
    fn sockets_alike(&self) -> Option<&SocketKey> {
        let mut mixes = self.active.mixes.iter();
        mixes.find_map(|mix| match mix.of {
            MixOf::Sockets(key) if mix.is_of("sockets-alike") && mix.bound.at_most == 1 => Some(key.as_ref()),
            _ => None,
        })
    }

    /// For each of some classes the first that the rule on processors does not tell from it; `None` where
    /// there is no such rule.
    pub(crate) fn alike_to_sockets(&self, kinds: &[usize]) -> Option<Vec<usize>> {
        let key = self.sockets_alike()?;
        let slot = self.slots.first()?;
        let socket = self.sockets.get(slot.socket)?;
        let mut keys: Vec<Option<FactValue>> = Vec::new();
        let mut firsts = Vec::new();
        for kind in kinds {
            let mut layout = Layout::empty(self.machine);
            layout.set(slot.id, Content::Module(self.classes.get(*kind)?));
            let own = key(&layout.socket(socket.id)).ok().flatten();
            firsts.push(keys.iter().position(|known| *known == own).unwrap_or(keys.len()));
            keys.push(own);
        }
        Some(firsts)
    }
}

pub(crate) fn is_alike(of: &MixOf, within: Scope, at_most: usize) -> bool {
    matches!(of, MixOf::Channels(_)) && within != Scope::Channel && at_most == 1
}
