//! What an acceptance compares, as text.

use core::fmt;

use crate::acceptance::{
    AcceptanceCheck, AcceptanceVerdict, Condition, MachineCheck, ModeCheck, RateCheck, SlotCheck, SlotVerdict,
    Strength, TimeCheck, Told, TotalCheck,
};
use crate::population::{ModuleFact, TotalOf};
use crate::unit::{DataRate, Name};

fn list<T: ToString>(parts: &[T], between: &str) -> String {
    parts.iter().map(ToString::to_string).collect::<Vec<_>>().join(between)
}

impl fmt::Display for AcceptanceVerdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::AsPlanned => "as planned, as far as this report tells",
            Self::NotAsPlanned => "not as planned",
            Self::Open => "open: this report does not tell enough of what was planned",
            Self::Withheld => "withheld: this report says nothing of the work",
        })
    }
}

impl fmt::Display for MachineCheck {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let expected = self.serial.iter().map(|serial| format!("serial {serial}"));
        let expected: Vec<String> = expected.chain(self.product.iter().map(ToString::to_string)).collect();
        match (self.is_it, expected.as_slice()) {
            (Told::Yes, _) if self.reported.serial.is_none() && self.serial_read.is_some() => {
                let read = self.serial_read.as_ref().map_or("", Name::as_str);
                write!(f, "the report does not name its serial number; {read} was read on the machine")
            }
            (Told::No, expected) if self.reported.serial.is_none() && self.serial_read.is_some() => {
                let read = self.serial_read.as_ref().map_or("", Name::as_str);
                write!(
                    f,
                    "{} with the serial number {read} read on it, and not the machine {}",
                    self.reported,
                    list(expected, ", ")
                )
            }
            (Told::Yes, expected) => write!(f, "the report is of the machine {}", list(expected, ", ")),
            (Told::No, expected) => {
                write!(f, "the report is of {}, and not of the machine {}", self.reported, list(expected, ", "))
            }
            (Told::NotSaid, []) => f.write_str("nobody says which machine was worked on"),
            (Told::NotSaid, expected) => {
                write!(f, "the report does not say whether it is of the machine {}", list(expected, ", "))
            }
        }
    }
}

impl fmt::Display for TimeCheck {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.is_later, &self.came_in, &self.reported) {
            (Told::Yes, Some(serial), _) => {
                write!(f, "the report is later than the work: it has the module {serial}, which came in")?;
            }
            (Told::Yes, None, _) => f.write_str("the report is later than the work")?,
            (Told::No, _, Some(date)) => write!(f, "the report is of {date}, which is before the work")?,
            (Told::No, _, None) => f.write_str("the report is older than the work")?,
            (Told::NotSaid, ..) => f.write_str("nothing says whether the report is later than the work")?,
        }
        if self.is_as_before {
            f.write_str("; every slot that was to change is as before: the report is stale, or the work was not done")?;
        }
        Ok(())
    }
}

impl fmt::Display for Strength {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Serial => "by serial number",
            Self::PartNumber => "by part number",
            Self::Facts => "by its facts",
            Self::Size => "by size only",
            Self::State => "by its state",
            Self::Other => "by something that a newer version knows",
        })
    }
}

/// One sentence without its full stop.
impl fmt::Display for SlotCheck {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: ", self.slot)?;
        match self.verdict {
            SlotVerdict::AsPlanned(strength) => write!(f, "as planned, {strength}")?,
            SlotVerdict::Open if self.reports_disagree => f.write_str("open: reports disagree")?,
            SlotVerdict::Open => f.write_str("not told")?,
            SlotVerdict::Other => f.write_str("something that a newer version knows")?,
            SlotVerdict::Differs if self.differs.is_empty() => {
                let planned = self.planned.as_ref().map_or("empty".to_owned(), ToString::to_string);
                write!(f, "planned {planned}; {}", self.state)?;
                self.reported.as_ref().map_or(Ok(()), |module| write!(f, ", {module}"))?;
            }
            SlotVerdict::Differs => {
                let text = |module: &Option<crate::population::SeenModule>, fact| {
                    module.as_ref().and_then(|module| module.text(fact)).unwrap_or_else(|| "not told".to_owned())
                };
                let is_named = self.planned.as_ref().is_some_and(|module| module.serial.is_some());
                let fact = |fact: &ModuleFact| {
                    if *fact == ModuleFact::Serial && !is_named {
                        return format!(
                            "another module planned than that with the serial number {}",
                            text(&self.reported, *fact)
                        );
                    }
                    format!("{fact} {} planned, {} reported", text(&self.planned, *fact), text(&self.reported, *fact))
                };
                let facts: Vec<String> = self.differs.iter().map(fact).collect();
                f.write_str(&list(&facts, "; "))?;
            }
        }
        if !self.inferred.is_empty() {
            write!(f, "; {} inferred from modules of the same part number", list(&self.inferred, ", "))?;
        }
        match self.notes.as_slice() {
            [] => Ok(()),
            notes => write!(f, "; to note: another {} than planned is reported", list(notes, ", ")),
        }
    }
}

