use core::fmt;
use std::sync::Arc;

use crate::finding::FactValue;
use crate::module::MemoryModule;
use crate::platform::{ChannelId, FillRow};
use crate::population::ChannelLoad;
use crate::rule::Report;
use crate::stated::{Basis, Demand};
use crate::unit::Voltage;

/// What a rule tells a search that it may use, beside being asked of complete candidates.
///
/// A hint is a promise about the rule that carries it: what the hint bars, the rule reports, with the weight that the
/// rule's severity, the basis and the demand of the hint come to. A hint that bars more than its rule makes answers wrong;
/// one that bars less costs time, and no more than that but for one thing: a slot counts as free that only the rule, and no
/// load by itself, keeps empty. Where free slots are asked for, or decide between plans, a rule with a hint (or one on
/// channels) can so give another answer than the same rule without.
///
/// ```
/// use slotwright::rule::{Detail, Hint, Rule, RuleBook};
/// use slotwright::{Place, Severity};
///
/// // the memory of each processor is one region: a warning of the trade, an error here; the hint fits the rule where
/// // processors permit any set of channels
/// let rule = Rule::socket("own-one-region", "unlike regions are not delivered", Severity::Error, |load, report| {
///     let mut held = load.channels().map(|channel| channel.modules().map(|site| site.module.capacity()).sum());
///     let most: slotwright::Capacity = held.clone().max().unwrap_or_default();
///     if held.any(|held| !held.is_zero() && held != most) {
///         report.violation(|| Detail::at(Place::socket(load.machine().platform(), load.id())));
///     }
/// })?;
/// let rules = RuleBook::standard().with(rule.hinting(|_| vec![Hint::one_region()]))?;
/// # Ok::<(), slotwright::rule::RuleBookError>(())
/// ```
#[derive(Clone)]
pub struct Hint {
    pub(crate) says: Says,
    /// What it rests on; the rule's own severity counts where absent.
    pub(crate) grounds: Option<(Basis, Demand)>,
}

/// What holds of every population that the rule lets pass.
#[derive(Clone)]
pub(crate) enum Says {
    OneRegion,
    MemoryInEachDomain,
    LikeGroups { groups: Vec<Vec<ChannelId>>, key: GroupKey },
    SpreadFirst,
    OddChannels,
    Barred(LoadCheck),
    Apart(ApartCheck),
    Rows(Vec<FillRow>),
}

