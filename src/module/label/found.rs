use core::fmt;
use core::ops::Range;
use std::collections::{BTreeMap, BTreeSet};

use itertools::Itertools;
use serde::{Deserialize, Serialize};

use crate::module::label::candidates::candidates;
use crate::module::label::glyphs::{Written, glyphs};
use crate::module::label::misread::misread;
use crate::module::label::parse::{Parsed, whole_or_cut};
use crate::module::{FoundLabelError, Label, LabelCorrection, LabelError, LabelField, MemoryModule};

/// A label as it was found, and what was corrected to read it. [`Label::found`] makes it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct FoundLabel {
    /// What was read: the text of the label, or of that part of it which was there.
    pub text: String,
    /// The module that it describes.
    pub module: MemoryModule,
    /// The label, where nothing of it is missing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub label: Option<Label>,
    /// What a whole label would say behind that part which was there. None of it decides what the module is.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub missing: Vec<LabelField>,
    /// What was read otherwise than it stood, in the order of the text.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub corrections: Vec<LabelCorrection>,
}

/// How many characters, without blanks, a text may have that is corrected; labels have some 55 at most.
const LONGEST: usize = 80;

/// What was read of one text that a found text may be meant as.
struct Reading<'w> {
    /// 0 for a whole label, 1 for one that ends behind a field, 2 within one.
    cut: u8,
    written: &'w Written,
    parsed: Parsed,
    text: String,
}

impl Label {
    /// Reads a label as it is found: typed, scanned, copied. Blanks too many, too few or of another sort, broken lines,
    /// case, other dashes than hyphens, blanks for hyphens and hyphens for blanks, a sign of multiplication for the x,
    /// and quote marks around it are corrected, and each correction is listed with what stood there.
    ///
    /// What the standard's label says behind the letter of the module's type (raw card, SPD revision, for DDR3 the
    /// latency, for DDR5 the temperature range) may be missing from where the text ends. Then there is a module, for
    /// which nothing of that is needed, but no `Label`.
    ///
    /// Where a letter stands for a digit that looks like it, or the other way round (O and 0, I, L and 1, S and 5, B
    /// and 8, Z and 2), it is corrected in the raw card, the SPD revisions and the temperature range, and only if one
    /// reading is left. A character that decides size, ranks, stack, width, generation, voltage, kind, rate or speed
    /// bin never is: the error names what stands there and what it may be meant as.
    ///
    /// What [`FromStr`](core::str::FromStr) reads is read the same here, with nothing corrected.
    ///
    /// # Errors
    /// Says that a character is doubtful, that there are two readings, or where and why it is no label.
    ///
    /// ```
    /// use slotwright::module::{Label, LabelField};
    ///
    /// let found = Label::found("32GB2RX4\nPC4–2400T-\nRB2-11")?;
    /// assert_eq!(found.text, "32GB 2Rx4 PC4-2400T-RB2-11");
    /// let corrected: Vec<String> = found.corrections.iter().map(ToString::to_string).collect();
    /// assert_eq!(corrected[0], "\" \" was put in at byte 4");
    /// assert_eq!(corrected[1], "\"X\" at byte 6 was read as \"x\"");
    ///
    /// // the tail is missing: the module is known, the raw card is not
    /// let cut = Label::found("32gb 2rx4 pc4-2400t-r")?;
    /// assert_eq!((cut.module.to_string(), cut.label), (found.module.to_string(), None));
    /// assert_eq!(cut.missing[0], LabelField::RawCard);
    ///
    /// let doubtful = Label::found("32GB ZRx4 PC4-2400T-RB2-11").unwrap_err();
    /// assert_eq!(
    ///     doubtful.to_string(),
    ///     "\"Z\" at byte 5 of the label decides its number of package ranks, and is not corrected; it may be meant as \
    ///      \"32GB 2Rx4 PC4-2400T-RB2-11\""
    /// );
    /// # Ok::<(), slotwright::module::FoundLabelError>(())
    /// ```
    pub fn found(text: &str) -> Result<FoundLabel, FoundLabelError> {
        let as_it_stands: LabelError = match text.parse() {
            Ok(label) => return Ok(FoundLabel::whole(label, text.to_owned(), Vec::new())),
            Err(error) => error,
        };
        let glyphs = glyphs(text);
        if glyphs.len() > LONGEST {
            return Err(as_it_stands.into());
        }
        let candidates = candidates(&glyphs);
        let mut readings: Vec<Reading<'_>> = Vec::new();
        let mut errors: Vec<(&Written, LabelError)> = Vec::new();
        for written in &candidates {
            match whole_or_cut(&written.text) {
                Ok(parsed) => readings.push(Reading::new(written, parsed, written.text.clone())),
                Err(error) => errors.push((written, error)),
            }
        }
        // a reading that needs no tail to be missing is better than one that does
        let least = readings.iter().map(|reading| reading.cut).min();
        readings.retain(|reading| Some(reading.cut) == least);
        let mut texts: BTreeSet<String> = readings.iter().map(|reading| reading.text.clone()).collect();
        texts.extend(sizes_behind_a_blank(&glyphs, &readings));
        match (readings.pop(), texts.len()) {
            (Some(reading), 1) => Ok(reading.found(text)),
            (Some(_), _) => Err(FoundLabelError::TwoReadings { readings: texts.into_iter().collect() }),
            (None, _) => with_characters_read_otherwise(text, errors, as_it_stands),
        }
    }
}

