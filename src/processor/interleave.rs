//! Over which sets of channels a processor interleaves.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::stated::{FieldPath, Located};
use crate::unit::{Name, Names};

/// The sets of channels over which a processor can interleave, where not every set will do. A single
/// channel always will.
///
/// Channels go by the processor's own names. On a board, they are the channels of the same labels where all of
/// a socket's labels are among them, else the socket's channels in the same order.
///
/// ```
/// use slotwright::processor::{InterleaveSet, InterleaveSets, PermittedSet};
/// use slotwright::unit::Name;
///
/// let name = |text: &str| text.parse::<Name>();
/// let channels = ["A", "B", "C", "D"].map(|text| name(text).unwrap()).to_vec();
/// let pair = InterleaveSet::Channels(vec![name("A")?, name("B")?]);
/// let permitted = vec![PermittedSet::of(InterleaveSet::Ways(4)), PermittedSet::of(pair)];
/// assert_eq!(InterleaveSets::new(channels, permitted).problems(), []);
/// # Ok::<(), slotwright::unit::NameError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct InterleaveSets {
    /// The processor's channels, in its own order; at most [`InterleaveSets::MOST_CHANNELS`].
    pub channels: Vec<Name>,
    /// The sets that it permits.
    pub permitted: Vec<PermittedSet>,
}

impl InterleaveSets {
    /// The sets of a processor's channels.
    #[must_use]
    pub fn new(channels: impl IntoIterator<Item = Name>, permitted: impl IntoIterator<Item = PermittedSet>) -> Self {
        Self { channels: channels.into_iter().collect(), permitted: permitted.into_iter().collect() }
    }
}

/// A set that a processor permits.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct PermittedSet {
    /// The channels.
    pub set: InterleaveSet,
    /// Whether it is permitted only where all its channels hold the same capacity.
    #[serde(default)]
    pub equal: bool,
}

impl PermittedSet {
    setters! {
        value equal(equal: bool);
    }
}

/// Channels that are interleaved together.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum InterleaveSet {
    /// Any channels, so many of them.
    Ways(u8),
    /// Just these, by the processor's names.
    Channels(Vec<Name>),
}

/// What is wrong with a list of permitted sets.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum InterleaveProblem {
    /// No channels, or more than the library plans for.
    #[error("{found} channels are listed; 1 to {} are allowed", InterleaveSets::MOST_CHANNELS)]
    Channels {
        /// How many are listed.
        found: usize,
    },
    /// A channel that stands twice in the list, or in a set.
    #[error("{place} names channel {channel} twice")]
    GivenTwice {
        /// Where it stands.
        place: FieldPath,
        /// The channel.
        channel: Name,
    },
    /// A set that names a channel which the processor does not have.
    #[error("permitted[{set}] names channel {channel}; the processor's channels are {allowed}")]
    UnknownChannel {
        /// Index of the set.
        set: usize,
        /// The channel.
        channel: Name,
        /// The channels that it has.
        allowed: Names,
    },
    /// A set of no channel, or of more than there are.
    #[error("permitted[{set}] is of {ways} channels; 1 to {at_most} are allowed")]
    Ways {
        /// Index of the set.
        set: usize,
        /// How many channels it has.
        ways: usize,
        /// How many the processor has.
        at_most: usize,
    },
}

impl Located for InterleaveProblem {
    fn place(&self) -> FieldPath {
        match self {
            Self::Channels { .. } => FieldPath::of("channels"),
            Self::GivenTwice { place, .. } => place.clone(),
            Self::UnknownChannel { set, .. } | Self::Ways { set, .. } => {
                FieldPath::of("permitted").index(*set).field("set")
            }
        }
    }
}

impl PermittedSet {
    /// A set that is permitted whatever its channels hold.
    #[must_use]
    pub const fn of(set: InterleaveSet) -> Self {
        Self { set, equal: false }
    }

