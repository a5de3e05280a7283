//! A request as an integer program, for a general solver.
//!
//! What channels carry is one of three models:
//!
//! - **alike** (`alike.rs`): warnings refused, all channels wired alike. One *pattern* of a channel is chosen, and how
//!   many channels of each processor carry it;
//! - **whole layouts** (`layouts.rs`): warnings refused, uneven wiring. A binary for each way to fill the processors
//!   that the rules admit, of which one is chosen;
//! - **free** (`free.rs`): warnings allowed. An integer for each pattern of each group of like channels.
//!
//! Beside it there are, whatever the model:
//!
//! - an integer for each offer: packs bought. With quantity breaks, a binary and an integer for each step, of
//!   which one is chosen; a binary for each supplier that charges, and one for what is over and worth something;
//! - for present modules, grouped by what their channel holds: integers for what stays and what moves. Only a module
//!   that looks like the pattern at its position can stay;
//! - for each look of a module: what is bought, stays or moves is at least what channels carry. Several machines hold
//!   the same parts: there an integer for each part says how many each of them holds;
//! - the budget, where there is one.
//!
//! It is minimized what offers, charges, shelf and handlings cost, less credits and the worth of what is over.

use std::time::Duration;

use slotwright::platform::ChannelId;
use slotwright::{MemoryModule, Name, Outcome, PlanRequest, Planner, Price, Severity};

use super::patterns::{Judge, Looks};
use linear::{Compare, Linear, Term};

mod alike;
mod free;
mod layouts;
mod linear;
mod present;
mod stock;

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

/// How a request is written down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    /// As it comes to mind: an integer for each offer, one row for the capacity, each processor by itself.
    Plain,
    /// As it is solved fastest. Capacity bounds the channels of each pattern by itself, or is counted in the common
    /// unit of the sizes; like processors are one. And once all else is whole, so are the units of offers that are sold
    /// one by one at one price, wherever the solver ends; so they need not be integers.
    Tight,
}

pub(crate) struct Program<'p> {
    form: Form,
    planner: &'p Planner<'p>,
    request: &'p PlanRequest,
    looks: Looks,
    linear: Linear,
    /// What is not told apart: the modules of a look, or, in several machines, those of a part. Of each its look.
    parts: Vec<(Option<MemoryModule>, usize)>,
    /// By part, what all machines have of it.
    supply: Vec<Vec<Term>>,
    /// By look, what one machine carries of it.
    need: Vec<Vec<Term>>,
}

fn minor(price: Option<Price>) -> i64 {
    price.map_or(0, |price| i64::try_from(price.amount_minor()).unwrap())
}

impl<'p> Program<'p> {
    /// # Panics
    /// Where a request asks for what the program does not say.
    pub(crate) fn new(planner: &'p Planner<'p>, request: &'p PlanRequest, form: Form) -> Self {
        assert!(request.refuse_from != Severity::Note && request.one_part_number.is_none());
        assert!(!request.known_facts_only && request.kinds.is_none() && request.spares == 0);
        assert!(request.usable_at_most_mib.is_none() && request.bandwidth_at_least_mbps.is_none());
        assert!(request.free_slots_at_least.is_none() && request.worth_paying.is_none());
        let offered = request.offers.iter().map(|offer| &offer.module).chain(request.shelf.iter().map(|i| &i.module));
        let present = || request.present.population.modules().map(|(_, fitted)| &fitted.module);
        let modules = || offered.clone().chain(present());
        let looks = Looks::new(modules(), request.rate_at_least_mts);
        let mut parts: Vec<(Option<MemoryModule>, usize)> = Vec::new();
        if request.machines > 1 {
            for module in modules() {
                let known = parts.iter().any(|(part, _)| part.as_ref() == Some(module));
                let look = looks.find(module).filter(|_| !known);
                parts.extend(look.map(|look| (Some(module.clone()), look)));
            }
        } else {
            parts.extend((0..looks.len()).map(|look| (None, look)));
        }
        let (supply, need) = (vec![Vec::new(); parts.len()], vec![Vec::new(); looks.len()]);
        let linear = Linear::default();
        let mut program = Self { form, planner, request, looks, linear, parts, supply, need };
        if request.refuse_from == Severity::Error {
            program.free();
        } else if program.is_wired_alike() {
            program.alike();
        } else {
            program.whole_layouts();
        }
        program.stock();
        program.balance();
        if let Some(budget) = request.budget {
            program.linear.cost_at_most(minor(Some(budget)));
        }
        program
    }

