use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::{MissingFact, MixProperty};
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixBound, MixOf};
use crate::stated::Scope;
/// One width of error correction per machine, unless someone says otherwise: correcting modules never with
/// others, nor those of 4 check bits with those of 8.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| {
        let ecc = site.module.ecc().ok_or(MissingFact::Ecc)?;
        Ok(Some(FactValue::Ecc(ecc)))
    };
    let bounds = mix_bounds::of(MixProperty::Ecc, Some(MixBound::new(Scope::Machine, 1)));
    Form::Mix(Mix { of: MixOf::Modules(Box::new(key)), bounds })
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::module::Ecc;
    use crate::processor::MixProperty;
    use crate::rule::standard::mix_cases;
    use crate::testing::{lacking, plain};

    #[test]
    fn unlike_modules() {
        let other = plain().to_builder().ecc(Ecc::None).build().unwrap();
        mix_cases::hold("ecc-mix", MixProperty::Ecc, &other);
        mix_cases::hold_default("ecc-mix", Severity::Error, &other);
    }

    #[test]
    fn a_missing_fact() {
        mix_cases::hold_unknown("ecc-mix", MixProperty::Ecc, &lacking(&plain(), &["ecc"]));
    }
}
