use core::fmt;

use serde::{Deserialize, Serialize};

/// Something to be done to find a fault, or to mend it.
///
/// Before hands go in, the machine is off and its cords are out; the platform maker's manual, local rules and qualified
/// people decide.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Step {
    /// Look up in the platform maker's manual the limits that the board's description assumes.
    ReadManual,
    /// Put into the board's description what the manual says, and plan again.
    CorrectDescription,
    /// Read the serial number on the machine itself.
    ReadMachine,
    /// Take a new report, dated and of this machine.
    NewReport,
    /// Read the label of one module of each part, on it or in the record of goods in; one of a lower grade than planned is to be exchanged.
    ReadLabels,
    /// Read the event log, the set-up screens, the version of the firmware and its record of slots that it took out of use.
    ReadSetUp,
    /// Set it as planned, as the platform maker's manual says.
    SetAsPlanned,
    /// Clear the record of slots taken out of use, and restart.
    ClearRecord,
    /// Go back to what ran before, bring the firmware up to date, and begin again.
    UpdateFirmware,
    /// Look at the slots: what sits there, both latches, damage.
    Look,
    /// Take the modules out, look at contacts and slots, and seat them again until both latches close.
    Reseat,
    /// Move the modules by the slot map.
    MoveByMap,
    /// Exchange the module with a like one that is read, a swap test, or put one that is known to be good in the place.
    KnownGood,
    /// Put a module that is known to be good into another slot of the channel, then of the processor.
    KnownGoodBeside,
    /// Close the slot and plan again.
    CloseSlot,
    /// Have the processor, its contacts or the riser looked at by those qualified for it.
    QualifiedHands,
    /// Exchange the modules for what was planned.
    Exchange,
    /// Take out a module that was not planned: its slot stays empty.
    TakeOut,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

/// How much a step asks for; least first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Effort {
    /// A report, a list, a set-up screen.
    Paper,
    /// The lid.
    Look,
    /// A module out and in again.
    Reseat,
    /// Modules moved.
    Move,
    /// Something bought, or other people.
    Buy,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

impl Step {
    /// The steps that tell faults apart, the least effort first.
    pub const TESTS: [Self; 8] = [
        Self::ReadManual,
        Self::ReadLabels,
        Self::ReadSetUp,
        Self::NewReport,
        Self::Look,
        Self::Reseat,
        Self::KnownGood,
        Self::KnownGoodBeside,
    ];

    /// How much it asks for.
    #[must_use]
    pub const fn effort(self) -> Effort {
        match self {
            Self::ReadManual
            | Self::CorrectDescription
            | Self::ReadMachine
            | Self::NewReport
            | Self::ReadLabels
            | Self::ReadSetUp
            | Self::SetAsPlanned
            | Self::ClearRecord
            | Self::UpdateFirmware => Effort::Paper,
            Self::Look => Effort::Look,
            Self::Reseat | Self::TakeOut => Effort::Reseat,
            Self::MoveByMap | Self::KnownGood | Self::KnownGoodBeside => Effort::Move,
            Self::CloseSlot | Self::QualifiedHands | Self::Exchange => Effort::Buy,
            Self::Other => Effort::Other,
        }
    }
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::ReadManual => "look up in the platform maker's manual the limits that are marked assumed",
            Self::CorrectDescription => "put what the manual says into the board's description, and plan again",
            Self::ReadMachine => "read the serial number on the machine itself, and hold it against the report and the plan",
            Self::NewReport => "take a new report of this machine, and date it",
            Self::ReadLabels => "read the label of one module of each part, on it or in the record of goods in",
            Self::ReadSetUp => "read the event log and the set-up: mode, caps, the firmware's version, its record of what is out of use",
            Self::SetAsPlanned => "set it as planned, as the platform maker's manual says",
            Self::ClearRecord => "clear the record of slots out of use, and restart",
            Self::UpdateFirmware => "go back to what ran before, update the firmware, and begin again",
            Self::Look => "power off, cords out, and look at the slots: what sits there, both latches, damage",
            Self::Reseat => "power off, cords out, take the modules out, look at the contacts, and seat them again",
            Self::MoveByMap => "power off, cords out, and put the modules where the slot map has them",
            Self::KnownGood => "power off, cords out, and make a swap test: exchange it with a like module that is read, or put one known to be good in its place",
            Self::KnownGoodBeside => {
                "power off, cords out, and put a module known to be good beside it in the channel, then elsewhere at the processor"
            }
            Self::CloseSlot => "close the slot, and plan again",
            Self::QualifiedHands => "have the processor, its contacts or the riser looked at by those qualified for it",
            Self::Exchange => "power off, cords out, and exchange the modules for what was planned; recount the bin that they came from",
            Self::TakeOut => "power off, cords out, and take out the module: its slot stays empty",
            Self::Other => "something that a newer version knows",
        })
    }
}

/// What a step shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Shown {
    /// All is as planned now.
    AsPlanned,
    /// The same as before the step.
    SameAgain,
    /// The manual gives another limit.
    OtherLimit,
    /// The manual gives the limits that were assumed.
    LimitAsAssumed,
    /// The label names a lower grade than planned.
    LabelLower,
    /// The label names the grade that was planned, or a higher one.
    LabelAsPlanned,
    /// Another mode, profile or cap than planned.
    OtherSetting,
    /// The slots are on the record of those taken out of use.
    MappedOut,
    /// The log or the record names a module, rank or channel that the firmware took out of use.
    OnLog,
    /// An older firmware than is needed.
    OldFirmware,
    /// Mode, caps, firmware and record are as planned.
    SetAsPlanned,
    /// Nothing is in the slot.
    SlotEmpty,
    /// A module stands proud, or a latch is open.
    StandsProud,
    /// The module is in another slot.
    OtherSlot,
    /// What was there before is still there.
    AsBefore,
    /// Another module is in the slot.
    OtherModule,
    /// Damage.
    Damage,
    /// The right module, in place, both latches closed.
    InPlace,
    /// The known good module is read beside, in the same channel.
    ReadInChannel,
    /// It is read at the processor, in another channel only.
    ReadAtProcessor,
    /// It is read at no slot of the processor.
    ReadElsewhere,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

impl fmt::Display for Shown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::AsPlanned => "as planned now",
            Self::SameAgain => "the same again",
            Self::OtherLimit => "another limit than assumed",
            Self::LimitAsAssumed => "the limits as assumed",
            Self::LabelLower => "a lower grade than planned",
            Self::LabelAsPlanned => "the planned grade, or a higher one",
            Self::OtherSetting => "another setting than planned",
            Self::MappedOut => "the slots are on the record",
            Self::OnLog => "a module, rank or channel taken out of use",
            Self::OldFirmware => "older firmware than needed",
            Self::SetAsPlanned => "settings, firmware and record as planned",
            Self::SlotEmpty => "nothing in the slot",
            Self::StandsProud => "a module stands proud or a latch is open",
            Self::OtherSlot => "the module is in another slot",
            Self::AsBefore => "what was there before is still there",
            Self::OtherModule => "another module is in the slot",
            Self::Damage => "damage",
            Self::InPlace => "the right module, in place, latches closed",
            Self::ReadInChannel => "read beside it, in the channel",
            Self::ReadAtProcessor => "read in another channel of the processor only",
            Self::ReadElsewhere => "read nowhere at the processor",
            Self::Other => "something that a newer version knows",
        })
    }
}
