//! Every load that a channel may carry, and which slots stay free beside it.

use std::rc::Rc;

use crate::fill::load_facts::{LoadCode, LoadFacts};
use crate::fill::slot_model::{Contents, ModelChannel};
use crate::fill::{ChannelIx, ClassId, PlaceId, SlotModel};
use crate::machine::SlotState;
use crate::search::{Budget, StopReason, wide};

/// Steps of work that judging one load comes to.
pub(crate) const ONE_LOAD: u64 = 500;

/// Every load of some classes that a channel may carry, whatever their numbers.
pub(crate) struct LegalLoads {
    pub(crate) loads: Vec<LegalLoad>,
    /// Whether every load loses the same number of slots.
    pub(crate) loses_alike: bool,
}

pub(crate) struct LegalLoad {
    pub(crate) code: LoadCode,
    pub(crate) facts: Rc<LoadFacts>,
    /// How many empty slots can no longer take a module of these classes.
    pub(crate) lost: usize,
}

impl LegalLoads {
    fn new(loads: Vec<(LoadCode, Rc<LoadFacts>)>) -> Self {
        let losses: Vec<usize> = loads
            .iter()
            .map(|(code, _)| {
                let fillable = |slot: usize| can_be_filled(code, loads.iter().map(|(other, _)| other), slot);
                let empty = code.iter().enumerate().filter(|(_, class)| class.is_none());
                empty.filter(|&(slot, _)| !fillable(slot)).count()
            })
            .collect();
        let loses_alike = losses.windows(2).all(|pair| pair.first() == pair.last());
        let loads =
            loads.into_iter().zip(losses).map(|((code, facts), lost)| LegalLoad { code, facts, lost }).collect();
        Self { loads, loses_alike }
    }

    /// Whether some load that keeps what `code` holds fills one of its slots, counted from the far end.
    fn can_fill(&self, code: &[Option<ClassId>], slot: usize) -> bool {
        can_be_filled(code, self.loads.iter().map(|load| &load.code), slot)
    }
}

fn can_be_filled<'l>(code: &[Option<ClassId>], mut loads: impl Iterator<Item = &'l LoadCode>, slot: usize) -> bool {
    let extends =
        |other: &[Option<ClassId>]| code.iter().zip(other).all(|(class, more)| class.is_none() || class == more);
    loads.any(|other| other.get(slot).is_some_and(Option::is_some) && extends(other))
}

impl SlotModel<'_> {
    /// Every load of these classes that a channel may carry.
    pub(crate) fn legal_loads(
        &self,
        channel: ChannelIx,
        classes: &[ClassId],
        budget: &mut Budget,
    ) -> Result<Rc<LegalLoads>, StopReason> {
        let shape = self.channels.get(channel).map(|channel| channel.shape);
        let known = self.legal.borrow();
        if let Some(known) = shape.and_then(|shape| known.get(shape)?.get(classes)) {
            return Ok(Rc::clone(known));
        }
        drop(known);
        let mut loads = Vec::new();
        for code in self.codes(channel, classes, budget)? {
            budget.work(ONE_LOAD)?;
            loads.extend(self.load(channel, &code).map(|facts| (code, facts)));
        }
        // each load is held against every other; what that comes to is clamped to what no budget has
        budget.work(wide(loads.len()).saturating_pow(2))?;
        let legal = Rc::new(LegalLoads::new(loads));
        let mut known = self.legal.borrow_mut();
        if let Some(known) = shape.and_then(|shape| known.get_mut(shape)) {
            known.insert(classes.to_vec(), Rc::clone(&legal));
        }
        Ok(legal)
    }

    /// Whether a channel takes memory at all: it has a usable slot, and none of its slots is closed or a module of the
    /// model's may be in it all the same. Where the first position of a channel is closed and modules must not sit behind
    /// an empty one, it takes none.
    pub(crate) fn takes_memory(&self, channel: ChannelIx) -> bool {
        let Some(entry) = self.channels.get(channel).filter(|entry| !entry.slots.is_empty()) else { return false };
        let slots = &self.machine.platform().channel(entry.id).slots;
        if !slots.iter().any(|&slot| matches!(self.machine.slot_state(slot), SlotState::Closed { .. })) {
            return true;
        }
        // a class has few ways into the slots of one channel
        let mut budget = Budget::new(u64::MAX, None);
        let mut takes = |class| match self.legal_loads(channel, &[class], &mut budget) {
            Ok(legal) => legal.loads.iter().any(|load| load.code.iter().any(Option::is_some)),
            Err(_) => true,
        };
        self.classes.ids().any(&mut takes)
    }

    /// The channels that take memory.
    pub(crate) fn channels_with_memory(&self) -> impl Iterator<Item = &ModelChannel> {
        self.channels.iter().filter(|&(channel, _)| self.takes_memory(channel)).map(|(_, entry)| entry)
    }

    /// Every way to put modules of these classes, or nothing, into the slots of a channel that take them.
    fn codes(&self, channel: ChannelIx, classes: &[ClassId], budget: &mut Budget) -> Result<Vec<LoadCode>, StopReason> {
        let mut codes: Vec<LoadCode> = vec![Vec::new()];
        for &place in self.places_of(channel) {
            let admitted = classes.iter().copied().filter(|&class| self.admits(place, class)).map(Some);
            let options: Vec<Option<ClassId>> = std::iter::once(None).chain(admitted).collect();
            budget.spend_many(wide(codes.len() * options.len()))?;
            let with = |code: &LoadCode, class: Option<ClassId>| code.iter().copied().chain([class]).collect();
            codes = codes.iter().flat_map(|code| options.iter().map(move |&class| with(code, class))).collect();
        }
        Ok(codes)
    }
}

