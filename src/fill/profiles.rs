//! The ways to fill a processor's channels one by one, where exact sets or domains of interleave matter.

use std::collections::BTreeMap;

use itertools::Itertools;

use crate::figure::regions::{Domain, domains, members};
use crate::fill::loads::Loads;
use crate::fill::pace::{Held, Pace, Scale, Way};
use crate::fill::target::Speed;
use crate::fill::{SlotModel, SocketIx, WayIx};
use crate::machine::Wiring;
use crate::search::{SearchSize, StopReason, Table, wide};

/// The most ways to fill a processor's channels that are looked at one by one.
const MOST_PROFILES: usize = 1 << 18;

/// A way to fill a processor's channels, one by one.
pub(crate) struct Profile {
    /// By channel in order, in MiB.
    held: Vec<u64>,
    /// Its domains with memory.
    parts: Vec<Part>,
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
    fn new(model: &SlotModel<'_>, wiring: &Wiring, wired: &[usize], held: Vec<u64>) -> Option<Self> {
        let caps: Vec<u64> = wired.iter().filter_map(|&channel| held.get(channel).copied()).collect();
        let (domains, _) = domains(wiring, &caps);
        if model.in_force.one_region && domains.iter().any(|domain| domain.regions.len() > 1) {
            return None;
        }
        let holds = |set: u64| members(set).any(|channel| caps.get(channel).is_some_and(|&cap| cap > 0));
        let mut asked = wiring.divisions.first().into_iter().flat_map(|division| &division.domains);
        let has_memory = caps.iter().any(|&cap| cap > 0);
        if model.in_force.memory_in_each_domain && has_memory && !asked.all(|&domain| holds(domain)) {
            return None;
        }
        let part =
            |domain: &Domain| Part { capacity: domain.capacity(), most: domain.most(&caps), time: domain.time() };
        Some(Self { parts: domains.iter().map(part).filter(|part| part.capacity > 0).collect(), held })
    }
}

/// Every way to fill a processor's channels that the rules on regions and domains in force allow.
pub(crate) fn profiles(
    model: &SlotModel<'_>,
    loads: &Loads,
    socket: SocketIx,
    wiring: &Wiring,
) -> Result<Vec<Profile>, StopReason> {
    let channels = model.channels_of(socket);
    let options = channels.iter().map(|channel| {
        let loads = loads.of_channels(std::slice::from_ref(channel));
        loads.map(|load| load.usable).sorted_unstable().dedup().collect()
    });
    let options: Vec<Vec<u64>> = options.collect();
    // where channels with memory must hold the same, each height is looked at by itself
    let alike = model.in_force.one_region || (model.loads_repeat().is_some() && !model.spares_ranks());
    let all = match alike && wiring.divisions.is_empty() {
        true => of_one_height(&options)?,
        false => combinations(&options)?,
    };
    let is_wired = |channel| model.channels.get(channel).is_some_and(|channel| wiring.channels.contains(&channel.id));
    let wired: Vec<usize> =
        channels.iter().enumerate().filter(|&(_, &channel)| is_wired(channel)).map(|(index, _)| index).collect();
    Ok(all.into_iter().filter_map(|held| Profile::new(model, wiring, &wired, held)).collect())
}

/// Every way to choose one of each where all that are not nothing are the same; sorted.
fn of_one_height(options: &[Vec<u64>]) -> Result<Vec<Vec<u64>>, StopReason> {
    let heights: Vec<u64> = options.iter().flatten().copied().sorted_unstable().dedup().collect();
    let mut all = Vec::new();
    for height in heights {
        let own = |held: &Vec<u64>| held.iter().copied().filter(|&held| held == 0 || held == height).collect();
        all.extend(combinations(&options.iter().map(own).collect::<Vec<Vec<u64>>>())?);
    }
    all.sort_unstable();
    all.dedup();
    Ok(all)
}

/// Every way to choose one of each.
fn combinations(options: &[Vec<u64>]) -> Result<Vec<Vec<u64>>, StopReason> {
    let mut all: Vec<Vec<u64>> = vec![Vec::new()];
    for held in options {
        // clamped to what is too large as well
        let found = all.len().saturating_mul(held.len());
        if found > MOST_PROFILES {
            let (found, limit) = (wide(found), wide(MOST_PROFILES));
            return Err(StopReason::TooLarge { what: SearchSize::WaysToFill, found, limit });
        }
        let with = |so_far: &Vec<u64>| {
            let so_far = so_far.clone();
            held.iter().map(move |&more| so_far.iter().copied().chain([more]).collect::<Vec<u64>>())
        };
        all = all.iter().flat_map(with).collect();
    }
    Ok(all)
}

/// Puts profiles of one pace together, the fastest for a capacity first.
pub(crate) fn ways_of(profiles: Vec<Profile>, scale: Scale) -> Table<WayIx, Way> {
    let mut known: BTreeMap<PaceOrder, Vec<Vec<u64>>> = BTreeMap::new();
    for profile in profiles {
        known.entry(PaceOrder::of(&profile, scale)).or_default().push(profile.held);
    }
    known.into_iter().map(|(order, held)| Way { pace: order.pace(), held: Held::OneOf(held) }).collect()
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
