//! What can be wrong with a platform's description.

use serde::Serialize;
use thiserror::Error;

use crate::platform::BoardProblem;
use crate::platform::RelativeSize::{self};
use crate::processor::{PatternProblem, RateTableProblem};
use crate::stated::{FieldPath, Located};
use crate::unit::Name;

/// Why a description makes no platform: every problem found.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("platform {platform}: {}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
#[non_exhaustive]
pub struct PlatformError {
    /// The platform's name.
    pub platform: Name,
    /// What is wrong; never empty.
    pub problems: Vec<PlatformProblem>,
}

/// One problem of a platform's description.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum PlatformProblem {
    /// No slot at all.
    #[error("the board has no slots; it needs at least one")]
    NoSlots,
    /// More than the library plans for.
    #[error("the board has {found} {what}; at most {at_most} are allowed")]
    TooMany {
        /// What is counted.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many may be.
        at_most: usize,
    },
    /// The same name for two things of one list.
    #[error("{what} {name} is given twice: {first} and {second}")]
    GivenTwice {
        /// What it names.
        what: &'static str,
        /// The name.
        name: Name,
        /// Where it stands first.
        first: FieldPath,
        /// Where it stands again.
        second: FieldPath,
    },
    /// Two slots of one channel at one position, or of one board with one turn.
    #[error("slots {first} and {second} have the same {what}, {number}")]
    SameNumber {
        /// Position or turn.
        what: &'static str,
        /// The number.
        number: u16,
        /// Label of the first slot.
        first: Name,
        /// Label of the second.
        second: Name,
    },
    /// A name that nothing on the board has.
    #[error("{place} names {what} {name}, which the board does not have")]
    Unknown {
        /// Where it stands.
        place: FieldPath,
        /// What it should name.
        what: &'static str,
        /// The name.
        name: Name,
    },
    /// A list that is empty where something must stand.
    #[error("{place} is empty; it needs at least one entry")]
    Empty {
        /// Which list.
        place: FieldPath,
    },
    /// A row that marks slots as one of two sizes only.
    #[error("fill_rows[{index}] marks slots as {marked} and none as {missing}; a row that marks sizes needs both")]
    OneSize {
        /// Index in the list.
        index: usize,
        /// What it marks.
        marked: RelativeSize,
        /// What it does not.
        missing: RelativeSize,
    },
    /// A limit on unlike modules that allows none.
    #[error("mix_limits[{index}] allows no value at all; at least 1 is needed")]
    MixOfNone {
        /// Index in the list.
        index: usize,
    },
    /// The rate table is unusable.
    #[error("rate_table: {0}")]
    RateTable(RateTableProblem),
    /// An exception to one number of ranks that lets nothing meet.
    #[error(
        "exception {index} to one number of ranks names {first} and {second}; two different numbers from 1 to 8 are needed"
    )]
    RankPair {
        /// Index in the list.
        index: usize,
        /// The one number.
        first: u8,
        /// The other.
        second: u8,
    },
    /// A pattern that no module can match.
    #[error("{place}: {problem}")]
    Pattern {
        /// Where it stands.
        place: FieldPath,
        /// Why none can.
        problem: PatternProblem,
    },
    /// A channel in two groups of one list.
    #[error("{place}: channel {channel} of socket {socket} is in two groups; groups must not overlap")]
    Overlap {
        /// Whose groups.
        place: FieldPath,
        /// The socket.
        socket: Name,
        /// The channel.
        channel: Name,
    },
    /// A channel with slots that belongs to no domain.
    #[error(
        "domain scheme {scheme} leaves out channel {channel} of socket {socket}; every channel with slots needs a domain"
    )]
    LeftOut {
        /// The scheme.
        scheme: Name,
        /// The socket.
        socket: Name,
        /// The channel.
        channel: Name,
    },
    /// Groups that do not suit what a mode does with them.
    #[error("mode {mode} has groups of {found} channels; {allowed}")]
    GroupSize {
        /// The mode.
        mode: Name,
        /// How many channels a group has; 0 for no groups at all.
        found: usize,
        /// What is allowed.
        allowed: &'static str,
    },
    /// A mirror without anything that makes its halves equal.
    #[error("mode {mode} mirrors, so the channels of a group must be identical in capacity at least")]
    UnequalMirror {
        /// The mode.
        mode: Name,
    },
    /// A number of a mode that is out of range.
    #[error("mode {mode}: {what} of {found}; {least} to {most} are allowed")]
    ModeNumber {
        /// The mode.
        mode: Name,
        /// Which number.
        what: &'static str,
        /// The number.
        found: u32,
        /// The least allowed.
        least: u32,
        /// The most allowed.
        most: u32,
    },
    /// A domain scheme that falls back in a circle, or for all processors to anything but one domain each.
    #[error("domain scheme {scheme} cannot fall back to {to}: {why}")]
    FallBack {
        /// The scheme.
        scheme: Name,
        /// What it should fall back to.
        to: Name,
        /// Why not.
        why: &'static str,
    },
    /// Numbers of modules at which a domain scheme holds that do not ascend from above 0.
    #[error("domain scheme {scheme} holds at {found} modules, given after {before}; numbers must ascend from above 0")]
    SchemeCount {
        /// The scheme.
        scheme: Name,
        /// The number.
        found: u16,
        /// The one before it; 0 for the first.
        before: u16,
    },
    /// Numbers of modules for a scheme of one domain for each processor.
    #[error(
        "domain scheme {scheme} has one domain for each processor, which holds at any number of modules; give none"
    )]
    CountsOfOneDomain {
        /// The scheme.
        scheme: Name,
    },
    /// A name that stands for something without being listed.
    #[error("{what} {name} is there on every platform and cannot be described; give it another name")]
    Reserved {
        /// Where it stands.
        place: FieldPath,
        /// What it names.
        what: &'static str,
        /// The name.
        name: Name,
    },
    /// The board's pattern, or its rows, are wrong.
    #[error(transparent)]
    Board(BoardProblem),
    /// A processor of another memory generation.
    #[error("processor {processor} is of another memory generation than the board")]
    ProcessorGeneration {
        /// Its name.
        processor: Name,
    },
}

