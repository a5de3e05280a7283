//! The rules of the trade: one table, one file a rule.

mod die_density;
mod kind_mix;
mod mix_bounds;
mod socket_minimum;

use crate::finding::Severity;
use crate::rule::{Form, Rule, RuleBookError};

/// A row of the table of standard rules.
#[derive(Debug, Clone, Copy)]
pub struct StandardRule {
    /// The code.
    pub code: &'static str,
    /// What it says, as a phrase.
    pub summary: &'static str,
    /// How much it weighs, unless the platform's basis or advice makes it less.
    pub severity: Severity,
    /// What it looks at.
    pub scope: &'static str,
    /// Where the rule is found.
    pub source: &'static str,
    hereditary: bool,
    reads_identity: bool,
    form: fn() -> Form,
}

impl StandardRule {
    /// The rule itself.
    ///
    /// # Errors
    /// Never for the rows of [`STANDARD_RULES`]; a test holds them to it.
    pub fn rule(&self) -> Result<Rule, RuleBookError> {
        let mut rule = Rule::with_form(self.code, self.summary, self.severity, (self.form)())?.uniform();
        if self.hereditary {
            rule = rule.hereditary();
        }
        if !self.reads_identity {
            rule = rule.blind_to_identity();
        }
        Ok(rule)
    }
}

/// What a row promises beside its form: once broken, further modules never mend it.
const HEREDITARY: bool = true;
/// Further modules may mend it.
const MENDABLE: bool = false;

const fn row(
    code: &'static str,
    severity: Severity,
    scope: &'static str,
    hereditary: bool,
    form: fn() -> Form,
    summary: &'static str,
    source: &'static str,
) -> StandardRule {
    StandardRule { code, summary, severity, scope, source, hereditary, reads_identity: false, form }
}

/// The rules of the trade, by code within each scope. Sources are those of the rule; a platform's own
/// limit carries its own.
pub const STANDARD_RULES: &[StandardRule] = &[
    row(
        "die-density",
        Severity::Error,
        "module",
        HEREDITARY,
        die_density::form,
        "the processor does not address dies of this density",
        "common practice, no source",
    ),
    row(
        "kind-mix",
        Severity::Error,
        "mix",
        HEREDITARY,
        kind_mix::form,
        "modules of different kinds do not work together",
        "Server Board S2600IP TPS 1.4 p. 31; TX300 S8 manual p. 469",
    ),
    row(
        "socket-minimum",
        Severity::Error,
        "count",
        MENDABLE,
        socket_minimum::form,
        "a processor has no memory of its own",
        "1288H V7 white paper p. 25; SR850 guideline",
    ),
];
