//! From claims to readings.

use crate::intake::titles::amounts::Amount;
use crate::intake::titles::{Aside, Claim, Lot, LotDoubt, LotFact, LotReading, Says};
use crate::module::{Generation, Label, ModuleKind, VariantLetter};
use crate::unit::Voltage;

/// How many ways through the claims are looked at.
const MOST_WAYS: usize = 64;

impl Claim {
    pub(super) fn says_rate(&self) -> bool {
        let is_rate = |says: &Says| matches!(says, Says::Rate(_) | Says::OtherRate(_) | Says::Label(_));
        self.ways.iter().flatten().any(is_rate)
    }

    pub(super) fn generations(&self) -> impl Iterator<Item = Generation> + '_ {
        self.ways.iter().flatten().filter_map(|says| match says {
            Says::Generation(generation) => Some(*generation),
            Says::Label(label) => Some(label.generation()),
            _ => None,
        })
    }
}

/// What a label says, one by one; its size is an amount.
fn told_by(label: &Label) -> Vec<Says> {
    let module = label.module();
    let mut says = vec![
        Says::Generation(module.generation()),
        Says::Rate(label.data_rate()),
        Says::Kinds(vec![module.kind()]),
        Says::Form(label.module_type().form_factor()),
        Says::Width(label.organization().width),
    ];
    says.extend(module.ecc().map(|ecc| Says::CheckBits(ecc.corrects())));
    let ranks = label.organization().package_ranks;
    says.push(Says::PackageRanks(ranks));
    says.extend(match label.variant() {
        Some(VariantLetter::L) => Some(Says::Voltage(Voltage::V1_35)),
        Some(VariantLetter::U) => Some(Says::Voltage(Voltage::V1_25)),
        _ => None,
    });
    says.push(Says::Stack(label.organization().stack));
    says
}

/// One reading in the making, with the facts on which its claims contradict each other.
#[derive(Debug, Clone, Default)]
struct Draft {
    reading: LotReading,
    contradictions: Vec<LotFact>,
    is_several: bool,
    /// Whether dies that the generation had give the size.
    has_die: bool,
    other_rates: Vec<u32>,
    /// Which of the lot's claims were read as what; for telling which contradict.
    ways: Vec<usize>,
}

impl Draft {
    fn refuse(&mut self, fact: LotFact) {
        if !self.contradictions.contains(&fact) {
            self.contradictions.push(fact);
        }
    }

    fn take(&mut self, says: &Says) {
        macro_rules! same {
            ($field:ident, $value:expr, $fact:ident) => {
                match self.reading.$field {
                    Some(known) if known != $value => self.refuse(LotFact::$fact),
                    _ => self.reading.$field = Some($value),
                }
            };
        }
        match says {
            Says::Generation(generation) => same!(generation, *generation, Generation),
            Says::Rate(rate) => same!(grade_mts, *rate, Rate),
            Says::OtherRate(mts) => self.other_rates.push(*mts),
            Says::Kinds(kinds) => self.take_kinds(kinds),
            Says::CheckBits(has) => same!(has_check_bits, *has, CheckBits),
            Says::Form(form) => same!(form_factor, *form, Form),
            Says::Ranks(ranks) => same!(rank_number, *ranks, Ranks),
            Says::PackageRanks(ranks) => same!(package_ranks, *ranks, Ranks),
            Says::Stack(stack) => same!(stack, *stack, Ranks),
            Says::Width(width) => same!(width, *width, Width),
            Says::Voltage(voltage) => same!(voltage_mv, *voltage, Voltage),
            Says::Condition(condition) => self.take_condition(*condition),
            Says::AtLeast(count) => {
                self.reading.at_least = Some(self.reading.at_least.map_or(*count, |known| known.max(*count)));
            }
            _ => {}
        }
    }

    /// What a label says, but for what is settled without it.
    fn take_label(&mut self, label: &Label, settled: &[LotFact]) {
        match &self.reading.label {
            Some(known) if known != label => self.is_several = true,
            _ => self.reading.label = Some(label.clone()),
        }
        for says in told_by(label) {
            if says.fact().is_none_or(|fact| !settled.contains(&fact)) {
                self.take(&says);
            }
        }
    }

    fn take_kinds(&mut self, kinds: &[ModuleKind]) {
        if self.reading.kinds.is_empty() {
            self.reading.kinds = kinds.to_vec();
            return;
        }
        let both: Vec<ModuleKind> = self.reading.kinds.iter().filter(|kind| kinds.contains(kind)).copied().collect();
        if both.is_empty() || self.contradictions.contains(&LotFact::Kind) {
            self.refuse(LotFact::Kind);
            self.reading.kinds.extend(kinds);
            self.reading.kinds.sort_unstable();
            self.reading.kinds.dedup();
        } else {
            self.reading.kinds = both;
        }
    }

