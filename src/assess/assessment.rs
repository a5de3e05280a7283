use core::fmt;

use serde::{Deserialize, Serialize};

use crate::figure::{Figures, PowerDraw};
use crate::finding::{Finding, Severity, Verdict};
use crate::stated::Schema;

/// The figures of a population and every finding on it.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::{Population, Severity};
///
/// let population = Population::new().with("A1".parse()?, module);
/// let assessment = planner.assess(&population)?;
/// assert!(assessment.is_legal());
/// assert_eq!(assessment.figures.usable.total_mib.whole_gib(), Some(32));
/// assert_eq!(assessment.from_severity(Severity::Error).count(), 0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Assessment {
    /// The version of the document's form.
    pub schema: Schema,
    /// The figures.
    pub figures: Figures,
    /// The findings: the heaviest first, then by code and place.
    pub findings: Vec<Finding>,
}

impl Assessment {
    /// The findings that weigh at least so much.
    pub fn from_severity(&self, severity: Severity) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(move |finding| finding.severity >= severity)
    }

    /// Whether the population is legal, as far as that is judged: an error makes it illegal; failing that, something that
    /// cannot be judged leaves it open.
    #[must_use]
    pub fn legality(&self) -> Legality {
        if self.from_severity(Severity::Error).next().is_some() {
            Legality::Illegal
        } else if self.findings.iter().any(|finding| finding.verdict == Verdict::Unknown) {
            Legality::Unknown
        } else {
            Legality::Legal
        }
    }

    /// Whether it is known to be legal.
    #[must_use]
    pub fn is_legal(&self) -> bool {
        self.legality() == Legality::Legal
    }
}

/// Whether a population is legal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Legality {
    /// It is: every rule was judged, and none is broken as an error.
    Legal,
    /// No rule is known to be broken as an error, but one cannot be judged, or something is fitted that nobody judges.
    Unknown,
    /// It is not.
    Illegal,
}

/// The figures, then the findings, a line each.
impl fmt::Display for Assessment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Figures { fitted, installed, usable, running_rate, interleave, bandwidth, power } = &self.figures;
        if fitted.total_mib != installed.total_mib {
            writeln!(f, "Fitted: {fitted}")?;
        }
        writeln!(f, "Installed: {installed}")?;
        writeln!(f, "Usable: {usable}")?;
        write!(f, "Running rate: {running_rate}")?;
        if installed.total_mib.is_zero() {
            return self.findings.iter().try_for_each(|finding| write!(f, "\n{finding}"));
        }
        write!(f, "\nInterleave: {interleave}")?;
        write!(f, "\nBandwidth, estimated: {bandwidth}")?;
        if *power != PowerDraw::default() && power.unknown_modules < installed.modules() {
            write!(f, "\nPower: {power}")?;
        }
        self.findings.iter().try_for_each(|finding| write!(f, "\n{finding}"))
    }
}
