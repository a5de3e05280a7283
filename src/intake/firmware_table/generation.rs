use crate::intake::firmware_table::words::TYPES;
use crate::intake::firmware_table::{Device, Field, Remarks};
use crate::module::Generation;
use crate::population::{ModuleFact, Remark, SeenModule};
use crate::unit::DataRate;

/// What a memory type (12h) says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum MemoryType {
    /// One of the generations of this crate.
    Of(Generation),
    /// A type that real modules of these generations are given by some firmware, or one that the tool or this reader does not know.
    Vague,
    /// Storage for firmware.
    Storage,
    /// A device that keeps its content.
    Persistent,
    /// Anything else.
    Another,
}

impl MemoryType {
    pub(crate) const fn of(code: u8) -> Self {
        match code {
            0x18 => Self::Of(Generation::Ddr3),
            0x1a => Self::Of(Generation::Ddr4),
            // the last is the type of its own that multiplexed ranks have
            0x22 | MULTIPLEXED => Self::Of(Generation::Ddr5),
            0x08..=0x0c => Self::Storage,
            0x1f => Self::Persistent,
            // other, unknown, DRAM, RAM, SDRAM, reserved
            0x00..=0x03 | 0x07 | 0x0f | 0x15..=0x17 => Self::Vague,
            0x04..=0x25 => Self::Another,
            0x26.. => Self::Vague,
        }
    }
}

/// The memory type, and the technology, of modules with multiplexed ranks.
pub(crate) const MULTIPLEXED: u8 = 0x25;
pub(crate) const MULTIPLEXED_TECHNOLOGY: u8 = 8;

/// The module's generation: stated, or inferred where the stated type says nothing.
pub(crate) fn generation(device: &Device<'_>, module: &mut SeenModule, remarks: &mut Remarks) {
    let at = || device.origin.at(Field::TYPE);
    match MemoryType::of(device.sort) {
        MemoryType::Of(generation) => module.generation = Some(generation),
        MemoryType::Persistent | MemoryType::Storage => {}
        MemoryType::Another => remarks.add(|| {
            Remark::unread(&at(), &TYPES.text(device.sort), "only DDR3, DDR4 and DDR5 modules are planned with")
        }),
        MemoryType::Vague if device.technology == MULTIPLEXED_TECHNOLOGY => {
            module.generation = Some(Generation::Ddr5);
        }
        MemoryType::Vague => {
            if device.sort != 0 && TYPES.of(device.sort).is_none() {
                remarks.add(|| Remark::unknown_code(&at(), Field::TYPE.name, &TYPES.text(device.sort)));
            }
            if let Some((generation, from)) = inferred(device) {
                module.generation = Some(generation);
                module.inferred.insert(ModuleFact::Generation);
                remarks.add(|| Remark::inferred(&at(), "memory generation", &generation.to_string(), &from));
            }
        }
    }
}

/// The one generation that voltages and rate leave; DDR3 and DDR4 share rates up to 2133 MT/s, DDR4 and DDR5 those around 3200.
fn inferred(device: &Device<'_>) -> Option<(Generation, String)> {
    let voltages = [device.running_voltage, device.least_voltage, device.most_voltage];
    let by_voltage = voltages.into_iter().flatten().filter_map(|mv| Some((of_voltage(mv)?, format!("{mv} mV"))));
    let rate = device.rated.or(device.running);
    let by_rate = rate.and_then(|mts| Some((of_rate(mts)?, format!("{mts} MT/s"))));
    let mut evidence = by_voltage.chain(by_rate);
    let first = evidence.next()?;
    evidence.all(|(generation, _)| generation == first.0).then_some(first)
}

fn of_voltage(mv: u32) -> Option<Generation> {
    let is_standard =
        |generation: &Generation| generation.voltages().iter().any(|voltage| u32::from(voltage.mv()) == mv);
    Generation::ALL.iter().copied().find(is_standard)
}

fn of_rate(mts: u32) -> Option<Generation> {
    // a little above the last shared rate and the last of DDR4, for the roundings that are seen
    let last_shared = DataRate::DDR3_2133.name_mts() + 5;
    let last_of_ddr4 = DataRate::DDR4_3200.name_mts() + 5;
    if mts > last_shared && mts <= last_of_ddr4 {
        Some(Generation::Ddr4)
    } else if mts >= DataRate::DDR5_4400.name_mts() && mts <= crate::intake::firmware_table::rates::MOST_MTS {
        Some(Generation::Ddr5)
    } else {
        None
    }
}
