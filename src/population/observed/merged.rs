use core::fmt;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::population::{Medium, Report};
use crate::stated::Schema;
use crate::unit::Name;

/// Everything that was read of one machine: its reports, all of them kept. What they say together is worked out when it
/// is asked for, so that no order in which they came in can matter.
///
/// ```
/// use slotwright::population::{Medium, Observed, Report};
/// use slotwright::Name;
///
/// let report = |name: &str, medium| Report::new(Name::new(name).unwrap(), medium);
/// let (dump, label) = (report("dump", Medium::Machine), report("label A1", Medium::Label));
/// let observed = Observed::merge([dump.clone().into(), label.clone().into()])?;
/// assert_eq!(observed, Observed::merge([label.into(), dump.into()])?);
/// # Ok::<(), slotwright::population::MergeError>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(try_from = "Written", into = "Written")]
pub struct Observed {
    reports: Vec<Report>,
}

/// Its form in documents.
#[derive(Clone, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(rename = "ObservedReports"))]
#[serde(deny_unknown_fields)]
struct Written {
    #[serde(default)]
    schema: Schema,
    reports: Vec<Report>,
}

impl TryFrom<Written> for Observed {
    type Error = MergeError;

    fn try_from(Written { schema: Schema, reports }: Written) -> Result<Self, MergeError> {
        Self::of(reports)
    }
}

impl From<Observed> for Written {
    fn from(observed: Observed) -> Self {
        Self { schema: Schema, reports: observed.reports }
    }
}

/// Why reports cannot be taken together.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum MergeError {
    /// Two unlike reports of one name.
    #[error("two unlike reports are named {name}; give each a name of its own")]
    NameTwice {
        /// The name.
        name: Name,
    },
    /// Two places of one id in a report.
    #[error("the report {report} has two places of the id {id}")]
    PlaceTwice {
        /// The report.
        report: Name,
        /// The id.
        id: Name,
    },
    /// Reports that say that they are of unlike machines.
    #[error(
        "{first} is of the machine with the serial number {serial}, {second} of the one with {other}; they cannot be taken together"
    )]
    UnlikeMachines {
        /// A report.
        first: Name,
        /// Its serial number.
        serial: Name,
        /// Another report.
        second: Name,
        /// Its serial number.
        other: Name,
    },
}

impl Observed {
    /// All of these reports together; one that comes twice counts once.
    ///
    /// # Errors
    /// When two unlike reports have one name, a report has two places of one id, or two name unlike serial numbers of
    /// the machine.
    pub fn of(reports: impl IntoIterator<Item = Report>) -> Result<Self, MergeError> {
        let mut reports: Vec<Report> = reports.into_iter().collect();
        // the newest first of those that are as trusted, then by name
        reports.sort_by(|one, other| (one.medium, &other.date, one).cmp(&(other.medium, &one.date, other)));
        reports.dedup();
        let mut names: Vec<&Name> = reports.iter().map(|report| &report.name).collect();
        names.sort();
        if let Some(name) = twice(&names) {
            return Err(MergeError::NameTwice { name: name.clone() });
        }
        for report in &reports {
            let mut ids: Vec<&Name> = report.places.iter().map(|place| &place.id).collect();
            ids.sort();
            if let Some(id) = twice(&ids) {
                return Err(MergeError::PlaceTwice { report: report.name.clone(), id: id.clone() });
            }
        }
        let told = |report: &'_ Report| {
            let serial = report.identity.serial.clone()?;
            Some((report.name.clone(), serial))
        };
        let mut told = reports.iter().filter(|report| report.medium == Medium::Machine).filter_map(told);
        if let Some((first, serial)) = told.next() {
            let is_other = |(_, other): &(Name, Name)| !other.as_str().eq_ignore_ascii_case(serial.as_str());
            if let Some((second, other)) = told.find(is_other) {
                return Err(MergeError::UnlikeMachines { first, serial, second, other });
            }
        }
        drop(told);
        Ok(Self { reports })
    }

    /// All reports of these together.
    ///
    /// # Errors
    /// As [`Observed::of`].
    pub fn merge(observed: impl IntoIterator<Item = Self>) -> Result<Self, MergeError> {
        Self::of(observed.into_iter().flat_map(|one| one.reports))
    }

    /// The reports: the most trusted on what a module is first, then the newest, then by name.
    #[must_use]
    pub fn reports(&self) -> &[Report] {
        &self.reports
    }

    /// The reports of some sorts of source.
    pub(crate) fn of_media(&self, media: &[Medium]) -> Self {
        Self { reports: self.reports.iter().filter(|report| media.contains(&report.medium)).cloned().collect() }
    }

    /// The report of this name.
    #[must_use]
    pub fn report(&self, name: &str) -> Option<&Report> {
        self.reports.iter().find(|report| report.name == *name)
    }
}

/// The first of sorted names that comes twice.
fn twice<'n>(names: &[&'n Name]) -> Option<&'n Name> {
    names.windows(2).find_map(|pair| match pair {
        [one, other] if one == other => Some(*one),
        _ => None,
    })
}

impl From<Report> for Observed {
    /// One report. Of places of one id only the first is kept.
    fn from(mut report: Report) -> Self {
        let mut ids = std::collections::BTreeSet::new();
        report.places.retain(|place| ids.insert(place.id.clone()));
        Self { reports: vec![report] }
    }
}

/// Report by report.
impl fmt::Display for Observed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, report) in self.reports.iter().enumerate() {
            write!(f, "{}{report}", if index == 0 { "" } else { "\n" })?;
        }
        Ok(())
    }
}
