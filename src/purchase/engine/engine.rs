//! The engine: where the questions about one request are asked.

use std::cell::RefCell;
use std::collections::{BTreeMap, HashMap};
use std::rc::Rc;

use crate::assess::Planner;
use crate::fill::ClassId;
use crate::finding::{FactValue, Severity};
use crate::module::MemoryModule;
use crate::population::ModuleSite;
use crate::purchase::engine::context::SearchContext;
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::goal::{Counts, Every, Follows, Goal};
use crate::purchase::engine::needs::{Needs, Terms};
use crate::purchase::engine::search::{Found, Search};
use crate::purchase::engine::sequel::Sequel;
use crate::purchase::engine::write::{Writer, bound, notes};
use crate::purchase::{Plan, PlanNote, PlanRequest, ShelfItem};
use crate::rule::{MixBound, Rule, RuleBook};
use crate::search::{Budget, StopReason};
use crate::stated::Scope;
use crate::unit::Cost;

/// The rules of a request: those of a planner but for what the request accepts, and the same with modules of one part
/// within each scope; none where a request does not ask for one part.
pub(crate) struct RequestRules {
    accepting: Option<RuleBook>,
    of_one_part: BTreeMap<Scope, RuleBook>,
}

impl RequestRules {
    pub(crate) fn of(rules: &RuleBook, request: &PlanRequest) -> Self {
        let accepted = || request.accept_unknown.iter().copied();
        let accepting = accepted().next().map(|_| rules.clone().accepting_unknown(accepted()));
        let of_one_part = match request.one_part_number {
            Some(_) => of_one_part(accepting.as_ref().unwrap_or(rules), request),
            None => BTreeMap::new(),
        };
        Self { accepting, of_one_part }
    }
}

/// The rules with modules of one part within each scope.
fn of_one_part(rules: &RuleBook, request: &PlanRequest) -> BTreeMap<Scope, RuleBook> {
    let present = request.present.population.modules().map(|(_, fitted)| &fitted.module);
    let offers = request.offers.iter().map(|offer| &offer.module);
    let all = present.chain(offers).chain(request.shelf.iter().map(|item| &item.module));
    // whether a module runs is no matter of its part
    let mut parts: Vec<MemoryModule> = all.map(|module| module.clone().by_facts()).collect();
    parts.sort();
    parts.dedup();
    // a caller's rule may have the code already
    let code =
        std::iter::successors(Some(String::from("one part number, as requested")), |code| Some(format!("{code}'")))
            .find(|code| rules.get(code).is_none())
            .unwrap_or_default();
    let with = |scope: Scope| {
        let parts = parts.clone();
        let key = move |site: &ModuleSite<'_>| {
            let known = match site.module.runs_at() {
                None => parts.binary_search(site.module),
                Some(_) => parts.binary_search(&site.module.clone().by_facts()),
            };
            Ok(Some(FactValue::count(known.unwrap_or_else(|place| place))))
        };
        let bound = MixBound::new(scope, 1);
        let rule = Rule::mix(&code, "of one part", Severity::Error, bound, key).ok()?;
        Some((scope, rules.clone().with(rule.uniform()).ok()?))
    };
    [Scope::Channel, Scope::Socket, Scope::Machine].into_iter().filter_map(with).collect()
}

/// What a search found.
pub(crate) struct Answer<'a> {
    pub(crate) found: Option<Found<'a>>,
    /// Why it ended before it was through, if it did; what was found need not be the best then.
    pub(crate) stopped: Option<StopReason>,
    /// What any plan costs at least, as far as that is known.
    pub(crate) at_least: Amount,
    /// All numbers of modules, where the goal was to gather them.
    every: Vec<(Amount, Counts)>,
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
pub(crate) struct Engine<'a> {
    pub(crate) planner: Planner<'a>,
    pub(crate) request: &'a PlanRequest,
    rules: &'a RequestRules,
    contexts: RefCell<Vec<(Terms, Rc<SearchContext<'a>>)>>,
}

impl<'a> Engine<'a> {
    pub(crate) fn new(planner: Planner<'a>, request: &'a PlanRequest, rules: &'a RequestRules) -> Self {
        let planner = rules.accepting.as_ref().map_or(planner, |accepting| planner.under(accepting));
        Self { planner, request, rules, contexts: RefCell::new(Vec::new()) }
    }

