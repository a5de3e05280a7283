//! From what is sited to a population, and what answers do.

use core::fmt;
use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::module::{Individual, MemoryModule};
use crate::population::observed::combine::serial;
use crate::population::observed::locator::folded;
use crate::population::{
    About, Assumed, Disagreement, Fault, Fitted, LeansOn, Medium, ModuleFact, Occupant, OtherDevice, PlaceState,
    Population, Said, SeenModule, Sited, SitedModule, SitedSlot,
};
use crate::unit::{Capacity, Name};

/// What a caller says of something that is open. The only ways in which something that reports leave open is settled.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Answer {
    /// What the module of a slot is, and all that are taken to be like it. These facts go before those of any report.
    Module {
        /// The slot.
        slot: Name,
        /// The facts.
        facts: SeenModule,
    },
    /// What is in a slot, and whether it works.
    State {
        /// The slot.
        slot: Name,
        /// What is there.
        state: PlaceState,
    },
    /// The slots of which no report tells anything are empty.
    RestIsEmpty,
    /// The modules of these slots are alike.
    Alike {
        /// Their labels.
        slots: Vec<Name>,
    },
}

/// Why an answer cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum AnswerError {
    /// Of a slot in which no module is.
    #[error("no report names a module in slot {slot}; there are modules in {filled}")]
    NoModule {
        /// The slot.
        slot: Name,
        /// The slots in which modules are.
        filled: crate::unit::Names,
    },
    /// Modules that reports say are unlike.
    #[error("the modules in {slot} and {other} are not alike: {facts}")]
    Unlike {
        /// A slot.
        slot: Name,
        /// Another slot.
        other: Name,
        /// The facts in which they differ.
        facts: crate::unit::Names,
    },
    /// Facts that no module has together.
    #[error("no module of {size} can be as answered for slot {slot}")]
    Impossible {
        /// The slot.
        slot: Name,
        /// The size.
        size: Capacity,
    },
}

/// What the caller knows of modules by their part numbers. The library ships none.
///
/// ```
/// use std::collections::BTreeMap;
///
/// use slotwright::population::{PartFacts, SeenModule};
/// use slotwright::{Label, MemoryModule, Name};
///
/// let module = "16GB 2Rx4 PC4-2400T-RA1-11".parse::<Label>()?.to_module();
/// let parts: BTreeMap<Name, MemoryModule> = [(Name::new("GW-16-2R4")?, module.clone())].into();
/// // case and separators are no matter
/// assert_eq!(parts.facts(&Name::new("gw 16 2r4")?, None), Some(SeenModule::of(&module)));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub trait PartFacts {
    /// What is known of a part, by its number and, where a report names one, its maker. It need not be all.
    fn facts(&self, part_number: &Name, maker: Option<&Name>) -> Option<SeenModule>;
}

impl PartFacts for BTreeMap<Name, MemoryModule> {
    fn facts(&self, part_number: &Name, _: Option<&Name>) -> Option<SeenModule> {
        let exact = self.get(part_number);
        let alike = || {
            let wanted = folded(part_number.as_str());
            self.iter().find(|(part, _)| folded(part.as_str()) == wanted).map(|(_, module)| module)
        };
        exact.or_else(alike).map(SeenModule::of)
    }
}

/// Why reports make no population: what is open of modules that are there.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("{}", open.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
#[non_exhaustive]
pub struct OpenError {
    /// What is open; never empty.
    pub open: Vec<Open>,
}

/// Something that must be known before there is a population.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Open {
    /// The slots of the modules.
    pub slots: Vec<Name>,
    /// What of them, and the answers that are possible; no answers where anything is.
    pub about: Vec<(OpenMatter, Vec<Name>)>,
}

/// What is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum OpenMatter {
    /// A fact of the module.
    Fact(ModuleFact),
    /// Whether there is one, and whether it works.
    State,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

