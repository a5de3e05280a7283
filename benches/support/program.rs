//! A request as an integer program, for a general solver.
//!
//! The standard rules ask that all populated channels hold the same, at all processors alike, that none stays empty while
//! another has two modules, and that an odd number of them is one, or all. So one *pattern* of
//! a channel is chosen, and the number of channels of a processor that carry it:
//!
//! - a binary for each pattern, of which one is chosen; an integer for the channels of a processor that carry it,
//!   within what the capacity asks for at least and what there are at most, or none;
//! - an integer for each offer: packs bought. With quantity breaks, a binary and an integer for each step, of
//!   which one is chosen; a binary for each supplier that charges, and one for what is over and worth something;
//! - for present modules, grouped by processor and what their channel holds: an integer for the channels of the
//!   group in use, and for each position of the group integers for what stays and what moves. Only a module
//!   that looks like the pattern at its position, in a channel in use, can stay;
//! - for each look of a module: what is bought, stays or moves is at least what the pattern asks for;
//! - the budget, where there is one.
//!
//! It is minimized what offers, charges, shelf and handlings cost, less credits and the worth of what is over.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use microlp::{ComparisonOp, OptimizationDirection, Problem, SolveOptions, SolveOutcome, Variable};
use slotwright::purchase::Offer;
use slotwright::{Capacity, Name, Outcome, PlanRequest, Planner, Price, Severity};

use super::patterns::{Looks, Pattern, patterns};

/// What the solver says.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Answer {
    /// The least cost, in minor units.
    Cost(i64),
    Infeasible,
    /// Not solved in time; what any answer costs at least.
    Stopped {
        cost_at_least: Option<f64>,
    },
    /// The solver gave up.
    Failed(String),
}

/// Whether the planner and the program come to the same end: not where one of them stops early.
///
/// # Errors
/// What does not go together: two costs, a plan where there is none, a bound above the least cost.
pub(crate) fn agree(outcome: &Outcome, answer: &Answer) -> Result<bool, String> {
    let is_wrong = match (outcome, answer) {
        (_, Answer::Stopped { .. } | Answer::Failed(_)) => return Ok(false),
        // of what was so before, and is left alone, the program knows nothing
        (Outcome::Optimal(plan), Answer::Cost(cost)) if !plan.was_so_before.is_empty() => {
            if plan.cost.total.amount_minor() <= *cost {
                return Ok(false);
            }
            true
        }
        (Outcome::Optimal(plan), Answer::Infeasible) if !plan.was_so_before.is_empty() => return Ok(false),
        (Outcome::Optimal(plan), Answer::Cost(cost)) => plan.cost.total.amount_minor() != *cost,
        (Outcome::Infeasible(_), Answer::Infeasible) => false,
        (Outcome::Stopped { best, cost_at_least, .. }, Answer::Cost(cost)) => {
            let too_high = cost_at_least.amount_minor() > *cost;
            let too_low = best.as_ref().is_some_and(|plan| plan.cost.total.amount_minor() < *cost);
            if !(too_high || too_low) {
                return Ok(false);
            }
            true
        }
        (Outcome::Stopped { best: None, .. }, Answer::Infeasible) => return Ok(false),
        _ => true,
    };
    if is_wrong { Err(format!("{outcome}\nbut the program says {answer:?}")) } else { Ok(true) }
}

/// How the question is put.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    /// As it comes to mind: an integer for each offer, and one row for the capacity.
    Plain,
    /// As it is solved fastest. Capacity bounds the channels of each pattern by itself. And once all else is whole, so
    /// are the units of offers that are sold one by one at one price, wherever the solver ends; so they need not be
    /// integers.
    Tight,
}

/// A term of a row: a variable and how often it counts.
type Term = (Variable, i64);

pub(crate) struct Program {
    form: Form,
    problem: Problem,
    /// What one of each variable costs.
    costs: Vec<Term>,
    /// What is spent whatever is chosen.
    fixed_cost: i64,
    /// For each look, what there is less what is used.
    balance: Vec<Vec<Term>>,
    /// No assignment meets what is asked for.
    is_void: bool,
}

fn minor(price: Option<Price>) -> i64 {
    price.map_or(0, |price| i64::try_from(price.amount_minor()).unwrap())
}

