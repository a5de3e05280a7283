use serde::Serialize;
use thiserror::Error;

use crate::stated::{FieldPath, Located};
use crate::unit::{Name, NameError, Names};

/// One problem of a board's pattern, or of its rows.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum BoardProblem {
    /// A description that says the board twice.
    #[error("the board has sockets and a pattern; it must have one of them")]
    SocketsAndPattern,
    /// More than the library plans for.
    #[error("the pattern makes {found} {what}; at most {at_most} are allowed")]
    TooMany {
        /// What is counted.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many may be.
        at_most: usize,
    },
    /// A basis beside a pattern, which has its own.
    #[error("{place} stands beside a pattern, which says itself what its positions and turns rest on")]
    BasisBesidePattern {
        /// Where it stands.
        place: FieldPath,
    },
    /// More channels than letters.
    #[error("channels: letters end at Z; list the labels of more than 26 channels")]
    LettersRunOut,
    /// Channels that cannot be shared out.
    #[error("socket {socket}: {channels} channels cannot be shared evenly among {controllers} controllers")]
    UnevenControllers {
        /// The socket.
        socket: Name,
        /// How many channels it has.
        channels: usize,
        /// How many controllers there are.
        controllers: usize,
    },
    /// A list of another length than what it speaks of.
    #[error("{place} has {found} entries for {wanted} {what}")]
    Length {
        /// Which list.
        place: FieldPath,
        /// What it has an entry for each of.
        what: &'static str,
        /// How many entries it has.
        found: usize,
        /// How many it needs.
        wanted: usize,
    },
    /// A label that is no name.
    #[error("the label of slot {number} of channel {channel} of socket {socket}: {problem}")]
    Label {
        /// The socket.
        socket: Name,
        /// The channel.
        channel: Name,
        /// The slot's number in the channel.
        number: usize,
        /// What is wrong with it.
        problem: NameError,
    },
    /// One label for two slots.
    #[error(
        "slot label {label} stands for slot {} of channel {} of socket {}, and for slot {} of channel {} of socket {}; labels must differ",
        first.number, first.channel, first.socket, second.number, second.channel, second.socket
    )]
    Collision {
        /// The label.
        label: Name,
        /// The one slot.
        first: SlotAt,
        /// The other.
        second: SlotAt,
    },
    /// A name that nothing on the board has.
    #[error("{place} names {what} {name}, which the board does not have; it has {allowed}")]
    Unknown {
        /// Where it stands.
        place: FieldPath,
        /// What it should name.
        what: &'static str,
        /// The name.
        name: Name,
        /// The names that exist.
        allowed: Names,
    },
    /// A list that names something again.
    #[error("{place} names {what} {name} again")]
    Repeated {
        /// Where it stands again.
        place: FieldPath,
        /// What it names.
        what: &'static str,
        /// The name.
        name: Name,
    },
    /// A list that leaves out what it must name.
    #[error("{place} leaves out {what} {missing}")]
    LeftOut {
        /// Which list.
        place: FieldPath,
        /// What it should name.
        what: &'static str,
        /// What is missing.
        missing: Names,
    },
    /// Turns that fill a channel from the wrong end.
    #[error(
        "channel {channel} of socket {socket}: the turns fill slot {first} before {second}, but by the end that has number 1 {second} \
         comes first; one of number_one, turns and position_order is wrong"
    )]
    EndAgainstTurns {
        /// The socket.
        socket: Name,
        /// The channel.
        channel: Name,
        /// What comes first by the turns.
        first: Name,
        /// What comes first by the positions.
        second: Name,
    },
}

/// A slot by where it hangs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct SlotAt {
    /// The socket.
    pub socket: Name,
    /// The channel.
    pub channel: Name,
    /// Its number in the channel, from 1.
    pub number: usize,
}

impl Located for BoardProblem {
    fn place(&self) -> FieldPath {
        let of = |field: &'static str| FieldPath::of("pattern").field(field);
        match self {
            Self::SocketsAndPattern | Self::TooMany { .. } => FieldPath::of("pattern"),
            Self::LettersRunOut => of("channels"),
            Self::UnevenControllers { .. } => of("controllers"),
            Self::Label { .. } | Self::Collision { .. } => of("slot_labels"),
            Self::BasisBesidePattern { place }
            | Self::Length { place, .. }
            | Self::Unknown { place, .. }
            | Self::Repeated { place, .. }
            | Self::LeftOut { place, .. } => place.clone(),
            Self::EndAgainstTurns { .. } => of("number_one"),
        }
    }
}
