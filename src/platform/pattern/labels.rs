//! The labels of channels and slots.

use core::fmt;
use core::str::FromStr;

use serde::de::value::SeqAccessDeserializer;
use serde::de::{self, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};
use thiserror::Error;

use crate::platform::pattern::lists::List;
use crate::unit::Name;

/// The labels of the channels.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum ChannelLabels {
    /// So many in each socket, by letters that start again at A in each.
    LettersStartingAgain(u8),
    /// So many in each socket, by letters that run on from one socket to the next.
    LettersRunningOn(u8),
    /// These in each socket.
    Listed(
        #[serde(with = "crate::platform::pattern::lists::one")]
        #[cfg_attr(feature = "schemars", schemars(with = "crate::platform::pattern::lists::NameListForm"))]
        Vec<Name>,
    ),
    /// These, socket by socket.
    ListedBySocket(
        #[serde(with = "crate::platform::pattern::lists::many")]
        #[cfg_attr(feature = "schemars", schemars(with = "Vec<crate::platform::pattern::lists::NameListForm>"))]
        Vec<Vec<Name>>,
    ),
}

impl ChannelLabels {
    /// The labels of each of so many sockets; `None` where letters run out.
    pub(super) fn of_sockets(&self, sockets: usize) -> Option<Vec<Vec<Name>>> {
        let letters = |from: usize, count: u8| -> Option<Vec<Name>> {
            let letter = |index: usize| u8::try_from(index).ok().filter(|index| *index < 26).map(|index| b'A' + index);
            (from..from + usize::from(count))
                .map(|index| Some(Name::lossy(&char::from(letter(index)?).to_string())))
                .collect()
        };
        match self {
            Self::LettersStartingAgain(count) => (0..sockets).map(|_| letters(0, *count)).collect(),
            Self::LettersRunningOn(count) => {
                (0..sockets).map(|socket| letters(socket * usize::from(*count), *count)).collect()
            }
            Self::Listed(labels) => Some(vec![labels.clone(); sockets]),
            Self::ListedBySocket(labels) => Some(labels.clone()),
        }
    }
}

/// The labels of the slots: as a document a text such as `"P{socket}-{channel}{number}"`, or lists of labels.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(untagged)]
#[non_exhaustive]
pub enum SlotLabels {
    /// Put together from pieces.
    Pieces(LabelPattern),
    /// Channel by channel, socket by socket; in each channel from number 1 on.
    Listed(
        #[cfg_attr(feature = "schemars", schemars(with = "Vec<crate::platform::pattern::lists::NameListForm>"))]
        Vec<Vec<Name>>,
    ),
}

impl FromStr for SlotLabels {
    type Err = LabelPatternError;

    fn from_str(text: &str) -> Result<Self, LabelPatternError> {
        text.parse().map(Self::Pieces)
    }
}

impl From<LabelPattern> for SlotLabels {
    fn from(pattern: LabelPattern) -> Self {
        Self::Pieces(pattern)
    }
}

impl<'de> Deserialize<'de> for SlotLabels {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct PiecesOrLists;

        impl<'de> Visitor<'de> for PiecesOrLists {
            type Value = SlotLabels;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a label with pieces in braces, or the labels of each channel")
            }

            fn visit_str<E: de::Error>(self, text: &str) -> Result<SlotLabels, E> {
                text.parse().map(SlotLabels::Pieces).map_err(E::custom)
            }

            fn visit_seq<A: SeqAccess<'de>>(self, lists: A) -> Result<SlotLabels, A::Error> {
                let lists: Vec<List> = Vec::deserialize(SeqAccessDeserializer::new(lists))?;
                Ok(SlotLabels::Listed(lists.into_iter().map(|list| list.0).collect()))
            }
        }

        deserializer.deserialize_any(PiecesOrLists)
    }
}

/// How a slot's label is put together. As a text, a piece stands in braces: `{socket}`, `{channel}`, `{number}` (in the
/// channel, from 1), `{number_in_socket}` (along all channels, from 1); a number may have a width, `{number:2}` is 01, 02
/// and so on; everything else stands for itself, and `{{` and `}}` for a brace.
///
/// ```
/// use slotwright::platform::{LabelPattern, LabelPiece};
///
/// let pattern: LabelPattern = "P{socket}-DIMM{number_in_socket:2}".parse()?;
/// assert_eq!(pattern.pieces[3], LabelPiece::NumberInSocket { width: 2 });
/// assert_eq!(pattern.to_string(), "P{socket}-DIMM{number_in_socket:2}");
/// let error = "{slot}".parse::<LabelPattern>().unwrap_err();
/// assert!(error.to_string().starts_with("there is no piece {slot}; there are {socket}, {channel}"));
/// # Ok::<(), slotwright::platform::LabelPatternError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(try_from = "String", into = "String")]
#[non_exhaustive]
pub struct LabelPattern {
    /// Its pieces, one after another.
    pub pieces: Vec<LabelPiece>,
}

