use std::collections::BTreeSet;

use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::{Layout, ModuleSite};
use crate::processor::{MissingFact, MixProperty};
use crate::rule::standard::{mix_bounds, scopes};
use crate::rule::{Detail, Form, MixBound, Report};

/// Die densities may mix only where widths do not. Two keys at once, so that it is no plain mix.
pub(super) fn form() -> Form {
    Form::Population(Box::new(|layout: &Layout<'_>, report: &mut Report<'_>| {
        for bound in mix_bounds::stated(layout.machine(), MixProperty::DieDensityUnlessOneWidth) {
            scopes::each(layout, bound.within, |sites| check(&bound, sites, report));
        }
    }))
}

/// The values known, and how many modules lack theirs.
fn known<T: Ord>(values: impl Iterator<Item = Option<T>>) -> (BTreeSet<T>, usize) {
    let (mut known, mut missing) = (BTreeSet::new(), 0);
    for value in values {
        match value {
            Some(value) => drop(known.insert(value)),
            None => missing += 1,
        }
    }
    (known, missing)
}

fn check(bound: &MixBound, sites: &[ModuleSite<'_>], report: &mut Report<'_>) {
    let (densities, densities_missing) = known(sites.iter().map(|site| site.module.die_density()));
    let (widths, widths_missing) = known(sites.iter().map(|site| site.module.width()));
    let place = |site: &ModuleSite<'_>| Place::slot(site.machine.platform(), site.slot);
    if densities.len() > bound.at_most && widths.len() > 1 {
        report.grounded((bound.basis, bound.source.as_ref()), bound.demand, || {
            Detail::at_all(sites.iter().map(place))
                .fact(FactName::Found, FactValue::list(densities.into_iter().map(FactValue::DensityMbit)))
                .fact(FactName::With, FactValue::list(widths.into_iter().map(FactValue::Width)))
                .fact(FactName::AtMost, FactValue::count(bound.at_most))
                .fact(FactName::Counting, FactValue::text(&format!("die densities in one {}", bound.within)))
                .remedy(Remedy::UseLikeModules)
        });
    } else if densities.len() + densities_missing > bound.at_most && widths.len() + widths_missing > 1 {
        // only more densities, or else more widths, can break it
        let by_density = densities.len() <= bound.at_most;
        let fact = if by_density { MissingFact::DieDensity } else { MissingFact::Width };
        let lacks = |site: &&ModuleSite<'_>| match by_density {
            true => site.module.die_density().is_none(),
            false => site.module.width().is_none(),
        };
        report.unknown_bound((bound.basis, bound.demand), fact, || sites.iter().filter(lacks).map(place).collect());
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::machine::Machine;
    use crate::module::MemoryModule;
    use crate::platform::PlatformDescription;
    use crate::processor::{MixLimit, MixProperty, ProcessorDescription};
    use crate::stated::{Basis, Scope, Stated};
    use crate::testing::{self, board, clean, codes, in_every_channel, lacking, module, plain, processor, verdicts};

    fn machine(within: Scope, basis: Basis) -> Machine {
        let limit = MixLimit { property: MixProperty::DieDensityUnlessOneWidth, within, at_most: 1 };
        let board = PlatformDescription { mix_limits: vec![Stated::new(limit, basis)], ..board() };
        testing::machine(board, ProcessorDescription { die_densities_mbit: None, ..processor() })
    }

    #[test]
    fn densities_mix_where_widths_do_not() {
        // 8 Gb in x4 beside 4 Gb in x4, 8 Gb in x8 and 4 Gb in x8
        let (half, same_dies, both) = (
            module("16GB 2Rx4 PC4-2400T-RA2-11"),
            module("16GB 2Rx8 PC4-2400T-RE2-11"),
            module("8GB 2Rx8 PC4-2400T-RE2-11"),
        );
        let found = |basis, other| {
            let machine = machine(Scope::Channel, basis);
            verdicts(&machine, &in_every_channel(&machine, &[&plain(), other]))
        };
        let broken = |severity| [(severity, Verdict::Violated, "density-across-widths".to_owned())];
        assert_eq!(found(Basis::BoardManual, &half), []);
        assert_eq!(found(Basis::BoardManual, &same_dies), []);
        assert_eq!(found(Basis::BoardManual, &both), broken(Severity::Error));
        assert_eq!(found(Basis::MakersList, &both), broken(Severity::Warning));
        assert_eq!(codes(&clean(), &in_every_channel(&clean(), &[&plain(), &both])), [""; 0]);
    }

    #[test]
    fn a_missing_fact_leaves_it_open() {
        let machine = machine(Scope::Channel, Basis::BoardManual);
        let open = [(Severity::Warning, Verdict::Unknown, "density-across-widths".to_owned())];
        let found = |other: &MemoryModule| verdicts(&machine, &in_every_channel(&machine, &[&plain(), other]));
        assert_eq!(found(&lacking(&plain(), &["width", "die_density_mbit"])), open);
        // with the width known to be the same, or the density, it is settled
        assert_eq!(found(&lacking(&plain(), &["package_ranks", "die_density_mbit"])), []);
        assert_eq!(found(&lacking(&plain(), &["width"])), []);
        assert_eq!(found(&lacking(&module("16GB 2Rx4 PC4-2400T-RA2-11"), &["width"])), open);
    }
}
