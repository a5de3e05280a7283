use serde::{Deserialize, Serialize};

/// What a test came to, in the caller's word.
///
/// ```
/// use slotwright::acceptance::TestOutcome;
///
/// assert_eq!(TestOutcome::said("FAILED, 3 errors"), TestOutcome::Failed);
/// assert_eq!(TestOutcome::said("not run"), TestOutcome::NotRun);
/// // nobody guesses whether that is a pass
/// assert_eq!(TestOutcome::said("3 errors found"), TestOutcome::NotSaid);
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum TestOutcome {
    /// It found nothing.
    Passed,
    /// It found something: credits are not due.
    Failed,
    /// It was not run: credits are not due before it is.
    NotRun,
    /// Nobody says which: credits are not due before somebody does.
    #[default]
    NotSaid,
}

impl TestOutcome {
    /// What a text says that begins with "passed", "failed" or "not run", in letters of any case; of any other text it is not said.
    #[must_use]
    pub fn said(text: &str) -> Self {
        let words = text.split(|letter: char| !letter.is_alphanumeric()).filter(|word| !word.is_empty());
        let words: Vec<String> = words.take(2).map(str::to_lowercase).collect();
        match words.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
            ["passed", ..] => Self::Passed,
            ["failed", ..] => Self::Failed,
            ["not", "run"] => Self::NotRun,
            _ => Self::NotSaid,
        }
    }
}
