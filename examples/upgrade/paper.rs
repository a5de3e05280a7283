//! Plain text of a fixed width.

/// The most characters on a line.
pub(crate) const WIDTH: usize = 100;

/// A page in the making.
#[derive(Default)]
pub(crate) struct Paper(String);

impl Paper {
    /// A line; one that is too long goes on in the next, a little further in.
    pub(crate) fn line(&mut self, text: &str) {
        let indent = text.chars().take_while(|letter| *letter == ' ').count();
        self.hanging(text.trim_end(), (indent + 4).min(WIDTH / 2));
    }

    /// A heading with a rule to the right edge.
    pub(crate) fn heading(&mut self, text: &str) {
        let rule = "-".repeat(WIDTH.saturating_sub(text.chars().count() + 1));
        self.line("");
        self.line(&format!("{text} {rule}"));
    }

    /// A rule across the page.
    pub(crate) fn rule(&mut self) {
        self.line(&"=".repeat(WIDTH));
    }

    /// A text behind a word that says what it is.
    pub(crate) fn entry(&mut self, word: &str, text: &str) {
        self.hanging(&format!("{word:<12}{text}"), 12);
    }

    /// A text with a mark before it.
    pub(crate) fn item(&mut self, mark: &str, text: &str) {
        self.hanging(&format!("{mark} {text}"), mark.chars().count() + 1);
    }

    /// The page so far.
    pub(crate) fn finish(self) -> String {
        self.0
    }

    /// Breaks a text at spaces so that it keeps to the width; a word that is longer than a line is cut up.
    fn hanging(&mut self, text: &str, indent: usize) {
        let mut rest: Vec<char> = text.chars().collect();
        let mut used = 0;
        while rest.len() > WIDTH {
            let space = (used + 1..=WIDTH).rev().find(|&at| rest.get(at) == Some(&' '));
            let tail = rest.split_off(space.unwrap_or(WIDTH));
            self.push(&rest);
            let tail: String = tail.into_iter().collect();
            rest = " ".repeat(indent).chars().chain(tail.trim_start().chars()).collect();
            used = indent;
        }
        self.push(&rest);
    }

    fn push(&mut self, line: &[char]) {
        let line: String = line.iter().collect();
        self.0.push_str(line.trim_end());
        self.0.push('\n');
    }
}

/// Equal texts as "8 x text", in order; `nothing` where there are none.
pub(crate) fn counted(texts: impl Iterator<Item = String>, nothing: &str) -> String {
    let mut counts = std::collections::BTreeMap::new();
    texts.for_each(|text| *counts.entry(text).or_insert(0_usize) += 1);
    let counted: Vec<String> = counts.into_iter().map(|(text, count)| format!("{count} x {text}")).collect();
    listed(&counted, nothing)
}

/// Texts between commas; `nothing` where there are none.
pub(crate) fn listed<T: ToString>(texts: &[T], nothing: &str) -> String {
    if texts.is_empty() {
        return nothing.to_owned();
    }
    texts.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}
