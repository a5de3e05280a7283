//! The sorts of module that a machine could be asked to take: what the standards can build.

use std::collections::BTreeSet;

use itertools::iproduct;

use crate::machine::Machine;
use crate::module::{
    DeviceWidth, Ecc, FormFactor, Generation, MemoryModule, ModuleKind, Organization, Stack, Voltages,
};
use crate::unit::Density;

/// Standard modules of every kind, die density and usual organization that the first processor takes, at
/// its highest rate, or the highest grade that the board takes; where tables name makers or part numbers, of none that they name. Which organizations are usual is common practice (no source); that stacks need DDR4
/// or later, and that dual-die packages end with DDR4, follow from the SPD standards.
pub(super) fn standard(machine: &Machine) -> Vec<MemoryModule> {
    let Some((_, processor)) = machine.processors().next() else { return Vec::new() };
    let generation = machine.platform().generation();
    let usual: &[u32] = match generation {
        Generation::Ddr3 => &[1, 2, 4, 8],
        Generation::Ddr4 => &[4, 8, 16],
        Generation::Ddr5 => &[16, 24, 32],
    };
    let densities: Vec<Density> = match &processor.description().die_densities_mbit {
        Some(limit) => limit.value.iter().copied().collect(),
        None => usual.iter().map(|&gbit| Density::from_gbit(gbit)).collect(),
    };
    let forms: BTreeSet<FormFactor> =
        machine.live_slots().map(|slot| machine.platform().slot(slot).description().form_factor).collect();
    let kinds = iproduct!(processor.description().kinds.value.iter().copied(), &forms);
    let sorts = kinds.flat_map(|(kind, &form_factor)| {
        iproduct!(organizations(kind, generation), &densities)
            .filter_map(move |(organization, &density)| module(machine, kind, form_factor, organization, density))
    });
    let mut modules: Vec<MemoryModule> = sorts.collect();
    modules.sort();
    modules.dedup();
    modules
}

fn organizations(kind: ModuleKind, generation: Generation) -> Vec<Organization> {
    let plain = |ranks: &[u8], widths: &[DeviceWidth]| {
        let pairs = ranks.iter().flat_map(|&ranks| widths.iter().map(move |&width| (ranks, width)));
        pairs
            .map(|(package_ranks, width)| Organization { package_ranks, stack: Stack::Single, width })
            .collect::<Vec<_>>()
    };
    let stacked = |stack| Organization { package_ranks: 2, stack, width: DeviceWidth::X4 };
    let has_stacks = generation != Generation::Ddr3;
    match kind {
        ModuleKind::Unbuffered => plain(&[1, 2], &[DeviceWidth::X8]),
        ModuleKind::Registered => {
            let ranks: &[u8] = if has_stacks { &[1, 2] } else { &[1, 2, 4] };
            let mut all = plain(ranks, &[DeviceWidth::X4, DeviceWidth::X8]);
            if has_stacks {
                all.extend([Stack::Stacked2, Stack::Stacked4].map(stacked));
            }
            all
        }
        ModuleKind::LoadReduced => {
            let dual = Organization { package_ranks: 4, stack: Stack::DualDie, width: DeviceWidth::X4 };
            match generation {
                Generation::Ddr3 => vec![dual],
                Generation::Ddr4 => [dual].into_iter().chain([Stack::Stacked4, Stack::Stacked8].map(stacked)).collect(),
                Generation::Ddr5 => [Stack::Stacked2, Stack::Stacked4].map(stacked).to_vec(),
            }
        }
        _ => Vec::new(),
    }
}

fn module(
    machine: &Machine,
    kind: ModuleKind,
    form_factor: FormFactor,
    organization: Organization,
    density: Density,
) -> Option<MemoryModule> {
    let (_, processor) = machine.processors().next()?;
    let generation = machine.platform().generation();
    let highest = processor.description().max_rate_mts.value;
    let corrects = kind != ModuleKind::Unbuffered;
    let usual = match (corrects, generation) {
        (false, _) => Ecc::None,
        (true, Generation::Ddr5) => Ecc::Ec8,
        (true, _) => Ecc::Ecc,
    };
    let ecc = match &processor.description().ecc {
        Some(limit) if !limit.value.contains(&usual) => *limit.value.iter().next_back()?,
        _ => usual,
    };
    let facts = MemoryModule::builder(generation, kind, organization.capacity(density));
    let facts = if machine.names_identity() {
        let (maker, part_number) = machine.unnamed();
        facts.maker(maker).part_number(part_number)
    } else {
        facts
    };
    facts
        .form_factor(form_factor)
        .organization(organization)
        .ecc(ecc)
        .grade(machine.highest_grade().map_or(highest, |own| own.min(highest)))
        .voltages(Voltages::new(processor.description().voltages_mv.value.iter())?)
        .build()
        .ok()
}
