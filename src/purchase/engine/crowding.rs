//! Numbers of modules that channels have no room for, beyond what their slots say: learnt where some could not be placed.

use std::cmp::Reverse;

use itertools::Itertools;

use crate::fill::{ClassId, Level, ShapeIx, SlotModel, SocketIx};
use crate::purchase::engine::search::Search;
use crate::search::{Budget, Column, Index, Prices, StopReason, Table, wide};
use crate::unit::exact::gcd;

/// What channels may carry, and what was learnt of numbers that they could not.
pub(crate) struct Crowding {
    /// The largest first.
    classes: Vec<ClassId>,
    level: Level,
    /// How processors may divide the classes between them, once that was asked; none where there are too many ways.
    ways: Option<Vec<Way>>,
    /// How many numbers taught nothing.
    misses: usize,
}

/// A way to divide classes between processors: which of them each may hold beside each other.
struct Way {
    kinds: Vec<Kind>,
    lessons: Vec<Weights>,
}

/// Channels of one shape, of processors that may hold the same classes.
struct Kind {
    loads: Vec<Load>,
    channels: usize,
}

/// How many modules of some classes are in a channel.
type Load = Vec<(ClassId, usize)>;

/// What each module weighs, so that no channel carries more than its part of what all of them do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Weights {
    each: Table<ClassId, usize>,
    pub(crate) all: usize,
}

impl Weights {
    pub(crate) fn of(&self, class: ClassId) -> usize {
        self.each.get(class).copied().unwrap_or(0)
    }

    fn load(&self, load: &[(ClassId, usize)]) -> usize {
        load.iter().map(|&(class, count)| self.of(class).saturating_mul(count)).fold(0, usize::saturating_add)
    }

    /// Whether so many modules weigh more than channels carry together.
    fn forbids(&self, counts: &[(ClassId, usize)]) -> bool {
        self.load(counts) > self.all
    }
}

impl Crowding {
    /// How many loads are judged, and how many columns a program has, at most.
    const MOST_LOADS: usize = 3_000;
    const MOST_COLUMNS: usize = 400;
    const MOST_WAYS: usize = 20;
    const MOST_LESSONS: usize = 24;
    const MOST_MISSES: usize = 24;

    /// Of channels that carry modules of some classes at a level at least; of which nothing is known yet.
    pub(crate) fn new(model: &SlotModel<'_>, classes: &[ClassId], level: Level) -> Self {
        let mut classes = classes.to_vec();
        classes.sort_by_key(|&class| (Reverse(model.capacity_of(class)), class));
        Self { classes, level, ways: None, misses: 0 }
    }

    /// Whether so many modules find no room, as far as is known.
    pub(crate) fn forbids(&self, counts: &[(ClassId, usize)]) -> bool {
        let ways = self.ways.as_deref().unwrap_or_default();
        !ways.is_empty() && ways.iter().all(|way| way.forbids(counts))
    }

    /// What was learnt of each way; nothing where there is a way of which nothing is known.
    pub(crate) fn lessons(&self) -> impl Iterator<Item = &[Weights]> {
        let ways = self.ways.as_deref().unwrap_or_default();
        let is_known = ways.iter().all(|way| !way.lessons.is_empty());
        ways.iter().filter(move |_| is_known).map(|way| way.lessons.as_slice())
    }

    /// Learns from numbers that could not be placed, where channels have no room for them.
    fn learn(
        &mut self,
        model: &SlotModel<'_>,
        counts: &[(ClassId, usize)],
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        if self.misses >= Self::MOST_MISSES || self.lessons().map(<[_]>::len).sum::<usize>() >= Self::MOST_LESSONS {
            return Ok(());
        }
        let mut ways = match self.ways.take() {
            Some(ways) => ways,
            None => self.find_ways(model, budget)?,
        };
        let mut all = !ways.is_empty();
        for way in ways.iter_mut().filter(|way| !way.forbids(counts)) {
            match self.weights(&way.kinds, counts, budget)? {
                Some(lesson) => way.lessons.push(lesson),
                None => all = false,
            }
        }
        self.ways = Some(ways);
        self.misses += usize::from(!all);
        Ok(())
    }

