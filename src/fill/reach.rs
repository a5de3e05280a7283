//! What a processor's channels can take between them: sets of reachable states.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

use itertools::Itertools;

use crate::fill::choices::{Choices, OpenPlaces};
use crate::fill::common::{Common, in_common};
use crate::fill::exempt::{Exempt, ExemptLayouts};
use crate::fill::filters::{By, Filter, Filters, FiltersFor, LoadFilters};
use crate::fill::grow::{Growth, LoadsLeft, choices_of};
use crate::fill::loads::Loads;
use crate::fill::pace::{Held, Paces, Way};
use crate::fill::rates::LevelRate;
use crate::fill::reachable::{Narrowed, Origin, PacedBySocket, PacedStates, Reachable};
use crate::fill::rows::{Row, RowGroup, RowsInForce, sizes_of};
use crate::fill::sums::add_up;
use crate::fill::twins::twins;
use crate::fill::{ClassId, CommonIx, KindIx, Level, LikeGroup, SlotModel, SocketIx, WayIx};
use crate::platform::{Mode, TwoSizes};
use crate::rule::{CountBound, is_odd};
use crate::search::{Budget, Index, StateSet, StopReason, Table, wide};
use crate::stated::Scope;

/// What channels can take, given what each place may hold.
pub(crate) struct Reach<'m, 'a> {
    model: &'m SlotModel<'a>,
    loads: &'m Loads,
    paces: &'m Paces,
    rows: RowsInForce,
    /// An earlier processor whose channels carry the same loads.
    twins: Table<SocketIx, Option<SocketIx>>,
    filters: LoadFilters<'m>,
    /// How many channels of a processor could have memory at least, where an odd number of them is refused.
    openable: Table<SocketIx, Option<usize>>,
    exempt: &'m ExemptLayouts,
    /// The layout of several processors that is imposed, if one is.
    imposed: Option<&'m Exempt>,
    /// What processors with memory can have in common, where the rules ask that they be alike.
    commons: Option<Table<CommonIx, Common>>,
    /// States that the bounds on a processor's number of modules, and on unlike ones, allow; absent where there are
    /// none.
    countable: Option<StateSet>,
    /// Those that they allow of what was so before.
    countable_before: Option<StateSet>,
    /// Each two sizes of the demand's modules.
    pairs: Vec<TwoSizes>,
    /// Of processors with rows of their own: countable states of which no row speaks.
    unlisted: Table<SocketIx, Option<StateSet>>,
    /// The group of like channels of each channel of a processor, in order.
    groups: Table<SocketIx, Vec<Option<LikeGroup>>>,
    narrowed: Option<Vec<Narrowed>>,
    /// Whether states are looked at for every pace, and not for their best alone.
    every_pace: bool,
    /// What was last found of each processor: a step of a search decides places of one, and asks of all.
    found: RefCell<BTreeMap<(CommonIx, SocketIx), Found>>,
    /// The states in which no odd number of channels has memory, by the channels that could have and the modules in each that has.
    not_odd: RefCell<Vec<((usize, usize), Rc<StateSet>)>>,
    /// Nodes that one set costs.
    nodes: u64,
    /// Steps of work that one set costs: each load of each channel is a pass over a set.
    work: u64,
}

/// What is asked of all processors at once.
#[derive(Clone, Copy)]
struct Asked<'q> {
    index: CommonIx,
    open: &'q OpenPlaces,
    rates: &'q [LevelRate],
    common: Option<&'q Common>,
    only: Option<&'q Narrowed>,
}

/// What a processor can take, and what was asked of it.
struct Found {
    choices: Vec<Option<Choices>>,
    rates: Vec<LevelRate>,
    paced: Rc<Vec<PacedStates>>,
}

impl<'q> Asked<'q> {
    /// Where the states of a processor may come from; from anywhere where absent.
    fn origins_of(&self, socket: SocketIx) -> Option<&'q Vec<Origin>> {
        self.only.and_then(|only| only.sockets.get(socket))
    }
}

