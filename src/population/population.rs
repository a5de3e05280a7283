use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::machine::Machine;
use crate::module::{MemoryModule, Telling};
use crate::platform::{SlotDescription, SlotId};
use crate::population::{Fitted, Occupant};
use crate::stated::Schema;
use crate::unit::Name;

/// What sits in each slot, by slot label. A slot that is not named is empty.
///
/// It belongs to no machine until it is used with one; a label that the machine lacks is an error then.
///
/// ```
/// use slotwright::module::{Generation, MemoryModule, ModuleKind};
/// use slotwright::population::Population;
/// use slotwright::unit::Capacity;
///
/// let module = MemoryModule::builder(Generation::Ddr4, ModuleKind::Registered, Capacity::from_gib(16)).build()?;
/// let population = Population::new().with("A1".parse()?, module.clone()).with("B1".parse()?, module);
/// assert_eq!(population.modules().count(), 2);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Population {
    #[serde(default)]
    schema: Schema,
    slots: BTreeMap<Name, Occupant>,
}

/// One slot in which two populations differ.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Change {
    /// The slot's label.
    pub slot: Name,
    /// What sits there before; nothing where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<Occupant>,
    /// What sits there after.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after: Option<Occupant>,
}

impl Population {
    /// Every slot empty.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The same with a module in a slot, in place of what was there.
    #[must_use]
    pub fn with(mut self, slot: Name, module: MemoryModule) -> Self {
        self.put(slot, Occupant::module(module));
        self
    }

    /// Puts something in a slot and gives back what was there.
    pub fn put(&mut self, slot: Name, occupant: Occupant) -> Option<Occupant> {
        self.slots.insert(slot, occupant)
    }

    /// Empties a slot and gives back what was there.
    pub fn take(&mut self, slot: &str) -> Option<Occupant> {
        self.slots.remove(slot)
    }

    /// What sits in a slot.
    #[must_use]
    pub fn get(&self, slot: &str) -> Option<&Occupant> {
        self.slots.get(slot)
    }

    /// The slots that are not empty, by label.
    pub fn iter(&self) -> impl Iterator<Item = (&Name, &Occupant)> {
        self.slots.iter()
    }

    /// The modules, by slot label.
    pub fn modules(&self) -> impl Iterator<Item = (&Name, &Fitted)> {
        self.slots.iter().filter_map(|(slot, occupant)| match occupant {
            Occupant::Module(fitted) => Some((slot, fitted)),
            Occupant::OtherDevice(_) | Occupant::Blank => None,
        })
    }

    /// What a text must say of its modules so that they are told apart.
    #[must_use]
    pub fn telling(&self) -> Telling {
        Telling::among(self.modules().map(|(_, fitted)| &fitted.module))
    }

    /// A population of what sits in which slot.
    ///
    /// ```
    /// use slotwright::module::Label;
    /// use slotwright::population::{Occupant, Population};
    ///
    /// let module = "32GB 2Rx4 PC4-2666V-RB2-12".parse::<Label>()?.to_module();
    /// let slots = ["A1", "B1", "A1"].map(|slot| (slot.parse().unwrap(), Occupant::module(module.clone())));
    /// assert_eq!(Population::try_from_iter(slots[..2].to_vec())?.len(), 2);
    /// assert_eq!(Population::try_from_iter(slots).unwrap_err().slot, *"A1");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// When slots are given twice: the first of them, with its two places in what is given.
    pub fn try_from_iter(slots: impl IntoIterator<Item = (Name, Occupant)>) -> Result<Self, SlotGivenTwice> {
        let mut population = Self::new();
        let mut places: BTreeMap<Name, usize> = BTreeMap::new();
        for (second, (slot, occupant)) in slots.into_iter().enumerate() {
            if let Some(first) = places.insert(slot.clone(), second) {
                return Err(SlotGivenTwice { slot, first, second });
            }
            population.put(slot, occupant);
        }
        Ok(population)
    }

    /// How many slots are not empty.
    #[must_use]
    pub fn len(&self) -> usize {
        self.slots.len()
    }

