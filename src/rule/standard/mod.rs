//! The rules of the trade: one table, one file a rule.

mod die_density;
mod kind_mix;
mod mix_bounds;
mod socket_minimum;

// on how many different keys there are
mod capacity_mix;
mod channels_alike;
mod class_mix;
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
mod fill_row;
mod machine_capacity;
mod mode_unmet;
mod no_memory;
mod no_rate_step;
mod pair_ban;
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
mod rate_tables;
mod scopes;

use crate::finding::Severity;
use crate::rule::{Form, Rule, RuleBookError};

/// A row of the table of standard rules.
#[derive(Debug, Clone, Copy)]
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
    form: fn() -> Form,
}

impl StandardRule {
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
        Ok(rule)
    }
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
        form,
    }
}

/// The rules of the trade, by code within each scope. Sources are those of the rule; a platform's own
/// limit carries its own.
pub const STANDARD_RULES: &[StandardRule] = &[
    row(
        "die-density",
        Severity::Error,
        "module",
        HEREDITARY,
        die_density::form,
        "the processor does not address dies of this density",
        "common practice, no source",
    ),
    row(
        "kind-mix",
        Severity::Error,
        "mix",
        HEREDITARY,
        kind_mix::form,
        "modules of different kinds do not work together",
        "Server Board S2600IP TPS 1.4 p. 31; TX300 S8 manual p. 469",
    ),
    row(
        "socket-minimum",
        Severity::Error,
        "count",
        MENDABLE,
        socket_minimum::form,
        "a processor has no memory of its own",
        "1288H V7 white paper p. 25; SR850 guideline",
    ),
    row(
        "capacity-mix",
        Severity::Error,
        "mix",
        HEREDITARY,
        capacity_mix::form,
        "these capacities do not go together",
        "common practice, no source",
    ),
    row(
        "channels-alike",
        Severity::Error,
        "mix",
        MENDABLE,
        channels_alike::form,
        "the populated channels of a processor do not hold the same",
        "Memory Deep Dive (2015), NUMA Deep Dive 4 (2016)",
    ),
    row(
        "class-mix",
        Severity::Error,
        "mix",
        HEREDITARY,
        class_mix::form,
        "modules of these classes do not go together",
        "SR645/SR665 memory rules",
    ),
    row(
        "density-mix",
        Severity::Error,
        "mix",
        HEREDITARY,
        density_mix::form,
        "these die densities do not go together",
        "SR645/SR665 memory rules; SR630 V3 guide p. 68",
    ),
    row(
        "ecc-mix",
        Severity::Error,
        "mix",
        HEREDITARY,
        ecc_mix::form,
        "modules that differ in error correction do not go together",
        "Server Board S2600IP TPS 1.4 p. 31; TX300 S8 manual p. 469; DDR5 SR630 V3 guide p. 68",
    ),
    row(
        "grade-mix",
        Severity::Error,
        "mix",
        HEREDITARY,
        grade_mix::form,
        "mixed grades are not supported",
        "Server Board S2600IP TPS 1.4 p. 31; support article 000055509; TX300 S8 manual p. 469",
    ),
    row(
        "maker-mix",
        Severity::Note,
        "mix",
        HEREDITARY,
        maker_mix::form,
        "modules of different makers meet",
        "SR645/SR665 memory rules",
    )
    .reading_identity(),
    row(
        "rank-mix",
        Severity::Error,
        "mix",
        HEREDITARY,
        rank_mix::form,
        "these rank counts do not go together",
        "common practice, no source",
    ),
    row(
        "sockets-alike",
        Severity::Error,
        "mix",
        MENDABLE,
        sockets_alike::form,
        "the processors do not have the same memory",
        "common practice, no source",
    ),
    row(
        "stack-mix",
        Severity::Error,
        "mix",
        HEREDITARY,
        stack_mix::form,
        "these heights of stack do not go together",
        "SR645/SR665 memory rules",
    ),
    row(
        "stacked-mix",
        Severity::Error,
        "mix",
        HEREDITARY,
        stacked_mix::form,
        "stacked and plain modules do not work together",
        "RX4770 M6 manual p. 240; SR645/SR665 memory rules",
    ),
    row(
        "voltage-mix",
        Severity::Error,
        "mix",
        HEREDITARY,
        voltage_mix::form,
        "modules of different voltage do not go together",
        "Server Board S2600IP TPS 1.4 p. 31; S2400BB TPS 2.0 p. 17",
    ),
    row(
        "width-mix",
        Severity::Error,
        "mix",
        HEREDITARY,
        width_mix::form,
        "these device widths do not go together",
        "SR645/SR665 memory rules; SR850 guideline",
    ),
    row(
        "even-counts",
        Severity::Error,
        "count",
        MENDABLE,
        even_counts::form,
        "a processor has an odd number of modules",
        "common practice, no source",
    ),
    row(
        "listed-counts",
        Severity::Error,
        "count",
        MENDABLE,
        listed_counts::form,
        "the number of modules is not a listed one",
        "RX4770 M6 manual p. 240; X210c M8 installation guide; SR655 V3 guide p. 40 table 12",
    ),
    row(
        "blanks",
        Severity::Note,
        "population",
        MENDABLE,
        blanks::form,
        "empty slots should have blanks",
        "X210c M8 installation guide; 1288H V7 white paper p. 25",
    ),
    row(
        "common-voltage",
        Severity::Error,
        "population",
        HEREDITARY,
        common_voltage::form,
        "no voltage suits all modules and processors",
        "Server Board S2600IP TPS 1.4 p. 31; S2400BB TPS 2.0 p. 17",
    ),
    row(
        "density-across-widths",
        Severity::Error,
        "population",
        HEREDITARY,
        density_across_widths::form,
        "different die densities do not go with different widths",
        "SR645/SR665 memory rules; SR630 V3 guide p. 68",
    ),
    row(
        "fill-row",
        Severity::Error,
        "population",
        MENDABLE,
        fill_row::form,
        "the filled slots are not those of the population table",
        "X210c M8 installation guide; x3550 M5 guide p. 175",
    ),
    row(
        "machine-capacity",
        Severity::Error,
        "population",
        HEREDITARY,
        machine_capacity::form,
        "the board does not take so much memory",
        "common practice, no source",
    )
    .placement_free(),
    row(
        "mode-unmet",
        Severity::Error,
        "population",
        HEREDITARY,
        mode_unmet::form,
        "populations for this redundancy mode cannot be judged by this version",
        "SR650 V2 guide p. 268",
    )
    .placement_free(),
    row(
        "no-memory",
        Severity::Error,
        "population",
        MENDABLE,
        no_memory::form,
        "there is no memory that works",
        "common practice, no source",
    ),
    row(
        "no-rate-step",
        Severity::Error,
        "population",
        MENDABLE,
        no_rate_step::form,
        "every rate at which the machine can run is above a limit",
        "common practice, no source",
    ),
    row(
        "pair-ban",
        Severity::Error,
        "population",
        HEREDITARY,
        pair_ban::form,
        "modules of these two sorts never meet",
        "common practice, no source",
    ),
    row(
        "processor-accepted",
        Severity::Error,
        "population",
        HEREDITARY,
        processor_accepted::form,
        "the board does not accept this processor",
        "common practice, no source",
    )
    .placement_free(),
    row(
        "processors-alike",
        Severity::Error,
        "population",
        HEREDITARY,
        processors_alike::form,
        "the processors are not alike",
        "common practice, no source",
    )
    .placement_free(),
    row(
        "rate-fact-missing",
        Severity::Error,
        "population",
        MENDABLE,
        rate_fact_missing::form,
        "the running rate follows from the facts of the modules",
        "common practice, no source",
    ),
    row(
        "rate-not-allowed",
        Severity::Error,
        "population",
        MENDABLE,
        rate_not_allowed::form,
        "a rate table bars this load",
        "Server Board S2600CW TPS 2.4 table 4; Memory Deep Dive (2015)",
    ),
    row(
        "rate-row-missing",
        Severity::Error,
        "population",
        MENDABLE,
        rate_row_missing::form,
        "the rate table has a row for this load",
        "common practice, no source",
    ),
    row(
        "rate-unused",
        Severity::Note,
        "population",
        MENDABLE,
        rate_unused::form,
        "modules run below their grade: rate paid for and not used",
        "common practice, no source",
    ),
];
