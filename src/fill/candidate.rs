//! A placing that is given as a whole, held against the rules directly: no search.

use std::cell::OnceCell;

use crate::figure::{RunningRate, deciding, usable};
use crate::fill::rows::RowGroup;
use crate::fill::split::Target;
use crate::fill::{Demand, NO_RATE, Placed, SlotModel, Usable, free_slots, step_under};
use crate::population::Layout;
use crate::search::{Budget, StopReason};

/// Steps of work that holding a whole layout against the rules comes to.
pub(crate) const WHOLE_CHECK: u64 = 8_000;

/// Where every module of a demand is pinned: what then sits in each usable slot.
pub(crate) fn settled(model: &SlotModel<'_>, demand: &Demand) -> Option<Vec<Option<usize>>> {
    let total = demand.counts.iter().try_fold(0_usize, |sum, &(_, count)| sum.checked_add(count))?;
    let pins = demand.pinned.iter().filter(|(_, class)| class.is_some());
    if total == 0 || pins.count() != total {
        return None;
    }
    let mut at = vec![None; model.slots.len()];
    for &(slot, class) in &demand.pinned {
        *at.get_mut(slot)? = class;
    }
    Some(at)
}

/// The modules of a demand in fill order, those of highest priority first, whatever the rules say; and how many find no
/// slot.
pub(crate) fn by_turn(model: &SlotModel<'_>, demand: &Demand) -> (Vec<Option<usize>>, usize) {
    let mut at = vec![None; model.slots.len()];
    let mut left: Vec<(usize, usize)> = demand.counts.clone();
    let priority = model.machine.platform().fill_priority;
    left.sort_by(|a, b| match (model.classes.get(a.0), model.classes.get(b.0)) {
        (Some(x), Some(y)) => priority.compare(x, y).then_with(|| x.cmp(y)),
        _ => a.cmp(b),
    });
    let mut take = |wanted: Option<usize>| {
        let found = left.iter_mut().find(|(class, count)| *count > 0 && wanted.is_none_or(|wanted| wanted == *class));
        found.map(|(class, count)| {
            *count -= 1;
            *class
        })
    };
    for &(slot, class) in &demand.pinned {
        if let (Some(place), Some(class)) = (at.get_mut(slot), class) {
            *place = take(Some(class));
        }
    }
    for (slot, place) in at.iter_mut().enumerate() {
        if !demand.pinned.iter().any(|&(pinned, _)| pinned == slot) {
            *place = take(None);
        }
    }
    (at, left.iter().fold(0, |sum, &(_, count)| sum.saturating_add(count)))
}

/// What a placing is worth; `None` where the rules refuse it, or it is not what is asked for.
pub(crate) fn judge(
    model: &SlotModel<'_>,
    errors: &SlotModel<'_>,
    demand: &Demand,
    at: Vec<Option<usize>>,
    budget: &mut Budget<'_>,
) -> Result<Option<Placed>, StopReason> {
    budget.spend()?;
    budget.work(WHOLE_CHECK)?;
    let layout = model.layout(&at);
    let known = OnceCell::new();
    let running = known.get_or_init(|| RunningRate::of(&layout));
    let (rate, bandwidth) = (running.rate(), deciding(&layout, running));
    let level = rate.map_or(NO_RATE, |rate| step_under(model.machine, Some(rate)));
    let least = demand.least_level.unwrap_or(NO_RATE);
    let too_slow = level < least || demand.least_swept.is_some_and(|least| bandwidth.1 < least);
    if too_slow || !holds_what_is_asked(model, demand, &layout) || !model.in_force.allows_all(&layout, &known) {
        return Ok(None);
    }
    let free = free_slots(errors, &at, budget)?.len();
    let lost = at.iter().filter(|class| class.is_none()).count() - free;
    let moves = demand.moves((0..demand.used.len()).map(|group| stays(demand, &at, group)));
    let over = |number: usize, most: Option<usize>| most.is_some_and(|most| number > most);
    if over(lost, demand.most_lost) || over(moves, demand.most_moves) {
        return Ok(None);
    }
    let target = Target { moves, speed: (0, 0), spread: spread(model, &at), lost };
    let outside_rows = model.rows.groups.iter().any(|group| breaks_rows(model, group, &at));
    let ranks = ranks(model, demand, &at);
    Ok(Some(Placed { at, rate, bandwidth, target, ranks, moves_first: demand.moves_first, outside_rows }))
}

