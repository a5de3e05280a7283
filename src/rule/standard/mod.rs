//! The rules of the trade: one table, one file a rule.

// on a module in a slot
mod barred_position;
mod correction_cover;
mod die_density;
mod ecc_accepted;
mod form_factor;
mod generation;
mod grade_accepted;
mod height;
mod kind_accepted;
mod listed_module;
mod slot_live;
mod stack_accepted;
mod voltage_accepted;
mod width_accepted;

// on what sits in a channel
mod channel_ban;
mod channel_ranks;
mod first_slot;
mod mode_channel;
mod module_limit;
mod position_order;
mod priority_order;
mod spare_rank;

// on what sits on a processor
mod controllers_alike;
mod empty_channel;
mod empty_controller;
mod empty_domain;
mod key_facing;
mod mode_unmet;
pub(crate) mod odd_channels;
mod same_rank_count;
mod shared_load_cap;
mod socket_capacity;
mod spread_first;
mod uneven_interleave;

// on anything
mod machine_load_cap;
mod other_device;

mod kind_mix;
mod socket_minimum;

// what rules share
mod mix_bounds;
mod site;
// on how many different keys there are
mod capacity_mix;
mod channels_alike;
mod class_mix;
mod class_or_none_mix;
mod density_mix;
mod ecc_mix;
mod grade_mix;
mod maker_mix;
mod rank_mix;
mod sockets_alike;
mod stack_mix;
mod stacked_mix;
mod voltage_mix;
mod width_mix;

// on how many modules there are
mod even_counts;
mod listed_counts;

// on whole populations
mod blanks;
mod common_voltage;
mod density_across_widths;
mod faulty_module;
mod fill_row;
mod machine_capacity;
mod mode_not_offered;
mod neighbouring_sizes;
mod no_memory;
mod no_rate_step;
mod pair_ban;
mod power_budget;
mod processor_accepted;
mod processors_alike;
mod rate_fact_missing;
mod rate_not_allowed;
mod rate_row_missing;
mod rate_unused;

// what these share
mod load_key;
#[cfg(test)]
mod mix_cases;
#[cfg(test)]
mod promises;
mod rate_tables;
mod scopes;

use crate::finding::Severity;
use crate::machine::Machine;
use crate::rule::{Form, Hint, Rule, RuleBookError, code};

/// A row of the table of standard rules.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct StandardRule {
    /// The code.
    pub code: &'static str,
    /// What it says, as a phrase.
    pub summary: &'static str,
    /// How much it weighs, unless the platform's basis or advice makes it less.
    pub severity: Severity,
    /// What it looks at.
    pub scope: &'static str,
    /// Where the rule is found.
    pub source: &'static str,
    hereditary: bool,
    placement_free: bool,
    reads_identity: bool,
    reads_grades: bool,
    /// On which machines it can have nothing to say.
    /// Whether it is about evenness: its warnings yield to what a manual prints, and to what was so before.
    evenness: bool,
    idle: Option<fn(&Machine) -> bool>,
    /// What searches may use of it.
    hints: Option<fn(&Machine) -> Vec<Hint>>,
    form: fn() -> Form,
}

impl StandardRule {
    /// The rule has nothing to say on such machines.
    const fn idle_on(mut self, idle: fn(&Machine) -> bool) -> Self {
        self.idle = Some(idle);
        self
    }

    /// The rule is about evenness.
    const fn about_evenness(mut self) -> Self {
        self.evenness = true;
        self
    }

    /// Searches may use so much of the rule.
    const fn hinting(mut self, hints: fn(&Machine) -> Vec<Hint>) -> Self {
        self.hints = Some(hints);
        self
    }

    /// The rule looks at which modules there are and how many, never at where they sit.
    const fn placement_free(mut self) -> Self {
        self.placement_free = true;
        self
    }

    /// The rule looks at part number, maker or power.
    const fn reading_identity(mut self) -> Self {
        self.reads_identity = true;
        self
    }

    /// The rule compares grades, or tells which modules have which.
    const fn reading_grades(mut self) -> Self {
        self.reads_grades = true;
        self
    }

    /// The rule itself.
    ///
    /// # Errors
    /// Never for the rows of [`STANDARD_RULES`]; a test holds them to it.
    pub fn rule(&self) -> Result<Rule, RuleBookError> {
        let mut rule = Rule::with_form(self.code, self.summary, self.severity, (self.form)())?.uniform();
        if self.hereditary {
            rule = rule.hereditary();
        }
        if self.placement_free {
            rule = rule.placement_free();
        }
        if !self.reads_identity {
            rule = rule.blind_to_identity();
        }
        if !self.reads_grades {
            rule = rule.blind_to_grade();
        }
        if self.evenness {
            rule = rule.about_evenness();
        }
        if let Some(idle) = self.idle {
            rule = rule.idle_on(idle);
        }
        if let Some(hints) = self.hints {
            rule = rule.hinting(hints);
        }
        Ok(rule)
    }
}

