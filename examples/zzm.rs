//! temp
#![allow(missing_docs, clippy::all, clippy::pedantic, clippy::restriction, warnings)]
#[path = "../benches/support/instances.rs"]
mod instances;
#[path = "../benches/support/mod.rs"]
mod support;
use instances::*;
use slotwright::*;
use std::time::*;
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let n: u64 = a.get(1).and_then(|x| x.parse().ok()).unwrap_or(18);
    let each = a.iter().any(|x| x == "each");
    let only = a.get(2).cloned().unwrap_or_default();
    let std_rules = RuleBook::standard();
    let nodes: Option<u64> = a.iter().find_map(|x| x.strip_prefix("nodes=")).map(|x| x.parse().unwrap());
    for (l, _, shape) in SHAPES {
        if !only.is_empty() && only != "all" && !only.contains(l) {
            continue;
        }
        for allowed in [false, true] {
            let mut times = vec![];
            let (mut opt, mut none, mut st) = (0, 0, 0);
            let mut hash: u128 = 0;
            for k in 0..n {
                let (m, mut r) = instance(shape, k);
                let rules = instances::rules(shape);
                if let Some(n) = nodes {
                    r = r.nodes(n);
                }
                if a.iter().any(|x| x == "allowed") && !allowed {
                    continue;
                }
                if a.iter().any(|x| x == "refused") && allowed {
                    continue;
                }

                if allowed {
                    r = r.refuse_from(Severity::Error);
                }
                let p = Planner::new(&m, &rules);
                if let Some(w) = a.iter().find_map(|x| x.strip_prefix("k=")) {
                    if w.parse::<u64>().unwrap() != k {
                        continue;
                    }
                    println!("{:?} {:?} {:?} allowed {allowed}", r.rate_at_least_mts, r.usable_at_least_mib, r.budget);
                    for o in r.offers.iter().take(0) {
                        println!("{:?}", o.module.to_string());
                    }
                }
                eprintln!("ZZSTART");
                let t = Instant::now();
                let o = p.plan(&r).unwrap();
                let d = t.elapsed();
                let what = match &o {
                    Outcome::Optimal(p) => {
                        opt += 1;
                        for b in p.cost.total.to_string().bytes() {
                            hash = hash.wrapping_mul(1000003).wrapping_add(b as u128)
                        }
                        format!("{}", p.cost.total)
                    }
                    Outcome::Infeasible(_) => {
                        none += 1;
                        "none".into()
                    }
                    Outcome::Stopped { best, cost_at_least, reason, .. } => {
                        st += 1;
                        format!(
                            "STOPPED best {:?} least {cost_at_least:?} {reason:?}",
                            best.as_ref().map(|b| b.cost.total.to_string())
                        )
                    }
                };
                if each {
                    println!("{l} {allowed} {k}: {what} {d:.1?}");
                }
                times.push(d);
            }
            if times.is_empty() {
                continue;
            }
            times.sort();
            println!(
                "{l} allowed={allowed}: opt {opt} none {none} stopped {st}; median {:.2?} p90 {:.2?} worst {:.2?} hash {hash:x}",
                times[times.len() / 2],
                times[times.len() * 9 / 10],
                times[times.len() - 1]
            );
        }
    }
    let rules = std_rules;
    if only == "x" {
        let m = support::machine(2, 8, 2);
        for sev in [Severity::Warning, Severity::Error] {
            let o = Offer::new(
                support::name("o"),
                support::module("64GB 2Rx4 PC4-2933Y-RA2-12"),
                Price::new(10000, "EUR".parse().unwrap()),
                100,
            );
            let r = PlanRequest::new()
                .savings_nodes(0)
                .usable_at_least(Capacity::from_gib(33 * 64))
                .offer(o)
                .refuse_from(sev);
            let p = Planner::new(&m, &rules);
            let t = Instant::now();
            let o = p.plan(&r).unwrap();
            println!("33 x 64: {:.1?} {}", t.elapsed(), matches!(o, Outcome::Infeasible(_)));
        }
    }
}
