//! What a member is: generation, kind, whether it is a module of plain memory.

use serde_json::Value;

use crate::intake::redfish::property::{Resource, folded};
use crate::intake::remarks::Remarks;
use crate::module::{FormFactor, Generation, ModuleKind};
use crate::population::{DeviceSort, Remark};

/// A member's types.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Types {
    pub(crate) generation: Option<Generation>,
    pub(crate) kind: Option<ModuleKind>,
    pub(crate) form_factor: Option<FormFactor>,
    pub(crate) device: Option<DeviceSort>,
}

const DEVICE_TYPE: &[&str] = &["MemoryDeviceType"];
const MODULE_TYPE: &[&str] = &["BaseModuleType"];
const MEMORY_TYPE: &[&str] = &["MemoryType"];

/// Why a member is no module, as far as its own types say so.
pub(crate) fn no_module(resource: &Resource<'_>) -> Option<&'static str> {
    let word = |path: &[&str]| resource.value(path).and_then(Value::as_str).map(folded).unwrap_or_default();
    let device_type = word(DEVICE_TYPE);
    let begins = |beginnings: &[&str]| beginnings.iter().any(|beginning| device_type.starts_with(beginning));
    if word(MODULE_TYPE) == "die" {
        Some("it is a die")
    } else if begins(&["hbm", "gddr", "ddrsgram"]) {
        Some("its memory is that of a graphics processor or accelerator")
    } else if begins(&["lpddr"]) {
        // even where it is said to be registered
        Some("its memory is soldered")
    } else if word(MEMORY_TYPE) == "cache" {
        Some("it is a cache")
    } else if device_type == "logical" {
        Some("it is made of parts of other members")
    } else {
        None
    }
}

/// The types of a module; what is said of them goes to the remarks.
pub(crate) fn types(resource: &Resource<'_>, remarks: &mut Remarks) -> Types {
    let (generation, is_multiplexed) = generation(resource, remarks);
    let (kind, form_factor) = module_type(resource, remarks).unzip();
    let kind = if is_multiplexed { Some(ModuleKind::MultiplexedRank) } else { kind };
    Types { generation, kind, form_factor, device: device(resource, remarks) }
}

/// The generation, and whether ranks are multiplexed.
fn generation(resource: &Resource<'_>, remarks: &mut Remarks) -> (Option<Generation>, bool) {
    let Some(word) = resource.word(DEVICE_TYPE, remarks) else { return (None, false) };
    let generation = match folded(word).as_str() {
        "ddr3" | "ddr3sdram" => Generation::Ddr3,
        "ddr4" | "ddr4sdram" | "ddr4esdram" => Generation::Ddr4,
        "ddr5" | "ddr5sdram" => Generation::Ddr5,
        "ddr5mrdimm" => return (Some(Generation::Ddr5), true),
        "" | "unknown" => return (None, false),
        _ => {
            resource.unknown(DEVICE_TYPE, word, remarks);
            return (None, false);
        }
    };
    (Some(generation), false)
}

fn module_type(resource: &Resource<'_>, remarks: &mut Remarks) -> Option<(ModuleKind, FormFactor)> {
    use FormFactor::{Dimm, MiniDimm, Other, SoDimm};
    use ModuleKind::{CompressionAttached, LoadReduced, Registered, Unbuffered};
    let word = resource.word(MODULE_TYPE, remarks)?;
    Some(match folded(word).as_str() {
        "rdimm" => (Registered, Dimm),
        "udimm" => (Unbuffered, Dimm),
        "lrdimm" => (LoadReduced, Dimm),
        "sodimm" | "soudimm72b" | "sodimm16b" | "sodimm32b" => (Unbuffered, SoDimm),
        "sordimm72b" => (Registered, SoDimm),
        "minirdimm" => (Registered, MiniDimm),
        "miniudimm" => (Unbuffered, MiniDimm),
        "camm" => (CompressionAttached, Other),
        "" | "unknown" => return None,
        _ => {
            resource.unknown(MODULE_TYPE, word, remarks);
            return None;
        }
    })
}

/// What a member is beside plain memory. Persistent memory is known by a type of its own, by its media, or by a size that lasts.
fn device(resource: &Resource<'_>, remarks: &mut Remarks) -> Option<DeviceSort> {
    if resource.value(&["CXL"]).is_some() {
        return Some(DeviceSort::Expander);
    }
    let word = resource.word(MEMORY_TYPE, remarks).unwrap_or_default();
    match folded(word).as_str() {
        "nvdimmn" | "nvdimmf" => return Some(DeviceSort::Hybrid),
        "nvdimmp" => return Some(DeviceSort::Persistent),
        "dram" => return None,
        "" | "unknown" | "other" => {}
        plain if ["ddr", "sdram", "dram", "oem"].iter().any(|beginning| plain.starts_with(beginning)) => {
            resource.unknown(MEMORY_TYPE, word, remarks);
        }
        // the schema has one more type, named after a product, whose content lasts
        _ => {
            remarks.add(|| Remark::inferred(&resource.at(MEMORY_TYPE), "sort of device", "persistent", word));
            return Some(DeviceSort::Persistent);
        }
    }
    let lasting = resource.value(&["NonVolatileSizeMiB"]);
    if lasting.and_then(Value::as_u64).is_some_and(|size| size > 0) {
        remarks
            .add(|| Remark::inferred(&resource.at(MEMORY_TYPE), "sort of device", "persistent", "a size that lasts"));
        return Some(DeviceSort::Persistent);
    }
    None
}