/// The empty places that could still take a module of a class at hand without an error on its channel, once the
/// places before it are filled.
pub(crate) fn free_slots(
    errors: &SlotModel<'_>,
    at: &Contents,
    budget: &mut Budget,
) -> Result<Vec<PlaceId>, StopReason> {
    let mut classes: Vec<ClassId> = at.values().iter().copied().flatten().collect();
    classes.sort_unstable();
    classes.dedup();
    let mut free = Vec::new();
    for (channel, entry) in errors.channels.iter() {
        let legal = errors.legal_loads(channel, &classes, budget)?;
        let code: LoadCode = entry.slots.iter().map(|&place| at.get(place).copied().flatten()).collect();
        let empty = entry.slots.iter().enumerate().filter(|&(slot, _)| code.get(slot) == Some(&None));
        free.extend(empty.filter(|&(slot, _)| legal.can_fill(&code, slot)).map(|(_, &place)| place));
    }
    free.sort_unstable();
    Ok(free)
}

#[cfg(test)]
mod tests {
    use itertools::Itertools;

    use super::*;
    use crate::finding::Severity;
    use crate::population::{Content, Layout};
    use crate::rule::RuleBook;
    use crate::search::Index;
    use crate::testing;

    /// The loads of a channel that may be carried are those of which the rule book, asked of each alone, reports no
    /// error.
    #[test]
    fn legal_loads_are_those_that_the_rule_book_lets_pass() {
        let machine = testing::machine(testing::board_of(1, 1, 3), testing::processor());
        let (plain, quad) = (testing::plain(), testing::quad());
        let unlike = testing::module("32GB 2Rx4 PC4-2400T-LB2-11");
        // modules of unlike kinds are refused of the machine as a whole
        let rules = RuleBook::standard().without("kind-mix").unwrap();
        let classes = vec![&plain, &quad, &unlike];
        let model = SlotModel::new(&machine, &rules, Severity::Error, classes, Layout::empty(&machine));
        let ids: Vec<ClassId> = model.classes.ids().collect();
        let channel = ChannelIx::of(0);
        let legal = model.legal_loads(channel, &ids, &mut Budget::new(10_000, None)).unwrap();
        let legal: Vec<&LoadCode> = legal.loads.iter().map(|load| &load.code).collect();

        let contents: Vec<Option<ClassId>> = std::iter::once(None).chain(ids.into_iter().map(Some)).collect();
        let codes = (0..3).map(|_| contents.iter().copied()).multi_cartesian_product();
        let (mut passed, mut refused) = (0, 0);
        for code in codes.filter(|code| code.iter().any(Option::is_some)) {
            let mut layout = Layout::empty(&machine);
            for (&place, class) in model.places_of(channel).iter().zip(&code) {
                if let Some(class) = class {
                    layout.set(model.slots.get(place).unwrap().id, Content::Module(model.classes.get(*class).unwrap()));
                }
            }
            let errors = rules.check(&layout).into_iter().filter(|finding| finding.severity == Severity::Error);
            let errors: Vec<String> = errors.map(|finding| finding.code.to_string()).collect();
            assert_eq!(legal.contains(&&code), errors.is_empty(), "{code:?}: {errors:?}");
            *(if errors.is_empty() { &mut passed } else { &mut refused }) += 1;
        }
        assert!(passed > 5 && refused > 20, "{passed} {refused}");
    }

    /// A slot is lost where no legal load that keeps what is there fills it.
    #[test]
    fn slots_are_lost_where_no_legal_load_fills_them() {
        let code = |code: &[Option<usize>]| code.iter().map(|class| class.map(ClassId::of)).collect::<LoadCode>();
        let loads = [vec![None, None], vec![Some(0), None], vec![Some(1), None], vec![Some(0), Some(0)]];
        let loads: Vec<LoadCode> = loads.iter().map(|load| code(load)).collect();
        let lost = |load: &[Option<usize>]| {
            let load = code(load);
            (0..2).filter(|&slot| load[slot].is_none() && !can_be_filled(&load, loads.iter(), slot)).count()
        };
        assert_eq!([lost(&[None, None]), lost(&[Some(0), None]), lost(&[Some(1), None])], [0, 0, 1]);
    }
}
