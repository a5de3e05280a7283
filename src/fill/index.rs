//! What the search counts by: an index type for each sort of thing.

use crate::search::index_types;

index_types! {
    /// A class: modules that no rule in force tells apart. Index of the model's classes.
    ClassId;
    /// A usable slot, in fill order.
    PlaceId;
    /// A channel of a present processor.
    ChannelIx;
    /// A present processor's socket.
    SocketIx;
    /// Channels of one shape may carry the same loads.
    ShapeIx;
    /// A group of channels that must have something in common in the machine's mode.
    LikeGroup;
    /// A group of present modules that stand in for each other.
    PresentGroup;
    /// A kind: a class of which a demand has some. The kind of highest priority is the first.
    KindIx;
    /// The key of a load under rules on channels of a caller's.
    KeyIx;
    /// What a load holds, by round, where the rules ask that the channels of a processor be alike.
    HeldIx;
    /// What repeats where the loads of all channels are the same.
    SortIx;
    /// What loads of the channels of one group must have in common.
    MateIx;
    /// A step: by what a load raises a state.
    StepIx;
    /// A sort of what is spared.
    SpareIx;
    /// A voltage below that which memory is driven at.
    LowerIx;
    /// A count vector: how many modules there are of each kind.
    VectorIx;
    /// What a state counts beside modules: how many stay, are lost and are spared, and which voltages are barred.
    BesideIx;
    /// One of the ways to fill a processor's channels.
    WayIx;
    /// One of the things that processors with memory can have in common.
    CommonIx;
}

impl ClassId {
    /// The class of a model that has just one.
    pub(crate) const ONLY: Self = Self(0);
}
