//! The rules that can refuse a candidate, sorted by what they look at.

use std::cell::OnceCell;

use crate::figure::RunningRate;
use crate::finding::{FactValue, Severity};
use crate::machine::Machine;
use crate::population::{ChannelLoad, Layout, ModuleSite};
use crate::rule::{CountBound, Form, MixBound, MixOf, Report, Rule, RuleBook, Threshold};
use crate::stated::{Basis, Demand, Scope};
use crate::unit::Name;

/// A mix bound in force.
pub(crate) struct ActiveMix<'a> {
    /// The code of a standard rule.
    pub(crate) standard: Option<&'a Name>,
    pub(crate) of: &'a MixOf,
    pub(crate) bound: MixBound,
}

/// The rules of a book that can reach a threshold on one machine.
pub(crate) struct Active<'a> {
    pub(crate) rules: &'a RuleBook,
    pub(crate) threshold: Threshold,
    pub(crate) mixes: Vec<ActiveMix<'a>>,
    pub(crate) counts: Vec<CountBound>,
    module: Vec<&'a Rule>,
    channel: Vec<&'a Rule>,
    /// Socket and population rules that promise never to be mended by further modules.
    hereditary: Vec<&'a Rule>,
    /// Rules that can refuse a whole candidate although its modules, channels, counts and the classes that
    /// meet in the machine are allowed.
    wide: Vec<&'a Rule>,
    /// Standard rules that cannot if, besides, the classes that meet are allowed and the keys of all are known
    /// and the same in every slot.
    of_classes: Vec<&'a Rule>,
    all: Vec<&'a Rule>,
}

impl ActiveMix<'_> {
    /// Whether it is of the standard rule of this code.
    pub(crate) fn is_of(&self, code: &str) -> bool {
        self.standard.is_some_and(|known| *known == *code)
    }
}

impl<'a> Active<'a> {
    pub(crate) fn new(machine: &Machine, rules: &'a RuleBook, threshold: Threshold) -> Self {
        let can_refuse = |rule: &&Rule| rule.severity() >= rule.threshold(threshold) && !rule.is_idle(machine);
        let all: Vec<_> = rules.rules().filter(can_refuse).collect();
        let mut active = Self {
            rules,
            threshold,
            mixes: Vec::new(),
            counts: Vec::new(),
            module: Vec::new(),
            channel: Vec::new(),
            hereditary: Vec::new(),
            wide: Vec::new(),
            of_classes: Vec::new(),
            all,
        };
        for &rule in &active.all {
            let weighs = |demand, basis| weight(rule, demand, basis) >= rule.threshold(threshold);
            match rule.form() {
                Form::Module(_) => active.module.push(rule),
                Form::Channel(_) => active.channel.push(rule),
                Form::Socket(_) | Form::Population(_) => {
                    active.wide.push(rule);
                    active.hereditary.extend(rule.is_hereditary().then_some(rule));
                }
                Form::Mix(mix) => {
                    let mut bounds = (mix.bounds)(machine);
                    bounds.retain(|bound| weighs(bound.demand, bound.basis));
                    let of_modules = matches!(mix.of, MixOf::Modules(_));
                    let narrow = bounds.iter().all(|bound| of_modules && bound.within != Scope::Socket);
                    match narrow && rule.is_standard() && !rules.is_unknown_error() {
                        true => active.of_classes.push(rule),
                        false => active.wide.push(rule),
                    }
                    let standard = rule.is_standard().then(|| rule.code());
                    let active_mix = |bound| ActiveMix { standard, of: &mix.of, bound };
                    active.mixes.extend(bounds.into_iter().map(active_mix));
                }
                Form::Count(bounds) => {
                    active.counts.extend(bounds(machine).into_iter().filter(|bound| weighs(bound.demand, bound.basis)));
                }
            }
        }
        active
    }

