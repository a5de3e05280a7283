use core::fmt;
use std::cell::OnceCell;
use std::sync::Arc;

use crate::figure::RunningRate;
use crate::finding::{FactValue, Finding, Severity};
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::population::{ChannelLoad, Layout, ModuleSite, SocketLoad};
use crate::processor::MissingFact;
use crate::rule::{
    CountBound, Form, Hint, KeyResult, Mix, MixBound, MixOf, Report, RuleBook, RuleBookError, Sink, Threshold,
};
use crate::stated::{Basis, Demand};
use crate::unit::Name;

/// A rule: a code, a severity, and a form. Cheap to clone.
///
/// ```
/// use slotwright::rule::{CountBound, CountSet, Rule};
/// use slotwright::stated::Scope;
/// use slotwright::{RuleBook, Severity};
///
/// let at_most_20 = CountBound::new(Scope::Machine, CountSet::AtMost(20));
/// let rule = Rule::count("own-at-most-20", "four slots stay free for later", Severity::Error, at_most_20)?;
/// assert_eq!(rule.code().as_str(), "own-at-most-20");
/// let rules = RuleBook::standard().with(rule)?;
/// assert!(rules.get("own-at-most-20").is_some());
/// # Ok::<(), slotwright::rule::RuleBookError>(())
/// ```
#[derive(Clone)]
pub struct Rule {
    code: Name,
    summary: Name,
    severity: Severity,
    overridden: bool,
    hereditary: bool,
    placement_free: bool,
    reads_identity: bool,
    reads_grades: bool,
    uniform: bool,
    /// Whether it is about evenness: its warnings yield to what a manual prints, and to what was so before.
    evenness: bool,
    /// Whether its warnings are let through where warnings are refused.
    lenient: bool,
    idle: Option<fn(&Machine) -> bool>,
    hints: Option<Hints>,
    form: Arc<Form>,
}

/// The hints of a rule on a machine.
type Hints = Arc<dyn Fn(&Machine) -> Vec<Hint> + Send + Sync>;

impl fmt::Debug for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            code,
            severity,
            overridden,
            hereditary,
            placement_free,
            reads_identity,
            reads_grades,
            uniform,
            form,
            ..
        } = self;
        f.debug_struct("Rule")
            .field("code", code)
            .field("severity", severity)
            .field("overridden", overridden)
            .field("hereditary", hereditary)
            .field("placement_free", placement_free)
            .field("reads_identity", reads_identity)
            .field("reads_grades", reads_grades)
            .field("uniform", uniform)
            .field("form", form)
            .finish_non_exhaustive()
    }
}

/// The most that a broken limit weighs: what is advised, or a maker's list, is a warning.
fn cap_of(basis: Basis, demand: Demand) -> Severity {
    let weak = demand == Demand::Advised || basis == Basis::MakersList;
    if weak { Severity::Warning } else { Severity::Error }
}

/// Makes the name of a code or summary.
fn name(text: &str) -> Result<Name, RuleBookError> {
    Name::new(text).map_err(|error| RuleBookError::BadName { error })
}

impl Rule {
    pub(crate) fn with_form(code: &str, summary: &str, severity: Severity, form: Form) -> Result<Self, RuleBookError> {
        // keys and counts of modules are judged whatever the rest of the population is
        let hereditary = matches!(form, Form::Module(_) | Form::Mix(Mix { of: MixOf::Modules(_), .. }));
        Ok(Self {
            code: name(code)?,
            summary: name(summary)?,
            severity,
            overridden: false,
            hereditary,
            placement_free: false,
            reads_identity: true,
            reads_grades: true,
            uniform: false,
            evenness: false,
            lenient: false,
            idle: None,
            hints: None,
            form: Arc::new(form),
        })
    }

    /// A rule on a module in a slot.
    ///
    /// # Errors
    /// When code or summary is no [`Name`]: empty, or longer than 120 bytes.
    pub fn module(
        code: &str,
        summary: &str,
        severity: Severity,
        check: impl Fn(&ModuleSite<'_>, &mut Report<'_>) + Send + Sync + 'static,
    ) -> Result<Self, RuleBookError> {
        Self::with_form(code, summary, severity, Form::Module(Box::new(check)))
    }

    /// A rule on what sits in one channel. It is asked of empty channels as well.
    ///
    /// # Errors
    /// When code or summary is no [`Name`].
    pub fn channel(
        code: &str,
        summary: &str,
        severity: Severity,
        check: impl Fn(&ChannelLoad<'_>, &mut Report<'_>) + Send + Sync + 'static,
    ) -> Result<Self, RuleBookError> {
        Self::with_form(code, summary, severity, Form::Channel(Box::new(check)))
    }

    /// A rule on what sits on one processor that is present.
    ///
    /// # Errors
    /// When code or summary is no [`Name`].
    pub fn socket(
        code: &str,
        summary: &str,
        severity: Severity,
        check: impl Fn(&SocketLoad<'_>, &mut Report<'_>) + Send + Sync + 'static,
    ) -> Result<Self, RuleBookError> {
        Self::with_form(code, summary, severity, Form::Socket(Box::new(check)))
    }