impl Program {
    /// # Panics
    /// Where a request asks for what the program does not say.
    pub(crate) fn new(planner: &Planner<'_>, request: &PlanRequest, form: Form) -> Self {
        assert!(
            request.refuse_from == Severity::Warning && request.one_part_number.is_none() && !request.known_facts_only
        );
        assert!(request.usable_at_most_mib.is_none() && request.bandwidth_at_least_mbps.is_none());
        assert!(request.free_slots_at_least.is_none() && request.kinds.is_none());
        let offered = request.offers.iter().map(|offer| &offer.module).chain(request.shelf.iter().map(|i| &i.module));
        let present = request.present.population.modules().map(|(_, fitted)| &fitted.module);
        let looks = Looks::new(offered.chain(present), request.rate_at_least_mts);
        let mut program = Self {
            form,
            problem: Problem::new(OptimizationDirection::Minimize),
            costs: Vec::new(),
            fixed_cost: 0,
            balance: vec![Vec::new(); looks.len()],
            is_void: false,
        };
        let chosen = program.channels(planner, request, &looks);
        program.stock(planner, request, &looks);
        program.present(planner, request, &looks, &chosen);
        for terms in core::mem::take(&mut program.balance) {
            program.row(&terms, ComparisonOp::Ge, 0);
        }
        if let Some(budget) = request.budget {
            let (costs, left) = (program.costs.clone(), minor(Some(budget)) - program.fixed_cost);
            program.row(&costs, ComparisonOp::Le, left);
        }
        program
    }

    /// Solves the program; says how long that took.
    pub(crate) fn solve(&self, limit: Duration) -> (Answer, Duration) {
        let start = Instant::now();
        if self.is_void {
            return (Answer::Infeasible, start.elapsed());
        }
        let mut options = SolveOptions::default();
        options.time_limit = Some(limit);
        let outcome = self.problem.solve_with(options);
        let took = start.elapsed();
        let stopped = |bound: Option<f64>| Answer::Stopped { cost_at_least: bound };
        let answer = match outcome {
            Ok(SolveOutcome::Solution(solution)) if solution.status() == microlp::SolutionStatus::Optimal => {
                // in whole numbers, so that nothing is lost
                let whole = |variable: Variable| {
                    let value = solution.var_value(variable);
                    assert!((value - value.round()).abs() < 1e-6, "{value} of something whole");
                    value.round() as i64
                };
                Answer::Cost(self.fixed_cost + self.costs.iter().map(|&(var, each)| whole(var) * each).sum::<i64>())
            }
            Ok(outcome) => stopped(outcome.stats().best_bound.map(|bound| bound + self.fixed_cost as f64)),
            Err(microlp::Error::Infeasible) => Answer::Infeasible,
            Err(error) => Answer::Failed(error.to_string()),
        };
        (answer, took)
    }

    fn integer(&mut self, cost: i64, least: i64, most: i64) -> Variable {
        let bounds = (i32::try_from(least).unwrap(), i32::try_from(most).unwrap());
        let variable = self.problem.add_integer_var(cost as f64, bounds);
        self.costs.push((variable, cost));
        variable
    }

    fn real(&mut self, cost: i64, most: i64) -> Variable {
        let variable = self.problem.add_var(cost as f64, (0.0, most as f64));
        self.costs.push((variable, cost));
        variable
    }

    fn row(&mut self, terms: &[Term], comparison: ComparisonOp, right: i64) {
        // the solver wants each variable of a row once
        let mut once: BTreeMap<usize, Term> = BTreeMap::new();
        for &(variable, times) in terms {
            once.entry(variable.idx()).or_insert((variable, 0)).1 += times;
        }
        self.problem.add_constraint(once.values().map(|&(var, times)| (var, times as f64)), comparison, right as f64);
    }

