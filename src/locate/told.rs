//! A usual spine laid along the course that the overview tells, each vertebra where its level is told.

use super::expected::Told;
use super::midline::{Place, place_at, straighten};
use super::overview::Overview;
use super::pattern::Pattern;
use super::sought::HINT_SD;
use nalgebra::Vector2;

/// How far to each side of the course the spine's middle is looked for, mm, and the step.
const ASIDE: f64 = 10.0;
const STEP: f64 = 1.0;
/// SD of the distance of neighbours as a share of what is usual.
const PITCH_SD: f64 = 0.22;
/// SD of the logarithm by which that share changes from one vertebra to the next.
const CHANGE_SD: f64 = 0.15;

/// A course moved to the middle of what is told of the spine across it.
pub(super) fn centred(overview: &Overview, mut course: Vec<Place>) -> Vec<Place> {
    let many = (ASIDE / STEP) as i32;
    for place in &mut course {
        let across = Vector2::new(place.toward.y, -place.toward.x);
        let (mut sum, mut at) = (1e-3, 0.0);
        for k in -many..=many {
            let off = f64::from(k) * STEP;
            let spine = overview.at(place.middle + across * off).spine;
            sum += spine;
            at += spine * off;
        }
        place.middle += across * (at / sum);
    }
    straighten(&mut course);
    course
}

/// Mean probability of the spine along a course, 0 to 1.
pub(super) fn seen(overview: &Overview, course: &[Place]) -> f64 {
    let all = course.iter().map(|c| overview.at(c.middle).spine);
    all.sum::<f64>() / course.len().max(1) as f64
}

/// Where the pattern's vertebrae lie along a course, as distances along both, from what is told of its places, usual
/// distances and `held`, the hints: those that together are likeliest.
pub(super) fn told_along(
    told_at: impl Fn(Vector2<f64>) -> Told,
    course: &[Place],
    pattern: &Pattern,
    held: &[(f64, f64)],
) -> Vec<(f64, f64)> {
    let (first, last) = (held[0], held[held.len() - 1]);
    // Hints may lie where no spine can be; heights stay positive.
    let scale = ((last.1 - first.1) / (last.0 - first.0).max(1e-6)).max(0.1);
    let end = course.last().map_or(0.0, |c| c.along);
    let many = (end / STEP) as usize + 1;
    let told: Vec<Told> = (0..many)
        .map(|k| told_at(place_at(course, k as f64 * STEP).0))
        .collect();
    let usual: Vec<f64> = pattern
        .plates
        .chunk_by(|a, b| a.level == b.level)
        .map(|own| own.iter().map(|p| p.along).sum::<f64>() / own.len() as f64)
        .collect();
    let expected = pattern.usually_told();
    let own = |i: usize, k: usize| {
        let mut out = told[k].of(&expected[i]);
        for (along, at) in held {
            let nearest = usual
                .iter()
                .all(|u| (u - along).abs() >= (usual[i] - along).abs() - 1e-9);
            if nearest {
                let said = at + scale * (usual[i] - along);
                out -= 0.5 * ((k as f64 * STEP - said) / HINT_SD).powi(2);
            }
        }
        out
    };
    let distances: Vec<f64> = usual.windows(2).map(|w| scale * (w[1] - w[0])).collect();
    let places = likeliest(many, &distances, own);
    let at = places.into_iter().map(|k| k as f64 * STEP);
    usual.into_iter().zip(at).collect()
}

/// A distance from a vertebra to the one below, compared with the usual one.
struct Pitch {
    steps: usize,
    /// The logarithm of its share of the usual one, and half the square of how far that is off in its SDs.
    log: f64,
    cost: f64,
}

/// All distances tried where one is usual, mm.
fn pitches_about(usual: f64) -> Vec<Pitch> {
    let (low, high) = ((0.4 * usual / STEP) as usize, (1.6 * usual / STEP) as usize);
    (low..=high)
        .map(|steps| {
            let share = (steps as f64 * STEP).max(0.5) / usual;
            Pitch {
                steps,
                log: share.ln(),
                cost: 0.5 * ((share - 1.0) / PITCH_SD).powi(2),
            }
        })
        .collect()
}

/// The greatest and what it belongs to, the first of equals.
fn best<T>(all: impl Iterator<Item = (f64, T)>) -> Option<(f64, T)> {
    all.reduce(|m, x| if x.0 > m.0 { x } else { m })
}

