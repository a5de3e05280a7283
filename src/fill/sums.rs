//! Whether numbers of modules can be shared out among processors at all, however well: by sums of sets of count vectors.

use std::rc::Rc;

use crate::fill::VectorIx;
use crate::fill::loads::Loads;
use crate::search::{Budget, Index, StateIx, StateSet, StopReason, wide};

/// Whether some state of each processor adds up to all modules of a demand. Processors that are alike share their set.
pub(crate) fn add_up(loads: &Loads, sockets: &[Rc<StateSet>], budget: &mut Budget<'_>) -> Result<bool, StopReason> {
    let (first, second) = sockets.split_at(sockets.len() / 2);
    let sums = Sums::new(loads, sockets.len() > 2);
    let right = sums.of(second, budget)?;
    let is_same = first.len() == second.len() && first.iter().zip(second).all(|(a, b)| Rc::ptr_eq(a, b));
    let left = if is_same { Rc::clone(&right) } else { sums.of(first, budget)? };
    budget.work(wide(left.iter().count()))?;
    let all = loads.states.everything().get();
    let is_rest = |share: StateIx| all.checked_sub(share.get()).is_some_and(|rest| right.contains(StateIx::of(rest)));
    Ok(left.iter().any(is_rest))
}

/// Sums of count vectors.
struct Sums<'l> {
    loads: &'l Loads,
    /// For each kind and number of it, the vectors that have room for so many; none where nothing is summed.
    room: Vec<Vec<StateSet>>,
}

impl<'l> Sums<'l> {
    fn new(loads: &'l Loads, sums: bool) -> Self {
        let room = |(kind, &most)| {
            let with = |number: usize| loads.states_that(|vector| loads.states.count(vector, kind) + number <= most);
            (0..=most).map(with).collect()
        };
        let room = if sums { loads.counts.iter().map(room).collect() } else { Vec::new() };
        Self { loads, room }
    }

    /// What some processors can take between them, as count vectors; no module, of none.
    fn of(&self, sockets: &[Rc<StateSet>], budget: &mut Budget<'_>) -> Result<Rc<StateSet>, StopReason> {
        let mut sums: Option<StateSet> = None;
        for states in sockets {
            let own = self.vectors_of(states);
            sums = Some(match sums {
                None => own,
                Some(sums) => self.sum(&sums, &own, budget)?,
            });
        }
        let nothing = || {
            let mut nothing = self.loads.states.no_states();
            nothing.insert(StateIx::of(0));
            nothing
        };
        Ok(Rc::new(sums.unwrap_or_else(nothing)))
    }

    /// The count vectors of some states, each as the state that counts nothing beside them.
    fn vectors_of(&self, states: &StateSet) -> StateSet {
        let mut vectors = self.loads.states.no_states();
        states.iter().for_each(|state| vectors.insert(StateIx::of(self.loads.states.vector_of(state).get())));
        vectors
    }

    fn sum(&self, all: &StateSet, own: &StateSet, budget: &mut Budget<'_>) -> Result<StateSet, StopReason> {
        let mut sum = self.loads.states.no_states();
        for share in own.iter() {
            budget.work(wide(self.loads.states.size() / 16))?;
            let mut from = all.clone();
            for (kind, rooms) in self.loads.counts.ids().zip(&self.room) {
                let number = self.loads.states.count(VectorIx::of(share.get()), kind);
                rooms.get(number).filter(|_| number > 0).into_iter().for_each(|room| from.keep(room));
            }
            sum.add_raised(&from, &from, share);
        }
        Ok(sum)
    }
}

#[cfg(test)]
mod tests {
    use itertools::Itertools;

    use super::*;
    use crate::fill::drive::Drive;
    use crate::fill::{ClassId, Demand, SlotModel};
    use crate::finding::Severity;
    use crate::population::Layout;
    use crate::rule::RuleBook;
    use crate::testing::{board_of, machine, plain, processor, quad};

    /// Sets of count vectors add up just where some choice of one from each does.
    #[test]
    fn what_adds_up_is_what_some_choice_adds_up_to() {
        let machine = machine(board_of(2, 2, 2), processor());
        let (plain, quad, rules) = (plain(), quad(), RuleBook::standard());
        let model = SlotModel::new(&machine, &rules, Severity::Error, vec![&plain, &quad], Layout::empty(&machine));
        let counts = vec![(ClassId::of(0), 5), (ClassId::of(1), 3)];
        let demand = Demand { counts, any_will_do: true, ..Demand::default() };
        let budget = &mut Budget::new(1_000_000, None);
        let loads = Loads::new(&model, &model, (&demand, Drive::Hoped), budget).unwrap().unwrap();
        let vectors: Vec<VectorIx> = loads.states.vectors().collect();
        assert_eq!(vectors.len(), 24);
        let (mut some, mut none) = (0, 0);
        for (seed, sockets) in (0..300_usize).cartesian_product(1..=4_usize) {
            let chosen = |socket: usize| {
                let is_in = |(at, _): &(usize, &VectorIx)| (at * 7 + seed * 31 + socket * 13 + seed * at) % 4 == 0;
                vectors.iter().enumerate().filter(is_in).map(|(_, vector)| *vector).collect::<Vec<_>>()
            };
            let chosen: Vec<Vec<VectorIx>> = (0..sockets).map(chosen).collect();
            let set = |vectors: &Vec<VectorIx>| {
                let mut set = loads.states.no_states();
                vectors.iter().for_each(|vector| set.insert(StateIx::of(vector.get())));
                Rc::new(set)
            };
            let sets: Vec<Rc<StateSet>> = chosen.iter().map(set).collect();
            let sums_up = |choice: Vec<&VectorIx>| {
                let sum = |kind| choice.iter().map(|vector| loads.states.count(**vector, kind)).sum::<usize>();
                loads.counts.iter().all(|(kind, &count)| sum(kind) == count)
            };
            let wanted = chosen.iter().multi_cartesian_product().any(sums_up);
            assert_eq!(add_up(&loads, &sets, budget).unwrap(), wanted, "{seed} {sockets}");
            *(if wanted { &mut some } else { &mut none }) += 1;
        }
        assert!(some > 100 && none > 100, "{some} {none}");
    }
}