    /// The stronger word of two that go together holds: pulled and tested.
    fn take_condition(&mut self, condition: crate::intake::titles::LotCondition) {
        use crate::intake::titles::LotCondition::{Broken, New, Pulled, Refurbished, Tested, Untested, Used};
        self.reading.condition = Some(match (self.reading.condition, condition) {
            (None, one) => one,
            (Some(known), other) => match (known.min(other), known.max(other)) {
                (one, same) if one == same => one,
                (Used, stronger) => stronger,
                (Tested, stronger @ (Refurbished | Pulled)) => stronger,
                (New, Tested) => New,
                (Refurbished, Pulled) => Refurbished,
                (Pulled, Untested) => Pulled,
                (Untested, Broken) => Broken,
                (Pulled, Broken) => Broken,
                _ => {
                    self.refuse(LotFact::Condition);
                    known
                }
            },
        });
    }

    fn finish(mut self, amount: Amount) -> Self {
        self.reading.count = amount.count;
        self.reading.capacity_mib = amount.each;
        self.reading.together_mib = amount.together;
        self.is_several |= amount.is_several;
        if !amount.is_whole {
            self.refuse(LotFact::Amount);
        }
        // ranks counted so and so are one fact
        if let (Some(number), Some(ranks)) = (self.reading.rank_number, self.reading.package_ranks) {
            let height = self.reading.stack.map_or(1, crate::module::Stack::height);
            if u32::from(number) == u32::from(ranks) || u32::from(number) == u32::from(ranks) * height {
                self.reading.rank_number = None;
            } else {
                self.refuse(LotFact::Ranks);
            }
        }
        let reading = &mut self.reading;
        for fact in &self.contradictions {
            match fact {
                LotFact::Amount => {
                    (reading.count, reading.capacity_mib, reading.together_mib) = (None, None, None);
                }
                LotFact::Generation => reading.generation = None,
                LotFact::Rate => reading.grade_mts = None,
                LotFact::Kind => {}
                LotFact::CheckBits => reading.has_check_bits = None,
                LotFact::Form => reading.form_factor = None,
                LotFact::Ranks => (reading.rank_number, reading.package_ranks, reading.stack) = (None, None, None),
                LotFact::Width => reading.width = None,
                LotFact::Voltage => reading.voltage_mv = None,
                LotFact::Condition => reading.condition = None,
            }
        }
        self.contradictions.sort_unstable();
        self.has_die = self.reading.seen().has_usual_die();
        self
    }
}

/// Works out what the claims of a lot, and what is confirmed beside them, can mean.
pub(super) fn judge(lot: &mut Lot) {
    let told = |says: &Says| match says {
        Says::Label(label) => told_by(label).iter().filter_map(Says::fact).chain([LotFact::Amount]).collect(),
        other => other.fact().into_iter().collect::<Vec<_>>(),
    };
    let confirmed: Vec<LotFact> = lot.confirmed.iter().flat_map(told).collect();
    let is_width_said = lot.claims.iter().any(|claim| {
        matches!(claim.ways.as_slice(), [only] if only.iter().any(|says| matches!(says, Says::Width(_) | Says::Label(_))))
    });
    let ways: Vec<Vec<&Vec<Says>>> = lot.claims.iter().map(|claim| claim_ways(claim, is_width_said)).collect();
    let number = ways.iter().map(Vec::len).fold(1_usize, usize::saturating_mul);
    let mut drafts = Vec::new();
    for combination in 0..number.min(MOST_WAYS) {
        drafts.extend(drafts_of(&ways, combination, &confirmed, &lot.confirmed));
    }
    // what needs a die that was never made is meant only if nothing else can be
    let cost = |draft: &Draft| (draft.is_several, draft.contradictions.len(), !draft.has_die);
    let least = drafts.iter().map(cost).min();
    drafts.retain(|draft| Some(cost(draft)) == least);
    lot.doubts = doubts(lot, &drafts);
    if number > MOST_WAYS {
        lot.doubts.push(LotDoubt::TooManyReadings);
    }
    lot.readings.clear();
    for draft in drafts {
        let is_said = draft.reading != LotReading::default() || !draft.contradictions.is_empty() || draft.is_several;
        if is_said && !lot.readings.contains(&draft.reading) {
            lot.readings.push(draft.reading);
        }
    }
    if !is_of_modules(lot) {
        lot.readings.clear();
        lot.doubts.clear();
    }
}

