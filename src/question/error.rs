use serde::{Serialize, Serializer};
use thiserror::Error;

use crate::fill::ArrangeError;
use crate::machine::MachineError;
use crate::platform::PlatformError;
use crate::population::PopulationError;
use crate::processor::ProcessorError;
use crate::purchase::RequestError;
use crate::rule::RuleBookError;
use crate::stated::{FieldPath, Located};
use crate::unit::{Name, Names};

/// What is wrong with a question.
///
/// As a document it says in which part, and gives each problem with its place, as a text and as data:
///
/// ```
/// use slotwright::question::Question;
///
/// let question = Question::new("ddr4-2s-4ch-3spc".into()).processors([("3".to_owned(), "later".into())]);
/// let error = serde_json::to_value(question.answer().unwrap_err())?;
/// assert_eq!(error["in"], "machine");
/// assert_eq!(error["problems"][0]["at"], "processors[3]");
/// assert_eq!(error["problems"][0]["text"], "there is no socket \"3\"; the sockets are 1, 2");
/// assert_eq!(error["problems"][0]["data"]["unknown_socket"]["allowed"][1], "2");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum QuestionError {
    /// The name of no ready-made platform.
    #[error("there is no ready-made platform {name:?}; there are {allowed}")]
    UnknownPlatform {
        /// The name given.
        name: String,
        /// The names that exist.
        allowed: Names,
    },
    /// The platform as described.
    #[error(transparent)]
    Platform(#[from] PlatformError),
    /// A processor as described.
    #[error("socket {socket}: {error}")]
    Processor {
        /// The socket.
        socket: String,
        /// What is wrong with its processor.
        error: ProcessorError,
    },
    /// The machine: what sits in its sockets, its options, its settings.
    #[error(transparent)]
    Machine(#[from] MachineError),
    /// The settings of the rules.
    #[error(transparent)]
    Rules(#[from] RuleBookError),
    /// There is no request, and what is asked is about one.
    #[error("what is asked is about a request, and there is none")]
    NoRequest,
    /// The request.
    #[error(transparent)]
    Request(#[from] RequestError),
    /// The request to arrange or to even out.
    #[error(transparent)]
    Arrange(#[from] ArrangeError),
    /// The population.
    #[error(transparent)]
    Population(#[from] PopulationError),
}

impl QuestionError {
    /// The part of the question in which it is.
    #[must_use]
    pub const fn part(&self) -> &'static str {
        match self {
            Self::UnknownPlatform { .. } | Self::Platform(_) => "platform",
            Self::Processor { .. } => "processors",
            Self::Machine(_) => "machine",
            Self::Rules(_) => "rules",
            Self::NoRequest | Self::Request(_) => "request",
            Self::Arrange(_) | Self::Population(_) => "ask",
        }
    }
}

/// A problem: where it is, as a text and as data.
#[derive(Serialize)]
struct Problem<D> {
    at: FieldPath,
    text: String,
    data: D,
}

/// A name of no ready-made platform, as data.
#[derive(Serialize)]
struct UnknownPlatform<'e> {
    name: &'e str,
    allowed: &'e Names,
}

/// An error as a document.
#[derive(Serialize)]
struct Document<D> {
    #[serde(rename = "in")]
    part: &'static str,
    problems: Vec<Problem<D>>,
}

impl QuestionError {
    /// Writes problems of a part of the question that begins at a place.
    fn written<'e, S: Serializer, D: Serialize + ToString + Located + 'e>(
        &self,
        serializer: S,
        part_at: &FieldPath,
        problems: impl IntoIterator<Item = &'e D>,
    ) -> Result<S::Ok, S::Error> {
        let problem = |data: &'e D| Problem { at: part_at.clone().join(&data.place()), text: data.to_string(), data };
        Document { part: self.part(), problems: problems.into_iter().map(problem).collect() }.serialize(serializer)
    }

    /// Writes the error itself.
    fn itself<S: Serializer, D: Serialize>(&self, serializer: S, data: D) -> Result<S::Ok, S::Error> {
        let problems = vec![Problem { at: FieldPath::of(self.part()), text: self.to_string(), data }];
        Document { part: self.part(), problems }.serialize(serializer)
    }
}

impl Serialize for QuestionError {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let at = FieldPath::of(self.part());
        match self {
            Self::UnknownPlatform { name, allowed } => self.itself(serializer, UnknownPlatform { name, allowed }),
            Self::NoRequest => self.itself(serializer, "no_request"),
            Self::Platform(error) => self.written(serializer, &at, &error.problems),
            Self::Processor { socket, error } => {
                self.written(serializer, &at.named(&Name::lossy(socket)), &error.problems)
            }
            // its fields are fields of the question
            Self::Machine(error) => self.written(serializer, &FieldPath::default(), &error.problems),
            Self::Rules(error) => self.written(serializer, &at, [error]),
            Self::Request(error) => self.written(serializer, &at, &error.problems),
            Self::Arrange(ArrangeError::Population(error)) | Self::Population(error) => {
                self.written(serializer, &at, &error.problems)
            }
            Self::Arrange(error) => self.written(serializer, &at, [error]),
        }
    }
}