impl<'m, 'a> Reach<'m, 'a> {
    /// Bits that are passed over for one node: some microseconds.
    const STEPS_OF_NODE: u64 = 1 << 18;

    pub(crate) fn new(
        (model, errors): (&'m SlotModel<'a>, &SlotModel<'_>),
        loads: &'m Loads,
        paces: &'m Paces,
        exempt: &'m ExemptLayouts,
        budget: &mut Budget<'_>,
    ) -> Result<Self, StopReason> {
        let groups_of =
            |socket| model.channels_of(socket).iter().map(|&channel| model.like_group_of(channel)).collect();
        let groups: Table<SocketIx, Vec<Option<LikeGroup>>> = model.sockets.ids().map(groups_of).collect();
        let passes_of = |socket| loads.of_channels(model.channels_of(socket)).count();
        let passes = model.sockets.ids().map(passes_of).max().unwrap_or(0);
        let mut reach = Self {
            model,
            loads,
            paces,
            rows: RowsInForce::None,
            twins: twins(model, loads, &groups),
            filters: LoadFilters::new((model, errors), loads, exempt, budget)?,
            openable: Table::default(),
            exempt,
            imposed: None,
            commons: in_common(model, loads, exempt.keep_some()),
            countable: countable(model, loads, &model.in_force.counts),
            countable_before: match exempt.keep_some() {
                true => countable(model, loads, &model.in_force.strict_counts),
                false => None,
            },
            pairs: TwoSizes::among(loads.kinds.values().iter().filter_map(|&class| model.classes.get(class).copied())),
            unlisted: Table::default(),
            groups,
            narrowed: None,
            every_pace: false,
            found: RefCell::default(),
            not_odd: RefCell::default(),
            nodes: 1 + wide(passes * loads.states.size()) / Self::STEPS_OF_NODE,
            work: wide(passes * (loads.states.size() / 64 + 4)),
        };
        for socket in model.sockets.ids() {
            reach.openable.push(openable((model, errors), loads, socket, budget)?);
        }
        reach.follow(RowsInForce::None);
        Ok(reach)
    }

    /// From now on a layout of several processors is imposed, or none is; what places then may hold.
    pub(crate) fn impose(&mut self, layout: Option<&'m Exempt>, open: &OpenPlaces) -> OpenPlaces {
        self.imposed = layout;
        self.found.get_mut().clear();
        layout.map_or_else(|| open.clone(), |layout| layout.impose(self.model, self.loads, open))
    }

    /// Whether the rules on evenness are not asked of a processor beforehand.
    fn is_exempt(&self, socket: SocketIx) -> bool {
        self.imposed.is_some_and(|layout| layout.sockets.contains(&socket))
    }

    /// From now on these printed rows are followed.
    pub(crate) fn follow(&mut self, rows: RowsInForce) {
        self.rows = rows;
        self.found.get_mut().clear();
        let unlisted = |socket: SocketIx| {
            let group = self.rows_of(socket)?;
            let mut states = group.unlisted(rows, self.model, self.loads);
            self.keep_countable(&mut states);
            Some(states)
        };
        self.unlisted = self.model.sockets.ids().map(unlisted).collect();
    }

    /// The rows that speak of one processor alone and are followed.
    fn rows_of(&self, socket: SocketIx) -> Option<&'m RowGroup> {
        self.model.rows.of_socket(socket).filter(|_| self.rows != RowsInForce::None)
    }

    fn keep_countable(&self, states: &mut StateSet) {
        if let Some(countable) = &self.countable {
            states.keep(countable);
        }
    }

    /// What places may hold under each row that speaks of all processors at once.
    pub(crate) fn machine_rows(&self, open: &OpenPlaces) -> Vec<OpenPlaces> {
        let (total, all) = (self.loads.total(), self.model.sockets.len());
        let group = self.model.rows.groups.iter().find(|group| all > 1 && group.sockets.len() == all);
        let sizes = sizes_of(self.model, self.loads.kinds.values().iter().copied());
        let Some(group) = group.filter(|group| self.rows.speak_of(group, total, sizes)) else {
            return vec![open.clone()];
        };
        let rows = group.rows.iter().filter(|row| row.speaks_of(total, sizes));
        rows.map(|row| row.impose((self.model, self.loads), sizes, open, None)).collect()
    }

