//! A delivery against its order.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use crate::goods_in::compare::Compared;
use crate::goods_in::facts::{PieceGroup, groups};
use crate::goods_in::matching::{Fit, most};
use crate::goods_in::{Delivery, GoodsIn, JudgedLine, JudgedPiece, OrderLine, Piece, PieceVerdict, serials};
use crate::population::Medium;
use crate::stated::Schema;
use crate::unit::Name;

/// A group, and what comes of holding it against each line.
struct Held<'d> {
    group: PieceGroup<'d>,
    against: Vec<Compared>,
    fits: Vec<Option<Fit>>,
}

/// Judges a delivery that is known to be sound.
pub(crate) fn judge(delivery: &Delivery) -> GoodsIn {
    let mut pieces: Vec<&Piece> = delivery.pieces.iter().collect();
    pieces.sort_by_key(|piece| &piece.id);
    let doubled_serials = serials::doubled(&pieces);
    let held: Vec<Held<'_>> =
        groups(delivery, &doubled_serials).into_iter().map(|group| Held::of(group, delivery)).collect();
    let fits: Vec<Vec<Option<Fit>>> = held.iter().map(|held| held.fits.clone()).collect();
    let sizes: Vec<usize> = held.iter().map(|held| held.group.pieces.len()).collect();
    let room: Vec<usize> = delivery.lines.iter().map(|line| line.quantity).collect();
    let put = most(&fits, &sizes, &room);

    let mut verdicts: BTreeMap<&Name, (PieceVerdict, &Held<'_>)> = BTreeMap::new();
    let mut over: Vec<(&Piece, &Held<'_>)> = Vec::new();
    for (held, put) in held.iter().zip(&put) {
        let mut pieces = held.group.pieces.iter();
        for (at, count) in held.in_order(put) {
            for piece in pieces.by_ref().take(count) {
                verdicts.extend(held.verdict(at, delivery, true).map(|verdict| (&piece.id, (verdict, held))));
            }
        }
        over.extend(pieces.map(|piece| (*piece, held)));
    }
    over.sort_by_key(|(piece, _)| &piece.id);
    // places in lines for which nothing came that is right or may be
    let taken = |at: usize| put.iter().filter_map(|put| put.get(at)).sum::<usize>();
    let mut lacking: Vec<usize> = room.iter().enumerate().map(|(at, room)| room.saturating_sub(taken(at))).collect();
    let missing = lacking.clone();
    for (piece, held) in over {
        verdicts.extend(held.without_place(delivery, &mut lacking).map(|verdict| (&piece.id, (verdict, held))));
    }

    let judged = |piece: &&Piece| {
        let (verdict, held) = verdicts.get(&piece.id)?;
        let facts = &held.group.facts;
        Some(JudgedPiece {
            id: piece.id.clone(),
            verdict: verdict.clone(),
            seen: facts.seen_of(piece),
            media: piece.said.iter().filter(|source| source.is_read()).map(|source| source.medium).collect(),
            spd_fault: piece.spd_fault,
            is_held_back: facts.is_held_back,
            disagreements: facts.disagreements_of(piece),
            doubled_with: serials::doubled_with(&doubled_serials, &piece.id),
        })
    };
    let pieces: Vec<JudgedPiece> = pieces.iter().filter_map(judged).collect();
    let lines = delivery.lines.iter().zip(missing).map(|(line, missing)| judged_line(line, missing, &pieces)).collect();
    GoodsIn { schema: Schema, pieces, lines, doubled_serials }
}

fn judged_line(line: &OrderLine, missing: usize, pieces: &[JudgedPiece]) -> JudgedLine {
    let of = |is: &dyn Fn(&JudgedPiece) -> bool| {
        pieces.iter().filter(|piece| piece.verdict.line() == Some(&line.id) && is(piece)).count()
    };
    JudgedLine {
        id: line.id.clone(),
        ordered: line.quantity,
        right: of(&|piece| piece.verdict.is_right()),
        right_without_spd: of(&|piece| piece.verdict.is_right() && !piece.has_spd()),
        not_known: of(&|piece| matches!(piece.verdict, PieceVerdict::NotKnown { has_place: true, .. })),
        missing,
    }
}

impl<'d> Held<'d> {
    fn of(group: PieceGroup<'d>, delivery: &Delivery) -> Self {
        let against: Vec<Compared> =
            delivery.lines.iter().map(|line| Compared::of(&line.wanted, &group.facts)).collect();
        let has = |medium| i64::from(group.facts.said.iter().any(|source| source.medium == medium && source.is_read()));
        let fit = |compared: &Compared| Fit {
            right: i64::from(compared.is_right),
            open: i64::from(!compared.is_right),
            with_spd: has(Medium::Spd),
            with_label: has(Medium::Label),
            read: i64::try_from(compared.unread.len()).map_or(i64::MIN, |unread| -unread),
        };
        let fits = against.iter().map(|compared| compared.differs.is_empty().then(|| fit(compared))).collect();
        Self { group, against, fits }
    }

    /// How many go to which line: first where they are right.
    fn in_order(&self, put: &[usize]) -> Vec<(usize, usize)> {
        let mut lines: Vec<(usize, usize)> = put.iter().copied().enumerate().filter(|(_, count)| *count > 0).collect();
        lines.sort_by_key(|(at, _)| Reverse(self.fits.get(*at).copied().flatten()));
        lines
    }

    /// What a piece is that goes to a line, or would if there were a place.
    fn verdict(&self, at: usize, delivery: &Delivery, has_place: bool) -> Option<PieceVerdict> {
        let (line, compared) = (delivery.lines.get(at)?.id.clone(), self.against.get(at)?);
        Some(match (compared.is_right, has_place) {
            (true, true) => PieceVerdict::Right { line },
            (true, false) => PieceVerdict::Surplus { line },
            (false, has_place) => PieceVerdict::NotKnown { line, unread: compared.unread.clone(), has_place },
        })
    }

    /// What a piece is that goes to none.
    fn without_place(&self, delivery: &Delivery, lacking: &mut [usize]) -> Option<PieceVerdict> {
        let best = self.fits.iter().copied().flatten().max();
        if let Some(best) = best {
            let at = self.fits.iter().position(|fit| *fit == Some(best))?;
            return self.verdict(at, delivery, false);
        }
        let is_full = |at: usize| lacking.get(at).is_none_or(|lacking| *lacking == 0);
        let how_far =
            |(at, compared): &(usize, &Compared)| (is_full(*at), compared.differs.len(), compared.unread.len());
        let (at, closest) = self.against.iter().enumerate().min_by_key(how_far)?;
        if let Some(lacking) = lacking.get_mut(at) {
            *lacking = lacking.saturating_sub(1);
        }
        Some(PieceVerdict::Wrong { line: delivery.lines.get(at)?.id.clone(), facts: closest.differs.clone() })
    }
}
