//! The slot model: the usable slots of a machine, and which loads each channel may carry.

use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use crate::figure::usable;
use crate::figure::{RowMemo, channel_limits};
use crate::fill::RulesInForce;
use crate::fill::rows::Rows;
use crate::finding::{FactValue, Severity};
use crate::machine::Machine;
use crate::module::{FormFactor, MemoryModule};
use crate::platform::{ChannelId, RatePolicy, SlotId, SocketId, UnlikeGrades};
use crate::population::{ChannelLoad, Content, Layout, ModuleSite};
use crate::processor::Processor;
use crate::rule::{MixOf, RuleBook, load_key};
use crate::search::{Budget, StopReason};
use crate::stated::Scope;
use crate::unit::exact::gcd;
use crate::unit::{DataRate, Height, Voltage};

/// The level of a load that has no rate; levels from 0 are steps of the machine's rate.
pub(crate) const NO_RATE: i32 = -1;

/// A usable slot: live, and not taken by another device.
pub(crate) struct ModelSlot {
    pub(crate) id: SlotId,
    pub(crate) channel: usize,
    pub(crate) socket: usize,
}

/// A channel of a present processor with its usable slots, as indices in fill order, from the far end.
pub(crate) struct ModelChannel {
    pub(crate) id: ChannelId,
    pub(crate) slots: Vec<usize>,
    /// Channels of one shape may carry the same loads.
    pub(crate) shape: usize,
}

pub(crate) struct ModelSocket {
    pub(crate) id: SocketId,
    pub(crate) channels: Vec<usize>,
    /// Capacities times this compare as shares of what each processor can take: its live slots.
    pub(crate) weight: u64,
}

/// What is known of a legal load.
#[derive(Debug, Clone)]
pub(crate) struct LoadFacts {
    /// The highest step that its limits allow, at the best voltage.
    pub(crate) level: i32,
    /// Its key under the rule that populated channels be alike, where one is in force.
    pub(crate) key: Option<usize>,
    /// What it holds less spare ranks, in MiB.
    pub(crate) usable: u64,
    /// What it must have in common with the other channels of its group in the mode, where the rules ask for it.
    pub(crate) mate: Option<usize>,
}

/// What makes two channels take the same loads.
#[derive(PartialEq)]
struct Shape<'a> {
    processor: Option<&'a Processor>,
    wired: usize,
    slots: Vec<(u8, FormFactor, Option<Height>)>,
    only: Option<ChannelId>,
}

/// A load of a channel: for each usable slot from the far end, 0 for nothing or a class and 1.
pub(crate) type LoadCode = Vec<u16>;

/// Steps of work that judging one load comes to.
const ONE_LOAD: u64 = 500;

pub(crate) struct SlotModel<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) in_force: RulesInForce<'a>,
    pub(crate) classes: Vec<&'a MemoryModule>,
    pub(crate) slots: Vec<ModelSlot>,
    pub(crate) channels: Vec<ModelChannel>,
    pub(crate) sockets: Vec<ModelSocket>,
    pub(crate) rows: Rows,
    /// The highest step under the caps that hold whatever is fitted.
    pub(crate) top_level: i32,
    /// What cannot be planned with: other devices.
    pub(crate) fixed: Layout<'a>,
    scratch: RefCell<Layout<'a>>,
    /// The bounds on unlike modules of the machine, with the key of each class.
    pub(crate) mixes: Vec<(usize, Vec<Option<FactValue>>)>,
    /// Whether the keys of all bounds on unlike modules are known and the same in every slot.
    pub(crate) keys_are_steady: bool,
    loads: RefCell<HashMap<(usize, LoadCode), Option<Rc<LoadFacts>>>>,
    keys: RefCell<Vec<FactValue>>,
    mates: RefCell<Vec<FactValue>>,
    legal: RefCell<HashMap<(usize, Vec<usize>), Rc<LegalLoads>>>,
}

/// Every load of some classes that a channel may carry, whatever their numbers.
pub(crate) struct LegalLoads {
    pub(crate) loads: Vec<LegalLoad>,
    /// Whether every load loses the same number of slots.
    pub(crate) loses_alike: bool,
}

pub(crate) struct LegalLoad {
    pub(crate) code: LoadCode,
    pub(crate) facts: Rc<LoadFacts>,
    /// How many empty slots can no longer take a module of these classes.
    pub(crate) lost: usize,
}

