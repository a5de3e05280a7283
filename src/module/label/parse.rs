use crate::module::label::RateStyle;
use crate::module::label::cursor::{Cursor, Run};
use crate::module::label::parts::Tail;
use crate::module::label::size::{Layout, Size};
use crate::module::{
    Ddr4Bin, Ddr5Bin, Generation, Label, LabelError, LabelField, MemoryModule, ModuleType, Organization, RawCard,
    SpdRevision, SpeedBin, TemperatureRange, VariantLetter, Voltages,
};
use crate::unit::{DataRate, Voltage};

const HYPHEN: &str = "a hyphen";
const SPACE: &str = "a space";
const SECOND_DIGIT: &str = "a second digit";
const DDR3_BANDWIDTHS: &str = "6400, 8500, 10600, 12800, 14900 or 17000";
const DDR4_RATES: &str = "1600, 1866, 2133, 2400, 2666, 2933 or 3200";
const DDR5_RATES: &str = "3200, then every 400 up to 9200";
const CARDS: &str = "the letters of a raw card: A to Y without I, O, Q, S and X, two of them from AA to CB, or ZZ";
const CARDS_DDR5: &str = "the letters of a raw card: A to Y without I, O, Q, S and X, two of them from AA to AK, or ZZ";
const CARD_REVISIONS: &str = "a digit, A to K without I (before production), P, or Z behind ZZ";

/// The bandwidth names of the rates that labels have.
const BANDWIDTHS: [(u32, DataRate); 10] = [
    (6400, DataRate::DDR3_800),
    (8500, DataRate::DDR3_1066),
    (10600, DataRate::DDR3_1333),
    (12800, DataRate::DDR3_1600),
    (14900, DataRate::DDR3_1866),
    (17000, DataRate::DDR3_2133),
    (19200, DataRate::DDR4_2400),
    (21300, DataRate::DDR4_2666),
    (23400, DataRate::DDR4_2933),
    (25600, DataRate::DDR4_3200),
];

pub(crate) fn label(text: &str) -> Result<Label, LabelError> {
    read(text).map_err(|error| hybrid(text).unwrap_or(error))
}

/// Recognises the mark of a module with non-volatile memory in the place of the generation.
fn hybrid(text: &str) -> Option<LabelError> {
    let (space, _) = text.match_indices(' ').nth(1)?;
    let start = space + 1;
    let rest = text.get(start..)?;
    let found = ["NN4", "NH4", "NP4", "NPL4"].into_iter().find(|mark| rest.starts_with(mark))?;
    Some(LabelError::Hybrid { span: start..start + found.len(), found: found.to_owned() })
}

/// A label, or one that ends behind the letter of its type.
pub(crate) enum Parsed {
    Whole(Box<Label>),
    Cut(Cut),
}

/// What a label says that ends too early, but says all that its module is.
pub(crate) struct Cut {
    pub(crate) module: MemoryModule,
    pub(crate) missing: Vec<LabelField>,
    /// Whether it ends within a field, not behind one.
    pub(crate) is_within: bool,
}

/// Reads a label that may end too early.
pub(crate) fn whole_or_cut(text: &str) -> Result<Parsed, LabelError> {
    let error = match label(text) {
        Ok(label) => return Ok(Parsed::Whole(Box::new(label))),
        Err(error) => error,
    };
    let LabelError::Unexpected { field, found, allowed, .. } = &error else { return Err(error) };
    if !found.is_empty() {
        return Err(error);
    }
    // the end is the error: it is behind the head, or the head says so again
    let head = Head::read(&mut Cursor::new(text))?;
    let module = head.module()?;
    let missing: Vec<LabelField> =
        head.fields_behind().iter().copied().skip_while(|missing| missing != field).collect();
    if missing.is_empty() {
        return Err(error);
    }
    let is_within = *field == LabelField::CardRevision || *allowed == SECOND_DIGIT;
    Ok(Parsed::Cut(Cut { module, missing, is_within }))
}

fn read(text: &str) -> Result<Label, LabelError> {
    let mut cursor = Cursor::new(text);
    let head = Head::read(&mut cursor)?;
    let body = Body::read(&mut cursor, head.generation, head.speed_bin)?;
    let tail = tail(&mut cursor)?;
    let module = head.module()?;
    Ok(Label {
        module,
        organization: head.organization,
        unit: head.size.unit,
        variant: head.variant,
        data_rate: head.data_rate,
        rate_style: head.rate_style,
        speed_bin: body.speed_bin,
        module_type: head.module_type,
        raw_card: body.raw_card,
        spd_revision: body.spd_revision,
        module_spd_revision: body.module_spd_revision,
        temperature_range: body.temperature_range,
        tail,
    })
}

