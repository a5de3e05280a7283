use crate::intake::firmware_table::{Device, Field, Remarks};
use crate::module::Voltages;
use crate::population::{Remark, SeenModule};
use crate::unit::Voltage;

/// What lies below is a code in the place of a voltage.
const LEAST_MV: u32 = 800;
/// Memory never had more than 3.6 V.
const MOST_MV: u32 = 3_600;

/// The voltages at which the module may run into the module, as far as they are standard ones of its generation; the voltage at
/// which it runs.
pub(crate) fn voltages(device: &Device<'_>, module: &mut SeenModule, remarks: &mut Remarks) -> Option<Voltage> {
    let mut read = |value: Option<u32>, field: Field| {
        let mv = value?;
        if !(LEAST_MV..=MOST_MV).contains(&mv) {
            let at = || device.origin.at(field);
            remarks
                .add(|| Remark::unbelievable(&at(), field.name, &format!("{mv} mV"), "no module has such a voltage"));
            return None;
        }
        u16::try_from(mv).ok().map(Voltage::from_mv)
    };
    let ends = [read(device.least_voltage, Field::LEAST_VOLTAGE), read(device.most_voltage, Field::MOST_VOLTAGE)];
    let running = read(device.running_voltage, Field::RUNNING_VOLTAGE);
    let standard = module.generation.map_or(&[][..], |generation| generation.voltages());
    module.voltages_mv = Voltages::new(ends.into_iter().flatten().filter(|voltage| standard.contains(voltage)));
    running
}