    /// What searches under some terms stand on.
    pub(crate) fn context(&self, terms: &Terms, budget: &mut Budget<'_>) -> Result<Rc<SearchContext<'a>>, StopReason> {
        let known = self.contexts.borrow().iter().find(|(known, _)| known == terms).map(|(_, known)| Rc::clone(known));
        if let Some(context) = known {
            return Ok(context);
        }
        let rules = terms.one_part.and_then(|scope| self.rules.of_one_part.get(&scope)).unwrap_or(self.planner.rules());
        let context = Rc::new(SearchContext::new(&self.planner, rules, self.request, terms, budget)?);
        self.contexts.borrow_mut().push((terms.clone(), Rc::clone(&context)));
        Ok(context)
    }

    /// Searches for what the goal says among plans that have what is needed.
    pub(crate) fn solve(&self, needs: &Needs, goal: Goal, budget: &mut Budget<'_>) -> Answer<'a> {
        self.ask(needs, goal, None, budget)
    }

    /// What the request is ready to pay above the least, if anything.
    pub(crate) fn worth(&self) -> Option<Amount> {
        self.request.worth_minor().map(Amount::from)
    }

    /// What plans are held to that may cost more than this least, where the request is ready to pay more.
    pub(crate) fn paying(&self, needs: &Needs, least: Amount) -> Option<Needs> {
        self.worth().map(|worth| needs.paying(least + worth))
    }

    /// The best plan: of those that cost no more than the request is ready to pay above the least, the one that is best in
    /// what it is like. Where the least cost is not proved, nothing more is asked.
    pub(crate) fn solve_paying(&self, needs: &Needs, budget: &mut Budget<'_>) -> Answer<'a> {
        let answer = self.solve(needs, Goal::Best, budget);
        let (Some(least), None) = (answer.found.as_ref().map(|found| found.key.cost), answer.stopped) else {
            return answer;
        };
        let Some(paying) = self.paying(needs, least) else { return answer };
        let better = self.solve(&paying, Goal::Best, budget);
        Answer { found: better.found.or(answer.found), at_least: least, ..better }
    }

    /// The same among plans that have just so many modules of each class.
    pub(crate) fn solve_with(&self, needs: &Needs, goal: Goal, counts: &Counts, budget: &mut Budget<'_>) -> Answer<'a> {
        self.ask(needs, goal, Some(counts), budget)
    }

    /// How many nodes a search may take beyond its own to set up a plan by hand, as it were, once they are used up.
    const FIRST_NODES: u64 = 20_000;

    /// How many nodes setting up just one plan may take.
    const ONE_PLAN_NODES: u64 = 2_000;

    /// A plan that is set up at once, whoever may have stopped the search: that takes a few milliseconds.
    fn one_plan(&self, needs: &Needs) -> Option<Found<'a>> {
        let mut budget = Budget::new(Self::ONE_PLAN_NODES, None);
        let context = self.context(&needs.terms, &mut budget).ok()?;
        let mut search = Search::new(&context, needs.clone(), Goal::Any);
        search.set_up_one(&mut budget);
        search.best
    }

    fn ask(&self, needs: &Needs, goal: Goal, counts: Option<&Counts>, budget: &mut Budget<'_>) -> Answer<'a> {
        let context = match self.context(&needs.terms, budget) {
            Ok(context) => context,
            // nothing is known of a cost, but that no credit is above what was there to pull
            Err(reason) => {
                // who stops a search waits for its answer
                let is_stopped = reason == StopReason::Cancelled && counts.is_none() && matches!(goal, Goal::Best);
                let found = if is_stopped { self.one_plan(needs) } else { None };
                return Answer { found, stopped: Some(reason), at_least: self.all_credits(), every: Vec::new() };
            }
        };
        // who watches may stop the search at any moment: a first plan, set up at once and beside the search
        let first = match counts {
            None if budget.is_watched() && matches!(goal, Goal::Best) => {
                let mut search = Search::new(&context, needs.clone(), Goal::Any);
                search.set_up_one(&mut budget.part(Self::ONE_PLAN_NODES));
                search.best
            }
            _ => None,
        };
        let mut search = Search::new(&context, needs.clone(), goal);
        let stopped = search.by_suppliers(counts, budget).err();
        match stopped {
            Some(StopReason::NodesUsedUp { .. }) if counts.is_none() => {
                search.set_up_plans(&mut budget.part(Self::FIRST_NODES));
            }
            Some(StopReason::Cancelled)
                if counts.is_none() && search.best.is_none() && matches!(search.goal, Goal::Best) =>
            {
                search.best = first.or_else(|| self.one_plan(needs));
            }
            _ => {}
        }
        // where no plan can be had, anything is a bound, and working one out is work for nothing
        let at_least = match stopped {
            None => search.best.as_ref().map_or(0, |best| best.key.cost),
            Some(_) => search.at_least(),
        };
        let every = match search.goal {
            Goal::Every(every) => every.found.into_iter().map(|(counts, cost)| (cost, counts)).collect(),
            Goal::Best | Goal::Any | Goal::Except(_) => Vec::new(),
        };
        Answer { found: search.best, stopped, at_least, every }
    }

    /// What a plan costs at least of which nothing is known: all credits, and everything that is bought left over for what
    /// it is worth, which is no more than it costs.
    fn all_credits(&self) -> Amount {
        let credits = self.request.present.credits.values().map(|credit| Amount::from(credit.amount_minor()));
        -credits.sum::<Amount>() * Amount::from(self.request.machines)
    }

    /// The numbers by class of every plan that may have what is needed, where it costs no more than `most` with what
    /// follows it; with the least that both cost, the cheapest first.
    pub(crate) fn candidates(
        &self,
        needs: &Needs,
        (follows, most): (&Follows, Amount),
        budget: &mut Budget<'_>,
    ) -> Result<Vec<(Amount, Counts)>, StopReason> {
        let needs = Needs { budget: Some(most), ..needs.clone() };
        let every = Every { found: HashMap::new(), follows: follows.clone() };
        let answer = self.solve(&needs, Goal::Every(every), budget);
        if let Some(reason) = answer.stopped {
            return Err(reason);
        }
        let mut all = answer.every;
        if self.context(&needs.terms, budget)?.classes.market.is_open() {
            // reckoned before it was settled who is paid
            let mut exact = Vec::new();
            for (_, counts) in all {
                let found = self.solve_with(&needs, Goal::Best, &counts, budget).proved()?;
                exact.extend(found.map(|found| (found.key.cost, counts)));
            }
            all = exact;
        }
        all.sort_unstable();
        Ok(all)
    }

    /// What a request of which so many items stand for classes of this one costs at least, by what is fitted.
    pub(crate) fn sequel(
        &self,
        needs: &Needs,
        (later, items): (&Engine<'_>, &[(ClassId, &ShelfItem)]),
        budget: &mut Budget<'_>,
    ) -> Result<Option<Sequel>, StopReason> {
        let then = Needs::of(later.request);
        let (own, other) = (self.context(&needs.terms, budget)?, later.context(&then.terms, budget)?);
        let now = Search::new(&own, needs.clone(), Goal::Any);
        Sequel::new(&now, &mut Search::new(&other, then, Goal::Any), items, budget)
    }

    /// A budget for one search, or several together.
    pub(crate) fn budget(&self) -> Budget<'a> {
        self.planner.budget(self.request.nodes)
    }

    /// Writes a plan out.
    pub(crate) fn write(&self, needs: &Needs, found: &Found<'a>, budget: &mut Budget<'_>) -> Result<Plan, StopReason> {
        let context = self.context(&needs.terms, budget)?;
        Writer { planner: &self.planner, request: self.request, context: &context }.write(found)
    }

    /// What is worth saying about the request.
    pub(crate) fn notes(&self) -> Vec<PlanNote> {
        notes(self.request)
    }

    /// A bound in the request's currency. One beyond what a cost can say is the nearest cost, which is a bound as well: a
    /// checked request has no plan that costs less than the lowest.
    pub(crate) fn bound(&self, amount: Amount) -> Cost {
        bound(self.request, amount)
    }
}
