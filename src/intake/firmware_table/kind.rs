use crate::intake::firmware_table::generation::{MULTIPLEXED, MULTIPLEXED_TECHNOLOGY, MemoryType};
use crate::intake::firmware_table::words::{FORMS, LOAD_REDUCED, NON_VOLATILE, REGISTERED, UNBUFFERED};
use crate::intake::firmware_table::{Device, Field, Remarks, Size};
use crate::module::{FormFactor, ModuleKind};
use crate::population::{DeviceSort, ModuleFact, Remark, SeenModule};

/// The form factor of fully buffered modules, which no generation of this crate has.
const FULLY_BUFFERED: u8 = 0x0f;

/// What the form factor (0Eh) says: the form, and the kind where the form has one of its own.
struct Form {
    form: Option<FormFactor>,
    kind: Option<ModuleKind>,
}

fn form(code: u8) -> Form {
    let (form, kind) = match code {
        0x09 => (Some(FormFactor::Dimm), None),
        0x0d => (Some(FormFactor::SoDimm), None),
        0x12 => (Some(FormFactor::Dimm), Some(ModuleKind::ClockedUnbuffered)),
        0x13 => (Some(FormFactor::SoDimm), Some(ModuleKind::ClockedUnbuffered)),
        0x11 => (Some(FormFactor::Other), Some(ModuleKind::CompressionAttached)),
        // chips, rows of chips, dies
        0x05 | 0x0b | 0x10 => (Some(FormFactor::Other), Some(ModuleKind::Soldered)),
        // "other" is what firmware writes that does not know, as with memory types
        0x00..=0x02 | FULLY_BUFFERED | 0x14.. => (None, None),
        0x03..=0x11 => (Some(FormFactor::Other), None),
    };
    Form { form, kind }
}

/// Form factor and kind.
pub(crate) fn form_and_kind(device: &Device<'_>, module: &mut SeenModule, remarks: &mut Remarks) {
    let Form { form, kind: of_form } = form(device.form);
    if device.form > 2 && FORMS.of(device.form).is_none() {
        let at = || device.origin.at(Field::FORM);
        remarks.add(|| Remark::unknown_code(&at(), Field::FORM.name, &FORMS.text(device.form)));
    }
    if device.form == FULLY_BUFFERED {
        let why = "no module of DDR3, DDR4 or DDR5 has this form";
        remarks.add(|| Remark::unread(&device.origin.at(Field::FORM), &FORMS.text(device.form), why));
        return;
    }
    module.form_factor = form;
    let is_multiplexed = device.sort == MULTIPLEXED || device.technology == MULTIPLEXED_TECHNOLOGY;
    let own = if is_multiplexed { Some(ModuleKind::MultiplexedRank) } else { of_form };
    let of_bits = kind_of_bits(device, own, remarks);
    let agrees = |own: ModuleKind| match of_bits {
        Some(ModuleKind::Unbuffered) => !is_multiplexed,
        Some(_) => own == ModuleKind::MultiplexedRank,
        None => true,
    };
    if let (Some(own), Some(bits)) = (own.filter(|&own| !agrees(own)), of_bits) {
        let at = || device.origin.at(Field::DETAIL);
        remarks.add(|| Remark::contradiction(&at(), "kind", &bits.to_string(), &own.to_string()));
    }
    module.kind = own.or(of_bits);
    if own.is_none() {
        by_register(device, module, remarks);
    }
}

/// By the bits for buffering; load-reduced first, which some firmware sets beside registered.
fn kind_of_bits(device: &Device<'_>, own: Option<ModuleKind>, remarks: &mut Remarks) -> Option<ModuleKind> {
    let at = || device.origin.at(Field::DETAIL);
    let [load_reduced, registered, unbuffered] =
        [LOAD_REDUCED, REGISTERED, UNBUFFERED].map(|bit| device.has_detail(bit));
    if unbuffered && (load_reduced || registered) {
        remarks.add(|| Remark::contradiction(&at(), "kind", "registered", "unbuffered"));
    }
    match (load_reduced, registered, unbuffered) {
        (true, ..) => Some(ModuleKind::LoadReduced),
        (_, true, _) if device.hides_load_reduced && own.is_none() => {
            let why = "tools before 3.1 never print that a module is load-reduced: it is one or the other";
            remarks.add(|| Remark::unread(&at(), "registered", why));
            None
        }
        (_, true, _) => Some(ModuleKind::Registered),
        (.., true) => Some(ModuleKind::Unbuffered),
        _ => None,
    }
}

/// A module with a register is registered, if it is not load-reduced.
fn by_register(device: &Device<'_>, module: &mut SeenModule, remarks: &mut Remarks) {
    let at = || device.origin.at(Field::REGISTER_ID);
    match module.kind {
        _ if !device.has_register_id || device.hides_load_reduced => {}
        None => {
            module.kind = Some(ModuleKind::Registered);
            module.inferred.insert(ModuleFact::Kind);
            remarks.add(|| Remark::inferred(&at(), "kind", "registered", "the maker of its register"));
        }
        Some(ModuleKind::Unbuffered) => {
            remarks.add(|| Remark::contradiction(&at(), "kind", "a register", "unbuffered"));
        }
        Some(_) => {}
    }
}

/// The smallest size of which modules only have whole GiB.
const WHOLE_GIB_FROM: u64 = 64;

/// Whether it is something else than plain memory.
pub(crate) fn device_sort(device: &Device<'_>, module: &mut SeenModule, remarks: &mut Remarks) {
    let is_persistent = MemoryType::of(device.sort) == MemoryType::Persistent
        || matches!(device.technology, 5..=7)
        || device.has_detail(NON_VOLATILE);
    module.device = match device.size {
        _ if device.technology == 4 => Some(DeviceSort::Hybrid),
        _ if is_persistent => Some(DeviceSort::Persistent),
        Size::Kib(kib) if kib >= WHOLE_GIB_FROM << 20 && kib % (1 << 20) != 0 => {
            module.inferred.insert(ModuleFact::Device);
            let at = || device.origin.at(Field::SIZE);
            let from = "a size that no plain module has";
            remarks.add(|| Remark::inferred(&at(), "sort of device", "persistent memory", from));
            Some(DeviceSort::Persistent)
        }
        _ => None,
    };
}
