//! The ways to fill a processor's channels one by one, where exact sets or domains of interleave matter.

use std::collections::BTreeMap;

use itertools::Itertools;

use crate::figure::regions::{Domain, Splits, domains_by, members};
use crate::fill::beside::cliques;
use crate::fill::choices::Choices;
use crate::fill::exempt::{Exempt, ExemptLayouts};
use crate::fill::loads::{Load, Loads};
use crate::fill::pace::{Held, Pace, Scale, Way};
use crate::fill::target::Speed;
use crate::fill::{ChannelIx, KindIx, SlotModel, SocketIx, WayIx};
use crate::machine::Wiring;
use crate::search::{Budget, Index as _, SearchSize, StopReason, Table, wide};

/// The most ways to fill a processor's channels that are looked at one by one.
const MOST_PROFILES: usize = 1 << 18;

/// Steps of work that a way comes to, for its regions are worked out.
const ONE_PROFILE: u64 = 400;

/// Steps of work that making one, and putting it into order, comes to.
const ONE_CHOICE: u64 = 60;

/// What a channel holds, as far as it decides on regions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Holding {
    /// In MiB, less spare ranks.
    pub(crate) mib: u64,
    /// How many modules it has; absent where that decides on nothing.
    pub(crate) modules: Option<usize>,
}

impl Holding {
    /// What a load holds, and how many modules where these count.
    fn of(load: &Load, modules_count: bool) -> Self {
        Self { mib: load.usable, modules: modules_count.then_some(load.modules) }
    }

    /// Whether a load holds just this.
    pub(crate) fn is_of(self, load: &Load) -> bool {
        self.mib == load.usable && self.modules.is_none_or(|modules| modules == load.modules)
    }
}

/// A way to fill a processor's channels, one by one.
pub(crate) struct Profile {
    /// By channel in order.
    held: Vec<Holding>,
    /// Its domains with memory.
    parts: Vec<Part>,
    /// Whether it is of exempt layouts alone.
    is_exempt: bool,
}

/// A domain of a profile.
struct Part {
    capacity: u64,
    /// What its fullest channel holds.
    most: u64,
    /// The time of all its regions.
    time: u64,
}

impl Profile {
    /// What speeds of its domains are measured over.
    pub(crate) fn holdings(&self) -> impl Iterator<Item = u64> + '_ {
        self.parts.iter().flat_map(|part| [part.most, part.time])
    }

    /// A profile of these holdings; `None` where the rules on regions and domains in force refuse it.
    fn new(
        model: &SlotModel<'_>,
        (wiring, splits): (&Wiring, &mut Splits),
        wired: &[usize],
        held: Vec<Holding>,
        is_exempt: bool,
    ) -> Option<Self> {
        let caps: Vec<u64> = wired.iter().filter_map(|&channel| Some(held.get(channel)?.mib)).collect();
        let modules = held.iter().filter_map(|held| held.modules).sum();
        let (domains, _) = domains_by(wiring, (&caps, modules), splits);
        let is_split = model.in_force.one_region && domains.iter().any(|domain| domain.regions.len() > 1);
        if is_split && !is_exempt {
            return None;
        }
        let holds = |set: u64| members(set).any(|channel| caps.get(channel).is_some_and(|&cap| cap > 0));
        let mut asked = wiring.asked(modules).into_iter().flat_map(|division| &division.domains);
        let has_memory = caps.iter().any(|&cap| cap > 0);
        let lacks_a_domain = model.in_force.memory_in_each_domain && has_memory && !asked.all(|&domain| holds(domain));
        if lacks_a_domain && !is_exempt {
            return None;
        }
        let part =
            |domain: &Domain| Part { capacity: domain.capacity(), most: domain.most(&caps), time: domain.time() };
        Some(Self { parts: domains.iter().map(part).filter(|part| part.capacity > 0).collect(), held, is_exempt })
    }
}

