//! What the texts of reports say of a place, by the shapes in which they are written.

use std::collections::BTreeMap;

/// A part of a place that a text may number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Part {
    /// The processor's socket.
    Socket,
    /// The controller of the socket.
    Controller,
    /// The channel.
    Channel,
    /// The slot of the channel.
    OfChannel,
    /// The slot of the socket.
    OfSocket,
    /// The slot of the board.
    OfBoard,
}

/// A number, or a letter counted from A.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Count {
    /// From 0 or from 1: nobody knows.
    Number(u16),
    /// A is 0.
    Letter(u16),
}

/// What a text numbers.
pub(crate) type Parts = BTreeMap<Part, Count>;

/// A word, a number or a single letter of a text.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Token {
    Word(&'static str),
    Number(String),
    Letter(char),
    Other,
}

/// The words that stand before numbers, longest first, as they are told apart. A dash stands for another word of the
/// same meaning.
const WORDS: [(&str, &str); 20] = [
    ("CONTROLLER", "CONTROLLER"),
    ("CHANNEL", "CHANNEL"),
    ("SOCKET", "SOCKET"),
    ("BOARD", "BOARD"),
    ("NODE", "NODE"),
    ("BANK", "BANK"),
    ("SLOT", "SLOT"),
    ("PROC", "PROC"),
    ("DIMM", "DIMM"),
    ("UMC", "MC"),
    ("IMC", "MC"),
    ("CPU", "CPU"),
    ("SYS", "SYS"),
    ("DIM", "DIM"),
    ("MC", "MC"),
    ("CH", "CH"),
    ("MB", "MB"),
    ("P", "P"),
    ("C", "C"),
    ("D", "D"),
];

/// The shapes of texts and what their numbers (`#`) and letters (`*`) mean, in order: S socket, M controller, C
/// channel, D slot of the channel, N slot of the socket, B slot of the board, - nothing. Several meanings are all
/// tried.
///
/// Source: shapes seen in public reports of servers; common practice, no standard.
const SHAPES: [(&str, &[&str]); 48] = [
    ("P # DIMM * #", &["SCD"]),
    ("P # DIMM # *", &["SCD"]),
    ("P # # *", &["SCD"]),
    ("P # * #", &["SCD"]),
    ("P # DIMM #", &["SN"]),
    ("DIMM * #", &["CD", "SN"]),
    ("* #", &["CD", "SN"]),
    ("DIMM # *", &["B-", "CD"]),
    ("# *", &["CD"]),
    ("DIMM *", &["C", "B"]),
    ("*", &["C", "B"]),
    ("PROC # DIMM #", &["SN"]),
    ("PROC # DIMM # *", &["SN-"]),
    ("PROC # DIMM * #", &["SCD"]),
    ("PROC # CHANNEL * DIMM #", &["SCD"]),
    ("CPU # DIMM * #", &["SCD"]),
    ("CPU # * #", &["SCD"]),
    ("CPU # DIMM #", &["SN"]),
    ("CPU # DIMM *", &["SC", "SN"]),
    ("CPU # CHANNEL * DIMM #", &["SCD"]),
    ("CPU # CHANNEL # DIMM #", &["SCD"]),
    ("CPU # C # D #", &["SCD"]),
    ("CPU # CH # D #", &["SCD"]),
    ("DIMM P # * #", &["SCD"]),
    ("P # CH * DIMM #", &["SCD"]),
    ("P # CHANNEL * DIMM #", &["SCD"]),
    ("P # CHANNEL # DIMM #", &["SCD"]),
    ("P # MC # DIM CH * #", &["SMCD"]),
    ("P # MC # CH * #", &["SMCD"]),
    ("P # D # MC # CH * #", &["S-MCD"]),
    ("CHANNEL * DIMM #", &["CD"]),
    ("CHANNEL # DIMM #", &["CD"]),
    ("CONTROLLER # CHANNEL * DIMM #", &["MCD"]),
    ("CONTROLLER # CHANNEL # DIMM #", &["MCD"]),
    ("CONTROLLER # DIMM * #", &["MCD"]),
    ("DIMM # CPU #", &["NS"]),
    ("DIMM * # CPU #", &["CDS"]),
    ("NODE # DIMM #", &["SN"]),
    ("DIMM #", &["B", "D", "N"]),
    ("#", &["B"]),
    ("P # NODE # CHANNEL # DIMM #", &["SMCD"]),
    ("NODE # CHANNEL # DIMM #", &["SCD"]),
    ("_ NODE # CHANNEL # DIMM #", &["MCD"]),
    ("SOCKET # CHANNEL # DIMM #", &["SCD"]),
    ("P # CHANNEL *", &["SC"]),
    ("P # CHANNEL #", &["SC"]),
    ("CHANNEL *", &["C"]),
    ("CHANNEL #", &["C"]),
];