impl LegalLoads {
    fn new(loads: Vec<(LoadCode, Rc<LoadFacts>)>) -> Self {
        let losses: Vec<usize> = loads
            .iter()
            .map(|(code, _)| {
                let filled = |slot: usize| fillable(code, loads.iter().map(|(other, _)| other), slot);
                (0..code.len()).filter(|&slot| code.get(slot) == Some(&0) && !filled(slot)).count()
            })
            .collect();
        let loses_alike = losses.windows(2).all(|pair| pair.first() == pair.last());
        let loads =
            loads.into_iter().zip(losses).map(|((code, facts), lost)| LegalLoad { code, facts, lost }).collect();
        Self { loads, loses_alike }
    }
}

/// Whether some load that keeps what `code` holds fills a slot.
pub(crate) fn fillable<'l>(code: &[u16], loads: impl Iterator<Item = &'l LoadCode>, slot: usize) -> bool {
    let extends = |other: &[u16]| code.iter().zip(other).all(|(&digit, &more)| digit == 0 || digit == more);
    loads.into_iter().any(|other| other.get(slot).is_some_and(|&digit| digit > 0) && extends(other))
}

impl<'a> SlotModel<'a> {
    /// A grid for some classes of module on a machine whose fixed contents are those of `fixed`.
    pub(crate) fn new(
        machine: &'a Machine,
        rules: &'a RuleBook,
        threshold: Severity,
        classes: Vec<&'a MemoryModule>,
        fixed: Layout<'a>,
    ) -> Self {
        let in_force = RulesInForce::new(machine, rules, threshold);
        let mut grid = Self {
            machine,
            classes,
            slots: Vec::new(),
            channels: Vec::new(),
            sockets: Vec::new(),
            rows: Rows::default(),
            top_level: top_level(machine),
            scratch: RefCell::new(fixed.clone()),
            fixed,
            in_force,
            mixes: Vec::new(),
            keys_are_steady: false,
            loads: RefCell::new(HashMap::new()),
            keys: RefCell::new(Vec::new()),
            mates: RefCell::new(Vec::new()),
            legal: RefCell::new(HashMap::new()),
        };
        grid.lay_out();
        grid.rows = Rows::new(machine, &grid.slots, &grid.in_force.rows);
        grid.keys_are_steady = grid.in_force.mixes.iter().all(|mix| grid.is_known_and_steady(mix));
        grid.mixes = grid.mixes_within(Scope::Machine);
        grid
    }

    fn lay_out(&mut self) {
        let platform = self.machine.platform();
        let usable = |slot: SlotId| self.machine.is_live(slot) && !matches!(self.fixed.get(slot), Content::Other(_));
        let order: Vec<_> = platform.fill_order().iter().copied().filter(|&slot| usable(slot)).collect();
        let mut shapes: Vec<Shape<'a>> = Vec::new();
        let uniform = self.in_force.is_uniform();
        for (number, (id, processor)) in self.machine.processors().enumerate() {
            let mut socket = ModelSocket { id, channels: Vec::new(), weight: 1 };
            for &channel_id in &platform.socket(id).channels {
                let channel = platform.channel(channel_id);
                let ids: Vec<_> = channel.slots.iter().copied().filter(|&slot| usable(slot)).collect();
                let plain = uniform && ids.len() == channel.slots.len();
                let shape = Shape {
                    processor: Some(processor),
                    wired: channel.slots.len(),
                    slots: ids
                        .iter()
                        .map(|&slot| platform.slot(slot))
                        .map(|slot| (slot.position, slot.form_factor, slot.height_limit_um))
                        .collect(),
                    only: (!plain).then_some(channel_id),
                };
                let shape = shapes.iter().position(|known| *known == shape).unwrap_or_else(|| {
                    shapes.push(shape);
                    shapes.len() - 1
                });
                socket.channels.push(self.channels.len());
                let slots = ids.iter().filter_map(|slot| order.iter().position(|other| other == slot)).collect();
                self.channels.push(ModelChannel { id: channel_id, slots, shape });
                debug_assert_eq!(number, self.sockets.len());
            }
            self.sockets.push(socket);
        }
        for &id in &order {
            let slot = platform.slot(id);
            let channel = self.channels.iter().position(|channel| channel.id == slot.channel).unwrap_or(usize::MAX);
            let socket = self.sockets.iter().position(|socket| socket.id == slot.socket).unwrap_or(usize::MAX);
            self.slots.push(ModelSlot { id, channel, socket });
        }
        self.weigh_sockets();
    }

    /// Gives every socket the weight that makes its capacity a share of its live slots.
    fn weigh_sockets(&mut self) {
        let live = |id: SocketId| {
            let slots = &self.machine.platform().socket(id).slots;
            u64::try_from(slots.iter().filter(|&&slot| self.machine.is_live(slot)).count()).unwrap_or(0)
        };
        let counts: Vec<u64> = self.sockets.iter().map(|socket| live(socket.id)).collect();
        let common =
            counts.iter().filter(|&&count| count > 0).fold(1u64, |lcm, &count| lcm / gcd(lcm, count).max(1) * count);
        for (socket, count) in self.sockets.iter_mut().zip(counts) {
            // a processor without live slots takes nothing, and is not compared
            socket.weight = common.checked_div(count).unwrap_or(0);
        }
    }

