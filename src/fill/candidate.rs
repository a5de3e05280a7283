//! A placing that is given as a whole, held against the rules directly: no search.

use std::cell::OnceCell;

use crate::figure::{RunningRate, deciding, usable};
use crate::fill::demand::exceeds;
use crate::fill::legal_loads::free_slots;
use crate::fill::level::level_of;
use crate::fill::rows::{Row, RowGroup, RowSlot, RowsInForce, sizes_of};
use crate::fill::slot_model::Contents;
use crate::fill::target::{Speed, Target};
use crate::fill::{ClassId, Demand, KindIx, Level, PlaceId, Placed, PresentGroup, Rank, SlotModel, SocketIx, Usable};
use crate::platform::{ChannelId, TwoSizes};
use crate::population::{ChannelLoad, Layout, ModuleSite};
use crate::search::{Budget, StopReason, Table};

/// Steps of work that holding a whole layout against the rules comes to.
pub(crate) const WHOLE_CHECK: u64 = 8_000;

/// Where every module of a demand is pinned: what then sits in each place.
pub(crate) fn settled(model: &SlotModel<'_>, demand: &Demand) -> Option<Contents> {
    let total = demand.counts.iter().try_fold(0_usize, |sum, &(_, count)| sum.checked_add(count))?;
    let pins = demand.pinned.iter().filter(|(_, class)| class.is_some());
    if total == 0 || pins.count() != total {
        return None;
    }
    let mut at = Table::filled(None, model.slots.len());
    for &(place, class) in &demand.pinned {
        *at.get_mut(place)? = class;
    }
    Some(at)
}

/// The modules of a demand that are not yet in a slot.
struct Left(Vec<(ClassId, usize)>);

impl Left {
    /// Takes a module of the class that is wanted; of the first of which there is one, where any will do.
    fn take(&mut self, wanted: Option<ClassId>) -> Option<ClassId> {
        let suits = |class: ClassId| wanted.is_none_or(|wanted| wanted == class);
        let (class, count) = self.0.iter_mut().find(|(class, count)| *count > 0 && suits(*class))?;
        *count -= 1;
        Some(*class)
    }
}

/// The modules of a demand in fill order, those of highest priority first, whatever the rules say; and how many find no
/// slot.
pub(crate) fn by_turn(model: &SlotModel<'_>, demand: &Demand) -> (Contents, usize) {
    let mut at = Table::filled(None, model.slots.len());
    let mut left = Left(demand.counts.clone());
    let priority = model.machine.platform().description().fill_priority;
    left.0.sort_by(|a, b| match (model.classes.get(a.0), model.classes.get(b.0)) {
        (Some(x), Some(y)) => priority.compare(x, y).then_with(|| x.cmp(y)),
        _ => a.cmp(b),
    });
    for &(place, class) in &demand.pinned {
        if let (Some(content), Some(class)) = (at.get_mut(place), class) {
            *content = left.take(Some(class));
        }
    }
    for (place, content) in at.iter_mut() {
        if !demand.is_pinned(place) {
            *content = left.take(None);
        }
    }
    // as many as can be counted; none of the rest finds a slot either
    (at, left.0.iter().fold(0, |sum, &(_, count)| sum.saturating_add(count)))
}

/// What a placing is worth; `None` where the rules refuse it, or it is not what is asked for.
pub(crate) fn judge(
    model: &SlotModel<'_>,
    errors: &SlotModel<'_>,
    demand: &Demand,
    at: Contents,
    budget: &mut Budget<'_>,
) -> Result<Option<Placed>, StopReason> {
    budget.spend()?;
    budget.work(WHOLE_CHECK)?;
    let layout = model.layout(&at);
    let known = OnceCell::new();
    let running = known.get_or_init(|| RunningRate::of(&layout));
    let (rate, bandwidth) = (running.rate(), deciding(&layout, running));
    let least = demand.least_level.unwrap_or(Level::NO_RATE);
    let too_slow = level_of(model.machine, rate) < least || demand.least_swept.is_some_and(|least| bandwidth.1 < least);
    if too_slow
        || !holds_what_is_asked(model, demand, &layout)
        || !model.in_force.allows_all(&layout, &known, model.before.as_ref())
    {
        return Ok(None);
    }
    let free = free_slots(errors, &at, budget)?.len();
    let lost = at.values().iter().filter(|class| class.is_none()).count() - free;
    let moves = demand.moves(|group| stays(demand, &at, group));
    if exceeds(lost, demand.most_lost) || exceeds(moves, demand.most_moves) {
        return Ok(None);
    }
    let target = Target { moves, bare: bare(model, &at), speed: Speed::ZERO, spread: spread(model, &at), lost };
    let outside_rows = model.rows.groups.iter().any(|group| breaks_rows(model, group, &at));
    let kinds: Table<KindIx, ClassId> = demand.kinds_by_priority(model).into_iter().map(|(class, _)| class).collect();
    let ranks = Rank::of_each(&at, &kinds);
    Ok(Some(Placed { at, rate, bandwidth, target, ranks, moves_first: demand.moves_first, outside_rows }))
}

