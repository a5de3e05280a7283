//! What is left when modules fail.

use std::collections::BTreeSet;

use crate::assess::{Assessment, Planner};
use crate::platform::{MappedOut, SlotId};
use crate::population::{Fault, Occupant, Population, PopulationError};
use crate::purchase::PlanRequest;
use crate::stated::Schema;
use crate::unit::Name;
use crate::work_order::{SlotStandIns, Without, WithoutAnswer, WithoutError, WithoutNote, WithoutWay, evened};

impl Planner<'_> {
    /// What is left when the modules of some slots fail: left where they are, taken out, with another brought forward, with partners
    /// taken out for evenness.
    ///
    /// # Errors
    /// Slots that the board does not have, and slots without a module.
    pub fn without(&self, population: &Population, slots: &[Name]) -> Result<WithoutAnswer, WithoutError> {
        let platform = self.machine().platform();
        let mut failing: Vec<SlotId> = Vec::new();
        for label in slots {
            let id = platform
                .slot_named(label.as_str())
                .ok_or_else(|| WithoutError::UnknownSlot { slot: label.clone(), allowed: platform.slot_labels() })?;
            match population.get(label.as_str()) {
                Some(Occupant::Module(_)) => failing.push(id),
                _ => return Err(WithoutError::NoModule { slot: label.clone() }),
            }
        }
        failing.sort_unstable();
        failing.dedup();
        let found = Failing { planner: self, population, slots: failing };
        let mut notes = Vec::new();
        let mut ways: Vec<Without> = Vec::new();
        ways.extend(found.mapped_out(&mut notes)?);
        let out = found.taken_out(&[])?;
        let forward = found.moved_forward()?.filter(|way| way.faults() < out.faults());
        let base = forward.clone().unwrap_or_else(|| out.clone());
        ways.push(out);
        ways.extend(forward);
        ways.extend(evened::evened(self, &base, &found.slots)?);
        ways.sort_by_key(|way| way.handlings);
        let slots = found.slots.iter().map(|&slot| platform.slot(slot).label().clone()).collect();
        Ok(WithoutAnswer { schema: Schema, slots, ways, notes, stand_ins: Vec::new() })
    }

    /// The same of what a request says is present, with what of its shelf and offers may take the place of each module.
    ///
    /// # Errors
    /// As [`Planner::without`] and [`Planner::stand_ins`].
    pub fn without_or_replaced(&self, request: &PlanRequest, slots: &[Name]) -> Result<WithoutAnswer, WithoutError> {
        let mut answer = self.without(&request.present.population, slots)?;
        for slot in &answer.slots {
            let (stand_ins, others) = self.stand_ins_and_others(request, slot.as_str())?;
            answer.stand_ins.push(SlotStandIns { slot: slot.clone(), stand_ins, others });
        }
        Ok(answer)
    }
}

/// Modules that fail.
struct Failing<'f, 'a> {
    planner: &'f Planner<'a>,
    population: &'f Population,
    slots: Vec<SlotId>,
}

impl Failing<'_, '_> {
    fn label(&self, slot: SlotId) -> Name {
        self.planner.machine().platform().slot(slot).label().clone()
    }

    fn way(&self, way: WithoutWay, population: Population, assessment: Assessment) -> Without {
        Without {
            way,
            population: population.by_facts(),
            mapped_out: Vec::new(),
            taken_out: Vec::new(),
            moved: Vec::new(),
            handlings: 0,
            usable_mib: assessment.figures.usable.total_mib,
            rate_mts: assessment.figures.running_rate.rate(),
            findings: assessment.findings,
            is_not_proved: false,
        }
    }

