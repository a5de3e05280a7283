use std::collections::BTreeSet;

use crate::finding::{FactName, FactValue, Remedy};
use crate::platform::Mode;
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::standard::site;
use crate::rule::{Form, Report};
use crate::stated::Demand;

/// The correction of whole devices covers some device widths only, and needs check bits.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let Some(mode) = site.machine.mode_description() else { return };
    if site::judged_by(site).is_none() {
        return;
    }
    hold(site, mode, mode.widths.as_ref(), (site.module.width(), MissingFact::Width), FactValue::Width, report);
    hold(site, mode, mode.ecc.as_ref(), (site.module.ecc(), MissingFact::Ecc), FactValue::Ecc, report);
}

fn hold<T: Ord + Copy>(
    site: &ModuleSite<'_>,
    mode: &Mode,
    covered: Option<&BTreeSet<T>>,
    (found, missing): (Option<T>, MissingFact),
    value: impl Fn(T) -> FactValue,
    report: &mut Report<'_>,
) {
    let Some(covered) = covered else { return };
    match found {
        None => report.unknown(missing, || vec![site::place(site)]),
        Some(found) if !covered.contains(&found) => {
            report.grounded((mode.basis, mode.source.as_ref()), Demand::Required, || {
                site::about(site)
                    .fact(FactName::Found, value(found))
                    .fact(FactName::Allowed, FactValue::list(covered.iter().map(|&allowed| value(allowed))))
                    .fact(FactName::AskedBy, FactValue::Text(mode.name.clone()))
                    .remedy(Remedy::ReplaceModule)
            });
        }
        Some(_) => {}
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use crate::module::{DeviceWidth, Ecc, MemoryModule};
    use crate::platform::{Mode, PlatformDescription, Redundancy, Settings};
    use crate::stated::Basis;
    use crate::testing::{board, in_every_channel, lacking, machine, module, name, plain, processor, said};

    fn found(module: &MemoryModule) -> Vec<String> {
        let correction = Mode {
            widths: Some(BTreeSet::from([DeviceWidth::X4])),
            ecc: Some(BTreeSet::from([Ecc::Ecc])),
            ..Mode::new(name("one device"), Redundancy::DeviceCorrection, Basis::BoardManual)
        };
        let default_settings = Settings { mode: Some(name("one device")), ..Settings::default() };
        let machine =
            machine(PlatformDescription { modes: vec![correction], default_settings, ..board() }, processor());
        said(&machine, &in_every_channel(&machine, &[module]))
    }

    // rules of the trade: x8 loses the correction of a single device (TX300 S8 and RX4770 M6 manuals)
    #[test]
    fn devices_too_wide_and_modules_without_check_bits() {
        assert_eq!(found(&plain()), [""; 0]);
        assert_eq!(found(&module("16GB 2Rx8 PC4-2400T-RE2-11")), ["error correction-cover"]);
        let plain = plain();
        assert_eq!(found(&plain.to_builder().ecc(Ecc::None).build().unwrap()), ["error correction-cover"]);
        let bare = lacking(&plain, &["width", "die_density_mbit"]);
        assert!(found(&bare).contains(&"warning correction-cover unknown".to_owned()));
    }
}