    /// How processors may divide the classes between them, and what their channels may carry then.
    fn find_ways(&self, model: &SlotModel<'_>, budget: &mut Budget<'_>) -> Result<Vec<Way>, StopReason> {
        let mut shapes = Vec::new();
        for (channel, entry) in model.unlike_channels() {
            let Some(loads) = model.loads_of(channel, &self.classes, (self.level, Self::MOST_LOADS), budget)? else {
                return Ok(Vec::new());
            };
            let counted = |load: Vec<ClassId>| load.into_iter().dedup_with_count().map(|(count, class)| (class, count));
            shapes.push((entry.shape, loads.into_iter().map(|load| counted(load).collect()).collect::<Vec<Load>>()));
        }
        let families = self.families(model);
        let sockets = model.sockets.len();
        let all = (0..sockets).fold(1, |all: usize, _| all.saturating_mul(families.len()));
        if all > Self::MOST_WAYS {
            return Ok(Vec::new());
        }
        // how many channels of each shape there are by what their processor may hold: ways that come to the same are one
        let ways = (0..sockets).map(|_| 0..families.len()).multi_cartesian_product().map(|chosen| {
            let shapes_of = |(socket, family): (SocketIx, usize)| {
                let channels = model.channels_of(socket).iter().filter_map(|&channel| model.channels.get(channel));
                channels.map(move |channel| (family, channel.shape))
            };
            model.sockets.ids().zip(chosen).flat_map(shapes_of).sorted().dedup_with_count().collect::<Vec<_>>()
        });
        let kind = |(channels, (family, shape)): (usize, (usize, ShapeIx))| {
            let own = families.get(family).map_or(&[][..], Vec::as_slice);
            let loads = shapes.iter().filter(|(known, _)| *known == shape).flat_map(|(_, loads)| loads);
            let loads = loads.filter(|load| load.iter().all(|(class, _)| own.contains(class)));
            Kind { loads: loads.cloned().collect(), channels }
        };
        let way = |counts: Vec<_>| Way { kinds: counts.into_iter().map(kind).collect(), lessons: Vec::new() };
        Ok(ways.sorted().dedup().map(way).collect())
    }

    /// The largest sets of classes that a processor may hold beside each other.
    fn families(&self, model: &SlotModel<'_>) -> Vec<Vec<ClassId>> {
        let meet = |one: ClassId, other: ClassId| {
            one == other || [false, true].into_iter().any(|is_full| model.may_meet(one, other, is_full))
        };
        let mut families: Vec<Vec<ClassId>> = vec![Vec::new()];
        for &class in &self.classes {
            let with = |family: &Vec<ClassId>| {
                let (stay, go): (Vec<ClassId>, Vec<ClassId>) = family.iter().partition(|&&other| meet(class, other));
                match go.is_empty() {
                    true => vec![[stay, vec![class]].concat()],
                    false => vec![family.clone(), [stay, vec![class]].concat()],
                }
            };
            let mut grown: Vec<Vec<ClassId>> = families.iter().flat_map(with).collect();
            grown.sort_by_key(|family| Reverse(family.len()));
            families.clear();
            for family in grown {
                if !families.iter().any(|larger| family.iter().all(|class| larger.contains(class))) {
                    families.push(family);
                }
            }
            // one that holds all bounds no less
            if families.len() > Self::MOST_WAYS {
                return vec![self.classes.clone()];
            }
        }
        families
    }

