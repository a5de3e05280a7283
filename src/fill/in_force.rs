//! The rules that can refuse a candidate, sorted by what they look at and by what they tell a search.

use std::cell::OnceCell;

use crate::figure::RunningRate;
use crate::fill::{Before, LikeGroup};
use crate::finding::Severity;
use crate::machine::Machine;
use crate::platform::{ChannelId, FillRow};
use crate::population::Layout;
use crate::rule::{
    ApartCheck, CountBound, Form, GroupKey, LoadRules, MixBound, MixOf, ModuleFact, Report, Rule, RuleBook, Says,
    Threshold,
};
use crate::search::Table;
use crate::stated::{Demand, Scope};

/// A mix bound in force.
pub(crate) struct MixInForce<'a> {
    pub(crate) of: &'a MixOf,
    pub(crate) bound: MixBound,
    /// Whether keys are the same in slots and channels that are alike.
    pub(crate) is_uniform: bool,
}

/// Processors that must be alike.
#[derive(Clone, Copy)]
pub(crate) struct LikeProcessors<'a> {
    /// What tells modules apart.
    pub(crate) fact: &'a ModuleFact,
    /// Whether a processor without memory is held against it too.
    pub(crate) none_is_exempt: bool,
}

/// Channels that go together must have something in common.
pub(crate) struct LikeChannels {
    pub(crate) groups: Table<LikeGroup, Vec<ChannelId>>,
    /// What that is.
    pub(crate) key: GroupKey,
}

/// A printed row that a rule of the book holds populations to.
pub(crate) struct PrintedRow {
    pub(crate) row: FillRow,
    /// Whether breaking it is refused.
    pub(crate) is_required: bool,
}

/// The rules of a book that can reach a threshold on one machine.
///
/// Whatever is known here of a rule it declares itself, and its strength is what its report would say.
pub(crate) struct RulesInForce<'a> {
    pub(crate) rules: &'a RuleBook,
    pub(crate) threshold: Threshold,
    pub(crate) mixes: Vec<MixInForce<'a>>,
    pub(crate) counts: Vec<CountBound>,
    /// Those of them that count for what was so before too: errors, and what is not about evenness.
    pub(crate) strict_counts: Vec<CountBound>,
    /// Whether what hints tell is the same for channels that are alike.
    hints_are_uniform: bool,
    /// Whether each processor's memory must be one region in each domain.
    pub(crate) one_region: bool,
    /// Whether every channel has its first module before any has a second.
    pub(crate) spread_first: bool,
    /// Whether an odd number of channels with memory is refused, where a processor lists no interleave sets.
    pub(crate) odd_channels: bool,
    /// Whether a caller's rule asks that channels be alike.
    pub(crate) reads_own_loads: bool,
    /// Whether a processor with memory must have some in each domain.
    pub(crate) memory_in_each_domain: bool,
    /// What channels that go together must have in common, where the machine's mode asks for it.
    pub(crate) like_groups: Vec<LikeChannels>,
    /// Modules that a processor may not hold both of.
    pub(crate) apart: Vec<ApartCheck>,
    pub(crate) rows: Vec<PrintedRow>,
    /// The rules that judge a channel by itself.
    pub(crate) loads: LoadRules<'a>,
    /// Socket and population rules that promise never to be mended by further modules.
    hereditary: Vec<&'a Rule>,
    /// Population rules that promise to look at no place.
    placement_free: Vec<&'a Rule>,
    /// Rules that can refuse a whole candidate although its modules, channels, counts and the classes that
    /// meet in the machine are allowed.
    wide: Vec<&'a Rule>,
    /// Rules that cannot if, besides, the classes that meet are allowed and the keys of all are known and the
    /// same in every slot.
    of_classes: Vec<&'a Rule>,
    all: Vec<&'a Rule>,
    /// Whether tables of the machine name makers or part numbers.
    names_identity: bool,
    /// Whether modules that differ in grade alone can be told apart by more than the rate: a rule that looks at more than one
    /// module by itself reads grades, or a table of the machine names them.
    pub(crate) reads_grades: bool,
}

impl MixInForce<'_> {
    /// Whether it asks that all channels with memory, of a processor at least, have one key.
    pub(crate) fn asks_like_channels(&self) -> bool {
        self.bound.within != Scope::Channel && self.bound.at_most == 1
    }
}

impl<'a> RulesInForce<'a> {
    pub(crate) fn new(machine: &Machine, rules: &'a RuleBook, threshold: Threshold) -> Self {
        let can_refuse = |rule: &&Rule| rule.severity() >= rule.threshold(threshold) && !rule.is_idle(machine);
        let mut all: Vec<_> = Vec::with_capacity(rules.rules().count());
        all.extend(rules.rules().filter(can_refuse));
        let mut in_force = Self {
            rules,
            threshold,
            mixes: Vec::new(),
            counts: Vec::new(),
            strict_counts: Vec::new(),
            hints_are_uniform: true,
            one_region: false,
            spread_first: false,
            odd_channels: false,
            reads_own_loads: false,
            memory_in_each_domain: false,
            like_groups: Vec::new(),
            apart: Vec::new(),
            rows: Vec::new(),
            loads: LoadRules::none(rules, threshold),
            hereditary: Vec::new(),
            placement_free: Vec::new(),
            wide: Vec::with_capacity(all.len()),
            of_classes: Vec::new(),
            all,
            names_identity: machine.names_identity(),
            reads_grades: machine.names_grade(),
        };
        for index in 0..in_force.all.len() {
            if let Some(&rule) = in_force.all.get(index) {
                in_force.add(rule, machine);
            }
        }
        rules.rules().for_each(|rule| in_force.add_hints(rule, machine));
        in_force
    }