    /// One pattern and how many channels of a processor carry it. Returns the patterns with their binaries and
    /// integers.
    fn channels(
        &mut self,
        planner: &Planner<'_>,
        request: &PlanRequest,
        looks: &Looks,
    ) -> Vec<(Pattern, Variable, Variable)> {
        let sockets = planner.machine().platform().sockets();
        let (processors, most) = (sockets.len() as u64, sockets[0].channels.len() as i64);
        let lists_sets =
            planner.machine().processors().any(|(_, processor)| processor.description().interleave.is_some());
        let labour = minor(request.labour_per_handling) * i64::from(request.machines);
        // so many modules in a channel of each processor
        let of_one = |modules: usize| (sockets.len() * modules) as i64;
        let target = request.usable_at_least_mib.map_or(0, Capacity::mib);
        let (mut chosen, mut capacity) = (Vec::new(), Vec::new());
        for pattern in patterns(planner, looks, request.present.population.is_empty()) {
            let of_all = pattern.mib * processors;
            let least = if self.form == Form::Tight { target.div_ceil(of_all).max(1) as i64 } else { 1 };
            if least > most {
                continue;
            }
            // every channel has its first module before any has a second
            let least = if pattern.looks.len() > 1 { most } else { least };
            let is_chosen = self.integer(0, 0, 1);
            let carrying = self.integer(labour * of_one(pattern.looks.len()), 0, most);
            if least == most {
                self.row(&[(carrying, 1), (is_chosen, -most)], ComparisonOp::Eq, 0);
            } else {
                self.row(&[(carrying, 1), (is_chosen, -least)], ComparisonOp::Ge, 0);
                self.row(&[(carrying, 1), (is_chosen, -most)], ComparisonOp::Le, 0);
            }
            // an odd number of channels above one is none but that of all
            if !lists_sets && least < most {
                let allowed = (least..=most).filter(|&count| count == 1 || count % 2 == 0 || count == most);
                let ways: Vec<(Variable, i64)> = allowed.map(|count| (self.integer(0, 0, 1), count)).collect();
                let one: Vec<Term> = ways.iter().map(|&(way, _)| (way, 1)).chain([(is_chosen, -1)]).collect();
                self.row(&one, ComparisonOp::Eq, 0);
                let counts: Vec<Term> = ways.iter().copied().chain([(carrying, -1)]).collect();
                self.row(&counts, ComparisonOp::Eq, 0);
            }
            capacity.push((carrying, of_all as i64));
            for &look in &pattern.looks {
                self.balance[look].push((carrying, -of_one(1) * i64::from(request.machines)));
            }
            chosen.push((pattern, is_chosen, carrying));
        }
        self.is_void = chosen.is_empty();
        let one: Vec<Term> = chosen.iter().map(|&(_, is_chosen, _)| (is_chosen, 1)).collect();
        self.row(&one, ComparisonOp::Eq, 1);
        if self.form == Form::Plain {
            self.row(&capacity, ComparisonOp::Ge, target as i64);
        }
        chosen
    }

    /// What is bought, and what is taken from the shelf.
    fn stock(&mut self, planner: &Planner<'_>, request: &PlanRequest, looks: &Looks) {
        let slots = planner.machine().platform().slots().len() as i64 * i64::from(request.machines);
        let mut charges: BTreeMap<&Name, Variable> = BTreeMap::new();
        for (supplier, charge) in &request.supplier_charges {
            charges.insert(supplier, self.integer(minor(Some(*charge)), 0, 1));
        }
        for item in &request.shelf {
            let Some(look) = looks.find(&item.module) else { continue };
            let taken = self.integer(minor(item.unit_value), 0, i64::from(item.stock).min(slots));
            self.balance[look].push((taken, 1));
        }
        for offer in &request.offers {
            let Some(look) = looks.find(&offer.module) else { continue };
            let charge = offer.supplier.as_ref().and_then(|supplier| charges.get(supplier).copied());
            let bought = self.offer(offer, slots, charge);
            if let Some(worth) = offer.surplus_value {
                let over = self.integer(-minor(Some(worth)), 0, i64::from(offer.stock));
                let terms: Vec<Term> = bought.iter().copied().chain([(over, -1)]).collect();
                self.row(&terms, ComparisonOp::Ge, 0);
                self.balance[look].push((over, -1));
            }
            self.balance[look].extend(bought);
        }
    }

