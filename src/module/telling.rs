use std::collections::{BTreeMap, BTreeSet};

use crate::module::{Ecc, MemoryModule};

/// What a text that names several modules must say of each, so that a reader can tell them apart.
///
/// The text of a module alone is short: capacity, organization, generation and grade, kind. Where that is the same of
/// modules that are not, the facts in which they differ follow in brackets: those of the module itself, and, where these do
/// not tell all of them apart, part number, maker and power.
///
/// ```
/// use slotwright::module::{Label, Telling, Voltages};
/// use slotwright::unit::Voltage;
///
/// let usual = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let other = usual.to_builder().voltages(Voltages::only(Voltage::V1_35)).build()?;
///
/// let telling = Telling::among([&usual, &other]);
/// assert_eq!(telling.text(&other), format!("{other} (1.35 V)"));
/// assert_eq!(Telling::among([&other]).text(&other), other.to_string());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Telling {
    /// By the short text of modules that are not all the same: what is said besides.
    besides: BTreeMap<String, Vec<Fact>>,
}

/// A fact that the short text of a module leaves out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fact {
    Width,
    Stack,
    DieDensity,
    Voltages,
    Ecc,
    Height,
    Class,
    PartNumber,
    Maker,
    Power,
}

impl Fact {
    /// What a module is.
    const OF_ITSELF: [Self; 7] =
        [Self::Width, Self::Stack, Self::DieDensity, Self::Voltages, Self::Ecc, Self::Height, Self::Class];
    /// Said only where nothing else tells modules apart.
    const OF_ITS_PART: [Self; 3] = [Self::PartNumber, Self::Maker, Self::Power];

    fn text(self, module: &MemoryModule) -> String {
        let known = |what: Option<String>, missing: &str| what.unwrap_or_else(|| missing.to_owned());
        match self {
            Self::Width => known(module.width().map(|width| width.to_string()), "width not known"),
            Self::Stack => known(module.stack().map(|stack| stack.to_string()), "stack not known"),
            Self::DieDensity => {
                known(module.die_density().map(|density| format!("{density} dies")), "die density not known")
            }
            Self::Voltages => known(module.voltages().map(ToString::to_string), "voltage not known"),
            Self::Ecc => known(module.ecc().map(check_bits), "check bits not known"),
            Self::Height => known(module.height().map(|height| format!("{height} high")), "height not known"),
            Self::Class => known(module.class().map(|class| format!("class {class}")), "no class"),
            Self::PartNumber => known(module.part_number().map(|part| format!("part {part}")), "part not known"),
            Self::Maker => known(module.maker().map(|maker| format!("made by {maker}")), "maker not known"),
            Self::Power => known(module.power().map(|power| power.to_string()), "power not known"),
        }
    }

    /// The facts that tell these modules apart.
    fn between(modules: &BTreeSet<&MemoryModule>) -> Vec<Self> {
        let told_by = |facts: &[Self]| {
            let texts = modules.iter().map(|module| facts.iter().map(|fact| fact.text(module)).collect::<Vec<_>>());
            texts.collect::<BTreeSet<_>>().len()
        };
        let mut facts: Vec<Self> = Self::OF_ITSELF.into_iter().filter(|&fact| told_by(&[fact]) > 1).collect();
        for fact in Self::OF_ITS_PART {
            if told_by(&facts) < modules.len() && told_by(&[fact]) > 1 {
                facts.push(fact);
            }
        }
        facts
    }
}

fn check_bits(ecc: Ecc) -> String {
    match ecc {
        Ecc::None => "no check bits".to_owned(),
        Ecc::Ecc => "with ECC".to_owned(),
        Ecc::Ec4 => "with EC4".to_owned(),
        Ecc::Ec8 => "with EC8".to_owned(),
    }
}

