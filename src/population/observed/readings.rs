//! What a seen module can be.

use crate::module::{DeviceWidth, Ecc, Generation, MemoryModule, ModuleKind, Organization, Stack, Voltages};
use crate::population::SeenModule;
use crate::unit::{Capacity, Density};

/// What a seen module can be, by the capacity formula, and what that leans on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Readings {
    /// Each is one; never two of the same facts. None where the size is not known.
    pub(crate) modules: Vec<MemoryModule>,
    pub(crate) rank_number: RankNumber,
}

/// What became of a rank number of which it is not known what it counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum RankNumber {
    /// There is none, or the ranks are known.
    NotAsked,
    /// It ruled out something.
    Leant,
    /// Nothing of this size has so many ranks.
    Dropped,
}

impl Generation {
    /// The densities of the dies that its modules were made of.
    ///
    /// Source: the module tables of JESD21-C 4.20.28, 4.19.4 and JESD305-R8 with the labels that are in use; 32 Gb for
    /// DDR5, and 1 and 2 Gb for DDR3, by labels and data sheets; common practice.
    pub(crate) fn densities(self) -> &'static [Density] {
        const DDR3: [Density; 5] = [
            Density::from_mbit(512),
            Density::from_gbit(1),
            Density::from_gbit(2),
            Density::from_gbit(4),
            Density::from_gbit(8),
        ];
        const DDR4: [Density; 4] =
            [Density::from_gbit(2), Density::from_gbit(4), Density::from_gbit(8), Density::from_gbit(16)];
        const DDR5: [Density; 3] = [Density::from_gbit(16), Density::from_gbit(24), Density::from_gbit(32)];
        match self {
            Self::Ddr3 => &DDR3,
            Self::Ddr4 => &DDR4,
            Self::Ddr5 => &DDR5,
        }
    }
}

/// Whether modules of a kind are made so. Where nothing else fits, more is taken to be possible.
///
/// Source: label tables of JESD21-C 4.19.4 (package ranks 1 to 4; two or four dies that each load), JESD79-4-1B (stacks
/// are x4 or x8), JESD400-5C; 8 ranks of DDR3 by its SPD; common practice for the rest.
fn is_made(generation: Generation, kind: ModuleKind, organization: Organization) -> bool {
    let Organization { package_ranks: ranks, stack, width } = organization;
    let is_buffered = match kind {
        ModuleKind::Registered | ModuleKind::LoadReduced | ModuleKind::MultiplexedRank => true,
        ModuleKind::Unbuffered | ModuleKind::ClockedUnbuffered => false,
        ModuleKind::CompressionAttached | ModuleKind::Soldered => return true,
    };
    let by_stack = match stack {
        Stack::Single => true,
        Stack::DualDie => ranks == 2 || ranks >= 4 && is_buffered,
        Stack::QuadDie => ranks >= 4 && is_buffered,
        Stack::Stacked2 | Stack::Stacked4 | Stack::Stacked8 | Stack::Stacked16 => is_buffered && ranks <= 2,
    };
    let by_ranks = match (generation, is_buffered) {
        (_, false) => ranks <= 2,
        (Generation::Ddr4 | Generation::Ddr5, true) => matches!(ranks, 1 | 2 | 4),
        (Generation::Ddr3, true) => matches!(ranks, 1 | 2 | 4 | 8),
    };
    let by_width = if is_buffered { width != DeviceWidth::X16 } else { width != DeviceWidth::X4 };
    by_stack && by_ranks && by_width
}

/// Every organization of a size that agrees with what is said, and its density.
fn organizations(seen: &SeenModule, generation: Generation, capacity: Capacity) -> Vec<(Organization, Density)> {
    let mut found = Vec::new();
    for &stack in Stack::ALL.iter().filter(|stack| stack.is_of(generation)) {
        for &width in DeviceWidth::ALL {
            for package_ranks in 1..=8 {
                let agrees = seen.stack.is_none_or(|said| said == stack)
                    && seen.width.is_none_or(|said| said == width)
                    && seen.package_ranks.is_none_or(|said| said == package_ranks);
                let organization = Organization::new(package_ranks, stack, width);
                let density = organization.density(capacity).filter(|_| agrees);
                if let Some(density) =
                    density.filter(|&density| seen.die_density_mbit.is_none_or(|said| said == density))
                {
                    found.push((organization, density));
                }
            }
        }
    }
    found
}