/// A label up to the letter of its type: all that it says of the module as such.
struct Head<'a> {
    size: Size<'a>,
    generation: Generation,
    organization: Organization,
    variant: Option<VariantLetter>,
    data_rate: DataRate,
    rate_style: RateStyle,
    /// But for DDR3, whose latency follows the type.
    speed_bin: Option<SpeedBin>,
    module_type: ModuleType,
}

impl<'a> Head<'a> {
    fn read(cursor: &mut Cursor<'a>) -> Result<Self, LabelError> {
        let size = Size::read(cursor)?;
        cursor.expect(b' ', LabelField::Ranks, SPACE)?;
        let layout = Layout::read(cursor)?;
        cursor.expect(b' ', LabelField::Generation, SPACE)?;
        let generation = generation(cursor)?;
        size.check(generation)?;
        let organization = layout.organization(generation)?;
        let variant = variant(cursor, generation)?;
        let (data_rate, rate_style) = data_rate(cursor, generation)?;
        let mut speed_bin = None;
        if generation != Generation::Ddr3 {
            speed_bin = Some(self::speed_bin(cursor, generation == Generation::Ddr5)?);
            cursor.expect(b'-', LabelField::ModuleType, HYPHEN)?;
        }
        let module_type = module_type(cursor, generation)?;
        Ok(Self { size, generation, organization, variant, data_rate, rate_style, speed_bin, module_type })
    }

    /// The fields that follow, but for a maker's tail.
    const fn fields_behind(&self) -> &'static [LabelField] {
        use LabelField::{CardRevision, ModuleSpdRevision, RawCard, SpdRevision, SpeedBin, TemperatureRange};
        match self.generation {
            Generation::Ddr3 => &[SpeedBin, SpdRevision, RawCard, CardRevision],
            Generation::Ddr4 => &[RawCard, CardRevision, SpdRevision],
            Generation::Ddr5 => &[RawCard, CardRevision, SpdRevision, ModuleSpdRevision, TemperatureRange],
        }
    }

    fn module(&self) -> Result<MemoryModule, LabelError> {
        let voltages = match self.variant {
            Some(VariantLetter::L) => Voltages::new([Voltage::V1_35, Voltage::V1_5]),
            Some(VariantLetter::U) => Voltages::new([Voltage::V1_25, Voltage::V1_35, Voltage::V1_5]),
            Some(VariantLetter::E) | None => Some(Voltages::only(self.generation.voltage())),
        };
        let module_type = self.module_type;
        let builder = MemoryModule::builder(self.generation, module_type.kind(), self.size.capacity)
            .form_factor(module_type.form_factor())
            .organization(self.organization)
            .ecc(module_type.ecc())
            .voltages(voltages)
            .grade(self.data_rate);
        builder.build().map_err(|error| self.size.impossible(error))
    }
}

fn generation(cursor: &mut Cursor<'_>) -> Result<Generation, LabelError> {
    const FIELD: LabelField = LabelField::Generation;
    cursor.expect(b'P', FIELD, "PC3, PC4 or PC5")?;
    cursor.expect(b'C', FIELD, "C, as of PC4")?;
    let generation = match cursor.peek() {
        Some(b'3') => Generation::Ddr3,
        Some(b'4') => Generation::Ddr4,
        Some(b'5') => Generation::Ddr5,
        _ => return Err(cursor.next_unexpected(FIELD, "3, 4 or 5")),
    };
    cursor.digit(FIELD, "3, 4 or 5")?;
    Ok(generation)
}

fn variant(cursor: &mut Cursor<'_>, generation: Generation) -> Result<Option<VariantLetter>, LabelError> {
    let letters = cursor.run(|byte| byte.is_ascii_alphanumeric());
    let variant = match (letters.text, generation) {
        ("", _) => None,
        ("L", Generation::Ddr3) => Some(VariantLetter::L),
        ("U", Generation::Ddr3) => Some(VariantLetter::U),
        ("E", Generation::Ddr4) => Some(VariantLetter::E),
        _ => {
            let allowed = match generation {
                Generation::Ddr3 => "nothing, L or U",
                Generation::Ddr4 => "nothing or E",
                Generation::Ddr5 => "nothing",
            };
            return Err(letters.unexpected(LabelField::Variant, allowed));
        }
    };
    cursor.expect(b'-', LabelField::DataRate, HYPHEN)?;
    Ok(variant)
}

