//! Plans as text.

use core::fmt;

use crate::finding::Severity;
use crate::purchase::{CostSheet, ModuleSource, Outcome, Plan, PlanNote, SpareLine, StopReason};

impl fmt::Display for ModuleSource {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Stays => f.write_str("stays"),
            Self::MovesFrom { slot } => write!(f, "moves from {slot}"),
            Self::Shelf { id } => write!(f, "shelf {id}"),
            Self::Offer { id } => write!(f, "offer {id}"),
        }
    }
}

impl fmt::Display for PlanNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoStock { id } => {
                write!(f, "nothing can be had of {id}: no stock, or less than a pack or the smallest order")
            }
            Self::OtherDevicesStay { devices } => {
                write!(f, "{devices} other devices stay as they are; planning with them is not offered")
            }
            Self::NotStated { id } => write!(f, "{id} is left out: it does not state its condition or lead time"),
            Self::NoOfferFrom { supplier } => {
                write!(f, "supplier {supplier} charges for an order, but no offer is from a supplier of that name")
            }
            Self::CreditAbovePrice { slot, credit, offer, price } => {
                write!(
                    f,
                    "the credit of {credit} for slot {slot} is above the {price} of offer {offer}: money for nothing"
                )
            }
            Self::Assumed { limit } => write!(f, "assumed: {limit}"),
        }
    }
}

/// Cost lines, slots, rate with reasons, findings, notes: a block each.
impl fmt::Display for Plan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let machines = if self.machines == 1 { String::new() } else { format!(" for {} machines", self.machines) };
        let figures = &self.assessment.figures;
        let usable = match figures.usable.total_mib {
            usable if usable == figures.installed.total_mib => String::new(),
            usable => format!(" ({usable} usable)"),
        };
        writeln!(f, "Plan{machines}: {}{usable}, {}", figures.installed.total_mib, self.cost.total)?;
        for line in &self.lines {
            let price = line.line_price.map_or(String::new(), |price| format!(", {price}"));
            writeln!(f, "  {} x {} from {}{price}", line.quantity, line.module, line.source)?;
            if line.returned > 0 {
                writeln!(f, "    {} of them sent back", line.returned)?;
            }
        }
        for charge in &self.charges {
            writeln!(f, "  charge of supplier {}, {}", charge.supplier, charge.charge)?;
        }
        for pulled in &self.pulled {
            let credit = pulled.credit.map_or(String::new(), |credit| format!(", credit {credit}"));
            writeln!(f, "  pulled from {}: {}{credit}", pulled.slot, pulled.module)?;
        }
        for line in &self.to_shelf {
            writeln!(f, "  {} x {} of offer {} to the shelf", line.quantity, line.module, line.id)?;
        }
        for line in &self.spares {
            let SpareLine { module, on_shelf, pulled, bought } = line;
            writeln!(f, "  spares of {module}: {bought} bought, {on_shelf} on the shelf, {pulled} pulled")?;
        }
        let of_all = u64::try_from(self.handlings).unwrap_or(u64::MAX).saturating_mul(u64::from(self.machines));
        let CostSheet { purchases, returns, charges, shelf, labour, credit, surplus, total } = &self.cost;
        let parts = [
            ("bought", purchases),
            ("sent back", returns),
            ("charges", charges),
            ("from the shelf", shelf),
            ("labour", labour),
            ("credit", credit),
            ("to the shelf", surplus),
        ];
        writeln!(f, "  {of_all} handlings")?;
        write!(f, "Cost:")?;
        for (what, cost) in parts.into_iter().filter(|(_, cost)| cost.amount_minor() != 0) {
            write!(f, " {what} {cost};")?;
        }
        writeln!(f, " total {total}")?;
        writeln!(f, "Slots, by turn:")?;
        for slot in &self.slots {
            writeln!(f, "  {:<6} {} ({})", slot.slot, slot.module, slot.source)?;
        }
        write!(f, "Running rate: {}", figures.running_rate)?;
        write!(f, "\nBandwidth, estimated: {}", figures.bandwidth)?;
        for finding in self.assessment.from(Severity::Note) {
            write!(f, "\n{finding}")?;
        }
        self.notes.iter().try_for_each(|note| write!(f, "\nnote: {note}"))
    }
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Optimal(plan) => plan.fmt(f),
            Self::Infeasible(why) => why.fmt(f),
            Self::Stopped { best, cost_at_least, reason } => {
                match reason {
                    StopReason::NodesUsedUp { nodes } => write!(f, "Stopped after {nodes} nodes.")?,
                    StopReason::Cancelled => f.write_str("Cancelled.")?,
                    StopReason::RefusedOnRecheck => f.write_str("Stopped: the plan was refused on recheck.")?,
                }
                if let Some(cost) = cost_at_least {
                    write!(f, " Any plan costs at least {cost}.")?;
                }
                best.as_ref().map_or(Ok(()), |plan| write!(f, " Best so far:\n{plan}"))
            }
        }
    }
}