/// Texts that name a socket and nothing else.
const SOCKETS: [&str; 6] = ["NODE #", "CPU #", "P #", "PROC #", "SOCKET #", "SYS MB P #"];

/// The words, numbers and letters of a text.
fn tokens(text: &str) -> Vec<Token> {
    let mut tokens = Vec::new();
    let mut rest = text.trim().to_ascii_uppercase();
    if rest.starts_with('_') {
        tokens.push(Token::Word("_"));
    }
    while let Some(first) = rest.chars().next() {
        let is_digit = first.is_ascii_digit();
        let run: String =
            rest.chars().take_while(|letter| letter.is_ascii_digit() == is_digit && letter.is_alphanumeric()).collect();
        if run.is_empty() {
            rest = rest.chars().skip(1).collect();
            continue;
        }
        rest = rest.get(run.len()..).unwrap_or_default().to_owned();
        if is_digit {
            tokens.push(Token::Number(run));
        } else {
            words(&run, &mut tokens);
        }
    }
    tokens
}

/// A run of letters: words, and at its end perhaps a single letter.
fn words(run: &str, tokens: &mut Vec<Token>) {
    let mut rest = run;
    while !rest.is_empty() {
        let mut letters = rest.chars();
        let (only, none) = (letters.next(), letters.next());
        // a letter by itself before a number is a word where one is known: "P1", "C0D1"
        let known = WORDS.iter().find(|(word, _)| rest.starts_with(word) && (word.len() > 1 || rest.len() == 1));
        match (known, only, none) {
            (Some((word, meaning)), ..) => {
                tokens.push(Token::Word(meaning));
                rest = rest.get(word.len()..).unwrap_or_default();
            }
            (None, Some(letter), None) if letter.is_ascii_uppercase() => {
                tokens.push(Token::Letter(letter));
                return;
            }
            _ => {
                tokens.push(Token::Other);
                return;
            }
        }
    }
}

/// The shape of some tokens; single letters that may be words are both.
fn shapes(tokens: &[Token]) -> Vec<String> {
    let mut shapes = vec![String::new()];
    for token in tokens {
        let texts: &[&str] = match token {
            Token::Word("P") => &["P", "*"],
            Token::Word("C") => &["C", "*"],
            Token::Word("D") => &["D", "*"],
            Token::Word(word) => &[word],
            Token::Number(_) => &["#"],
            Token::Letter(_) => &["*"],
            Token::Other => &["?"],
        };
        // a text has few letters by themselves; more than that is no locator
        if shapes.len() * texts.len() > 16 {
            return Vec::new();
        }
        shapes = shapes
            .iter()
            .flat_map(|shape| {
                texts
                    .iter()
                    .map(move |text| if shape.is_empty() { (*text).to_owned() } else { format!("{shape} {text}") })
            })
            .collect();
    }
    shapes
}

/// A way to read a text: which shape, and what its numbers mean. Texts of one report that have one shape are read in one way.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Way {
    shape: String,
    meaning: &'static str,
}