fn data_rate(cursor: &mut Cursor<'_>, generation: Generation) -> Result<(DataRate, RateStyle), LabelError> {
    let digits = cursor.digits();
    let number = digits.number().unwrap_or(0);
    let style = if number >= 10_000 || generation == Generation::Ddr3 { RateStyle::Bandwidth } else { RateStyle::Rate };
    // 1333 is a setting of DDR4 machines, no grade of DDR4 modules.
    let labelled = |rate: &DataRate| generation != Generation::Ddr4 || *rate != DataRate::DDR4_1333;
    let mut rates = generation.rates().iter().copied().filter(labelled);
    let rate = match style {
        RateStyle::Rate => rates.find(|rate| rate.name_mts() == number),
        // DDR5 labels have no such form.
        RateStyle::Bandwidth if generation == Generation::Ddr5 => None,
        RateStyle::Bandwidth => {
            let named = BANDWIDTHS.iter().find(|(name, _)| *name == number);
            named.and_then(|(_, named)| rates.find(|rate| rate == named))
        }
    };
    let allowed = match generation {
        Generation::Ddr3 => DDR3_BANDWIDTHS,
        Generation::Ddr4 => DDR4_RATES,
        Generation::Ddr5 => DDR5_RATES,
    };
    let rate = rate.ok_or_else(|| cursor.unexpected(digits, LabelField::DataRate, allowed))?;
    Ok((rate, style))
}

/// What follows the letter of the type, up to a maker's tail, and the speed bin.
struct Body {
    speed_bin: SpeedBin,
    raw_card: RawCard,
    spd_revision: SpdRevision,
    module_spd_revision: Option<SpdRevision>,
    temperature_range: Option<TemperatureRange>,
}

impl Body {
    fn read(cursor: &mut Cursor<'_>, generation: Generation, speed_bin: Option<SpeedBin>) -> Result<Self, LabelError> {
        match speed_bin {
            None => Self::ddr3(cursor),
            Some(speed_bin) => Self::ddr4_or_ddr5(cursor, generation == Generation::Ddr5, speed_bin),
        }
    }

    fn ddr3(cursor: &mut Cursor<'_>) -> Result<Self, LabelError> {
        cursor.expect(b'-', LabelField::SpeedBin, HYPHEN)?;
        let speed_bin = cas_latency(cursor)?;
        cursor.expect(b'-', LabelField::SpdRevision, HYPHEN)?;
        let spd_revision = spd_revision(cursor, LabelField::SpdRevision)?;
        cursor.expect(b'-', LabelField::RawCard, HYPHEN)?;
        let raw_card = raw_card(cursor, false)?;
        let (module_spd_revision, temperature_range) = (None, None);
        Ok(Self { speed_bin, raw_card, spd_revision, module_spd_revision, temperature_range })
    }

    fn ddr4_or_ddr5(cursor: &mut Cursor<'_>, ddr5: bool, speed_bin: SpeedBin) -> Result<Self, LabelError> {
        let raw_card = raw_card(cursor, ddr5)?;
        cursor.expect(b'-', LabelField::SpdRevision, HYPHEN)?;
        let spd_revision = spd_revision(cursor, LabelField::SpdRevision)?;
        let (mut module_spd_revision, mut temperature_range) = (None, None);
        if ddr5 {
            module_spd_revision = Some(self::spd_revision(cursor, LabelField::ModuleSpdRevision)?);
            cursor.expect(b'-', LabelField::TemperatureRange, HYPHEN)?;
            temperature_range = Some(self::temperature_range(cursor)?);
        }
        Ok(Self { speed_bin, raw_card, spd_revision, module_spd_revision, temperature_range })
    }
}