impl fmt::Display for Open {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let slots = self.slots.iter().map(Name::as_str).collect::<Vec<_>>().join(", ");
        if matches!(self.about.as_slice(), [(OpenMatter::State, answers)] if answers.is_empty()) {
            return write!(f, "no report tells what is in {slots}: get a complete one, or say that they are empty");
        }
        write!(f, "what is in {slots} is open: ")?;
        for (index, (matter, answers)) in self.about.iter().enumerate() {
            f.write_str(if index == 0 { "" } else { ", " })?;
            match matter {
                OpenMatter::Fact(fact) => fact.fmt(f)?,
                OpenMatter::State => f.write_str("whether a module is there and works")?,
                OpenMatter::Other => f.write_str("something that a newer version knows")?,
            }
            if !answers.is_empty() {
                write!(f, " ({})", answers.iter().map(Name::as_str).collect::<Vec<_>>().join(" or "))?;
            }
        }
        Ok(())
    }
}

impl Sited {
    /// What sits in each slot: of each module the facts that all its readings have in common. Other facts stay unknown,
    /// and what runs is evidence for them ([`Planner::assess_in_use`](crate::assess::Planner::assess_in_use)). A module
    /// that has failed, or that is there and not in use, has a fault; the caller may answer otherwise.
    ///
    /// # Errors
    /// Where generation, kind or size of a module is open, or whether it is there; where no complete report tells what is in a
    /// slot ([`Sited::untold`]).
    pub fn population(&self) -> Result<Population, OpenError> {
        let mut open = Vec::new();
        for module in self.modules.iter().filter(|module| module.seen.device.is_none() && !module.is_settled()) {
            let facts = module.open_facts().into_iter();
            let blocking =
                facts.filter(|fact| matches!(fact, ModuleFact::Generation | ModuleFact::Kind | ModuleFact::Capacity));
            let about = blocking.map(|fact| (OpenMatter::Fact(fact), module.values(fact))).collect();
            open.push(Open { slots: module.slots.clone(), about });
        }
        let disputed = self.disagreements.iter().filter(|one| one.about == About::State && one.taken.is_none());
        for one in
            disputed.filter(|one| self.slot(one.slot.as_str()).is_some_and(|slot| slot.state == PlaceState::Unknown))
        {
            let answers: BTreeSet<Name> = one.said.iter().map(|said| said.value.clone()).collect();
            let about = vec![(OpenMatter::State, answers.into_iter().collect())];
            open.push(Open { slots: vec![one.slot.clone()], about });
        }
        if !self.untold.is_empty() {
            open.push(Open { slots: self.untold.clone(), about: vec![(OpenMatter::State, Vec::new())] });
        }
        if !open.is_empty() {
            return Err(OpenError { open });
        }
        let mut numbers: BTreeMap<String, usize> = BTreeMap::new();
        for slot in &self.slots {
            if let Some(number) = slot.serial.as_ref().and_then(|number| serial(number.as_str())) {
                *numbers.entry(number).or_default() += 1;
            }
        }
        let mut population = Population::new();
        for slot in &self.slots {
            let Some(module) = slot.module.and_then(|at| self.modules.get(at)) else { continue };
            let occupant = if let Some(device) = self.other_device(slot) {
                Occupant::OtherDevice(device)
            } else {
                let Some(common) = module.common() else { continue };
                let is_one =
                    |number: &&Name| serial(number.as_str()).is_some_and(|number| numbers.get(&number) == Some(&1));
                let individual = slot.serial.as_ref().filter(is_one).cloned().map(Individual::new);
                Occupant::Module(Fitted::new(common).individual(individual).fault(slot.fault()))
            };
            population.put(slot.slot.clone(), occupant);
        }
        Ok(population)
    }

    /// What is in a slot where it is no plain memory.
    pub(crate) fn other_device(&self, slot: &SitedSlot) -> Option<OtherDevice> {
        let seen = &self.modules.get(slot.module?)?.seen;
        let capacity = seen.capacity_mib.or(seen.capacity_at_least_mib).unwrap_or(Capacity::ZERO);
        let text = seen.part_number.clone().unwrap_or_else(|| Name::lossy("a device that is no plain memory"));
        Some(OtherDevice::new(seen.device?, capacity, text))
    }

