use core::fmt;

use serde::{Deserialize, Serialize};

use crate::population::{MachineIdentity, PlaceState, Remark, ReportDate, SeenModule, SeenPlace};
use crate::unit::{Capacity, Name};

/// What one source says of a machine: a table of its firmware, an answer of its management controller, the SPD or the
/// label of a module, rows that a person has typed. Readers make them; nothing keeps a caller from doing so.
///
/// ```
/// use slotwright::module::Label;
/// use slotwright::population::{Medium, PlaceState, Report, SeenModule, SeenPlace};
/// use slotwright::Name;
///
/// let label: Label = "16GB 2Rx4 PC4-2400T-RA1-11".parse()?;
/// let place = SeenPlace::new(Name::new("line 1")?, PlaceState::Unknown)
///     .locator(Name::new("A1")?)
///     .module(SeenModule::of(label.module()));
/// let report = Report::new(Name::new("walk round")?, Medium::Label).place(place);
/// assert_eq!(report.places.len(), 1);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Report {
    /// What its caller calls it: a file, an address. Unique among the reports of a machine.
    pub name: Name,
    /// What sort of source it is.
    pub medium: Medium,
    /// When it was made, in the caller's word.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<ReportDate>,
    /// Reports with the same word here are of one start of the machine, in the caller's word: nothing was moved between them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start: Option<Name>,
    /// Which machine it is of.
    #[serde(default, skip_serializing_if = "is_default")]
    pub identity: MachineIdentity,
    /// What says that the machine is none of hardware.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub virtual_machine: Option<Name>,
    /// The places for processors.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub processors: Vec<SeenProcessor>,
    /// The places for modules, in the order of the report.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub places: Vec<SeenPlace>,
    /// Amounts of memory that it states for more than one place.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub totals: Vec<SeenTotal>,
    /// Counts of errors.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub counters: Vec<ErrorCounter>,
    /// The redundancy mode that it says is on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mode: Option<Name>,
    /// Whether it has left out places, so that what it does not name may be there all the same.
    #[serde(default, skip_serializing_if = "is_default")]
    pub is_incomplete: bool,
    /// What could not be read, does not go together, or was inferred.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub remarks: Vec<Remark>,
}

fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

impl Report {
    /// A report that says nothing yet.
    #[must_use]
    pub fn new(name: Name, medium: Medium) -> Self {
        Self {
            name,
            medium,
            date: None,
            start: None,
            identity: MachineIdentity::new(),
            virtual_machine: None,
            processors: Vec::new(),
            places: Vec::new(),
            totals: Vec::new(),
            counters: Vec::new(),
            mode: None,
            is_incomplete: false,
            remarks: Vec::new(),
        }
    }

    setters! {
        some date(date: ReportDate);
        some start(start: Name);
        value identity(identity: MachineIdentity);
        some virtual_machine(virtual_machine: Name);
        each processors(processors: SeenProcessor);
        each places(places: SeenPlace);
        each totals(totals: SeenTotal);
        each counters(counters: ErrorCounter);
        some mode(mode: Name);
        value is_incomplete(is_incomplete: bool);
        each remarks(remarks: Remark);
    }

    /// Adds a place.
    #[must_use]
    pub fn place(mut self, place: SeenPlace) -> Self {
        self.places.push(place);
        self
    }

    /// Adds a place for a processor.
    #[must_use]
    pub fn processor(mut self, processor: SeenProcessor) -> Self {
        self.processors.push(processor);
        self
    }

    /// The modules that it names, with their places.
    pub fn modules(&self) -> impl Iterator<Item = (&SeenPlace, &SeenModule)> {
        self.places.iter().filter_map(|place| Some((place, place.module.as_ref()?)))
    }

    /// The places in which a module is.
    pub fn filled(&self) -> impl Iterator<Item = &SeenPlace> {
        self.places.iter().filter(|place| place.state.is_filled())
    }
}

/// What sort of source a report is; the most trusted first on what a module *is*. Where it sits, whether it works and
/// how fast it runs, only a machine's own report tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Medium {
    /// What the caller has looked up or decided: an answer to a question.
    Caller,
    /// The content of a module's SPD.
    Spd,
    /// The text on a module's label.
    Label,
    /// What the machine reports of itself.
    Machine,
    /// Rows that a person has typed.
    Rows,
}

