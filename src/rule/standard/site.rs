//! What the rules on a module in a slot share.

use std::collections::BTreeSet;

use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::ModuleSite;
use crate::processor::{MissingFact, Processor};
use crate::rule::{Detail, Report};
use crate::stated::Stated;

/// The processor against whose limits a module is held. None where the slot is not live, or where the
/// module is of another form factor or generation: then that alone is worth saying.
pub(super) fn judged_by<'a>(site: &ModuleSite<'a>) -> Option<&'a Processor> {
    let fits = site.is_live()
        && site.module.form_factor().is_none_or(|found| found == site.slot().description().form_factor)
        && site.module.generation() == site.machine.platform().generation();
    site.processor().filter(|_| fits)
}

pub(super) fn place(site: &ModuleSite<'_>) -> Place {
    Place::slot(site.machine.platform(), site.slot)
}

/// A finding about a module: its slot and its text.
pub(super) fn about(site: &ModuleSite<'_>) -> Detail {
    Detail::at(place(site)).fact(FactName::Module, FactValue::text(&site.module.to_string()))
}

/// Holds a fact of a module against the values that its processor takes.
pub(super) fn hold<T: Ord + Copy>(
    site: &ModuleSite<'_>,
    limit: Option<&Stated<BTreeSet<T>>>,
    (found, missing): (Option<T>, MissingFact),
    value: impl Fn(T) -> FactValue,
    report: &mut Report<'_>,
) {
    let Some(limit) = limit else { return };
    match found {
        None => report.unknown(missing, || vec![place(site)]),
        Some(found) if !limit.value.contains(&found) => report.stated(limit, || {
            about(site)
                .fact(FactName::Found, value(found))
                .fact(FactName::Allowed, FactValue::list(limit.value.iter().map(|&allowed| value(allowed))))
                .remedy(Remedy::ReplaceModule)
        }),
        Some(_) => {}
    }
}