impl Located for PlatformProblem {
    fn place(&self) -> FieldPath {
        let of = FieldPath::of;
        match self {
            Self::NoSlots | Self::TooMany { .. } => of("sockets"),
            Self::GivenTwice { second, .. } => second.clone(),
            Self::SameNumber { second, .. } => of("slots").named(second),
            Self::Unknown { place, .. }
            | Self::Empty { place }
            | Self::Pattern { place, .. }
            | Self::Overlap { place, .. } => place.clone(),
            Self::OneSize { index, .. } => of("fill_rows").index(*index).field("slots"),
            Self::MixOfNone { index } => of("mix_limits").index(*index),
            Self::RateTable(problem) => of("rate_table").join(&problem.place()),
            Self::RankPair { index, .. } => of("same_rank_count").field("except").index(*index),
            Self::LeftOut { scheme, .. } => of("domain_schemes").named(scheme).field("domains"),
            Self::GroupSize { mode, .. } => of("modes").named(mode).field("groups"),
            Self::UnequalMirror { mode } => of("modes").named(mode).field("identical"),
            Self::ModeNumber { mode, .. } => of("modes").named(mode),
            Self::FallBack { scheme, .. } => of("domain_schemes").named(scheme).field("falls_back_to"),
            Self::SchemeCount { scheme, .. } | Self::CountsOfOneDomain { scheme } => {
                of("domain_schemes").named(scheme).field("counts")
            }
            Self::Reserved { place, .. } => place.clone(),
            Self::Board(problem) => problem.place(),
            Self::ProcessorGeneration { processor } => of("processors").named(processor).field("generation"),
        }
    }
}
