use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::{Layout, ModuleSite};
use crate::rule::standard::scopes;
use crate::rule::{Detail, Form, Report};
use crate::stated::{Scope, Stated};

/// Only neighbouring sizes meet, where the board asks for it: the largest module of a channel, a processor or the machine
/// holds at most twice what the smallest does.
pub(super) fn form() -> Form {
    Form::Population(Box::new(|layout: &Layout<'_>, report: &mut Report<'_>| {
        if let Some(policy) = &layout.machine().platform().description().neighbouring_sizes {
            scopes::each(layout, policy.value, |sites| check(policy, sites, report));
        }
    }))
}

fn check(policy: &Stated<Scope>, sites: &[ModuleSite<'_>], report: &mut Report<'_>) {
    let sizes = || sites.iter().map(|site| site.module.capacity());
    let (Some(smallest), Some(largest)) = (sizes().min(), sizes().max()) else { return };
    if largest > smallest.times(2) {
        report.stated(policy, || {
            let odd = sites.iter().filter(|site| site.module.capacity() > smallest.times(2));
            Detail::at_all(odd.map(|site| Place::slot(site.machine.platform(), site.slot)))
                .fact(FactName::Found, FactValue::CapacityMib(largest))
                .fact(FactName::With, FactValue::CapacityMib(smallest))
                .fact(FactName::Counting, FactValue::text(&format!("one {}", policy.value)))
                .remedy(Remedy::UseLikeModules)
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::machine::Machine;
    use crate::module::MemoryModule;
    use crate::platform::PlatformDescription;
    use crate::population::Population;
    use crate::stated::{Basis, Scope, Stated};
    use crate::testing::{self, by_socket, codes, findings, in_every_channel, module, plain, said};

    fn machine(within: Scope, basis: Basis) -> Machine {
        let neighbouring_sizes = Some(Stated::new(within, basis));
        testing::machine(PlatformDescription { neighbouring_sizes, ..testing::board() }, testing::processor())
    }

    fn breaks(within: Scope, population: impl Fn(&Machine) -> Population) -> bool {
        let machine = machine(within, Basis::BoardManual);
        codes(&machine, &population(&machine)).contains(&"neighbouring-sizes".to_owned())
    }

    #[test]
    fn sizes_differ_by_one_step_at_most() {
        let strict = machine(Scope::Channel, Basis::BoardManual);
        let (eight, sixteen, large) =
            (module("8GB 1Rx8 PC4-2400T-RD2-11"), module("16GB 2Rx8 PC4-2400T-RE2-11"), plain());
        let said_of = |machine: &Machine, modules: &[&MemoryModule]| said(machine, &in_every_channel(machine, modules));
        assert!(said_of(&strict, &[&large, &sixteen]).is_empty());
        assert!(said_of(&strict, &[&sixteen, &eight]).is_empty());
        assert_eq!(said_of(&strict, &[&large, &eight]), ["error neighbouring-sizes"]);
        // neighbours of a third are no neighbours of each other
        assert_eq!(said_of(&strict, &[&large, &sixteen, &eight]), ["error neighbouring-sizes"]);
        let listed = machine(Scope::Channel, Basis::MakersList);
        assert_eq!(said_of(&listed, &[&large, &eight]), ["warning neighbouring-sizes"]);
        assert!(said_of(&testing::clean(), &[&large, &eight]).is_empty());
        let found = findings(&strict, &in_every_channel(&strict, &[&large, &eight]));
        assert_eq!((found.len(), found[0].places.len()), (8, 1));
    }

    #[test]
    fn sizes_meet_within_a_scope() {
        let (small, large) = (module("8GB 1Rx8 PC4-2400T-RD2-11"), plain());
        let together = |machine: &Machine| in_every_channel(machine, &[&large, &small]);
        let apart = |machine: &Machine| by_socket(machine, &[&large], &[&small]);
        let scopes = [Scope::Channel, Scope::Socket, Scope::Machine];
        assert_eq!(scopes.map(|within| breaks(within, together)), [true, true, true]);
        assert_eq!(scopes.map(|within| breaks(within, apart)), [false, false, true]);
    }
}
