use std::collections::BTreeMap;

use crate::intake::titles::tokens::{Tokens, is_dash};
use crate::intake::titles::{Aside, LotCondition, Says};
use crate::module::{FormFactor, ModuleKind};
use crate::unit::Voltage;

/// What a word of a title stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Meaning {
    /// It says something by itself: "RDIMM", "used".
    Says(Vec<Says>),
    /// The number before it, with an "x", is the width of the devices: "chips".
    Devices,
    /// The number of modules behind it is the least for a price: "from 10 pcs".
    From,
    /// The number behind it is the fewest modules that are sold: "MOQ".
    AtLeast,
    /// It turns what follows round: "not", "non", "without".
    Not,
    /// The number behind it counts modules: "qty", "lot of".
    Counts,
    /// The number before it counts modules: "pcs".
    Counted,
    /// The number behind it, if any, is that of the modules of a set; one before it counts sets: "kit", "kit of".
    Set,
    /// The size beside it is that of one module: "each".
    Each,
    /// The size beside it is that of all modules: "total".
    Together,
    /// The number beside it is money: "EUR".
    Currency,
    /// Digits behind it are a number to call: "tel".
    Phone,
    /// The size before it is in so many MiB: "GB".
    Unit(u64),
    /// The number before it is a rate in MT/s: "MHz".
    RateUnit,
    /// The number before it is in volts: "V".
    Volts,
    /// The number before it is one of ranks: "rank".
    Ranks,
}

/// The words by which titles are read. Case is no matter; hyphens, points and slashes within a phrase are none either.
///
/// ```
/// use slotwright::intake::titles::{self, Meaning, Words};
///
/// let words = Words::standard().with("stk i alt", Meaning::Counted).with("sek", Meaning::Currency);
/// let lot = titles::read("8 stk i alt: 16GB PC4-2400T-R, 4000 SEK", &words);
/// assert_eq!(lot.to_string(), "8 x 16 GB DDR4 registered, DIMM, ECC (72 bits), rated 2400 MT/s");
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Words {
    /// By their first word; longer phrases first.
    by_first: BTreeMap<String, Vec<(Vec<String>, Meaning)>>,
}