    /// Whether the module rules let a class into a slot.
    pub(crate) fn admits(&self, slot: usize, class: usize) -> bool {
        match (self.slots.get(slot), self.classes.get(class)) {
            (Some(slot), Some(module)) => {
                self.in_force.allows_module(&ModuleSite { machine: self.machine, slot: slot.id, module })
            }
            _ => false,
        }
    }

    /// What is known of a load of a channel; `None` where rules on channels refuse it.
    pub(crate) fn load(&self, channel: usize, code: &[u16]) -> Option<Rc<LoadFacts>> {
        let shape = self.channels.get(channel)?.shape;
        let key = (shape, code.to_vec());
        if let Some(known) = self.loads.borrow().get(&key) {
            return known.clone();
        }
        let facts = self.judge(channel, code).map(Rc::new);
        self.loads.borrow_mut().insert(key, facts.clone());
        facts
    }

    /// Every load of these classes that a channel may carry.
    pub(crate) fn legal_loads(
        &self,
        channel: usize,
        kinds: &[usize],
        budget: &mut Budget,
    ) -> Result<Rc<LegalLoads>, StopReason> {
        let shape = self.channels.get(channel).map_or(usize::MAX, |channel| channel.shape);
        let key = (shape, kinds.to_vec());
        if let Some(known) = self.legal.borrow().get(&key) {
            return Ok(Rc::clone(known));
        }
        let slots = self.channels.get(channel).map_or(&[][..], |channel| &channel.slots);
        let options = |&slot: &usize| {
            let admitted = kinds.iter().filter(|&&class| self.admits(slot, class));
            let digits = admitted.filter_map(|&class| u16::try_from(class + 1).ok());
            std::iter::once(0).chain(digits).collect::<Vec<u16>>()
        };
        let mut codes: Vec<LoadCode> = vec![Vec::new()];
        for options in slots.iter().map(options) {
            budget.spend_many(u64::try_from(codes.len() * options.len()).unwrap_or(u64::MAX))?;
            codes = codes
                .iter()
                .flat_map(|code| options.iter().map(move |&digit| code.iter().copied().chain([digit]).collect()))
                .collect();
        }
        let mut loads = Vec::new();
        for code in codes {
            budget.work(ONE_LOAD)?;
            loads.extend(self.load(channel, &code).map(|facts| (code, facts)));
        }
        budget.work(u64::try_from(loads.len()).unwrap_or(u64::MAX).saturating_pow(2))?;
        let legal = Rc::new(LegalLoads::new(loads));
        self.legal.borrow_mut().insert(key, Rc::clone(&legal));
        Ok(legal)
    }

    fn judge(&self, channel: usize, code: &[u16]) -> Option<LoadFacts> {
        let channel = self.channels.get(channel)?;
        let content = |digit: u16| match usize::from(digit).checked_sub(1).and_then(|class| self.classes.get(class)) {
            Some(&module) => Content::Module(module),
            None => Content::Empty,
        };
        let ids = || channel.slots.iter().filter_map(|&slot| Some(self.slots.get(slot)?.id));
        let mut scratch = self.scratch.borrow_mut();
        ids().zip(code).for_each(|(id, &digit)| scratch.set(id, content(digit)));
        let facts = self.judge_load(&ChannelLoad::new(&scratch, channel.id));
        ids().for_each(|id| scratch.set(id, Content::Empty));
        facts
    }

    fn judge_load(&self, load: &ChannelLoad<'_>) -> Option<LoadFacts> {
        if !self.in_force.allows_channel(load) {
            return None;
        }
        let level = if load.is_empty() { i32::MAX } else { self.level(load)? };
        let key = if load.is_empty() { None } else { self.likeness(load) };
        let key = key.map(|key| number(&mut self.keys.borrow_mut(), key));
        let mates = self.in_force.like_groups.first().map(|(_, key)| key(load));
        let mate = mates.map(|mates| number(&mut self.mates.borrow_mut(), mates));
        Some(LoadFacts { level, key, usable: usable::unspared(load, self.machine.mode_description()), mate })
    }

    /// What a load with modules must have in common with the others, where a rule asks that channels be alike.
    fn likeness(&self, load: &ChannelLoad<'_>) -> Option<FactValue> {
        if let Some(fact) = self.in_force.like_channels() {
            return Some(load_key(fact, load));
        }
        let mut alike = self.in_force.mixes.iter().filter(|mix| mix.asks_like_channels());
        alike.find_map(|mix| match mix.of {
            MixOf::Channels(key) => key(load).ok().flatten(),
            _ => None,
        })
    }