    /// The rows of a group that may be followed, each with the two sizes of modules for which it is, where it marks some.
    fn rows_to_follow(&self, group: &'m RowGroup) -> impl Iterator<Item = (&'m Row, Option<TwoSizes>)> {
        let of_each = |row: &'m Row| match row.marks_sizes {
            true => self.pairs.iter().map(|&sizes| (row, Some(sizes))).collect(),
            false => vec![(row, None)],
        };
        let of_sizes = self.pairs.first().copied();
        let rows = group.rows.iter().filter(move |row| self.rows.speak_of(group, row.slots.len(), of_sizes));
        rows.flat_map(of_each)
    }

    /// From now on only states of these origins are looked at.
    pub(crate) fn narrow(&mut self, narrowed: Option<Vec<Narrowed>>) {
        self.narrowed = narrowed;
        self.found.get_mut().clear();
    }

    /// From now on states are looked at for every pace; whether that is new.
    pub(crate) fn look_at_every_pace(&mut self) -> bool {
        self.found.get_mut().clear();
        !std::mem::replace(&mut self.every_pace, true)
    }

    /// Whether processors could hold all modules between them at a level, however fast and whatever they have in common;
    /// true where that is not soon said.
    pub(crate) fn may_hold_all(
        &self,
        open: &OpenPlaces,
        level: Level,
        budget: &mut Budget,
    ) -> Result<bool, StopReason> {
        if self.exempt.keep_some() || self.model.sockets.len() < 3 && !self.filters.compare_channels() {
            return Ok(true);
        }
        let mut sockets: Vec<Rc<StateSet>> = Vec::new();
        for (socket, twin) in self.twins.iter() {
            let is_plain = !self.exempt.speak_of(socket) && self.model.rows.of_socket(socket).is_none();
            let is_like = |twin: &SocketIx| is_plain && self.choices_in(*twin, open).eq(self.choices_in(socket, open));
            let same = twin.filter(is_like).and_then(|twin| sockets.get(twin.get()));
            sockets.push(match same {
                Some(same) => Rc::clone(same),
                None => {
                    budget.spend_many(self.nodes)?;
                    let by = if is_plain { By::Rules } else { By::Nothing };
                    // of no way, for it is of any
                    let origin = Origin { level, way: WayIx::of(usize::MAX) };
                    let of = FiltersFor { socket, by, origin, has_rate: false, sort: None };
                    let filters = self.filters.of(of, &Held::Any);
                    let mut states = self.states_under(socket, &filters, (None, open), budget)?;
                    self.keep_countable(&mut states);
                    Rc::new(states)
                }
            });
        }
        add_up(self.loads, &sockets, budget)
    }

    /// What each processor can take at these levels: for each thing they can have in common.
    pub(crate) fn reachable(
        &self,
        open: &OpenPlaces,
        rates: &[LevelRate],
        budget: &mut Budget,
    ) -> Result<Vec<Reachable>, StopReason> {
        let mut all = Vec::new();
        // where nothing is asked for in common, that is one thing
        for index in 0..self.commons.as_ref().map_or(1, Table::len) {
            let index = CommonIx::of(index);
            let common = self.commons.as_ref().and_then(|commons| commons.get(index));
            let only = match &self.narrowed {
                None => None,
                Some(narrowed) => match narrowed.iter().find(|known| known.common == index) {
                    None => continue,
                    only => only,
                },
            };
            let asked = Asked { index, open, rates, common, only };
            all.push(Reachable { common: index, sockets: self.by_socket(asked, budget)? });
        }
        Ok(all)
    }

    fn by_socket(&self, asked: Asked<'_>, budget: &mut Budget) -> Result<PacedBySocket, StopReason> {
        let mut sockets = PacedBySocket::default();
        for (socket, twin) in self.twins.iter() {
            let is_like = |&twin: &SocketIx| {
                asked.origins_of(twin) == asked.origins_of(socket)
                    && self.choices_in(twin, asked.open).eq(self.choices_in(socket, asked.open))
            };
            let paced = match twin.filter(is_like).and_then(|twin| sockets.get(twin)) {
                Some(known) => Rc::clone(known),
                None => self.of_socket(socket, asked, budget)?,
            };
            let takes_nothing = paced.is_empty();
            sockets.push(paced);
            if takes_nothing {
                break;
            }
        }
        Ok(sockets)
    }

    /// What a processor can take: what was found last where the same was asked.
    fn of_socket(
        &self,
        socket: SocketIx,
        asked: Asked<'_>,
        budget: &mut Budget,
    ) -> Result<Rc<Vec<PacedStates>>, StopReason> {
        let key = (asked.index, socket);
        if let Some(found) = self.found.borrow().get(&key) {
            let same =
                found.rates == asked.rates && self.choices_in(socket, asked.open).eq(found.choices.iter().copied());
            if same {
                return Ok(Rc::clone(&found.paced));
            }
        }
        let mut all = Vec::new();
        for &rate in asked.rates {
            self.add_paced(socket, rate, asked, &mut all, budget)?;
        }
        let paced = Rc::new(all);
        let choices = self.choices_in(socket, asked.open).collect();
        let found = Found { choices, rates: asked.rates.to_vec(), paced: Rc::clone(&paced) };
        self.found.borrow_mut().insert(key, found);
        Ok(paced)
    }

    /// Adds what a processor can take at one level, each state at its best pace.
    fn add_paced(
        &self,
        socket: SocketIx,
        LevelRate { level, rate }: LevelRate,
        asked: Asked<'_>,
        all: &mut Vec<PacedStates>,
        budget: &mut Budget,
    ) -> Result<(), StopReason> {
        let mut seen = self.loads.states.no_states();
        let Some(ways) = self.paces.ways.get(socket) else { return Ok(()) };
        // without a rate no pace matters: the last way of a plain processor takes in all others
        let taken_in =
            |way: WayIx, held: &Held| rate == 0 && matches!(held, Held::AtMost(_)) && way.after(1).get() < ways.len();
        for (way, &Way { pace, ref held, is_exempt: way_is_exempt }) in
            ways.iter().filter(|(way, entry)| !taken_in(*way, &entry.held))
        {
            let origin = Origin { level, way };
            if asked.origins_of(socket).is_some_and(|only| !only.contains(&origin)) {
                continue;
            }
            budget.spend_many(self.nodes)?;
            let is_exempt = self.is_exempt(socket);
            let sort = asked.common.and_then(|common| common.sort);
            let filters = |by| self.filters.of(FiltersFor { socket, by, origin, has_rate: rate > 0, sort }, held);
            let mut states = match way_is_exempt || is_exempt {
                true => self.loads.states.no_states(),
                false => self.states_of(socket, &filters(By::Rules), asked, budget)?,
            };
            if is_exempt || self.exempt.speak_of(socket) || self.rows_of(socket).is_some() {
                let printed = filters(By::Printed);
                if is_exempt {
                    states.add(&self.states_of(socket, &printed, asked, budget)?);
                } else {
                    self.add_exempt(socket, (&printed, &filters(By::Nothing)), asked, &mut states, budget)?;
                }
            }
            // a state that is reached at a better pace needs no other, unless a rule refuses it there
            if !self.every_pace && !matches!(held, Held::OneOf(_)) {
                states.remove(&seen);
                seen.add(&states);
            }
            // a pace is faster the more there is
            if let Some(most) = states.iter().map(|state| self.loads.usable(state)).max() {
                let pace = pace.at_rate(self.paces.scale, rate);
                all.push(PacedStates { origin, pace, fastest: pace.speed(most), states });
            }
        }
        Ok(())
    }

    /// Adds the states of a processor's exempt layouts: under some filters, but for what was so before.
    fn add_exempt(
        &self,
        socket: SocketIx,
        (filters, any): (&Filters<'_>, &Filters<'_>),
        asked: Asked<'_>,
        states: &mut StateSet,
        budget: &mut Budget,
    ) -> Result<(), StopReason> {
        let rows = self.rows_of(socket);
        let unlisted = rows.and_then(|_| self.unlisted.get(socket)?.as_ref());
        let of_socket = self.exempt.of_socket.get(socket).into_iter().flatten();
        for layout in of_socket {
            let open = layout.impose(self.model, self.loads, asked.open);
            let filters = if layout.was_so_before { any } else { filters };
            let mut own = self.states_under(socket, filters, (asked.common, &open), budget)?;
            unlisted.into_iter().for_each(|unlisted| own.keep(unlisted));
            match layout.was_so_before {
                true => self.countable_before.iter().for_each(|countable| own.keep(countable)),
                false => self.keep_countable(&mut own),
            }
            states.add(&own);
        }
        // a row that is followed is a layout that is printed
        for (row, sizes) in rows.into_iter().flat_map(|group| self.rows_to_follow(group)) {
            let open = row.impose((self.model, self.loads), sizes, asked.open, Some(socket));
            let mut own = self.states_under(socket, filters, (asked.common, &open), budget)?;
            self.keep_countable(&mut own);
            states.add(&own);
        }
        Ok(())
    }

    /// What each place of a processor may hold, channel by channel.
    fn choices_in<'q>(&'q self, socket: SocketIx, open: &'q OpenPlaces) -> impl Iterator<Item = Option<Choices>> + 'q {
        self.model.channels_of(socket).iter().flat_map(move |&channel| choices_of(self.model, channel, open))
    }

    /// The states of a processor under some filters that the bounds and rows of processors allow.
    fn states_of(
        &self,
        socket: SocketIx,
        filters: &Filters<'_>,
        Asked { common, open, .. }: Asked<'_>,
        budget: &mut Budget,
    ) -> Result<StateSet, StopReason> {
        let mut states = self.states_under(socket, filters, (common, open), budget)?;
        let (Some(group), Some(Some(unlisted))) = (self.rows_of(socket), self.unlisted.get(socket)) else {
            self.keep_countable(&mut states);
            return Ok(states);
        };
        states.keep(unlisted);
        for (row, sizes) in self.rows_to_follow(group) {
            let open = row.impose((self.model, self.loads), sizes, open, Some(socket));
            let mut under = self.states_under(socket, filters, (common, &open), budget)?;
            self.keep_countable(&mut under);
            states.add(&under);
        }
        Ok(states)
    }

    /// The states in which no odd number of a processor's channels has memory, of which so many could have, each with so many modules.
    fn not_odd(&self, channels: usize, modules: usize) -> Rc<StateSet> {
        let key = (channels, modules);
        let mut known = self.not_odd.borrow_mut();
        if let Some((_, states)) = known.iter().find(|(of, _)| *of == key) {
            return Rc::clone(states);
        }
        let step = modules * channels_joined(self.model);
        let states = Rc::new(self.loads.states_where(|count| !is_odd(count / step, channels)));
        known.push((key, Rc::clone(&states)));
        states
    }

    /// The states that a processor's channels reach with what their places may hold.
    fn states_under(
        &self,
        socket: SocketIx,
        filters: &Filters<'_>,
        (common, open): (Option<&Common>, &OpenPlaces),
        budget: &mut Budget,
    ) -> Result<StateSet, StopReason> {
        let (model, loads) = (self.model, self.loads);
        let groups = self.groups.get(socket).map_or(&[][..], Vec::as_slice);
        let mut states = loads.states.no_states();
        let Some(own) = self.filters.own(socket) else { return Ok(states) };
        let left = &LoadsLeft::new(model, own, model.channels_of(socket), open);
        let (held, bars_odd) = (filters.held, filters.by == By::Rules);
        let each = self.work / wide(filters.all.len()).max(1);
        for Filter { marks, modules } in filters.all.iter() {
            budget.work(each)?;
            let growth = Growth { loads, left, marks, held, groups };
            let odd = self.openable.get(socket).copied().flatten().filter(|_| bars_odd);
            match odd.and_then(|all| Some((all, (*modules)?))) {
                None => growth.add_to(&mut states),
                Some((all, modules)) => {
                    let mut own = loads.states.no_states();
                    growth.add_to(&mut own);
                    own.keep(&self.not_odd(all, modules));
                    states.add(&own);
                }
            }
        }
        if let Some(common) = common {
            states.keep(&common.states);
        }
        Ok(states)
    }
}