    /// Permits the set only where all its channels hold the same capacity.
    #[must_use]
    pub const fn if_equal(mut self) -> Self {
        self.equal = true;
        self
    }
}

impl InterleaveSets {
    /// The most channels that one processor may list.
    pub const MOST_CHANNELS: usize = 16;

    /// Everything that is wrong with the list.
    #[must_use]
    pub fn problems(&self) -> Vec<InterleaveProblem> {
        let mut problems = Vec::new();
        let found = self.channels.len();
        if !(1..=Self::MOST_CHANNELS).contains(&found) {
            problems.push(InterleaveProblem::Channels { found });
        }
        twice(&FieldPath::of("channels"), &self.channels, &mut problems);
        for (set, permitted) in self.permitted.iter().enumerate() {
            let ways = match &permitted.set {
                InterleaveSet::Ways(ways) => usize::from(*ways),
                InterleaveSet::Channels(channels) => {
                    twice(&FieldPath::of("permitted").index(set).field("set"), channels, &mut problems);
                    for channel in channels.iter().filter(|channel| !self.channels.contains(channel)) {
                        let allowed = self.channels.iter().collect();
                        problems.push(InterleaveProblem::UnknownChannel { set, channel: channel.clone(), allowed });
                    }
                    channels.len()
                }
            };
            if !(1..=found).contains(&ways) {
                problems.push(InterleaveProblem::Ways { set, ways, at_most: found });
            }
        }
        problems
    }
}

fn twice(place: &FieldPath, channels: &[Name], problems: &mut Vec<InterleaveProblem>) {
    let mut seen = BTreeSet::new();
    for channel in channels {
        if !seen.insert(channel) {
            problems.push(InterleaveProblem::GivenTwice { place: place.clone(), channel: channel.clone() });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::name;

    fn sets(permitted: Vec<PermittedSet>) -> Vec<String> {
        let sets = InterleaveSets { channels: ["A", "B", "C", "D"].map(name).to_vec(), permitted };
        sets.problems().iter().map(ToString::to_string).collect()
    }

    fn of(channels: &[&str]) -> PermittedSet {
        PermittedSet::of(InterleaveSet::Channels(channels.iter().map(|text| name(text)).collect()))
    }

    #[test]
    fn problems_are_told_all_at_once() {
        assert_eq!(sets(vec![PermittedSet::of(InterleaveSet::Ways(4)).if_equal(), of(&["A", "C"])]), [""; 0]);
        let wrong = vec![
            of(&["A", "E"]),
            of(&[]),
            PermittedSet::of(InterleaveSet::Ways(0)),
            PermittedSet::of(InterleaveSet::Ways(5)),
            of(&["B", "B"]),
        ];
        assert_eq!(
            sets(wrong),
            [
                "permitted[0] names channel E; the processor's channels are A, B, C, D",
                "permitted[1] is of 0 channels; 1 to 4 are allowed",
                "permitted[2] is of 0 channels; 1 to 4 are allowed",
                "permitted[3] is of 5 channels; 1 to 4 are allowed",
                "permitted[4].set names channel B twice",
            ]
        );
        let none = InterleaveSets { channels: Vec::new(), permitted: Vec::new() };
        assert_eq!(none.problems(), [InterleaveProblem::Channels { found: 0 }]);
        let many = InterleaveSets { channels: vec![name("A"); 17], permitted: Vec::new() };
        assert_eq!(many.problems().len(), 17);
    }

    #[test]
    fn documents_read_back() {
        let sets = InterleaveSets {
            channels: ["A", "B"].map(name).to_vec(),
            permitted: vec![of(&["A", "B"]), PermittedSet::of(InterleaveSet::Ways(2)).if_equal()],
        };
        let document = serde_json::to_string(&sets).unwrap();
        assert!(document.contains(r#"{"set":{"channels":["A","B"]},"equal":false}"#), "{document}");
        assert_eq!(serde_json::from_str::<InterleaveSets>(&document).unwrap(), sets);
    }
}
