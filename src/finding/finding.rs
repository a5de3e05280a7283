use core::fmt;

use itertools::Itertools;
use serde::{Deserialize, Serialize};

use crate::finding::{Fact, Place};
use crate::stated::{Basis, Source};
use crate::unit::Name;

/// How much a finding weighs.
///
/// ```
/// use slotwright::Severity;
///
/// assert!(Severity::Note < Severity::Warning && Severity::Warning < Severity::Error);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Worth saying.
    Note,
    /// Works, but slower or not advised.
    Warning,
    /// Will not start, or is not supported.
    Error,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        })
    }
}

/// Whether a rule is broken, cannot be judged, or is taken to be kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// It is broken.
    Violated,
    /// A fact that it needs is missing, or nobody judges what is there.
    Unknown,
    /// A fact that it needs is missing, and it is taken to be kept all the same: for what is known of it, or because what
    /// runs is evidence.
    Presumed,
}

/// What to do about a finding.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Remedy {
    /// Take a module of another sort.
    ReplaceModule,
    /// Put the module elsewhere.
    MoveModule,
    /// Take a module out.
    RemoveModule,
    /// Put further modules in.
    AddModules,
    /// Put modules like those of the other channels into these slots.
    AddLike {
        /// Their labels.
        slots: Vec<Name>,
    },
    /// Move the modules of some slots to others, in order.
    Move {
        /// Where they are.
        slots: Vec<Name>,
        /// Where they belong.
        to: Vec<Name>,
    },
    /// Exchange the modules of some slots with those of others, in order.
    Exchange {
        /// Some.
        slots: Vec<Name>,
        /// The others.
        with: Vec<Name>,
    },
    /// Fill these slots.
    UseSlots {
        /// Their labels.
        slots: Vec<Name>,
    },
    /// Fit a processor, or use live slots.
    FitProcessor,
    /// Use modules that are alike.
    UseLikeModules,
    /// Fit a blank.
    FitBlank,
    /// Find out the missing fact.
    StateFact,
    /// Mind the data on the device, and what the platform maker's manual says of it.
    SecureData,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// "module", or "modules".
fn modules(slots: &[Name]) -> &'static str {
    if slots.len() == 1 { "module" } else { "modules" }
}

impl fmt::Display for Remedy {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Other(name) => name.fmt(f),
            Self::ReplaceModule => f.write_str("take a module of another sort"),
            Self::MoveModule => f.write_str("move the module"),
            Self::RemoveModule => f.write_str("take a module out"),
            Self::AddModules => f.write_str("add modules"),
            Self::AddLike { slots } => write!(f, "put like modules into {}", slots.iter().format(", ")),
            Self::Move { slots, to } => {
                let moves = slots.iter().zip(to).map(|(slot, to)| format!("{slot} to {to}"));
                write!(f, "move the {} from {}", modules(slots), moves.format(", "))
            }
            Self::Exchange { slots, with } => {
                let swaps = slots.iter().zip(with).map(|(slot, with)| format!("{slot} and {with}"));
                write!(f, "exchange the modules in {}", swaps.format(", "))
            }
            Self::UseSlots { slots } => write!(f, "fill just the slots {}", slots.iter().format(", ")),
            Self::FitProcessor => f.write_str("fit the processor, or use slots of one that is present"),
            Self::UseLikeModules => f.write_str("use modules that are alike"),
            Self::FitBlank => f.write_str("fit blanks"),
            Self::StateFact => f.write_str("find out the missing fact"),
            Self::SecureData => f.write_str("it holds data: secure them first, and follow the platform maker's manual"),
        }
    }
}

/// What a rule has to say about a population.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::{Place, Population, Severity};
///
/// let population = Population::new().with("A2".parse()?, module); // A1 comes first
/// let findings = planner.assess(&population)?.findings;
/// let finding = findings.iter().find(|finding| finding.code == *"position-order").unwrap();
/// assert_eq!(finding.severity, Severity::Error);
/// assert_eq!(finding.places, [Place::Slot { slot: "A2".parse()? }]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Finding {
    /// How much it weighs.
    pub severity: Severity,
    /// The code of the rule.
    pub code: Name,
    /// Whether the rule is broken, cannot be judged, or is taken to be kept.
    pub verdict: Verdict,
    /// Where; never empty.
    pub places: Vec<Place>,
    /// What the rule says, as a phrase.
    pub summary: Name,
    /// What was found, what is allowed.
    pub facts: Vec<Fact>,
    /// What to do.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remedy: Option<Remedy>,
    /// What the limit rests on, where it is a platform's or processor's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
    /// The text that states the limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

impl Finding {
    /// What it says, with its code: "dies denser than the processor addresses (die-density)"; of a rule that cannot be judged
    /// it says so.
    pub(crate) fn in_short(&self) -> String {
        let Self { summary, code, .. } = self;
        match self.verdict {
            Verdict::Unknown => format!("it cannot be judged whether {summary} ({code})"),
            Verdict::Violated | Verdict::Presumed => format!("{summary} ({code})"),
        }
    }
}

/// "error die-density: dies denser than the processor addresses (slot A1; found 16 Gb; allowed 8 Gb)".
impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let verdict = match self.verdict {
            Verdict::Violated => "",
            Verdict::Unknown => "cannot be judged: ",
            Verdict::Presumed => "taken not to be so: ",
        };
        write!(f, "{} {}: {verdict}{} ({}", self.severity, self.code, self.summary, Place::phrase(&self.places))?;
        for fact in &self.facts {
            write!(f, "; {} {}", fact.name, fact.value)?;
        }
        f.write_str(")")?;
        if let Some(remedy) = &self.remedy {
            write!(f, "; {remedy}")?;
        }
        match (&self.basis, &self.source) {
            (Some(basis), Some(source)) => write!(f, " [{basis}: {source}]"),
            (Some(basis), None) => write!(f, " [{basis}]"),
            (None, Some(source)) => write!(f, " [{source}]"),
            (None, None) => Ok(()),
        }
    }
}
