//! Why no more of a module fit than do.

use crate::ceiling::accepts::{Most, carried_at_most, demand, usable_from};
use crate::figure::usable::depends_on_places;
use crate::fill::{ClassId, Contents, Demand, PlaceId, SlotModel, Usable, fewest_without, place, said, said_first};
use crate::finding::{FactName, Finding, Severity};
use crate::rule::RuleBook;
use crate::search::{Budget, StopReason, Table};
use crate::unit::Name;

/// An error of each rule of a smallest set of rules without which more of a model's only class than the most fit in the
/// slots that take it, or, where ranks are spared, more is usable; what the rules say of one more by turn, where the nodes do
/// not last to find that set.
pub(super) fn limited_by(model: &SlotModel<'_>, most: &Most, budget: &mut Budget<'_>) -> Vec<Finding> {
    let by_turn = model.in_force.rules.check(&model.layout(&by_turn(model, most.count + 1)));
    let findings = of_fewest(model, most, &by_turn, budget).unwrap_or(by_turn);
    one_of_each(findings.into_iter().filter(|finding| finding.severity == Severity::Error))
}

/// The first finding of each rule, and of each fact that it misses.
pub(crate) fn one_of_each(findings: impl IntoIterator<Item = Finding>) -> Vec<Finding> {
    let missing = |finding: &Finding| -> Vec<_> {
        finding.facts.iter().filter(|fact| fact.name == FactName::Missing).cloned().collect()
    };
    let mut first: Vec<Finding> = Vec::new();
    for finding in findings {
        if !first.iter().any(|known| known.code == finding.code && missing(known) == missing(&finding)) {
            first.push(finding);
        }
    }
    first
}

/// What the rules of a smallest set say: of one more by turn, or else of a population that is legal without them.
fn of_fewest(
    model: &SlotModel<'_>,
    most: &Most,
    by_turn: &[Finding],
    budget: &mut Budget<'_>,
) -> Result<Vec<Finding>, StopReason> {
    let rules = model.in_force.rules;
    let mut fits_more = |fewer: &RuleBook| Ok(more(model, fewer, most, budget)?.is_some());
    let without = match fewest_without(rules, said(by_turn, Severity::Error), &mut fits_more)? {
        Some(without) => without,
        None => fewest_without(rules, said_first(rules, by_turn), &mut fits_more)?.unwrap_or_default(),
    };
    let is_one = |finding: &Finding| without.contains(&finding.code);
    let mut findings: Vec<Finding> = by_turn.iter().filter(|finding| is_one(finding)).cloned().collect();
    let are_said: Vec<Name> = said(&findings, Severity::Error);
    if are_said.len() < without.len() {
        // no part of the rules suffices, so that this population breaks each of them
        let witness = more(model, &rules.without_all(&without), most, budget)?;
        let others = witness.map(|at| rules.check(&model.layout(&at))).unwrap_or_default();
        findings.extend(others.into_iter().filter(|other| is_one(other) && !are_said.contains(&other.code)));
    }
    Ok(findings)
}

/// More of a model's only class than the most in the slots that take it, where that is legal under other rules; where ranks
/// are spared, so many or more of which more is usable.
fn more(
    model: &SlotModel<'_>,
    rules: &RuleBook,
    most: &Most,
    budget: &mut Budget<'_>,
) -> Result<Option<Contents>, StopReason> {
    let (taking, others): (Vec<PlaceId>, _) = model.slots.ids().partition(|&place| model.admits(place, ClassId::ONLY));
    let pinned: Vec<_> = others.into_iter().map(|place| (place, None)).collect();
    let classes = model.classes.values().to_vec();
    let model = SlotModel::new(model.machine, rules, Severity::Error, classes, model.fixed.clone());
    let (least, usable) = match depends_on_places(model.machine) {
        true => (most.count.max(1), usable_from(&model, most.usable_mib.mib().saturating_add(1))),
        false => (most.count + 1, Usable::default()),
    };
    for count in least..=carried_at_most(&model, None, budget)?.min(taking.len()) {
        let demand = Demand { any_will_do: true, pinned: pinned.clone(), usable, ..demand(count, None) };
        if let Some(placed) = place(&model, &model, &demand, budget)? {
            return Ok(Some(placed.at));
        }
    }
    Ok(None)
}

/// So many of a model's only class in the slots that take it, by turn.
fn by_turn(model: &SlotModel<'_>, count: usize) -> Contents {
    let mut at = Table::filled(None, model.slots.len());
    let taking = at.iter_mut().filter(|(place, _)| model.admits(*place, ClassId::ONLY));
    taking.take(count).for_each(|(_, content)| *content = Some(ClassId::ONLY));
    at
}
