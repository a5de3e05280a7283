use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::{MissingFact, MixProperty};
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixOf};

/// How many counts of package ranks may meet. Any where nobody says.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| {
        let ranks = site.module.package_ranks().ok_or(MissingFact::PackageRanks)?;
        Ok(Some(FactValue::PackageRanks(ranks)))
    };
    let bounds = mix_bounds::of(MixProperty::PackageRanks, None);
    Form::Mix(Mix { of: MixOf::Modules(Box::new(key)), bounds })
}

#[cfg(test)]
mod tests {
    use crate::processor::MixProperty;
    use crate::rule::standard::mix_cases;
    use crate::testing::{lacking, module, plain};

    #[test]
    fn unlike_modules() {
        let other = module("16GB 1Rx4 PC4-2400T-RC2-11");
        mix_cases::hold("rank-mix", MixProperty::PackageRanks, &other);
        mix_cases::hold_no_default(&other);
    }

    #[test]
    fn a_missing_fact() {
        mix_cases::hold_unknown("rank-mix", MixProperty::PackageRanks, &lacking(&plain(), &["package_ranks"]));
    }
}
