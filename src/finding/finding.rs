use core::fmt;

use serde::{Deserialize, Serialize};

use crate::finding::{Fact, Place};
use crate::stated::{Basis, Source};
use crate::unit::Name;

/// How much a finding weighs.
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

/// Whether a rule is broken or cannot be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// It is broken.
    Violated,
    /// A fact that it needs is missing.
    Unknown,
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
}

impl fmt::Display for Remedy {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::ReplaceModule => f.write_str("take a module of another sort"),
            Self::MoveModule => f.write_str("move the module"),
            Self::RemoveModule => f.write_str("take a module out"),
            Self::AddModules => f.write_str("add modules"),
            Self::UseSlots { slots } => {
                f.write_str("fill just the slots")?;
                slots
                    .iter()
                    .enumerate()
                    .try_for_each(|(index, slot)| write!(f, "{}{slot}", if index == 0 { " " } else { ", " }))
            }
            Self::FitProcessor => f.write_str("fit the processor, or use slots of one that is present"),
            Self::UseLikeModules => f.write_str("use modules that are alike"),
            Self::FitBlank => f.write_str("fit blanks"),
            Self::StateFact => f.write_str("find out the missing fact"),
            Self::SecureData => f.write_str("it holds data: secure them first, and follow the platform maker's manual"),
        }
    }
}

/// What a rule has to say about a population.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Finding {
    /// How much it weighs.
    pub severity: Severity,
    /// The code of the rule.
    pub code: Name,
    /// Whether the rule is broken or cannot be judged.
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

/// "error die-density: dies denser than the processor addresses (slot A1; found 16 Gb; allowed 8 Gb)".
impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unknown = if self.verdict == Verdict::Unknown { "cannot be judged: " } else { "" };
        write!(f, "{} {}: {unknown}{} ({}", self.severity, self.code, self.summary, Place::phrase(&self.places))?;
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
