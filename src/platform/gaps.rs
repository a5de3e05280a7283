//! What a description leaves out, and what follows from that.

use core::fmt;

use serde::Serialize;

use crate::platform::{Platform, PlatformDescription, Slot};
use crate::processor::ProcessorDescription;
use crate::stated::FieldPath;
use crate::unit::Name;

/// A fact that a description leaves out.
///
/// ```
/// use slotwright::platform::Harm;
/// use slotwright::reference;
///
/// let gaps = reference::ddr4_2s_4ch_3spc().gaps();
/// // what may let through a module that will not start comes first
/// assert!(gaps.is_sorted_by_key(|gap| gap.harm));
/// let gap = gaps.iter().find(|gap| gap.place.to_string() == "slots.height_limit_um").unwrap();
/// assert_eq!(gap.follows, "modules of any height are taken to fit under the lid and the air duct");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Gap {
    /// The field that is absent; `slots` for a fact that no slot has.
    pub place: FieldPath,
    /// The worst that its absence may do.
    pub harm: Harm,
    /// What follows from its absence.
    pub follows: &'static str,
    /// The answers that lean on it.
    pub leans: &'static str,
    /// Where such a fact is usually printed. Common practice, no source.
    pub printed: &'static str,
    /// The processor whose description it is; the board's where absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub processor: Option<Name>,
    /// For which questions it matters.
    #[serde(skip)]
    pub(crate) matters: Matters,
}

/// The worst that the absence of a fact may do, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Harm {
    /// It lets through a module or a population that will not start.
    WillNotStart,
    /// A rate or a bandwidth is wrong.
    Rate,
    /// Modules sit in the wrong slots, or in an order that is not advised.
    Order,
    /// Hands look longer.
    Comfort,
}

impl fmt::Display for Harm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::WillNotStart => "may let through what will not start",
            Self::Rate => "rates may be wrong",
            Self::Order => "slots may be wrong",
            Self::Comfort => "hands look longer",
        })
    }
}

impl fmt::Display for Gap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}: {}. Leaning on it: {}. Usually printed in {}.",
            self.place, self.follows, self.leans, self.printed
        )
    }
}

/// For which questions a fact matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Matters {
    Always,
    /// With more than one processor.
    ManyProcessors,
    /// With stacked modules.
    Stacked,
    /// With modules of more than one sort.
    Unlike,
    /// In a redundancy mode, or where one might be set.
    Modes,
    /// With modules that state their power.
    Power,
    /// With modules that state their height.
    Height,
    /// Where channels have several slots.
    SeveralSlots,
}

/// Rows of absent facts: the field, whether it is absent, and what follows.
macro_rules! rows {
    ($gaps:ident, $place:expr, $processor:expr; $($field:literal, $absent:expr, $harm:ident, $matters:ident, $follows:literal, $leans:literal, $printed:literal;)*) => {
        $(
            if $absent {
                $gaps.push(Gap {
                    place: $place($field),
                    harm: Harm::$harm,
                    follows: $follows,
                    leans: $leans,
                    printed: $printed,
                    processor: $processor,
                    matters: Matters::$matters,
                });
            }
        )*
    };
}

impl Platform {
    /// What the description leaves out, the board's and its processors', by harm. A fact that the board has not cannot be told from one that
    /// nobody has looked up: for such a fact a gap says what is assumed.
    #[must_use]
    pub fn gaps(&self) -> Vec<Gap> {
        let mut gaps = Vec::new();
        of_board(self.description(), self.slots(), &mut gaps);
        for processor in &self.description().processors {
            of_processor(processor.description(), self.description(), &mut gaps);
        }
        gaps.sort_by_key(|gap| gap.harm);
        gaps
    }
}

