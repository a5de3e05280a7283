use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::finding::Severity;
use crate::stated::Schema;
use crate::unit::Name;

/// How a caller sets a rule book; a document.
///
/// ```
/// use slotwright::finding::Severity;
/// use slotwright::rule::{RuleBook, RuleSettings, SeveritySetting};
///
/// let mut settings = RuleSettings::default();
/// settings.severities.insert("sockets-alike".parse()?, SeveritySetting::Note);
/// let rules = RuleBook::standard().with_settings(&settings)?;
/// assert_eq!(rules.get("sockets-alike").map(|rule| rule.severity()), Some(Severity::Note));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
#[non_exhaustive]
pub struct RuleSettings {
    /// Schema number of the document.
    pub schema: Schema,
    /// Severities by rule code. A severity that is set here counts as set, whatever the platform's
    /// basis or advice.
    pub severities: BTreeMap<Name, SeveritySetting>,
    /// Whether a rule that cannot be judged for want of a fact is an error rather than a warning.
    pub unknown_is_error: bool,
}

impl RuleSettings {
    setters! {
        each severities(severities: (Name, SeveritySetting));
        value unknown_is_error(unknown_is_error: bool);
    }
}

/// The severity of a rule, or that it is off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum SeveritySetting {
    /// The rule is left out.
    Off,
    /// A note.
    Note,
    /// A warning.
    Warning,
    /// An error.
    Error,
}

impl SeveritySetting {
    pub(crate) fn severity(self) -> Option<Severity> {
        match self {
            Self::Off => None,
            Self::Note => Some(Severity::Note),
            Self::Warning => Some(Severity::Warning),
            Self::Error => Some(Severity::Error),
        }
    }
}
