use std::cell::OnceCell;
use std::collections::BTreeSet;
use std::sync::{Arc, LazyLock};

use itertools::Itertools as _;
use serde::Serialize;
use thiserror::Error;

use crate::figure::RunningRate;
use crate::finding::{Finding, Severity};
use crate::population::{Layout, ModuleSite};
use crate::processor::MissingFact;
use crate::rule::{Form, Report, Rule, RuleSettings, STANDARD_RULES, Sink};
use crate::stated::{FieldPath, Located};
use crate::unit::{Name, NameError, Names};

/// The rules in force, by code.
///
/// ```
/// use slotwright::rule::RuleBook;
///
/// let rules = RuleBook::standard().without("maker-mix")?;
/// assert!(rules.get("maker-mix").is_none());
/// assert!(rules.without("no-such-rule").is_err());
/// # Ok::<(), slotwright::rule::RuleBookError>(())
/// ```
#[derive(Debug, Clone)]
pub struct RuleBook {
    /// By code.
    rules: Vec<Arc<Rule>>,
    unknown_is_error: bool,
    /// Facts that may be unknown.
    accepted_unknown: BTreeSet<MissingFact>,
}

/// Why a rule book cannot be changed as asked.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum RuleBookError {
    /// A code that no rule of the book has.
    #[error("there is no rule {code:?}; the rules are {allowed}")]
    UnknownCode {
        /// The code given.
        code: String,
        /// The codes of the book.
        allowed: Names,
    },
    /// A code that the book already has.
    #[error("there is a rule {code} already; take it out first, or choose another code")]
    GivenTwice {
        /// The code.
        code: Name,
    },
    /// A code or summary that is no name.
    #[error("code or summary of a rule: {error}")]
    BadName {
        /// Why.
        error: NameError,
    },
}

impl Located for RuleBookError {
    fn place(&self) -> FieldPath {
        match self {
            Self::UnknownCode { code, .. } => FieldPath::of("severities").named(&Name::lossy(code)),
            // a rule is no document
            Self::GivenTwice { .. } | Self::BadName { .. } => FieldPath::default(),
        }
    }
}

/// The rules of the trade.
impl Default for RuleBook {
    fn default() -> Self {
        Self::standard()
    }
}

impl RuleBook {
    /// No rules.
    #[must_use]
    pub fn empty() -> Self {
        Self { rules: Vec::new(), unknown_is_error: false, accepted_unknown: BTreeSet::new() }
    }

    /// The rules of the trade, [`STANDARD_RULES`]. They are built once, and shared by all books.
    #[must_use]
    pub fn standard() -> Self {
        static BUILT: LazyLock<RuleBook> = LazyLock::new(|| {
            let rules = STANDARD_RULES.iter().filter_map(|row| row.rule().ok()).map(Arc::new);
            let rules = rules.sorted_by(|a, b| a.code().cmp(b.code())).collect();
            RuleBook { rules, ..RuleBook::empty() }
        });
        BUILT.clone()
    }

    /// The book with a further rule.
    ///
    /// # Errors
    /// When the book has a rule of this code.
    pub fn with(mut self, rule: Rule) -> Result<Self, RuleBookError> {
        match self.place(rule.code().as_str()) {
            Ok(_) => Err(RuleBookError::GivenTwice { code: rule.code().clone() }),
            Err(place) => {
                self.rules.insert(place, Arc::new(rule));
                Ok(self)
            }
        }
    }

    /// The book without a rule.
    ///
    /// # Errors
    /// When no rule has this code.
    pub fn without(mut self, code: &str) -> Result<Self, RuleBookError> {
        match self.place(code) {
            Ok(place) => {
                self.rules.remove(place);
                Ok(self)
            }
            Err(_) => Err(self.unknown(code)),
        }
    }

    /// The book without the rules of some codes.
    pub(crate) fn without_all(&self, codes: &[Name]) -> Self {
        let mut fewer = self.clone();
        fewer.rules.retain(|rule| !codes.contains(rule.code()));
        fewer
    }

    /// The book with a rule's severity set. It then counts as set, whatever the platform's basis or
    /// advice.
    ///
    /// # Errors
    /// When no rule has this code.
    pub fn with_severity(mut self, code: &str, severity: Severity) -> Result<Self, RuleBookError> {
        match self.get_mut(code) {
            Some(rule) => {
                rule.set_severity(severity);
                Ok(self)
            }
            None => Err(self.unknown(code)),
        }
    }

    /// The book in which a search lets the warnings of one rule through.
    pub(crate) fn accepting(mut self, code: &Name) -> Self {
        self.get_mut(code.as_str()).into_iter().for_each(Rule::let_warnings_through);
        self
    }

    /// The book in which a search lets the warnings on evenness through.
    pub(crate) fn accepting_unevenness(mut self) -> Self {
        let rules = self.rules.iter_mut().filter(|rule| rule.is_evenness());
        rules.for_each(|rule| Arc::make_mut(rule).let_warnings_through());
        self
    }

