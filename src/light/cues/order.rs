//! The order of time.

/// Indices of the frames in the order of time. A frame without a time stands where its neighbours in its body's list stand;
/// a body without any time stands at the end.
#[must_use]
pub(super) fn in_time(bodies: &[usize], seconds: &[Option<f64>]) -> Vec<usize> {
    let count = bodies.iter().max().map_or(0, |most| most + 1);
    let mut stands: Vec<Option<f64>> = seconds.to_vec();
    let mut last = vec![None; count];
    for (&body, stands) in bodies.iter().zip(&mut stands) {
        *stands = stands.or(last[body]);
        last[body] = *stands;
    }
    // What comes before its body's first time stands with that.
    let mut next = vec![None; count];
    for (&body, stands) in bodies.iter().zip(&mut stands).rev() {
        *stands = stands.or(next[body]);
        next[body] = *stands;
    }
    let mut order: Vec<usize> = (0..bodies.len()).collect();
    order.sort_by(|&a, &b| {
        let key = |at: usize| stands[at].unwrap_or(f64::INFINITY);
        let time = key(a).total_cmp(&key(b));
        time.then(bodies[a].cmp(&bodies[b])).then(a.cmp(&b))
    });
    order
}

/// The times that tell something: not those of a show whose frames all have one and the same, which a copy or a lost clock
/// leaves behind. Read as times they would make the whole show one burst.
#[must_use]
pub(super) fn telling(seconds: &[Option<f64>]) -> Vec<Option<f64>> {
    let mut times = seconds.iter().flatten();
    let first = times.next();
    if first.is_some() && times.all(|time| Some(time) == first) {
        return vec![None; seconds.len()];
    }
    seconds.to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_time_for_all_tells_nothing() {
        assert_eq!(telling(&[Some(3.0), None, Some(3.0)]), [None; 3]);
        assert_eq!(telling(&[Some(3.0), Some(4.0)]), [Some(3.0), Some(4.0)]);
        assert!(telling(&[]).is_empty());
    }

    #[test]
    fn frames_without_a_time_stand_with_their_neighbours() {
        let bodies = [0, 0, 0, 1, 1, 2];
        let seconds = [None, Some(5.0), None, Some(1.0), Some(9.0), None];
        assert_eq!(in_time(&bodies, &seconds), [3, 0, 1, 2, 4, 5]);
        assert!(in_time(&[], &[]).is_empty());
    }
}
