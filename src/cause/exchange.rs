//! Contacts that sit in each other's places.

/// Gives every displaced contact the place of another, in as many circles as can be.
///
/// `takes[i]` lists the contacts whose place contact `i` may have taken. The result says for each contact whose place it
/// took; none where no arrangement gives every contact a place. Circles of two are preferred, since each costs one
/// exchange however many contacts there are.
pub(super) fn arrange(takes: &[Vec<usize>]) -> Option<Vec<usize>> {
    let n = takes.len();
    let mut taken_by: Vec<Option<usize>> = vec![None; n];
    let mut place: Vec<Option<usize>> = vec![None; n];
    for i in 0..n {
        if place[i].is_some() {
            continue;
        }
        let mutual = takes[i].iter().copied().find(|&j| j > i && place[j].is_none() && takes[j].contains(&i));
        if let Some(j) = mutual {
            (place[i], place[j]) = (Some(j), Some(i));
            (taken_by[j], taken_by[i]) = (Some(i), Some(j));
        }
    }
    for i in 0..n {
        if place[i].is_none() && !augment(i, takes, &mut place, &mut taken_by, &mut vec![false; n]) {
            return None;
        }
    }
    place.into_iter().collect()
}

/// One step of bipartite matching: finds a place for `i`, moving others on where they have another choice.
fn augment(
    i: usize,
    takes: &[Vec<usize>],
    place: &mut [Option<usize>],
    taken_by: &mut [Option<usize>],
    seen: &mut [bool],
) -> bool {
    for &j in &takes[i] {
        if std::mem::replace(&mut seen[j], true) {
            continue;
        }
        if taken_by[j].is_none_or(|other| augment(other, takes, place, taken_by, seen)) {
            place[i] = Some(j);
            taken_by[j] = Some(i);
            return true;
        }
    }
    false
}

/// The circles of an arrangement, each from its lowest member on.
pub(super) fn circles(place: &[usize]) -> Vec<Vec<usize>> {
    let mut seen = vec![false; place.len()];
    let mut circles = Vec::new();
    for start in 0..place.len() {
        let mut circle = Vec::new();
        let mut at = start;
        while !std::mem::replace(&mut seen[at], true) {
            circle.push(at);
            at = place[at];
        }
        if !circle.is_empty() {
            circles.push(circle);
        }
    }
    circles
}