/// Where blanks stand within the number of the size, what comes before them may be no part of it: `4 8GB` may be four
/// modules of 8 GB.
fn sizes_behind_a_blank(glyphs: &[crate::module::label::glyphs::Glyph], readings: &[Reading<'_>]) -> Vec<String> {
    if readings.is_empty() {
        return Vec::new();
    }
    let digits = glyphs.iter().take_while(|glyph| glyph.letter.is_ascii_digit()).count();
    let behind = (1..digits)
        .filter_map(|at| glyphs.get(at..))
        .filter(|rest| rest.first().is_some_and(|first| !first.gap.is_empty()));
    let written = behind.flat_map(candidates);
    written.filter(|written| whole_or_cut(&written.text).is_ok()).map(|written| written.text).collect()
}

/// Nothing is a label as it stands: reads characters as others that look like them.
fn with_characters_read_otherwise(
    text: &str,
    errors: Vec<(&Written, LabelError)>,
    as_it_stands: LabelError,
) -> Result<FoundLabel, FoundLabelError> {
    // a size that no module has is found last
    let how_far = |error: &LabelError| match error {
        LabelError::Impossible { .. } => usize::MAX,
        _ => error.span().start,
    };
    let furthest = errors.iter().map(|(_, error)| how_far(error)).max();
    let errors: Vec<_> = errors.into_iter().filter(|(_, error)| Some(how_far(error)) == furthest).collect();
    let mut readings: Vec<Reading<'_>> = Vec::new();
    let mut deciding: BTreeMap<String, (&Written, LabelError)> = BTreeMap::new();
    for (written, _) in &errors {
        for (read, decides) in misread(&written.text) {
            match (decides, whole_or_cut(&read)) {
                (None, Ok(parsed)) => readings.push(Reading::new(written, parsed, read)),
                (Some(decides), _) => {
                    deciding.insert(read, (written, decides));
                }
                (None, Err(_)) => {}
            }
        }
    }
    let least = readings.iter().map(|reading| reading.cut).min();
    readings.retain(|reading| Some(reading.cut) == least);
    let texts: BTreeSet<String> =
        readings.iter().map(|reading| &reading.text).chain(deciding.keys()).cloned().collect();
    match (readings.pop(), deciding.pop_first(), errors.into_iter().next()) {
        (Some(reading), None, _) if texts.len() == 1 => Ok(reading.found(text)),
        (Some(_), _, _) => Err(FoundLabelError::TwoReadings { readings: texts.into_iter().collect() }),
        (None, Some((reading, (written, error))), _) => {
            let unlike = |(_, (one, other)): &(usize, (u8, u8))| one != other;
            let mut unlike = written.text.bytes().zip(reading.bytes()).enumerate().filter(unlike).map(|(at, _)| at);
            let first = unlike.next().unwrap_or_default();
            let span = written.found(&(first..unlike.next_back().unwrap_or(first) + 1));
            let found = text.get(span.clone()).unwrap_or_default().to_owned();
            Err(FoundLabelError::Doubtful { field: error.field(), span, found, readings: texts.into_iter().collect() })
        }
        (None, None, Some((written, error))) => {
            let span = written.found(&error.span());
            Err(located(error, span, text).into())
        }
        (None, None, None) => Err(as_it_stands.into()),
    }
}

/// The error with its place in the text as found.
fn located(error: LabelError, span: Range<usize>, text: &str) -> LabelError {
    let found = text.get(span.clone()).unwrap_or_default().to_owned();
    match error {
        LabelError::Unexpected { field, allowed, hint, .. } => {
            LabelError::Unexpected { field, span, found, allowed, hint }
        }
        LabelError::Impossible { reason, .. } => LabelError::Impossible { span, found, reason },
        LabelError::Hybrid { .. } => LabelError::Hybrid { span, found },
    }
}

impl<'w> Reading<'w> {
    fn new(written: &'w Written, parsed: Parsed, text: String) -> Self {
        let cut = match &parsed {
            Parsed::Whole(_) => 0,
            Parsed::Cut(cut) => 1 + u8::from(cut.is_within),
        };
        Self { cut, written, parsed, text }
    }

    fn found(self, found: &str) -> FoundLabel {
        let corrections = self.written.corrections(found, &self.text);
        match self.parsed {
            Parsed::Whole(label) => FoundLabel::whole(*label, self.text, corrections),
            Parsed::Cut(cut) => {
                FoundLabel { text: self.text, module: cut.module, label: None, missing: cut.missing, corrections }
            }
        }
    }
}

impl FoundLabel {
    fn whole(label: Label, text: String, corrections: Vec<LabelCorrection>) -> Self {
        Self { text, module: label.to_module(), label: Some(label), missing: Vec::new(), corrections }
    }

    /// Whether the text was a label as it stood.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.label.is_some() && self.corrections.is_empty()
    }
}

/// What was read, then what was corrected and what is missing, a line each.
impl fmt::Display for FoundLabel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)?;
        self.corrections.iter().try_for_each(|correction| write!(f, "\n  corrected: {correction}"))?;
        if self.missing.is_empty() {
            return Ok(());
        }
        write!(f, "\n  the label ends too early; not said: {}", self.missing.iter().format(", "))
    }
}