    /// The best step of a load at any voltage that suits it; `None` where tables bar it at all of them
    /// and a rule says that matters.
    fn level(&self, load: &ChannelLoad<'_>) -> Option<i32> {
        let supplied = load.processor().map(|processor| &processor.voltages_mv.value);
        let at_most = load.processor().map(|processor| processor.max_rate_mts.value);
        let at_most = at_most.or(DataRate::from_mts(DataRate::MAX_MTS).ok());
        let mut voltages: Vec<Option<Voltage>> = Vec::new();
        let first = load.modules().next().and_then(|site| site.module.voltages());
        for voltage in first.into_iter().flat_map(crate::module::Voltages::iter) {
            let suits = |site: ModuleSite<'_>| site.module.voltages().is_some_and(|known| known.contains(voltage));
            if load.modules().all(suits) && supplied.is_none_or(|known| known.contains(voltage)) {
                voltages.push(Some(voltage));
            }
        }
        if voltages.is_empty() {
            voltages.push(None);
        }
        let mut best: Option<i32> = None;
        for voltage in voltages {
            if self.in_force.bars(load, voltage) {
                continue;
            }
            let (mut limit, mut known) = (at_most, true);
            channel_limits(*load, voltage, &mut RowMemo::default(), &mut |raw| match raw.rate() {
                Some(rate) => limit = limit.map(|limit| limit.min(rate)),
                None => known = false,
            });
            let level = if known { step_under(self.machine, limit) } else { NO_RATE };
            best = Some(best.map_or(level, |best| best.max(level)));
        }
        best
    }

    /// Whether the rate of a candidate of these classes may lie below the level of each of its loads: loads
    /// are judged at the voltage that suits each best, and a policy may lower the rate of mixed grades.
    pub(crate) fn level_is_hopeful(&self, kinds: &[usize]) -> bool {
        let voltage = |&class: &usize| {
            let mut known = self.classes.get(class)?.voltages()?.iter();
            known.next().filter(|_| known.next().is_none())
        };
        let first = kinds.first().and_then(voltage);
        let supplied = |voltage: Voltage| {
            self.machine.processors().all(|(_, processor)| processor.voltages_mv.value.contains(voltage))
        };
        let one_voltage = first.is_some_and(supplied) && kinds.iter().all(|class| voltage(class) == first);
        let policy = self.machine.platform().unlike_grades.as_ref().map(|policy| policy.value);
        !one_voltage || matches!(policy, Some(UnlikeGrades::LowerToMts(_)))
    }

    /// The group of like channels that each channel of a processor belongs to, where a rule asks for such.
    pub(crate) fn groups(&self, socket: usize) -> Vec<Option<usize>> {
        let Some(socket) = self.sockets.get(socket) else { return Vec::new() };
        let groups = self.in_force.like_groups.first().map_or(&[][..], |(groups, _)| groups);
        let group_of = |&channel: &usize| {
            let id = self.channels.get(channel)?.id;
            groups.iter().position(|group| group.contains(&id))
        };
        socket.channels.iter().map(group_of).collect()
    }

    /// The layout in which each usable slot holds a class or nothing.
    pub(crate) fn layout(&self, at: &[Option<usize>]) -> Layout<'a> {
        let mut layout = self.fixed.clone();
        for (slot, class) in self.slots.iter().zip(at) {
            if let Some(&module) = class.and_then(|class| self.classes.get(class)) {
                layout.set(slot.id, Content::Module(module));
            }
        }
        layout
    }
}

/// The place of a value in a list, to whose end it is put where it is new.
fn number<T: PartialEq>(known: &mut Vec<T>, value: T) -> usize {
    known.iter().position(|other| *other == value).unwrap_or_else(|| {
        known.push(value);
        known.len() - 1
    })
}

/// The highest step at or below a rate.
pub(crate) fn step_under(machine: &Machine, limit: Option<DataRate>) -> i32 {
    let steps = machine.rate_steps().iter().filter(|&&step| limit.is_none_or(|limit| step <= limit)).count();
    i32::try_from(steps).map_or(NO_RATE, |steps| steps - 1)
}

fn top_level(machine: &Machine) -> i32 {
    let processors = machine.processors().map(|(_, processor)| processor.max_rate_mts.value);
    // with a rate for each processor the slower ones may stay empty
    let processors = match machine.platform().rate_policy {
        RatePolicy::PerMachine => processors.min(),
        RatePolicy::PerSocket => processors.max(),
    };
    let caps = machine.rate_caps().iter().map(crate::machine::RateCap::rate);
    step_under(machine, processors.into_iter().chain(caps).min())
}
