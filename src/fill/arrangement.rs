use core::fmt;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::assess::Assessment;
use crate::fill::FollowedRow;
use crate::finding::{Finding, Severity};
use crate::population::Population;
use crate::search::StopReason;
use crate::stated::Schema;
use crate::unit::{DataRate, Name};

/// The answer to "where do these modules go".
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let arrangement = planner.arrange([(module.clone(), 4)])?;
/// let legal = arrangement.best()?; // an error with the findings where there is none
/// assert_eq!(legal.slots[0].slot.as_str(), "A1");
/// assert!(planner.arrange([(module, 13)])?.best().is_err()); // twelve slots
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
// A caller holds one of these; the size of the best case is no matter.
#[allow(clippy::large_enum_variant)]
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub enum Arrangement {
    /// The best legal arrangement: none is better in the documented order.
    Best(Legal),
    /// No arrangement of all the modules is legal.
    Illegal(Illegal),
    /// The search ended before it was through. Whether there is a better one, or any, is not known.
    #[non_exhaustive]
    Stopped {
        /// The version of the document's form.
        schema: Schema,
        /// Why.
        reason: StopReason,
        /// A legal arrangement, where one was found: need not be the best.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        best: Option<Box<Legal>>,
    },
}

/// A legal arrangement.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Legal {
    /// The version of the document's form.
    pub schema: Schema,
    /// What sits in each slot.
    pub population: Population,
    /// Its figures and findings.
    pub assessment: Assessment,
    /// Why each usable slot holds what it holds, by turn.
    pub slots: Vec<SlotUse>,
    /// The free slots: live, empty, and able to take a further module of the sorts present without an
    /// error on its channel, once the slots before it are filled.
    pub free_slots: Vec<Name>,
}

/// Why no arrangement is legal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Illegal {
    /// The version of the document's form.
    pub schema: Schema,
    /// The modules put in by turn, as far as there are slots.
    pub by_turn: Population,
    /// How many modules found no slot at all.
    pub left_over: usize,
    /// What the rules say of that.
    pub findings: Vec<Finding>,
    /// Rules without which a legal arrangement exists, while no proper part of them suffices; none where
    /// nothing helps.
    pub legal_without: Vec<Name>,
}

/// A usable slot and why it holds what it holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SlotUse {
    /// The slot's label.
    pub slot: Name,
    /// Why.
    pub reason: SlotReason,
}

/// Why a slot holds what it holds.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum SlotReason {
    /// The caller has pinned its content.
    Pinned,
    /// It is to be kept empty.
    KeptEmpty,
    /// Filled by a printed row.
    Row(FollowedRow),
    /// Filled in its turn.
    #[non_exhaustive]
    Turn {
        /// Its round, from 1: which slot of its channel it is by turn, whether or not those before it can be used.
        round: usize,
        /// Its turn among the usable slots of that round, from 1.
        turn: usize,
        /// How many usable slots the round has.
        of: usize,
        /// Whether the board's own order is not described, and that of the description stands in.
        #[serde(default, skip_serializing_if = "core::ops::Not::not")]
        assumed: bool,
    },
    /// Empty, for every module has a slot before it.
    NotNeeded,
    /// Left empty although a later slot is filled: the next module here would break a rule.
    #[non_exhaustive]
    Refused {
        /// The rule's code.
        code: Name,
    },
    /// Left empty although a later slot is filled: the printed row that is followed leaves it empty.
    KeepsRow,
    /// Left empty although a later slot is filled: the next module here would lower the running rate.
    KeepsRate,
    /// Left empty although a later slot is filled: the next module here would leave a processor without memory, or the
    /// processors' memory less balanced.
    KeepsBalance,
    /// Left empty although a later slot is filled: the next module here would lower the bandwidth.
    KeepsBandwidth,
    /// Left empty although a later slot is filled: for what comes after bandwidth, such as fewer handlings or more free
    /// slots.
    KeepsRest,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// There is no best arrangement to be had.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum NoArrangement {
    /// None is legal.
    #[error("no legal arrangement: {}", illegal(findings, *left_over, legal_without))]
    Illegal {
        /// What the rules say of the modules put in by turn.
        findings: Vec<Finding>,
        /// How many modules found no slot at all.
        left_over: usize,
        /// The rules without which a legal one exists.
        legal_without: Vec<Name>,
    },
    /// The search ended before it was through.
    #[error("the search for an arrangement {reason}")]
    Stopped {
        /// Why.
        reason: StopReason,
    },
}

fn illegal(findings: &[Finding], left_over: usize, without: &[Name]) -> String {
    let mut parts = Vec::new();
    match left_over {
        0 => {}
        1 => parts.push("1 module finds no slot".to_owned()),
        many => parts.push(format!("{many} modules find no slot")),
    }
    parts.extend(findings.iter().filter(|finding| finding.severity == Severity::Error).map(ToString::to_string));
    if !without.is_empty() {
        parts.push(format!(
            "without {} there would be one",
            without.iter().map(Name::as_str).collect::<Vec<_>>().join(" and ")
        ));
    }
    parts.join("; ")
}

