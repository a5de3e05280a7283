use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::goods_in::{Bins, DeliveryError, DeliveryProblem, GoodsIn, OrderLine, Piece, SpdFault, bins, judge};
use crate::population::{Medium, ModuleFact, SeenModule};
use crate::stated::{FieldPath, Schema};
use crate::unit::Name;

/// What has come, and what was ordered.
///
/// ```
/// use slotwright::goods_in::{Delivery, OrderLine, Piece, PieceVerdict};
/// use slotwright::module::Label;
/// use slotwright::Name;
///
/// let ordered: Label = "32GB 2Rx4 PC4-2400T-RB2-11".parse()?;
/// let other: Label = "32GB 4Rx4 PC4-2400T-RB2-11".parse()?;
/// let delivery = Delivery::new()
///     .line(OrderLine::of_module(Name::new("lot-7")?, ordered.module(), 2))
///     .piece(Piece::new(Name::new("1")?).label(&ordered))
///     .piece(Piece::new(Name::new("2")?).label(&other));
///
/// let answer = delivery.judge()?;
/// assert!(matches!(answer.pieces[0].verdict, PieceVerdict::Right { .. }));
/// assert_eq!(
///     answer.to_string(),
///     "2 pieces: 1 right, 1 wrong; open: 1 missing\n  \
///      1: right for lot-7 (label only; no SPD was read)\n  \
///      2: wrong for lot-7: package ranks are 4 (label), ordered were 2; die density is 4 Gb (label), ordered was 8 Gb \
///      (label only; no SPD was read)\n  \
///      lot-7: 2 ordered, 1 right (1 of them without SPD); open: 1 missing"
/// );
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Delivery {
    /// The version of the document's form.
    pub schema: Schema,
    /// What was ordered. Where a piece is as good for one line as for another, it goes to the one that stands first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lines: Vec<OrderLine>,
    /// What has come. The order is no matter.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pieces: Vec<Piece>,
}

impl Delivery {
    /// Nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    setters! {
        each lines(lines: OrderLine);
        each pieces(pieces: Piece);
    }

    /// Adds a line of the order.
    #[must_use]
    pub fn line(mut self, line: OrderLine) -> Self {
        self.lines.push(line);
        self
    }

    /// Adds a piece.
    #[must_use]
    pub fn piece(mut self, piece: Piece) -> Self {
        self.pieces.push(piece);
        self
    }

    /// Adds what a source says of a piece, to the first one of this number where it is there.
    #[must_use]
    pub fn said(self, id: Name, medium: Medium, module: SeenModule) -> Self {
        self.with(id, |piece| piece.said(medium, module))
    }

    /// Adds what the SPD of a piece says, or why it says nothing, to the first one of this number where it is there.
    /// [`SpdImage::sound_module`](crate::intake::spd::SpdImage::sound_module) gives it.
    #[must_use]
    pub fn spd(self, id: Name, spd: Result<SeenModule, SpdFault>) -> Self {
        self.with(id, |piece| piece.spd(spd))
    }

    fn with(mut self, id: Name, add: impl FnOnce(Piece) -> Piece) -> Self {
        match self.pieces.iter_mut().find(|piece| piece.id == id) {
            Some(piece) => *piece = add(core::mem::replace(piece, Piece::new(id))),
            None => self.pieces.push(add(Piece::new(id))),
        }
        self
    }

    /// Says of every piece whether it is right for a line, wrong, not known or surplus.
    ///
    /// # Errors
    /// All that is wrong with the delivery; also when there is no line to judge by.
    pub fn judge(&self) -> Result<GoodsIn, DeliveryError> {
        let mut problems = self.problems();
        if self.lines.is_empty() {
            problems.push(DeliveryProblem::NoLine);
        }
        if problems.is_empty() { Ok(judge::judge(self)) } else { Err(DeliveryError { problems }) }
    }

    /// Sorts the pieces by what they are. Lines of an order are not looked at.
    ///
    /// # Errors
    /// All that is wrong with the delivery.
    pub fn bins(&self) -> Result<Bins, DeliveryError> {
        let problems = self.problems();
        if problems.is_empty() { Ok(bins::sort(self)) } else { Err(DeliveryError { problems }) }
    }

    fn problems(&self) -> Vec<DeliveryProblem> {
        let mut problems = twice("the line", "lines", self.lines.iter().map(|line| &line.id));
        for line in &self.lines {
            if line.quantity == 0 {
                problems.push(DeliveryProblem::NoQuantity { line: line.id.clone() });
            }
            if line.quantity > OrderLine::MAX_QUANTITY {
                problems.push(DeliveryProblem::TooMany { line: line.id.clone(), quantity: line.quantity });
            }
            if !ModuleFact::ALL.into_iter().any(|fact| line.wanted.has(fact)) {
                problems.push(DeliveryProblem::NothingStated { line: line.id.clone() });
            }
        }
        problems.extend(twice("the piece", "pieces", self.pieces.iter().map(|piece| &piece.id)));
        let silent = self.pieces.iter().filter(|piece| piece.said.is_empty() && piece.spd_fault.is_none());
        problems.extend(silent.map(|piece| DeliveryProblem::NothingSaid { piece: piece.id.clone() }));
        problems
    }
}

/// Every id that was there before.
fn twice<'n>(what: &'static str, list: &'static str, ids: impl Iterator<Item = &'n Name>) -> Vec<DeliveryProblem> {
    let mut first_of: BTreeMap<&Name, usize> = BTreeMap::new();
    let place = |index| FieldPath::of(list).index(index);
    let mut problems = Vec::new();
    for (index, id) in ids.enumerate() {
        let first = *first_of.entry(id).or_insert(index);
        if first != index {
            let (first, second) = (place(first), place(index));
            problems.push(DeliveryProblem::GivenTwice { what, id: id.clone(), first, second });
        }
    }
    problems
}
