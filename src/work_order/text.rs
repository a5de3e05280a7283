//! Orders as text.

use core::fmt;
use std::collections::BTreeSet;

use crate::module::{MemoryModule, Telling};
use crate::population::{PlaceState, Population, SeenPlace, TotalOf};
use crate::unit::{Capacity, DataRate, Name, counted, listed};
use crate::work_order::{Halt, OrderLine, StopRule, Supply, TrialStart, WayBack, Without, WithoutAnswer, WorkOrder};

fn modules<'p>(populations: impl IntoIterator<Item = &'p Population>) -> impl Iterator<Item = &'p MemoryModule> {
    populations.into_iter().flat_map(|population| population.modules().map(|(_, fitted)| &fitted.module))
}

fn lines(f: &mut fmt::Formatter<'_>, lines: &[OrderLine], telling: &Telling) -> fmt::Result {
    let mut number = 0_usize;
    for line in lines {
        match line {
            OrderLine::Caution(caution) => write!(f, "\n! {caution}")?,
            OrderLine::Check(check) => write!(f, "\n[ ] {check}")?,
            OrderLine::Step(step) => {
                number += 1;
                write!(f, "\n{number}. {}", step.text(telling))?;
            }
            OrderLine::Halt(Halt { at, checks }) => {
                write!(f, "\nHALT, {at}:")?;
                checks.iter().try_for_each(|check| write!(f, "\n  [ ] {check}"))?;
            }
            OrderLine::Other(name) => write!(f, "\n{name}")?,
        }
    }
    Ok(())
}

impl fmt::Display for Supply {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} x {}", self.count, self.module)?;
        self.individual.as_ref().map_or(Ok(()), |one| write!(f, " no. {}", one.id))?;
        self.source.as_ref().map_or(Ok(()), |source| write!(f, " from {source}"))
    }
}

impl WorkOrder {
    /// What the report is to say after the start: "2 modules, 64 GB in all, 64 GB usable, running at 2400 MT/s, mode independent"; nothing
    /// where there is no module to start with.
    #[must_use]
    pub fn expected_text(&self) -> Option<String> {
        let used = self.expected.places.iter().filter(|place| {
            place.state == PlaceState::InUse && place.module.as_ref().is_some_and(|module| module.device.is_none())
        });
        let used: Vec<&SeenPlace> = used.collect();
        if used.is_empty() {
            return None;
        }
        let mut text = counted(used.len(), "module");
        let sizes = used.iter().filter_map(|place| place.module.as_ref()?.capacity_mib);
        text.push_str(&format!(", {} in all", Capacity::from_mib(sizes.map(Capacity::mib).sum())));
        for total in self.expected.totals.iter().filter(|total| total.of == TotalOf::Firmware) {
            text.push_str(&format!(", {} usable", total.capacity_mib));
        }
        let rates: BTreeSet<DataRate> = used.iter().filter_map(|place| place.running_rate_mts).collect();
        text.push_str(&match rates.iter().map(ToString::to_string).collect::<Vec<_>>() {
            rates if rates.is_empty() => ", the rate is not known".to_owned(),
            rates => format!(", running at {}", rates.join(" and ")),
        });
        if let Some(mode) = &self.expected.mode {
            text.push_str(&format!(", mode {mode}"));
        }
        Some(text)
    }
}

/// What is done, a line each: `!` is to be minded, `[ ]` to be ticked.
impl fmt::Display for WorkOrder {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.platform, counted(self.handlings, "handling"))?;
        if self.machines > 1 {
            write!(f, " in each of {} machines", self.machines)?;
        }
        match &self.trial {
            TrialStart::NotAsked => {}
            TrialStart::NothingNew => f.write_str("; no trial start: no part is new to the machine")?,
            TrialStart::Made(trial) => {
                write!(
                    f,
                    "; a trial start with {}, {} more",
                    listed(&trial.slots),
                    counted(trial.handlings, "handling")
                )?;
            }
            TrialStart::NoneFound => f.write_str("; no trial start was found")?,
            TrialStart::Other(name) => write!(f, "; {name}")?,
        }
        self.supplies.iter().try_for_each(|supply| write!(f, "\nTo bring: {supply}"))?;
        if self.blanks_to_bring > 0 {
            write!(f, "\nTo bring: {}", counted(self.blanks_to_bring, "blank"))?;
        }
        if self.lines.is_empty() {
            return f.write_str("\nNothing is to be done.");
        }
        lines(f, &self.lines, &Telling::among(modules([&self.before, &self.after])))?;
        if let Some(expected) = self.expected_text() {
            write!(f, "\nExpected after the start: {expected}.")?;
        }
        let rules: Vec<String> = self.stop_rules.iter().map(StopRule::to_string).collect();
        write!(f, "\nStop, photograph and ring on: {}.", rules.join("; "))
    }
}

/// What is done, a line each.
impl fmt::Display for WayBack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Way back, {}", self.from)?;
        self.steps_done.map_or(Ok(()), |steps| write!(f, ", {} of the order done", counted(steps, "step")))?;
        write!(f, ": {}", counted(self.handlings, "handling"))?;
        if let Some(without) = &self.without {
            write!(f, "; not all goes back: {without}")?;
        }
        let of_steps = self.steps().filter_map(|step| match &step.action {
            crate::work_order::Action::TakeOut { module, .. } => Some(&module.module),
            _ => None,
        });
        lines(f, &self.lines, &Telling::among(modules([&self.population]).chain(of_steps)))
    }
}

/// The way, what it costs, and what it leaves.
impl fmt::Display for Without {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let part = |names: &[Name], text: &str| {
            if names.is_empty() { String::new() } else { format!("; {text} {}", listed(names)) }
        };
        write!(f, "{} ({}", self.way, counted(self.handlings, "handling"))?;
        f.write_str(&part(&self.mapped_out, "out of use"))?;
        f.write_str(&part(&self.taken_out, "out of"))?;
        for (from, to) in &self.moved {
            write!(f, "; {from} to {to}")?;
        }
        write!(f, "): {}", self.usable_mib)?;
        match self.rate_mts {
            Some(rate) => write!(f, " at {rate}")?,
            None => f.write_str(", no rate known")?,
        }
        let (errors, warnings) = self.faults();
        if errors + warnings == 0 {
            return Ok(());
        }
        write!(f, "; {}, {}", counted(errors, "error"), counted(warnings, "warning"))
    }
}

/// A line for each way, the fewest handlings first.
impl fmt::Display for WithoutAnswer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Without {}:", listed(&self.slots))?;
        self.ways.iter().try_for_each(|way| write!(f, "\n  {way}"))?;
        self.notes.iter().try_for_each(|note| write!(f, "\n  note: {note}"))?;
        for (slot, found) in self.stand_ins.iter().flat_map(|of| of.stand_ins.iter().map(|found| (&of.slot, found))) {
            write!(f, "\n  {slot}: {} from {} may stand in", found.module, found.source)?;
        }
        Ok(())
    }
}
