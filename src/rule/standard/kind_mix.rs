use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::MixProperty;
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixBound, MixOf};
use crate::stated::Scope;

/// One buffering kind per machine, unless the board says otherwise.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| Ok(Some(FactValue::Kind(site.module.kind())));
    let default = Some(MixBound::new(Scope::Machine, 1));
    Form::Mix(Mix { of: MixOf::Modules(Box::new(key)), bounds: mix_bounds::of(MixProperty::Kind, default) })
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::processor::MixProperty;
    use crate::rule::standard::mix_cases;
    use crate::testing::module;

    #[test]
    fn unlike_modules() {
        let other = module("32GB 4DRx4 PC4-2400T-LD0-11");
        mix_cases::hold("kind-mix", MixProperty::Kind, &other);
        mix_cases::hold_default("kind-mix", Severity::Error, &other);
    }
}
