use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::MixProperty;
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixBound, MixOf};
use crate::stated::Scope;
/// Modules of several makers are worth a note, more where someone limits them. A module whose maker is not
/// known does not take part.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| Ok(site.module.maker().cloned().map(FactValue::Text));
    let bounds = mix_bounds::of(MixProperty::Maker, Some(MixBound::new(Scope::Machine, 1)));
    Form::Mix(Mix { of: MixOf::Modules(Box::new(key)), bounds })
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::module::MemoryModule;
    use crate::processor::MixProperty;
    use crate::rule::standard::mix_cases;
    use crate::testing::{clean, in_every_channel, name, plain, verdicts};

    fn by(maker: &str) -> MemoryModule {
        plain().to_builder().maker(name(maker)).build().unwrap()
    }

    #[test]
    fn unlike_modules() {
        let (first, second) = (by("one"), by("two"));
        mix_cases::hold_between("maker-mix", MixProperty::Maker, &first, &second);
        let mixed = in_every_channel(&clean(), &[&first, &second]);
        assert_eq!(verdicts(&clean(), &mixed), [(Severity::Note, Verdict::Violated, "maker-mix".to_owned())]);
        mix_cases::hold_no_default(&first);
    }
}
