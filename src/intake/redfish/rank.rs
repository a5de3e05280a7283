//! Numbers of ranks that count the members.

use crate::intake::redfish::number;
use crate::intake::redfish::property::Resource;

/// By how much the number of ranks of each member is more than the number at the end of its name, where that is the same for all of three or more.
/// Some controllers count their members there.
pub(crate) fn that_count_members(memory: &[Resource<'_>]) -> Option<i64> {
    let mut differences = memory.iter().filter_map(difference);
    let first = differences.next().filter(|difference| (-1..=1).contains(difference))?;
    let mut members = 1;
    for difference in differences {
        if difference != first {
            return None;
        }
        members += 1;
    }
    let mut numbers: Vec<i64> = memory.iter().filter_map(index).collect();
    numbers.sort_unstable();
    numbers.dedup();
    // members of equal numbers prove nothing
    (members >= 3 && numbers.len() >= 3).then_some(first)
}

/// By how much a member's number of ranks is more than the number at the end of its name.
pub(crate) fn difference(resource: &Resource<'_>) -> Option<i64> {
    let ranks = resource.value(&["RankCount"]).and_then(number::whole).filter(|&ranks| ranks > 0)?;
    Some(i64::try_from(ranks).ok()? - index(resource)?)
}

/// The number at the end of a member's name.
fn index(resource: &Resource<'_>) -> Option<i64> {
    let name = resource.value(&["Id"]).and_then(|id| id.as_str()).unwrap_or(&resource.id);
    let kept = name.trim_end_matches(|letter: char| letter.is_ascii_digit()).len();
    name.get(kept..)?.parse::<i64>().ok().filter(|&number| number < 100_000)
}
