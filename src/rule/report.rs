use std::cell::OnceCell;

use crate::figure::RunningRate;
use crate::finding::{Fact, FactName, FactValue, Finding, Place, Remedy, Severity, Verdict};
use crate::platform::SocketId;
use crate::population::{Layout, ModuleSite};
use crate::processor::MissingFact;
use crate::rule::{Rule, RuleBook, printed};
use crate::stated::{Basis, Demand, Source, Stated};

/// The places, facts and remedy of a finding to be.
#[derive(Debug, Clone)]
pub struct Detail {
    places: Vec<Place>,
    facts: Vec<Fact>,
    remedy: Option<Remedy>,
}

impl Detail {
    /// A finding at one place.
    #[must_use]
    pub fn at(place: Place) -> Self {
        Self::at_all([place])
    }

    /// A finding at several places; the machine where there are none.
    #[must_use]
    pub fn at_all(places: impl IntoIterator<Item = Place>) -> Self {
        let mut places: Vec<_> = places.into_iter().collect();
        if places.is_empty() {
            places.push(Place::Machine);
        }
        Self { places, facts: Vec::new(), remedy: None }
    }

    /// Adds a fact.
    #[must_use]
    pub fn fact(mut self, name: FactName, value: FactValue) -> Self {
        self.facts.push(Fact { name, value });
        self
    }

    /// Says what to do.
    #[must_use]
    pub fn remedy(mut self, remedy: Remedy) -> Self {
        self.remedy = Some(remedy);
        self
    }
}

/// What makes memory uneven.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Cause {
    /// Which slots are filled.
    Slots,
    /// Unlike modules in one round.
    Modules,
    /// Processors that differ.
    Processors,
}

/// What counts as an answer: every finding, or merely whether there is one that weighs enough.
#[derive(Debug)]
pub(crate) enum Sink {
    /// Keep every finding.
    Collect(Vec<Finding>),
    /// Note whether any finding reaches the threshold.
    Probe(Threshold, bool),
}

/// From which severity a finding counts.
pub(crate) type Threshold = Severity;

/// Where a rule puts what it has to say.
#[derive(Debug)]
pub struct Report<'r> {
    rule: &'r Rule,
    book: &'r RuleBook,
    sink: &'r mut Sink,
    rate: &'r OnceCell<RunningRate>,
    /// Whether all that the rule looks at just now is known to run.
    in_use: bool,
}

impl<'r> Report<'r> {
    /// A report on one layout; rules that share the cell share the layout's running rate.
    pub(crate) fn new(rule: &'r Rule, book: &'r RuleBook, sink: &'r mut Sink, rate: &'r OnceCell<RunningRate>) -> Self {
        Self { rule, book, sink, rate, in_use: false }
    }

