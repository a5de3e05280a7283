use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::{MissingFact, MixProperty};
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixOf};

/// How many die densities may meet. Any where nobody says.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| {
        let density = site.module.die_density().ok_or(MissingFact::DieDensity)?;
        Ok(Some(FactValue::DensityMbit(density)))
    };
    let bounds = mix_bounds::of(MixProperty::DieDensity, None);
    Form::Mix(Mix { of: MixOf::Modules(Box::new(key)), bounds })
}

#[cfg(test)]
mod tests {
    use crate::processor::MixProperty;
    use crate::rule::standard::mix_cases;
    use crate::testing::{lacking, module, plain};

    #[test]
    fn unlike_modules() {
        let other = module("16GB 2Rx4 PC4-2400T-RA2-11");
        mix_cases::hold("density-mix", MixProperty::DieDensity, &other);
        mix_cases::hold_no_default(&other);
    }

    #[test]
    fn a_missing_fact() {
        mix_cases::hold_unknown(
            "density-mix",
            MixProperty::DieDensity,
            &lacking(&plain(), &["width", "die_density_mbit"]),
        );
    }
}
