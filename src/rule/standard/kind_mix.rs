use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::MixProperty;
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixBound, MixOf};
use crate::stated::Scope;

/// One buffering kind per machine, unless the board says otherwise.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| Ok(Some(FactValue::Kind(site.module.kind())));
    let default = Some(MixBound::new(Scope::Machine, 1));
    Form::Mix(Mix { of: MixOf::Modules(Box::new(key)), bounds: mix_bounds::of(MixProperty::Kind, default) })
}