/// Whether the capacities are what is asked for.
fn holds_what_is_asked(model: &SlotModel<'_>, demand: &Demand, layout: &Layout<'_>) -> bool {
    let mode = model.machine.mode_description();
    let held = || layout.channels().map(|load| usable::unspared(&load, mode));
    let Usable(least, most) = demand.usable;
    let enough =
        held().try_fold(0_u64, |sum, held| sum.checked_add(held)).is_some_and(|all| (least..=most).contains(&all));
    let all_of = |load: crate::population::ChannelLoad<'_>| {
        load.modules().filter(|site| site.is_live()).map(|site| site.module.capacity().mib()).sum::<u64>()
    };
    // a channel without slots holds nothing, evenly or not
    let has_slots = |load: &crate::population::ChannelLoad<'_>| !load.channel().slots.is_empty();
    let even = demand.even.is_none_or(|even| layout.channels().filter(has_slots).all(|load| all_of(load) == even));
    enough && even
}

/// How many modules of a group of present ones stay in their slots.
fn stays(demand: &Demand, at: &[Option<usize>], group: usize) -> usize {
    let stays = |(slot, class): (usize, &Option<usize>)| {
        let present = demand.present_at(slot).filter(|present| present.group == group);
        present.is_some_and(|present| *class == Some(present.class))
    };
    at.iter().enumerate().filter(|&place| stays(place)).count()
}

/// The largest difference between processors, in weighted MiB.
fn spread(model: &SlotModel<'_>, at: &[Option<usize>]) -> u64 {
    let mut held = vec![0_u64; model.sockets.len()];
    for (slot, class) in model.slots.iter().zip(at) {
        let module = class.and_then(|class| model.classes.get(class));
        if let (Some(module), Some(sum)) = (module, held.get_mut(slot.socket)) {
            *sum += module.capacity().mib();
        }
    }
    // a processor without live slots is not compared
    let compared = held.iter().zip(&model.sockets).filter(|(_, socket)| socket.weight > 0);
    let weighted = compared.map(|(held, socket)| held.saturating_mul(socket.weight));
    match (weighted.clone().min(), weighted.max()) {
        (Some(least), Some(most)) => most - least,
        _ => 0,
    }
}

/// Whether there are rows for the modules of a group's processors, and none is followed.
fn breaks_rows(model: &SlotModel<'_>, group: &RowGroup, at: &[Option<usize>]) -> bool {
    let own = |slot: usize| model.slots.get(slot).is_some_and(|slot| group.sockets.contains(&slot.socket));
    let count = at.iter().enumerate().filter(|&(slot, class)| class.is_some() && own(slot)).count();
    let is_kept = |(slot, pattern): &(usize, Option<crate::processor::ModulePattern>)| {
        let module = at.get(*slot).copied().flatten().and_then(|class| model.classes.get(class));
        module.is_some_and(|module| pattern.as_ref().is_none_or(|pattern| pattern.matches(module) != Ok(false)))
    };
    let followed = group.rows.iter().any(|row| row.slots.len() == count && row.slots.iter().all(is_kept));
    group.counts.contains(&count) && !followed
}

/// Priority of what sits in each slot among the classes of a demand: lower comes first.
fn ranks(model: &SlotModel<'_>, demand: &Demand, at: &[Option<usize>]) -> Vec<usize> {
    let kinds = demand.kinds_by_priority(model);
    let rank = |class: &Option<usize>| {
        class.and_then(|class| kinds.iter().position(|&(kind, _)| kind == class)).unwrap_or(usize::MAX)
    };
    at.iter().map(rank).collect()
}