impl Telling {
    /// What must be said of these modules.
    #[must_use]
    pub fn among<'m>(modules: impl IntoIterator<Item = &'m MemoryModule>) -> Self {
        let mut of_one_text: BTreeMap<String, BTreeSet<&MemoryModule>> = BTreeMap::new();
        for module in modules {
            of_one_text.entry(module.to_string()).or_default().insert(module);
        }
        let unlike = of_one_text.into_iter().filter(|(_, modules)| modules.len() > 1);
        Self { besides: unlike.map(|(text, modules)| (text, Fact::between(&modules))).collect() }
    }

    /// The text of a module: the short one, and in brackets what tells it from the others.
    #[must_use]
    pub fn text(&self, module: &MemoryModule) -> String {
        let short = module.to_string();
        match self.besides.get(&short) {
            None => short,
            Some(facts) => {
                let facts: Vec<String> = facts.iter().map(|fact| fact.text(module)).collect();
                format!("{short} ({})", facts.join(", "))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::module::{DeviceWidth, MemoryModuleBuilder, Stack, Voltages};
    use crate::testing::{module, name, plain};
    use crate::unit::{Density, Height, Power, Voltage};

    /// The brackets of two modules that differ in this.
    fn brackets(change: impl Fn(MemoryModuleBuilder) -> MemoryModuleBuilder) -> [String; 2] {
        let (one, other) = (plain(), change(plain().to_builder()).build().unwrap());
        let telling = Telling::among([&one, &other, &one]);
        [&one, &other].map(|module| {
            let text = telling.text(module);
            text.strip_prefix(&plain().to_string()).unwrap().trim_matches([' ', '(', ')']).to_owned()
        })
    }

    #[test]
    fn each_fact_that_the_short_text_leaves_out_is_said_where_it_differs() {
        let found = [
            brackets(|builder| builder.voltages(Voltages::only(Voltage::V1_35))),
            brackets(|builder| builder.ecc(Ecc::None)),
            brackets(|builder| builder.height(Height::from_um(18_750))),
            brackets(|builder| builder.class(name("reduced"))),
            brackets(|builder| builder.part_number(name("P-1"))),
            brackets(|builder| builder.maker(name("Someone"))),
            brackets(|builder| builder.power(Power::from_mw(4_000))),
        ];
        let expected = [
            ["1.2 V", "1.35 V"],
            ["with ECC", "no check bits"],
            ["height not known", "18.75 mm high"],
            ["no class", "class reduced"],
            ["part not known", "part P-1"],
            ["maker not known", "made by Someone"],
            ["power not known", "4 W"],
        ];
        assert_eq!(found.map(|[one, other]| format!("{one} / {other}")), expected.map(|texts| texts.join(" / ")));
    }

    #[test]
    fn organizations_that_are_known_in_part_are_told_apart() {
        let bare = crate::testing::lacking(&plain(), &["width", "die_density_mbit"]);
        let more = |change: &dyn Fn(MemoryModuleBuilder) -> MemoryModuleBuilder| {
            let other = change(bare.to_builder()).build().unwrap();
            Telling::among([&bare, &other]).text(&other)
        };
        assert!(more(&|builder| builder.die_density(Density::from_gbit(8))).ends_with(" (8 Gb dies)"));
        assert!(more(&|builder| builder.stack(Stack::Stacked2)).ends_with(" (3DS 2 high)"));
        let wide = module("32GB 2Rx8 PC4-2400T-RE1-11");
        assert_eq!(Telling::among([&wide, &plain()]).text(&wide), wide.to_string());
        assert_eq!(wide.width(), Some(DeviceWidth::X8));
    }

    #[test]
    fn the_part_is_said_only_where_nothing_else_tells_modules_apart() {
        let of = |voltage: Voltage, part: &str| {
            plain().to_builder().voltages(Voltages::only(voltage)).part_number(name(part)).build().unwrap()
        };
        let (one, other, third) = (of(Voltage::V1_2, "P"), of(Voltage::V1_35, "Q"), of(Voltage::V1_35, "R"));
        assert!(Telling::among([&one, &other]).text(&other).ends_with(" (1.35 V)"));
        assert!(Telling::among([&one, &other, &third]).text(&other).ends_with(" (1.35 V, part Q)"));
    }
}
