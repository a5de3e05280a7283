//! Names with numbers: of modules, rates, ranks and widths.

use crate::intake::titles::reader::Found;
use crate::intake::titles::tokens::{Tokens, is_dash, is_times};
use crate::intake::titles::{Meaning, Says};
use crate::module::{Ddr4Bin, Ddr5Bin, DeviceWidth, Generation, Label, ModuleType, Stack};
use crate::unit::{DataRate, Voltage};

/// A standard label, also in small letters and with blanks in it.
pub(super) fn label(text: &str) -> Option<Label> {
    text.parse().ok().or_else(|| Label::found(text).ok()?.label)
}

pub(super) fn width(bits: u32) -> Option<DeviceWidth> {
    DeviceWidth::ALL.iter().copied().find(|width| width.bits() == bits)
}

/// A standard rate by either name, of a generation or of any: 2400, 2667 for 2666, 19200, 21333 for 21300.
///
/// Numbers from 5,000 on are names by bandwidth; DDR5 has rates there too, and its names by bandwidth start at 25,600.
pub(super) fn rate(generation: Option<Generation>, number: u32) -> Option<DataRate> {
    let generations = generation.map_or(Generation::ALL, |_| &[]).iter().copied().chain(generation);
    let rates = || generations.clone().flat_map(|generation| generation.rates().iter().copied());
    let by_rate = rates().find(|rate| {
        let name = rate.name_mts();
        name == number || name + 1 == number && rate.exact_mts().1 != 1
    });
    by_rate.or_else(|| {
        rates().find(|rate| {
            let (exact, name) = (rate.peak_bandwidth().floor_mbps(), rate.bandwidth_name());
            // cut to hundreds, to units, rounded up, and what is printed for 1066 and 1866: 8533, 14928
            (name..=exact + 1).contains(&u64::from(number)) && number >= 5_000 || name == 14_900 && number == 14_928
        })
    })
}

/// The speed bin that nearly every module of a rate has (common practice, no source).
fn usual_bin(generation: Generation, rate: DataRate) -> Option<&'static str> {
    match (generation, rate.name_mts()) {
        (Generation::Ddr4, 1600) => Some("k"),
        (Generation::Ddr4, 1866) => Some("m"),
        (Generation::Ddr4, 2133) => Some("p"),
        (Generation::Ddr4, 2400) => Some("t"),
        (Generation::Ddr4, 2666) => Some("v"),
        (Generation::Ddr4, 2933) => Some("y"),
        (Generation::Ddr4, 3200) => Some("aa"),
        (Generation::Ddr5, _) => Some("b"),
        _ => None,
    }
}

fn is_bin(generation: Generation, letters: &str) -> bool {
    let upper = letters.to_ascii_uppercase();
    match generation {
        Generation::Ddr3 => false,
        Generation::Ddr4 => Ddr4Bin::from_letters(&upper).is_some(),
        Generation::Ddr5 => Ddr5Bin::from_letters(&upper).is_some(),
    }
}

fn module_type(generation: Generation, letters: &str) -> Option<Vec<Says>> {
    let mut bytes = letters.bytes();
    let (Some(letter), None) = (bytes.next(), bytes.next()) else { return None };
    let of = ModuleType::new(generation, letter.to_ascii_uppercase())?;
    let mut says = vec![Says::Kinds(vec![of.kind()]), Says::Form(of.form_factor())];
    says.extend(of.ecc().map(|ecc| Says::CheckBits(ecc.corrects())));
    Some(says)
}

/// A number that is a rate, with the letters written onto it: "2400", "2400T", "2666V-R", "12800R".
/// What the letters say, and the token behind all.
pub(super) fn rate_and_letters(
    tokens: &Tokens,
    at: usize,
    generation: Option<Generation>,
    number: u32,
) -> Option<(DataRate, Vec<Says>, usize)> {
    let rate = rate(generation, number).filter(|_| number >= 800)?;
    let Some(letters) = tokens.glued_word(at + 1) else { return Some((rate, Vec::new(), at + 1)) };
    let of = generation.or_else(|| {
        [Generation::Ddr4, Generation::Ddr5]
            .into_iter()
            .find(|&generation| generation.rates().contains(&rate) && usual_bin(generation, rate) == Some(letters))
    })?;
    let (mut ways, next) = letters_behind(tokens, at + 1, of, rate, number)?;
    let says = if ways.len() == 1 { ways.pop()? } else { return None };
    Some((rate, says, next))
}