/// The first of some narrowings that leaves anything.
fn first_left<T: Clone>(all: &[T], narrowings: &[&dyn Fn(&T) -> bool]) -> Vec<T> {
    let left = narrowings.iter().map(|keep| all.iter().filter(|one| keep(one)).cloned().collect::<Vec<T>>());
    left.into_iter().find(|left| !left.is_empty()).unwrap_or_else(|| all.to_vec())
}

impl Readings {
    /// What a module can be.
    pub(crate) fn of(seen: &SeenModule) -> Self {
        let Some(capacity) = seen.capacity_mib else {
            return Self { modules: Vec::new(), rank_number: RankNumber::NotAsked };
        };
        let generations = seen.generation.map_or(Generation::ALL.to_vec(), |known| vec![known]);
        let usual = [ModuleKind::Unbuffered, ModuleKind::Registered, ModuleKind::LoadReduced];
        let kinds = seen.kind.map_or(usual.to_vec(), |known| vec![known]);
        let mut possible = Vec::new();
        for generation in generations {
            for &kind in &kinds {
                let all = organizations(seen, generation, capacity);
                let had = |one: &(Organization, Density)| generation.densities().contains(&one.1);
                let made = |one: &(Organization, Density)| is_made(generation, kind, one.0);
                let likely = first_left(&all, &[&|one| had(one) && made(one), &had, &made]);
                possible.extend(likely.into_iter().map(|of| (generation, kind, of)));
            }
        }
        let number = seen.rank_number.filter(|_| seen.package_ranks.is_none()).map(u32::from);
        let mut rank_number = RankNumber::NotAsked;
        if let Some(number) = number {
            let has = |one: &Organization| u32::from(one.package_ranks) == number || one.stacked_ranks() == number;
            let left: Vec<_> = possible.iter().filter(|(.., (organization, _))| has(organization)).copied().collect();
            rank_number = match left.len() {
                0 if !possible.is_empty() => RankNumber::Dropped,
                of if of < possible.len() => RankNumber::Leant,
                _ => RankNumber::NotAsked,
            };
            if !left.is_empty() {
                possible = left;
            }
        }
        let module = |(generation, kind, of)| module(seen, generation, kind, capacity, of);
        Self { modules: possible.into_iter().filter_map(module).collect(), rank_number }
    }
}

/// What a module can be, given what is said of it.
pub(crate) fn readings_of(seen: &SeenModule) -> Vec<MemoryModule> {
    Readings::of(seen).modules
}

impl SeenModule {
    /// Whether dies that its generation had give its size, organised as is said. A rank number counts package ranks, or
    /// package ranks times the height of a 3DS stack. So does what is not known.
    pub(crate) fn has_usual_die(&self) -> bool {
        let (Some(generation), Some(capacity)) = (self.generation, self.capacity_mib) else { return true };
        let stacks =
            Stack::ALL.iter().filter(|stack| stack.is_of(generation) && self.stack.is_none_or(|said| said == **stack));
        let widths = || DeviceWidth::ALL.iter().filter(|width| self.width.is_none_or(|said| said == **width));
        let number = self.rank_number;
        stacks.flat_map(|&stack| widths().map(move |&width| (stack, width))).any(|(stack, width)| {
            (1..=8_u8).filter(|ranks| self.package_ranks.is_none_or(|said| said == *ranks)).any(|ranks| {
                let organization = Organization::new(ranks, stack, width);
                let has_number = |number: u8| match stack.is_stacked() {
                    true => organization.stacked_ranks() == u32::from(number),
                    false => ranks == number,
                };
                (stack == Stack::Single || ranks > 1 || stack.is_stacked())
                    && number.is_none_or(has_number)
                    && organization.density(capacity).is_some_and(|density| generation.densities().contains(&density))
            })
        })
    }
}