/// Whether the capacities are what is asked for.
fn holds_what_is_asked(model: &SlotModel<'_>, demand: &Demand, layout: &Layout<'_>) -> bool {
    let mode = model.machine.mode_description();
    let held = || layout.channels().map(|load| usable::unspared(&load, mode));
    let Usable(least, most) = demand.usable;
    let enough = held().try_fold(0_u64, u64::checked_add).is_some_and(|all| (least..=most).contains(&all));
    let all_of = |load: ChannelLoad<'_>| {
        load.modules().filter(ModuleSite::is_live).map(|site| site.module.capacity().mib()).sum::<u64>()
    };
    // a channel that takes no memory holds nothing, evenly or not
    let is_even = |even: u64| {
        let channels: Vec<ChannelId> = model.channels_with_memory().map(|channel| channel.id).collect();
        layout.channels().filter(|load| channels.contains(&load.id())).all(|load| all_of(load) == even)
    };
    let even = demand.even.is_none_or(is_even);
    enough && even
}

/// How many modules of a group of present ones stay in their places.
fn stays(demand: &Demand, at: &Contents, group: PresentGroup) -> usize {
    let stays = |(place, class): (PlaceId, &Option<ClassId>)| {
        let present = demand.present_at(place).filter(|present| present.group == group);
        present.is_some_and(|present| *class == Some(present.class))
    };
    at.iter().filter(|&content| stays(content)).count()
}

/// How many processors have no memory.
pub(crate) fn bare(model: &SlotModel<'_>, at: &Contents) -> usize {
    let mut has_some: Table<SocketIx, bool> = Table::filled(false, model.sockets.len());
    for (slot, class) in model.slots.values().iter().zip(at.values()) {
        has_some.get_mut(slot.socket).into_iter().for_each(|some| *some |= class.is_some());
    }
    has_some.values().iter().filter(|&&some| !some).count()
}

/// The largest difference between processors, in weighted MiB.
pub(crate) fn spread(model: &SlotModel<'_>, at: &Contents) -> u64 {
    let mut held: Table<SocketIx, u64> = Table::filled(0, model.sockets.len());
    for (slot, class) in model.slots.values().iter().zip(at.values()) {
        if let (Some(class), Some(sum)) = (*class, held.get_mut(slot.socket)) {
            *sum += model.capacity_of(class);
        }
    }
    // a processor without live slots is not compared
    let compared = held.values().iter().zip(model.sockets.values()).filter(|(_, socket)| socket.weight > 0);
    // clamped as the search does it
    let weighted = compared.map(|(held, socket)| held.saturating_mul(socket.weight));
    match (weighted.clone().min(), weighted.max()) {
        (Some(least), Some(most)) => most - least,
        _ => 0,
    }
}

/// Whether there are rows for the modules of a group's processors, and none is followed.
pub(crate) fn breaks_rows(model: &SlotModel<'_>, group: &RowGroup, at: &Contents) -> bool {
    let (count, sizes) = modules_of(model, group, at);
    RowsInForce::All.speak_of(group, count, sizes) && followed(model, group, at).is_none()
}

/// The first row for the modules of a group's processors that is followed.
pub(crate) fn followed<'m>(model: &SlotModel<'_>, group: &'m RowGroup, at: &Contents) -> Option<&'m Row> {
    let (count, sizes) = modules_of(model, group, at);
    let is_kept = |slot: &RowSlot| {
        let module = at.get(slot.place).copied().flatten().and_then(|class| model.classes.get(class));
        module.is_some_and(|module| slot.suits(module, sizes))
    };
    group.rows.iter().find(|row| row.speaks_of(count, sizes) && row.slots.iter().all(is_kept))
}