    /// The modules stay, and the firmware takes out of use what the board's maker says.
    fn mapped_out(&self, notes: &mut Vec<WithoutNote>) -> Result<Option<Without>, PopulationError> {
        let platform = self.planner.machine().platform();
        let hands = platform.description().hands.as_ref();
        let Some(mapped) = hands.and_then(|hands| hands.value.mapped_out) else {
            notes.push(WithoutNote::MappedOutNotDescribed);
            return Ok(None);
        };
        let mut population = self.population.clone();
        for &slot in &self.slots {
            if let Some(Occupant::Module(mut fitted)) = population.take(self.label(slot).as_str()) {
                fitted.fault = Some(Fault::Failed);
                population.put(self.label(slot), Occupant::Module(fitted));
            }
        }
        let channels: BTreeSet<_> = self.slots.iter().map(|&slot| platform.slot(slot).channel).collect();
        let is_gone = |label: &Name| {
            let slot = platform.slot_named(label.as_str());
            slot.is_some_and(|slot| match mapped {
                MappedOut::Module => self.slots.contains(&slot),
                MappedOut::Channel => channels.contains(&platform.slot(slot).channel),
                MappedOut::All => true,
            })
        };
        let gone: Vec<Name> =
            population.modules().map(|(slot, _)| slot).filter(|slot| is_gone(slot)).cloned().collect();
        // what works and is out of use counts as if it were not there
        let mut counted = population.clone();
        for slot in gone.iter().filter(|slot| !self.slots.iter().any(|&failing| self.label(failing) == **slot)) {
            counted.take(slot.as_str());
        }
        if mapped == MappedOut::All {
            notes.push(WithoutNote::DoesNotStart);
        }
        let assessment = self.planner.assess(&counted)?;
        Ok(Some(Without { mapped_out: gone, ..self.way(WithoutWay::MappedOut, population, assessment) }))
    }

    /// The modules are taken out, and others move.
    fn taken_out(&self, moves: &[(SlotId, SlotId)]) -> Result<Without, PopulationError> {
        let mut population = self.population.clone();
        let taken_out: Vec<Name> = self.slots.iter().map(|&slot| self.label(slot)).collect();
        for slot in &taken_out {
            population.take(slot.as_str());
        }
        let lifted: Vec<_> = moves.iter().map(|&(from, to)| (to, population.take(self.label(from).as_str()))).collect();
        for (to, occupant) in lifted {
            occupant.map(|occupant| population.put(self.label(to), occupant));
        }
        let assessment = self.planner.assess(&population)?;
        let way = if moves.is_empty() { WithoutWay::TakenOut } else { WithoutWay::MovedForward };
        Ok(Without {
            handlings: taken_out.len() + 2 * moves.len(),
            moved: moves.iter().map(|&(from, to)| (self.label(from), self.label(to))).collect(),
            taken_out,
            ..self.way(way, population, assessment)
        })
    }

    /// In each channel in which a slot falls empty before one that is filled, modules come forward: the last one into the gap, or each by
    /// one place, whichever the rules like better.
    fn moved_forward(&self) -> Result<Option<Without>, PopulationError> {
        let moves = |shifts: bool| {
            let machine = self.planner.machine();
            let channels: BTreeSet<_> = self.slots.iter().map(|&slot| machine.platform().slot(slot).channel).collect();
            let mut moves = Vec::new();
            for channel in channels {
                let mut slots = machine.platform().channel(channel).slots.clone();
                slots.sort_by_key(|&slot| machine.platform().slot(slot).order());
                moves.extend(self.fills(&slots, shifts));
            }
            moves
        };
        let all = [moves(false), moves(true)].into_iter().filter(|moves| !moves.is_empty());
        let ways: Vec<Without> = all.map(|moves| self.taken_out(&moves)).collect::<Result<_, _>>()?;
        Ok(ways.into_iter().min_by_key(|way| (way.faults(), way.rank())))
    }

    /// How the gaps of one channel are filled, its slots by turn.
    fn fills(&self, slots: &[SlotId], shifts: bool) -> Vec<(SlotId, SlotId)> {
        let can_hold = |slot: &SlotId| {
            let device = matches!(self.population.get(self.label(*slot).as_str()), Some(Occupant::OtherDevice(_)));
            self.planner.machine().is_live(*slot) && !device
        };
        let holds = |slot: &SlotId| match self.population.get(self.label(*slot).as_str()) {
            Some(Occupant::Module(fitted)) => fitted.fault.is_none() && !self.slots.contains(slot),
            _ => false,
        };
        let places: Vec<SlotId> = slots.iter().copied().filter(can_hold).collect();
        let held: Vec<SlotId> = places.iter().copied().filter(holds).collect();
        let first = places.get(..held.len()).unwrap_or_default();
        if shifts {
            return held.iter().copied().zip(first.iter().copied()).filter(|(from, to)| from != to).collect();
        }
        let gaps = first.iter().copied().filter(|slot| !holds(slot));
        let beyond = held.iter().copied().filter(|slot| !first.contains(slot)).rev();
        beyond.zip(gaps).collect()
    }
}
