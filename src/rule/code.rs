//! The codes of the standard rules, to name them in settings and to find their findings.
//!
//! ```
//! use slotwright::rule::{RuleBook, code};
//!
//! assert!(RuleBook::standard().get(code::DIE_DENSITY).is_some());
//! ```

macro_rules! codes {
    ($($name:ident = $code:literal;)*) => {
        $(
            #[doc = concat!("The rule `", $code, "`.")]
            pub const $name: &str = $code;
        )*

        #[cfg(test)]
        const ALL: &[&str] = &[$($name),*];
    };
}

codes! {
    BARRED_POSITION = "barred-position";
    BLANKS = "blanks";
    CAPACITY_MIX = "capacity-mix";
    CHANNEL_BAN = "channel-ban";
    CHANNEL_RANKS = "channel-ranks";
    CHANNELS_ALIKE = "channels-alike";
    CLASS_MIX = "class-mix";
    CLASS_OR_NONE_MIX = "class-or-none-mix";
    COMMON_VOLTAGE = "common-voltage";
    CONTROLLERS_ALIKE = "controllers-alike";
    CORRECTION_COVER = "correction-cover";
    DENSITY_ACROSS_WIDTHS = "density-across-widths";
    DENSITY_MIX = "density-mix";
    DIE_DENSITY = "die-density";
    ECC_ACCEPTED = "ecc-accepted";
    ECC_MIX = "ecc-mix";
    EMPTY_CHANNEL = "empty-channel";
    EMPTY_CONTROLLER = "empty-controller";
    EMPTY_DOMAIN = "empty-domain";
    EVEN_COUNTS = "even-counts";
    FAULTY_MODULE = "faulty-module";
    FILL_ROW = "fill-row";
    FIRST_SLOT = "first-slot";
    FORM_FACTOR = "form-factor";
    GENERATION = "generation";
    GRADE_ACCEPTED = "grade-accepted";
    GRADE_MIX = "grade-mix";
    HEIGHT = "height";
    KEY_FACING = "key-facing";
    KIND_ACCEPTED = "kind-accepted";
    KIND_MIX = "kind-mix";
    LISTED_COUNTS = "listed-counts";
    LISTED_MODULE = "listed-module";
    MACHINE_CAPACITY = "machine-capacity";
    MACHINE_LOAD_CAP = "machine-load-cap";
    MAKER_MIX = "maker-mix";
    MODE_CHANNEL = "mode-channel";
    MODE_NOT_OFFERED = "mode-not-offered";
    MODE_UNMET = "mode-unmet";
    MODULE_LIMIT = "module-limit";
    NEIGHBOURING_SIZES = "neighbouring-sizes";
    NO_MEMORY = "no-memory";
    NO_RATE_STEP = "no-rate-step";
    ODD_CHANNELS = "odd-channels";
    OTHER_DEVICE = "other-device";
    PAIR_BAN = "pair-ban";
    POSITION_ORDER = "position-order";
    POWER_BUDGET = "power-budget";
    PRIORITY_ORDER = "priority-order";
    PROCESSOR_ACCEPTED = "processor-accepted";
    PROCESSORS_ALIKE = "processors-alike";
    RANK_MIX = "rank-mix";
    RATE_FACT_MISSING = "rate-fact-missing";
    RATE_NOT_ALLOWED = "rate-not-allowed";
    RATE_ROW_MISSING = "rate-row-missing";
    RATE_UNUSED = "rate-unused";
    SAME_RANK_COUNT = "same-rank-count";
    SHARED_LOAD_CAP = "shared-load-cap";
    SLOT_LIVE = "slot-live";
    SOCKET_CAPACITY = "socket-capacity";
    SOCKET_MINIMUM = "socket-minimum";
    SOCKETS_ALIKE = "sockets-alike";
    SPARE_RANK = "spare-rank";
    SPREAD_FIRST = "spread-first";
    STACK_ACCEPTED = "stack-accepted";
    STACK_MIX = "stack-mix";
    STACKED_MIX = "stacked-mix";
    UNEVEN_INTERLEAVE = "uneven-interleave";
    VOLTAGE_ACCEPTED = "voltage-accepted";
    VOLTAGE_MIX = "voltage-mix";
    WIDTH_ACCEPTED = "width-accepted";
    WIDTH_MIX = "width-mix";
}

#[cfg(test)]
mod tests {
    use crate::rule::STANDARD_RULES;

    #[test]
    fn every_standard_rule_has_its_code_here() {
        let mut codes: Vec<&str> = STANDARD_RULES.iter().map(|row| row.code).collect();
        codes.sort_unstable();
        assert_eq!(codes, super::ALL);
    }
}
