use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::MixProperty;
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixOf};

/// How many capacities may meet. Any where nobody says.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| Ok(Some(FactValue::CapacityMib(site.module.capacity())));
    let bounds = mix_bounds::of(MixProperty::Capacity, None);
    Form::Mix(Mix { of: MixOf::Modules(Box::new(key)), bounds })
}

#[cfg(test)]
mod tests {
    use crate::processor::MixProperty;
    use crate::rule::standard::mix_cases;
    use crate::testing::module;

    #[test]
    fn unlike_modules() {
        let other = module("16GB 2Rx4 PC4-2400T-RA2-11");
        mix_cases::hold("capacity-mix", MixProperty::Capacity, &other);
        mix_cases::hold_no_default(&other);
    }
}
