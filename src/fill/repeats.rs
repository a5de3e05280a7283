//! Where rules ask that channels, and processors, be alike: what of classes is then the same.

use itertools::Itertools;

use crate::fill::{ClassId, KindIx, SlotModel, SocketIx};
use crate::finding::FactValue;
use crate::rule::even;
use crate::search::{Index, Table};

/// Sorts of class such that all channels with memory hold the same sorts; of one sort all have one capacity.
#[derive(Debug)]
pub(crate) struct Repeats(Table<ClassId, usize>);

impl Repeats {
    /// The sorts of a model's classes; `None` where no rule in force asks that the populated channels of a processor be
    /// alike, or where what it asks is not that they hold the same sorts.
    pub(crate) fn of(model: &SlotModel<'_>) -> Option<Self> {
        let fact = model.in_force.like_channels()?;
        let facts: Vec<FactValue> = model.classes.values().iter().map(|module| fact(module)).collect();
        let sorts = sorts(&facts)?;
        let capacity = |class: usize| model.capacity_of(ClassId::of(class));
        let one_size =
            (0..sorts.len()).all(|class| sorts.get(class).is_some_and(|&first| capacity(first) == capacity(class)));
        let alike = |socket: SocketIx| {
            let wiring = model.wiring_of(socket);
            let has_rounds = wiring.iter().flatten().all(Option::is_some);
            has_rounds && wiring.iter().all_equal() && model.units_are_channels(socket)
        };
        (one_size && model.printed.is_empty() && model.sockets.ids().all(alike))
            .then(|| Self(sorts.into_iter().collect()))
    }

    /// The sort of a class.
    pub(crate) fn sort_of(&self, class: ClassId) -> Option<usize> {
        self.0.get(class).copied()
    }

    /// The sorts of a load's modules, sorted.
    pub(crate) fn sorts_of(&self, code: &[Option<ClassId>]) -> Vec<usize> {
        code.iter().flatten().filter_map(|&class| self.sort_of(class)).sorted().collect()
    }
}

/// How many sorts of class a plan may have, where all channels with memory must hold the same as far as they have the same
/// rounds.
#[derive(Debug)]
pub(crate) struct FewSorts {
    sorts: Table<ClassId, usize>,
    most: usize,
}

impl FewSorts {
    /// The bound of a model; `None` where there is none.
    pub(crate) fn of(model: &SlotModel<'_>) -> Option<Self> {
        let fact = model.in_force.like_channels()?;
        let facts: Vec<FactValue> = model.classes.values().iter().map(|module| fact(module)).collect();
        let sorts = sorts(&facts)?;
        let compares_all = |socket: SocketIx| {
            model.units_are_channels(socket) && model.wiring_of(socket).iter().flatten().all(Option::is_some)
        };
        if !model.printed.is_empty() || !model.sockets.ids().all(compares_all) {
            return None;
        }
        // what a channel holds its widest neighbour holds too
        let widest = model.channels.values().iter().map(|channel| channel.slots.len()).max()?;
        let kinds: Table<KindIx, ClassId> = model.classes.ids().collect();
        let own = |kind: KindIx| sorts.get(kind.get());
        let firsts = model.alike_to_sockets(&kinds);
        let are_alike = firsts.is_some_and(|firsts| firsts.iter().all(|(kind, &first)| own(kind) == own(first)));
        let most = widest.saturating_mul(if are_alike { 1 } else { model.sockets.len() });
        Some(Self { sorts: sorts.into_iter().collect(), most })
    }

    /// Whether a plan may have modules of these classes.
    pub(crate) fn allow(&self, counts: &[(ClassId, usize)]) -> bool {
        let sorts = counts.iter().filter(|&&(_, count)| count > 0).filter_map(|&(class, _)| self.sorts.get(class));
        counts.len() <= self.most || sorts.unique().count() <= self.most
    }
}

/// For each fact the first that it matches; `None` where two match a third and not each other.
fn sorts(facts: &[FactValue]) -> Option<Vec<usize>> {
    let matches = |a: &FactValue, b: &FactValue| a == b || even::unify(a, b).is_some();
    let first = |fact: &FactValue| facts.iter().position(|other| matches(other, fact)).unwrap_or(0);
    let firsts: Vec<usize> = facts.iter().map(first).collect();
    let mut pairs = facts.iter().zip(&firsts).tuple_combinations();
    pairs.all(|((a, first), (b, other))| matches(a, b) == (first == other)).then_some(firsts)
}

