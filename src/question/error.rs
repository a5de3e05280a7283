use serde::{Serialize, Serializer};
use thiserror::Error;

use crate::fill::ArrangeError;
use crate::machine::MachineError;
use crate::platform::PlatformError;
use crate::population::PopulationError;
use crate::processor::ProcessorError;
use crate::purchase::RequestError;
use crate::rule::RuleBookError;
use crate::unit::Names;

/// What is wrong with a question.
///
/// As a document it says in which part, and gives each problem as a text and as data:
///
/// ```
/// use slotwright::question::Question;
///
/// let question = Question::new("ddr4-2s-4ch-3spc".into()).processors([("3".to_owned(), "later".into())]);
/// let error = serde_json::to_value(question.answer().unwrap_err())?;
/// assert_eq!(error["in"], "machine");
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

/// A problem, as a text and as data.
#[derive(Serialize)]
struct Problem<D> {
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

fn written<S: Serializer, D: Serialize + ToString>(
    serializer: S,
    part: &'static str,
    problems: impl IntoIterator<Item = D>,
) -> Result<S::Ok, S::Error> {
    let problems = problems.into_iter().map(|data| Problem { text: data.to_string(), data }).collect();
    Document { part, problems }.serialize(serializer)
}

impl Serialize for QuestionError {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let part = self.part();
        match self {
            Self::UnknownPlatform { name, allowed } => {
                let data = UnknownPlatform { name, allowed };
                let problems = vec![Problem { text: self.to_string(), data }];
                Document { part, problems }.serialize(serializer)
            }
            Self::Platform(error) => written(serializer, part, &error.problems),
            Self::Processor { error, .. } => written(serializer, part, &error.problems),
            Self::Machine(error) => written(serializer, part, &error.problems),
            Self::Rules(error) => written(serializer, part, [error]),
            Self::NoRequest => written(serializer, part, [self.to_string()]),
            Self::Request(error) => written(serializer, part, &error.problems),
            Self::Arrange(ArrangeError::Population(error)) | Self::Population(error) => {
                written(serializer, part, &error.problems)
            }
            Self::Arrange(error) => written(serializer, part, [error]),
        }
    }
}
