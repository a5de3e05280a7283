use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::{MissingFact, MixProperty};
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixBound};
use crate::stated::Scope;
/// Stacked modules never with plain ones, unless someone says otherwise.
pub(super) fn form() -> Form {
    let (stacked, plain) = (FactValue::text("stacked"), FactValue::text("plain"));
    let key = move |site: &ModuleSite<'_>| {
        let stack = site.module.stack().ok_or(MissingFact::Stack)?;
        Ok(Some(if stack.is_stacked() { stacked.clone() } else { plain.clone() }))
    };
    let bounds = mix_bounds::of(MixProperty::Stacked, Some(MixBound::new(Scope::Machine, 1)));
    Form::Mix(Mix { of: mix_bounds::of_modules(key), bounds })
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::processor::MixProperty;
    use crate::rule::standard::mix_cases;
    use crate::testing::{lacking, module, plain};

    #[test]
    fn unlike_modules() {
        let other = module("64GB 2S2Rx4 PC4-2400T-RB2-11");
        mix_cases::hold("stacked-mix", MixProperty::Stacked, &other);
        mix_cases::hold_default("stacked-mix", Severity::Error, &other);
    }

    #[test]
    fn a_missing_fact() {
        mix_cases::hold_unknown(
            "stacked-mix",
            MixProperty::Stacked,
            &lacking(&plain(), &["stack", "package_ranks", "width"]),
        );
    }
}
