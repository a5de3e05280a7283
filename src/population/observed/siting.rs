//! Laying reports on a board: which slots their places are, or why that cannot be told.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use thiserror::Error;

use crate::platform::{Platform, SlotId};
use crate::population::observed::laying::Laying;
use crate::population::observed::locator::behind_processor;
use crate::population::observed::placement::Labels;
use crate::population::observed::sockets::Sockets;
use crate::population::{Medium, Observed, PlacedBy, Placement, Report, SeenPlace, Sited};
use crate::unit::{Name, Names};

/// Why reports cannot be laid on a board.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SitingError {
    /// There is no hardware to plan for.
    #[error("{report} is of a virtual machine ({why}): its memory is no modules, and nothing can be planned for it")]
    VirtualMachine {
        /// The report.
        report: Name,
        /// What says so.
        why: Name,
    },
    /// Places with modules are on no slot of the board.
    #[error(
        "{report} does not fit {platform}: no reading seats each of its modules in a slot of its own{}; it names {places}, \
         the board has {slots}",
        because(misfits)
    )]
    DoesNotFit {
        /// The report.
        report: Name,
        /// The board.
        platform: Name,
        /// The texts of the places with modules.
        places: Names,
        /// The slots of the board.
        slots: Names,
        /// What is in the way, as far as labels tell: "A1 comes twice".
        misfits: Vec<Name>,
    },
    /// Several readings of the places fit.
    #[error("{report} can be read in {} ways: {}; say which is meant", ways.len(), in_short(ways))]
    SeveralWays {
        /// The report.
        report: Name,
        /// All of them: pass on the one that is meant.
        ways: Vec<Placement>,
    },
    /// A placement of the caller's names what is not there.
    #[error(
        "the placement for {report} names {unknown}, which {platform} or the report does not have, or one slot twice"
    )]
    UnknownPlacement {
        /// The report.
        report: Name,
        /// The board.
        platform: Name,
        /// The places, slots or reports that are not known.
        unknown: Names,
    },
}

/// The first place by which placements differ, in each.
fn in_short(ways: &[Placement]) -> String {
    let ids: BTreeSet<&Name> = ways.iter().flat_map(|way| way.slots.keys()).collect();
    let differs = |id: &&&Name| {
        ways.windows(2).any(|pair| matches!(pair, [one, other] if one.slots.get(**id) != other.slots.get(**id)))
    };
    let Some(id) = ids.iter().find(differs) else { return String::new() };
    let slot = |way: &Placement| way.slots.get(*id).map_or("nowhere".to_owned(), ToString::to_string);
    format!("{id} is {}", ways.iter().map(slot).collect::<Vec<_>>().join(" or "))
}

impl Observed {
    /// Lays the reports on a board.
    ///
    /// Places are found by the labels of slots (case, blanks, separators and leading zeros aside), by addresses that
    /// the board's description declares, or by the shapes in which reports number sockets, channels and slots; all
    /// places of a report are read in one way, and each module needs a slot of its own at a processor that is there.
    /// What sits where is told by the newest machine report; what a module is, by the most trusted source. Reports of
    /// one start of the machine ([`Report::start`]) are joined by slot; others only by serial number.
    ///
    /// # Errors
    /// A virtual machine, a machine report that does not fit the board, or that fits in several ways.
    pub fn on(&self, platform: &Platform) -> Result<Sited, SitingError> {
        self.on_as(platform, &[])
    }

    /// The same where the caller says which slot the places of some reports are.
    ///
    /// # Errors
    /// As [`Observed::on`]; and a placement that names a report, place or slot that is not there.
    pub fn on_as(&self, platform: &Platform, placements: &[Placement]) -> Result<Sited, SitingError> {
        self.refuse_virtual()?;
        let mut laid = Vec::new();
        for given in placements {
            self.check(given, platform)?;
        }
        for report in self.reports() {
            let given = placements.iter().find(|given| given.report == report.name);
            let placement = given.map_or_else(|| place(report, platform), |given| Ok(given.clone()))?;
            laid.push((report, placement));
        }
        let mut sited = Laying::new(platform, laid).sited();
        sited.read();
        Ok(sited)
    }

    /// The same without working out what modules can be: for those who compare what is said of them.
    pub(crate) fn bare_on(&self, platform: &Platform) -> Result<Sited, SitingError> {
        self.refuse_virtual()?;
        let laid: Result<Vec<_>, _> =
            self.reports().iter().map(|report| place(report, platform).map(|placement| (report, placement))).collect();
        Ok(Laying::new(platform, laid?).sited())
    }

