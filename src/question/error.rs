use serde::{Serialize, Serializer};
use thiserror::Error;

use crate::acceptance::AcceptanceError;
use crate::fill::ArrangeError;
use crate::machine::MachineError;
use crate::platform::PlatformError;
use crate::population::{AnswerError, OpenError, PopulationError, SitingError};
use crate::processor::ProcessorError;
use crate::purchase::RequestError;
use crate::rule::RuleBookError;
use crate::stated::{FieldPath, Located};
use crate::unit::{Name, Names};
use crate::work_order::{OrderError, WayBackError, WithoutError};

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
    #[error("this question needs a `request`")]
    NoRequest,
    /// The request.
    #[error(transparent)]
    Request(#[from] RequestError),
    /// What is to be arranged or evened out.
    #[error("{error}")]
    Arrange {
        /// The verb, as it is asked.
        ask: &'static str,
        /// The field that holds what is there.
        population: &'static str,
        /// What is wrong.
        error: ArrangeError,
    },
    /// What is to meet a mode.
    #[error("{error}")]
    Mode {
        /// What is wrong.
        error: RequestError,
    },
    /// A population that is asked about.
    #[error("{error}")]
    Population {
        /// The verb, as it is asked.
        ask: &'static str,
        /// What is wrong.
        error: PopulationError,
    },
    /// Reports that do not fit the board.
    #[error(transparent)]
    Siting(#[from] SitingError),
    /// An answer to what reports leave open.
    #[error(transparent)]
    Answer(#[from] AnswerError),
    /// Something that must be known first.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// A request for a work order.
    #[error(transparent)]
    WorkOrder(#[from] OrderError),
    /// A way back that does not exist.
    #[error(transparent)]
    WayBack(#[from] WayBackError),
    /// Modules that cannot fail.
    #[error(transparent)]
    Without(#[from] WithoutError),
    /// What is to be accepted, or tested by swapping.
    #[error("{error}")]
    Acceptance {
        /// The verb, as it is asked.
        ask: &'static str,
        /// What is wrong.
        error: AcceptanceError,
    },
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
            Self::Arrange { .. }
            | Self::Mode { .. }
            | Self::Population { .. }
            | Self::Siting(_)
            | Self::Answer(_)
            | Self::Open(_)
            | Self::WorkOrder(_)
            | Self::WayBack(_)
            | Self::Without(_)
            | Self::Acceptance { .. } => "ask",
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
    /// Writes problems, each at its place in the question.
    fn written<'e, S: Serializer, D: Serialize + ToString + Located + 'e>(
        &self,
        serializer: S,
        at: impl Fn(FieldPath) -> FieldPath,
        problems: impl IntoIterator<Item = &'e D>,
    ) -> Result<S::Ok, S::Error> {
        let problem = |data: &'e D| Problem { at: at(data.place()), text: data.to_string(), data };
        Document { part: self.part(), problems: problems.into_iter().map(problem).collect() }.serialize(serializer)
    }

    /// Writes the error itself.
    fn itself<S: Serializer, D: Serialize>(&self, serializer: S, data: D) -> Result<S::Ok, S::Error> {
        self.at(serializer, FieldPath::of(self.part()), data)
    }

    /// Writes the error itself, at a place.
    fn at<S: Serializer, D: Serialize>(&self, serializer: S, at: FieldPath, data: D) -> Result<S::Ok, S::Error> {
        let problems = vec![Problem { at, text: self.to_string(), data }];
        Document { part: self.part(), problems }.serialize(serializer)
    }
}

impl Serialize for QuestionError {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let part = FieldPath::of(self.part());
        let below = |at: &FieldPath| {
            let at = at.clone();
            move |place: FieldPath| at.clone().join(&place)
        };
        let asked = FieldPath::of("ask");
        match self {
            Self::UnknownPlatform { name, allowed } => self.itself(serializer, UnknownPlatform { name, allowed }),
            Self::NoRequest => self.itself(serializer, "no_request"),
            Self::Platform(error) => self.written(serializer, below(&part), &error.problems),
            Self::Processor { socket, error } => {
                self.written(serializer, below(&part.named(&Name::lossy(socket))), &error.problems)
            }
            // its fields are fields of the question
            Self::Machine(error) => self.written(serializer, below(&FieldPath::default()), &error.problems),
            Self::Rules(error) => self.written(serializer, below(&part), [error]),
            Self::Request(error) => {
                let stages = asked.field("stages");
                let at = |place: FieldPath| match place.within("later") {
                    Some(later) => stages.clone().join(&later),
                    None => part.clone().join(&place),
                };
                self.written(serializer, at, &error.problems)
            }
            Self::Mode { error } => {
                let asked = asked.field("meet_mode");
                let at = |place: FieldPath| asked.clone().join(&place.within("present").unwrap_or(place));
                self.written(serializer, at, &error.problems)
            }
            Self::Population { ask, error } => self.written(serializer, below(&asked.field(ask)), &error.problems),
            Self::Arrange { ask, population, error: ArrangeError::Population(error) } => {
                self.written(serializer, below(&asked.field(ask).field(population)), &error.problems)
            }
            Self::Arrange { ask, error, .. } => self.written(serializer, below(&asked.field(ask)), [error]),
            Self::Siting(error) => self.itself(serializer, error),
            Self::Answer(error) => self.itself(serializer, error),
            Self::Open(error) => self.itself(serializer, error),
            Self::WorkOrder(OrderError::Request { problems }) => {
                self.written(serializer, below(&asked.field("work_order")), problems)
            }
            Self::WorkOrder(error) => self.itself(serializer, error),
            Self::WayBack(error) => self.itself(serializer, error),
            Self::Without(error) => self.itself(serializer, error),
            Self::Acceptance { ask, error } => {
                let asked = asked.field(ask);
                match error {
                    AcceptanceError::Planned(error) => {
                        let field = if *ask == "swap_test" { "population" } else { "planned" };
                        self.written(serializer, below(&asked.field(field)), &error.problems)
                    }
                    AcceptanceError::Before(error) => {
                        self.written(serializer, below(&asked.field("before")), &error.problems)
                    }
                    error => self.at(serializer, asked, error),
                }
            }
        }
    }
}
