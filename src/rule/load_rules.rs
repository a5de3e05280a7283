use std::cell::OnceCell;

use crate::finding::{FactValue, Severity};
use crate::machine::Machine;
use crate::module::Voltages;
use crate::population::{ChannelLoad, ModuleSite};
use crate::rule::{CountBound, Form, LoadCheck, MixBound, MixOf, Report, Rule, RuleBook, Says, Threshold};
use crate::stated::Scope;
use crate::unit::Voltage;

/// The rules of a book that judge a channel by what it holds, whatever the rest of the machine does, as far as they can
/// reach a threshold.
pub(crate) struct LoadRules<'a> {
    book: &'a RuleBook,
    threshold: Threshold,
    pub(crate) module: Vec<&'a Rule>,
    pub(crate) channel: Vec<&'a Rule>,
    mixes: Vec<(&'a MixOf, MixBound)>,
    counts: Vec<CountBound>,
    /// Rules that bar loads at a voltage.
    barred: Vec<(&'a Rule, LoadCheck)>,
}

impl<'a> LoadRules<'a> {
    /// None yet.
    pub(crate) fn none(book: &'a RuleBook, threshold: Threshold) -> Self {
        Self {
            book,
            threshold,
            module: Vec::new(),
            channel: Vec::new(),
            mixes: Vec::new(),
            counts: Vec::new(),
            barred: Vec::new(),
        }
    }

    /// Those of a book on a machine under which something is an error.
    pub(crate) fn of_errors(machine: &Machine, book: &'a RuleBook) -> Self {
        let mut rules = Self::none(book, Severity::Error);
        for rule in book.rules().filter(|rule| rule.severity() >= Severity::Error && !rule.is_idle(machine)) {
            rules.add(rule);
            match rule.form() {
                Form::Mix(mix) => {
                    let bounds = (mix.bounds)(machine).into_iter();
                    let weighs = |bound: &MixBound| rule.weight(bound.basis, bound.demand) >= Severity::Error;
                    bounds.filter(weighs).for_each(|bound| rules.add_mix(&mix.of, &bound));
                }
                Form::Count(bounds) => {
                    let weighs = |bound: &CountBound| rule.weight(bound.basis, bound.demand) >= Severity::Error;
                    bounds(machine).iter().filter(|bound| weighs(bound)).for_each(|bound| rules.add_count(bound));
                }
                _ => {}
            }
            for hint in rule.hints(machine) {
                let weight = hint.grounds.map_or(rule.severity(), |(basis, demand)| rule.weight(basis, demand));
                if let Says::Barred(check) = hint.says {
                    rules.barred.extend((weight >= Severity::Error).then_some((rule, check)));
                }
            }
        }
        rules
    }

    /// Takes a rule in if it is on modules or channels.
    pub(crate) fn add(&mut self, rule: &'a Rule) {
        match rule.form() {
            Form::Module(_) => self.module.push(rule),
            Form::Channel(_) => self.channel.push(rule),
            _ => {}
        }
    }

    /// Takes a bound in if it is on unlike modules of a channel.
    pub(crate) fn add_mix(&mut self, of: &'a MixOf, bound: &MixBound) {
        if bound.within == Scope::Channel {
            self.mixes.push((of, bound.clone()));
        }
    }

    /// Takes a bound in if it is on the modules of a channel.
    pub(crate) fn add_count(&mut self, bound: &CountBound) {
        if bound.within == Scope::Channel {
            self.counts.push(bound.clone());
        }
    }

    /// Takes in what a rule bars.
    pub(crate) fn add_barred(&mut self, rule: &'a Rule, check: LoadCheck) {
        self.barred.push((rule, check));
    }

    /// Whether a check of a rule by itself reaches the threshold.
    fn refuses(&self, rule: &Rule, check: impl FnOnce(&mut Report<'_>)) -> bool {
        rule.probe_at(rule.threshold(self.threshold), self.book, &OnceCell::new(), check)
    }

    /// Whether every module rule lets this module into this slot.
    pub(crate) fn allows_module(&self, site: &ModuleSite<'_>) -> bool {
        !self.module.iter().any(|rule| match rule.form() {
            Form::Module(check) => self.refuses(rule, |report| check(site, report.look_at([*site]))),
            _ => false,
        })
    }

    /// Whether every rule on channels lets a channel be as it is.
    pub(crate) fn allows_channel(&self, load: &ChannelLoad<'_>) -> bool {
        let refused = self.channel.iter().any(|rule| match rule.form() {
            Form::Channel(check) => self.refuses(rule, |report| check(load, report.look_at(load.modules()))),
            _ => false,
        });
        let mixed = || {
            self.mixes.iter().any(|(of, bound)| match of {
                MixOf::Modules(key) => distinct(load.modules().map(|site| key(&site))) > bound.at_most,
                MixOf::Channels(_) | MixOf::Loads(_) | MixOf::Processors { .. } => false,
            })
        };
        let miscounted = || self.counts.iter().any(|bound| !bound.allows(load.len()));
        !refused && !mixed() && !miscounted()
    }

    /// Whether a rule bars a load at a voltage.
    pub(crate) fn bars(&self, load: &ChannelLoad<'_>, voltage: Option<Voltage>) -> bool {
        self.barred
            .iter()
            .any(|(rule, check)| self.refuses(rule, |report| check(load, voltage, report.look_at(load.modules()))))
    }

    /// Whether no rule at all refuses what a channel holds, at some voltage that suits it.
    pub(crate) fn allows(&self, load: &ChannelLoad<'_>) -> bool {
        load.modules().all(|site| self.allows_module(&site))
            && self.allows_channel(load)
            && (load.is_empty() || suitable_voltages(load).into_iter().any(|voltage| !self.bars(load, voltage)))
    }
}

/// The voltages that suit all modules of a load and its processor; one that is not known where none is known to.
pub(crate) fn suitable_voltages(load: &ChannelLoad<'_>) -> Vec<Option<Voltage>> {
    let first = load.modules().next().and_then(|site| site.module.voltages());
    let suits_all = |&voltage: &Voltage| {
        let suits = |site: ModuleSite<'_>| site.module.voltages().is_some_and(|known| known.contains(voltage));
        load.modules().all(suits)
            && load.processor().is_none_or(|processor| load.machine().supplies(processor, voltage))
    };
    let suitable: Vec<Option<Voltage>> =
        first.into_iter().flat_map(Voltages::iter).filter(suits_all).map(Some).collect();
    if suitable.is_empty() { vec![None] } else { suitable }
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