/// Places of vertebrae, in steps of so many, that together are likeliest: each by its `own`, its distance from the one
/// above by what is usual and by how the distance above differed from that. Foreshortening and traction change
/// distances smoothly; two vertebrae where one is are not smooth.
fn likeliest(many: usize, usual: &[f64], own: impl Fn(usize, usize) -> f64) -> Vec<usize> {
    let pitches: Vec<Vec<Pitch>> = usual.iter().map(|u| pitches_about(*u)).collect();
    // By place and by which distance led there; and which led to the vertebra above.
    let mut score: Vec<Vec<f64>> = (0..many).map(|k| vec![own(0, k)]).collect();
    let mut back: Vec<Vec<Vec<usize>>> = Vec::new();
    for (i, here) in pitches.iter().enumerate() {
        let before = i.checked_sub(1).map(|h| &pitches[h]);
        let arrived = |k: usize, pitch: &Pitch| {
            let above = k.checked_sub(pitch.steps).map_or(&[][..], |j| &score[j]);
            let ways = above.iter().enumerate().map(|(way, score)| {
                let change = before.map_or(0.0, |b| (pitch.log - b[way].log) / CHANGE_SD);
                (score - 0.5 * change * change, way)
            });
            best(ways).unwrap_or((f64::NEG_INFINITY, 0))
        };
        let (scores, ways) = (0..many)
            .map(|k| {
                let own = own(i + 1, k);
                let each = here.iter().map(|pitch| {
                    let (score, way) = arrived(k, pitch);
                    (score - pitch.cost + own, way)
                });
                each.unzip::<f64, usize, Vec<f64>, Vec<usize>>()
            })
            .unzip();
        score = scores;
        back.push(ways);
    }
    let ends = score.iter().enumerate().flat_map(|(k, ways)| {
        let ways = ways.iter().enumerate();
        ways.map(move |(way, score)| (*score, (k, way)))
    });
    let (mut k, mut way) = best(ends).map_or((0, 0), |b| b.1);
    let mut out = vec![k];
    for (here, back) in pitches.iter().zip(&back).rev() {
        let above = back[k][way];
        // Where the course is too short for them all, the rest lie at its start.
        k = k.saturating_sub(here[way].steps);
        way = above;
        out.push(k);
    }
    out.reverse();
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// On films of a kind the overview does not know it tells levels up to one too small through the middle of the
    /// thorax, and is sure of them, while it tells bodies from discs: proposals lay a vertebra off between right ends.
    #[test]
    fn levels_told_too_small_over_many_vertebrae_do_not_move_them_past_their_discs() {
        let pattern = Pattern::usual(&[], &[], false);
        // The spine straight down, its middles where the pattern has them.
        let middles: Vec<f64> = pattern
            .plates
            .chunk_by(|a, b| a.level == b.level)
            .map(|own| own.iter().map(|p| p.along).sum::<f64>() / own.len() as f64)
            .collect();
        let end = middles[middles.len() - 1];
        let course: Vec<Place> = (0..=(end as usize + 8))
            .map(|y| Place {
                middle: Vector2::new(0.0, y as f64),
                toward: Vector2::y(),
                half: 14.0,
                along: y as f64,
            })
            .collect();
        let level = |y: f64| {
            let k = middles
                .partition_point(|m| *m <= y)
                .clamp(1, middles.len() - 1);
            let (a, b) = (middles[k - 1], middles[k]);
            (k - 1) as f64 + (y - a) / (b - a)
        };
        let told = |p: Vector2<f64>| {
            let own = level(p.y);
            let off = (1.0 - (own - 8.0).abs() / 8.0).clamp(0.0, 0.6) / 0.6;
            let phase = std::f64::consts::TAU * own;
            Told {
                spine: 0.8,
                level: own - off,
                level_sd: 0.2,
                phase: Vector2::new(phase.cos(), phase.sin()) * 0.7,
            }
        };
        let held = [(middles[0], middles[0]), (end, end)];
        let found = told_along(told, &course, &pattern, &held);
        for (usual, at) in found {
            assert!((usual - at).abs() < 5.0, "{usual:.0} mm laid at {at:.0}");
        }
    }

    /// Where most of many vertebrae looked like the one below theirs, two were laid in the place of one at the end.
    #[test]
    fn two_vertebrae_are_not_laid_where_one_is() {
        // Middles every 20 steps. Nothing is told of some above, where there is room to stretch; of most below the next
        // one's place is likelier than their own, so that only two steps of half the length lead to the last.
        let usual = [20.0; 12];
        let own = |i: usize, k: usize| {
            let at = |place: usize| (-0.5 * ((k as f64 - place as f64) / 2.0).powi(2)).exp();
            let (own, next) = (at(20 * i + 10), at(20 * i + 30));
            match i {
                0 | 12 => 40.0 * own,
                1..=3 | 11 => 0.0,
                _ => 4.0 * own + 5.7 * next,
            }
        };
        let found = likeliest(280, &usual, own);
        let truth: Vec<usize> = (0..13).map(|i| 20 * i + 10).collect();
        assert_eq!(found, truth);
    }

    /// Hints so near each other that the spine has no room between them: all lie on the course, in order.
    #[test]
    fn a_course_too_short_for_its_vertebrae_ends_nothing() {
        let found = likeliest(5, &[20.0; 12], |_, _| 0.0);
        assert_eq!(found.len(), 13);
        assert!(found.windows(2).all(|w| w[0] <= w[1]) && found[12] < 5);
    }
}
