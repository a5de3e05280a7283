//! Two reports of one machine, before and after.

use core::fmt;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::population::observed::combine::serial;
use crate::population::{ModuleFact, PlaceState, Sited, SitedSlot};
use crate::stated::Schema;
use crate::unit::Name;

/// In what two states of one machine differ, as far as their reports tell. What one of them leaves out is no difference.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SeenChanges {
    /// The version of the document's form.
    pub schema: Schema,
    /// Modules that are in another slot, by their serial numbers.
    pub moved: Vec<SeenMove>,
    /// What else is not the same in a slot, by slot.
    pub changes: Vec<SeenChange>,
}

/// A module that is in another slot.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SeenMove {
    /// Its serial number.
    pub serial: Name,
    /// Where it was.
    pub from: Name,
    /// Where it is.
    pub to: Name,
}

/// Something of a slot that is not the same.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SeenChange {
    /// The slot.
    pub slot: Name,
    /// What.
    pub of: ChangeOf,
    /// What it was.
    pub before: Name,
    /// What it is.
    pub after: Name,
}

/// What of a slot is not the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum ChangeOf {
    /// What is there and whether it works.
    State,
    /// A fact of its module.
    Fact(ModuleFact),
    /// The rate at which it runs.
    RunningRate,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

impl Sited {
    /// In what a later state of the same machine differs from this one, as far as both tell.
    ///
    /// ```
    /// use slotwright::population::{Medium, Observed, PlaceState, Report, SeenModule, SeenPlace};
    /// use slotwright::{Name, reference};
    ///
    /// let board = reference::ddr4_2s_4ch_3spc();
    /// let with = |slot: &str| -> Result<_, Box<dyn std::error::Error>> {
    ///     let seen = SeenModule::new().serial(Name::new("4B300100")?);
    ///     let place = SeenPlace::new(Name::new("0x1100")?, PlaceState::InUse).locator(Name::new(slot)?).module(seen);
    ///     Ok(Observed::from(Report::new(Name::new("dump")?, Medium::Machine).place(place)).on(&board)?)
    /// };
    /// let changes = with("A1")?.changes_to(&with("B1")?);
    /// assert_eq!(changes.to_string(), "module 4B300100 moved from A1 to B1");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn changes_to(&self, after: &Self) -> SeenChanges {
        let number = |slot: &SitedSlot| serial(slot.serial.as_ref()?.as_str());
        let places = |sited: &Self| -> BTreeMap<String, Option<Name>> {
            let mut places = BTreeMap::new();
            for slot in &sited.slots {
                if let Some(number) = number(slot) {
                    // a number that comes twice tells nothing
                    places.entry(number).and_modify(|place| *place = None).or_insert(Some(slot.slot.clone()));
                }
            }
            places
        };
        let (was, is) = (places(self), places(after));
        let mut moved = Vec::new();
        for slot in &after.slots {
            let from = number(slot).and_then(|number| Some((was.get(&number)?.clone()?, is.get(&number)?.clone()?)));
            if let Some((from, to)) = from.filter(|(from, to)| from != to) {
                let serial = slot.serial.clone().unwrap_or_else(|| Name::lossy(""));
                moved.push(SeenMove { serial, from, to });
            }
        }
        let mut labels: Vec<&Name> = self.slots.iter().chain(&after.slots).map(|slot| &slot.slot).collect();
        labels.sort();
        labels.dedup();
        let mut changes = Vec::new();
        for label in labels {
            // what left and what came is said by moves
            let left = moved.iter().any(|one| one.from == *label);
            let came = moved.iter().any(|one| one.to == *label);
            self.compare_slot(after, label, (left, came), &mut changes);
        }
        SeenChanges { schema: Schema, moved, changes }
    }

    fn compare_slot(&self, later: &Self, label: &Name, (left, came): (bool, bool), changes: &mut Vec<SeenChange>) {
        let mut push = |of, before: String, after: String| {
            let [before, after] = [before, after].map(|text| Name::lossy(&text));
            changes.push(SeenChange { slot: label.clone(), of, before, after });
        };
        let (was, is) = (self.slot(label.as_str()), later.slot(label.as_str()));
        // a slot that a complete report does not name is empty; of others nothing is known
        let state = |sited: &Self, slot: Option<&SitedSlot>| match slot {
            Some(slot) => slot.state,
            None if sited.untold.contains(label) => PlaceState::Unknown,
            None => PlaceState::Absent,
        };
        let (before, after) = (state(self, was), state(later, is));
        let is_told = before != PlaceState::Unknown && after != PlaceState::Unknown;
        let is_said = (left || came) && before.is_filled() != after.is_filled();
        if is_told && before != after && !is_said {
            push(ChangeOf::State, before.to_string(), after.to_string());
        }
        let (Some(was), Some(is)) = (was, is) else { return };
        let serials = was.serial.as_ref().zip(is.serial.as_ref());
        let serials = serials.filter(|(one, other)| serial(one.as_str()) != serial(other.as_str()));
        if let Some((one, other)) = serials.filter(|_| !(left && came)) {
            push(ChangeOf::Fact(ModuleFact::Serial), one.to_string(), other.to_string());
        }
        let modules =
            was.module.and_then(|at| self.modules.get(at)).zip(is.module.and_then(|at| later.modules.get(at)));
        if let Some((one, other)) = modules {
            for fact in ModuleFact::ALL.into_iter().filter(|&fact| one.seen.contradicts(&other.seen, fact)) {
                let text = |seen: &crate::population::SeenModule| seen.text(fact).unwrap_or_default();
                push(ChangeOf::Fact(fact), text(&one.seen), text(&other.seen));
            }
        }
        let rates = was.running_rate_mts.zip(is.running_rate_mts).filter(|(one, other)| one != other);
        if let Some((one, other)) = rates {
            push(ChangeOf::RunningRate, one.to_string(), other.to_string());
        }
    }
}

impl fmt::Display for SeenChanges {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.moved.is_empty() && self.changes.is_empty() {
            return f.write_str("the same, as far as both tell");
        }
        let moves =
            self.moved.iter().map(|SeenMove { serial, from, to }| format!("module {serial} moved from {from} to {to}"));
        let changes = self.changes.iter().map(ToString::to_string);
        f.write_str(&moves.chain(changes).collect::<Vec<_>>().join("\n"))
    }
}

impl fmt::Display for SeenChange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { slot, of, before, after } = self;
        match of {
            ChangeOf::State => write!(f, "{slot}: {before} before, {after} now"),
            ChangeOf::Fact(fact) => write!(f, "{slot}: {fact} {before} before, {after} now"),
            ChangeOf::RunningRate => write!(f, "{slot}: ran at {before}, runs at {after}"),
            ChangeOf::Other => write!(f, "{slot}: {before} before, {after} now"),
        }
    }
}
