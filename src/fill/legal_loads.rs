//! Every load that a channel may carry, and which slots stay free beside it.

use std::rc::Rc;

use crate::fill::load_facts::{LoadCode, LoadFacts};
use crate::fill::slot_model::Contents;
use crate::fill::{ChannelIx, ClassId, PlaceId, SlotModel};
use crate::search::{Budget, StopReason, wide};

/// Steps of work that judging one load comes to.
const ONE_LOAD: u64 = 500;

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