/// Where no redundancy mode asks for anything.
fn in_independent_mode(machine: &Machine) -> bool {
    machine.mode_description().is_none()
}

/// What a row promises beside its form: once broken, further modules never mend it.
const HEREDITARY: bool = true;
/// Further modules may mend it.
const MENDABLE: bool = false;

const fn row(
    code: &'static str,
    severity: Severity,
    scope: &'static str,
    hereditary: bool,
    form: fn() -> Form,
    summary: &'static str,
    source: &'static str,
) -> StandardRule {
    StandardRule {
        code,
        summary,
        severity,
        scope,
        source,
        hereditary,
        placement_free: false,
        reads_identity: false,
        reads_grades: false,
        evenness: false,
        idle: None,
        hints: None,
        form,
    }
}

/// The rules of the trade, by code within each scope. Sources are those of the rule; a platform's own
/// limit carries its own.
pub const STANDARD_RULES: &[StandardRule] = &[
    row(
        code::BARRED_POSITION,
        Severity::Error,
        "module",
        HEREDITARY,
        barred_position::form,
        "a module of this sort does not go into this position",
        "Server Board S2600IP TPS 1.4 p. 31",
    ),
    row(
        code::CORRECTION_COVER,
        Severity::Error,
        "module",
        HEREDITARY,
        correction_cover::form,
        "the mode's correction does not cover the module",
        "TX300 S8 manual p. 469; RX4770 M6 manual p. 240",
    )
    .idle_on(in_independent_mode),
    row(
        code::DIE_DENSITY,
        Severity::Error,
        "module",
        HEREDITARY,
        die_density::form,
        "the processor does not address dies of this density",
        "common practice, no source",
    ),
    row(
        code::ECC_ACCEPTED,
        Severity::Error,
        "module",
        HEREDITARY,
        ecc_accepted::form,
        "the processor does not take modules with these check bits",
        "Server Board S2600IP TPS 1.4 p. 31; TX300 S8 manual p. 469",
    ),
    row(
        code::FORM_FACTOR,
        Severity::Error,
        "module",
        HEREDITARY,
        form_factor::form,
        "the slot takes modules of another form factor",
        "common practice, no source",
    ),
    row(
        code::GENERATION,
        Severity::Error,
        "module",
        HEREDITARY,
        generation::form,
        "the board takes modules of another generation",
        "JEDEC module standards; keys of DDR5 from memory",
    ),
    row(
        code::GRADE_ACCEPTED,
        Severity::Error,
        "module",
        HEREDITARY,
        grade_accepted::form,
        "the board does not take modules of so high a grade",
        "common practice, no source",
    ),
    row(
        code::HEIGHT,
        Severity::Error,
        "module",
        HEREDITARY,
        height::form,
        "the module is too tall for the slot",
        "common practice, no source",
    ),
    row(
        code::KIND_ACCEPTED,
        Severity::Error,
        "module",
        HEREDITARY,
        kind_accepted::form,
        "the processor does not take modules of this kind",
        "common practice, no source",
    ),
    row(
        code::LISTED_MODULE,
        Severity::Warning,
        "module",
        HEREDITARY,
        listed_module::form,
        "the module is not on the maker's list",
        "common practice, no source",
    )
    .reading_identity(),
    row(
        code::SLOT_LIVE,
        Severity::Error,
        "module",
        HEREDITARY,
        slot_live::form,
        "the slot cannot be used",
        "Server Board S2400EP TPS 2.0 p. 26; of options common practice, no source",
    ),
    row(
        code::STACK_ACCEPTED,
        Severity::Error,
        "module",
        HEREDITARY,
        stack_accepted::form,
        "the processor does not take stacks of this height",
        "common practice, no source",
    ),
    row(
        code::VOLTAGE_ACCEPTED,
        Severity::Error,
        "module",
        HEREDITARY,
        voltage_accepted::form,
        "the processor supplies no voltage at which the module runs",
        "Server Board S2600IP TPS 1.4 p. 31; S2400BB TPS 2.0 p. 17",
    ),
    row(
        code::WIDTH_ACCEPTED,
        Severity::Error,
        "module",
        HEREDITARY,
        width_accepted::form,
        "the processor does not take modules of this device width",
        "common practice, no source",
    ),
    row(
        code::CHANNEL_BAN,
        Severity::Error,
        "channel",
        MENDABLE,
        channel_ban::form,
        "these modules never make up a channel",
        "common practice, no source",
    ),
    row(
        code::CHANNEL_RANKS,
        Severity::Error,
        "channel",
        MENDABLE,
        channel_ranks::form,
        "the channel has more ranks than are allowed",
        "Server Board S2600IP TPS 1.4 p. 31; S2400BB TPS 2.0 p. 17; S2600CW TPS 2.4 table 4",
    ),
    row(
        code::MODE_CHANNEL,
        Severity::Error,
        "channel",
        MENDABLE,
        mode_channel::form,
        "the channel has fewer modules than the mode asks for",
        "common practice, no source",
    )
    .idle_on(in_independent_mode),
    row(
        code::MODULE_LIMIT,
        Severity::Error,
        "channel",
        HEREDITARY,
        module_limit::form,
        "the channel has more modules of this sort than are allowed",
        "Server Board S2600IP TPS 1.4 p. 31",
    ),
    row(
        code::FIRST_SLOT,
        Severity::Note,
        "channel",
        MENDABLE,
        first_slot::form,
        "which slot of the channel is filled first is not described: see the board",
        "common practice, no source",
    ),
    row(
        code::POSITION_ORDER,
        Severity::Error,
        "channel",
        MENDABLE,
        position_order::form,
        "a module sits behind a position that is to be filled first",
        "support article 000055509; Server Board S2400EP TPS 2.0 p. 26; 1288H V7 white paper p. 25",
    ),
    row(
        code::PRIORITY_ORDER,
        Severity::Error,
        "channel",
        HEREDITARY,
        priority_order::form,
        "a module sits nearer to the processor than one that it should be behind",
        "Server Board S2400EP TPS 2.0 p. 26; TX300 S8 manual p. 469; TX2550 M5 manual p. 398",
    ),
    row(
        code::SPARE_RANK,
        Severity::Error,
        "channel",
        MENDABLE,
        spare_rank::form,
        "the channel has too few ranks for the mode",
        "SR860 V2 guide p. 166; one more than is spared: common practice, no source",
    )
    .idle_on(in_independent_mode),
    row(
        code::CONTROLLERS_ALIKE,
        Severity::Error,
        "socket",
        MENDABLE,
        controllers_alike::form,
        "channels of one number in their controllers do not hold the same",
        "common practice, no source",
    )
    .about_evenness(),
    row(
        code::EMPTY_CHANNEL,
        Severity::Note,
        "socket",
        MENDABLE,
        empty_channel::form,
        "a channel has no memory and gives its bandwidth away",
        "1288H V7 white paper p. 25",
    )
    .about_evenness(),
    row(
        code::EMPTY_CONTROLLER,
        Severity::Note,
        "socket",
        MENDABLE,
        empty_controller::form,
        "a memory controller has no memory",
        "common practice, no source",
    )
    .about_evenness(),
    row(
        code::EMPTY_DOMAIN,
        Severity::Warning,
        "socket",
        MENDABLE,
        empty_domain::form,
        "a domain of the scheme set has no memory",
        "common practice, no source",
    )
    .about_evenness()
    .hinting(empty_domain::hints)
    .idle_on(empty_domain::idle),
    row(
        code::KEY_FACING,
        Severity::Note,
        "socket",
        HEREDITARY,
        key_facing::form,
        "the key of the slot is turned: turn the module round",
        "X210c M8 installation guide, memory population guidelines",
    ),
    row(
        code::MODE_UNMET,
        Severity::Error,
        "socket",
        MENDABLE,
        mode_unmet::form,
        "channels that the mode joins do not hold the same",
        "x3650 M5 guide p. 168; SR650 V2 guide p. 268",
    )
    .hinting(mode_unmet::hints)
    .idle_on(in_independent_mode),
    row(
        code::ODD_CHANNELS,
        Severity::Warning,
        "socket",
        MENDABLE,
        odd_channels::form,
        "an odd number of channels has memory",
        "common practice, no source",
    )
    .hinting(odd_channels::hints)
    .about_evenness(),
    row(
        code::SAME_RANK_COUNT,
        Severity::Error,
        "socket",
        MENDABLE,
        same_rank_count::form,
        "modules of a processor differ in their number of ranks",
        "SR630 V3 guide p. 68; 1288H V7 white paper p. 25",
    )
    .hinting(same_rank_count::hints),
    row(
        code::SHARED_LOAD_CAP,
        Severity::Error,
        "socket",
        HEREDITARY,
        shared_load_cap::form,
        "with a module of this sort around, a channel holds too many modules",
        "TX300 S8 manual p. 469",
    ),
    row(
        code::SOCKET_CAPACITY,
        Severity::Error,
        "socket",
        HEREDITARY,
        socket_capacity::form,
        "the processor has more memory than it takes",
        "common practice, no source",
    ),
    row(
        code::SPREAD_FIRST,
        Severity::Warning,
        "socket",
        MENDABLE,
        spread_first::form,
        "a second module sits in a channel while another is empty",
        "common practice, no source",
    )
    .hinting(spread_first::hints)
    .about_evenness(),
    row(
        code::UNEVEN_INTERLEAVE,
        Severity::Warning,
        "socket",
        MENDABLE,
        uneven_interleave::form,
        "the memory of a processor is interleaved in unlike regions",
        "Memory Deep Dive (2015)",
    )
    .about_evenness()
    .hinting(uneven_interleave::hints),
    row(
        code::MACHINE_LOAD_CAP,
        Severity::Error,
        "population",
        HEREDITARY,
        machine_load_cap::form,
        "with a module of this sort in the machine, a channel holds too many modules",
        "common practice, no source",
    ),
    row(
        code::FAULTY_MODULE,
        Severity::Error,
        "population",
        HEREDITARY,
        faulty_module::form,
        "the module is faulty",
        "common practice, no source",
    ),
    row(
        code::OTHER_DEVICE,
        Severity::Note,
        "population",
        HEREDITARY,
        other_device::form,
        "a device other than plain memory is fitted; planning with such devices is not offered",
        "common practice, no source",
    ),
    row(
        code::KIND_MIX,
        Severity::Error,
        "mix",
        HEREDITARY,
        kind_mix::form,
        "modules of different kinds do not work together",
        "Server Board S2600IP TPS 1.4 p. 31; TX300 S8 manual p. 469",
    ),
    row(
        code::SOCKET_MINIMUM,
        Severity::Error,
        "count",
        MENDABLE,
        socket_minimum::form,
        "a processor has no memory of its own",
        "1288H V7 white paper p. 25; SR850 guideline",
    )
    .about_evenness(),
    row(
        code::CAPACITY_MIX,
        Severity::Error,
        "mix",
        HEREDITARY,
        capacity_mix::form,
        "these capacities do not go together",
        "common practice, no source",
    ),
    row(
        code::CHANNELS_ALIKE,
        Severity::Error,
        "mix",
        MENDABLE,
        channels_alike::form,
        "the populated channels of a processor do not hold the same",
        "Memory Deep Dive (2015), NUMA Deep Dive 4 (2016)",
    )
    .about_evenness(),
    row(
        code::CLASS_MIX,
        Severity::Error,
        "mix",
        HEREDITARY,
        class_mix::form,
        "modules of these classes do not go together",
        "SR645/SR665 memory rules",
    ),
    row(
        code::CLASS_OR_NONE_MIX,
        Severity::Error,
        "mix",
        HEREDITARY,
        class_or_none_mix::form,
        "modules of these classes, or with a class and without, do not go together",
        "common practice, no source",
    ),
    row(
        code::DENSITY_MIX,
        Severity::Error,
        "mix",
        HEREDITARY,
        density_mix::form,
        "these die densities do not go together",
        "SR645/SR665 memory rules; SR630 V3 guide p. 68",
    ),
    row(
        code::ECC_MIX,
        Severity::Error,
        "mix",
        HEREDITARY,
        ecc_mix::form,
        "modules that differ in error correction do not go together",
        "Server Board S2600IP TPS 1.4 p. 31; TX300 S8 manual p. 469; DDR5 SR630 V3 guide p. 68",
    ),
    row(
        code::GRADE_MIX,
        Severity::Error,
        "mix",
        HEREDITARY,
        grade_mix::form,
        "mixed grades are not supported",
        "Server Board S2600IP TPS 1.4 p. 31; support article 000055509; TX300 S8 manual p. 469",
    )
    .reading_grades(),
    row(
        code::MAKER_MIX,
        Severity::Note,
        "mix",
        HEREDITARY,
        maker_mix::form,
        "modules of different makers meet",
        "SR645/SR665 memory rules",
    )
    .reading_identity(),
    row(
        code::RANK_MIX,
        Severity::Error,
        "mix",
        HEREDITARY,
        rank_mix::form,
        "these rank counts do not go together",
        "common practice, no source",
    ),
    row(
        code::SOCKETS_ALIKE,
        Severity::Error,
        "mix",
        MENDABLE,
        sockets_alike::form,
        "the processors do not have the same memory",
        "common practice, no source",
    )
    .about_evenness(),
    row(
        code::STACK_MIX,
        Severity::Error,
        "mix",
        HEREDITARY,
        stack_mix::form,
        "these heights of stack do not go together",
        "SR645/SR665 memory rules",
    ),
    row(
        code::STACKED_MIX,
        Severity::Error,
        "mix",
        HEREDITARY,
        stacked_mix::form,
        "stacked and plain modules do not work together",
        "RX4770 M6 manual p. 240; SR645/SR665 memory rules",
    ),
    row(
        code::VOLTAGE_MIX,
        Severity::Error,
        "mix",
        HEREDITARY,
        voltage_mix::form,
        "modules of different voltage do not go together",
        "Server Board S2600IP TPS 1.4 p. 31; S2400BB TPS 2.0 p. 17",
    ),
    row(
        code::WIDTH_MIX,
        Severity::Error,
        "mix",
        HEREDITARY,
        width_mix::form,
        "these device widths do not go together",
        "SR645/SR665 memory rules; SR850 guideline",
    ),
    row(
        code::EVEN_COUNTS,
        Severity::Error,
        "count",
        MENDABLE,
        even_counts::form,
        "a processor has an odd number of modules",
        "common practice, no source",
    )
    .about_evenness(),
    row(
        code::LISTED_COUNTS,
        Severity::Error,
        "count",
        MENDABLE,
        listed_counts::form,
        "the number of modules is not a listed one",
        "RX4770 M6 manual p. 240; X210c M8 installation guide; SR655 V3 guide p. 40 table 12",
    )
    .about_evenness(),
    row(
        code::BLANKS,
        Severity::Note,
        "population",
        MENDABLE,
        blanks::form,
        "empty slots should have blanks",
        "X210c M8 installation guide; 1288H V7 white paper p. 25",
    ),
    row(
        code::COMMON_VOLTAGE,
        Severity::Error,
        "population",
        HEREDITARY,
        common_voltage::form,
        "no voltage suits all modules and processors",
        "Server Board S2600IP TPS 1.4 p. 31; S2400BB TPS 2.0 p. 17",
    ),
    row(
        code::DENSITY_ACROSS_WIDTHS,
        Severity::Error,
        "population",
        HEREDITARY,
        density_across_widths::form,
        "different die densities do not go with different widths",
        "SR645/SR665 memory rules; SR630 V3 guide p. 68",
    ),
    row(
        code::FILL_ROW,
        Severity::Error,
        "population",
        MENDABLE,
        fill_row::form,
        "the filled slots are not those of the population table",
        "X210c M8 installation guide; x3550 M5 guide p. 175",
    )
    .hinting(fill_row::hints),
    row(
        code::MACHINE_CAPACITY,
        Severity::Error,
        "population",
        HEREDITARY,
        machine_capacity::form,
        "the board does not take so much memory",
        "common practice, no source",
    )
    .placement_free(),
    row(
        code::MODE_NOT_OFFERED,
        Severity::Error,
        "population",
        HEREDITARY,
        mode_not_offered::form,
        "a processor does not offer the mode",
        "common practice, no source",
    )
    .placement_free()
    .idle_on(in_independent_mode),
    row(
        code::NEIGHBOURING_SIZES,
        Severity::Error,
        "population",
        HEREDITARY,
        neighbouring_sizes::form,
        "these capacities are no neighbouring sizes",
        "common practice, no source",
    ),
    row(
        code::NO_MEMORY,
        Severity::Error,
        "population",
        MENDABLE,
        no_memory::form,
        "there is no memory that works",
        "common practice, no source",
    ),
    row(
        code::NO_RATE_STEP,
        Severity::Error,
        "population",
        MENDABLE,
        no_rate_step::form,
        "every rate at which the machine can run is above a limit",
        "common practice, no source",
    )
    .hinting(no_rate_step::hints),
    row(
        code::PAIR_BAN,
        Severity::Error,
        "population",
        HEREDITARY,
        pair_ban::form,
        "modules of these two sorts never meet",
        "common practice, no source",
    ),
    row(
        code::POWER_BUDGET,
        Severity::Error,
        "population",
        HEREDITARY,
        power_budget::form,
        "the modules draw more than the board allows for them",
        "common practice, no source",
    )
    .placement_free()
    .reading_identity()
    .idle_on(power_budget::idle),
    row(
        code::PROCESSOR_ACCEPTED,
        Severity::Error,
        "population",
        HEREDITARY,
        processor_accepted::form,
        "the board does not accept this processor",
        "common practice, no source",
    )
    .placement_free(),
    row(
        code::PROCESSORS_ALIKE,
        Severity::Error,
        "population",
        HEREDITARY,
        processors_alike::form,
        "the processors are not alike",
        "common practice, no source",
    )
    .placement_free(),
    row(
        code::RATE_FACT_MISSING,
        Severity::Error,
        "population",
        MENDABLE,
        rate_fact_missing::form,
        "a fact that the running rate needs is not known",
        "common practice, no source",
    ),
    row(
        code::RATE_NOT_ALLOWED,
        Severity::Error,
        "population",
        MENDABLE,
        rate_not_allowed::form,
        "a rate table bars this load",
        "Server Board S2600CW TPS 2.4 table 4; Memory Deep Dive (2015)",
    )
    .hinting(rate_not_allowed::hints),
    row(
        code::RATE_ROW_MISSING,
        Severity::Error,
        "population",
        MENDABLE,
        rate_row_missing::form,
        "no row of the rate table speaks of this load",
        "common practice, no source",
    ),
    row(
        code::RATE_UNUSED,
        Severity::Note,
        "population",
        MENDABLE,
        rate_unused::form,
        "modules run below their grade: rate paid for and not used",
        "common practice, no source",
    )
    .reading_grades(),
];

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::fmt::Write;

    use expect_test::expect;
    use proptest::prelude::*;

    use super::*;
    use crate::machine::Machine;
    use crate::module::{DeviceWidth, ModuleKind};
    use crate::platform::{KeyFacing, ModuleLimit, SharedLoadCap};
    use crate::population::{Layout, Occupant, Population};
    use crate::processor::{CapacityCap, ModulePattern};
    use crate::rule::RuleBook;
    use crate::stated::{Demand, Scope, Stated};
    use crate::testing;
    use crate::unit::Capacity;

    #[test]
    fn the_table_is_pinned() {
        let table = STANDARD_RULES.iter().fold(String::new(), |mut table, row| {
            let (severity, mends) = (row.severity.to_string(), if row.hereditary { "hereditary" } else { "mendable" });
            let identity = if row.reads_identity { "; reads identity" } else { "" };
            let grades = if row.reads_grades { "; reads grades" } else { "" };
            writeln!(table, "{:<17} {severity:<8} {} {mends}{identity}{grades}: {}", row.code, row.scope, row.source)
                .unwrap();
            table
        });
        expect![[r#"
            barred-position   error    module hereditary: Server Board S2600IP TPS 1.4 p. 31
            correction-cover  error    module hereditary: TX300 S8 manual p. 469; RX4770 M6 manual p. 240
            die-density       error    module hereditary: common practice, no source
            ecc-accepted      error    module hereditary: Server Board S2600IP TPS 1.4 p. 31; TX300 S8 manual p. 469
            form-factor       error    module hereditary: common practice, no source
            generation        error    module hereditary: JEDEC module standards; keys of DDR5 from memory
            grade-accepted    error    module hereditary: common practice, no source
            height            error    module hereditary: common practice, no source
            kind-accepted     error    module hereditary: common practice, no source
            listed-module     warning  module hereditary; reads identity: common practice, no source
            slot-live         error    module hereditary: Server Board S2400EP TPS 2.0 p. 26; of options common practice, no source
            stack-accepted    error    module hereditary: common practice, no source
            voltage-accepted  error    module hereditary: Server Board S2600IP TPS 1.4 p. 31; S2400BB TPS 2.0 p. 17
            width-accepted    error    module hereditary: common practice, no source
            channel-ban       error    channel mendable: common practice, no source
            channel-ranks     error    channel mendable: Server Board S2600IP TPS 1.4 p. 31; S2400BB TPS 2.0 p. 17; S2600CW TPS 2.4 table 4
            mode-channel      error    channel mendable: common practice, no source
            module-limit      error    channel hereditary: Server Board S2600IP TPS 1.4 p. 31
            first-slot        note     channel mendable: common practice, no source
            position-order    error    channel mendable: support article 000055509; Server Board S2400EP TPS 2.0 p. 26; 1288H V7 white paper p. 25
            priority-order    error    channel hereditary: Server Board S2400EP TPS 2.0 p. 26; TX300 S8 manual p. 469; TX2550 M5 manual p. 398
            spare-rank        error    channel mendable: SR860 V2 guide p. 166; one more than is spared: common practice, no source
            controllers-alike error    socket mendable: common practice, no source
            empty-channel     note     socket mendable: 1288H V7 white paper p. 25
            empty-controller  note     socket mendable: common practice, no source
            empty-domain      warning  socket mendable: common practice, no source
            key-facing        note     socket hereditary: X210c M8 installation guide, memory population guidelines
            mode-unmet        error    socket mendable: x3650 M5 guide p. 168; SR650 V2 guide p. 268
            odd-channels      warning  socket mendable: common practice, no source
            same-rank-count   error    socket mendable: SR630 V3 guide p. 68; 1288H V7 white paper p. 25
            shared-load-cap   error    socket hereditary: TX300 S8 manual p. 469
            socket-capacity   error    socket hereditary: common practice, no source
            spread-first      warning  socket mendable: common practice, no source
            uneven-interleave warning  socket mendable: Memory Deep Dive (2015)
            machine-load-cap  error    population hereditary: common practice, no source
            faulty-module     error    population hereditary: common practice, no source
            other-device      note     population hereditary: common practice, no source
            kind-mix          error    mix hereditary: Server Board S2600IP TPS 1.4 p. 31; TX300 S8 manual p. 469
            socket-minimum    error    count mendable: 1288H V7 white paper p. 25; SR850 guideline
            capacity-mix      error    mix hereditary: common practice, no source
            channels-alike    error    mix mendable: Memory Deep Dive (2015), NUMA Deep Dive 4 (2016)
            class-mix         error    mix hereditary: SR645/SR665 memory rules
            class-or-none-mix error    mix hereditary: common practice, no source
            density-mix       error    mix hereditary: SR645/SR665 memory rules; SR630 V3 guide p. 68
            ecc-mix           error    mix hereditary: Server Board S2600IP TPS 1.4 p. 31; TX300 S8 manual p. 469; DDR5 SR630 V3 guide p. 68
            grade-mix         error    mix hereditary; reads grades: Server Board S2600IP TPS 1.4 p. 31; support article 000055509; TX300 S8 manual p. 469
            maker-mix         note     mix hereditary; reads identity: SR645/SR665 memory rules
            rank-mix          error    mix hereditary: common practice, no source
            sockets-alike     error    mix mendable: common practice, no source
            stack-mix         error    mix hereditary: SR645/SR665 memory rules
            stacked-mix       error    mix hereditary: RX4770 M6 manual p. 240; SR645/SR665 memory rules
            voltage-mix       error    mix hereditary: Server Board S2600IP TPS 1.4 p. 31; S2400BB TPS 2.0 p. 17
            width-mix         error    mix hereditary: SR645/SR665 memory rules; SR850 guideline
            even-counts       error    count mendable: common practice, no source
            listed-counts     error    count mendable: RX4770 M6 manual p. 240; X210c M8 installation guide; SR655 V3 guide p. 40 table 12
            blanks            note     population mendable: X210c M8 installation guide; 1288H V7 white paper p. 25
            common-voltage    error    population hereditary: Server Board S2600IP TPS 1.4 p. 31; S2400BB TPS 2.0 p. 17
            density-across-widths error    population hereditary: SR645/SR665 memory rules; SR630 V3 guide p. 68
            fill-row          error    population mendable: X210c M8 installation guide; x3550 M5 guide p. 175
            machine-capacity  error    population hereditary: common practice, no source
            mode-not-offered  error    population hereditary: common practice, no source
            neighbouring-sizes error    population hereditary: common practice, no source
            no-memory         error    population mendable: common practice, no source
            no-rate-step      error    population mendable: common practice, no source
            pair-ban          error    population hereditary: common practice, no source
            power-budget      error    population hereditary; reads identity: common practice, no source
            processor-accepted error    population hereditary: common practice, no source
            processors-alike  error    population hereditary: common practice, no source
            rate-fact-missing error    population mendable: common practice, no source
            rate-not-allowed  error    population mendable: Server Board S2600CW TPS 2.4 table 4; Memory Deep Dive (2015)
            rate-row-missing  error    population mendable: common practice, no source
            rate-unused       note     population mendable; reads grades: common practice, no source
        "#]].assert_eq(&table);
    }

    #[test]
    fn rows_make_rules() {
        for row in STANDARD_RULES {
            let rule = row.rule().unwrap();
            assert_eq!(rule.form().word(), row.scope, "{}", row.code);
            assert_eq!(rule.severity(), row.severity);
            assert!(row.code.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'-'), "{}", row.code);
            assert!(!row.summary.ends_with('.') && !row.source.is_empty());
            // what the form promises stands in the table as well
            assert_eq!(rule.is_hereditary(), row.hereditary, "{}", row.code);
        }
        let codes: BTreeSet<_> = STANDARD_RULES.iter().map(|row| row.code).collect();
        assert_eq!(codes.len(), STANDARD_RULES.len());
    }

    #[test]
    fn the_clean_machine_is_clean() {
        let machine = testing::clean();
        assert_eq!(testing::findings(&machine, &testing::clean_population(&machine)), []);
        let plain = testing::plain();
        for modules in [vec![&plain, &plain], vec![&plain, &plain, &plain]] {
            assert_eq!(testing::findings(&machine, &testing::in_every_channel(&machine, &modules)), []);
        }
    }

    /// A machine whose board and processor state every sort of limit.
    fn limited() -> Machine {
        let (mut board, mut processor) = (testing::board_of(2, 2, 3), testing::processor());
        let quad = ModulePattern::kind(ModuleKind::Registered).ranks(4);
        let module = quad.clone();
        board.module_limits = vec![Stated::assumed(ModuleLimit {
            module,
            at_most_per_channel: Some(1),
            barred_positions: vec![2],
            first_in_channel: false,
        })];
        board.shared_load_caps = [Scope::Channel, Scope::Socket, Scope::Machine]
            .map(|within| Stated::assumed(SharedLoadCap { module: quad.clone(), within, modules_per_channel: 2 }))
            .to_vec();
        board.priority_along_channel = Some(Stated::assumed(Demand::Required));
        board.listed_modules = Some(Stated::assumed(vec![ModulePattern::default().width(DeviceWidth::X4)]));
        testing::slots_mut(&mut board).for_each(|slot| slot.key_facing = Some(KeyFacing::Turned));
        board.options = vec![testing::mask(&testing::board_of(1, 1, 3), "riser", 1)];
        let cap = CapacityCap { capacity_mib: Capacity::from_gib(96), counts_other_devices: true };
        processor.capacity_cap = Some(Stated::assumed(cap));
        processor.widths = Some(Stated::assumed(BTreeSet::from([DeviceWidth::X4])));
        processor.stack_heights = Some(Stated::assumed(BTreeSet::from([1])));
        let processor = processor.build().unwrap();
        let machine = Machine::builder(board.build().unwrap()).option("riser");
        machine.processor("1", processor.clone()).processor("2", processor).build().unwrap()
    }

    /// Modules to break rules with, one per digit; 0 is nothing.
    fn occupant(digit: usize) -> Option<Occupant> {
        let labels = ["16GB 2Rx8 PC4-2400T-RE2-11", "128GB 2S4Rx4 PC4-2400T-LE2-11", "64GB 2Rx4 PC4-2400T-RB2-11"];
        match digit {
            0 => None,
            1 => Some(Occupant::module(testing::plain())),
            2 => Some(Occupant::module(testing::quad())),
            3 => Some(Occupant::module(testing::vague())),
            4 => Some(Occupant::OtherDevice(testing::other_device())),
            more => labels.get(more - 5).map(|label| Occupant::module(testing::module(label))),
        }
    }

    proptest! {
        // a search gives partial candidates up on the strength of this promise
        #[test]
        fn what_is_hereditary_stays_broken(
            before in proptest::collection::vec(prop_oneof![3 => Just(0usize), 1 => 1..8usize], 12),
            more in proptest::collection::vec(prop_oneof![1 => Just(0usize), 1 => 1..8usize], 12),
        ) {
            let machine = limited();
            let fill = |digits: &mut dyn Iterator<Item = usize>| -> Population {
                let slots = machine.platform().slots().iter().zip(digits);
                slots.filter_map(|(slot, digit)| Some((slot.label().clone(), occupant(digit)?))).collect()
            };
            // what is there stays; only modules are added
            let after = before.iter().zip(&more).map(|(&there, &new)| if there == 0 && new != 4 { new } else { there });
            let (first, then) = (fill(&mut before.iter().copied()), fill(&mut after.into_iter()));
            for row in STANDARD_RULES.iter().filter(|row| row.hereditary) {
                let book = RuleBook::empty().with(row.rule().unwrap()).unwrap();
                let broken = |population| !book.check(&Layout::new(&machine, population).unwrap()).is_empty();
                prop_assert!(!broken(&first) || broken(&then), "{} was mended", row.code);
            }
        }
    }
}