// a field that is added does not compile until it has its row
#[allow(clippy::too_many_lines)]
fn of_board(description: &PlatformDescription, slots: &[Slot], gaps: &mut Vec<Gap>) {
    let PlatformDescription {
        schema: _,
        name: _,
        generation,
        sockets,
        pattern: _,
        position_basis,
        turn_basis,
        rows,
        hands,
        reported_as,
        processors,
        accepted_processors,
        processors_alike,
        rate_table,
        rate_policy: _,
        highest_grade_mts,
        unlike_grades,
        unlike_voltages,
        rank_limits,
        module_limits,
        shared_load_caps,
        mix_limits,
        neighbouring_sizes,
        same_rank_count,
        pair_bans,
        channel_bans,
        listed_modules,
        capacity_cap_mib,
        position_order,
        fill_priority: _,
        priority_along_channel,
        fill_rows,
        count_rows,
        memory_per_processor,
        channels_alike,
        controllers_alike,
        sockets_alike,
        even_counts,
        blanks,
        modes,
        domain_schemes,
        power_budget_mw,
        options,
        power_profiles,
        default_settings: _,
        worked_rows,
    } = description;
    let place = FieldPath::of;
    rows! { gaps, place, None;
        "accepted_processors", accepted_processors.is_none(), WillNotStart, Always,
            "every processor of the generation is accepted", "every answer", "the list of supported processors";
        "listed_modules", listed_modules.is_none(), WillNotStart, Always,
            "no module is held against a list of the maker", "every answer", "the memory support list";
        "module_limits", module_limits.is_empty(), WillNotStart, SeveralSlots,
            "any sort of module may stand in any position and in any number of a channel", "every answer", "the notes under the population table";
        "rank_limits", rank_limits.is_empty(), WillNotStart, Always,
            "only the processors limit the ranks of a channel", "every answer", "the notes under the population table";
        "shared_load_caps", shared_load_caps.is_empty(), WillNotStart, SeveralSlots,
            "no sort of module bars slots around it", "every answer", "the notes under the population table";
        "pair_bans", pair_bans.is_empty(), WillNotStart, Unlike,
            "no two sorts of module are kept apart", "plans with unlike modules", "the mixing rules";
        "channel_bans", channel_bans.is_empty(), WillNotStart, Unlike,
            "no set of modules is barred from a channel", "plans with unlike modules", "the mixing rules";
        "mix_limits", mix_limits.is_empty(), WillNotStart, Unlike,
            "a machine takes one kind, plain or stacked modules, and with or without check bits; all else may be mixed", "plans with unlike modules", "the mixing rules";
        "capacity_cap_mib", capacity_cap_mib.is_none(), WillNotStart, Always,
            "the board has no limit on memory beside its slots", "plans and ceilings", "the specification, maximum memory";
        "same_rank_count", same_rank_count.is_none(), WillNotStart, Unlike,
            "modules of unlike ranks may meet at a processor", "plans with unlike modules", "the mixing rules";
        "neighbouring_sizes", neighbouring_sizes.is_none(), WillNotStart, Unlike,
            "modules of any two sizes may meet", "plans with unlike modules", "the mixing rules";
        "unlike_voltages", unlike_voltages.is_none() && generation.voltages().len() > 1, WillNotStart, Unlike,
            "modules of unlike voltages run at one that all have", "plans with unlike modules", "the mixing rules, low-voltage modules";
        "power_budget_mw", power_budget_mw.is_none(), WillNotStart, Power,
            "modules may draw any power", "every answer with modules whose power is known", "the power section of the specification";
        "rate_table", rate_table.is_none(), Rate, Always,
            "only the processors' tables lower a rate", "rates, bandwidths, and plans that ask for them", "the table of memory speeds";
        "highest_grade_mts", highest_grade_mts.is_none(), Rate, Always,
            "modules of any grade are taken", "rates", "the table of memory speeds";
        "unlike_grades", unlike_grades.is_none(), Rate, Unlike,
            "unlike grades all run at the lowest", "rates of unlike modules", "the mixing rules";
        "power_profiles", power_profiles.is_empty(), Rate, Always,
            "no setting lowers the rate for power", "rates", "the set-up menu's memory settings";
        "options", options.is_empty(), Order, Always,
            "no riser, cage or card closes slots or lowers rates", "every answer", "the list of options and their restrictions";
        "position_basis", position_basis.is_none() && slots.iter().any(|slot| slot.position().is_some()), Order, SeveralSlots,
            "positions are taken to be as sure as the order of positions", "which slots", "the picture of the board";
        "turn_basis", turn_basis.is_none() && slots.iter().any(|slot| slot.description().turn.is_some()), Order, Always,
            "turns are taken to be the manual's", "which slots", "the population table";
        "position_order", position_order.is_none() && slots.iter().any(|slot| slot.description().turn.is_none()), Order, SeveralSlots,
            "the far end of a channel is filled first", "which slots", "the population rules";
        "priority_along_channel", priority_along_channel.is_none(), Order, SeveralSlots,
            "it is no matter which of unlike modules of a channel is first", "which slots", "the population rules";
        "fill_rows", fill_rows.is_empty(), Order, Always,
            "slots follow from the order alone", "which slots", "the population table";
        "count_rows", count_rows.is_empty(), Order, Always,
            "any number of modules may be fitted", "plans", "the population table";
        "memory_per_processor", memory_per_processor.is_none() && sockets.len() > 1, Order, ManyProcessors,
            "every processor should have memory", "plans", "the population rules";
        "processors_alike", processors_alike.is_none() && sockets.len() > 1, Order, ManyProcessors,
            "processors should be alike", "every answer", "the processor rules";
        "channels_alike", channels_alike.is_none(), Order, Always,
            "channels of a processor that have memory should be alike", "plans", "the population rules";
        "controllers_alike", controllers_alike.is_none() && sockets.iter().any(|socket| socket.controllers.len() > 1), Order, Always,
            "controllers need not be alike", "plans", "the population rules";
        "sockets_alike", sockets_alike.is_none() && sockets.len() > 1, Order, ManyProcessors,
            "the memory of processors should be alike", "plans", "the population rules";
        "even_counts", even_counts.is_none() && count_rows.is_empty(), Order, Always,
            "odd numbers of modules are no matter", "plans", "the population rules";
        "modes", modes.is_empty(), Order, Modes,
            "only the independent mode can be planned", "modes, usable capacity", "the section on memory modes";
        "domain_schemes", domain_schemes.is_empty(), Order, Modes,
            "each processor is one interleave domain", "interleave and bandwidth", "the set-up menu's memory settings";
        "blanks", blanks.is_none(), Comfort, Always,
            "empty slots need no blank", "lists of what to fit", "the population rules, air flow";
        "hands", hands.is_none(), Comfort, Always,
            "nothing is said of waiting times, latches, what to lift out or firmware", "work lists", "the service manual";
        "reported_as", reported_as.is_empty(), Comfort, Always,
            "a report does not lead to this description", "reports", "a report of such a machine";
        "rows", rows.is_empty(), Comfort, Always,
            "maps cannot follow the board", "maps", "the picture of the board";
        "processors", processors.is_empty(), WillNotStart, Always,
            "each machine describes its own processors", "every answer", "the list of supported processors";
        "worked_rows", worked_rows.is_empty(), WillNotStart, Always,
            "nothing proves that the description says what the manual says", "every answer", "the population table and the table of memory speeds";
    }
    of_slots(slots, gaps);
}