    /// A rule on how many different keys there are: the key is read from a module, or is nothing for a
    /// module that does not take part.
    ///
    /// # Errors
    /// When code or summary is no [`Name`].
    pub fn mix(
        code: &str,
        summary: &str,
        severity: Severity,
        bound: MixBound,
        key: impl Fn(&ModuleSite<'_>) -> Result<Option<FactValue>, MissingFact> + Send + Sync + 'static,
    ) -> Result<Self, RuleBookError> {
        let bounds = Box::new(move |_: &Machine| vec![bound.clone()]);
        Self::with_form(code, summary, severity, Form::Mix(Mix { of: MixOf::Modules(Box::new(key)), bounds }))
    }

    /// The same with the key of a populated channel.
    ///
    /// # Errors
    /// When code or summary is no [`Name`].
    pub fn channel_mix(
        code: &str,
        summary: &str,
        severity: Severity,
        bound: MixBound,
        key: impl Fn(&ChannelLoad<'_>) -> KeyResult + Send + Sync + 'static,
    ) -> Result<Self, RuleBookError> {
        let bounds = Box::new(move |_: &Machine| vec![bound.clone()]);
        Self::with_form(code, summary, severity, Form::Mix(Mix { of: MixOf::Channels(Box::new(key)), bounds }))
    }

    /// A rule that populated channels be alike: they are told apart by the facts of their modules, in order from the far
    /// end, empty slots left out. A search works with such rules as with the standard one.
    ///
    /// # Errors
    /// When code or summary is no [`Name`].
    pub fn like_channels(
        code: &str,
        summary: &str,
        severity: Severity,
        bound: MixBound,
        fact: impl Fn(&MemoryModule) -> FactValue + Send + Sync + 'static,
    ) -> Result<Self, RuleBookError> {
        let bounds = Box::new(move |_: &Machine| vec![bound.clone()]);
        Self::with_form(code, summary, severity, Form::Mix(Mix { of: MixOf::Loads(Box::new(fact)), bounds }))
    }

    /// A rule that processors with memory be alike: they are told apart by how many of their channels hold which modules,
    /// each channel and module as [`Rule::like_channels`] tells them apart.
    ///
    /// # Errors
    /// When code or summary is no [`Name`].
    pub fn like_processors(
        code: &str,
        summary: &str,
        severity: Severity,
        bound: MixBound,
        fact: impl Fn(&MemoryModule) -> FactValue + Send + Sync + 'static,
    ) -> Result<Self, RuleBookError> {
        let bounds = Box::new(move |_: &Machine| vec![bound.clone()]);
        Self::with_form(
            code,
            summary,
            severity,
            Form::Mix(Mix { of: MixOf::Processors { fact: Box::new(fact), by_slot: false }, bounds }),
        )
    }

    /// A rule on how many modules there are.
    ///
    /// # Errors
    /// When code or summary is no [`Name`].
    pub fn count(code: &str, summary: &str, severity: Severity, bound: CountBound) -> Result<Self, RuleBookError> {
        Self::with_form(code, summary, severity, Form::Count(Box::new(move |_| vec![bound.clone()])))
    }

    /// A rule on anything. A search asks it at complete candidates only, unless it makes a promise.
    ///
    /// # Errors
    /// When code or summary is no [`Name`].
    pub fn population(
        code: &str,
        summary: &str,
        severity: Severity,
        check: impl Fn(&Layout<'_>, &mut Report<'_>) + Send + Sync + 'static,
    ) -> Result<Self, RuleBookError> {
        Self::with_form(code, summary, severity, Form::Population(Box::new(check)))
    }

    /// Promises that once the rule is broken, further modules never mend it. A search may then give a
    /// partial candidate up early. A promise that is not kept makes answers wrong.
    #[must_use]
    pub fn hereditary(mut self) -> Self {
        self.hereditary = true;
        self
    }

    /// Promises that the rule looks at which modules there are and how many, never at where they sit. A search then asks it
    /// once for each choice of modules, before it looks for places. A promise that is not kept makes answers wrong.
    #[must_use]
    pub fn placement_free(mut self) -> Self {
        self.placement_free = true;
        self
    }

    /// Promises that the rule never looks at part number, maker or power, so that a search may treat
    /// modules that differ in these alone as one. Where a table of the machine names a part number or a maker, it never does.
    #[must_use]
    pub fn blind_to_identity(mut self) -> Self {
        self.reads_identity = false;
        self
    }

    /// Promises that the rule never looks at the grade of a module, but whether it is known and through the running rate, so
    /// that a search may place modules that differ in grade alone as one. A rule on modules, which judges each by itself, need
    /// not promise it. Where a table of the machine names a grade, modules of unlike grades are told apart in any case.
    #[must_use]
    pub fn blind_to_grade(mut self) -> Self {
        self.reads_grades = false;
        self
    }

    /// Promises that the rule looks at what a slot or channel is like (wiring, position, processor),
    /// never at which one it is, so that a search may judge like channels once.
    #[must_use]
    pub fn uniform(mut self) -> Self {
        self.uniform = true;
        self
    }

    /// Tells searches what they may use of the rule on a machine.
    #[must_use]
    pub fn hinting(mut self, hints: impl Fn(&Machine) -> Vec<Hint> + Send + Sync + 'static) -> Self {
        self.hints = Some(Arc::new(hints));
        self
    }

    /// What searches may use of the rule on a machine.
    pub(crate) fn hints(&self, machine: &Machine) -> Vec<Hint> {
        self.hints.as_ref().map(|hints| hints(machine)).unwrap_or_default()
    }

    /// What a finding of the rule on these grounds weighs, as the report says: what the caller has set counts.
    pub(crate) fn weight(&self, basis: Basis, demand: Demand) -> Severity {
        self.weight_up_to(cap_of(basis, demand))
    }

    /// What a finding of the rule weighs that may weigh so much.
    pub(crate) fn weight_up_to(&self, cap: Severity) -> Severity {
        if self.overridden { self.severity } else { self.severity.min(cap) }
    }

    /// From which severity its findings refuse a candidate, where those of other rules do so from `threshold`.
    pub(crate) fn threshold(&self, threshold: Threshold) -> Threshold {
        if self.lenient { threshold.max(Severity::Error) } else { threshold }
    }

    pub(crate) fn let_warnings_through(&mut self) {
        self.lenient = true;
    }

    /// The rule is about evenness.
    pub(crate) fn about_evenness(mut self) -> Self {
        self.evenness = true;
        self
    }

    /// Whether it asks that processors be alike.
    pub(crate) fn tells_processors_apart(&self) -> bool {
        matches!(self.form(), Form::Mix(Mix { of: MixOf::Processors { .. }, .. }))
    }

    /// Whether the rule is about evenness.
    pub(crate) fn is_evenness(&self) -> bool {
        self.evenness
    }

    /// Says on which machines the rule can have nothing to say.
    pub(crate) fn idle_on(mut self, idle: fn(&Machine) -> bool) -> Self {
        self.idle = Some(idle);
        self
    }

    /// Whether the rule can have nothing to say on a machine.
    pub(crate) fn is_idle(&self, machine: &Machine) -> bool {
        self.idle.is_some_and(|idle| idle(machine))
    }

    /// Its code.
    #[must_use]
    pub fn code(&self) -> &Name {
        &self.code
    }

    /// What it says, as a phrase.
    #[must_use]
    pub fn summary(&self) -> &Name {
        &self.summary
    }

    /// How much its findings weigh at most.
    #[must_use]
    pub fn severity(&self) -> Severity {
        self.severity
    }

    /// Whether a caller has set the severity: it then counts as set, on whatever basis.
    #[must_use]
    pub fn is_overridden(&self) -> bool {
        self.overridden
    }

    pub(crate) fn set_severity(&mut self, severity: Severity) {
        self.severity = severity;
        self.overridden = true;
    }

    pub(crate) fn form(&self) -> &Form {
        &self.form
    }

    pub(crate) fn is_hereditary(&self) -> bool {
        self.hereditary
    }

    pub(crate) fn is_placement_free(&self) -> bool {
        self.placement_free
    }

    pub(crate) fn is_uniform(&self) -> bool {
        self.uniform
    }

    pub(crate) fn reads_identity(&self) -> bool {
        self.reads_identity
    }

    pub(crate) fn reads_grades(&self) -> bool {
        self.reads_grades
    }

    /// Whether `check`, given a report of this rule of a book, finds anything that reaches the threshold.
    #[cfg(test)]
    pub(crate) fn probe(&self, threshold: Threshold, book: &RuleBook, check: impl FnOnce(&mut Report<'_>)) -> bool {
        self.probe_at(threshold, book, &OnceCell::new(), check)
    }

    /// What it says of a layout.
    pub(crate) fn findings(&self, book: &RuleBook, layout: &Layout<'_>, rate: &OnceCell<RunningRate>) -> Vec<Finding> {
        let mut sink = Sink::Collect(Vec::new());
        self.form().check(layout, &mut Report::new(self, book, &mut sink, rate));
        match sink {
            Sink::Collect(findings) => findings,
            Sink::Probe(..) => Vec::new(),
        }
    }

    /// The same, where the running rate may be known.
    pub(crate) fn probe_at(
        &self,
        threshold: Threshold,
        book: &RuleBook,
        rate: &OnceCell<RunningRate>,
        check: impl FnOnce(&mut Report<'_>),
    ) -> bool {
        let mut sink = Sink::Probe(threshold, false);
        check(&mut Report::new(self, book, &mut sink, rate));
        matches!(sink, Sink::Probe(_, true))
    }
}
