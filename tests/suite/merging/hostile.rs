//! Sidecars of the corpus, cut, spliced and with bytes changed at random: what merges, merges once; what does not is left alone.

use lensmend::output::Stamp;
use lensmend::output::xmp::{self, Base, Sidecar};

use super::shapes::{broken, shapes};
use crate::conform::random::Dice;

const MUTATIONS: usize = 4000;

#[test]
fn whatever_comes_of_a_sidecar_a_second_merge_has_nothing_to_do() {
    let mut dice = Dice::new(7);
    let annotation = dice.annotation(0);
    let sidecar = Sidecar { annotation: &annotation, part: 1, production: None };
    let stamp = |date: &str| Stamp { date: date.into(), tool: "lensmend".into() };
    let ours = sidecar.write(&stamp("2026-01-01T00:00:00Z")).unwrap();
    // Long ones only take longer.
    let mut seeds: Vec<Vec<u8>> =
        shapes().into_iter().chain(broken()).map(|(_, bytes)| bytes).collect();
    seeds.retain(|bytes| bytes.len() < 20_000);
    seeds.push(ours);
    let (mut merges, mut refusals) = (0, 0);
    for _ in 0..MUTATIONS {
        let mut bytes = dice.pick(&seeds).clone();
        for _ in 0..dice.below(4) {
            mutate(&mut bytes, &seeds, &mut dice);
        }
        xmp::begun(&bytes);
        let begun_from = (dice.below(4) == 0).then_some("0123");
        let base = Base { bytes: &bytes, begun_from, replace: dice.below(4) == 0 };
        match sidecar.merge(&base, &stamp("2026-01-01T00:00:00Z")) {
            Err(why) => {
                assert!(!why.is_empty());
                refusals += 1;
            }
            Ok(merged) => {
                merges += 1;
                let Some(once) = merged.bytes else { continue };
                let again = Base { bytes: &once, begun_from: None, ..base };
                let twice = sidecar.merge(&again, &stamp("2027-01-01T00:00:00Z")).unwrap();
                assert_eq!(twice.bytes, None, "{}", String::from_utf8_lossy(&bytes));
            }
        }
    }
    assert!(merges > 500 && refusals > 500, "{merges} merges, {refusals} refusals");
}

fn mutate(bytes: &mut Vec<u8>, seeds: &[Vec<u8>], dice: &mut Dice) {
    let place =
        |dice: &mut Dice, length: usize| usize::try_from(dice.below(length as u64 + 1)).unwrap();
    let at = place(dice, bytes.len());
    match dice.below(5) {
        0 => bytes.truncate(at),
        1 => {
            let to = at + place(dice, (bytes.len() - at).min(60));
            bytes.drain(at..to);
        }
        2 => {
            let other = dice.pick(seeds);
            let from = place(dice, other.len());
            let to = from + place(dice, (other.len() - from).min(300));
            bytes.splice(at..at, other[from..to].iter().copied());
        }
        3 => {
            // A whole element twice, or somewhere else.
            let text = String::from_utf8_lossy(bytes).into_owned();
            let starts: Vec<usize> = text.match_indices('<').map(|(at, _)| at).collect();
            if starts.len() > 2 {
                let (from, to) = (*dice.pick(&starts), *dice.pick(&starts));
                let piece = text[from.min(to)..from.max(to)].to_owned();
                let mut text = text;
                text.insert_str(*dice.pick(&starts), &piece);
                *bytes = text.into_bytes();
            }
        }
        _ => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte = *dice.pick(b"<>/=\"'&;:! \0\xffaAx");
            }
        }
    }
}