    /// Solves the program; says how long that took.
    pub(crate) fn solve(&self, limit: Duration) -> (Answer, Duration) {
        self.linear.solve(limit)
    }

    /// The program as text, for other solvers.
    // the tests write none
    #[allow(dead_code)]
    pub(crate) fn text(&self, name: &str) -> String {
        self.linear.mps(name)
    }

    /// There is as much of everything as is carried.
    fn balance(&mut self) {
        let (supply, need) = (core::mem::take(&mut self.supply), core::mem::take(&mut self.need));
        let machines = i64::from(self.request.machines);
        let slots = self.slots();
        let mut has: Vec<Vec<Term>> = vec![Vec::new(); need.len()];
        for ((part, look), supply) in self.parts.iter().zip(supply) {
            if part.is_some() {
                let each = self.linear.integer(0, 0, slots);
                self.linear.row(supply.into_iter().chain([(each, -machines)]), Compare::AtLeast, 0);
                has[*look].push((each, 1));
            } else {
                has[*look].extend(supply);
            }
        }
        for (has, need) in has.into_iter().zip(need) {
            let less = need.into_iter().map(|(variable, times)| (variable, -times));
            self.linear.row(has.into_iter().chain(less), Compare::AtLeast, 0);
        }
    }

    /// The part that a module is, where it is fast enough.
    fn part(&self, module: &MemoryModule) -> Option<usize> {
        let look = self.looks.find(module)?;
        self.parts.iter().position(|(part, of)| *of == look && part.as_ref().is_none_or(|part| part == module))
    }

    /// Whether nothing is present, so that order along a channel is no matter.
    fn holds_nothing(&self) -> bool {
        self.request.present.population.is_empty()
    }

    fn judge(&self) -> Judge<'_> {
        Judge { planner: self.planner, looks: &self.looks, refuse_from: self.request.refuse_from }
    }

    /// The channels of each processor that have slots.
    fn channels(&self) -> Vec<Vec<ChannelId>> {
        let platform = self.planner.machine().platform();
        let wired = |channels: &Vec<ChannelId>| {
            channels.iter().copied().filter(|&id| !platform.channel(id).slots.is_empty()).collect()
        };
        platform.sockets().iter().map(|socket| wired(&socket.channels)).collect()
    }

    fn is_wired_alike(&self) -> bool {
        let slots = |&id: &ChannelId| self.slots_of(id);
        let wiring: Vec<Vec<usize>> = self.channels().iter().map(|of_one| of_one.iter().map(slots).collect()).collect();
        let first = wiring.first().and_then(|of_one| of_one.first());
        wiring.iter().all(|of_one| of_one.len() == wiring[0].len() && of_one.iter().all(|slots| Some(slots) == first))
    }

    fn slots_of(&self, channel: ChannelId) -> usize {
        self.planner.machine().platform().channel(channel).slots.len()
    }

    /// Slots of one machine.
    fn slots(&self) -> i64 {
        self.planner.machine().platform().slots().len() as i64
    }

    /// What each processor takes at most, in MiB.
    fn caps(&self) -> Vec<Option<u64>> {
        let cap = |processor: &slotwright::Processor| {
            processor.description().capacity_cap.as_ref().map(|c| c.value.capacity_mib.mib())
        };
        self.planner.machine().processors().map(|(_, processor)| cap(processor)).collect()
    }

    fn target(&self) -> u64 {
        self.request.usable_at_least_mib.map_or(0, slotwright::Capacity::mib)
    }

    /// What putting one module into each machine costs.
    fn labour(&self) -> i64 {
        minor(self.request.labour_per_handling) * i64::from(self.request.machines)
    }

    fn label(&self, slot: slotwright::platform::SlotId) -> &Name {
        self.planner.machine().platform().slot(slot).label()
    }
}
