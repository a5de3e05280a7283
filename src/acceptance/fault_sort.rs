use core::fmt;

use serde::{Deserialize, Serialize};

use crate::acceptance::{Shown, Step};

/// What a fault after work may be at bottom, the most frequent first; how often is experience, without a source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum FaultSort {
    /// A module is not seated, or a contact is dirty.
    NotSeated,
    /// A module was not put in.
    LeftOut,
    /// A module sits in a wrong slot.
    WrongSlot,
    /// A limit on the rate that the board's description assumes, and that is not what the board does.
    AssumedLimit,
    /// A module, rank or channel is listed, and the firmware has taken it out of use.
    OutOfUse,
    /// The report is of another machine or time, or contradicts itself.
    ReportAtFault,
    /// The work was not done there.
    NotDone,
    /// A setting holds the rate down, or lets it be higher than planned.
    RateSetting,
    /// A module is of a lower grade than planned.
    SlowGrade,
    /// A wrong part was picked.
    WrongPart,
    /// A module that nobody planned sits in a slot that was to stay empty.
    NotPlanned,
    /// A module is dead.
    Dead,
    /// A mode or a profile is on.
    ModeOrSetting,
    /// A slot is still mapped out since before.
    MappedOut,
    /// The firmware is too old for the part.
    OldFirmware,
    /// The kind or die of the part is refused.
    Refused,
    /// A channel is dead.
    ChannelDead,
    /// A processor or a riser makes no contact, or is dead.
    ProcessorOrRiser,
    /// The SPD of a module cannot be read.
    SpdUnreadable,
    /// A slot is damaged.
    SlotDamaged,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

impl FaultSort {
    /// Every sort.
    pub const ALL: [Self; 20] = [
        Self::NotSeated,
        Self::LeftOut,
        Self::WrongSlot,
        Self::AssumedLimit,
        Self::OutOfUse,
        Self::ReportAtFault,
        Self::NotDone,
        Self::RateSetting,
        Self::SlowGrade,
        Self::WrongPart,
        Self::NotPlanned,
        Self::Dead,
        Self::ModeOrSetting,
        Self::MappedOut,
        Self::OldFirmware,
        Self::Refused,
        Self::ChannelDead,
        Self::ProcessorOrRiser,
        Self::SpdUnreadable,
        Self::SlotDamaged,
    ];

    /// The most frequent of some in their order. How often work is left undone nobody counts, so that comes first only where there is nothing else.
    pub(crate) fn most_frequent(sorts: &[Self]) -> Option<Self> {
        let is_counted = |sort: &&Self| !matches!(sort, Self::LeftOut | Self::NotDone);
        sorts.iter().find(is_counted).or(sorts.first()).copied()
    }

    /// What mends it.
    #[must_use]
    pub const fn remedy(self) -> Step {
        match self {
            Self::NotSeated | Self::OutOfUse => Step::Reseat,
            Self::LeftOut | Self::WrongSlot | Self::NotDone => Step::MoveByMap,
            Self::ReportAtFault | Self::Other => Step::NewReport,
            Self::RateSetting | Self::ModeOrSetting => Step::SetAsPlanned,
            Self::AssumedLimit => Step::ReadManual,
            Self::SlowGrade => Step::ReadLabels,
            Self::NotPlanned => Step::TakeOut,
            Self::WrongPart | Self::Dead | Self::Refused | Self::SpdUnreadable => Step::Exchange,
            Self::MappedOut => Step::ClearRecord,
            Self::OldFirmware => Step::UpdateFirmware,
            Self::ChannelDead | Self::ProcessorOrRiser => Step::QualifiedHands,
            Self::SlotDamaged => Step::CloseSlot,
        }
    }

    /// What a step would show; several where it may show one or the other.
    #[must_use]
    pub fn shows(self, step: Step) -> &'static [Shown] {
        match step {
            Step::ReadManual => match self {
                Self::AssumedLimit => &[Shown::OtherLimit],
                _ => &[Shown::LimitAsAssumed],
            },
            Step::NewReport => match self {
                Self::ReportAtFault => &[Shown::AsPlanned],
                _ => &[Shown::SameAgain],
            },
            Step::ReadLabels => match self {
                Self::SlowGrade => &[Shown::LabelLower],
                _ => &[Shown::LabelAsPlanned],
            },
            Step::ReadSetUp => match self {
                Self::RateSetting | Self::ModeOrSetting => &[Shown::OtherSetting],
                Self::MappedOut => &[Shown::MappedOut],
                Self::OutOfUse => &[Shown::OnLog, Shown::SetAsPlanned],
                Self::OldFirmware => &[Shown::OldFirmware],
                _ => &[Shown::SetAsPlanned],
            },
            Step::Look => match self {
                Self::LeftOut => &[Shown::SlotEmpty],
                Self::NotSeated => &[Shown::StandsProud, Shown::InPlace],
                Self::WrongSlot => &[Shown::OtherSlot],
                Self::NotDone => &[Shown::AsBefore],
                Self::WrongPart | Self::SlowGrade | Self::NotPlanned => &[Shown::OtherModule],
                Self::SlotDamaged => &[Shown::Damage, Shown::InPlace],
                _ => &[Shown::InPlace],
            },
            Step::Reseat => match self {
                Self::NotSeated => &[Shown::AsPlanned],
                Self::OutOfUse => &[Shown::AsPlanned, Shown::SameAgain],
                _ => &[Shown::SameAgain],
            },
            Step::KnownGood => match self {
                Self::ChannelDead | Self::ProcessorOrRiser | Self::SlotDamaged => &[Shown::SameAgain],
                Self::Dead | Self::Refused | Self::SpdUnreadable | Self::NotSeated | Self::OutOfUse => {
                    &[Shown::AsPlanned]
                }
                Self::LeftOut | Self::NotDone | Self::WrongSlot | Self::WrongPart | Self::SlowGrade => {
                    &[Shown::AsPlanned]
                }
                _ => &[Shown::SameAgain],
            },
            Step::KnownGoodBeside => match self {
                Self::SlotDamaged => &[Shown::ReadInChannel],
                Self::ChannelDead => &[Shown::ReadAtProcessor],
                Self::ProcessorOrRiser => &[Shown::ReadElsewhere],
                _ => &[Shown::ReadInChannel],
            },
            _ => &[Shown::AsPlanned],
        }
    }
}

impl fmt::Display for FaultSort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::NotSeated => "not seated, or a dirty contact",
            Self::LeftOut => "not put in",
            Self::WrongSlot => "in a wrong slot",
            Self::AssumedLimit => "an assumed limit that is not what the board does",
            Self::OutOfUse => "a module, rank or channel that is listed but taken out of use by the firmware",
            Self::ReportAtFault => "a report at fault, or of another machine or time",
            Self::NotDone => "the work was not done there",
            Self::RateSetting => "a setting of the firmware that holds the rate",
            Self::SlowGrade => "a module of a lower grade",
            Self::WrongPart => "a wrong part",
            Self::NotPlanned => "a module more than was planned",
            Self::Dead => "a dead module",
            Self::ModeOrSetting => "a mode or setting that was not planned is on",
            Self::MappedOut => "still mapped out since before",
            Self::OldFirmware => "old firmware",
            Self::Refused => "a kind or die that is refused",
            Self::ChannelDead => "a dead channel",
            Self::ProcessorOrRiser => "a processor or riser",
            Self::SpdUnreadable => "an SPD that cannot be read",
            Self::SlotDamaged => "a damaged slot",
            Self::Other => "something that a newer version knows",
        })
    }
}