    /// Whether every slot is empty.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.slots.is_empty()
    }

    /// The same on a machine in which it runs: of modules of which a fact is missing that a rule may ask for, it is known
    /// that they run. `None` where that is known of all already, or there are none.
    pub(crate) fn as_it_runs(&self, machine: &Machine) -> Option<Self> {
        let platform = machine.platform();
        let limits_height = platform.slots().iter().any(|slot| slot.description().height_limit_um.is_some());
        let likeness = |slot: SlotId| {
            let slot = platform.slot(slot);
            let SlotDescription { form_factor, height_limit_um, .. } = slot.description();
            (machine.processor(slot.socket), form_factor, height_limit_um)
        };
        let running = |(label, fitted): (&Name, &Fitted)| {
            let module = &fitted.module;
            let is_told = module.is_described()
                && (platform.description().power_budget_mw.is_none() || module.power().is_some())
                && (!limits_height || module.height().is_some());
            if is_told || fitted.fault.is_some() || module.runs_at().is_some() {
                return None;
            }
            let slot = platform.slot_named(label.as_str()).filter(|&slot| machine.is_live(slot))?;
            let like = platform.slot_ids().find(|&other| likeness(other) == likeness(slot))?;
            let module = module.running_at(u16::try_from(like.index()).ok()?);
            Some((label.clone(), Occupant::Module(Fitted { module, ..fitted.clone() })))
        };
        let mut running = self.modules().filter_map(running).peekable();
        running.peek()?;
        let mut marked = self.clone();
        marked.slots.extend(running);
        Some(marked)
    }

    /// The same where no more is said of modules than their facts.
    pub(crate) fn by_facts(mut self) -> Self {
        for occupant in self.slots.values_mut() {
            if let Occupant::Module(fitted) = occupant {
                fitted.module = fitted.module.clone().by_facts();
            }
        }
        self
    }

    /// Where `after` differs from what is written here, by slot label.
    ///
    /// This compares two records, of what was observed or is to be: a module with a name ([`Individual`](crate::module::Individual))
    /// that is in another slot is a change, also where an equal one has taken its place. No answer of this crate makes such an
    /// exchange: what is asked to plan, arrange, even out or meet a mode leaves a module where it is if one equal to it is to sit
    /// there, unless the request speaks of just this one: by a pin, a slot to be kept empty or a credit.
    #[must_use]
    pub fn changes_to(&self, after: &Self) -> Vec<Change> {
        let labels = self.slots.keys().chain(after.slots.keys().filter(|label| !self.slots.contains_key(*label)));
        let mut changes: Vec<_> = labels
            .filter(|label| self.get(label.as_str()) != after.get(label.as_str()))
            .map(|label| Change {
                slot: label.clone(),
                before: self.get(label.as_str()).cloned(),
                after: after.get(label.as_str()).cloned(),
            })
            .collect();
        changes.sort();
        changes
    }
}

impl IntoIterator for Population {
    type Item = (Name, Occupant);
    type IntoIter = std::collections::btree_map::IntoIter<Name, Occupant>;

    fn into_iter(self) -> Self::IntoIter {
        self.slots.into_iter()
    }
}

impl<'p> IntoIterator for &'p Population {
    type Item = (&'p Name, &'p Occupant);
    type IntoIter = std::collections::btree_map::Iter<'p, Name, Occupant>;

    fn into_iter(self) -> Self::IntoIter {
        self.slots.iter()
    }
}

/// A slot that is given twice.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("slot {slot} is given twice: entries {} and {}", first + 1, second + 1)]
#[non_exhaustive]
pub struct SlotGivenTwice {
    /// The slot's label.
    pub slot: Name,
    /// Its first place in what is given, from 0.
    pub first: usize,
    /// Its second place.
    pub second: usize,
}

/// Of a slot that is given twice, what comes later counts; [`Population::try_from_iter`] refuses it.
impl FromIterator<(Name, Occupant)> for Population {
    fn from_iter<I: IntoIterator<Item = (Name, Occupant)>>(slots: I) -> Self {
        Self { schema: Schema, slots: slots.into_iter().collect() }
    }
}
