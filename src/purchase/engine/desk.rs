//! Where the questions about one request are asked.

use std::cell::RefCell;
use std::collections::{BTreeMap, HashMap};
use std::rc::Rc;

use crate::assess::Planner;
use crate::finding::{FactValue, Severity};
use crate::module::MemoryModule;
use crate::population::ModuleSite;
use crate::purchase::engine::author::Author;
use crate::purchase::engine::context::{Ground, Needs, Terms};
use crate::purchase::engine::solve::{Counts, Found, Solver};
use crate::purchase::engine::sources::Lines;
use crate::purchase::engine::stock::Amount;
use crate::purchase::{Plan, PlanNote, PlanRequest};
use crate::rule::{MixBound, Rule, RuleBook};
use crate::search::{Budget, StopReason};
use crate::stated::Scope;
use crate::unit::Cost;

/// The rules of a planner, and the same with modules of one part within each scope; none where a request does not ask
/// for one part.
pub(crate) struct Rules(BTreeMap<Scope, RuleBook>);

impl Rules {
    pub(crate) fn of(rules: &RuleBook, request: &PlanRequest) -> Self {
        if request.one_part_number.is_none() {
            return Self(BTreeMap::new());
        }
        let present = request.present.population.modules().map(|(_, fitted)| &fitted.module);
        let offers = request.offers.iter().map(|offer| &offer.module);
        let mut parts: Vec<MemoryModule> =
            present.chain(offers).chain(request.shelf.iter().map(|item| &item.module)).cloned().collect();
        parts.sort();
        parts.dedup();
        let with = |scope: Scope| {
            let parts = parts.clone();
            let key = move |site: &ModuleSite<'_>| {
                let place = parts.binary_search(site.module).unwrap_or_else(|place| place);
                Ok(Some(FactValue::count(place)))
            };
            let bound = MixBound::new(scope, 1);
            let rule = Rule::mix("one part number, as requested", "of one part", Severity::Error, bound, key).ok()?;
            Some((scope, rules.clone().with(rule.uniform()).ok()?))
        };
        Self([Scope::Channel, Scope::Socket, Scope::Machine].into_iter().filter_map(with).collect())
    }
}

/// What a search is asked for beside its requirements.
#[derive(Debug, Clone, Default)]
pub(crate) struct Asked {
    /// Whether the first plan found will do.
    pub(crate) any_will_do: bool,
    /// Purchase lines that the plan may not have.
    pub(crate) excluded: Vec<Lines>,
    /// The numbers by class that it must have; any where absent.
    pub(crate) counts: Option<Counts>,
}

/// What a search found.
pub(crate) struct Answer<'a> {
    pub(crate) found: Option<Found<'a>>,
    /// Why it ended before it was through, if it did; what was found need not be the best then.
    pub(crate) stopped: Option<StopReason>,
    /// What any plan costs at least, as far as that is known.
    pub(crate) at_least: Amount,
}

impl<'a> Answer<'a> {
    /// The best plan, if there is one.
    ///
    /// # Errors
    /// Where the search ended before that was proved.
    pub(crate) fn proved(self) -> Result<Option<Found<'a>>, StopReason> {
        self.stopped.map_or(Ok(self.found), Err)
    }

    /// Some plan, if there is one.
    ///
    /// # Errors
    /// Where the search ended before it found one or proved that there is none.
    pub(crate) fn any(self) -> Result<Option<Found<'a>>, StopReason> {
        match (self.found, self.stopped) {
            (None, Some(reason)) => Err(reason),
            (found, _) => Ok(found),
        }
    }
}

/// A request, and what its searches stand on.
pub(crate) struct Desk<'a> {
    pub(crate) planner: Planner<'a>,
    pub(crate) request: &'a PlanRequest,
    rules: &'a Rules,
    grounds: RefCell<Vec<(Terms, Rc<Ground<'a>>)>>,
}

impl<'a> Desk<'a> {
    pub(crate) fn new(planner: Planner<'a>, request: &'a PlanRequest, rules: &'a Rules) -> Self {
        Self { planner, request, rules, grounds: RefCell::new(Vec::new()) }
    }

    pub(crate) fn ground(&self, terms: &Terms) -> Rc<Ground<'a>> {
        let known = |grounds: &Vec<(Terms, Rc<Ground<'a>>)>| {
            grounds.iter().find(|(known, _)| known == terms).map(|(_, ground)| Rc::clone(ground))
        };
        if let Some(ground) = known(&self.grounds.borrow()) {
            return ground;
        }
        let rules = terms.one_part.and_then(|scope| self.rules.0.get(&scope)).unwrap_or(self.planner.rules());
        let ground = Rc::new(Ground::new(&self.planner, rules, self.request, terms));
        self.grounds.borrow_mut().push((terms.clone(), Rc::clone(&ground)));
        ground
    }

    /// Searches for the best plan that has what is needed.
    pub(crate) fn solve(&self, needs: &Needs, asked: Asked, budget: &mut Budget<'_>) -> Answer<'a> {
        let ground = self.ground(&needs.terms);
        let mut solver = Solver::new(&ground, self.request, needs.clone());
        solver.any_will_do = asked.any_will_do;
        solver.excluded = asked.excluded;
        let run = match &asked.counts {
            Some(counts) => solver.consider(counts, budget),
            None => solver.run(budget),
        };
        Answer { stopped: run.err(), at_least: solver.at_least(), found: solver.best }
    }

    /// The numbers by class of every plan that has what is needed and costs no more than `most`, with the least that such
    /// a plan costs, the cheapest first.
    pub(crate) fn candidates(
        &self,
        needs: &Needs,
        most: Amount,
        budget: &mut Budget<'_>,
    ) -> Result<Vec<(Amount, Counts)>, StopReason> {
        let ground = self.ground(&needs.terms);
        let most = needs.budget.map_or(most, |budget| budget.min(most));
        let mut solver = Solver::new(&ground, self.request, Needs { budget: Some(most), ..needs.clone() });
        solver.gathered = Some(HashMap::new());
        solver.run(budget)?;
        let mut all: Vec<_> = solver.gathered.into_iter().flatten().map(|(counts, cost)| (cost, counts)).collect();
        all.sort_unstable();
        Ok(all)
    }

    /// A budget for one search, or several together.
    pub(crate) fn budget(&self) -> Budget<'a> {
        self.planner.budget(self.request.nodes)
    }

    fn author<'s>(&'s self, ground: &'s Ground<'a>) -> Author<'s, 'a> {
        Author { planner: &self.planner, request: self.request, ground }
    }

    /// Writes a plan out.
    pub(crate) fn write(&self, needs: &Needs, found: &Found<'a>) -> Result<Plan, StopReason> {
        self.author(&self.ground(&needs.terms)).write(found)
    }

    /// What is worth saying about the request.
    pub(crate) fn notes(&self) -> Vec<PlanNote> {
        self.author(&self.ground(&Terms::default())).notes()
    }

    pub(crate) fn cost(&self, amount: Amount) -> Cost {
        self.author(&self.ground(&Terms::default())).cost(amount)
    }
}