impl Medium {
    /// Whether such sources contradict each other enough to hold a module back.
    #[must_use]
    pub const fn is_firm(self) -> bool {
        matches!(self, Self::Caller | Self::Spd | Self::Label)
    }
}

impl fmt::Display for Medium {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Caller => "the caller's word",
            Self::Spd => "SPD",
            Self::Label => "label",
            Self::Machine => "machine report",
            Self::Rows => "typed rows",
        })
    }
}

/// A place for a processor, as a report tells of it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SeenProcessor {
    /// The text that is to say where it is.
    pub socket: Name,
    /// Whether one is there; the report does not tell where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub is_present: Option<bool>,
    /// What it is called.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<Name>,
    /// By what the report refers to it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<Name>,
}

impl SeenProcessor {
    /// Of which no more is known than the text of its place.
    #[must_use]
    pub fn new(socket: Name) -> Self {
        Self { socket, is_present: None, text: None, id: None }
    }

    setters! {
        some is_present(is_present: bool);
        some text(text: Name);
        some id(id: Name);
    }
}

/// An amount of memory that a report states for more than one place.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SeenTotal {
    /// Of what.
    pub of: TotalOf,
    /// How much, in MiB.
    pub capacity_mib: Capacity,
}

impl SeenTotal {
    /// So much of something.
    #[must_use]
    pub const fn new(of: TotalOf, capacity: Capacity) -> Self {
        Self { of, capacity_mib: capacity }
    }
}

/// What a total is of, and who counts it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum TotalOf {
    /// All that the firmware counts: exact.
    Firmware,
    /// All that the operating system counts: a little less than there is.
    OperatingSystem,
    /// What is behind one processor or domain, by its name in the report.
    Domain(Name),
}

impl fmt::Display for TotalOf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Firmware => f.write_str("the firmware"),
            Self::OperatingSystem => f.write_str("the operating system"),
            Self::Domain(name) => write!(f, "{name}"),
        }
    }
}

/// How many errors were counted, by whatever the report calls the place.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ErrorCounter {
    /// The place, as the report calls it.
    pub place: Name,
    /// Errors that were corrected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrected: Option<u64>,
    /// Errors that were not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncorrected: Option<u64>,
}

impl ErrorCounter {
    /// A place without counts yet.
    #[must_use]
    pub fn new(place: Name) -> Self {
        Self { place, corrected: None, uncorrected: None }
    }

    setters! {
        some corrected(corrected: u64);
        some uncorrected(uncorrected: u64);
    }
}

/// What was read, what was not, in lines.
impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { name, medium, date, identity, .. } = self;
        write!(f, "{name} ({medium}")?;
        date.as_ref().map_or(Ok(()), |date| write!(f, ", {date}"))?;
        write!(f, "): {identity}")?;
        if let Some(why) = &self.virtual_machine {
            write!(f, "\n  a virtual machine: {why}")?;
        }
        for SeenProcessor { socket, is_present, text, .. } in &self.processors {
            let there = match is_present {
                Some(true) => "there",
                Some(false) => "empty",
                None => "not told",
            };
            write!(f, "\n  processor {socket}: {there}")?;
            text.as_ref().map_or(Ok(()), |text| write!(f, ", {text}"))?;
        }
        for place in &self.places {
            let mut texts: Vec<&str> = Vec::new();
            for text in place.texts().map(Name::as_str) {
                if !texts.contains(&text) {
                    texts.push(text);
                }
            }
            let texts = if texts.is_empty() { place.id.to_string() } else { texts.join(" / ") };
            write!(f, "\n  {texts}: {}", place.state)?;
            if let Some(module) = &place.module {
                write!(f, ", {module}")?;
            }
            if let Some(rate) = place.running_rate_mts {
                write!(f, ", runs at {rate}")?;
            }
        }
        let empty = self.places.iter().filter(|place| place.state == PlaceState::Absent).count();
        write!(f, "\n  {} places filled, {empty} listed as empty", self.filled().count())?;
        if self.is_incomplete {
            f.write_str("; the report has left out places")?;
        }
        self.remarks.iter().try_for_each(|remark| write!(f, "\n  note: {remark}"))
    }
}