/// Words that say something by themselves. Common practice, no source.
fn telling() -> Vec<(&'static str, Vec<Says>)> {
    use LotCondition::{Broken, New, Pulled, Refurbished, Tested, Untested, Used};
    use ModuleKind::{ClockedUnbuffered, CompressionAttached, LoadReduced, MultiplexedRank, Registered, Unbuffered};
    let kinds = |kinds: &[ModuleKind]| vec![Says::Kinds(kinds.to_vec())];
    let with_form = |kind, form| vec![Says::Kinds(vec![kind]), Says::Form(form)];
    let condition = |condition| vec![Says::Condition(condition)];
    let aside = |aside| vec![Says::Aside(aside)];
    vec![
        ("rdimm, rdimms, r dimm", with_form(Registered, FormFactor::Dimm)),
        ("lrdimm, lrdimms, lr dimm", with_form(LoadReduced, FormFactor::Dimm)),
        ("load reduced, loadreduced, lastreduziert", kinds(&[LoadReduced])),
        ("udimm, udimms, u dimm", with_form(Unbuffered, FormFactor::Dimm)),
        (
            "unbuffered, unregistered, ungepuffert, unbuff, unreg, non registered, non reg, not buffered, non \
             buffered, no buffer, non bufferizzata, sin buffer, senza buffer, sans tampon, ohne puffer, zonder \
             buffer, non tamponnée",
            kinds(&[Unbuffered]),
        ),
        (
            "registered, reg, regd, buffered, registriert, registrada, registrato, enregistrée, registré",
            kinds(&[Registered, LoadReduced]),
        ),
        ("eccreg, regecc", { vec![Says::CheckBits(true), Says::Kinds(vec![Registered, LoadReduced])] }),
        ("sodimm, so dimm, sodimms, so dimms", with_form(Unbuffered, FormFactor::SoDimm)),
        ("cudimm", with_form(ClockedUnbuffered, FormFactor::Dimm)),
        ("csodimm", with_form(ClockedUnbuffered, FormFactor::SoDimm)),
        ("mrdimm, mrdimms", with_form(MultiplexedRank, FormFactor::Dimm)),
        ("camm, lpcamm", kinds(&[CompressionAttached])),
        (
            "pair of, paio di, un paio di, pair, a pair of, paar, ein paar, paire de, coppia di, par de",
            vec![Says::Count(2)],
        ),
        ("dimm, dimms", vec![Says::Form(FormFactor::Dimm)]),
        ("ecc", vec![Says::CheckBits(true)]),
        ("nonecc, noecc, non parity", vec![Says::CheckBits(false)]),
        ("low voltage, lv", vec![Says::Voltage(Voltage::V1_35)]),
        ("single rank, single ranked", vec![Says::Ranks(1)]),
        ("dual rank, dual ranked, double rank", vec![Says::Ranks(2)]),
        ("quad rank, quad ranked", vec![Says::Ranks(4)]),
        ("octal rank, octo rank", vec![Says::Ranks(8)]),
        (
            "new, brand new, new other, open box, sealed, neu, neuf, neuve, nuevo, nueva, nuovo, nuova, bnib, \
             nib, unused, unbenutzt, neuware, nieuw, nowy, nowa, nowe, nuovi, nuevos",
            condition(New),
        ),
        (
            "used, second hand, gebraucht, like new, as new, neuwertig, wie neu, comme neuf, come nuovo, como \
             nuevo, new old stock, almost new, refurbished used, gebr, occasion, usado, usada, usata, usato, \
             usati, usate, gebruikt, gebruikte, używany, używana, używane, usados, preowned, pre owned, utilisé, \
             utilisée",
            condition(Used),
        ),
        (
            "tested, fully tested, tested working, getestet, getest, przetestowane, geprüft, testé, testée, \
             testés, testées, probado, probada, testato, testata, testati, testate, working, memtested, \
             funktioniert",
            condition(Tested),
        ),
        (
            "refurbished, refurb, generalüberholt, überholt, reconditionné, reconditionnée, reacondicionado, \
             reacondicionada, ricondizionato, ricondizionata, ricondizionati, ricondizionate, reacondicionados, \
             refurbi, recertified",
            condition(Refurbished),
        ),
        ("pulled, pull, pulls, ausgebaut, z demontażu, demontiert, server pull, server pulled", condition(Pulled)),
        (
            "untested, not tested, unknown if working, unknown condition, as is, as it is, sold as is, working \
             condition unknown, ungewiss, ungetestet, ungeprüft, nieprzetestowane, nieprzetestowana, niet getest, \
             sin testar, nicht getestet, non testé, non testée, non testato, sin probar",
            condition(Untested),
        ),
        (
            "broken, defect, defects, kaputt, doesn t work, does not work, ne fonctionne pas, funktioniert nicht, \
             geht nicht, bent pins, ecc errors, memory errors, gives errors, bad, fails, failed, damaged, \
             counterfeit, counterfeit labels, fake, engineering sample, engineering samples, beschädigt, \
             endommagé, defective, defekt, faulty, dead, for parts, parts only, not working, as is for parts, \
             spares or repair, hs, en panne, guasto, guasta, averiado, averiada, averiados, averiadas, kapot, \
             uszkodzony, uszkodzona, bastler, for spares, doa, nonworking, non working, no funciona, non \
             funzionante",
            condition(Broken),
        ),
        (
            "server, servers, server memory, server only, servers only, only for servers, for servers, for \
             server, not for desktops, not for desktop, not for pc, not for pcs, no desktop, not desktop, not \
             desktop memory, not a desktop module, does not work in desktops, will not work in desktops, will not \
             work in desktop, not for laptops, not for laptop, workstation, desktop, laptop, notebook, nur für \
             server, nicht für desktop, nicht für pc, serveur, pour serveur, per server, para servidor, servidor",
            aside(Aside::Use),
        ),
        (
            "memory, ram, arbeitsspeicher, mémoire, memoria, speicher, sdram, dram, memory module, memory \
             modules, speichermodul, geheugen, pamięć",
            aside(Aside::Memory),
        ),
        (
            "wanted, wtb, want to buy, suche, gesucht, cerco, cherche, busco, looking for, sold, sold out, \
             verkauft, ausverkauft, out of stock, not available, 0 available, heatsink, heatsinks, heat sink, \
             empty box, box only, packaging only, dust cover, dust covers, caddy, adapter",
            aside(Aside::NotForSale),
        ),
        ("nvdimm, nvdimms, persistent, persistent memory, pmem, cxl, battery backed", aside(Aside::NoPlainMemory)),
        (
            "probably, maybe, perhaps, possibly, likely, approx, approximately, circa, ca, about, around, \
             vermutlich, wohl, eventuell, vielleicht, peut être, or similar, or better, or higher, or more, up \
             to, max, maximum, bis zu, jusqu à, hasta, fino a, unsure, not sure, i think, ungefähr",
            aside(Aside::Hedge),
        ),
        (
            "lot price, price for all, for all, for the lot, whole lot, alle zusammen, gesamtpreis, festpreis für \
             alle",
            aside(Aside::WholePrice),
        ),
        ("pin, pins, polig, broches", aside(Aside::Pins)),
        (
            "free shipping, negotiable, best offer, new price, new listing, new stock, neu eingetroffen, new \
             arrival, replaces faulty, on die ecc, on die ecc only, each order, price, price drop, shipping, oem, \
             genuine, original, bulk, lot, bundle, each set, obo, vb, incl vat, plus vat, zzgl, mwst, warranty, \
             garantie",
            aside(Aside::Sale),
        ),
    ]
}