    /// From now on the rule looks at these modules.
    pub(crate) fn look_at<'s>(&mut self, sites: impl IntoIterator<Item = ModuleSite<'s>>) -> &mut Self {
        let mut sites = sites.into_iter().peekable();
        self.in_use = sites.peek().is_some() && sites.all(|site| site.is_in_use());
        self
    }

    /// The book that the rule is of.
    pub(crate) fn book(&self) -> &'r RuleBook {
        self.book
    }

    /// The running rate of the layout that is judged, worked out once.
    pub(crate) fn running_rate(&self, layout: &Layout<'_>) -> &'r RunningRate {
        self.rate.get_or_init(|| RunningRate::of(layout))
    }

    /// The rule is broken. The detail is only built where the finding is kept.
    pub fn violation(&mut self, detail: impl FnOnce() -> Detail) {
        self.violation_up_to(Severity::Error, detail);
    }

    /// The rule is broken, and here it weighs no more than `cap`, whatever the rule's severity. An
    /// override by the caller counts for more.
    pub fn violation_up_to(&mut self, cap: Severity, detail: impl FnOnce() -> Detail) {
        self.keep(self.rule.weight_up_to(cap), Verdict::Violated, None, detail);
    }

    /// A stated limit is broken: a maker's list weighs no more than a warning.
    pub fn stated<T>(&mut self, limit: &Stated<T>, detail: impl FnOnce() -> Detail) {
        self.grounded((limit.basis, limit.source.as_ref()), Demand::Required, detail);
    }

    /// A stated demand is broken: what is advised weighs no more than a warning.
    pub fn demand(&mut self, demand: &Stated<Demand>, detail: impl FnOnce() -> Detail) {
        self.grounded((demand.basis, demand.source.as_ref()), demand.value, detail);
    }

    /// A limit on some basis, required or advised, is broken.
    pub fn grounded(
        &mut self,
        (basis, source): (Basis, Option<&Source>),
        demand: Demand,
        detail: impl FnOnce() -> Detail,
    ) {
        self.keep(self.rule.weight(basis, demand), Verdict::Violated, Some((basis, source)), detail);
    }

    /// Memory is uneven at some processors. Where that follows from which slots are filled, and these are what the board's
    /// manual prints, a warning becomes a note that names the row.
    pub(crate) fn uneven(
        &mut self,
        layout: Option<&Layout<'_>>,
        sockets: &[SocketId],
        cause: Cause,
        (basis, source): (Basis, Option<&Source>),
        demand: Demand,
        detail: impl FnOnce() -> Detail,
    ) {
        let weight = self.rule.weight(basis, demand);
        let yields = weight == Severity::Warning && self.rule.is_evenness() && !self.rule.is_overridden();
        let row = layout.filter(|_| yields && cause != Cause::Modules);
        let row = row.and_then(|layout| printed::followed(layout, sockets, basis));
        let row = row.filter(|row| cause == Cause::Slots || row.names_sizes());
        let (weight, asked_by) = row.map_or((weight, None), |row| (Severity::Note, Some(row.text.clone())));
        self.keep(weight, Verdict::Violated, Some((basis, source)), || match asked_by {
            None => detail(),
            Some(row) => Detail { remedy: None, ..detail().fact(FactName::AskedBy, FactValue::Text(row)) },
        });
    }

    /// What the rule asks for is so if facts are what they may be that are not known: a note.
    pub(crate) fn supposed(&mut self, detail: impl FnOnce() -> Detail) {
        let severity = self.rule.severity().min(Severity::Note);
        self.keep(severity, Verdict::Presumed, None, || detail().remedy(Remedy::StateFact));
    }

    /// Nobody judges what is there.
    pub(crate) fn unjudgeable(&mut self, detail: impl FnOnce() -> Detail) {
        self.keep(self.rule.weight_up_to(Severity::Error), Verdict::Unknown, None, detail);
    }

    /// The rule is broken by something that is so, and no limit: it weighs the same on whatever basis.
    pub(crate) fn settled(&mut self, (basis, source): (Basis, Option<&Source>), detail: impl FnOnce() -> Detail) {
        self.keep(self.rule.weight_up_to(Severity::Error), Verdict::Violated, Some((basis, source)), detail);
    }

    /// The rule cannot be judged for want of a fact. That is a warning where the rule is an error (an
    /// error where the book says so), and nothing where the rule weighs less. Where all that the rule looks at runs in the
    /// machine, which is evidence, or the book accepts the fact as unknown, it is a note.
    pub fn unknown(&mut self, fact: MissingFact, places: impl FnOnce() -> Vec<Place>) {
        self.unknown_unless(self.in_use, fact, places);
    }

    /// The same, where it is evident or not that what the rule looks at has what is asked for.
    pub(crate) fn unknown_unless(&mut self, evident: bool, fact: MissingFact, places: impl FnOnce() -> Vec<Place>) {
        let detail =
            || Detail::at_all(places()).fact(FactName::Missing, FactValue::Missing(fact)).remedy(Remedy::StateFact);
        if self.rule.severity() == Severity::Error && (evident || self.book.accepts_unknown(fact)) {
            self.keep(Severity::Note, Verdict::Presumed, None, detail);
        } else {
            self.unjudged(None, detail);
        }
    }

    /// A bound cannot be judged for want of a fact. What is advised, or a maker's list, is no error even
    /// where it is broken, so that this is nothing then.
    pub fn unknown_bound(
        &mut self,
        (basis, demand): (Basis, Demand),
        fact: MissingFact,
        places: impl FnOnce() -> Vec<Place>,
    ) {
        if self.rule.weight(basis, demand) == Severity::Error {
            self.unknown(fact, places);
        }
    }

    /// The rule cannot be judged, for a reason that the detail gives. It weighs as a missing fact does.
    pub fn unjudged(&mut self, grounds: Option<(Basis, Option<&Source>)>, detail: impl FnOnce() -> Detail) {
        if self.rule.severity() < Severity::Error {
            return;
        }
        let severity = if self.book.is_unknown_error() { Severity::Error } else { Severity::Warning };
        self.keep(severity, Verdict::Unknown, grounds, detail);
    }

    fn keep(
        &mut self,
        severity: Severity,
        verdict: Verdict,
        grounds: Option<(Basis, Option<&Source>)>,
        detail: impl FnOnce() -> Detail,
    ) {
        match self.sink {
            Sink::Probe(threshold, hit) => *hit |= severity >= *threshold,
            Sink::Collect(findings) => {
                let Detail { places, facts, remedy } = detail();
                findings.push(Finding {
                    severity,
                    code: self.rule.code().clone(),
                    verdict,
                    places,
                    summary: self.rule.summary().clone(),
                    facts,
                    remedy,
                    basis: grounds.map(|(basis, _)| basis),
                    source: grounds.and_then(|(_, source)| source.cloned()),
                });
            }
        }
    }
}