/// How many channels of a processor, those that the mode joins as one, could have memory at least: that could hold a single
/// module of each class. `None` where an odd number of them is not refused.
fn openable(
    (model, errors): (&SlotModel<'_>, &SlotModel<'_>),
    loads: &Loads,
    socket: SocketIx,
    budget: &mut Budget<'_>,
) -> Result<Option<usize>, StopReason> {
    let processor = model.sockets.get(socket).and_then(|socket| model.machine.processor(socket.id));
    let lists_sets = processor.is_none_or(|processor| processor.description().interleave.is_some());
    if !model.in_force.odd_channels || lists_sets || !model.units_are_channels(socket) {
        return Ok(None);
    }
    let mut all = 0;
    for &channel in model.channels_of(socket) {
        let legal = errors.legal_loads(channel, loads.kinds.values(), budget)?;
        let alone =
            |class: &ClassId| legal.loads.iter().any(|load| load.code.iter().flatten().collect::<Vec<_>>() == [class]);
        all += usize::from(loads.kinds.values().iter().all(alone));
    }
    Ok(Some(all / channels_joined(model)))
}

/// How many channels the mode joins as one.
fn channels_joined(model: &SlotModel<'_>) -> usize {
    model.machine.mode_description().map_or(1, Mode::channels_in_step).max(1)
}

