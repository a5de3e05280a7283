use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::{Detail, Form, Report};

/// A processor addresses dies up to some density only.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let Some(limit) = site.processor().and_then(|processor| processor.die_densities_mbit.as_ref()) else { return };
    let place = || Place::slot(site.machine.platform(), site.slot);
    match site.module.die_density() {
        None => report.unknown(MissingFact::DieDensity, || vec![place()]),
        Some(density) if !limit.value.contains(&density) => report.stated(limit, || {
            Detail::at(place())
                .fact(FactName::Module, FactValue::text(&site.module.to_string()))
                .fact(FactName::Found, FactValue::DensityMbit(density))
                .fact(FactName::Allowed, FactValue::list(limit.value.iter().map(|&d| FactValue::DensityMbit(d))))
                .remedy(Remedy::ReplaceModule)
        }),
        Some(_) => {}
    }
}