/// Facts of slots: a gap where no slot has one.
fn of_slots(slots: &[Slot], gaps: &mut Vec<Gap>) {
    use crate::platform::SlotDescription;
    let all = |absent: fn(&SlotDescription) -> bool| slots.iter().all(|slot| absent(slot.description()));
    let any = |absent: fn(&SlotDescription) -> bool| slots.iter().any(|slot| absent(slot.description()));
    // the fields that have rows, so that a further one is not forgotten
    let _ = |slot: &SlotDescription| {
        let SlotDescription {
            label: _,
            position: _,
            turn: _,
            form_factor: _,
            height_limit_um: _,
            marking: _,
            key_facing: _,
            addresses: _,
        } = slot;
    };
    let place = |field: &'static str| FieldPath::of("slots").field(field);
    rows! { gaps, place, None;
        "height_limit_um", all(|slot| slot.height_limit_um.is_none()), WillNotStart, Height,
            "modules of any height are taken to fit under the lid and the air duct", "every answer with modules whose height is known", "the mechanical drawings";
        "position", any(|slot| slot.position.is_none()), Order, SeveralSlots,
            "which slot of a channel is filled first is left to the board", "which slots", "the picture of the board, or the population table";
        "turn", any(|slot| slot.turn.is_none()), Order, Always,
            "channels are filled in the order of the description", "which slots", "the population table";
        "marking", all(|slot| slot.marking.is_none()), Comfort, Always,
            "slots are found by their labels alone", "work lists and maps", "the picture of the board";
        "key_facing", all(|slot| slot.key_facing.is_none()), Comfort, Always,
            "nobody is told to turn a module round", "work lists", "the picture of the board";
        "addresses", all(|slot| slot.addresses.is_empty()), Comfort, Always,
            "messages of the machine cannot be led to a slot", "reports", "the service manual, error codes";
    }
}