    /// The same with what a caller says of what is open.
    ///
    /// # Errors
    /// An answer on a slot in which no module is, on facts that no module has together, or that unlike modules are alike.
    pub fn settle(&self, answers: impl IntoIterator<Item = Answer>) -> Result<Self, AnswerError> {
        let mut sited = self.clone();
        for answer in answers {
            sited.take(answer)?;
        }
        sited.read();
        Ok(sited)
    }

    fn take(&mut self, answer: Answer) -> Result<(), AnswerError> {
        match answer {
            Answer::State { slot, state } => {
                self.module_index(&slot)?;
                if let Some(sited) = self.slots.iter_mut().find(|sited| sited.slot == slot) {
                    sited.state = state;
                    if state == PlaceState::Absent {
                        sited.module = None;
                    }
                }
                if state == PlaceState::Absent {
                    self.modules.iter_mut().for_each(|module| module.slots.retain(|own| *own != slot));
                    self.drop_emptied();
                }
                self.disagreements.retain(|one| !(one.slot == slot && one.about == About::State));
                self.assumed.push(Assumed::Answered { slots: vec![slot], answer: Name::lossy(&state.to_string()) });
            }
            Answer::Module { slot, facts } => {
                let at = self.module_index(&slot)?;
                let Some(module) = self.modules.get_mut(at) else { return Ok(()) };
                let said = module.answer(&facts, Medium::Caller, &slot)?;
                let slots = module.slots.clone();
                self.disagreements.retain(|one| {
                    !(slots.contains(&one.slot) && matches!(one.about, About::Fact(fact) if facts.has(fact)))
                });
                for sited in self.slots.iter_mut().filter(|sited| slots.contains(&sited.slot)) {
                    let disputed = self
                        .disagreements
                        .iter()
                        .any(|one| one.slot == sited.slot && !one.is_note && one.taken.is_some());
                    sited.is_held_back = sited.is_held_back && disputed;
                }
                self.assumed.push(Assumed::Answered { slots, answer: said });
            }
            Answer::RestIsEmpty => {
                let slots = std::mem::take(&mut self.untold);
                self.assumed.push(Assumed::Answered { slots, answer: Name::lossy("empty") });
            }
            Answer::Alike { slots } => self.make_alike(slots)?,
        }
        Ok(())
    }

    fn module_index(&self, slot: &Name) -> Result<usize, AnswerError> {
        let filled = || self.slots.iter().filter(|slot| slot.module.is_some()).map(|slot| &slot.slot).collect();
        let at = self.slot(slot.as_str()).and_then(|sited| sited.module);
        at.ok_or_else(|| AnswerError::NoModule { slot: slot.clone(), filled: filled() })
    }

    fn make_alike(&mut self, slots: Vec<Name>) -> Result<(), AnswerError> {
        let mut indices = Vec::new();
        for slot in &slots {
            indices.push((slot.clone(), self.module_index(slot)?));
        }
        let Some((first, into)) = indices.first().cloned() else { return Ok(()) };
        for (slot, at) in indices {
            let (Some(module), Some(other)) = (self.modules.get(into), self.modules.get(at)) else { continue };
            let unlike: Vec<Name> = ModuleFact::ALL
                .into_iter()
                .filter(|fact| !matches!(fact, ModuleFact::Serial) && module.seen.contradicts(&other.seen, *fact))
                .map(|fact| Name::lossy(&fact.to_string()))
                .collect();
            if !unlike.is_empty() {
                return Err(AnswerError::Unlike { slot: first, other: slot, facts: unlike.iter().collect() });
            }
            if at != into {
                let other = other.clone();
                if let Some(module) = self.modules.get_mut(into) {
                    for slot in &other.slots {
                        module.join(slot.clone(), &other.seen, &other.said_by);
                    }
                }
                for sited in self.slots.iter_mut().filter(|sited| sited.module == Some(at)) {
                    sited.module = Some(into);
                }
                if let Some(emptied) = self.modules.get_mut(at) {
                    emptied.slots.clear();
                }
            }
        }
        self.drop_emptied();
        self.assumed.push(Assumed::Alike { slots });
        Ok(())
    }

