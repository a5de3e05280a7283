//! The ways back: what several have in common stands once.

use crate::population::Population;
use crate::sheet::steps::{Numbered, ranges};
use crate::sheet::work::{added, counted_through, numbered, stop, which};
use crate::sheet::{Cell, Column, Job, Section, Sheet, Table};
use crate::unit::counted;
use crate::work_order::{Caution, Check, FoundBad, HaltAt, OrderLine, Step, WayBack, WorkOrder};

/// How to go back from where hands stopped between two halts.
const BETWEEN_HALTS: &str = "Stopped between two halts, undo first what was done since the last halt, the last step first, by the numbers \
    of the order: take out what has gone in, and put it back where it came from; put back what has come out, into the slot it came \
    from; blanks too. Then all is as at that halt, with the lid still off. Whoever gave the order can also print the way back after \
    just the steps that were done.";

impl Job<'_> {
    /// The ways back from each halt of an order: a sheet to have at hand, and to put away unused. What several ways have in common
    /// stands once: each halt has a row that says what to begin with and which of the steps are its own.
    #[must_use]
    pub fn ways_back(&self, order: &WorkOrder) -> Sheet {
        let head = Section::plain().entry("Machine", which(order));
        let sheet = Sheet::new(format!("WAY BACK   {}", self.title));
        if order.ways_back.is_empty() {
            return sheet.section(head.line("Nothing is to be done.")).section(self.foundation([]));
        }
        let head = head
            .line("Find the halt that was reached last, and go by its row from left to right. What was found bad is not put back: ring first.")
            .line(BETWEEN_HALTS);
        let mut sheet = sheet.section(head);
        let (walks, still): (Vec<Walk<'_>>, Vec<Walk<'_>>) =
            order.ways_back.iter().map(Walk::of).partition(|walk| !walk.steps.is_empty());
        for walk in &still {
            sheet = sheet.section(self.alone(walk, &order.before));
        }
        for section in self.together(&walks, &order.before) {
            sheet = sheet.section(section);
        }
        sheet.section(stop(order)).section(self.foundation([]))
    }

    /// The way back from one halt, or from after some step, also where modules were found bad.
    #[must_use]
    pub fn way_back(&self, order: &WorkOrder, way: &WayBack) -> Sheet {
        Sheet::new(format!("WAY BACK   {}", self.title))
            .section(Section::plain().entry("Machine", which(order)))
            .section(self.alone(&Walk::of(way), &order.before))
            .section(stop(order))
            .section(self.foundation([]))
            .section(Section::new("DONE BY").blanks(["Technician", "Date and time"]))
    }

    /// One way, from first to last.
    fn alone(&self, walk: &Walk<'_>, before: &Population) -> Section {
        let way = walk.way;
        let halt = way.from.to_string().to_uppercase();
        let mut section = Section::new(match way.steps_done {
            Some(steps) => format!("AFTER STEP {steps} OF THE ORDER; LAST HALT {halt}"),
            None => format!("FROM THE HALT {halt}"),
        });
        if walk.steps.is_empty() {
            section = section.line("No module is to be moved.");
        }
        if way.steps_done.is_none() && way.from == HaltAt::BeforeLid {
            section = section.line(
                "Where the lid came off since: see that every module is flush and its latches closed, put back what was lifted out, and put \
                 the lid on, before any cord goes in.",
            );
        }
        section = section.items(way.bad.iter().map(|bad| match bad {
            FoundBad::InSlot { slot } => format!("what is in {slot} was found bad"),
            FoundBad::InBag { slot } => format!("what is in the bag of {slot} was found bad"),
            FoundBad::Other(name) => name.to_string(),
        }));
        if way.blanks_to_bring > 0 {
            section = section.items([format!("bring {}, beside those at hand", counted(way.blanks_to_bring, "blank"))]);
        }
        let lines = counted_through(&way.lines);
        let (first, rest) = lines.split_at(walk.first.len());
        section = added(section, first);
        let steps = numbered(&lines);
        if !steps.is_empty() {
            section = self.table_of(section, &steps, true);
        }
        added(section, rest).items([walk.end(before)])
    }

    /// Several ways with steps: which of them each halt takes, and everything that is in common once.
    fn together(&self, walks: &[Walk<'_>], before: &Population) -> Vec<Section> {
        let lists = Lists::of(walks);
        let firsts = Shared::of(walks.iter().map(|walk| (lid(&walk.first), walk.first_but_who_decides())));
        let lasts = Shared::of(walks.iter().map(|walk| ("LAST", walk.last.clone())));
        let mut table =
            Table::new(["halt reached last", "first", "then steps", "blanks to bring", "last"].map(Column::text));
        for (at, (walk, (list, numbers))) in walks.iter().zip(&lists.of_walk).enumerate() {
            let steps = ranges(numbers.iter().copied());
            let of_list = if lists.lists.len() > 1 { format!(" of {}", name("STEPS", *list)) } else { String::new() };
            table.row([
                Cell::text(&walk.way.from),
                Cell::maybe(firsts.name_of(at)),
                Cell::text(format!("{steps}{of_list}")),
                if walk.way.blanks_to_bring > 0 { Cell::text(walk.way.blanks_to_bring) } else { Cell::Empty },
                Cell::maybe(lasts.name_of(at)),
            ]);
        }
        let mut sections = vec![Section::new("WHERE TO BEGIN").table(table.without_empty_columns())];
        sections.extend(firsts.sections());
        for (at, steps) in lists.lists.iter().enumerate() {
            let steps: Vec<Numbered<'_>> = steps.iter().enumerate().map(|(at, step)| (at + 1, *step)).collect();
            let section = Section::new(name("STEPS", at)).line("Only those that the row of the halt names.");
            sections.push(self.table_of(section, &steps, true));
        }
        sections.extend(lasts.sections());
        let ends: Vec<String> = walks.iter().map(|walk| walk.end(before)).collect();
        let all_alike = ends.windows(2).all(|pair| pair.first() == pair.last());
        let each = walks.iter().zip(&ends).map(|(walk, end)| format!("from the halt {}: {end}", walk.way.from));
        let ends: Vec<String> = if all_alike { ends.into_iter().take(1).collect() } else { each.collect() };
        if let Some(last) = sections.pop() {
            sections.push(last.items(ends));
        }
        sections
    }
}