fn of_processor(description: &ProcessorDescription, board: &PlatformDescription, gaps: &mut Vec<Gap>) {
    let ProcessorDescription {
        schema: _,
        name,
        generation: _,
        reported_as,
        kinds: _,
        max_rate_mts: _,
        rates_mts,
        rate_table,
        voltages_mv: _,
        die_densities_mbit,
        widths,
        stack_heights,
        ecc,
        rank_limits,
        counted_ranks,
        capacity_cap,
        mix_limits,
        interleave,
    } = description;
    let place = |field: &'static str| FieldPath::of("processors").named(name).field(field);
    rows! { gaps, place, Some(name.clone());
        "die_densities_mbit", die_densities_mbit.is_none(), WillNotStart, Always,
            "modules of any die density pass", "every answer", "the data sheet's table of supported memory";
        "widths", widths.is_none(), WillNotStart, Always,
            "devices of any width pass", "every answer", "the data sheet's table of supported memory";
        "stack_heights", stack_heights.is_none(), WillNotStart, Stacked,
            "stacks of any height pass", "every answer with stacked modules", "the data sheet's table of supported memory";
        "ecc", ecc.is_none(), WillNotStart, Always,
            "modules with and without check bits pass", "every answer", "the data sheet's table of supported memory";
        "rank_limits", rank_limits.is_empty() && board.rank_limits.is_empty(), WillNotStart, Always,
            "a channel takes any number of ranks", "every answer", "the data sheet, ranks for each channel";
        "counted_ranks", counted_ranks.is_empty(), WillNotStart, Always,
            "every rank counts as one", "limits on ranks", "the data sheet, rank multiplication";
        "capacity_cap", capacity_cap.is_none(), WillNotStart, Always,
            "the processor addresses any amount of memory", "plans and ceilings", "the data sheet, maximum memory";
        "mix_limits", mix_limits.is_empty(), WillNotStart, Unlike,
            "the processor takes any modules together", "plans with unlike modules", "the data sheet, mixing rules";
        "rate_table", rate_table.is_none() && board.rate_table.is_none(), Rate, Always,
            "load lowers no rate", "rates, bandwidths, and plans that ask for them", "the table of memory speeds";
        "rates_mts", rates_mts.is_none(), Rate, Always,
            "every standard rate of the generation can be run", "rates", "the data sheet, memory speeds";
        "reported_as", reported_as.is_empty(), Comfort, Always,
            "a report does not lead to this processor", "reports", "a report of such a machine";
        "interleave", interleave.is_none(), Order, Always,
            "any set of channels is interleaved", "interleave, bandwidth, and which channels", "the population rules: numbers of modules that are balanced";
    }
}

#[cfg(test)]
mod tests {
    use expect_test::expect;

    use crate::module::Generation;
    use crate::platform::{BoardPattern, ChannelLabels, Harm, PlatformDescription};
    use crate::processor::ProcessorDescription;
    use crate::stated::Basis;
    use crate::testing::name;
    use crate::unit::DataRate;