/// How many modules a group's processors have, and of which two sizes, if just two.
fn modules_of(model: &SlotModel<'_>, group: &RowGroup, at: &Contents) -> (usize, Option<TwoSizes>) {
    let own = |place: PlaceId| model.slots.get(place).is_some_and(|slot| group.sockets.contains(&slot.socket));
    let classes = at.iter().filter(|&(place, _)| own(place)).filter_map(|(_, class)| *class);
    (classes.clone().count(), sizes_of(model, classes))
}

#[cfg(test)]
mod tests {
    use itertools::Itertools;

    use super::*;
    use crate::fill::place;
    use crate::finding::Severity;
    use crate::machine::Machine;
    use crate::platform::PlatformOption;
    use crate::rule::RuleBook;
    use crate::search::Index;
    use crate::testing;

    /// Holds every filling of a machine by one pinned class and one that is placed against a demand which only it can
    /// meet. How many are legal, and how many are not.
    fn compare(machine: &Machine) -> (usize, usize) {
        let (plain, quad) = (testing::plain(), testing::quad());
        let rules = RuleBook::standard();
        let fixed = Layout::empty(machine);
        let model = SlotModel::new(machine, &rules, Severity::Error, vec![&plain, &quad], fixed);
        let [pinned, placed] = [ClassId::of(0), ClassId::of(1)];
        let contents = [None, Some(pinned), Some(placed)];
        let (mut legal, mut illegal) = (0, 0);
        let fillings = model.slots.ids().map(|_| contents).multi_cartesian_product();
        for at in fillings.map(|at| at.into_iter().collect::<Contents>()) {
            let count = |class| at.values().iter().filter(|&&content| content == Some(class)).count();
            let pins = at.iter().filter(|(_, content)| **content != Some(placed));
            let demand = Demand {
                counts: vec![(pinned, count(pinned)), (placed, count(placed))],
                pinned: pins.map(|(place, &content)| (place, content)).collect(),
                ..Demand::default()
            };
            let mut budget = Budget::new(100_000, None);
            let judged = judge(&model, &model, &demand, at.clone(), &mut budget).unwrap();
            let searched = place(&model, &model, &demand, &mut budget).unwrap();
            if let (Some(judged), Some(searched)) = (&judged, &searched) {
                // slots that every candidate loses are not counted in a search
                assert!([0, judged.target.lost].contains(&searched.target.lost), "{at:?}");
            }
            // a search aims at a speed, of which a candidate that is given says nothing
            let target = |target: Target| Target { speed: Speed::ZERO, lost: 0, ..target };
            let comparable = |placed: Placed| Placed { target: target(placed.target), ..placed };
            let (judged, searched) = (judged.map(comparable), searched.map(comparable));
            assert_eq!(judged, searched, "{at:?}");
            *(if judged.is_some() { &mut legal } else { &mut illegal }) += 1;
        }
        (legal, illegal)
    }

    #[test]
    fn judging_a_candidate_agrees_with_searching_for_it() {
        for (sockets, channels, slots) in [(1, 2, 2), (2, 1, 2), (2, 2, 1), (1, 1, 3)] {
            let machine = testing::machine(testing::board_of(sockets, channels, slots), testing::processor());
            let (legal, illegal) = compare(&machine);
            assert!(legal > 3 && illegal > 0, "{sockets}x{channels}x{slots}: {legal} {illegal}");
        }
        // of three processors one has no slot that can be used
        let mut board = testing::board_of(3, 1, 2);
        let slots = ["3A1", "3A2"].map(testing::name).to_vec();
        board.options.push(PlatformOption { masks: slots, ..testing::mask(&board, "riser", 0) });
        let processor = testing::processor().build().unwrap();
        let fitted = ["1", "2", "3"].iter().fold(Machine::builder(board.build().unwrap()), |machine, socket| {
            machine.processor(socket, processor.clone())
        });
        compare(&fitted.option("riser").build().unwrap());
    }

    #[test]
    fn modules_by_turn_leave_pinned_places_alone() {
        let machine = testing::machine(testing::board_of(1, 1, 3), testing::processor());
        let (plain, rules) = (testing::plain(), RuleBook::standard());
        let model = SlotModel::new(&machine, &rules, Severity::Error, vec![&plain], Layout::empty(&machine));
        let pinned = vec![(PlaceId::of(0), None)];
        let demand = Demand { counts: vec![(ClassId::ONLY, 3)], pinned, ..Demand::default() };
        let (at, left_over) = by_turn(&model, &demand);
        assert_eq!(at.values(), [None, Some(ClassId::ONLY), Some(ClassId::ONLY)]);
        assert_eq!(left_over, 1);
    }
}