impl Arrangement {
    /// The best legal arrangement.
    ///
    /// # Errors
    /// When none is legal, or the search ended before the best was proved.
    pub fn best(&self) -> Result<&Legal, NoArrangement> {
        match self {
            Self::Best(legal) => Ok(legal),
            Self::Illegal(Illegal { schema: _, by_turn: _, left_over, findings, legal_without }) => {
                Err(NoArrangement::Illegal {
                    findings: findings.clone(),
                    left_over: *left_over,
                    legal_without: legal_without.clone(),
                })
            }
            Self::Stopped { schema: _, reason, best: _ } => Err(NoArrangement::Stopped { reason: *reason }),
        }
    }
}

impl Legal {
    /// The lowest running rate of the machine's memory; absent where there is none.
    #[must_use]
    pub fn running_rate(&self) -> Option<DataRate> {
        self.assessment.figures.running_rate.rate()
    }
}

impl fmt::Display for SlotReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Pinned => f.write_str("pinned"),
            Self::KeptEmpty => f.write_str("to be kept empty"),
            Self::Row(row) => row.fmt(f),
            Self::Turn { round, turn, of, assumed } => {
                let basis = if *assumed { " [order assumed: see the board]" } else { "" };
                write!(f, "round {round}, turn {turn} of {of}{basis}")
            }
            Self::NotNeeded => f.write_str("not needed"),
            Self::Refused { code } => write!(f, "left empty: the next module here would break {code}"),
            Self::KeepsRow => f.write_str("left empty by the printed row"),
            Self::KeepsRate => f.write_str("left empty to keep the rate"),
            Self::KeepsBalance => f.write_str("left empty to keep the processors balanced"),
            Self::KeepsBandwidth => f.write_str("left empty to keep the bandwidth"),
            Self::Other(name) => name.fmt(f),
            Self::KeepsRest => f.write_str("left empty for fewer handlings, fewer different parts or more free slots"),
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::assess::Planner;
    use crate::fill::{FollowedRow, SlotReason};
    use crate::rule::RuleBook;
    use crate::stated::Basis;
    use crate::testing::{board_of, machine, module, plain, processor};

    #[test]
    fn reasons_are_told_apart() {
        let refused = SlotReason::Refused { code: "kind-mix".parse().unwrap() };
        let row = FollowedRow { index: Some(3), modules: 6, basis: Basis::BoardManual, source: None };
        let own = FollowedRow { index: None, modules: 1, ..row.clone() };
        let all = [
            (SlotReason::Pinned, "pinned"),
            (SlotReason::KeptEmpty, "to be kept empty"),
            (SlotReason::Row(row), "fill row 4, of 6 modules [board manual]"),
            (SlotReason::Row(own), "a fill row of the caller's rules, of 1 module [board manual]"),
            (SlotReason::Turn { round: 1, turn: 3, of: 8, assumed: false }, "round 1, turn 3 of 8"),
            (
                SlotReason::Turn { round: 1, turn: 3, of: 8, assumed: true },
                "round 1, turn 3 of 8 [order assumed: see the board]",
            ),
            (SlotReason::NotNeeded, "not needed"),
            (refused, "left empty: the next module here would break kind-mix"),
            (SlotReason::KeepsRow, "left empty by the printed row"),
            (SlotReason::KeepsRate, "left empty to keep the rate"),
            (SlotReason::KeepsBalance, "left empty to keep the processors balanced"),
            (SlotReason::KeepsBandwidth, "left empty to keep the bandwidth"),
            (SlotReason::KeepsRest, "left empty for fewer handlings, fewer different parts or more free slots"),
        ];
        all.iter().for_each(|(reason, text)| assert_eq!(reason.to_string(), *text));
    }

    #[test]
    fn why_nothing_is_legal_is_said_part_by_part() {
        let machine = machine(board_of(1, 2, 1), processor());
        let rules = RuleBook::standard();
        let text =
            |pieces: Vec<_>| Planner::new(&machine, &rules).arrange(pieces).unwrap().best().unwrap_err().to_string();
        let unlike = module("32GB 2Rx4 PC4-2400T-LB2-11");
        let mixed = text(vec![(plain(), 1), (unlike, 1)]);
        assert!(!mixed.contains("no slot") && mixed.contains("error kind-mix"), "{mixed}");
        assert!(mixed.ends_with("; without kind-mix there would be one"), "{mixed}");
        let many = text(vec![(plain(), 3)]);
        assert!(many.contains("1 module finds no slot") && !many.contains("without"), "{many}");
    }
}