/// The letters behind a rate, all that they may say, and the token behind them and the tail of a label.
fn letters_behind(
    tokens: &Tokens,
    at: usize,
    generation: Generation,
    rate: DataRate,
    number: u32,
) -> Option<(Vec<Vec<Says>>, usize)> {
    let letters = tokens.glued_word(at).filter(|letters| letters.len() <= 2);
    if generation == Generation::Ddr3 {
        let says = module_type(generation, letters?)?;
        return Some((vec![says], tail(tokens, at + 1)));
    }
    let typed = |at: usize| {
        let behind_dash = tokens.is_glued(at) && is_dash(tokens.mark(at));
        let letters = tokens.glued_word(at + 1).filter(|_| behind_dash)?;
        let is_card = letters.len() == 2 && tokens.glued_number(at + 2).is_some();
        if letters.len() > 1 && !is_card || letters.len() == 1 && tokens.is_touched_behind(at + 1) {
            return None;
        }
        let says = module_type(generation, letters.get(..1)?)?;
        Some((says, tail(tokens, if is_card { at + 3 } else { at + 2 })))
    };
    let Some(letters) = letters else {
        return typed(at).map(|(says, next)| (vec![says], next));
    };
    if is_bin(generation, letters) {
        if let Some((says, next)) = typed(at + 1) {
            return Some((vec![says], next));
        }
    }
    let as_type = module_type(generation, letters);
    let is_bandwidth = u64::from(number) >= rate.bandwidth_name() && number != rate.name_mts();
    let ways = match as_type {
        _ if usual_bin(generation, rate) == Some(letters) => vec![Vec::new()],
        Some(says) if is_bandwidth || !is_bin(generation, letters) => vec![says],
        Some(says) => vec![says, Vec::new()],
        None if is_bin(generation, letters) => vec![Vec::new()],
        None => return None,
    };
    Some((ways, at + 1))
}

/// The token behind what a label has behind its type: "-11", "-9-11-E2", "-1010-XT".
fn tail(tokens: &Tokens, mut at: usize) -> usize {
    loop {
        let is_part = tokens.is_glued(at)
            && is_dash(tokens.mark(at))
            && tokens.is_glued(at + 1)
            && (tokens.number(at + 1).is_some_and(|number| number < 10_000)
                || tokens.word(at + 1).is_some_and(|word| word.len() <= 2));
        if !is_part {
            return at;
        }
        at += 2;
        while tokens.is_touched_before(at) && tokens.mark(at).is_none() {
            at += 1;
        }
    }
}

/// "DDR4", "DDR3L-1600", "PC4-2400T-R", "PC3L 10600R", "PC312800".
pub(super) fn module_name(
    tokens: &Tokens,
    at: usize,
    meaning: impl Fn(usize) -> Option<(Meaning, usize)>,
) -> Option<Found> {
    let is_pc = match tokens.word(at)? {
        "pc" => true,
        "ddr" => false,
        _ => return None,
    };
    let mut next = at + 1;
    if tokens.is_glued(next) && is_dash(tokens.mark(next)) {
        next += 1;
    }
    let digits = tokens.text(next);
    tokens.number(next)?;
    let generation = match digits.get(..1) {
        Some("3") => Generation::Ddr3,
        Some("4") => Generation::Ddr4,
        Some("5") => Generation::Ddr5,
        _ => return bandwidth_alone(tokens, next, is_pc),
    };
    let mut says = vec![Says::Generation(generation)];
    if digits.len() > 1 {
        // the rate is written onto the generation
        let number: u32 = digits.get(1..)?.parse().ok()?;
        let Some(rate) = rate(Some(generation), number).filter(|_| number >= 800) else {
            return bandwidth_alone(tokens, next, is_pc);
        };
        return Some(with_rate(tokens, next + 1, generation, rate, number, says));
    }
    next += 1;
    match tokens.glued_word(next) {
        Some("l") if generation == Generation::Ddr3 => {
            says.push(Says::Voltage(Voltage::V1_35));
            next += 1;
        }
        Some("u") if generation == Generation::Ddr3 => {
            says.push(Says::Voltage(Voltage::V1_25));
            next += 1;
        }
        Some("e") if generation == Generation::Ddr4 && is_pc => next += 1,
        _ => {}
    }
    let number_at = if is_dash(tokens.mark(next)) || tokens.mark(next) == Some('/') { next + 1 } else { next };
    let number = tokens.number(number_at).filter(|number| *number >= 800);
    let rate = number.and_then(|number| Some((number, rate(Some(generation), number)?)));
    match (number, rate) {
        (_, Some((number, rate))) => {
            let (ways, end) = with_rate(tokens, number_at + 1, generation, rate, number, says);
            // "DDR4-2400MHz"
            let end = match meaning(end) {
                Some((Meaning::RateUnit, behind)) if tokens.mark(end).is_none() => behind,
                _ => end,
            };
            Some((ways, end))
        }
        (Some(number), None) if number_at > next && tokens.is_glued(number_at) && number <= 20_000 => {
            // a rate is meant, and none that this generation has
            let other = self::rate(None, number).map_or(Says::OtherRate(number), Says::Rate);
            says.push(other);
            Some((vec![says], number_at + 1))
        }
        _ if tokens.is_touched_behind(next - 1) && meaning(next).is_none() => None,
        _ => Some((vec![says], next)),
    }
}