/// A way back: what comes before its steps, the steps, and what comes after them.
struct Walk<'a> {
    way: &'a WayBack,
    first: Vec<&'a OrderLine>,
    steps: Vec<&'a Step>,
    last: Vec<&'a OrderLine>,
}

impl<'a> Walk<'a> {
    fn of(way: &'a WayBack) -> Self {
        let is_step = |line: &OrderLine| line.step().is_some();
        let first = way.lines.iter().take_while(|line| !is_step(line)).collect::<Vec<_>>();
        let last = way.lines.iter().rposition(is_step).map_or(way.lines.len(), |last| last + 1);
        Self { way, first, steps: way.steps().collect(), last: way.lines.iter().skip(last).collect() }
    }

    /// Who decides stands at the end of the sheet.
    fn first_but_who_decides(&self) -> Vec<&'a OrderLine> {
        self.first.iter().copied().filter(|line| **line != OrderLine::Caution(Caution::WhoDecides)).collect()
    }

    /// What there is at its end.
    fn end(&self, before: &Population) -> String {
        match &self.way.without {
            Some(without) => format!("the machine goes on so: {without}"),
            None if self.way.from == HaltAt::BeforeLid || self.way.population == *before => {
                "afterwards everything is where it was".to_owned()
            }
            None => "afterwards not everything is where it was".to_owned(),
        }
    }
}

/// What a beginning is called.
fn lid(first: &[&OrderLine]) -> &'static str {
    if first.contains(&&OrderLine::Check(Check::ShutDown)) { "FIRST, LID ON" } else { "FIRST, LID OFF" }
}

/// "STEPS", and where there are several "STEPS 2".
fn name(heading: &str, at: usize) -> String {
    if at == 0 { heading.to_owned() } else { format!("{heading} {}", at + 1) }
}

/// Lines that several ways have in common, each once under a name.
struct Shared<'a> {
    groups: Vec<(String, Vec<&'a OrderLine>)>,
    of_walk: Vec<usize>,
}

impl<'a> Shared<'a> {
    fn of(parts: impl Iterator<Item = (&'static str, Vec<&'a OrderLine>)>) -> Self {
        let mut shared = Self { groups: Vec::new(), of_walk: Vec::new() };
        for (heading, lines) in parts {
            let known = shared.groups.iter().position(|(_, known)| *known == lines);
            shared.of_walk.push(known.unwrap_or(shared.groups.len()));
            if known.is_none() {
                let like = shared.groups.iter().filter(|(known, _)| known.starts_with(heading)).count();
                shared.groups.push((name(heading, like), lines));
            }
        }
        shared
    }

    /// Of a way; none where all have the same.
    fn name_of(&self, walk: usize) -> Option<&String> {
        let group = self.groups.get(*self.of_walk.get(walk)?)?;
        (self.groups.len() > 1).then_some(&group.0)
    }

    fn sections(&self) -> impl Iterator<Item = Section> {
        self.groups.iter().map(|(heading, lines)| {
            let lines: Vec<_> = lines.iter().map(|line| (None, *line)).collect();
            added(Section::new(heading), &lines)
        })
    }
}

/// Lists of steps such that the steps of each way are among those of one list, in order.
struct Lists<'a> {
    lists: Vec<Vec<&'a Step>>,
    /// By way, which list, and the numbers of its steps there.
    of_walk: Vec<(usize, Vec<usize>)>,
}

impl<'a> Lists<'a> {
    fn of(walks: &[Walk<'a>]) -> Self {
        let mut longest_first: Vec<usize> = (0..walks.len()).collect();
        longest_first.sort_by_key(|&at| std::cmp::Reverse(walks.get(at).map(|walk| walk.steps.len())));
        let mut lists: Vec<Vec<&Step>> = Vec::new();
        let mut of_walk = vec![(0, Vec::new()); walks.len()];
        for at in longest_first {
            let (Some(walk), Some(place)) = (walks.get(at), of_walk.get_mut(at)) else { continue };
            let known = lists.iter().enumerate().find_map(|(list, steps)| Some((list, among(&walk.steps, steps)?)));
            *place = known.unwrap_or_else(|| {
                lists.push(walk.steps.clone());
                (lists.len() - 1, (1..=walk.steps.len()).collect())
            });
        }
        Self { lists, of_walk }
    }
}

/// The numbers of steps in a list that has them all, in order.
fn among(steps: &[&Step], list: &[&Step]) -> Option<Vec<usize>> {
    let mut rest = list.iter().enumerate();
    let mut number = |step: &&Step| rest.find(|(_, other)| is_alike(step, other)).map(|(at, _)| at + 1);
    steps.iter().map(&mut number).collect()
}

/// Whether hands do the same; which way the key faced before is in the table.
fn is_alike(one: &Step, other: &Step) -> bool {
    one.slot == other.slot && one.action == other.action && one.data_beside == other.data_beside
}