/// The ways to read a text.
pub(crate) fn ways(text: &str) -> Vec<Way> {
    let tokens = tokens(text);
    let mut ways = Vec::new();
    for shape in shapes(&tokens) {
        let meanings = SHAPES.iter().find(|(known, _)| *known == shape).map(|(_, meanings)| *meanings);
        let sockets: &[&str] = if SOCKETS.contains(&shape.as_str()) { &["S"] } else { &[] };
        for meaning in meanings.unwrap_or_default().iter().chain(sockets) {
            ways.push(Way { shape: shape.clone(), meaning });
        }
    }
    if three_digits(&tokens).is_some() {
        ways.push(Way { shape: "DIMM ###".to_owned(), meaning: "SCD" });
    }
    ways
}

/// "DIMM###", and behind it perhaps what is printed at the slot: a digit each for socket, channel and slot.
fn three_digits(tokens: &[Token]) -> Option<[u16; 3]> {
    match tokens {
        [Token::Word("DIMM"), Token::Number(digits), ..] if digits.len() == 3 => {
            let mut digits = digits.bytes().map(|digit| u16::from(digit.wrapping_sub(b'0')));
            Some([digits.next()?, digits.next()?, digits.next()?])
        }
        _ => None,
    }
}

impl Way {
    /// What a text numbers, read this way; `None` where it has another shape.
    pub(crate) fn read(&self, text: &str) -> Option<Parts> {
        let tokens = tokens(text);
        let counts: Vec<Count> = if self.shape == "DIMM ###" {
            three_digits(&tokens)?.map(Count::Number).to_vec()
        } else {
            if !shapes(&tokens).contains(&self.shape) {
                return None;
            }
            let places = self.shape.split(' ').zip(&tokens);
            places.filter_map(|(sign, token)| count(sign, token)).collect::<Option<_>>()?
        };
        let mut parts = Parts::new();
        for (meaning, count) in self.meaning.chars().zip(counts) {
            let part = match meaning {
                'S' => Part::Socket,
                'M' => Part::Controller,
                'C' => Part::Channel,
                'D' => Part::OfChannel,
                'N' => Part::OfSocket,
                'B' => Part::OfBoard,
                _ => continue,
            };
            parts.insert(part, count);
        }
        Some(parts)
    }
}

/// What a sign of a shape stands for: no count (`Ok(None)` by the outer `None`), or one that may be too large.
fn count(sign: &str, token: &Token) -> Option<Option<Count>> {
    match (sign, token) {
        ("#", Token::Number(digits)) => Some(digits.parse().ok().map(Count::Number)),
        ("*", Token::Letter(letter)) => {
            Some(u16::try_from(u32::from(*letter) - u32::from('A')).ok().map(Count::Letter))
        }
        ("*", Token::Word(word)) => {
            let letter = word.chars().next().map_or(0, u32::from);
            Some(u16::try_from(letter.saturating_sub(u32::from('A'))).ok().map(Count::Letter))
        }
        _ => None,
    }
}

/// A text without case, blanks, separators and leading zeros.
pub(crate) fn folded(text: &str) -> String {
    let mut folded = String::new();
    let mut letters = text.chars().flat_map(char::to_uppercase).filter(|letter| letter.is_alphanumeric()).peekable();
    let mut in_number = false;
    while let Some(letter) = letters.next() {
        let is_leading = letter == '0' && !in_number && letters.peek().is_some_and(char::is_ascii_digit);
        in_number = letter.is_ascii_digit() && !is_leading;
        if !is_leading {
            folded.push(letter);
        }
    }
    folded
}

/// The same without the words that only say that it is a slot.
pub(crate) fn folded_without_words(text: &str) -> String {
    let mut folded = folded(text);
    for word in ["DIMM", "SLOT"] {
        folded = folded.replace(word, "");
    }
    folded
}

/// A text without the processor that it begins with, and the number of that: "P1-DIMMA1" is "DIMMA1" at 1.
pub(crate) fn behind_processor(text: &str) -> Option<(u16, &str)> {
    let text = text.trim();
    let words = ["PROCESSOR", "SOCKET", "PROC", "CPU", "P"];
    let is_word = |word: &&&str| text.get(..word.len()).is_some_and(|start| start.eq_ignore_ascii_case(word));
    let rest = text.get(words.iter().find(is_word)?.len()..)?;
    let rest = rest.trim_start_matches(|letter: char| !letter.is_alphanumeric());
    let end = rest.find(|letter: char| !letter.is_ascii_digit())?;
    Some((rest.get(..end)?.parse().ok()?, rest.get(end..)?))
}

