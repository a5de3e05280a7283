//! What a candidate asks of placing.

use crate::fill::{ClassId, Demand, Level, PlaceId, Present, PresentGroup, step_under};
use crate::purchase::engine::solve::{Solver, by_class_id};
use crate::purchase::engine::stock::Amount;
use crate::search::{Index, Table};

impl Solver<'_, '_> {
    /// The level that a candidate of this cost must reach to come before the best one so far.
    fn level_to_match(&self, least: Amount) -> Option<Level> {
        let best = self.best.as_ref().filter(|best| best.key.cost == least && !best.key.outside_rows)?;
        best.key.rate.0.map(|rate| step_under(self.grid.machine, Some(rate)))
    }

    /// How many moves a candidate of this cost without them may have and still not be beaten; no limit where
    /// moves cost nothing.
    fn most_moves(&self, least: Amount) -> Option<usize> {
        let each = 2 * self.supply.labour * Amount::try_from(self.supply.machines).unwrap_or(1);
        let best = self.best.as_ref().map(|best| best.key.cost);
        let most = best.into_iter().chain(self.needs.budget).min()?;
        usize::try_from((most - least).checked_div(each)?).ok()
    }

    /// What is to be placed for a candidate of this cost without moves, of which so many empty slots may be
    /// lost.
    pub(crate) fn demand(&self, counts: &[(usize, usize)], used: &[usize], (least, spare): (Amount, usize)) -> Demand {
        let twin = |class: usize| self.supply.classes.get(class).map_or(class, |entry| entry.twin);
        let merged = |each: &mut dyn Iterator<Item = (usize, usize)>| {
            let mut sums: Vec<(usize, usize)> = Vec::new();
            for (class, count) in each {
                match sums.iter_mut().find(|(known, _)| *known == twin(class)) {
                    Some((_, sum)) => *sum += count,
                    None => sums.push((twin(class), count)),
                }
            }
            sums
        };
        let mut demand = Demand {
            counts: by_class_id(&merged(&mut counts.iter().copied())),
            present: Table::filled(None, self.grid.slots.len()),
            used: Table::filled(0, 1),
            moves_first: self.supply.labour > 0,
            least_level: self.floor().max(self.level_to_match(least)),
            least_swept: self.needs.bandwidth,
            usable: self.bounds.unspared,
            any_will_do: false,
            even: self.needs.even.map(crate::unit::Capacity::mib),
            most_lost: Some(spare),
            most_moves: self.most_moves(least),
            pinned: Vec::new(),
        };
        for (entry, &used) in self.supply.classes.iter().zip(used).filter(|&(_, &used)| used > 0) {
            // present modules that are all used make one group; of any other class only so many are used
            let group = if used == entry.present.len() { 0 } else { demand.used.len() };
            if group == demand.used.len() {
                demand.used.push(0);
            }
            let group = PresentGroup::of(group);
            demand.used.get_mut(group).into_iter().for_each(|sum| *sum += used);
            for unit in &entry.present {
                let Some(place) = unit.place else { continue };
                let (place, class) = (PlaceId::of(place), ClassId::of(entry.twin));
                let present = Some(Present { class, group });
                demand.present.get_mut(place).into_iter().for_each(|entry| *entry = present);
                if unit.pinned {
                    demand.pinned.push((place, Some(class)));
                }
            }
        }
        demand
    }
}