    /// Sorts a rule in by its form.
    fn add(&mut self, rule: &'a Rule, machine: &Machine) {
        let threshold = rule.threshold(self.threshold);
        match rule.form() {
            Form::Module(_) => self.loads.add(rule),
            Form::Channel(_) => {
                self.reads_grades |= rule.reads_grades();
                self.loads.add(rule);
            }
            Form::Socket(_) | Form::Population(_) => {
                self.reads_grades |= rule.reads_grades();
                self.wide.push(rule);
                self.hereditary.extend(rule.is_hereditary().then_some(rule));
                self.placement_free.extend(rule.is_placement_free().then_some(rule));
            }
            Form::Mix(mix) => {
                let mut bounds = (mix.bounds)(machine);
                bounds.retain(|bound| rule.weight(bound.basis, bound.demand) >= threshold);
                self.reads_grades |= !bounds.is_empty() && rule.reads_grades();
                let of_modules = matches!(mix.of, MixOf::Modules(_));
                let narrow = bounds.iter().all(|bound| of_modules && bound.within != Scope::Socket);
                match narrow && !self.rules.is_unknown_error() {
                    true => self.of_classes.push(rule),
                    false => self.wide.push(rule),
                }
                self.reads_own_loads |= matches!(mix.of, MixOf::Loads(_)) && !rule.is_evenness();
                bounds.iter().for_each(|bound| self.loads.add_mix(&mix.of, bound));
                let in_force = |bound| MixInForce { of: &mix.of, bound, is_uniform: rule.is_uniform() };
                self.mixes.extend(bounds.into_iter().map(in_force));
            }
            Form::Count(bounds) => {
                let weighs = |bound: &CountBound| rule.weight(bound.basis, bound.demand) >= threshold;
                let bounds: Vec<CountBound> = bounds(machine).into_iter().filter(weighs).collect();
                bounds.iter().for_each(|bound| self.loads.add_count(bound));
                let is_strict = |bound: &&CountBound| {
                    !rule.is_evenness() || rule.weight(bound.basis, bound.demand) == Severity::Error
                };
                self.strict_counts.extend(bounds.iter().filter(is_strict).cloned());
                self.counts.extend(bounds);
            }
        }
    }

    /// Takes what a rule tells a search and what reaches the threshold; of printed rows all, for a search prefers them.
    fn add_hints(&mut self, rule: &'a Rule, machine: &Machine) {
        let threshold = rule.threshold(self.threshold);
        for hint in rule.hints(machine) {
            let weight = hint.grounds.map_or(rule.severity(), |(basis, demand)| rule.weight(basis, demand));
            let refuses = weight >= threshold && !rule.is_idle(machine);
            match hint.says {
                Says::Rows(rows) => {
                    let is_required = |row: &FillRow| rule.weight(row.basis, row.demand) >= threshold;
                    let printed = |row: FillRow| PrintedRow { is_required: is_required(&row), row };
                    self.rows.extend(rows.into_iter().map(printed));
                }
                _ if !refuses => {}
                Says::OneRegion => self.one_region = true,
                Says::SpreadFirst => self.spread_first = true,
                Says::OddChannels => self.odd_channels = true,
                Says::MemoryInEachDomain => self.memory_in_each_domain = true,
                Says::LikeGroups { groups, key } => {
                    self.hints_are_uniform &= rule.is_uniform();
                    self.like_groups.push(LikeChannels { groups: groups.into_iter().collect(), key });
                }
                Says::Apart(check) => self.apart.push(check),
                Says::Barred(check) => {
                    self.hints_are_uniform &= rule.is_uniform();
                    self.loads.add_barred(rule, check);
                }
            }
        }
    }

    fn probe(&self, rule: &Rule, layout: &Layout<'_>, rate: &OnceCell<RunningRate>) -> bool {
        let check = |report: &mut Report<'_>| rule.form().check(layout, report);
        rule.probe_at(rule.threshold(self.threshold), self.rules, rate, check)
    }

    /// Whether a partial candidate breaks a rule that no further module mends.
    pub(crate) fn is_lost(&self, layout: &Layout<'_>) -> bool {
        let rate = OnceCell::new();
        self.hereditary.iter().any(|rule| self.probe(rule, layout, &rate))
    }

    /// Whether some rule looks at which modules there are and not at their places.
    pub(crate) fn looks_at_numbers(&self) -> bool {
        !self.placement_free.is_empty()
    }

