//! What a channel may carry, learnt from the planner's judgement of small populations.

use slotwright::module::{DeviceWidth, Stack};
use slotwright::{Capacity, DataRate, MemoryModule, Planner, Population, Severity};

/// What must be the same in all channels: modules that share it stand in for each other.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Look {
    capacity: Capacity,
    package_ranks: Option<u8>,
    stack_height: Option<u32>,
    width: Option<DeviceWidth>,
}

impl Look {
    fn of(module: &MemoryModule) -> Self {
        Self {
            capacity: module.capacity(),
            package_ranks: module.package_ranks(),
            stack_height: module.stack().map(Stack::height),
            width: module.width(),
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
                let facts = |module: &MemoryModule| (module.kind(), module.ecc(), module.voltages().cloned());
                assert_eq!(facts(module), facts(best), "{module} and {best}");
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
}

/// Looks in a channel from the far end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Pattern {
    pub(crate) looks: Vec<usize>,
    pub(crate) mib: u64,
}

/// The patterns to which the rules object in no way and that run at the rate asked for. Where the order along
/// a channel is no matter, one for each multiset.
pub(crate) fn patterns(planner: &Planner<'_>, looks: &Looks, in_any_order: bool) -> Vec<Pattern> {
    let slots = planner.machine().platform().channels().iter().map(|channel| channel.slots.len()).max().unwrap_or(0);
    let mut found: Vec<Pattern> = Vec::new();
    let mut of_length = vec![Vec::new()];
    for _ in 0..slots {
        let longer = |looks_so_far: Vec<usize>| {
            (0..looks.len()).map(move |look| looks_so_far.iter().copied().chain([look]).collect::<Vec<_>>())
        };
        of_length = of_length.into_iter().flat_map(longer).collect();
        for sequence in &of_length {
            let sorted = |looks: &[usize]| {
                let mut looks = looks.to_vec();
                looks.sort_unstable();
                looks
            };
            let known = |pattern: &Pattern| sorted(&pattern.looks) == sorted(sequence);
            if !(in_any_order && found.iter().any(known)) && is_legal(planner, looks, sequence) {
                let mib = sequence.iter().map(|&look| looks.looks[look].capacity.mib()).sum();
                found.push(Pattern { looks: sequence.clone(), mib });
            }
        }
    }
    found
}

/// Whether all channels may carry a sequence.
fn is_legal(planner: &Planner<'_>, looks: &Looks, sequence: &[usize]) -> bool {
    let platform = planner.machine().platform();
    let mut population = Population::new();
    for channel in platform.channels() {
        for (&slot, &look) in channel.slots.iter().zip(sequence) {
            population = population.with(platform.slot(slot).label().clone(), looks.best[look].clone());
        }
    }
    let assessment = planner.assess(&population).unwrap();
    let runs_at = assessment.figures.running_rate.rate();
    assessment.from_severity(Severity::Warning).next().is_none() && looks.rate.is_none_or(|rate| runs_at >= Some(rate))
}
