//! Carries orders out, as hands would. It knows of populations, bags and steps, and nothing of how an order is made.

use std::collections::BTreeMap;

use serde::Serialize;
use thiserror::Error;

use crate::population::{Fitted, Occupant, Population};
use crate::unit::Name;
use crate::work_order::{Action, HaltAt, OrderLine, PutDown, Step, Supply, WorkOrder, WorkState};

/// Why a step cannot be done.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("step {step} at slot {slot}: {problem}")]
#[non_exhaustive]
pub struct SimulationError {
    /// Which step, from 1.
    pub step: usize,
    /// Its slot.
    pub slot: Name,
    /// What is wrong.
    pub problem: SimulationProblem,
}

/// What stands in the way of a step.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SimulationProblem {
    /// The slot holds something, and something is to be put in.
    #[error("it holds {holds}, and something is to be put in")]
    SlotIsFull {
        /// What it holds.
        holds: Box<Occupant>,
    },
    /// The slot is empty, and something is to be taken out.
    #[error("it is empty, and something is to be taken out")]
    SlotIsEmpty,
    /// The slot holds something else than the step names.
    #[error("it holds {holds}, and not what the step names")]
    HoldsElse {
        /// What it holds.
        holds: Box<Occupant>,
    },
    /// A bag holds a module already.
    #[error("the bag of {bag} holds a module already")]
    BagIsFull {
        /// Its label.
        bag: Name,
    },
    /// A bag is empty.
    #[error("the bag of {bag} is empty")]
    BagIsEmpty {
        /// Its label.
        bag: Name,
    },
    /// A bag holds another module than the step names.
    #[error("the bag of {bag} holds {holds}, and not what the step names")]
    BagHoldsElse {
        /// Its label.
        bag: Name,
        /// The module in it.
        holds: Box<Occupant>,
    },
    /// A module is put down where it does not belong.
    #[error("its module belongs elsewhere than where the step puts it")]
    WrongPlace,
    /// No such module is left of what was brought.
    #[error("no such module is left of what was brought")]
    SupplyUsedUp,
    /// No blank is left.
    #[error("no blank is left")]
    NoBlank,
    /// Nothing is put in from among what is bad.
    #[error("a module is to be put in that was found bad")]
    FromBad,
    /// What is to be done is not known.
    #[error("what is to be done is not known: {action}")]
    UnknownAction {
        /// Its name.
        action: Name,
    },
}

impl WorkState {
    /// Before the work.
    pub(crate) fn before(population: &Population, supplies: &[Supply], blanks: usize) -> Self {
        let home = |(slot, _): (&Name, &Fitted)| (slot.clone(), PutDown::Bag { slot: slot.clone() });
        Self {
            homes: population.modules().map(home).collect(),
            slots: population.clone(),
            bags: BTreeMap::new(),
            supplies: supplies.to_vec(),
            blanks,
            bad: Vec::new(),
        }
    }