/// Words that say what a number or a word beside them is. Common practice, no source.
const HELPING: [(&str, Meaning); 17] = [
    (
        "not, non, no, without, w o, kein, keine, nicht, ohne, sans, sin, senza, pas, pas de, not compatible \
             with, not for, not fit, will not fit, does not fit, incompatible with, won t fit, nicht für, not in",
        Meaning::Not,
    ),
    (
        "qty, quantity, lot of, lots of, lot de, lote de, lotto di, menge, anzahl, qté, quantité, cantidad, \
             pack of, pack, bundle of, box of, tray of, box, batch of, posten von, lotto, job lot of, stock of",
        Meaning::Counts,
    ),
    (
        "pcs, pc, pieces, piece, stück, stk, stck, units, unit, modules, module, module s, sticks, stick, \
             dimm modules, pz, pezzi, uds, ud, unidades, unités, barrettes, barrette, riegel, ea, moduli, stuks, \
             stuk, szt, sztuk, kości, modulo, banchi, banco, módulos, pièces, st, available",
        Meaning::Counted,
    ),
    (
        "kit, kits, set, sets, kit of, set of, kits of, sets of, er kit, er set, kit de, kit da, juego de, \
             kit di",
        Meaning::Set,
    ),
    (
        "each, per module, per stick, per dimm, je, pro modul, chacune, cad, każda, per stuk, jeweils, \
             ciascuno, cada uno, apiece",
        Meaning::Each,
    ),
    (
        "total, in total, altogether, together, gesamt, insgesamt, zusammen, au total, en total, totale, in \
             all, sum, combined",
        Meaning::Together,
    ),
    (
        "eur, euro, euros, usd, gbp, chf, sek, nok, dkk, pln, zł, czk, aud, jpy, dollars, bucks, pounds, sfr",
        Meaning::Currency,
    ),
    ("tel, telephone, phone, call, fax, whatsapp, mobile, cell, telefon, tél, text, ring, handy", Meaning::Phone),
    ("chips, chip, ics, devices, dram chips, organisation, organization, org, based", Meaning::Devices),
    ("from, ab, à partir de, desde", Meaning::From),
    (
        "min, minimum, moq, at least, mindestens, mindestabnahme, min order, minimum order, min qty, min order qty",
        Meaning::AtLeast,
    ),
    ("mb, mib, mo", Meaning::Unit(1)),
    ("gb, gib, go, gig, gigs, gigabyte, gigabytes, gbyte, гб", Meaning::Unit(1024)),
    ("tb, tib, to", Meaning::Unit(1024 * 1024)),
    ("mhz, mts, mt s, mt, megahertz", Meaning::RateUnit),
    ("v, volt, volts", Meaning::Volts),
    ("rank, ranks, ranked", Meaning::Ranks),
];

impl Words {
    /// No words at all.
    #[must_use]
    pub const fn none() -> Self {
        Self { by_first: BTreeMap::new() }
    }

    /// Usual words of titles in English, with some in German, French, Italian and Spanish.
    #[must_use]
    pub fn standard() -> Self {
        let mut words = Self::none();
        for (phrases, says) in telling() {
            for phrase in phrases.split(", ") {
                words.insert(phrase, Meaning::Says(says.clone()));
            }
        }
        for (phrases, meaning) in &HELPING {
            for phrase in phrases.split(", ") {
                words.insert(phrase, meaning.clone());
            }
        }
        words
    }

    /// The same with a further word or phrase, in place of what it stood for. One without letters or digits is left out.
    #[must_use]
    pub fn with(mut self, phrase: &str, meaning: Meaning) -> Self {
        self.insert(phrase, meaning);
        self
    }

    fn insert(&mut self, phrase: &str, meaning: Meaning) {
        let tokens = Tokens::of(phrase);
        let mut parts = (0..tokens.len()).filter(|&at| tokens.mark(at).is_none()).map(|at| tokens.text(at).to_owned());
        let Some(first) = parts.next() else { return };
        let rest: Vec<String> = parts.collect();
        let phrases = self.by_first.entry(first).or_default();
        match phrases.iter_mut().find(|(other, _)| *other == rest) {
            Some((_, known)) => *known = meaning,
            None => {
                phrases.push((rest, meaning));
                phrases.sort_by_key(|(rest, _)| core::cmp::Reverse(rest.len()));
            }
        }
    }

    /// The longest phrase that starts at a token: what it stands for, and the token behind it.
    pub(super) fn at(&self, tokens: &Tokens, at: usize) -> Option<(&Meaning, usize)> {
        let phrases = self.by_first.get(tokens.text(at))?;
        phrases.iter().find_map(|(rest, meaning)| {
            let mut next = at + 1;
            for word in rest {
                while tokens.is_glued(next)
                    && (is_dash(tokens.mark(next)) || matches!(tokens.mark(next), Some('.' | '/')))
                {
                    next += 1;
                }
                if tokens.text(next) != word {
                    return None;
                }
                next += 1;
            }
            Some((meaning, next))
        })
    }
}