    /// Drops modules that are in no slot any more.
    fn drop_emptied(&mut self) {
        let mut moved = Vec::new();
        let mut kept = Vec::new();
        for module in self.modules.drain(..) {
            moved.push((!module.slots.is_empty()).then_some(kept.len()));
            if !module.slots.is_empty() {
                kept.push(module);
            }
        }
        self.modules = kept;
        for slot in &mut self.slots {
            slot.module = slot.module.and_then(|at| moved.get(at).copied().flatten());
        }
    }

    /// The same with what a caller knows of part numbers. It is trusted as a label is: more than machine reports, less than an
    /// SPD.
    #[must_use]
    pub fn with_parts(&self, parts: &impl PartFacts) -> Self {
        let mut sited = self.clone();
        let mut leaning = Vec::new();
        for (at, module) in sited.modules.iter_mut().enumerate() {
            let part = module.seen.part_number.clone();
            let known = part.and_then(|part| parts.facts(&part, module.seen.maker.as_ref()));
            let (Some(known), Some(slot)) = (known, module.slots.first().cloned()) else { continue };
            let facts = SeenModule { part_number: None, maker: None, serial: None, ..known };
            for fact in ModuleFact::ALL.into_iter().filter(|&fact| module.seen.contradicts(&facts, fact)) {
                let said = |by: Option<&Name>, medium, seen: &SeenModule| Said {
                    report: by.cloned().unwrap_or_else(|| Name::lossy("the part number")),
                    medium,
                    value: Name::lossy(&seen.text(fact).unwrap_or_default()),
                };
                let by = module.said_by.get(&fact);
                sited.disagreements.push(Disagreement {
                    slot: slot.clone(),
                    about: About::Fact(fact),
                    said: vec![said(None, Medium::Label, &facts), said(by, Medium::Machine, &module.seen)],
                    taken: Some(Name::lossy(&facts.text(fact).unwrap_or_default())),
                    is_note: true,
                });
            }
            if module.answer(&facts, Medium::Label, &slot).is_ok() {
                leaning.push(at);
            }
        }
        sited.read();
        for at in leaning {
            if let Some(module) = sited.modules.get_mut(at) {
                module.leans_on.insert(LeansOn::PartNumber);
            }
        }
        sited
    }
}

impl SitedSlot {
    /// What is wrong with its module: it has failed, or it is there and the machine does not use it.
    pub(crate) const fn fault(&self) -> Option<Fault> {
        match self.state {
            PlaceState::Failed => Some(Fault::Failed),
            PlaceState::NotInUse => Some(Fault::Suspect),
            PlaceState::Absent | PlaceState::InUse | PlaceState::Unknown => None,
        }
    }
}

impl SitedModule {
    /// Takes facts before those that are known.
    fn answer(&mut self, facts: &SeenModule, medium: Medium, slot: &Name) -> Result<Name, AnswerError> {
        let mut seen = self.seen.clone();
        let mut said = Vec::new();
        for fact in ModuleFact::ALL {
            if let Some(text) = facts.text(fact) {
                seen.take(fact, facts);
                said.push(format!("{fact} {text}"));
            }
        }
        // ranks that are known count for more than a number of which it is not known what it counts
        if facts.package_ranks.is_some() {
            seen.rank_number = None;
        }
        if let Some(size) = seen.capacity_mib.filter(|_| seen.device.is_none()) {
            let possible = SitedModule { seen: seen.clone(), ..self.clone() }.is_readable();
            if !possible {
                return Err(AnswerError::Impossible { slot: slot.clone(), size });
            }
        }
        let name = Name::lossy(if medium == Medium::Caller { "the caller" } else { "the part number" });
        for fact in ModuleFact::ALL.into_iter().filter(|&fact| facts.has(fact)) {
            self.said_by.insert(fact, name.clone());
        }
        self.seen = seen;
        Ok(Name::lossy(&said.join(", ")))
    }

    fn is_readable(&self) -> bool {
        !crate::population::observed::readings::Readings::of(&self.seen).modules.is_empty()
    }

    /// The values that a fact has in the readings, as texts.
    #[must_use]
    pub fn values(&self, fact: ModuleFact) -> Vec<Name> {
        let values: BTreeSet<String> =
            self.readings.iter().filter_map(|module| SeenModule::of(module).text(fact)).collect();
        values.iter().map(|value| Name::lossy(value)).collect()
    }
}