/// "PC 12800", "PC-19200": the generation is left out.
fn bandwidth_alone(tokens: &Tokens, at: usize, is_pc: bool) -> Option<Found> {
    let number = tokens.number(at).filter(|number| is_pc && *number >= 5_000)?;
    let rate = rate(None, number)?;
    (!tokens.is_touched_behind(at)).then(|| (vec![vec![Says::Rate(rate)]], at + 1))
}

fn with_rate(
    tokens: &Tokens,
    behind: usize,
    generation: Generation,
    rate: DataRate,
    number: u32,
    mut says: Vec<Says>,
) -> Found {
    says.push(Says::Rate(rate));
    match letters_behind(tokens, behind, generation, rate, number) {
        Some((ways, next)) if !tokens.is_touched_behind(next - 1) => {
            (ways.into_iter().map(|letters| says.iter().cloned().chain(letters).collect()).collect(), next)
        }
        _ => (vec![says], behind),
    }
}

/// "2Rx4", "2S4Rx4", "4DRx4", "2R x 4", "2R".
pub(super) fn ranks(tokens: &Tokens, at: usize) -> Option<(Vec<Says>, usize)> {
    let first = u8::try_from(tokens.number(at)?).ok().filter(|ranks| (1..=8).contains(ranks))?;
    let letters = tokens.word(at + 1)?;
    let mut next = at + 2;
    let (mut says, letters) = if letters == "s" && tokens.is_glued(at + 1) {
        let height = tokens.glued_number(at + 2)?;
        let stack = Stack::ALL.iter().copied().find(|stack| {
            stack.is_of(Generation::Ddr4) && stack.height() == height && *stack != Stack::Single && !is_die(*stack)
        })?;
        next = at + 4;
        (vec![Says::PackageRanks(first), Says::Stack(stack)], tokens.glued_word(at + 3)?)
    } else {
        match letters.strip_prefix('d').or_else(|| letters.strip_prefix('q')) {
            Some(rest) if rest.starts_with('r') && tokens.is_glued(at + 1) => {
                let stack = if letters.starts_with('d') { Stack::DualDie } else { Stack::QuadDie };
                (vec![Says::PackageRanks(first), Says::Stack(stack)], rest)
            }
            _ => (vec![Says::Ranks(first)], letters),
        }
    };
    let has_times = match letters {
        "rx" => true,
        "r" if is_times(tokens, next) => {
            next += 1;
            true
        }
        "r" => false,
        _ => return None,
    };
    if has_times {
        let is_touched = tokens.is_touched_behind(next) && !matches!(tokens.word(next + 1), Some("pc" | "ddr"));
        let width = tokens.number(next).and_then(width).filter(|_| !is_touched)?;
        // so a label writes single dies
        if let [Says::Ranks(ranks)] = *says.as_slice() {
            says = vec![Says::PackageRanks(ranks), Says::Stack(Stack::Single)];
        }
        says.push(Says::Width(width));
        return Some((says, next + 1));
    }
    (tokens.is_glued(at + 1) && !tokens.is_touched_behind(next - 1)).then_some((says, next))
}

/// "DRx4": two ranks.
pub(super) fn ranks_in_letters(tokens: &Tokens, at: usize) -> Option<Found> {
    let ranks = match tokens.word(at)? {
        "srx" => 1,
        "drx" => 2,
        "qrx" => 4,
        _ => return None,
    };
    let width = tokens.glued_number(at + 1).and_then(width)?;
    let is_free = !tokens.is_touched_before(at) && !tokens.is_touched_behind(at + 1);
    is_free.then(|| (vec![vec![Says::Ranks(ranks), Says::Width(width)]], at + 2))
}

const fn is_die(stack: Stack) -> bool {
    matches!(stack, Stack::DualDie | Stack::QuadDie)
}
