use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::{MissingFact, MixProperty};
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixOf};

/// How many device widths may meet: x4 and x8 in one channel, say. Any where nobody says.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| {
        let width = site.module.width().ok_or(MissingFact::Width)?;
        Ok(Some(FactValue::Width(width)))
    };
    let bounds = mix_bounds::of(MixProperty::Width, None);
    Form::Mix(Mix { of: MixOf::Modules(Box::new(key)), bounds })
}

#[cfg(test)]
mod tests {
    use crate::processor::MixProperty;
    use crate::rule::standard::mix_cases;
    use crate::testing::{lacking, module, plain};

    #[test]
    fn unlike_modules() {
        let other = module("16GB 2Rx8 PC4-2400T-RE2-11");
        mix_cases::hold("width-mix", MixProperty::Width, &other);
        mix_cases::hold_no_default(&other);
    }

    #[test]
    fn a_missing_fact() {
        mix_cases::hold_unknown("width-mix", MixProperty::Width, &lacking(&plain(), &["width"]));
    }
}