/// The states that the bounds on a processor's number of modules, and on unlike ones, allow; `None` where there are
/// no such bounds.
fn countable(model: &SlotModel<'_>, loads: &Loads, counts: &[CountBound]) -> Option<StateSet> {
    let bounds = || counts.iter().filter(|bound| bound.within == Scope::Socket);
    let counted = bounds().next().map(|_| loads.states_where(|count| bounds().all(|bound| bound.allows(count))));
    let mixes = || model.mixes_within(Scope::Socket);
    let (apart, apart_if_full) = (kept_apart(model, loads, false), kept_apart(model, loads, true));
    let is_limited = mixes().next().is_some() || !apart.is_empty() || !apart_if_full.is_empty();
    let unmixed = is_limited.then(|| {
        loads.states_that(|vector| {
            let has = |kind| loads.states.count(vector, kind) > 0;
            let count = loads.kinds.ids().map(|kind| loads.states.count(vector, kind)).sum();
            let apart = if may_be_full(model, count) { &apart_if_full } else { &apart };
            let meets = apart.iter().any(|&(one, other)| has(one) && has(other));
            !meets
                && mixes().all(|mix| {
                    let there = loads.kinds.iter().filter(|&(kind, _)| has(kind));
                    there.filter_map(|(_, &class)| mix.keys.get(class)?.as_ref()).unique().count() <= mix.at_most
                })
        })
    });
    match (counted, unmixed) {
        (Some(mut counted), Some(unmixed)) => {
            counted.keep(&unmixed);
            Some(counted)
        }
        (counted, unmixed) => counted.or(unmixed),
    }
}

