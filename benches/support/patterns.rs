//! What a channel may carry, learnt from the planner's judgement of small populations.

use std::collections::BTreeMap;

use slotwright::module::{DeviceWidth, Ecc, ModuleKind, Stack};
use slotwright::platform::ChannelId;
use slotwright::{Capacity, DataRate, MemoryModule, Planner, Population, Severity};

/// What the rules tell apart above the rate asked for: modules that share it stand in for each other.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Look {
    capacity: Capacity,
    package_ranks: Option<u8>,
    stack_height: Option<u32>,
    width: Option<DeviceWidth>,
    kind: ModuleKind,
    ecc: Option<Ecc>,
}

impl Look {
    fn of(module: &MemoryModule) -> Self {
        Self {
            capacity: module.capacity(),
            package_ranks: module.package_ranks(),
            stack_height: module.stack().map(Stack::height),
            width: module.width(),
            kind: module.kind(),
            ecc: module.ecc(),
        }
    }
}

/// The modules that fit a request's rate, by what they look like to the rules.
#[derive(Debug, Default)]
pub(crate) struct Looks {
    looks: Vec<Look>,
    /// The module of the highest grade of each look.
    best: Vec<MemoryModule>,
    rate: Option<DataRate>,
}

impl Looks {
    /// # Panics
    /// Where modules of one look differ in more than their grade: the rules might tell them apart.
    pub(crate) fn new<'m>(modules: impl Iterator<Item = &'m MemoryModule>, rate: Option<DataRate>) -> Self {
        let mut all = Self { rate, ..Self::default() };
        for module in modules.filter(|module| rate.is_none_or(|rate| module.grade() >= Some(rate))) {
            let look = Look::of(module);
            if let Some(index) = all.looks.iter().position(|known| *known == look) {
                let best = &mut all.best[index];
                assert_eq!(module.voltages(), best.voltages(), "{module} and {best}");
                if module.grade() > best.grade() {
                    *best = module.clone();
                }
            } else {
                all.looks.push(look);
                all.best.push(module.clone());
            }
        }
        all
    }

    pub(crate) fn len(&self) -> usize {
        self.looks.len()
    }

    /// The look of a module, where it is fast enough.
    pub(crate) fn find(&self, module: &MemoryModule) -> Option<usize> {
        let look = Look::of(module);
        let fast = self.rate.is_none_or(|rate| module.grade() >= Some(rate));
        self.looks.iter().position(|known| *known == look).filter(|_| fast)
    }

    /// What modules of these looks hold together.
    pub(crate) fn mib(&self, sequence: &[Option<usize>]) -> u64 {
        sequence.iter().flatten().map(|&look| self.looks[look].capacity.mib()).sum()
    }
}

/// The looks in a channel's slots from the far end.
pub(crate) type Sequence = Vec<Option<usize>>;

/// Its looks in whatever order.
pub(crate) fn sorted(sequence: &[Option<usize>]) -> Vec<usize> {
    let mut looks: Vec<usize> = sequence.iter().copied().flatten().collect();
    looks.sort_unstable();
    looks
}

/// Every sequence of at most so many slots. Those with a gap in them are for channels in which something is already.
pub(crate) fn sequences(looks: usize, slots: usize, with_gaps: bool) -> Vec<Sequence> {
    let gap = if with_gaps { 0 } else { 1 };
    let mut all: Vec<Sequence> = Vec::new();
    let mut of_length: Vec<Sequence> = vec![Vec::new()];
    for _ in 0..slots {
        let contents = || (gap..=looks).map(|content| content.checked_sub(1));
        let longer = |so_far: Sequence| contents().map(move |content| [so_far.clone(), vec![content]].concat());
        of_length = of_length.into_iter().flat_map(longer).collect();
        all.extend(of_length.iter().filter(|sequence| sequence.last().is_some_and(Option::is_some)).cloned());
    }
    all
}

/// Of some sequences those that may be, by what they hold in whatever order; where order is no matter, one of each.
pub(crate) fn by_content(
    sequences: Vec<Sequence>,
    in_any_order: bool,
    may_be: impl Fn(&Sequence) -> bool,
) -> BTreeMap<Vec<usize>, Vec<Sequence>> {
    let mut by_content: BTreeMap<Vec<usize>, Vec<Sequence>> = BTreeMap::new();
    for sequence in sequences {
        let content = sorted(&sequence);
        if !(in_any_order && by_content.contains_key(&content)) && may_be(&sequence) {
            by_content.entry(content).or_default().push(sequence);
        }
    }
    by_content
}

/// Asks the planner.
pub(crate) struct Judge<'p> {
    pub(crate) planner: &'p Planner<'p>,
    pub(crate) looks: &'p Looks,
    /// From which severity on a finding refuses.
    pub(crate) refuse_from: Severity,
}

impl Judge<'_> {
    /// Whether channels may hold this together, at the rate asked for; some rules may be left out.
    pub(crate) fn allows(&self, channels: &[(ChannelId, Sequence)], except: &[&str]) -> bool {
        let platform = self.planner.machine().platform();
        let mut population = Population::new();
        for (channel, sequence) in channels {
            for (&slot, look) in platform.channel(*channel).slots.iter().zip(sequence) {
                let Some(look) = *look else { continue };
                population = population.with(platform.slot(slot).label().clone(), self.looks.best[look].clone());
            }
        }
        let assessment = self.planner.assess(&population).unwrap();
        let runs_at = assessment.figures.running_rate.rate();
        let fast = self.looks.rate.is_none_or(|rate| runs_at >= Some(rate));
        fast && assessment.from_severity(self.refuse_from).all(|finding| except.contains(&finding.code.as_str()))
    }

    /// The looks by what may be in one machine together: of each look its class.
    ///
    /// # Panics
    /// Where that is no matter of classes.
    pub(crate) fn classes(&self, places: &[Vec<ChannelId>]) -> Vec<usize> {
        let together = |a: usize, b: usize| {
            let other = places[b].iter().find(|&&channel| Some(&channel) != places[a].first());
            match (places[a].first(), other) {
                (Some(&one), Some(&other)) => self.allows(&[(one, vec![Some(a)]), (other, vec![Some(b)])], &[]),
                _ => true,
            }
        };
        let mut classes: Vec<usize> = Vec::new();
        for look in 0..self.looks.len() {
            let with: Vec<bool> = (0..look)
                .map(|other| !places[look].is_empty() && !places[other].is_empty() && together(look, other))
                .collect();
            let class = with.iter().position(|&goes| goes).map_or(look, |other| classes[other]);
            for (other, goes) in
                with.into_iter().enumerate().filter(|(other, _)| !places[look].is_empty() && !places[*other].is_empty())
            {
                assert_eq!(goes, classes[other] == class, "{} and {}", self.looks.best[look], self.looks.best[other]);
            }
            classes.push(class);
        }
        classes
    }
}
