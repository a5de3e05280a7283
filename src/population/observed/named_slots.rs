use serde::Serialize;
use thiserror::Error;

use crate::platform::{Platform, SlotId};
use crate::population::observed::locator;
use crate::population::observed::placement::{Labels, counted};
use crate::unit::{Name, Names};

/// What a text by itself says of the slots of a board, as messages and reports write it, and how it was read.
///
/// ```
/// use slotwright::population::{NamedSlots, SlotNameError};
/// use slotwright::reference;
///
/// let platform = reference::ddr4_2s_4ch_3spc();
/// let label = |named: &NamedSlots| platform.slot(named.slots[0]).label().to_string();
/// let named = NamedSlots::of("a1", &platform)?;
/// assert_eq!((label(&named).as_str(), named.is_label, named.processor), ("A1", true, None));
/// let named = NamedSlots::of("CPU1_DIMM_A1", &platform)?;
/// assert_eq!((label(&named).as_str(), named.processor, named.counted_from.as_slice()), ("A1", Some(1), &[1][..]));
/// // the slots of channel A are at processor 1
/// assert!(matches!(NamedSlots::of("CPU2_DIMM_A1", &platform), Err(SlotNameError::OtherProcessor { .. })));
/// // what looks like a label is one, or is refused
/// assert!(matches!(NamedSlots::of("A9", &platform), Err(SlotNameError::Unknown { .. })));
/// # Ok::<(), SlotNameError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct NamedSlots {
    /// The slots, at least one; several where the text does not say which.
    pub slots: Vec<SlotId>,
    /// Whether the text names a slot by its label, but for case, separators and words such as "DIMM". Otherwise its numbers were counted along
    /// processors, channels and slots, in every way that reports use.
    pub is_label: bool,
    /// The number of the processor that the text begins with.
    pub processor: Option<u16>,
    /// From which numbers, 0 or 1, processors are then counted.
    pub counted_from: Vec<u16>,
}

/// Why a text names no slot of a board.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SlotNameError {
    /// It is no label, and nothing that could be counted.
    #[error("the board has no slot {text:?}; its slots are {allowed}")]
    Unknown {
        /// The text.
        text: String,
        /// The labels that exist.
        allowed: Names,
    },
    /// Its label is of one processor, and its number of another.
    #[error(
        "{text}: it contradicts itself: slot {slot} is at processor {socket} of the board, and processor {number} is another, whether counted \
         from 0 or from 1; look up the serial number in a report"
    )]
    OtherProcessor {
        /// The text.
        text: String,
        /// The slot of the label.
        slot: Name,
        /// The label of its socket.
        socket: Name,
        /// The number given.
        number: u16,
    },
}

impl NamedSlots {
    /// The slots that a text names.
    ///
    /// # Errors
    /// Where it names no slot of the board, or contradicts itself, as above.
    pub fn of(text: &str, platform: &Platform) -> Result<Self, SlotNameError> {
        let labels = Labels::new(platform);
        let unknown = || SlotNameError::Unknown { text: text.to_owned(), allowed: platform.slot_labels() };
        if let Some(slot) = labels.slot(text) {
            return Ok(Self { slots: vec![slot], is_label: true, processor: None, counted_from: Vec::new() });
        }
        let behind = locator::behind_processor(text);
        let processor = behind.map(|(number, _)| number);
        if let Some((number, slot)) = behind.and_then(|(number, label)| Some((number, labels.slot(label)?))) {
            let counted_from = counted_from(number, &[slot], platform);
            if counted_from.is_empty() {
                let socket = platform.socket(platform.slot(slot).socket).label.clone();
                let slot = platform.slot(slot).label().clone();
                return Err(SlotNameError::OtherProcessor { text: text.to_owned(), slot, socket, number });
            }
            return Ok(Self { slots: vec![slot], is_label: true, processor, counted_from });
        }
        if locator::looks_like_label(behind.map_or(text, |(_, rest)| rest)) {
            return Err(unknown());
        }
        let slots = counted(text, platform);
        if slots.is_empty() {
            return Err(unknown());
        }
        let counted_from = processor.map_or(Vec::new(), |number| counted_from(number, &slots, platform));
        Ok(Self { slots, is_label: false, processor, counted_from })
    }
}

/// The numbers, 0 or 1, from which processors are counted where all of some slots are at the processor of that number.
fn counted_from(number: u16, slots: &[SlotId], platform: &Platform) -> Vec<u16> {
    let at = |slot: &SlotId| platform.slot(*slot).socket.index();
    let is_so = |from: &u16| slots.iter().all(|slot| at(slot) + usize::from(*from) == usize::from(number));
    [0, 1].into_iter().filter(is_so).collect()
}
