use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::MixProperty;
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixOf};

/// How many classes of a maker may meet. A module without a class does not take part, as no line that names
/// a class speaks of it. Any where nobody says.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| Ok(site.module.class().cloned().map(FactValue::Text));
    let bounds = mix_bounds::of(MixProperty::Class, None);
    Form::Mix(Mix { of: MixOf::Modules(Box::new(key)), bounds })
}

#[cfg(test)]
mod tests {
    use crate::module::MemoryModule;
    use crate::platform::PlatformDescription;
    use crate::processor::{MixLimit, MixProperty};
    use crate::rule::standard::mix_cases;
    use crate::stated::{Basis, Scope, Stated};
    use crate::testing::{board, clean, codes, in_every_channel, machine, name, plain, processor};

    fn of(class: &str) -> MemoryModule {
        plain().to_builder().class(name(class)).build().unwrap()
    }

    #[test]
    fn unlike_modules() {
        let (first, second) = (of("first"), of("second"));
        mix_cases::hold_between("class-mix", MixProperty::Class, &first, &second);
        assert_eq!(codes(&clean(), &in_every_channel(&clean(), &[&first, &second])), [""; 0]);
        mix_cases::hold_no_default(&first);
    }

    #[test]
    fn a_module_without_class_does_not_take_part() {
        let limit = MixLimit { property: MixProperty::Class, within: Scope::Channel, at_most: 1 };
        let limits = vec![Stated::new(limit, Basis::BoardManual)];
        let machine = machine(PlatformDescription { mix_limits: limits, ..board() }, processor());
        assert_eq!(codes(&machine, &in_every_channel(&machine, &[&plain(), &of("first")])), [""; 0]);
    }
}