/// A module of what is said and how it is laid out, with what follows from the standards.
fn module(
    seen: &SeenModule,
    generation: Generation,
    kind: ModuleKind,
    capacity: Capacity,
    (organization, density): (Organization, Density),
) -> Option<MemoryModule> {
    // registered modules of DDR3 and DDR4 are 72 bits wide: JESD21-C 4.19.4; nothing is said of small and mini ones
    let is_registered = matches!(kind, ModuleKind::Registered | ModuleKind::LoadReduced);
    let ecc = seen.ecc.filter(|ecc| generation.check_bits().contains(ecc));
    let ecc = ecc.or((is_registered && generation != Generation::Ddr5).then_some(Ecc::Ecc));
    let voltages = match generation.voltages() {
        [only] => Some(Voltages::only(*only)),
        _ => None,
    };
    MemoryModule::builder(generation, kind, capacity)
        .organization(organization)
        .die_density(density)
        .form_factor(seen.form_factor)
        .height(seen.height_um)
        .ecc(ecc)
        .grade(seen.grade_mts)
        .voltages(seen.voltages_mv.clone().or(voltages))
        .part_number(seen.part_number.clone())
        .maker(seen.maker.clone())
        .build()
        .ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::module as of_label;

    fn texts(seen: &SeenModule) -> Vec<String> {
        let text =
            |module: &MemoryModule| format!("{} of {}", module.organization().unwrap(), module.die_density().unwrap());
        Readings::of(seen).modules.iter().map(text).collect()
    }

    #[test]
    fn what_a_bare_report_leaves_open() {
        let seen = SeenModule::new()
            .generation(Generation::Ddr4)
            .kind(ModuleKind::Registered)
            .capacity(Capacity::from_gib(32))
            .rank_number(2);
        assert_eq!(
            texts(&seen),
            [
                "2Rx4 of 8 Gb",
                "2Rx8 of 16 Gb",
                "2DRx4 of 8 Gb",
                "2DRx8 of 16 Gb",
                "1S2Rx4 of 8 Gb",
                "2S2Rx4 of 4 Gb",
                "1S2Rx8 of 16 Gb",
                "2S2Rx8 of 8 Gb",
                "2S4Rx4 of 2 Gb",
                "2S4Rx8 of 4 Gb",
                "2S8Rx8 of 2 Gb"
            ]
        );
        assert_eq!(Readings::of(&seen).rank_number, RankNumber::Leant);
        assert_eq!(texts(&seen.clone().width(DeviceWidth::X8).stack(Stack::Single)), ["2Rx8 of 16 Gb"]);
        // no module of this size has 7 ranks
        let odd = Readings::of(&seen.clone().rank_number(7));
        assert_eq!(odd.rank_number, RankNumber::Dropped);
        assert!(odd.modules.len() > 11);
        assert!(Readings::of(&seen.capacity(None)).modules.is_empty());
    }

    // JESD400-5C: an asymmetric module of 48 GB of DDR4 has three ranks; nothing usual fits, so that more is possible
    #[test]
    fn where_nothing_usual_fits_more_is_possible() {
        let seen = SeenModule::new()
            .generation(Generation::Ddr4)
            .kind(ModuleKind::Registered)
            .capacity(Capacity::from_gib(48));
        assert!(texts(&seen).contains(&"3Rx4 of 8 Gb".to_owned()), "{:?}", texts(&seen));
    }

    // labels in use, as in the tests of labels
    #[test]
    fn what_labels_say_is_among_what_their_modules_can_be() {
        for label in [
            "16GB 2Rx4 PC3L-12800R-11-13-E2",
            "1GB 1Rx8 PC3-10600R-09-10-A0",
            "16GB 4Rx4 PC3-8500R-7-12-F0",
            "16GB 2Rx4 PC4-2133N-RA2-11",
            "16GB 1S2Rx4 PC4-2133N-RF1-10",
            "16GB 1S4Rx4 PC4-2133R-LZZZ-10",
            "32GB 2DRx8 PC4-2400U-UZZZ-11",
            "64GB 4DRx4 PC4-2666V-LD2-12-MA0",
            "64GB 2S2Rx4 PC4-2133P-RA1-10-DC0",
            "128GB 2S4Rx4 PC4-2933Y-LB1-12",
            "32GB 1Rx4 PC5-6400B-RC1-1211-XT",
            "48GB 1Rx4 PC5-4800B-PF0-1010-XT",
            "8GB 1Rx16 PC5-4800B-UC0-1010-XT",
        ] {
            let module = of_label(label);
            let seen = SeenModule::of(&module);
            assert_eq!(Readings::of(&seen).modules, std::slice::from_ref(&module), "{label}");
            let bare = SeenModule { stack: None, width: None, die_density_mbit: None, package_ranks: None, ..seen };
            assert!(Readings::of(&bare).modules.contains(&module), "{label}");
            let ranks = u8::try_from(module.stacked_ranks().unwrap()).unwrap();
            for number in [module.package_ranks().unwrap(), ranks] {
                assert!(Readings::of(&bare.clone().rank_number(number)).modules.contains(&module), "{label}");
            }
        }
    }
}