    /// Weights that forbid some numbers, if channels have no room for them, even if each could be filled in parts.
    fn weights(
        &self,
        kinds: &[Kind],
        counts: &[(ClassId, usize)],
        budget: &mut Budget<'_>,
    ) -> Result<Option<Weights>, StopReason> {
        let row = |class: ClassId| counts.iter().position(|&(own, _)| own == class);
        let column = |(at, load): (usize, &Load)| {
            let takes = load.iter().map(|&(class, count)| Some((row(class)?, i128::try_from(count).ok()?)));
            let takes: Vec<_> = takes.chain([Some((counts.len() + at, 1))]).collect::<Option<_>>()?;
            Some(Column {
                gain: takes.iter().filter(|(row, _)| *row < counts.len()).map(|(_, count)| count).sum(),
                takes,
            })
        };
        let loads = (0..).zip(kinds).flat_map(|(at, kind)| kind.loads.iter().map(move |load| (at, load)));
        let columns: Vec<Column> = loads.filter_map(column).collect();
        if columns.is_empty() || columns.len() > Self::MOST_COLUMNS {
            return Ok(None);
        }
        let limits = counts.iter().map(|&(_, count)| count).chain(kinds.iter().map(|kind| kind.channels));
        let Ok(limits) = limits.map(i128::try_from).collect::<Result<Vec<_>, _>>() else { return Ok(None) };
        budget.work(wide(columns.len() * limits.len() * limits.len() * 4))?;
        let Some(Prices { of_limits, denominator }) = Prices::of(&columns, &limits) else { return Ok(None) };
        // a module that is worth nothing where it cannot be placed weighs most
        let mut each = Table::filled(0, self.classes.iter().map(|class| class.get() + 1).max().unwrap_or(0));
        let (mut part, mut weighed) = (0, Vec::with_capacity(counts.len()));
        for (&(class, _), price) in counts.iter().zip(of_limits) {
            let Ok(weight) = u64::try_from((denominator - price).max(0)) else { return Ok(None) };
            part = gcd(part, weight);
            weighed.push((class, weight));
        }
        for (class, weight) in weighed {
            let Ok(weight) = usize::try_from(weight.checked_div(part).unwrap_or(0)) else { return Ok(None) };
            each.get_mut(class).into_iter().for_each(|own| *own = weight);
        }
        let mut weights = Weights { each, all: 0 };
        let most = |weights: &Weights, kind: &Kind| kind.loads.iter().map(|load| weights.load(load)).max().unwrap_or(0);
        let carried: Vec<usize> = kinds.iter().map(|kind| most(&weights, kind)).collect();
        let all = kinds.iter().zip(&carried).map(|(kind, carried)| kind.channels.saturating_mul(*carried));
        weights.all = all.fold(0, usize::saturating_add);
        if !weights.forbids(counts) {
            return Ok(None);
        }
        // other classes weigh as much as they may
        for &class in self.classes.iter().filter(|&&class| row(class).is_none()) {
            let lightest = kinds.iter().zip(&carried).flat_map(|(kind, carried)| {
                let with =
                    kind.loads.iter().filter_map(|load| Some((load, load.iter().find(|(own, _)| *own == class)?.1)));
                with.map(|(load, count)| carried.saturating_sub(weights.load(load)) / count.max(1)).collect::<Vec<_>>()
            });
            let weight = lightest.min().unwrap_or(weights.all.saturating_add(1));
            weights.each.get_mut(class).into_iter().for_each(|own| *own = weight);
        }
        Ok(Some(weights))
    }
}

impl Way {
    fn forbids(&self, counts: &[(ClassId, usize)]) -> bool {
        self.lessons.iter().any(|lesson| lesson.forbids(counts))
    }
}

impl Search<'_, '_> {
    /// Whether no plan with so many modules, and perhaps more, can be placed: of too many sorts, or with no room in channels.
    pub(crate) fn is_crowded(&self, counts: &[(ClassId, usize)]) -> bool {
        self.model().few_sorts.as_ref().is_some_and(|few| !few.allow(counts))
            || self.crowding.as_ref().is_some_and(|crowding| crowding.forbids(counts))
    }

    /// Learns from numbers that could not be placed.
    pub(crate) fn learn_from(
        &mut self,
        counts: &[(ClassId, usize)],
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        // what is present may stay where a warning refuses it to others
        let model = if self.classes().present() > 0 { &self.context.errors } else { self.model() };
        self.crowding.as_mut().map_or(Ok(()), |crowding| crowding.learn(model, counts, budget))
    }

    /// How much is known of numbers that find no room.
    pub(crate) fn lessons(&self) -> usize {
        self.crowding.as_ref().map_or(0, |crowding| crowding.lessons().map(<[_]>::len).sum())
    }
}
