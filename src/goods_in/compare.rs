//! A piece held against what a line states.

use crate::goods_in::FactDiffers;
use crate::goods_in::facts::PieceFacts;
use crate::population::combine::is_of_itself;
use crate::population::{ModuleFact, SeenModule, combine, folded};
use crate::unit::Name;

/// What comes of it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Compared {
    pub(crate) differs: Vec<FactDiffers>,
    pub(crate) unread: Vec<ModuleFact>,
    /// Whether nothing is open, of these facts or else.
    pub(crate) is_right: bool,
}

impl Compared {
    pub(crate) fn of(wanted: &SeenModule, piece: &PieceFacts) -> Self {
        let mut compared = Self::default();
        for fact in ModuleFact::ALL {
            // that it is plain memory need not be said
            if fact == ModuleFact::Device || wanted.has(fact) {
                compared.hold(fact, wanted, piece);
            }
        }
        let is_open = !compared.unread.is_empty() || piece.is_held_back || piece.is_doubled;
        compared.is_right = compared.differs.is_empty() && !is_open;
        compared
    }

    fn hold(&mut self, fact: ModuleFact, wanted: &SeenModule, piece: &PieceFacts) {
        let differs = |seen: &SeenModule, medium| FactDiffers {
            fact,
            ordered: Name::lossy(&wanted.text(fact).unwrap_or_else(|| "plain memory".to_owned())),
            found: Name::lossy(&seen.text(fact).unwrap_or_default()),
            medium,
        };
        // what the piece itself says, no better source can mend
        let firm = piece.said.iter().filter(|source| is_of_itself(fact) && source.medium.is_firm());
        let mut against = firm.filter(|source| agrees(wanted, &source.module, fact) == Some(false));
        if let Some(source) = against.next() {
            self.differs.push(differs(&source.module, source.medium));
            return;
        }
        let is_inferred = piece.seen.inferred.contains(&fact);
        // a number of ranks is held against the ranks
        let by = piece.said_by.get(&fact).or_else(|| piece.said_by.get(&ModuleFact::PackageRanks));
        match (agrees(wanted, &piece.seen, fact), by) {
            (Some(false), Some(&medium)) if !is_inferred => self.differs.push(differs(&piece.seen, medium)),
            (Some(true), _) if !is_inferred => {}
            _ => self.unread.push(fact),
        }
    }
}

/// Whether a module is in a fact as it is wanted; `None` where it does not tell.
fn agrees(wanted: &SeenModule, seen: &SeenModule, fact: ModuleFact) -> Option<bool> {
    match fact {
        ModuleFact::Device => match (wanted.device, seen.device) {
            (None, None) => Some(true),
            (Some(_), None) => None,
            (wanted, seen) => Some(wanted == seen),
        },
        ModuleFact::Capacity => {
            let (exactly, least) = (seen.capacity_mib, seen.capacity_mib.or(seen.capacity_at_least_mib)?);
            match (wanted.capacity_mib, wanted.capacity_at_least_mib) {
                (Some(wanted), _) => exactly.map(|size| size == wanted).or((least > wanted).then_some(false)),
                (None, wanted) => {
                    let is_enough = wanted.is_none_or(|wanted| least >= wanted);
                    (is_enough || exactly.is_some()).then_some(is_enough)
                }
            }
        }
        ModuleFact::RankNumber => {
            let wanted = u32::from(wanted.rank_number?);
            let stated = seen.rank_number.map(|number| u32::from(number) == wanted);
            let Some(ranks) = seen.package_ranks.map(u32::from) else { return stated };
            match seen.stack {
                _ if ranks == wanted => Some(true),
                Some(stack) => Some(ranks * stack.height() == wanted),
                None => stated.filter(|agrees| *agrees),
            }
        }
        ModuleFact::Voltages => {
            let (wanted, seen) = (wanted.voltages_mv.as_ref()?, seen.voltages_mv.as_ref()?);
            Some(wanted.iter().all(|voltage| seen.iter().any(|other| other == voltage)))
        }
        ModuleFact::Maker => match (wanted.maker_id.zip(seen.maker_id), wanted.maker.as_ref().zip(seen.maker.as_ref()))
        {
            (Some((wanted, seen)), _) => Some(wanted == seen),
            (None, names) => names.map(|(wanted, seen)| folded(wanted.as_str()) == folded(seen.as_str())),
        },
        ModuleFact::PartNumber => {
            let (wanted, seen) = (wanted.part_number.as_ref()?, seen.part_number.as_ref()?);
            Some(folded(wanted.as_str()) == folded(seen.as_str()))
        }
        ModuleFact::Serial => {
            let (wanted, seen) = (wanted.serial.as_ref()?, seen.serial.as_ref()?);
            Some(combine::serial(wanted.as_str()) == combine::serial(seen.as_str()))
        }
        ModuleFact::Generation
        | ModuleFact::Kind
        | ModuleFact::FormFactor
        | ModuleFact::Height
        | ModuleFact::Ecc
        | ModuleFact::PackageRanks
        | ModuleFact::Stack
        | ModuleFact::Width
        | ModuleFact::DieDensity
        | ModuleFact::Grade => seen.has(fact).then(|| !wanted.contradicts(seen, fact)),
    }
}
