//! The lines of the service, and what becomes of one.

use std::ops::ControlFlow;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use serde::de::IgnoredAny;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use slotwright::Planner;
use slotwright::question::{Answer, Question, QuestionError};

/// A line of input.
pub(crate) enum Line {
    Empty,
    Cancel(u64),
    Ask(Waiting),
}

/// A request that is not fully read yet: that is a worker's task.
pub(crate) struct Waiting {
    pub(crate) id: u64,
    text: String,
    read_at: Instant,
    pub(crate) until: Option<Instant>,
    pub(crate) stop: Arc<AtomicBool>,
}

/// What is read of a line at once.
#[derive(Deserialize)]
struct Head {
    id: Option<u64>,
    cancel: Option<u64>,
    limit_ms: Option<u64>,
}

/// A whole request.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Request {
    #[serde(rename = "id")]
    _id: IgnoredAny,
    #[serde(rename = "limit_ms", default)]
    _limit_ms: IgnoredAny,
    question: Question,
}

/// A line of output.
#[derive(Debug, Serialize)]
pub(crate) struct Reply {
    /// That of the request; none where the line does not tell.
    id: Option<u64>,
    /// How long it took from when its line was read.
    #[serde(skip_serializing_if = "Option::is_none")]
    ms: Option<u64>,
    #[serde(flatten)]
    said: Said,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "snake_case")]
#[allow(clippy::large_enum_variant)]
enum Said {
    Answer(Answer),
    Error(Value),
}

/// What does not read, with its path.
fn unreadable(error: &dyn std::error::Error) -> Said {
    Said::Error(json!({ "in": "line", "problems": [{ "text": error.to_string() }] }))
}

impl Line {
    /// Reads as much of a line as is needed to let it wait.
    pub(crate) fn read(text: String, read_at: Instant) -> Result<Self, Box<Reply>> {
        if text.trim().is_empty() {
            return Ok(Self::Empty);
        }
        let refused = |said| Box::new(Reply { id: None, ms: None, said });
        match serde_json::from_str(&text) {
            Ok(Head { cancel: Some(id), .. }) => Ok(Self::Cancel(id)),
            Ok(Head { id: Some(id), limit_ms, .. }) => {
                let until = limit_ms.and_then(|limit| read_at.checked_add(Duration::from_millis(limit)));
                Ok(Self::Ask(Waiting { id, text, read_at, until, stop: Arc::default() }))
            }
            Ok(Head { id: None, .. }) => {
                Err(refused(unreadable(&std::io::Error::other("a line needs an id, or cancel"))))
            }
            Err(error) => Err(refused(unreadable(&error))),
        }
    }
}

impl Waiting {
    /// The answer: the best so far once its time is used up, or somebody stops it.
    pub(crate) fn answer(&self, until: Option<Instant>) -> Reply {
        let watch = |_| match self.stop.load(Ordering::Relaxed) || until.is_some_and(|until| Instant::now() >= until) {
            true => ControlFlow::Break(()),
            false => ControlFlow::Continue(()),
        };
        let ask = |question: &Question| -> Result<Answer, QuestionError> {
            let (machine, rules) = question.context()?;
            question.ask_of(Planner::new(&machine, &rules).watched(&watch))
        };
        let mut document = serde_json::Deserializer::from_str(&self.text);
        let said = match serde_path_to_error::deserialize::<_, Request>(&mut document) {
            Err(error) => unreadable(&error),
            Ok(request) => match ask(&request.question) {
                Ok(answer) => Said::Answer(answer),
                Err(error) => {
                    Said::Error(serde_json::to_value(&error).unwrap_or_else(|error| error.to_string().into()))
                }
            },
        };
        Reply { id: Some(self.id), ms: u64::try_from(self.read_at.elapsed().as_millis()).ok(), said }
    }
}
