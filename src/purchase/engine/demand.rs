//! What a candidate asks of placing.

use crate::fill::{ClassId, Demand, PlaceId, Present, PresentGroup, ToMatch, step_under};
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::search::{Candidate, Found, Search};
use crate::search::Table;
use crate::unit::Capacity;

impl Search<'_, '_> {
    /// What the places of a candidate of this cost must come up to, so that it is not behind the best plan so far.
    fn to_match(&self, candidate: &Candidate<'_>, least: Amount) -> Option<ToMatch> {
        let aimed = self.aim.as_ref().and_then(|aim| {
            let ideal = aim.ideals.iter().find(|ideal| ideal.is_of(&self.sizes(candidate.counts)))?;
            let bandwidth = ideal.bandwidth(self.hoped_rate(aim.level)?);
            Some(ToMatch { bare: 0, level: aim.level, spread: ideal.spread, bandwidth: (bandwidth, bandwidth) })
        });
        if aimed.is_some() {
            return aimed;
        }
        // one that leaves everything as it is comes before others of its cost
        let present = self.classes().present() - self.classes().faulty();
        let may_stay = candidate.kept() == present && candidate.modules() == present;
        let is_matched = |best: &&Found<'_>| {
            let key = &best.key;
            let comes_first = self.needs.quality_first || (key.cost == least && !(key.touched && may_stay));
            comes_first && !key.outside_rows
        };
        let key = &self.best.as_ref().filter(is_matched)?.key;
        let level = key.rate.0.map(|rate| step_under(self.model().machine, Some(rate)))?;
        Some(ToMatch { bare: key.bare, level, spread: key.spread, bandwidth: key.bandwidth.0 })
    }

    /// How many moves a candidate of this cost without them may have and still not be beaten; no limit where
    /// moves cost nothing.
    fn most_moves(&self, least: Amount) -> Option<usize> {
        let each = self.classes().labour.of(2).total();
        let best = self.best.as_ref().map(|best| best.key.cost).filter(|_| !self.needs.quality_first);
        let most = best.into_iter().chain(self.needs.budget).min()?;
        usize::try_from((most - least).checked_div(each)?).ok()
    }

    /// The same numbers of the classes that are placed as one.
    pub(crate) fn as_placed(&self, counts: &[(ClassId, usize)]) -> Vec<(ClassId, usize)> {
        let twin = |class: ClassId| self.classes().all.get(class).map_or(class, |entry| entry.twin);
        let mut placed: Vec<(ClassId, usize)> = Vec::new();
        for &(class, count) in counts {
            let twin = twin(class);
            match placed.iter_mut().find(|(known, _)| *known == twin) {
                Some((_, sum)) => *sum += count,
                None => placed.push((twin, count)),
            }
        }
        placed
    }

    /// What is to be placed for a candidate of this cost without moves, of which so many empty slots may be
    /// lost.
    pub(crate) fn demand(&self, candidate: &Candidate<'_>, least: Amount, spare: usize) -> Demand {
        let counts = self.as_placed(candidate.counts);
        let mut present = Table::filled(None, self.model().slots.len());
        let mut used_of: Table<PresentGroup, usize> = Table::default();
        // present modules that are all used make one group; of any other class only so many are used
        let all_used = used_of.push(0);
        let mut pinned: Vec<(PlaceId, Option<ClassId>)> =
            self.context.kept_empty.iter().map(|&place| (place, None)).collect();
        for (id, class) in self.classes().all.iter() {
            let Some(&used) = candidate.used.get(id).filter(|&&used| used > 0) else { continue };
            let group = if used == class.present.len() { all_used } else { used_of.push(0) };
            used_of.get_mut(group).into_iter().for_each(|sum| *sum += used);
            for unit in class.present.iter() {
                let Some(place) = unit.place else { continue };
                let here = Some(Present { class: class.twin, group });
                present.get_mut(place).into_iter().for_each(|entry| *entry = here);
                if unit.pinned {
                    pinned.push((place, Some(class.twin)));
                }
            }
        }
        Demand {
            counts,
            present,
            used: used_of,
            moves_first: self.classes().labour.each > 0 && !self.needs.quality_first,
            quality_first: self.needs.quality_first,
            least_level: self.floor(),
            to_match: self.to_match(candidate, least),
            least_swept: self.needs.bandwidth,
            usable: self.bounds.unspared,
            any_will_do: false,
            even: self.needs.even.map(Capacity::mib),
            most_lost: Some(spare),
            most_moves: self.most_moves(least),
            pinned,
        }
    }
}
