//! What is sited, as text.

use core::fmt;

use crate::population::{Disagreement, ModuleFact, PlaceState, Sited, SitedModule};
use crate::unit::listed;

/// What is known and what is open of a module, in a line or two.
impl fmt::Display for SitedModule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} x {}: {}", self.slots.len(), listed(&self.slots), self.seen)?;
        if self.seen.device.is_some() {
            return f.write_str("\n    no plain memory: it stays where it is");
        }
        let open = self.open_facts();
        match self.readings.as_slice() {
            [] => f.write_str("\n    the size is not known, so that nothing can be worked out")?,
            [only] => write!(f, "\n    it can only be {only}")?,
            readings => {
                write!(f, "\n    it can be one of {}", readings.len())?;
                if readings.len() <= 12 {
                    let text = |module: &crate::module::MemoryModule| module.organization().map(|of| of.to_string());
                    let mut texts: Vec<String> = readings.iter().filter_map(text).collect();
                    texts.sort();
                    texts.dedup();
                    write!(f, " ({})", texts.join(", "))?;
                }
                f.write_str("; open:")?;
                for (index, fact) in open.iter().enumerate() {
                    let values = self.values(*fact).iter().map(ToString::to_string).collect::<Vec<_>>().join(" or ");
                    write!(f, "{} {fact} ({values})", if index == 0 { "" } else { "," })?;
                }
            }
        }
        if !self.leans_on.is_empty() {
            let on = self.leans_on.iter().map(ToString::to_string).collect::<Vec<_>>().join(" and ");
            write!(f, "; that leans on {on}")?;
        }
        let missing: Vec<String> = [ModuleFact::FormFactor, ModuleFact::Ecc, ModuleFact::Grade, ModuleFact::Voltages]
            .into_iter()
            .filter(|fact| !open.contains(fact) && self.values(*fact).is_empty() && !self.readings.is_empty())
            .map(|fact| fact.to_string())
            .collect();
        if missing.is_empty() { Ok(()) } else { write!(f, "; not told: {}", missing.join(", ")) }
    }
}

impl fmt::Display for Disagreement {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, {}: ", self.slot, self.about)?;
        for (index, said) in self.said.iter().enumerate() {
            write!(f, "{}{} says {}", if index == 0 { "" } else { ", " }, said.report, said.value)?;
        }
        match &self.taken {
            Some(taken) => write!(f, "; taken: {taken}"),
            None => f.write_str("; left open"),
        }
    }
}

/// Slot by slot, then what the modules can be, what is disputed, what was assumed.
impl fmt::Display for Sited {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let filled = self.slots.iter().filter(|slot| slot.module.is_some()).count();
        let empty = self.slots.iter().filter(|slot| slot.state == PlaceState::Absent).count();
        write!(f, "On {}: {filled} slots hold something, {empty} are listed as empty", self.platform)?;
        for placement in &self.placements {
            write!(f, "\n  {} is read {}", placement.report, placement.by)?;
        }
        for processor in &self.processors {
            let there = match processor.is_present {
                Some(true) => "there",
                Some(false) => "empty",
                None => "not told",
            };
            write!(f, "\n  processor {}: {there}", processor.socket)?;
            processor.text.as_ref().map_or(Ok(()), |text| write!(f, ", {text}"))?;
        }
        self.modules.iter().try_for_each(|module| write!(f, "\n  {module}"))?;
        for slot in self.slots.iter().filter(|slot| slot.module.is_some() && slot.state != PlaceState::InUse) {
            write!(f, "\n  {}: {}", slot.slot, slot.state)?;
        }
        for slot in self.held_back() {
            write!(f, "\n  {slot}: held back, for its SPD, its label or the caller contradict each other")?;
        }
        if !self.untold.is_empty() {
            write!(f, "\n  no report tells what is in {}", listed(&self.untold))?;
        }
        for place in &self.unplaced {
            let texts = if place.texts.is_empty() { place.id.to_string() } else { listed(&place.texts) };
            write!(f, "\n  {} of {} is on no slot: {}", texts, place.report, place.state)?;
            place.module.as_ref().map_or(Ok(()), |module| write!(f, ", {module}"))?;
        }
        self.disagreements.iter().try_for_each(|one| write!(f, "\n  disagreement: {one}"))?;
        self.assumed.iter().try_for_each(|one| write!(f, "\n  assumed: {one}"))
    }
}
