use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::MixProperty;
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix};

/// How many classes of a maker may meet, where modules without a class count as one more. Any where nobody says.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| {
        // a list has one key for none that no class is named like
        let class = site.module.class().cloned().map(FactValue::Text);
        Ok(Some(class.unwrap_or_else(|| FactValue::list([]))))
    };
    let bounds = mix_bounds::of(MixProperty::ClassOrNone, None);
    Form::Mix(Mix { of: mix_bounds::of_modules(key), bounds })
}

#[cfg(test)]
mod tests {
    use crate::module::MemoryModule;
    use crate::processor::MixProperty;
    use crate::rule::standard::mix_cases;
    use crate::testing::{name, plain};

    fn of(class: &str) -> MemoryModule {
        plain().to_builder().class(name(class)).build().unwrap()
    }

    #[test]
    fn unlike_modules() {
        mix_cases::hold_between("class-or-none-mix", MixProperty::ClassOrNone, &of("first"), &of("second"));
        mix_cases::hold_no_default(&of("first"));
    }

    #[test]
    fn having_no_class_is_one_more_value() {
        mix_cases::hold_between("class-or-none-mix", MixProperty::ClassOrNone, &plain(), &of("first"));
    }
}