    /// The packs of an offer at each of its prices, as units.
    fn offer(&mut self, offer: &Offer, slots: i64, charge: Option<Variable>) -> Vec<Term> {
        let pack = i64::from(offer.pack);
        // a pack that reaches beyond the last slot is the last of use, unless a break is
        let useful = if offer.breaks.is_empty() { (slots + pack - 1) / pack } else { i64::MAX };
        let prices = [(0, offer.unit_price)].into_iter().chain(offer.breaks.iter().map(|s| (s.from, s.unit_price)));
        let ends = offer.breaks.iter().map(|step| step.from - 1).chain([offer.stock]);
        let (mut units, mut steps) = (Vec::new(), Vec::new());
        for ((from, price), to) in prices.zip(ends) {
            let least = (i64::from(from) + pack - 1) / pack;
            let most = (i64::from(to.min(offer.stock)) / pack).min(useful);
            if most < least || most == 0 {
                continue;
            }
            let cost = minor(Some(price)) * pack;
            let is_simple = pack == 1 && offer.breaks.is_empty() && charge.is_none() && offer.surplus_value.is_none();
            let packs =
                if is_simple && self.form == Form::Tight { self.real(cost, most) } else { self.integer(cost, 0, most) };
            if !offer.breaks.is_empty() {
                let is_reached = self.integer(0, 0, 1);
                self.row(&[(packs, 1), (is_reached, -most)], ComparisonOp::Le, 0);
                if least > 0 {
                    self.row(&[(packs, 1), (is_reached, -least)], ComparisonOp::Ge, 0);
                }
                steps.push((is_reached, 1));
            }
            if let Some(charge) = charge {
                self.row(&[(packs, 1), (charge, -most)], ComparisonOp::Le, 0);
            }
            units.push((packs, pack));
        }
        if steps.len() > 1 {
            self.row(&steps, ComparisonOp::Le, 1);
        }
        units
    }

    /// What stays, moves or is pulled.
    fn present(
        &mut self,
        planner: &Planner<'_>,
        request: &PlanRequest,
        looks: &Looks,
        chosen: &[(Pattern, Variable, Variable)],
    ) {
        if request.present.population.is_empty() {
            return;
        }
        let machines = i64::from(request.machines);
        let labour = minor(request.labour_per_handling) * machines;
        for groups in groups(planner, request, looks) {
            let mut in_use: Vec<Term> = chosen.iter().map(|&(_, _, carrying)| (carrying, -1)).collect();
            for (cells, channels) in groups {
                let used = self.integer(0, 0, channels);
                in_use.push((used, 1));
                for (position, cell) in cells.into_iter().enumerate() {
                    let Some(Cell { look, is_pinned, credit }) = cell else { continue };
                    // it is taken out; it need not be where it stays, nor is what is there put in
                    let credit = credit * machines;
                    self.fixed_cost += channels * (labour - credit);
                    let fits = |pattern: &Pattern| look.is_some() && pattern.looks.get(position).copied() == look;
                    let matching = chosen.iter().filter(|(pattern, _, _)| fits(pattern));
                    let mut stays_where: Vec<Term> =
                        matching.map(|&(_, is_chosen, _)| (is_chosen, -channels)).collect();
                    let least = if is_pinned { channels } else { 0 };
                    let stays = self.integer(credit - 2 * labour, least, channels);
                    stays_where.push((stays, 1));
                    self.row(&stays_where, ComparisonOp::Le, 0);
                    self.row(&[(stays, 1), (used, -1)], ComparisonOp::Le, 0);
                    let Some(look) = look else { continue };
                    let moves = self.integer(credit, 0, channels - least);
                    self.row(&[(stays, 1), (moves, 1)], ComparisonOp::Le, channels);
                    self.balance[look].extend([(stays, machines), (moves, machines)]);
                }
            }
            self.row(&in_use, ComparisonOp::Eq, 0);
        }
    }
}

/// A present module, as far as its fate depends on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Cell {
    /// Absent where it is too slow to be kept.
    look: Option<usize>,
    is_pinned: bool,
    credit: i64,
}

/// For each processor, what its channels hold now from the far end, and how many hold it.
fn groups(planner: &Planner<'_>, request: &PlanRequest, looks: &Looks) -> Vec<BTreeMap<Vec<Option<Cell>>, i64>> {
    let platform = planner.machine().platform();
    let present = &request.present;
    let cell = |label: &Name| {
        let (_, fitted) = present.population.modules().find(|(slot, _)| *slot == label)?;
        let credit = minor(present.credits.get(label).copied());
        Some(Cell { look: looks.find(&fitted.module), is_pinned: present.pinned.contains(label), credit })
    };
    let groups = |socket: &slotwright::platform::Socket| {
        let mut groups = BTreeMap::new();
        for &channel in &socket.channels {
            let slots = platform.channel(channel).slots.iter();
            let cells = slots.map(|&slot| cell(platform.slot(slot).label())).collect();
            *groups.entry(cells).or_insert(0) += 1;
        }
        groups
    };
    platform.sockets().iter().map(groups).collect()
}