    fn probe(&self, rule: &Rule, layout: &Layout<'_>, rate: &OnceCell<RunningRate>) -> bool {
        let check = |report: &mut Report<'_>| rule.form().check(layout, report);
        rule.probe_at(rule.threshold(self.threshold), self.rules.is_unknown_error(), rate, check)
    }

    /// Whether every module rule lets this module into this slot.
    pub(crate) fn allows_module(&self, site: &ModuleSite<'_>) -> bool {
        !self.module.iter().any(|rule| match rule.form() {
            Form::Module(check) => {
                rule.probe(rule.threshold(self.threshold), self.rules.is_unknown_error(), |report| check(site, report))
            }
            _ => false,
        })
    }

    /// Whether every rule on channels lets a channel be as it is.
    pub(crate) fn allows_channel(&self, load: &ChannelLoad<'_>) -> bool {
        let refused = self.channel.iter().any(|rule| match rule.form() {
            Form::Channel(check) => {
                rule.probe(rule.threshold(self.threshold), self.rules.is_unknown_error(), |report| check(load, report))
            }
            _ => false,
        });
        let mixed = || {
            self.mixes.iter().filter(|mix| mix.bound.within == Scope::Channel).any(|mix| match mix.of {
                MixOf::Modules(key) => distinct(load.modules().map(|site| key(&site))) > mix.bound.at_most,
                MixOf::Channels(_) | MixOf::Sockets(_) => false,
            })
        };
        let miscounted = || self.counts.iter().any(|bound| bound.within == Scope::Channel && !bound.allows(load.len()));
        !refused && !mixed() && !miscounted()
    }

    /// Whether a partial candidate breaks a rule that no further module mends.
    pub(crate) fn is_lost(&self, layout: &Layout<'_>) -> bool {
        let rate = OnceCell::new();
        self.hereditary.iter().any(|rule| self.probe(rule, layout, &rate))
    }

    /// Whether no rule refuses a complete candidate whose modules, channels and counts are allowed. Its rate
    /// is reckoned once for all rules.
    pub(crate) fn allows(&self, layout: &Layout<'_>, rate: &OnceCell<RunningRate>) -> bool {
        !self.wide.iter().any(|rule| self.probe(rule, layout, rate))
    }

    /// Whether no rule on the classes that meet refuses a complete candidate.
    pub(crate) fn allows_classes(&self, layout: &Layout<'_>, rate: &OnceCell<RunningRate>) -> bool {
        !self.of_classes.iter().any(|rule| self.probe(rule, layout, rate))
    }

    /// Whether the book has the standard rule on printed rows.
    pub(crate) fn follows_rows(&self) -> bool {
        self.rules.get("fill-row").is_some_and(Rule::is_standard)
    }

    /// Whether the standard rule of this code can refuse a candidate.
    pub(crate) fn has(&self, code: &str) -> bool {
        self.all.iter().any(|rule| rule.is_standard() && *rule.code() == *code)
    }

    /// Whether modules that differ in part number, maker or power alone can be told apart.
    pub(crate) fn reads_identity(&self) -> bool {
        self.all.iter().any(|rule| rule.reads_identity())
    }

    /// Whether rules look at what a channel or slot is like, never at which one it is.
    pub(crate) fn is_uniform(&self) -> bool {
        self.module.iter().chain(&self.channel).all(|rule| rule.is_uniform())
    }
}

/// What a bound of a rule weighs.
pub(crate) fn weight(rule: &Rule, demand: Demand, basis: Basis) -> Severity {
    let weak = demand == Demand::Advised || basis == Basis::MakersList;
    if rule.is_overridden() || !weak { rule.severity() } else { rule.severity().min(Severity::Warning) }
}

/// How many different keys there are; a key that is not known is none.
fn distinct<E>(keys: impl Iterator<Item = Result<Option<FactValue>, E>>) -> usize {
    let mut seen: Vec<FactValue> = Vec::new();
    for key in keys.filter_map(|key| key.ok().flatten()) {
        if !seen.contains(&key) {
            seen.push(key);
        }
    }
    seen.len()
}
