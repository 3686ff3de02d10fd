//! One set that the laboratory booked under two specimen numbers.

use std::collections::HashMap;

use jiff::civil::DateTime;

use crate::set::{BottleKind, CultureSet, PatientKey, ReportStatus, Route};
use crate::table::SetTable;

/// Finds sets that are two halves of one: the aerobic bottle under one specimen number and the anaerobic bottle under
/// another, of one patient, at the same minute, by the same route. Gives the places of each pair, the one met first
/// before the other.
///
/// Sets with more than one bottle, with two bottles of one kind, without a time of day, or by different routes are left
/// alone: two sets may well be drawn in the same minute.
pub fn split_pairs(sets: &[CultureSet]) -> Vec<(usize, usize)> {
    let mut half_at: HashMap<(PatientKey, DateTime, Option<Route>, BottleKind), usize> = HashMap::new();
    let mut pairs = Vec::new();
    for (place, set) in sets.iter().enumerate() {
        let (Some(at), [bottle]) = (set.collected.time(), set.bottles.as_slice()) else { continue };
        let minute = at.with().second(0).subsec_nanosecond(0).build().unwrap_or(at);
        let other_kind = match bottle.kind {
            BottleKind::Aerobic => BottleKind::Anaerobic,
            BottleKind::Anaerobic => BottleKind::Aerobic,
            BottleKind::Paediatric | BottleKind::Other => continue,
        };
        let own_kind = bottle.kind;
        let wanted = (set.patient.clone(), minute, set.route, other_kind);
        if let Some(first) = half_at.remove(&wanted) {
            pairs.push((first, place));
        } else {
            half_at.insert((wanted.0, wanted.1, wanted.2, own_kind), place);
        }
    }
    pairs
}

/// Two halves as one set, under the number and with the time of the first.
pub fn joined(first: &CultureSet, second: &CultureSet) -> CultureSet {
    let mut whole = first.clone();
    join(&mut whole, second.clone());
    whole
}

/// Joins the [halves](split_pairs) of sets and returns the halves of each. The joined set keeps the place and the
/// specimen number of the first half.
pub fn merge_split_sets(sets: &mut Vec<CultureSet>) -> Vec<[CultureSet; 2]> {
    let mut is_second = vec![false; sets.len()];
    let mut halves = Vec::new();
    for (first, second) in split_pairs(sets) {
        let half = sets[second].clone();
        halves.push([sets[first].clone(), half.clone()]);
        join(&mut sets[first], half);
        is_second[second] = true;
    }
    let mut seconds = is_second.into_iter();
    sets.retain(|_| !seconds.next().unwrap_or_default());
    halves
}

/// The same of a table of sets: the sets that remain, and which places they are from; `None` where nothing is joined.
pub fn merge_split_table(sets: &SetTable) -> Option<(SetTable, Vec<bool>)> {
    let columns = sets.columns();
    let mut half_at: HashMap<(u32, i64, Option<Route>, BottleKind), u32> = HashMap::new();
    let mut halves: HashMap<u32, u32> = HashMap::new();
    let mut keep = vec![true; sets.len()];
    for (place, &patient) in (0_u32..).zip(&columns.patients) {
        let mut bottles = sets.bottles(place as usize);
        let (Some(bottle), None) = (bottles.next(), bottles.next()) else { continue };
        let Some(minute) = columns.collected.get(place as usize).minute() else { continue };
        let other_kind = match bottle.kind {
            BottleKind::Aerobic => BottleKind::Anaerobic,
            BottleKind::Anaerobic => BottleKind::Aerobic,
            BottleKind::Paediatric | BottleKind::Other => continue,
        };
        let route = columns.marks[place as usize].route;
        if let Some(first) = half_at.remove(&(patient, minute, route, other_kind)) {
            halves.insert(first, place);
            keep[place as usize] = false;
        } else {
            half_at.insert((patient, minute, route, bottle.kind), place);
        }
    }
    if halves.is_empty() {
        return None;
    }
    Some((sets.joined(&halves, &keep, joined_status), keep))
}

fn join(first: &mut CultureSet, half: CultureSet) {
    first.bottles.extend(half.bottles);
    for isolate in half.isolates {
        if !first.isolates.contains(&isolate) {
            first.isolates.push(isolate);
        }
    }
    first.received = match (first.received, half.received) {
        (Some(one), Some(other)) => Some(one.min(other)),
        (one, other) => one.or(other),
    };
    first.positive_after_s = match (first.positive_after_s, half.positive_after_s) {
        (Some(one), Some(other)) => Some(one.min(other)),
        (one, other) => one.or(other),
    };
    first.unit = first.unit.take().or(half.unit);
    first.collector = first.collector.take().or(half.collector);
    first.age_years = first.age_years.or(half.age_years);
    first.status = joined_status(first.status, half.status);
}

/// A set is as far as its slower half; a cancelled half leaves the other.
fn joined_status(one: ReportStatus, other: ReportStatus) -> ReportStatus {
    use ReportStatus::{Cancelled, Corrected, Final, NotStated, Preliminary};
    match (one, other) {
        (Cancelled, status) | (status, Cancelled) => status,
        (Preliminary, _) | (_, Preliminary) => Preliminary,
        (NotStated, _) | (_, NotStated) => NotStated,
        (Corrected, _) | (_, Corrected) => Corrected,
        (Final, Final) => Final,
    }
}