impl SlotModel<'_> {
    /// Whether rules ask, too, that processors with memory have the same loads in as many channels.
    pub(crate) fn sockets_repeat(&self) -> bool {
        let Some(repeats) = &self.repeats else { return false };
        let classes: Table<KindIx, ClassId> = self.classes.ids().collect();
        let Some(firsts) = self.alike_to_sockets(&classes) else { return false };
        // modules that processors may have alike are of one sort of load
        let own = |kind: KindIx| classes.get(kind).and_then(|&class| repeats.sort_of(class));
        firsts.iter().all(|(kind, &first)| own(kind) == own(first))
    }

    /// For each kind the first that the rule on processors does not tell from it; `None` where there is no such rule, or
    /// what it asks is not that each processor with memory have as many of each.
    pub(crate) fn alike_to_sockets(&self, kinds: &Table<KindIx, ClassId>) -> Option<Table<KindIx, KindIx>> {
        let like = self.in_force.like_processors()?;
        let wiring: Vec<_> = self.sockets.ids().map(|socket| self.wiring_of(socket)).collect();
        // a slot without a round is of no channel that is compared
        let has_rounds = wiring.iter().flatten().flatten().all(Option::is_some);
        if !has_rounds || !wiring.iter().all_equal() {
            return None;
        }
        let facts: Option<Vec<FactValue>> =
            kinds.values().iter().map(|&class| Some((like.fact)(self.classes.get(class)?))).collect();
        Some(sorts(&facts?)?.into_iter().map(KindIx::of).collect())
    }

    /// The rounds of the places of each of a processor's channels with some, sorted.
    pub(crate) fn wiring_of(&self, socket: SocketIx) -> Vec<Vec<Option<usize>>> {
        let channels = self.channels_of(socket).iter().filter(|&&channel| !self.places_of(channel).is_empty());
        channels.map(|&channel| self.rounds_of(channel).into_iter().sorted().collect()).sorted().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Severity;
    use crate::machine::Machine;
    use crate::population::Layout;
    use crate::rule::RuleBook;
    use crate::testing::{all_findings, board_of, machine, module, plain, population, processor, quad};

    /// Channels of two slots and of one: as many sorts as the wider ones hold are carried without a warning, and no more may be.
    #[test]
    fn unlike_channels_hold_as_many_sorts_as_the_widest() {
        let mut board = board_of(2, 2, 2);
        let controllers = board.sockets.iter_mut().flat_map(|socket| &mut socket.controllers);
        controllers.for_each(|controller| controller.channels[1].slots.truncate(1));
        let uneven = machine(board, processor());
        let (plain, quad, small) = (plain(), quad(), module("8GB 1Rx8 PC4-2400T-RD1-11"));
        let allowed = |machine: &Machine, threshold, classes: &[usize]| {
            let rules = RuleBook::standard();
            let modules = vec![&plain, &quad, &small];
            let model = SlotModel::new(machine, &rules, threshold, modules, Layout::empty(machine));
            let counts: Vec<(ClassId, usize)> = classes.iter().map(|&class| (ClassId::of(class), 2)).collect();
            model.few_sorts.as_ref().map(|few| few.allow(&counts))
        };
        assert_eq!(allowed(&uneven, Severity::Warning, &[0, 1]), Some(true));
        assert_eq!(allowed(&uneven, Severity::Warning, &[0, 1, 2]), Some(false));
        let both = ["1A1", "1B1", "2A1", "2B1"].map(|slot| (slot, &plain)).into_iter();
        let both: Vec<_> = both.chain(["1A2", "2A2"].map(|slot| (slot, &small))).collect();
        let warned = all_findings(&uneven, &population(&both));
        assert_eq!(warned.iter().filter(|finding| finding.severity >= Severity::Warning).count(), 0, "{warned:?}");
        // where unlike channels are allowed, and where all are alike, there is no such bound
        assert_eq!(allowed(&uneven, Severity::Error, &[0, 1, 2]), None);
        assert_eq!(allowed(&machine(board_of(2, 2, 2), processor()), Severity::Warning, &[0, 1, 2]), None);
    }
}