/// Every way to fill a processor's channels that the rules on regions and domains in force allow.
pub(crate) fn profiles(
    model: &SlotModel<'_>,
    loads: &Loads,
    exempt: &ExemptLayouts,
    (socket, wiring): (SocketIx, &Wiring),
    budget: &mut Budget<'_>,
) -> Result<Vec<Profile>, StopReason> {
    let (channels, modules_count) = (model.channels_of(socket), wiring.counts_modules());
    // where channels with memory must hold the same, each height is looked at by itself
    let alike = model.in_force.one_region || (model.repeats.is_some() && !model.spares_ranks());
    let mut all = Vec::new();
    for options in options_by_company(model, loads, channels, modules_count) {
        all.extend(match alike && wiring.divisions.is_empty() {
            true => of_one_height(&options, budget)?,
            false => combinations(&options, budget)?,
        });
    }
    all.sort_unstable();
    all.dedup();
    let is_wired = |channel| model.channels.get(channel).is_some_and(|channel| wiring.channels.contains(&channel.id));
    let wired: Vec<usize> =
        channels.iter().enumerate().filter(|&(_, &channel)| is_wired(channel)).map(|(index, _)| index).collect();
    let mut splits = Splits::default();
    let mut profile = |held, is_exempt| Profile::new(model, (wiring, &mut splits), &wired, held, is_exempt);
    let mut found: Vec<Profile> = Vec::new();
    for held in all {
        budget.work(ONE_PROFILE)?;
        found.extend(profile(held, false));
    }
    if model.in_force.one_region || model.in_force.memory_in_each_domain || alike {
        let mut all = Vec::new();
        for layout in exempt.of(socket) {
            for options in options_under(model, loads, layout, (socket, modules_count)) {
                all.extend(combinations(&options, budget)?);
            }
        }
        all.sort_unstable();
        all.dedup();
        // what is even is no exception
        all.retain(|held| !found.iter().any(|known| known.held == *held));
        for held in all {
            budget.work(ONE_PROFILE)?;
            found.extend(profile(held, true));
        }
    }
    Ok(found)
}

/// What each channel can hold, for each largest set of kinds that a processor may hold together, filled or not.
fn options_by_company(
    model: &SlotModel<'_>,
    loads: &Loads,
    channels: &[ChannelIx],
    modules_count: bool,
) -> Vec<Vec<Vec<Holding>>> {
    let options = |may_be: &dyn Fn(&&Load) -> bool| -> Vec<Vec<Holding>> {
        let of = |channel| {
            let loads = loads.of_channels(std::slice::from_ref(channel)).filter(may_be);
            loads.map(|load| Holding::of(load, modules_count)).sorted_unstable().dedup().collect()
        };
        channels.iter().map(of).collect()
    };
    let kinds = || loads.kinds.values().iter().copied();
    let mut all = Vec::new();
    for is_full in [false, true] {
        let row = |one| kinds().map(|other| model.may_meet(one, other, is_full)).collect();
        let meet: Vec<Vec<bool>> = kinds().map(row).collect();
        // where all may meet, filled or not, there is nothing to tell apart
        let all_meet = meet.iter().flatten().all(|&may_meet| may_meet);
        let companies = if all_meet && !is_full { None } else { cliques(&meet) };
        let Some(companies) = companies else { return vec![options(&|_| true)] };
        for company in companies {
            let modules = Choices::modules(company.into_iter().map(KindIx::of));
            let choices = if is_full { modules } else { modules.or_nothing() };
            all.push(options(&|load| load.contents.iter().all(|content| content.meets(choices))));
        }
    }
    all
}

/// What each channel of a processor can hold under an exempt layout. Unlike modules in one round are no exception, unless
/// every slot is filled and no rule asks that channels be alike.
fn options_under(
    model: &SlotModel<'_>,
    loads: &Loads,
    layout: &Exempt,
    (socket, modules_count): (SocketIx, bool),
) -> Vec<Vec<Vec<Holding>>> {
    let channels = model.channels_of(socket);
    let rounds: Vec<Vec<Option<usize>>> = channels.iter().map(|&channel| model.rounds_of(channel)).collect();
    let under = |sizes: Option<&[u64]>| -> Vec<Vec<Holding>> {
        let of = |(&channel, rounds): (&ChannelIx, &Vec<Option<usize>>)| {
            let choices: Vec<Choices> = model
                .places_of(channel)
                .iter()
                .map(|&place| layout.choices(model, loads, place).unwrap_or(Choices::ANY_MODULE.or_nothing()))
                .collect();
            let is_of_size = |(content, round): (&Choices, &Option<usize>)| {
                let class = content.decided().flatten().and_then(|kind| loads.kinds.get(kind));
                let wanted = sizes.zip(*round).and_then(|(sizes, round)| sizes.get(round));
                class.is_none_or(|&class| wanted.is_none_or(|&size| model.capacity_of(class) == size))
            };
            let fits = |load: &&Load| {
                choices.iter().zip(&load.contents).all(|(choices, &content)| choices.meets(content))
                    && load.contents.iter().zip(rounds).all(is_of_size)
            };
            let fitting = loads.of_channels(std::slice::from_ref(&channel)).filter(fits);
            fitting.map(|load| Holding::of(load, modules_count)).sorted_unstable().dedup().collect()
        };
        channels.iter().zip(&rounds).map(of).collect()
    };
    if *layout == Exempt::full(model, socket) && !model.channels_are_alike() {
        return vec![under(None)];
    }
    let sizes = loads.kinds.values().iter().map(|&class| model.capacity_of(class)).sorted().dedup();
    let most = rounds.iter().flatten().flatten().max().map_or(0, |most| most + 1);
    let all = (0..most).map(|_| sizes.clone()).multi_cartesian_product();
    all.map(|sizes| under(Some(&sizes))).collect()
}

