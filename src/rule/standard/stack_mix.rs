use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::{MissingFact, MixProperty};
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixOf};

/// How many heights of stack may meet; a module that is not stacked is 1 high. Any where nobody says, but
/// for stacked and plain modules.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| {
        let stack = site.module.stack().ok_or(MissingFact::Stack)?;
        Ok(Some(FactValue::StackHeight(stack.height())))
    };
    let bounds = mix_bounds::of(MixProperty::StackHeight, None);
    Form::Mix(Mix { of: MixOf::Modules(Box::new(key)), bounds })
}

#[cfg(test)]
mod tests {
    use crate::module::MemoryModule;
    use crate::processor::MixProperty;
    use crate::rule::standard::mix_cases;
    use crate::testing::{clean, codes, in_every_channel, module};

    fn two_high() -> MemoryModule {
        module("64GB 2S2Rx4 PC4-2400T-RB2-11")
    }

    #[test]
    fn unlike_modules() {
        let four_high = module("128GB 2S4Rx4 PC4-2400T-RB2-11");
        mix_cases::hold_between("stack-mix", MixProperty::StackHeight, &two_high(), &four_high);
        // without a limit of its own
        assert_eq!(codes(&clean(), &in_every_channel(&clean(), &[&two_high(), &four_high])), [""; 0]);
    }
}