/// Reads what the channels of a group must have in common.
pub(crate) type GroupKey = Arc<dyn Fn(&ChannelLoad<'_>) -> FactValue + Send + Sync>;

/// Holds a load against the rule at a voltage; at none where modules and processor have none in common.
pub(crate) type LoadCheck = Arc<dyn Fn(&ChannelLoad<'_>, Option<Voltage>, &mut Report<'_>) + Send + Sync>;

/// Whether a processor may not hold two modules, with all of its usable slots filled or not.
pub(crate) type ApartCheck = Arc<dyn Fn(&MemoryModule, &MemoryModule, bool) -> bool + Send + Sync>;

impl Hint {
    const fn new(says: Says) -> Self {
        Self { says, grounds: None }
    }

    /// In each interleave domain of a processor the channels that hold usable memory all hold as much, and make one
    /// permitted set.
    #[must_use]
    pub const fn one_region() -> Self {
        Self::new(Says::OneRegion)
    }

    /// No module sits in a later round of its channel while an earlier one of another channel of the processor is empty, if
    /// it could sit there without an error on either channel. A slot's round is its place among the wired slots of its
    /// channel by turn; in a mode that joins channels, theirs count as one.
    #[must_use]
    pub const fn spread_first() -> Self {
        Self::new(Says::SpreadFirst)
    }

    /// Where a processor lists no interleave sets, the number of its channels with memory is one, even, or that of all
    /// that could have some.
    #[must_use]
    pub const fn odd_channels() -> Self {
        Self::new(Says::OddChannels)
    }

    /// A processor with memory has some in each domain that the machine's scheme would make, or the first one that holds at its
    /// number of modules.
    #[must_use]
    pub const fn memory_in_each_domain() -> Self {
        Self::new(Says::MemoryInEachDomain)
    }

    /// The channels of each group have one key; an empty channel has one too. Each group is of one processor, and no
    /// channel is in two.
    #[must_use]
    pub fn like_groups(
        groups: impl IntoIterator<Item = Vec<ChannelId>>,
        key: impl Fn(&ChannelLoad<'_>) -> FactValue + Send + Sync + 'static,
    ) -> Self {
        Self::new(Says::LikeGroups { groups: groups.into_iter().collect(), key: Arc::new(key) })
    }

    /// What the check reports of a load at a voltage, the rule reports of every population that has this load in the channel
    /// and runs at that voltage. A load that is refused at every voltage it could run at is not looked at. Only that something
    /// is reported counts, not what. A rule on channels gains nothing by it: its own check is asked of loads already.
    ///
    /// ```
    /// use slotwright::rule::{Detail, Hint, Report, Rule};
    /// use slotwright::population::ChannelLoad;
    /// use slotwright::{Place, Severity};
    ///
    /// // a rule of the house on whole populations: no channel with three modules
    /// fn check(load: &ChannelLoad<'_>, report: &mut Report<'_>) {
    ///     if load.len() > 2 {
    ///         report.violation(|| Detail::at(Place::channel(load.machine().platform(), load.id())));
    ///     }
    /// }
    /// let rule = Rule::population("own-two", "two a channel at most", Severity::Error, |layout, report| {
    ///     layout.channels().for_each(|load| check(&load, report));
    /// })?;
    /// // the search then never lists such loads
    /// let rule = rule.hinting(|_| vec![Hint::barred_loads(|load, _voltage, report| check(load, report))]);
    /// # Ok::<(), slotwright::rule::RuleBookError>(())
    /// ```
    #[must_use]
    pub fn barred_loads(
        check: impl Fn(&ChannelLoad<'_>, Option<Voltage>, &mut Report<'_>) + Send + Sync + 'static,
    ) -> Self {
        Self::new(Says::Barred(Arc::new(check)))
    }

    /// Two modules that a processor may not hold both of. The check is asked of each two, and of whether all of the
    /// processor's usable slots are filled: what it bars, the rule reports of every population that has both.
    ///
    /// ```
    /// use slotwright::rule::Hint;
    ///
    /// // one capacity a processor, filled or not
    /// let hint = Hint::kept_apart(|one, other, _is_full| one.capacity() != other.capacity());
    /// # let _ = hint;
    /// ```
    #[must_use]
    pub fn kept_apart(bars: impl Fn(&MemoryModule, &MemoryModule, bool) -> bool + Send + Sync + 'static) -> Self {
        Self::new(Says::Apart(Arc::new(bars)))
    }

    /// Printed rows: where there are some for the sockets and number of modules, populations follow one of them. Each row
    /// rests on its own basis and demand, and marks both sizes or none. A search prefers what follows all rows, whatever the
    /// rule weighs.
    #[must_use]
    pub fn rows(rows: impl IntoIterator<Item = FillRow>) -> Self {
        Self::new(Says::Rows(rows.into_iter().collect()))
    }

    /// The basis and demand that the rule reports on.
    #[must_use]
    pub const fn on(mut self, basis: Basis, demand: Demand) -> Self {
        self.grounds = Some((basis, demand));
        self
    }
}

impl fmt::Debug for Hint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self.says {
            Says::OneRegion => "one region",
            Says::MemoryInEachDomain => "memory in each domain",
            Says::LikeGroups { .. } => "like groups",
            Says::SpreadFirst => "spread first",
            Says::OddChannels => "no odd channels",
            Says::Barred(_) => "barred loads",
            Says::Apart(_) => "kept apart",
            Says::Rows(_) => "rows",
        })
    }
}