    /// The book as settings ask.
    ///
    /// # Errors
    /// When the settings name a code that no rule has.
    pub fn with_settings(mut self, settings: &RuleSettings) -> Result<Self, RuleBookError> {
        let RuleSettings { schema: _, severities, unknown_is_error } = settings;
        for (code, setting) in severities {
            self = match setting.severity() {
                Some(severity) => self.with_severity(code.as_str(), severity)?,
                None => self.without(code.as_str())?,
            };
        }
        self.unknown_is_error |= unknown_is_error;
        Ok(self)
    }

    /// The book in which a rule that cannot be judged is an error.
    #[must_use]
    pub fn unknown_is_error(mut self) -> Self {
        self.unknown_is_error = true;
        self
    }

    /// The rule of a code.
    #[must_use]
    pub fn get(&self, code: &str) -> Option<&Rule> {
        self.place(code).ok().and_then(|place| self.rules.get(place)).map(Arc::as_ref)
    }

    /// The rules, by code.
    pub fn rules(&self) -> impl Iterator<Item = &Rule> {
        self.rules.iter().map(Arc::as_ref)
    }

    /// Every finding of every rule on a layout: the heaviest first, then by code and place.
    #[must_use]
    pub fn check(&self, layout: &Layout<'_>) -> Vec<Finding> {
        self.check_at(layout, &OnceCell::new())
    }

    /// What the rules on modules say of one in a slot, in the same order.
    pub(crate) fn check_module(&self, site: &ModuleSite<'_>) -> Vec<Finding> {
        let (mut sink, rate) = (Sink::Collect(Vec::new()), OnceCell::new());
        for rule in self.rules().filter(|rule| !rule.is_idle(site.machine)) {
            if let Form::Module(check) = rule.form() {
                check(site, Report::new(rule, self, &mut sink, &rate).look_at([*site]));
            }
        }
        sorted(sink)
    }

    /// The same where the layout's running rate is known, or is to be known afterwards.
    pub(crate) fn check_at(&self, layout: &Layout<'_>, rate: &OnceCell<RunningRate>) -> Vec<Finding> {
        let mut sink = Sink::Collect(Vec::new());
        for rule in self.rules().filter(|rule| !rule.is_idle(layout.machine())) {
            rule.form().check(layout, &mut Report::new(rule, self, &mut sink, rate));
        }
        sorted(sink)
    }

    /// The book in which it is a note that one of these facts is not known.
    #[must_use]
    pub fn accepting_unknown(mut self, facts: impl IntoIterator<Item = MissingFact>) -> Self {
        self.accepted_unknown.extend(facts);
        self
    }

    pub(crate) fn accepts_unknown(&self, fact: MissingFact) -> bool {
        self.accepted_unknown.contains(&fact)
    }

    pub(crate) fn is_unknown_error(&self) -> bool {
        self.unknown_is_error
    }

    /// Where the rule of a code stands, or would.
    fn place(&self, code: &str) -> Result<usize, usize> {
        self.rules.binary_search_by(|rule| rule.code().as_str().cmp(code))
    }

    fn get_mut(&mut self, code: &str) -> Option<&mut Rule> {
        let place = self.place(code).ok()?;
        self.rules.get_mut(place).map(Arc::make_mut)
    }

    fn unknown(&self, code: &str) -> RuleBookError {
        let allowed = self.rules().map(Rule::code).collect();
        RuleBookError::UnknownCode { code: code.to_owned(), allowed }
    }
}

/// The findings that were collected: the heaviest first, then by code and place.
fn sorted(sink: Sink) -> Vec<Finding> {
    let mut findings = if let Sink::Collect(findings) = sink { findings } else { Vec::new() };
    findings.sort_by(|a, b| b.severity.cmp(&a.severity).then_with(|| a.cmp(b)));
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rules_are_kept_by_code() {
        let own = |code: &str| Rule::population(code, "own", Severity::Error, |_, _| ()).unwrap();
        let book = RuleBook::empty().with(own("own-b")).unwrap().with(own("own-a")).unwrap();
        assert_eq!(book.rules().map(|rule| rule.code().as_str()).collect::<Vec<_>>(), ["own-a", "own-b"]);
        assert!(matches!(book.clone().with(own("own-a")), Err(RuleBookError::GivenTwice { code }) if code == "own-a"));
        let text = book.clone().without("own").unwrap_err().to_string();
        assert_eq!(text, "there is no rule \"own\"; the rules are own-a, own-b");
        let severe = book.clone().with_severity("own-a", Severity::Note).unwrap();
        assert_eq!(severe.get("own-a").map(Rule::severity), Some(Severity::Note));
        // what a book was made from is as it was
        assert_eq!(book.get("own-a").map(Rule::severity), Some(Severity::Error));
        assert!(format!("{severe:?}").contains("code: \"own-a\", severity: Note"), "{severe:?}");
    }
}