/// One sentence without its full stop.
impl fmt::Display for TotalCheck {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { of, reported_mib, planned_mib, by_slots_mib, agrees } = self;
        write!(f, "{of} counts {reported_mib} of {planned_mib} planned")?;
        match agrees {
            Told::Yes if by_slots_mib == planned_mib => f.write_str(", which agrees"),
            Told::Yes => write!(f, ", which follows from the slots as they are reported ({by_slots_mib})"),
            Told::No => write!(f, ", and the modules that are seen give {by_slots_mib}"),
            Told::NotSaid if *of == TotalOf::OperatingSystem => {
                f.write_str(", which tells nothing without a reserve (memory kept by firmware and devices) below the smallest module")
            }
            Told::NotSaid => f.write_str(", which tells nothing"),
        }
    }
}

fn rate(rate: Option<DataRate>) -> String {
    rate.map_or("unknown".to_owned(), |rate| rate.to_string())
}

/// One sentence without its full stop.
impl fmt::Display for RateCheck {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { sockets, reported_mts, planned_mts, by_slots_mts, agrees, .. } = self;
        let s = if sockets.len() == 1 { "" } else { "s" };
        write!(f, "processor{s} {}: {} planned, ", list(sockets, ", "), rate(*planned_mts))?;
        match reported_mts.as_slice() {
            [] => return f.write_str("no running rate is reported"),
            rates => write!(f, "{} reported", list(rates, " and "))?,
        }
        match agrees {
            Told::Yes if by_slots_mts == planned_mts => Ok(()),
            Told::Yes => f.write_str(", which follows from the slots as they are reported"),
            Told::No => write!(f, ", and the modules that are seen would run at {} as planned", rate(*by_slots_mts)),
            Told::NotSaid => f.write_str(", which cannot be judged"),
        }
    }
}

/// One sentence without its full stop.
impl fmt::Display for ModeCheck {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "mode {} planned, ", self.planned)?;
        match (&self.is_on, &self.reported, self.may_be.as_slice()) {
            (Told::Yes, Some(named), _) => write!(f, "{named} reported"),
            (Told::Yes, None, _) => f.write_str("which the total shows"),
            (Told::No, Some(named), _) => write!(f, "{named} reported"),
            (Told::No, None, _) => f.write_str("which the total does not fit"),
            (Told::NotSaid, _, []) => f.write_str("which nothing shows"),
            (Told::NotSaid, _, others) => write!(f, "or {}: the totals would be the same", list(others, " or ")),
        }
    }
}

/// What is not told, as a phrase.
impl fmt::Display for Condition {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Machine => f.write_str("whether the report is of this machine"),
            Self::Time => f.write_str("whether the report is later than the work"),
            Self::Slots { slots } => write!(f, "what is in {}", list(slots, ", ")),
            Self::Facts { facts } => write!(f, "{}: told of no slot", list(facts, ", ")),
            Self::Mode { may_be } => write!(f, "which mode is on: {}", list(may_be, " or ")),
            Self::Total => f.write_str("how much memory there is in all"),
            Self::Rate => f.write_str("at which rate memory runs"),
            Self::Places { texts } => write!(f, "where these are: {}", list(texts, ", ")),
            Self::Other(name) => name.fmt(f),
        }
    }
}

/// The verdict, what it stands on, what is not as planned, then causes and what to do next, a line each.
impl fmt::Display for AcceptanceCheck {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Acceptance: {}\n  {}\n  {}", self.verdict, self.machine, self.time)?;
        if !self.slots.is_empty() {
            write!(f, "\n  slots: {}", self.counted())?;
        }
        self.notes.iter().try_for_each(|note| write!(f, "\n  {note}"))?;
        for slot in &self.slots {
            if slot.verdict == SlotVerdict::Differs || slot.reports_disagree || !slot.notes.is_empty() {
                write!(f, "\n  {slot}")?;
            }
        }
        self.totals.iter().try_for_each(|total| write!(f, "\n  {total}"))?;
        self.rates.iter().try_for_each(|rate| write!(f, "\n  {rate}"))?;
        self.mode.iter().try_for_each(|mode| write!(f, "\n  {mode}"))?;
        if !self.missing_processors.is_empty() {
            let sockets: &[Name] = &self.missing_processors;
            write!(f, "\n  no processor is reported in {}", list(sockets, ", "))?;
        }
        self.conditions.iter().try_for_each(|one| write!(f, "\n  not told: {one}"))?;
        let Some(causes) = &self.causes else { return Ok(()) };
        write!(f, "\nCauses:\n{causes}")
    }
}
