use crate::intake::firmware_table::{Device, Field, Remarks};
use crate::module::{Ecc, Generation};
use crate::population::{Remark, SeenModule};

/// The check bits, by the widths with and without them.
pub(crate) fn check_bits(device: &Device<'_>, module: &mut SeenModule, remarks: &mut Remarks) {
    let at = || device.origin.at(Field::TOTAL_WIDTH);
    let (Some(total), Some(data)) = (device.total_width, device.data_width) else { return };
    let (wide, narrow) = if total < data {
        let [found, with] = [("total", total), ("data", data)].map(|(what, bits)| format!("{what} {bits} bits"));
        remarks.add(|| Remark::contradiction(&at(), "width", &found, &with));
        (data, total)
    } else {
        (total, data)
    };
    let unbelievable = || {
        let found = format!("{wide} bits, {narrow} of them data");
        Remark::unbelievable(&at(), "width", &found, "no such module is known")
    };
    module.ecc = match (wide, narrow, module.generation) {
        (64, 64, _) => Some(Ecc::None),
        (72, 64, Some(Generation::Ddr3 | Generation::Ddr4)) => Some(Ecc::Ecc),
        (72, 64, Some(Generation::Ddr5)) => Some(Ecc::Ec4),
        (80, _, Some(Generation::Ddr5)) => Some(Ecc::Ec8),
        (72 | 80, 64, None) => None,
        _ => {
            remarks.add(unbelievable);
            None
        }
    };
}
