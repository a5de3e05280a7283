use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::platform::PairBan;
use crate::population::{Layout, ModuleSite};
use crate::processor::MissingFact;
use crate::rule::standard::scopes;
use crate::rule::{Detail, Form, Report};
use crate::stated::{Demand, Stated};

/// Two sorts of module never meet in a channel, at a processor or in the machine.
pub(super) fn form() -> Form {
    Form::Population(Box::new(|layout: &Layout<'_>, report: &mut Report<'_>| {
        for ban in &layout.machine().platform().description().pair_bans {
            scopes::each(layout, ban.value.within, |sites| check(ban, sites, report));
        }
    }))
}

/// Whether a module is of the first and of the second sort; a module never meets itself.
type Sorts = [Result<bool, MissingFact>; 2];

fn check(ban: &Stated<PairBan>, sites: &[ModuleSite<'_>], report: &mut Report<'_>) {
    let sorts: Vec<Sorts> = sites
        .iter()
        .map(|site| [&ban.value.first, &ban.value.second].map(|pattern| pattern.matches(site.module)))
        .collect();
    let is = |sort: Result<bool, MissingFact>| sort == Ok(true);
    let may_be = |sort: Result<bool, MissingFact>| sort != Ok(false);
    let at = |meets: &dyn Fn(usize) -> bool| -> Vec<Place> {
        let slots = sites.iter().enumerate().filter(|&(index, _)| meets(index));
        slots.map(|(_, site)| Place::slot(site.machine.platform(), site.slot)).collect()
    };
    if (0..sorts.len()).any(|index| meets_another(&sorts, index, is)) {
        report.stated(ban, || {
            Detail::at_all(at(&|index| meets_another(&sorts, index, is)))
                .fact(FactName::Found, FactValue::text(&ban.value.first.to_string()))
                .fact(FactName::With, FactValue::text(&ban.value.second.to_string()))
                .fact(FactName::Counting, FactValue::text(&format!("one {}", ban.value.within)))
                .remedy(Remedy::UseLikeModules)
        });
    } else if (0..sorts.len()).any(|index| meets_another(&sorts, index, may_be)) {
        let lacks = |index: usize| {
            let missing = sorts.get(index)?.iter().find_map(|sort| sort.err());
            missing.filter(|_| meets_another(&sorts, index, may_be))
        };
        if let Some(fact) = (0..sorts.len()).find_map(lacks) {
            let bound = (ban.basis, Demand::Required);
            report.unknown_bound(bound, fact, || at(&|index| lacks(index).is_some()));
        }
    }
}

/// Whether one module is of either sort and another of the other.
fn meets_another(sorts: &[Sorts], index: usize, holds: impl Fn(Result<bool, MissingFact>) -> bool) -> bool {
    let Some(&[first, second]) = sorts.get(index) else { return false };
    let others = || sorts.iter().enumerate().filter(|&(other, _)| other != index);
    (holds(first) && others().any(|(_, &[_, other])| holds(other)))
        || (holds(second) && others().any(|(_, &[other, _])| holds(other)))
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::machine::Machine;
    use crate::module::{MemoryModule, ModuleKind};
    use crate::platform::{PairBan, PlatformDescription};
    use crate::processor::ModulePattern;
    use crate::stated::{Basis, Scope, Stated};
    use crate::testing::{
        self, board, by_socket, clean, clean_population, codes, in_every_channel, lacking, name, plain, processor,
        verdicts,
    };

    fn of(class: &str) -> MemoryModule {
        plain().to_builder().class(name(class)).build().unwrap()
    }

    fn class(class: &str) -> ModulePattern {
        ModulePattern { class: Some(name(class)), ..ModulePattern::default() }
    }

    fn machine(first: ModulePattern, second: ModulePattern, within: Scope, basis: Basis) -> Machine {
        let pair_bans = vec![Stated::new(PairBan { first, second, within }, basis)];
        testing::machine(PlatformDescription { pair_bans, ..board() }, processor())
    }

    #[test]
    fn banned_pairs() {
        let found = |within, basis| {
            let machine = machine(class("one"), class("two"), within, basis);
            assert_eq!(codes(&machine, &clean_population(&machine)), [""; 0]);
            assert_eq!(codes(&machine, &in_every_channel(&machine, &[&of("one"), &of("one")])), [""; 0]);
            let pair = verdicts(&machine, &in_every_channel(&machine, &[&of("one"), &of("two")]));
            (pair, codes(&machine, &by_socket(&machine, &[&of("two")], &[&of("one")])))
        };
        let broken = |severity| vec![(severity, Verdict::Violated, "pair-ban".to_owned())];
        let none = Vec::<String>::new();
        assert_eq!(found(Scope::Channel, Basis::BoardManual), (broken(Severity::Error), none.clone()));
        assert_eq!(found(Scope::Socket, Basis::MakersList), (broken(Severity::Warning), none));
        let machine_wide = found(Scope::Machine, Basis::BoardManual);
        assert_eq!(machine_wide, (broken(Severity::Error), vec!["pair-ban".to_owned()]));
        assert_eq!(codes(&clean(), &in_every_channel(&clean(), &[&of("one"), &of("two")])), [""; 0]);
    }

    #[test]
    fn a_sort_that_does_not_meet_itself_may_be_alone() {
        let registered = || ModulePattern::kind(ModuleKind::Registered);
        let machine = machine(registered(), registered(), Scope::Channel, Basis::BoardManual);
        assert_eq!(codes(&machine, &clean_population(&machine)), [""; 0]);
        assert_eq!(codes(&machine, &in_every_channel(&machine, &[&plain(), &plain()])), ["pair-ban"]);
    }

    #[test]
    fn a_missing_fact_leaves_it_open() {
        let bare = lacking(&of("one"), &["stack", "package_ranks"]);
        let stacked = ModulePattern { stack_height: Some(2), ..ModulePattern::default() };
        let found = |second: &ModulePattern, basis| {
            let machine = machine(class("two"), second.clone(), Scope::Channel, basis);
            verdicts(&machine, &in_every_channel(&machine, &[&of("two"), &bare]))
        };
        let open = (Severity::Warning, Verdict::Unknown, "pair-ban".to_owned());
        assert!(found(&stacked, Basis::BoardManual).contains(&open));
        assert!(!found(&stacked, Basis::MakersList).contains(&open));
    }
}