/// Every way to choose one of each where all that are not nothing are the same; sorted.
fn of_one_height(options: &[Vec<Holding>], budget: &mut Budget<'_>) -> Result<Vec<Vec<Holding>>, StopReason> {
    let heights: Vec<u64> = options.iter().flatten().map(|held| held.mib).sorted_unstable().dedup().collect();
    let mut all = Vec::new();
    for height in heights {
        let own = |held: &Vec<Holding>| held.iter().copied().filter(|held| [0, height].contains(&held.mib)).collect();
        all.extend(combinations(&options.iter().map(own).collect::<Vec<Vec<Holding>>>(), budget)?);
    }
    all.sort_unstable();
    all.dedup();
    Ok(all)
}

/// Every way to choose one of each.
fn combinations(options: &[Vec<Holding>], budget: &mut Budget<'_>) -> Result<Vec<Vec<Holding>>, StopReason> {
    let mut all: Vec<Vec<Holding>> = vec![Vec::new()];
    for held in options {
        // clamped to what is too large as well
        let found = all.len().saturating_mul(held.len());
        if found > MOST_PROFILES {
            let (found, limit) = (wide(found), wide(MOST_PROFILES));
            return Err(StopReason::TooLarge { what: SearchSize::WaysToFill, found, limit });
        }
        budget.work(wide(found).saturating_mul(ONE_CHOICE))?;
        let with = |so_far: &Vec<Holding>| {
            let so_far = so_far.clone();
            held.iter().map(move |&more| so_far.iter().copied().chain([more]).collect::<Vec<Holding>>())
        };
        all = all.iter().flat_map(with).collect();
    }
    Ok(all)
}

/// Puts profiles of one pace together, the fastest for a capacity first.
pub(crate) fn ways_of(profiles: Vec<Profile>, scale: Scale) -> Table<WayIx, Way> {
    let mut known: BTreeMap<(PaceOrder, bool), Vec<Vec<Holding>>> = BTreeMap::new();
    for profile in profiles {
        known.entry((PaceOrder::of(&profile, scale), profile.is_exempt)).or_default().push(profile.held);
    }
    let way = |((order, is_exempt), held): ((PaceOrder, bool), _)| Way {
        pace: order.pace(),
        held: Held::OneOf(held),
        is_exempt,
    };
    known.into_iter().map(way).collect()
}

/// The order of paces: those that do not depend on the capacity first, then those of the least time.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct PaceOrder {
    /// 0 for a pace that does not depend on the capacity.
    most: u64,
    time: u64,
    fixed: Speed,
}

impl PaceOrder {
    fn of(profile: &Profile, scale: Scale) -> Self {
        match profile.parts.as_slice() {
            [] => Self { most: 0, time: 0, fixed: Speed::ZERO },
            [one] => Self { most: one.most, time: one.time, fixed: Speed::ZERO },
            many => {
                let sum = |over: fn(&Part) -> u64| many.iter().map(|part| scale.part(part.capacity, over(part))).sum();
                let fixed = Speed { spread: sum(|part| part.most), swept: sum(|part| part.time) };
                Self { most: 0, time: 0, fixed }
            }
        }
    }

    fn pace(&self) -> Pace {
        match *self {
            Self { most: 0, fixed, .. } => Pace::Fixed(fixed),
            Self { most, time, .. } => Pace::Over { most, time },
        }
    }
}