    fn bare() -> PlatformDescription {
        let labels = "{channel}{number}".parse().unwrap();
        let pattern = BoardPattern::new([name("1")], ChannelLabels::LettersRunningOn(2), 2, labels);
        let kinds = [crate::module::ModuleKind::Registered];
        let processor =
            ProcessorDescription::new(name("own"), Generation::Ddr4, kinds, DataRate::DDR4_2400, Basis::DataSheet);
        PlatformDescription::patterned(name("bare"), Generation::Ddr4, pattern).processors([processor.build().unwrap()])
    }

    #[test]
    fn a_bare_description_has_every_gap_of_a_processor() {
        let said: Vec<String> =
            bare().build().unwrap().gaps().iter().map(|gap| format!("{}: {}", gap.place, gap.harm)).collect();
        expect![[r#"
            accepted_processors: may let through what will not start
            listed_modules: may let through what will not start
            module_limits: may let through what will not start
            rank_limits: may let through what will not start
            shared_load_caps: may let through what will not start
            pair_bans: may let through what will not start
            channel_bans: may let through what will not start
            mix_limits: may let through what will not start
            capacity_cap_mib: may let through what will not start
            same_rank_count: may let through what will not start
            neighbouring_sizes: may let through what will not start
            power_budget_mw: may let through what will not start
            worked_rows: may let through what will not start
            slots.height_limit_um: may let through what will not start
            processors[own].die_densities_mbit: may let through what will not start
            processors[own].widths: may let through what will not start
            processors[own].stack_heights: may let through what will not start
            processors[own].ecc: may let through what will not start
            processors[own].rank_limits: may let through what will not start
            processors[own].counted_ranks: may let through what will not start
            processors[own].capacity_cap: may let through what will not start
            processors[own].mix_limits: may let through what will not start
            rate_table: rates may be wrong
            highest_grade_mts: rates may be wrong
            unlike_grades: rates may be wrong
            power_profiles: rates may be wrong
            processors[own].rate_table: rates may be wrong
            processors[own].rates_mts: rates may be wrong
            options: slots may be wrong
            position_order: slots may be wrong
            priority_along_channel: slots may be wrong
            fill_rows: slots may be wrong
            count_rows: slots may be wrong
            channels_alike: slots may be wrong
            even_counts: slots may be wrong
            modes: slots may be wrong
            domain_schemes: slots may be wrong
            slots.position: slots may be wrong
            slots.turn: slots may be wrong
            processors[own].interleave: slots may be wrong
            blanks: hands look longer
            hands: hands look longer
            reported_as: hands look longer
            rows: hands look longer
            slots.marking: hands look longer
            slots.key_facing: hands look longer
            slots.addresses: hands look longer
            processors[own].reported_as: hands look longer"#]]
        .assert_eq(&said.join("\n"));
    }

    #[test]
    fn a_gap_that_is_filled_is_gone() {
        let gaps = |board: PlatformDescription| {
            let gaps = board.build().unwrap().gaps();
            assert!(gaps.is_sorted_by_key(|gap| gap.harm));
            gaps.into_iter().map(|gap| gap.place.to_string()).collect::<Vec<_>>()
        };
        let before = gaps(bare());
        let cap = crate::stated::Stated::new(crate::unit::Capacity::from_gib(64), Basis::BoardManual);
        let mut after = gaps(bare().capacity_cap(cap));
        after.push("capacity_cap_mib".to_owned());
        let sorted = |mut gaps: Vec<String>| {
            gaps.sort();
            gaps
        };
        assert_eq!(sorted(before), sorted(after));
        let gap = bare().build().unwrap().gaps().into_iter().find(|gap| gap.harm == Harm::Comfort).unwrap();
        assert_eq!(
            gap.to_string(),
            "blanks: empty slots need no blank. Leaning on it: lists of what to fit. Usually printed in the population rules, air flow."
        );
    }
}
