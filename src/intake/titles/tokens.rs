//! A title cut into runs of digits, runs of letters and single marks.

use core::ops::Range;

/// A run of digits, a run of letters, or a mark. Blanks are none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Token {
    /// Where it stands in the title, in bytes.
    pub(super) bytes: Range<usize>,
    pub(super) sort: Sort,
    /// Whether no blank stands before it.
    pub(super) is_glued: bool,
    /// Its letters in lower case, in [`Tokens::folded`].
    folded: Range<usize>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sort {
    /// ASCII digits, with their value where it has at most nine.
    Digits(Option<u32>),
    /// Letters of any script, and digits of other scripts.
    Letters,
    /// Anything else that is no blank.
    Mark(char),
}

/// The tokens of a title.
#[derive(Debug, Clone)]
pub(super) struct Tokens {
    all: Vec<Token>,
    folded: String,
}

fn sort_of(letter: char) -> Option<Sort> {
    match letter {
        '0'..='9' => Some(Sort::Digits(None)),
        '×' | '✕' | '✖' | '⨯' => Some(Sort::Letters),
        _ if letter.is_whitespace() || letter.is_control() => None,
        _ if letter.is_alphanumeric() => Some(Sort::Letters),
        _ => Some(Sort::Mark(letter)),
    }
}

impl Tokens {
    pub(super) fn of(title: &str) -> Self {
        let mut tokens = Self { all: Vec::with_capacity(title.len() / 3), folded: String::with_capacity(title.len()) };
        let mut is_glued = false;
        for (at, letter) in title.char_indices() {
            let Some(sort) = sort_of(letter) else {
                is_glued = false;
                continue;
            };
            let end = at + letter.len_utf8();
            let goes_on = is_glued && !matches!(sort, Sort::Mark(_));
            match tokens.all.last_mut().filter(|last| goes_on && last.sort == sort) {
                Some(last) => last.bytes.end = end,
                None => tokens.all.push(Token {
                    bytes: at..end,
                    sort,
                    is_glued,
                    folded: tokens.folded.len()..tokens.folded.len(),
                }),
            }
            match letter {
                '×' | '✕' | '✖' | '⨯' => tokens.folded.push('x'),
                'A'..='Z' => tokens.folded.push(letter.to_ascii_lowercase()),
                _ if letter.is_ascii() => tokens.folded.push(letter),
                _ => tokens.folded.extend(letter.to_lowercase()),
            }
            if let Some(last) = tokens.all.last_mut() {
                last.folded.end = tokens.folded.len();
            }
            is_glued = true;
        }
        tokens.finish();
        tokens
    }

    /// Gives numbers their values, and cuts the unit off what is written onto it: `GBx`, `GBDDR`.
    fn finish(&mut self) {
        let mut cut = Vec::new();
        for (at, token) in self.all.iter_mut().enumerate() {
            let text = self.folded.get(token.folded.clone()).unwrap_or_default();
            match token.sort {
                Sort::Digits(_) => token.sort = Sort::Digits(text.parse().ok().filter(|_| text.len() <= 9)),
                Sort::Letters if token.is_glued && text.is_ascii() && text.len() > 2 => {
                    let (unit, rest) = text.split_at(2);
                    if ["gb", "tb", "mb"].contains(&unit)
                        && ["x", "ddr", "pc", "ecc", "r", "l", "u", "kit"].iter().any(|word| rest.starts_with(word))
                    {
                        cut.push(at);
                    }
                }
                _ => {}
            }
        }
        for at in cut.into_iter().rev() {
            let follows_digits =
                at.checked_sub(1).and_then(|before| self.all.get(before)).is_some_and(Token::is_number);
            if let Some(token) = self.all.get_mut(at).filter(|_| follows_digits) {
                let mut rest = token.clone();
                rest.bytes.start += 2;
                rest.folded.start += 2;
                token.bytes.end = rest.bytes.start;
                token.folded.end = rest.folded.start;
                self.all.insert(at + 1, rest);
            }
        }
    }

    pub(super) fn len(&self) -> usize {
        self.all.len()
    }

    pub(super) fn get(&self, at: usize) -> Option<&Token> {
        self.all.get(at)
    }

    /// A token's text in lower case; nothing beyond the end.
    pub(super) fn text(&self, at: usize) -> &str {
        self.all.get(at).and_then(|token| self.folded.get(token.folded.clone())).unwrap_or_default()
    }

    /// The text of a run of letters.
    pub(super) fn word(&self, at: usize) -> Option<&str> {
        matches!(self.get(at)?.sort, Sort::Letters).then(|| self.text(at))
    }

    /// The text of a run of letters that no blank parts from what is before it.
    pub(super) fn glued_word(&self, at: usize) -> Option<&str> {
        self.word(at).filter(|_| self.is_glued(at))
    }

    /// The value of a run of at most nine digits.
    pub(super) fn number(&self, at: usize) -> Option<u32> {
        match self.get(at)?.sort {
            Sort::Digits(value) => value,
            _ => None,
        }
    }

    pub(super) fn glued_number(&self, at: usize) -> Option<u32> {
        self.number(at).filter(|_| self.is_glued(at))
    }

    pub(super) fn mark(&self, at: usize) -> Option<char> {
        match self.get(at)?.sort {
            Sort::Mark(mark) => Some(mark),
            _ => None,
        }
    }

    pub(super) fn is_glued(&self, at: usize) -> bool {
        self.get(at).is_some_and(|token| token.is_glued)
    }

    /// Whether letters or digits touch a token from before.
    pub(super) fn is_touched_before(&self, at: usize) -> bool {
        self.is_glued(at) && at.checked_sub(1).is_some_and(|before| self.mark(before).is_none())
    }

    /// Whether letters or digits touch a token from behind.
    pub(super) fn is_touched_behind(&self, at: usize) -> bool {
        self.is_glued(at + 1) && self.mark(at + 1).is_none()
    }

    /// The bytes from a token to before another.
    pub(super) fn bytes(&self, from: usize, until: usize) -> Range<usize> {
        let start = self.get(from).map_or(0, |token| token.bytes.start);
        let end = until.checked_sub(1).and_then(|last| self.get(last)).map_or(start, |token| token.bytes.end);
        start..end
    }
}

impl Token {
    pub(super) const fn is_number(&self) -> bool {
        matches!(self.sort, Sort::Digits(_))
    }

    pub(super) const fn is_mark(&self) -> bool {
        matches!(self.sort, Sort::Mark(_))
    }
}

/// Whether a mark is a hyphen, a dash, or the low line that some write for one.
pub(super) const fn is_dash(mark: Option<char>) -> bool {
    match mark {
        Some(mark) => mark == '_' || crate::module::is_dash(mark),
        None => false,
    }
}

/// Whether a token stands for "times".
pub(super) fn is_times(tokens: &Tokens, at: usize) -> bool {
    tokens.word(at) == Some("x") || tokens.mark(at) == Some('*')
}