    /// Does the steps among some lines.
    ///
    /// # Errors
    /// The first step that cannot be done.
    pub(crate) fn carry_out<'l>(
        &mut self,
        lines: impl IntoIterator<Item = &'l OrderLine>,
    ) -> Result<(), SimulationError> {
        for (index, step) in lines.into_iter().filter_map(OrderLine::step).enumerate() {
            let place = |problem| SimulationError { step: index + 1, slot: step.slot.clone(), problem };
            self.step(step).map_err(place)?;
        }
        Ok(())
    }

    fn step(&mut self, step: &Step) -> Result<(), SimulationProblem> {
        match &step.action {
            Action::TakeOut { module, to } => self.take_out(&step.slot, module, to),
            Action::PutIn { module, from } => {
                self.is_free(&step.slot)?;
                self.pick_up(module, from)?;
                self.homes.insert(step.slot.clone(), from.clone());
                self.slots.put(step.slot.clone(), Occupant::Module(module.clone()));
                Ok(())
            }
            Action::TakeOutBlank => match self.slots.take(step.slot.as_str()) {
                Some(Occupant::Blank) => {
                    self.blanks += 1;
                    Ok(())
                }
                Some(holds) => Err(SimulationProblem::HoldsElse { holds: Box::new(holds) }),
                None => Err(SimulationProblem::SlotIsEmpty),
            },
            Action::PutInBlank => {
                self.is_free(&step.slot)?;
                self.blanks = self.blanks.checked_sub(1).ok_or(SimulationProblem::NoBlank)?;
                self.slots.put(step.slot.clone(), Occupant::Blank);
                Ok(())
            }
            Action::Other(action) => Err(SimulationProblem::UnknownAction { action: action.clone() }),
        }
    }

    fn is_free(&self, slot: &Name) -> Result<(), SimulationProblem> {
        match self.slots.get(slot.as_str()) {
            None => Ok(()),
            Some(holds) => Err(SimulationProblem::SlotIsFull { holds: Box::new(holds.clone()) }),
        }
    }

    fn take_out(&mut self, slot: &Name, module: &Fitted, to: &PutDown) -> Result<(), SimulationProblem> {
        let holds = self.slots.take(slot.as_str()).ok_or(SimulationProblem::SlotIsEmpty)?;
        let Occupant::Module(held) = holds else {
            return Err(SimulationProblem::HoldsElse { holds: Box::new(holds) });
        };
        if held != *module {
            return Err(SimulationProblem::HoldsElse { holds: Box::new(Occupant::Module(held)) });
        }
        let home = self.homes.remove(slot);
        if *to == PutDown::Bad {
            self.bad.push(held);
            return Ok(());
        }
        if home.as_ref() != Some(to) {
            return Err(SimulationProblem::WrongPlace);
        }
        match to {
            PutDown::Bag { slot: bag } => match self.bags.insert(bag.clone(), held) {
                Some(_) => Err(SimulationProblem::BagIsFull { bag: bag.clone() }),
                None => Ok(()),
            },
            PutDown::Supply { source } => {
                let is_it = |supply: &&mut Supply| supply.is_of(source, &held);
                let supply = self.supplies.iter_mut().find(is_it).ok_or(SimulationProblem::WrongPlace)?;
                supply.count += 1;
                Ok(())
            }
            PutDown::Bad | PutDown::Other(_) => Err(SimulationProblem::WrongPlace),
        }
    }

    fn pick_up(&mut self, module: &Fitted, from: &PutDown) -> Result<(), SimulationProblem> {
        match from {
            PutDown::Bag { slot: bag } => match self.bags.remove(bag) {
                None => Err(SimulationProblem::BagIsEmpty { bag: bag.clone() }),
                Some(held) if held == *module => Ok(()),
                Some(held) => {
                    Err(SimulationProblem::BagHoldsElse { bag: bag.clone(), holds: Box::new(Occupant::Module(held)) })
                }
            },
            PutDown::Supply { source } => {
                let is_it = |supply: &&mut Supply| supply.is_of(source, module) && supply.count > 0;
                let supply = self.supplies.iter_mut().find(is_it).ok_or(SimulationProblem::SupplyUsedUp)?;
                supply.count -= 1;
                Ok(())
            }
            PutDown::Bad => Err(SimulationProblem::FromBad),
            PutDown::Other(_) => Err(SimulationProblem::WrongPlace),
        }
    }
}

impl Supply {
    /// Whether a module is of these.
    fn is_of(&self, source: &Option<crate::purchase::ModuleSource>, fitted: &Fitted) -> bool {
        self.source == *source
            && self.module == fitted.module
            && self.individual == fitted.individual
            && fitted.fault.is_none()
    }
}

impl WorkOrder {
    /// Carries the order out, step by step, on what is in a machine, and gives what is there then.
    ///
    /// # Errors
    /// The first step that cannot be done: a module into a slot that holds something, out of an empty slot, not the one that the step
    /// names, out of an empty bag, more than was brought.
    pub fn simulate(&self, before: &Population) -> Result<Population, SimulationError> {
        let mut state = WorkState::before(before, &self.supplies, self.blanks_to_bring);
        state.carry_out(&self.lines)?;
        Ok(state.slots)
    }

    /// Where everything is at a halt; `None` where the order has no such halt.
    ///
    /// # Errors
    /// The first step before it that cannot be done: never in an order that a planner made.
    pub fn state_at(&self, halt: &HaltAt) -> Result<Option<WorkState>, SimulationError> {
        let is_it = |line: &OrderLine| line.halt().is_some_and(|found| found.at == *halt);
        let Some(end) = self.lines.iter().position(is_it) else { return Ok(None) };
        let mut state = WorkState::before(&self.before, &self.supplies, self.blanks_to_bring);
        state.carry_out(self.lines.iter().take(end))?;
        Ok(Some(state))
    }

    /// Where everything is after so many steps, and the halt reached last; `None` where the order has fewer steps, or nothing to do.
    ///
    /// # Errors
    /// The first step before it that cannot be done: never in an order that a planner made.
    pub fn state_after(&self, steps: usize) -> Result<Option<(HaltAt, WorkState)>, SimulationError> {
        let places = self.lines.iter().enumerate().filter(|(_, line)| line.step().is_some()).map(|(place, _)| place);
        // after no step, work has come to the first one
        let end = match steps.checked_sub(1) {
            None => places.clone().next(),
            Some(last) => places.clone().nth(last).map(|place| place + 1),
        };
        let Some(end) = end else { return Ok(None) };
        let Some(halt) = self.lines.iter().take(end).filter_map(OrderLine::halt).next_back() else { return Ok(None) };
        let mut state = WorkState::before(&self.before, &self.supplies, self.blanks_to_bring);
        state.carry_out(self.lines.iter().take(end))?;
        Ok(Some((halt.at.clone(), state)))
    }
}
