//! Which modules the rules in force tell apart.

use std::cell::RefCell;
use std::collections::BTreeMap;

use crate::fill::RulesInForce;
use crate::machine::Machine;
use crate::module::{FormFactor, MemoryModule};
use crate::platform::SlotId;
use crate::population::ModuleSite;
use crate::rule::MixOf;

/// By which facts modules are told apart: by part number, maker and power only where a rule in force or a table of the machine reads them, the caller
/// asks for it, or a key of the module is not known. Of two parts of which the same is not known it cannot be said that they
/// are alike; of one part it can.
pub(crate) struct ToldApart<'r, 'a> {
    machine: &'r Machine,
    in_force: &'r RulesInForce<'a>,
    by_identity: bool,
    /// For modules without identity: whether a key of theirs is not known.
    unknown: RefCell<BTreeMap<MemoryModule, bool>>,
}

impl<'r, 'a> ToldApart<'r, 'a> {
    pub(crate) fn new(machine: &'r Machine, in_force: &'r RulesInForce<'a>, by_identity: bool) -> Self {
        let by_identity = by_identity || in_force.reads_identity();
        Self { machine, in_force, by_identity, unknown: RefCell::new(BTreeMap::new()) }
    }

    /// The facts by which a module is told from others.
    pub(crate) fn facts(&self, module: &MemoryModule) -> MemoryModule {
        if self.by_identity {
            return module.clone();
        }
        let bare = module.without_identity();
        let known = self.unknown.borrow().get(&bare).copied();
        let unknown = known.unwrap_or_else(|| {
            let unknown = self.has_unknown_key(&bare);
            self.unknown.borrow_mut().insert(bare.clone(), unknown);
            unknown
        });
        if unknown { module.clone() } else { bare }
    }

    /// Whether some bound on unlike modules has no key for a module in some sort of slot.
    fn has_unknown_key(&self, module: &MemoryModule) -> bool {
        let mut sorts = Vec::new();
        let platform = self.machine.platform();
        let is_new = |&slot: &SlotId| {
            let sort: (_, FormFactor) = (platform.slot(slot).socket, platform.slot(slot).description().form_factor);
            let is_new = !sorts.contains(&sort);
            sorts.push(sort);
            is_new
        };
        let slots: Vec<SlotId> = self.machine.live_slots().filter(is_new).collect();
        let lacks = |slot: SlotId| {
            let site = ModuleSite { machine: self.machine, slot, module };
            self.in_force.mixes.iter().any(|mix| matches!(mix.of, MixOf::Modules(key) if key(&site).is_err()))
        };
        slots.into_iter().any(lacks)
    }
}