/// The kinds of which a processor may not hold both, with all of its places filled or not.
fn kept_apart(model: &SlotModel<'_>, loads: &Loads, is_full: bool) -> Vec<(KindIx, KindIx)> {
    let pairs = loads.kinds.iter().tuple_combinations();
    let apart = pairs.filter(|&((_, &one), (_, &other))| !model.may_meet(one, other, is_full));
    apart.map(|((one, _), (other, _))| (one, other)).collect()
}

/// Whether so many modules may fill all places of some processor.
fn may_be_full(model: &SlotModel<'_>, count: usize) -> bool {
    let places =
        |socket| model.channels_of(socket).iter().map(|&channel| model.places_of(channel).len()).sum::<usize>();
    model.sockets.ids().any(|socket| places(socket) == count)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use itertools::Itertools;

    use super::*;
    use crate::fill::drive::Drive;
    use crate::fill::loads::Load;
    use crate::fill::state_space::Counted;
    use crate::fill::target::Speed;
    use crate::fill::{ChannelIx, ClassId, Demand, KindIx, PlaceId, Present, PresentGroup};
    use crate::finding::Severity;
    use crate::machine::Machine;
    use crate::population::Layout;
    use crate::rule::RuleBook;
    use crate::search::StateIx;
    use crate::testing;

    /// A filling of a processor's channels, by what places hold.
    type Filling = Vec<Option<KindIx>>;

    /// The states of one processor by plain enumeration of all fillings of its places, each with its best speed.
    fn enumerated(
        model: &SlotModel<'_>,
        loads: &Loads,
        demand: &Demand,
        open: &OpenPlaces,
        level: Level,
    ) -> BTreeMap<StateIx, Speed> {
        let channels = model.channels_of(SocketIx::of(0));
        let places: Vec<PlaceId> = channels.iter().flat_map(|&channel| model.places_of(channel)).copied().collect();
        let contents: Vec<Option<KindIx>> = std::iter::once(None).chain(loads.kinds.ids().map(Some)).collect();
        let mut best: BTreeMap<StateIx, Speed> = BTreeMap::new();
        for filling in places.iter().map(|_| contents.iter().copied()).multi_cartesian_product() {
            let at = |place: &PlaceId| places.iter().zip(&filling).find(|(other, _)| *other == place).unwrap().1;
            let class = |kind: Option<KindIx>| kind.map(|kind| *loads.kinds.get(kind).unwrap());
            let facts = |&channel: &ChannelIx| {
                let code: Vec<Option<ClassId>> =
                    model.places_of(channel).iter().map(|place| class(*at(place))).collect();
                model.load(channel, &code).filter(|facts| facts.level >= level)
            };
            let Some(facts) = channels.iter().map(facts).collect::<Option<Vec<_>>>() else { continue };
            if places.iter().any(|place| !open.get(*place).unwrap().allows(*at(place))) {
                continue;
            }
            let Some(state) = state_of(loads, demand, &places, &filling) else { continue };
            let most = facts.iter().map(|facts| facts.usable).max().unwrap();
            let whole = Loads::usable(loads, state);
            // the fullest channel has most to do
            let parts = u128::from(whole) * 12 / u128::from(most.max(1));
            let speed = Speed { spread: parts, swept: parts };
            best.entry(state).and_modify(|known| *known = known.highest(speed)).or_insert(speed);
        }
        best
    }

    fn state_of(loads: &Loads, demand: &Demand, places: &[PlaceId], filling: &Filling) -> Option<StateIx> {
        let mut counts = Counted::nothing(loads.kinds.len(), demand.used.len());
        for (place, kind) in places.iter().zip(filling) {
            let Some(kind) = *kind else { continue };
            *counts.kinds.get_mut(kind)? += 1;
            let present = demand.present_at(*place);
            if let Some(present) = present.filter(|present| Some(&present.class) == loads.kinds.get(kind)) {
                *counts.stays.get_mut(present.group)? += 1;
            }
        }
        loads.states.number(&counts)
    }

    /// Holds the reachable states of a demand against enumeration, at every level; how many states there were.
    fn compare(machine: &Machine, counts: [usize; 2], present: &[(usize, usize)], shut: &[(usize, usize)]) -> usize {
        let (plain, quad) = (testing::plain(), testing::quad());
        let rules = RuleBook::standard();
        let model = SlotModel::new(machine, &rules, Severity::Error, vec![&plain, &quad], Layout::empty(machine));
        let mut demand = Demand {
            counts: counts.into_iter().enumerate().map(|(class, count)| (ClassId::of(class), count)).collect(),
            present: Table::filled(None, model.slots.len()),
            used: Table::filled(present.len(), 1),
            any_will_do: true,
            ..Demand::default()
        };
        for &(place, class) in present {
            let group = PresentGroup::of(0);
            *demand.present.get_mut(PlaceId::of(place)).unwrap() = Some(Present { class: ClassId::of(class), group });
        }
        let budget = &mut Budget::new(1_000_000, None);
        let Some(loads) = Loads::new(&model, &model, (&demand, Drive::Hoped), budget).unwrap() else { return 0 };
        let exempt = ExemptLayouts::new(&model, &loads);
        let paces = Paces::new(&model, &loads, (&exempt, &demand), budget).unwrap();
        let reach = Reach::new((&model, &model), &loads, &paces, &exempt, budget).unwrap();
        let mut open: OpenPlaces =
            model.slots.values().iter().map(|_| Choices::modules(loads.kinds.ids()).or_nothing()).collect();
        for &(place, kind) in shut {
            *open.get_mut(PlaceId::of(place)).unwrap() = Choices::only(kind.checked_sub(1).map(KindIx::of));
        }
        let mut found = 0;
        for level in (0..machine.rate_steps().len()).map(Level::step).chain([Level::NO_RATE]) {
            let expected = enumerated(&model, &loads, &demand, &open, level);
            for rate in [0, 12] {
                let reachable = reach.reachable(&open, &[LevelRate { level, rate }], budget).unwrap();
                let mut best: BTreeMap<StateIx, Speed> = BTreeMap::new();
                for paced in reachable.iter().flat_map(|all| all.sockets.values()).flat_map(|paced| paced.iter()) {
                    for state in paced.states.iter() {
                        let speed = paced.pace.speed(loads.usable(state));
                        best.entry(state).and_modify(|known| *known = known.highest(speed)).or_insert(speed);
                    }
                }
                let scaled = |speed: &Speed| speed.times(if rate == 0 { 0 } else { paces.scale.one() });
                let expected: BTreeMap<StateIx, Speed> =
                    expected.iter().map(|(&state, speed)| (state, scaled(speed))).collect();
                assert_eq!(best, expected, "{counts:?} {present:?} {shut:?} {level:?} {rate}");
            }
            found += expected.len();
        }
        found
    }

    #[test]
    fn reachable_states_are_those_of_all_fillings() {
        let boards = [(1, 3), (2, 2), (3, 1)].map(|(channels, slots)| testing::board_of(1, channels, slots));
        let presents: [&[(usize, usize)]; 3] = [&[], &[(0, 0)], &[(0, 1), (1, 0), (2, 0)]];
        let shuts: [&[(usize, usize)]; 3] = [&[], &[(0, 0)], &[(1, 1), (2, 0)]];
        let mut found = 0;
        for board in boards {
            let machine = testing::machine(board, testing::processor());
            for (first, second, present, shut) in itertools::iproduct!(0..3, 0..3, presents, shuts) {
                if first + second > 0 {
                    found += compare(&machine, [first, second], present, shut);
                }
            }
        }
        assert!(found > 1_000, "{found}");
    }

    /// Every load of a demand is that of its step.
    #[test]
    fn steps_count_what_loads_hold() {
        let machine = testing::machine(testing::board_of(1, 1, 3), testing::processor());
        let (plain, quad, rules) = (testing::plain(), testing::quad(), RuleBook::standard());
        let model = SlotModel::new(&machine, &rules, Severity::Error, vec![&plain, &quad], Layout::empty(&machine));
        let counts = vec![(ClassId::of(0), 2), (ClassId::of(1), 1)];
        let demand = Demand { counts, any_will_do: true, ..Demand::default() };
        let loads =
            Loads::new(&model, &model, (&demand, Drive::Hoped), &mut Budget::new(1_000_000, None)).unwrap().unwrap();
        let of_channel: Vec<&Load> = loads.of_channels(model.channels_of(SocketIx::of(0))).collect();
        assert!(of_channel.len() > 3);
        for load in of_channel {
            let step = loads.steps.get(load.step).unwrap();
            for kind in loads.kinds.ids() {
                let held = load.contents.iter().filter(|content| content.decided() == Some(Some(kind))).count();
                assert_eq!(loads.states.count(loads.states.vector_of(step.raise), kind), held);
            }
            assert!(step.room.contains(StateIx::of(0)));
        }
    }
}
