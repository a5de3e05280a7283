//! Finds out what the rules have against the modules at hand.

use crate::ceiling::one_of_each;
use crate::fill::{ClassId, fewest_without, said};
use crate::finding::Finding;
use crate::module::MemoryModule;
use crate::purchase::engine::{Engine, Goal, Needs, RequestRules, SearchContext};
use crate::purchase::{ModuleSource, Plan, RefusedModule, Requirement, RulesInTheWay};
use crate::rule::{Rule, RuleBook};
use crate::search::{Budget, StopReason};
use crate::unit::{Capacity, Name};

/// The modules at hand that fit in no slot of the machine, otherwise empty.
pub(super) fn refused(engine: &Engine<'_>, context: &SearchContext<'_>) -> Vec<RefusedModule> {
    let (errors, classes) = (&context.errors, &context.classes);
    let fits = |class: ClassId| errors.slots.ids().any(|place| errors.admits(place, class));
    let mut refused = Vec::new();
    for (_, class) in classes.all.iter().filter(|&(id, class)| !class.faulty && !fits(id)) {
        let mut add = |source: ModuleSource, module: &MemoryModule| {
            let (_, slots, _) = engine.planner.where_it_fits(module);
            let findings = one_of_each(slots.into_iter().flat_map(|refusal| refusal.findings));
            refused.push(RefusedModule { source, module: module.clone().by_facts(), findings });
        };
        class.stocks(&classes.market).into_iter().for_each(|stock| add(stock.source(), stock.module()));
        for unit in class.present.iter() {
            add(ModuleSource::MovesFrom { slot: unit.slot.clone() }, unit.module);
        }
    }
    refused.sort_by(|a, b| a.source.cmp(&b.source));
    refused
}

/// A request of which one requirement, or none at all, is more than any legal population meets.
pub(super) struct Accused<'d, 'a> {
    pub(super) engine: &'d Engine<'a>,
    pub(super) all: &'d [Requirement],
    pub(super) clash: &'d [Requirement],
}

impl Accused<'_, '_> {
    /// A smallest set of rules without which there is a plan: for the whole request if there is one, or else for what clashes
    /// by itself. Rules that refuse single modules are given up last. `None` where giving up rules does not help.
    pub(super) fn rules(&self, budget: &mut Budget<'_>) -> Result<Option<RulesInTheWay>, StopReason> {
        let judges_modules = |rule: &&Rule| !rule.form().is_of_modules();
        for codes in [self.codes(judges_modules), self.codes(|_| true)] {
            for met in [self.all, self.clash] {
                if let Some(found) = self.rules_among(&codes, met, budget)? {
                    return Ok(Some(found));
                }
            }
        }
        Ok(None)
    }

    /// The codes of rules that can refuse a plan.
    fn codes(&self, is_one: impl Fn(&&Rule) -> bool) -> Vec<Name> {
        let rules = self.engine.planner.rules().rules();
        let can_refuse = rules.filter(|rule| rule.severity() >= self.engine.request.refuse_from);
        can_refuse.filter(is_one).map(|rule| rule.code().clone()).collect()
    }

    fn rules_among(
        &self,
        codes: &[Name],
        met: &[Requirement],
        budget: &mut Budget<'_>,
    ) -> Result<Option<RulesInTheWay>, StopReason> {
        let (rules, from) = (self.engine.planner.rules(), self.engine.request.refuse_from);
        let Some(plan) = self.plan(&rules.without_all(codes), met, budget)? else { return Ok(None) };
        let broken = self.broken(&plan);
        // without all that this plan breaks, it is one
        let broken_codes = said(&broken, from);
        let mut is_legal = |fewer: &RuleBook| self.is_feasible(fewer, met, budget);
        let without = match fewest_without(rules, broken_codes, &mut is_legal)? {
            Some(without) => without,
            None => fewest_without(rules, codes.to_vec(), &mut is_legal)?.unwrap_or_default(),
        };
        let plan = self.plan(&rules.without_all(&without), met, budget)?;
        let said = plan.iter().flat_map(|plan| self.broken(plan)).filter(|finding| without.contains(&finding.code));
        let findings = one_of_each(said);
        let met = met.to_vec();
        Ok((!without.is_empty()).then_some(RulesInTheWay { codes: without, findings, met }))
    }

    /// What the rules have against a plan.
    fn broken(&self, plan: &Plan) -> Vec<Finding> {
        let assessment = self.engine.planner.assess(&plan.population).ok();
        let from = self.engine.request.refuse_from;
        assessment.iter().flat_map(|assessment| assessment.from_severity(from)).cloned().collect()
    }

    /// The best plan under other rules.
    fn plan(&self, rules: &RuleBook, met: &[Requirement], budget: &mut Budget<'_>) -> Result<Option<Plan>, StopReason> {
        let own = RequestRules::of(rules, self.engine.request);
        let engine = Engine::new(self.engine.planner.under(rules), self.engine.request, &own);
        let needs = needs(met);
        let found = engine.solve(&needs, Goal::Best, budget).any()?;
        found.map(|found| engine.write(&needs, &found, budget)).transpose()
    }

    /// Whether there is a plan under other rules.
    fn is_feasible(&self, rules: &RuleBook, met: &[Requirement], budget: &mut Budget<'_>) -> Result<bool, StopReason> {
        let own = RequestRules::of(rules, self.engine.request);
        let engine = Engine::new(self.engine.planner.under(rules), self.engine.request, &own);
        Ok(engine.solve(&needs(met), Goal::Any, budget).any()?.is_some())
    }
}

/// What some requirements ask for, and some memory in any case: that nothing at all is legal says nothing.
fn needs(met: &[Requirement]) -> Needs {
    let needs = Needs::all(met);
    Needs { usable_at_least: needs.usable_at_least.max(Capacity::from_mib(1)), ..needs }
}