fn cas_latency(cursor: &mut Cursor<'_>) -> Result<SpeedBin, LabelError> {
    let digits = cursor.digits();
    let (padded, number) = match digits.text.strip_prefix('0') {
        Some(text) => (true, Run { text, start: digits.start }.number().filter(|&clocks| clocks < 10)),
        None => (false, digits.number()),
    };
    let clocks = number.filter(|clocks| (4..=18).contains(clocks)).and_then(|clocks| u8::try_from(clocks).ok());
    let allowed = "a CAS latency of 4 to 18 clocks, with or without a leading zero";
    let clocks = clocks.ok_or_else(|| cursor.unexpected(digits, LabelField::SpeedBin, allowed))?;
    Ok(SpeedBin::CasLatency { clocks, padded })
}

fn speed_bin(cursor: &mut Cursor<'_>, ddr5: bool) -> Result<SpeedBin, LabelError> {
    let letters = cursor.run(|byte| byte.is_ascii_alphabetic());
    let (bin, allowed) = if ddr5 {
        (Ddr5Bin::from_letters(letters.text).map(SpeedBin::Ddr5), "AN, B, BN or C")
    } else {
        (Ddr4Bin::from_letters(letters.text).map(SpeedBin::Ddr4), "J, K, L, M, N, P, R, T, U, V, W, Y, AA or AC")
    };
    bin.ok_or_else(|| cursor.unexpected(letters, LabelField::SpeedBin, allowed))
}

fn module_type(cursor: &mut Cursor<'_>, generation: Generation) -> Result<ModuleType, LabelError> {
    let known = cursor.peek().and_then(|letter| Some((letter, ModuleType::new(generation, letter)?)));
    let Some((letter, module_type)) = known else {
        return Err(cursor.next_unexpected(LabelField::ModuleType, ModuleType::allowed(generation)));
    };
    cursor.expect(letter, LabelField::ModuleType, ModuleType::allowed(generation))?;
    Ok(module_type)
}

/// The last character is the revision, the one or two before it are the letters.
fn raw_card(cursor: &mut Cursor<'_>, ddr5: bool) -> Result<RawCard, LabelError> {
    let allowed = if ddr5 { CARDS_DDR5 } else { CARDS };
    let card = cursor.run(|byte| byte.is_ascii_alphanumeric());
    let split = match card.text {
        // Cut off before the revision.
        "ZZ" => 2,
        text if text.len() < 2 => text.len(),
        text => text.len() - 1,
    };
    let (letters, revision) = card.split_at(split);
    let code = RawCard::code(letters.text, ddr5);
    let code = code.ok_or_else(|| cursor.unexpected(letters, LabelField::RawCard, allowed))?;
    let raw_card = revision.text.bytes().next().and_then(|revision| RawCard::new(code, revision));
    raw_card.ok_or_else(|| cursor.unexpected(revision, LabelField::CardRevision, CARD_REVISIONS))
}

fn spd_revision(cursor: &mut Cursor<'_>, field: LabelField) -> Result<SpdRevision, LabelError> {
    let major = cursor.digit(field, "two digits, 12 for revision 1.2")?;
    let minor = cursor.digit(field, SECOND_DIGIT)?;
    Ok(SpdRevision { major, minor })
}

fn temperature_range(cursor: &mut Cursor<'_>) -> Result<TemperatureRange, LabelError> {
    let word = cursor.run(|byte| byte.is_ascii_alphanumeric());
    let range = TemperatureRange::ALL.iter().copied().find(|range| range.word() == word.text);
    let allowed = "XT, NT, IT, ET, RT, ST, A1T, A2T or A3T";
    range.ok_or_else(|| cursor.unexpected(word, LabelField::TemperatureRange, allowed))
}

fn tail(cursor: &mut Cursor<'_>) -> Result<Option<Tail>, LabelError> {
    const FIELD: LabelField = LabelField::Tail;
    if cursor.is_at_end() {
        return Ok(None);
    }
    cursor.expect(b'-', FIELD, "the end of the label, or a hyphen and a maker's tail")?;
    let text = cursor.run(|byte| byte.is_ascii_uppercase() || byte.is_ascii_digit() || byte == b'-');
    if !cursor.is_at_end() {
        return Err(cursor.next_unexpected(FIELD, "capital letters, digits and hyphens"));
    }
    let hyphens = text.text.starts_with('-') || text.text.ends_with('-');
    let tail = Tail::new(text.text).filter(|_| !text.text.is_empty() && !hyphens);
    let allowed = "1 to 15 capital letters and digits, with hyphens between them only";
    tail.map(Some).ok_or_else(|| cursor.unexpected(text, FIELD, allowed))
}
