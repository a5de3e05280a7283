//! What a missing fact leaves open of the running rate.

use proptest::prelude::*;
use slotwright::figure::RunningRate;
use slotwright::machine::Machine;
use slotwright::module::MemoryModule;
use slotwright::population::{Layout, Occupant, Population};
use slotwright::reference;
use slotwright::unit::DataRate;

use crate::boards::{self, Source, bytes, config, module, name};

/// The same module, of which a fact or two are not known.
fn less_known(source: &mut Source<'_>, module: &MemoryModule) -> MemoryModule {
    let builder = module.to_builder();
    match source.below(5) {
        0 => builder.grade(None),
        1 => builder.package_ranks(None),
        2 => builder.width(None).die_density(None),
        3 => builder.stack(None).die_density(None),
        _ => builder.package_ranks(None).width(None).stack(None).voltages(None).die_density(None),
    }
    .build()
    .unwrap()
}

proptest! {
    #![proptest_config(config(600))]

    #[test]
    fn law_what_runs_is_in_the_range_that_missing_facts_leave(bytes in bytes(200)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 12);
        let sorts = boards::sorts(&mut source, machine.platform().generation(), 3);
        let known = boards::fitted(&mut source, &boards::live(&machine), &sorts, 2);
        let mut vague = Population::new();
        for (slot, occupant) in known.iter() {
            let occupant = match occupant {
                Occupant::Module(fitted) if source.once_in(2) => {
                    Occupant::module(less_known(&mut source, &fitted.module))
                }
                other => other.clone(),
            };
            vague.put(slot.clone(), occupant);
        }
        let rate = |population: &Population| RunningRate::of(&Layout::new(&machine, population).unwrap());
        for (domain, vague) in rate(&known).domains.iter().zip(rate(&vague).domains) {
            let Some(range) = vague.range_mts.filter(|_| domain.range_mts.is_none()) else { continue };
            prop_assert!(vague.rate_mts.is_none());
            prop_assert!(range.at_least_mts.is_none_or(|least| least <= range.at_most_mts));
            match domain.rate_mts {
                Some(rate) => {
                    prop_assert!(rate <= range.at_most_mts, "{rate} {vague}");
                    prop_assert!(range.at_least_mts.is_none_or(|least| least <= rate), "{rate} {vague}");
                }
                None => prop_assert!(range.at_least_mts.is_none(), "{domain} {vague}"),
            }
        }
    }
}

// 24 modules of one or two ranks run at 1866 or at 1600, and never at none
#[test]
fn one_module_of_unknown_ranks_leaves_a_range() {
    let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build().unwrap();
    let known = module("32GB 2Rx4 PC4-2400T-RB2-11");
    let ranks_unknown = known.to_builder().package_ranks(None).build().unwrap();
    let population = Population::new().with(name("A1"), known.clone()).with(name("B1"), ranks_unknown);
    let rate = RunningRate::of(&Layout::new(&machine, &population).unwrap());
    assert_eq!(rate.rate(), None);
    let range = rate.domains[0].range_mts.unwrap();
    assert_eq!(range.at_most_mts, DataRate::DDR4_2400);
    let text = rate.to_string();
    assert!(text.contains("the package ranks of modules are not known (slot B1)"), "{text}");
    assert!(text.contains("Binding, at most 2400 MT/s: the modules' grade (slots A1, B1)"), "{text}");
}