/// A piece of a slot's label.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum LabelPiece {
    /// The socket's label.
    Socket,
    /// The channel's label.
    Channel,
    /// The slot's number in its channel, from 1.
    Number {
        /// With zeros before it to this width.
        width: u8,
    },
    /// The slot's number in its socket, from 1, channel by channel.
    NumberInSocket {
        /// With zeros before it to this width.
        width: u8,
    },
    /// A text.
    Text(String),
}

/// Why a text is no pattern of labels.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum LabelPatternError {
    /// A piece that there is not.
    #[error(
        "there is no piece {{{found}}}; there are {{socket}}, {{channel}}, {{number}} and {{number_in_socket}}, the last two with a width from 1 to 9 where wanted, as {{number:2}}"
    )]
    UnknownPiece {
        /// What stands in the braces.
        found: String,
    },
    /// A brace without its other half.
    #[error("a brace at character {at} has no other half; for a brace itself write it twice")]
    LoneBrace {
        /// At which character, from 1.
        at: usize,
    },
    /// Nothing at all.
    #[error("the pattern of a label is empty; it needs a piece at least")]
    Empty,
}

impl LabelPattern {
    /// Puts pieces together.
    #[must_use]
    pub fn new(pieces: impl IntoIterator<Item = LabelPiece>) -> Self {
        Self { pieces: pieces.into_iter().collect() }
    }

    /// The label of a slot.
    pub(super) fn label(&self, socket: &Name, channel: &Name, number: usize, in_socket: usize) -> String {
        let piece = |piece: &LabelPiece| match piece {
            LabelPiece::Socket => socket.to_string(),
            LabelPiece::Channel => channel.to_string(),
            LabelPiece::Number { width } => format!("{number:0width$}", width = usize::from(*width)),
            LabelPiece::NumberInSocket { width } => format!("{in_socket:0width$}", width = usize::from(*width)),
            LabelPiece::Text(text) => text.clone(),
        };
        self.pieces.iter().map(piece).collect()
    }
}

impl fmt::Display for LabelPattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let number = |f: &mut fmt::Formatter<'_>, what: &str, width: u8| match width {
            0 | 1 => write!(f, "{{{what}}}"),
            width => write!(f, "{{{what}:{width}}}"),
        };
        self.pieces.iter().try_for_each(|piece| match piece {
            LabelPiece::Socket => f.write_str("{socket}"),
            LabelPiece::Channel => f.write_str("{channel}"),
            LabelPiece::Number { width } => number(f, "number", *width),
            LabelPiece::NumberInSocket { width } => number(f, "number_in_socket", *width),
            LabelPiece::Text(text) => f.write_str(&text.replace('{', "{{").replace('}', "}}")),
        })
    }
}

impl FromStr for LabelPattern {
    type Err = LabelPatternError;

    fn from_str(text: &str) -> Result<Self, LabelPatternError> {
        let mut pieces = Vec::new();
        let mut own = String::new();
        let mut chars = text.chars().enumerate().peekable();
        while let Some((at, char)) = chars.next() {
            let twice = chars.peek().is_some_and(|&(_, next)| next == char);
            match char {
                '{' | '}' if twice => {
                    own.push(char);
                    chars.next();
                }
                '}' => return Err(LabelPatternError::LoneBrace { at: at + 1 }),
                '{' => {
                    let mut piece = String::new();
                    loop {
                        match chars.next() {
                            Some((_, '}')) => break,
                            Some((_, char)) => piece.push(char),
                            None => return Err(LabelPatternError::LoneBrace { at: at + 1 }),
                        }
                    }
                    if !own.is_empty() {
                        pieces.push(LabelPiece::Text(std::mem::take(&mut own)));
                    }
                    pieces.push(piece_of(&piece).ok_or(LabelPatternError::UnknownPiece { found: piece })?);
                }
                char => own.push(char),
            }
        }
        if !own.is_empty() {
            pieces.push(LabelPiece::Text(own));
        }
        if pieces.is_empty() { Err(LabelPatternError::Empty) } else { Ok(Self { pieces }) }
    }
}

fn piece_of(text: &str) -> Option<LabelPiece> {
    let (what, width) = match text.split_once(':') {
        None => (text, 1),
        Some((what, width)) => match width.as_bytes() {
            [digit @ b'1'..=b'9'] => (what, digit - b'0'),
            _ => return None,
        },
    };
    match (what, text.contains(':')) {
        ("socket", false) => Some(LabelPiece::Socket),
        ("channel", false) => Some(LabelPiece::Channel),
        ("number", _) => Some(LabelPiece::Number { width }),
        ("number_in_socket", _) => Some(LabelPiece::NumberInSocket { width }),
        _ => None,
    }
}

impl TryFrom<String> for LabelPattern {
    type Error = LabelPatternError;

    fn try_from(text: String) -> Result<Self, LabelPatternError> {
        text.parse()
    }
}

impl From<LabelPattern> for String {
    fn from(pattern: LabelPattern) -> Self {
        pattern.to_string()
    }
}