/// Whether claims speak of a memory module: a size, a kind, a rate or ranks, and something else that memory has. A size
/// alone is that of anything, and "DDR4 DIMM" may be said of what a module goes into.
fn is_of_modules(lot: &Lot) -> bool {
    let (mut of_modules, mut others) = (Vec::new(), Vec::new());
    for says in lot.claims.iter().flat_map(|claim| claim.ways.iter().flatten()).chain(&lot.confirmed) {
        match says {
            Says::Label(_) => return true,
            Says::Count(_) | Says::SetOf(_) | Says::Sets(_) | Says::Times { .. } => {}
            Says::Aside(Aside::Memory | Aside::Pins) => others.push(None),
            Says::Aside(_) | Says::Condition(_) | Says::Voltage(_) | Says::AtLeast(_) => {}
            Says::Generation(_) | Says::Form(_) | Says::CheckBits(_) => others.push(says.fact()),
            _ => of_modules.push(says.fact()),
        }
    }
    of_modules.dedup();
    of_modules.len() > 1 || !of_modules.is_empty() && !others.is_empty()
}

/// The ways to read a claim. Where ranks and width are said, a lone "x4" is no second word on the width.
fn claim_ways(claim: &Claim, is_width_said: bool) -> Vec<&Vec<Says>> {
    let is_lone_width = |way: &Vec<Says>| {
        way.iter().any(|says| matches!(says, Says::Width(_))) && !way.iter().any(|says| matches!(says, Says::Ranks(_)))
    };
    let all: Vec<&Vec<Says>> = claim.ways.iter().collect();
    if all.len() < 2 || !is_width_said {
        return all;
    }
    all.into_iter().filter(|way| !is_lone_width(way)).collect()
}

fn drafts_of(ways: &[Vec<&Vec<Says>>], mut combination: usize, settled: &[LotFact], confirmed: &[Says]) -> Vec<Draft> {
    let mut draft = Draft::default();
    let mut amounts = Vec::new();
    for of_claim in ways {
        let at = combination % of_claim.len().max(1);
        combination /= of_claim.len().max(1);
        draft.ways.push(at);
        for says in of_claim.get(at).into_iter().flat_map(|way| way.iter()) {
            match says {
                Says::Label(label) => draft.take_label(label, settled),
                _ if says.fact().is_none_or(|fact| !settled.contains(&fact)) => draft.take(says),
                _ => continue,
            }
            if !settled.contains(&LotFact::Amount) {
                amounts.push(says);
            }
        }
    }
    for says in confirmed {
        match says {
            Says::Label(label) => draft.take_label(label, &[]),
            _ => draft.take(says),
        }
        amounts.push(says);
    }
    Amount::all(amounts.into_iter()).into_iter().map(|amount| draft.clone().finish(amount)).collect()
}

fn doubts(lot: &Lot, drafts: &[Draft]) -> Vec<LotDoubt> {
    let mut doubts = Vec::new();
    let mut add = |doubt| {
        if !doubts.contains(&doubt) {
            doubts.push(doubt);
        }
    };
    for (claim, of) in lot.claims.iter().enumerate() {
        let is_uncertain = |says: &Says| {
            matches!(says, Says::Aside(Aside::NotForSale | Aside::NoPlainMemory | Aside::Hedge | Aside::Denial))
        };
        if of.ways.iter().flatten().any(is_uncertain) {
            add(LotDoubt::Uncertain { claim });
        }
    }
    for draft in drafts {
        if draft.is_several {
            add(LotDoubt::SeveralLots);
            continue;
        }
        for &fact in &draft.contradictions {
            add(LotDoubt::Contradiction { fact, claims: speaking_of(lot, fact) });
        }
        let LotReading { generation, capacity_mib, grade_mts, .. } = draft.reading;
        let Some(generation) = generation else { continue };
        if let Some(rate) = grade_mts.filter(|rate| !generation.rates().contains(rate)) {
            add(LotDoubt::NoSuchRate { mts: rate.name_mts(), generation });
        }
        if let Some(voltage_mv) = draft.reading.voltage_mv.filter(|voltage| !generation.voltages().contains(voltage)) {
            add(LotDoubt::NoSuchVoltage { voltage_mv, generation });
        }
        for &mts in &draft.other_rates {
            add(LotDoubt::NoSuchRate { mts, generation });
        }
        if let Some(capacity_mib) = capacity_mib.filter(|_| !draft.has_die) {
            add(LotDoubt::NoSuchDie { capacity_mib, generation });
        }
    }
    doubts
}

/// The claims that speak of a fact.
fn speaking_of(lot: &Lot, fact: LotFact) -> Vec<usize> {
    let speaks = |says: &Says| match says {
        Says::Label(label) => fact == LotFact::Amount || told_by(label).iter().any(|says| says.fact() == Some(fact)),
        other => other.fact() == Some(fact),
    };
    let all = lot.claims.iter().enumerate();
    all.filter(|(_, claim)| claim.ways.iter().flatten().any(speaks)).map(|(at, _)| at).collect()
}