    fn refuse_virtual(&self) -> Result<(), SitingError> {
        let is_virtual = |report: &Report| Some((report.name.clone(), report.virtual_machine.clone()?));
        match self.reports().iter().find_map(is_virtual) {
            Some((report, why)) => Err(SitingError::VirtualMachine { report, why }),
            None => Ok(()),
        }
    }

    fn check(&self, given: &Placement, platform: &Platform) -> Result<(), SitingError> {
        let report = self.report(given.report.as_str());
        let mut unknown: Vec<&Name> = if report.is_none() { vec![&given.report] } else { Vec::new() };
        let mut taken = BTreeSet::new();
        for (id, slot) in &given.slots {
            if report.is_some_and(|report| report.places.iter().all(|place| place.id != *id)) {
                unknown.push(id);
            }
            if platform.slot_named(slot.as_str()).is_none() || !taken.insert(slot) {
                unknown.push(slot);
            }
        }
        if unknown.is_empty() {
            return Ok(());
        }
        let unknown = unknown.into_iter().collect();
        Err(SitingError::UnknownPlacement { report: given.report.clone(), platform: platform.name().clone(), unknown })
    }
}

/// How a report is laid on the board, where just one way is right.
fn place(report: &Report, platform: &Platform) -> Result<Placement, SitingError> {
    if !matches!(report.medium, Medium::Machine | Medium::Rows) {
        // where a caller has seen a label or an SPD, he says it by the slot's label
        let labels = Labels::new(platform);
        let slot = |place: &SeenPlace| {
            let slot = place.texts().find_map(|text| labels.slot(text.as_str()))?;
            Some((place.id.clone(), platform.slot(slot).label().clone()))
        };
        let slots = report.places.iter().filter_map(slot).collect();
        return Ok(Placement { report: report.name.clone(), by: PlacedBy::Label, slots });
    }
    if report.places.is_empty() {
        return Ok(Placement { report: report.name.clone(), by: PlacedBy::Label, slots: BTreeMap::new() });
    }
    let mut ways = Placement::all(report, platform);
    match (ways.pop(), ways.is_empty()) {
        (Some(only), true) => Ok(only),
        (Some(last), false) => {
            ways.push(last);
            Err(SitingError::SeveralWays { report: report.name.clone(), ways })
        }
        (None, _) if report.filled().next().is_none() => {
            Ok(Placement { report: report.name.clone(), by: PlacedBy::Label, slots: BTreeMap::new() })
        }
        (None, _) => Err(SitingError::DoesNotFit {
            report: report.name.clone(),
            platform: platform.name().clone(),
            places: report.filled().map(|place| place.texts().next().unwrap_or(&place.id)).collect(),
            slots: platform.slot_labels(),
            misfits: misfits(report, platform),
        }),
    }
}

fn because(misfits: &[Name]) -> String {
    match misfits {
        [] => String::new(),
        some => format!(" ({})", some.iter().map(Name::as_str).collect::<Vec<_>>().join("; ")),
    }
}

/// What keeps places with modules from their slots, where they are named by labels.
fn misfits(report: &Report, platform: &Platform) -> Vec<Name> {
    let sockets = Sockets::of(report, platform);
    let labels = Labels::new(platform);
    let (mut taken, mut misfits) = (BTreeSet::new(), Vec::new());
    for place in report.filled() {
        let slot = place.texts().find_map(|text| slot_behind(&labels, text.as_str()));
        let Some(slot) = slot else {
            let text = place.texts().next().unwrap_or(&place.id);
            misfits.push(Name::lossy(&format!("{text} names no slot")));
            continue;
        };
        let label = platform.slot(slot).label();
        if !taken.insert(slot) {
            misfits.push(Name::lossy(&format!("{label} comes twice")));
        }
        let socket = platform.slot(slot).socket;
        if !sockets.allow(place, socket) {
            let socket = &platform.socket(socket).label;
            misfits.push(Name::lossy(&format!(
                "{label} is at processor {socket}, which is reported to be empty or another"
            )));
        }
    }
    misfits.dedup();
    misfits
}

/// The slot that a text names by its label, also behind the name of a processor.
fn slot_behind(labels: &Labels<'_>, text: &str) -> Option<SlotId> {
    let behind = || behind_processor(text).and_then(|(_, label)| labels.slot(label));
    labels.slot(text).or_else(behind)
}
