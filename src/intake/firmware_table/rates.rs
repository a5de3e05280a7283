use crate::intake::firmware_table::{Device, Field, Remarks};
use crate::module::Generation;
use crate::population::{ModuleFact, Remark, SeenModule};
use crate::unit::DataRate;

/// No module is slower.
const LEAST_MTS: u32 = 100;
/// No module is faster.
pub(crate) const MOST_MTS: u32 = 20_000;

/// How far a rounding may lie from its standard rate, in thousandths; neighbours of one generation lie more than 40 apart.
const ODD_PER_MILLE: u64 = 15;

/// Roundings from further off that firmware is known to write, and what is meant.
const FAR_OFF: [(u32, DataRate); 2] = [(1639, DataRate::DDR3_1600), (2600, DataRate::DDR4_2666)];

/// The rated rate into the module; the rate at which it runs.
pub(crate) fn rates(device: &Device<'_>, module: &mut SeenModule, remarks: &mut Remarks) -> Option<DataRate> {
    let mut read = |value: Option<u32>, field| rate(value?, field, device, module.generation, remarks);
    let rated = read(device.rated, Field::RATED);
    let running = read(device.running, Field::RUNNING);
    if let Some((rate, is_inferred)) = rated {
        module.grade_mts = Some(rate);
        module.inferred.extend(is_inferred.then_some(ModuleFact::Grade));
    }
    let (rated, running) = (rated.map(|(rate, _)| rate), running.map(|(rate, _)| rate));
    if let (Some(rated), Some(running)) = (rated, running) {
        compare(device, rated, running, remarks);
    }
    running
}

/// The rate that a number stands for, and whether that is inferred.
fn rate(
    mts: u32,
    field: Field,
    device: &Device<'_>,
    generation: Option<Generation>,
    remarks: &mut Remarks,
) -> Option<(DataRate, bool)> {
    let at = || device.origin.at(field);
    let found = || format!("{mts} MT/s");
    if !(LEAST_MTS..=MOST_MTS).contains(&mts) {
        remarks.add(|| Remark::unbelievable(&at(), field.name, &found(), "no module has such a rate"));
        return None;
    }
    // most numbers are names of rates
    let rates = generation.map_or(&[][..], Generation::rates);
    if let Some(named) = rates.iter().find(|rate| rate.name_mts() == mts) {
        return Some((*named, false));
    }
    let exact = DataRate::from_mts(mts).ok()?;
    if exact.is_standard() {
        return Some((exact, false));
    }
    let Some(meant) = meant(mts, generation) else { return Some((exact, false)) };
    remarks.add(|| Remark::inferred(&at(), field.name, &meant.to_string(), &found()));
    Some((meant, true))
}

/// The standard rate that an odd rounding stands for.
fn meant(mts: u32, generation: Option<Generation>) -> Option<DataRate> {
    let is_known = |rate: &DataRate| generation.is_none_or(|generation| generation.rates().contains(rate));
    let far_off = FAR_OFF.iter().find(|(found, _)| *found == mts).map(|(_, rate)| *rate);
    let rates = DataRate::DDR3.into_iter().chain(DataRate::DDR4).chain(DataRate::DDR5).filter(is_known);
    let distance = |rate: &DataRate| {
        let (numerator, denominator) = rate.exact_mts();
        let (numerator, found) = (u64::from(numerator), u64::from(mts) * u64::from(denominator));
        (numerator.abs_diff(found) * 1000 <= numerator * ODD_PER_MILLE).then_some(numerator.abs_diff(found))
    };
    let nearest = || rates.filter_map(|rate| Some((distance(&rate)?, rate))).min();
    far_off.filter(is_known).or_else(|| nearest().map(|(_, rate)| rate))
}

/// What does not go together; running slower than rated does.
fn compare(device: &Device<'_>, rated: DataRate, running: DataRate, remarks: &mut Remarks) {
    let at = || device.origin.at(Field::RUNNING);
    let (full, twice) = (u64::from(rated.name_mts()), u64::from(running.name_mts()) * 2);
    if running > rated {
        let with = format!("rated {rated}");
        remarks.add(|| Remark::contradiction(&at(), Field::RUNNING.name, &running.to_string(), &with));
    } else if full.abs_diff(twice) * 50 <= full {
        let with = format!("rated {rated}: half of it, so that it may be in MHz");
        remarks.add(|| Remark::contradiction(&at(), Field::RUNNING.name, &running.to_string(), &with));
    }
}