    /// Whether no rule that looks at no place refuses the modules of a layout, wherever they sit.
    pub(crate) fn allows_numbers(&self, layout: &Layout<'_>) -> bool {
        let rate = OnceCell::new();
        !self.placement_free.iter().any(|rule| self.probe(rule, layout, &rate))
    }

    /// Whether no rule refuses a complete candidate whose modules, channels and counts are allowed, but for what was so
    /// before. Its rate is reckoned once for all rules.
    pub(crate) fn allows(
        &self,
        layout: &Layout<'_>,
        rate: &OnceCell<RunningRate>,
        before: Option<&Before<'_>>,
    ) -> bool {
        !self.refuse(&self.wide, layout, rate, before)
    }

    /// Whether no rule at all refuses a layout, but for what was so before.
    pub(crate) fn allows_all(
        &self,
        layout: &Layout<'_>,
        rate: &OnceCell<RunningRate>,
        before: Option<&Before<'_>>,
    ) -> bool {
        !self.refuse(&self.all, layout, rate, before)
    }

    fn refuse(
        &self,
        rules: &[&Rule],
        layout: &Layout<'_>,
        rate: &OnceCell<RunningRate>,
        before: Option<&Before<'_>>,
    ) -> bool {
        let excused = |rule: &Rule| before.is_some_and(|before| before.excuses_all(rule, layout, self));
        rules.iter().any(|rule| self.probe(rule, layout, rate) && !excused(rule))
    }

    /// The rules in force that are about evenness.
    pub(crate) fn on_evenness(&self) -> impl Iterator<Item = &'a Rule> {
        self.all.iter().copied().filter(|rule| rule.is_evenness())
    }

    /// Whether no rule on the classes that meet refuses a complete candidate.
    pub(crate) fn allows_classes(&self, layout: &Layout<'_>, rate: &OnceCell<RunningRate>) -> bool {
        !self.of_classes.iter().any(|rule| self.probe(rule, layout, rate))
    }

    /// What tells loads apart where a rule asks that the populated channels of each processor be alike in it.
    pub(crate) fn like_channels(&self) -> Option<&'a ModuleFact> {
        self.mixes.iter().find_map(|mix| match mix.of {
            MixOf::Loads(fact) if mix.asks_like_channels() => Some(fact),
            _ => None,
        })
    }

    /// What tells loads apart where a rule asks that processors with memory be alike in it.
    pub(crate) fn like_processors(&self) -> Option<LikeProcessors<'a>> {
        self.mixes.iter().find_map(|mix| match mix.of {
            MixOf::Processors { fact, by_slot } if mix.bound.at_most == 1 && mix.bound.within == Scope::Machine => {
                Some(LikeProcessors { fact, none_is_exempt: *by_slot && mix.bound.demand == Demand::Required })
            }
            _ => None,
        })
    }

    /// Whether modules that differ in part number, maker or power alone can be told apart: a rule looks at these, or a table
    /// of the machine that rules and rates read names them.
    pub(crate) fn reads_identity(&self) -> bool {
        self.names_identity || self.all.iter().any(|rule| rule.reads_identity())
    }

    /// Whether rules look at what a channel or slot is like, never at which one it is.
    pub(crate) fn is_uniform(&self) -> bool {
        // keys within a channel, and of channels, are read once for channels that are alike
        let of_channels =
            |mix: &&MixInForce<'_>| mix.bound.within == Scope::Channel || matches!(mix.of, MixOf::Channels(_));
        self.hints_are_uniform
            && self.mixes.iter().filter(of_channels).all(|mix| mix.is_uniform)
            && self.loads.module.iter().chain(&self.loads.channel).all(|rule| rule.is_uniform())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Severity;
    use crate::rule::{Hint, RuleBookError};
    use crate::testing::clean;

    #[test]
    fn what_a_caller_reads_may_tell_slots_apart() {
        let machine = clean();
        let is_uniform = |rule: Result<Rule, RuleBookError>| {
            let book = RuleBook::standard().with(rule.unwrap()).unwrap();
            RulesInForce::new(&machine, &book, Severity::Error).is_uniform()
        };
        let modules = |within| Rule::mix("own", "own", Severity::Error, MixBound::new(within, 1), |_| Ok(None));
        let channels =
            |within| Rule::channel_mix("own", "own", Severity::Error, MixBound::new(within, 1), |_| Ok(None));
        let nothing = |_: &mut Report<'_>| ();
        assert!(is_uniform(Rule::population("own", "own", Severity::Error, move |_, report| nothing(report))));
        assert!(is_uniform(modules(Scope::Machine)));
        assert!(!is_uniform(modules(Scope::Channel)));
        assert!(!is_uniform(channels(Scope::Machine)));
        assert!(!is_uniform(Rule::module("own", "own", Severity::Error, move |_, report| nothing(report))));
        assert!(!is_uniform(Rule::channel("own", "own", Severity::Error, move |_, report| nothing(report))));
        let hinting = Rule::population("own", "own", Severity::Error, move |_, report| nothing(report)).unwrap();
        assert!(!is_uniform(Ok(
            hinting.hinting(move |_| vec![Hint::barred_loads(move |_, _, report| nothing(report))])
        )));
    }
}