/// Whether a text is but one or two letters and a number, as labels are, perhaps behind "DIMM" or "SLOT".
pub(crate) fn looks_like_label(text: &str) -> bool {
    let text = folded_without_words(text);
    let digits = text.trim_start_matches(char::is_alphabetic);
    (1..=2).contains(&(text.len() - digits.len()))
        && !digits.is_empty()
        && digits.bytes().all(|byte| byte.is_ascii_digit())
}

/// By what labels are sorted as people do: runs of digits by their number.
pub(crate) fn natural(label: &str) -> Vec<(String, u64)> {
    let mut key: Vec<(String, u64)> = Vec::new();
    let mut rest = label;
    while !rest.is_empty() {
        let text = rest.find(|letter: char| letter.is_ascii_digit()).unwrap_or(rest.len());
        let (word, behind) = rest.split_at(text);
        let digits = behind.find(|letter: char| !letter.is_ascii_digit()).unwrap_or(behind.len());
        let (number, behind) = behind.split_at(digits);
        key.push((word.to_uppercase(), number.parse().unwrap_or(u64::MAX)));
        rest = behind;
    }
    key
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Vec<String> {
        let parts = |way: &Way| {
            let parts = way.read(text).unwrap();
            let text = |(part, count): (&Part, &Count)| {
                let letter = match part {
                    Part::Socket => 'S',
                    Part::Controller => 'M',
                    Part::Channel => 'C',
                    Part::OfChannel => 'D',
                    Part::OfSocket => 'N',
                    Part::OfBoard => 'B',
                };
                match count {
                    Count::Number(number) => format!("{letter}{number}"),
                    Count::Letter(at) => format!("{letter}{}", char::from(b'a' + u8::try_from(*at).unwrap())),
                }
            };
            parts.iter().map(text).collect::<Vec<_>>().join(" ")
        };
        ways(text).iter().map(parts).collect()
    }

    // the shapes of public reports; what each means is common practice, no source
    #[test]
    fn every_shape_is_read() {
        for (text, expected) in [
            ("P1-DIMMA2", "S1 Ca D2"),
            ("P2_DIMMH1", "S2 Ch D1"),
            ("DIMMB1", "Cb D1 | Sb N1"),
            ("P1_DIMM2A", "S1 C2 Da"),
            ("P1-DIMM3B", "S1 C3 Db"),
            ("P1-2A", "S1 C2 Da"),
            ("P1_2C", "S1 C2 Dc"),
            ("DIMM_A12", "Ca D12 | Sa N12"),
            ("A7", "Ca D7 | Sa N7"),
            ("C1", "Cc D1 | Sc N1"),
            ("D2", "Cd D2 | Sd N2"),
            ("PROC 1 DIMM 3", "S1 N3"),
            ("PROC  2  DIMM  12", "S2 N12"),
            ("PROC 1 DIMM 8 A", "S1 N8"),
            ("CPU1_DIMM_A1", "S1 Ca D1"),
            ("CPU0 DIMM C2", "S0 Cc D2"),
            ("CPU1_B2", "S1 Cb D2"),
            ("CPU_1_DIMM_F_2", "S1 Cf D2"),
            ("CPU1_DIMMD2", "S1 Cd D2"),
            ("CPU0_C3D1", "S0 C3 D1"),
            ("DIMM_P0_A0", "S0 Ca D0"),
            ("P0-ChA-DIMM1", "S0 Ca D1"),
            ("P0_MC1_DIM_CH_D1", "S0 M1 Cd D1"),
            ("P1_UMC0_CH_B0", "S1 M0 Cb D0"),
            ("P0_D2_UMC1_CH_B1", "S0 M1 Cb D1"),
            ("ChannelA-DIMM0", "Ca D0"),
            ("ChannelB_Dimm1", "Cb D1"),
            ("Controller0-ChannelB-DIMM1", "M0 Cb D1"),
            ("DIMM010 A", "S0 C1 D0 | B10 | C10 Da"),
            ("DIMM112 J13", "S1 C1 D2"),
            ("DIMM3_CPU2", "S2 N3"),
            ("CPU2-DIMM4", "S2 N4"),
            ("CPU1_DIMM_8", "S1 N8"),
            ("Node1_Dimm2", "S1 N2"),
            ("DIMM 7", "B7 | D7 | N7"),
            ("Dimm7", "B7 | D7 | N7"),
            ("DIMM_7", "B7 | D7 | N7"),
            ("DIMM-1A", "B1 | C1 Da"),
            ("P0_Node1_Channel0_Dimm0", "S0 M1 C0 D0"),
            ("_Node1_Channel2_Dimm0", "M1 C2 D0"),
            ("NODE 1 CHANNEL 0 DIMM 0", "S1 C0 D0"),
            ("SOCKET 1 CHANNEL 2 DIMM 0", "S1 C2 D0"),
            ("P0 CHANNEL A", "S0 Ca"),
            ("CHANNEL C", "Cc"),
            ("ChannelD", "Cd"),
            ("NODE 2", "S2"),
            ("CPU 1", "S1"),
            ("/SYS/MB/P1", "S1"),
            ("BANK 3", ""),
            ("Not Specified", ""),
            ("NO DIMM", ""),
            ("Board 1, DIMM 2A", ""),
            ("1/2/3/4A", ""),
            ("", ""),
            ("DIMM 99999999999999999999", ""),
            ("A A A A A A A A A A A A A A A A 1", ""),
        ] {
            let found = ways(text).iter().filter(|way| way.read(text).is_some()).count();
            let expected: Vec<&str> = expected.split(" | ").filter(|text| !text.is_empty()).collect();
            if found == ways(text).len() {
                let mut found = read(text);
                found.dedup();
                let mut kept = found.clone();
                kept.sort();
                kept.dedup();
                let mut expected = expected.clone();
                expected.sort_unstable();
                assert_eq!(kept, expected, "{text}");
            } else {
                assert!(expected.is_empty(), "{text}");
            }
        }
    }

    #[test]
    fn the_table_has_a_meaning_for_every_sign() {
        for (shape, meanings) in SHAPES {
            let signs = shape.split(' ').filter(|sign| matches!(*sign, "#" | "*")).count();
            assert!(meanings.iter().all(|meaning| meaning.len() == signs), "{shape}");
        }
        let mut shapes: Vec<&str> = SHAPES.iter().map(|(shape, _)| *shape).chain(SOCKETS).collect();
        shapes.sort_unstable();
        assert!(shapes.windows(2).all(|pair| pair[0] != pair[1]));
    }

    #[test]
    fn processors_before_a_label() {
        assert_eq!(behind_processor("P1-DIMMA1"), Some((1, "-DIMMA1")));
        assert_eq!(behind_processor("PROC 2 DIMM 3"), Some((2, " DIMM 3")));
        assert_eq!(behind_processor("CPU_0_DIMM_A_1"), Some((0, "_DIMM_A_1")));
        for none in ["DIMM A1", "P", "P1", "A1", "CPU A1", "Pé1"] {
            assert_eq!(behind_processor(none), None, "{none}");
        }
    }

    #[test]
    fn folding_and_sorting() {
        assert_eq!(folded("P1-DIMM 01_a"), folded("p1 dimm1A"));
        assert_eq!(folded("A00"), "A0");
        // these collide, and are to be compared as they stand
        assert_eq!(folded("1-12"), folded("11-2"));
        assert_eq!(folded_without_words("DIMM_A1"), "A1");
        let mut labels = ["A10", "a2", "B1", "A1"];
        labels.sort_by_key(|label| natural(label));
        assert_eq!(labels, ["A1", "a2", "A10", "B1"]);
    }
}
