//! Modules that differ in grade alone are placed as one.
//!
//! Where a machine has one rate and no rule in force reads grades, the slowest module bounds the rate wherever it sits: then
//! modules of one *look*, alike but for their grades, may stand in for each other in any place.

use crate::fill::{ClassId, Demand, KindIx, Placed, Rank, SlotModel, step_under};
use crate::module::MemoryModule;
use crate::platform::{RatePolicy, UnlikeGrades};
use crate::search::Table;

/// Classes of one look, the slowest first, which stands for all.
type Look = Vec<(ClassId, usize)>;

/// The looks of a demand that several of its classes have.
pub(crate) struct Looks(Vec<Look>);

impl Looks {
    /// The demand with one class for each look; `None` where no two classes have one.
    pub(crate) fn of(model: &SlotModel<'_>, errors: &SlotModel<'_>, demand: &Demand) -> Option<(Demand, Self)> {
        if demand.counts.len() < 2 || !may_be_merged(model) || !may_be_merged(errors) {
            return None;
        }
        let mut looks: Vec<(MemoryModule, Look)> = Vec::new();
        let mut counts = Vec::new();
        for &(class, count) in demand.counts.iter().filter(|&&(_, count)| count > 0) {
            let module = model.classes.get(class)?;
            let is_fast = step_under(model.machine, module.grade()).index().is_some();
            if !is_fast || !module.is_described() || stays(demand, class) {
                counts.push((class, count));
                continue;
            }
            let facts = module.without_grade();
            let is_like = |look: &Look| look.first().is_some_and(|&(other, _)| model.admit_alike(class, other));
            match looks.iter_mut().find(|(known, look)| *known == facts && is_like(look)) {
                Some((_, look)) => look.push((class, count)),
                None => looks.push((facts, vec![(class, count)])),
            }
        }
        let mut merged = Vec::new();
        for (_, mut look) in looks {
            look.sort_by_key(|&(class, _)| (model.classes.get(class).and_then(|module| module.grade()), class));
            let all = look.iter().map(|&(_, count)| count).sum();
            counts.extend(look.first().map(|&(slowest, _)| (slowest, all)));
            if look.len() > 1 {
                merged.push(look);
            }
        }
        (!merged.is_empty()).then(|| (Demand { counts, ..demand.clone() }, Self(merged)))
    }

    /// The placing with the classes of each look told apart: those of higher priority in the first places.
    pub(crate) fn tell_apart(&self, model: &SlotModel<'_>, demand: &Demand, mut placed: Placed) -> Placed {
        let kinds: Table<KindIx, ClassId> =
            demand.kinds_by_priority(model).into_iter().map(|(class, _)| class).collect();
        for look in &self.0 {
            let Some(&(slowest, _)) = look.first() else { continue };
            let mut own = look.clone();
            own.sort_by_key(|&(class, _)| kinds.find(|&kind| kind == class));
            let mut each = own.into_iter().flat_map(|(class, count)| std::iter::repeat_n(class, count));
            for (_, held) in placed.at.iter_mut().filter(|(_, held)| **held == Some(slowest)) {
                *held = each.next();
            }
        }
        placed.ranks = Rank::of_each(&placed.at, &kinds);
        placed
    }
}

/// Whether modules of a class are there already, or pinned to a place.
fn stays(demand: &Demand, class: ClassId) -> bool {
    demand.present.values().iter().flatten().any(|present| present.class == class)
        || demand.pinned.iter().any(|&(_, pinned)| pinned == Some(class))
}

/// Whether nothing but the rate of the whole machine tells grades apart.
fn may_be_merged(model: &SlotModel<'_>) -> bool {
    let description = model.machine.platform().description();
    let policy = description.unlike_grades.as_ref().map(|policy| policy.value);
    description.rate_policy == RatePolicy::PerMachine
        && !matches!(policy, Some(UnlikeGrades::LowerToMts(_)))
        && model.machine.mode_description().is_none()
        && !model.in_force.reads_grades
        // of two parts of which the same is not known it cannot be said that they are alike
        && model.keys_are_steady
}

impl SlotModel<'_> {
    /// Whether the module rules let two classes into the same places.
    fn admit_alike(&self, one: ClassId, other: ClassId) -> bool {
        let mut places = self.unlike_channels().flat_map(|(_, channel)| &channel.slots);
        places.all(|&place| self.admits(place, one) == self.admits(place, other))
    }
}
