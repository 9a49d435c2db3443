//! Change points of a series: where it is best cut, when every cut has a price.
//!
//! Optimal partitioning with pruning (PELT: Killick, Fearnhead and Eckley, "Optimal detection of changepoints with a linear
//! computational cost", J. Am. Stat. Assoc. 107:1590, 2012). The price may differ from place to place: a pause before a
//! frame makes a cut there likelier, a burst makes it less likely. Pruning stays exact with that, because the price belongs
//! to the place where a stretch begins, whatever follows.

/// Where pruning leaves more candidates than this, in a state that lasts for hundreds of frames, every second one of the
/// older half is dropped: they lie in one state, where a cut is not wanted. Keeps the work linear.
const MOST_CANDIDATES: usize = 512;

/// What it costs to take a stretch of a series for one state. Cutting a stretch must never make its parts dearer than it was.
pub(super) trait StretchCost {
    /// Length of the series.
    fn len(&self) -> usize;
    /// Cost of the stretch from one place to before another.
    fn of(&self, from: usize, to: usize) -> f64;
}

/// The best cuts of a series: places where a new stretch begins, in order, without its start; and what they and the
/// stretches cost together. `price` is asked for every place but the first.
#[must_use]
pub(super) fn change_points(
    cost: &impl StretchCost,
    price: impl Fn(usize) -> f64,
) -> (Vec<usize>, f64) {
    let len = cost.len();
    if len == 0 {
        return (Vec::new(), 0.0);
    }
    // What everything before a place costs, and the price of a stretch that begins there.
    let mut begun = vec![0.0];
    let mut starts = vec![0];
    let mut candidates = vec![0];
    let mut values = Vec::new();
    for end in 1..=len {
        values.clear();
        let (mut least, mut from) = (f64::INFINITY, 0);
        for &candidate in &candidates {
            let value = begun[candidate] + cost.of(candidate, end);
            if value < least {
                (least, from) = (value, candidate);
            }
            values.push(value);
        }
        starts.push(from);
        if end == len {
            return (cuts(&starts, len), least);
        }
        let begins = least + price(end);
        let mut at = 0;
        candidates.retain(|_| {
            at += 1;
            values[at - 1] < begins
        });
        if candidates.len() > MOST_CANDIDATES {
            let keep = candidates.len() - MOST_CANDIDATES / 2;
            // The first place always, and the latest.
            let mut at = 0;
            candidates.retain(|_| {
                at += 1;
                at == 1 || at > keep || at % 2 == 0
            });
        }
        candidates.push(end);
        begun.push(begins);
    }
    (Vec::new(), 0.0)
}

/// Walks back from the end.
fn cuts(starts: &[usize], len: usize) -> Vec<usize> {
    let mut cuts = Vec::new();
    let mut at = len;
    while starts[at] > 0 {
        at = starts[at];
        cuts.push(at);
    }
    cuts.reverse();
    cuts
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sum of squared distances from the mean, as the table's.
    struct Squares(Vec<[f64; 2]>);

    impl StretchCost for Squares {
        fn len(&self) -> usize {
            self.0.len()
        }

        fn of(&self, from: usize, to: usize) -> f64 {
            let count = (to - from) as f64;
            (0..2)
                .map(|axis| {
                    let values = || self.0[from..to].iter().map(|point| point[axis]);
                    let mean = values().sum::<f64>() / count;
                    values().map(|value| (value - mean).powi(2)).sum::<f64>()
                })
                .sum()
        }
    }

    /// tests/data/pelt_cues.json: results of ruptures 1.1.10 (`Pelt(model="l2", min_size=3, jump=1)`) on a synthetic track,
    /// with its own source line. Its least length of 3 does not matter at these penalties.
    #[test]
    fn a_published_implementation_cuts_at_the_same_places() {
        let text = include_str!("../../../tests/data/pelt_cues.json");
        let table: serde_json::Value = serde_json::from_str(text).expect("JSON");
        let signal: Vec<[f64; 2]> =
            serde_json::from_value(table["signal"].clone()).expect("points");
        let squares = Squares(signal);
        let results = table["results"].as_object().expect("results");
        let mut checked = 0;
        for (name, breaks) in results {
            let penalty: f64 = name.trim_start_matches("pen=").parse().expect("a number");
            if penalty < 0.05 {
                continue;
            }
            let mut wanted: Vec<usize> = serde_json::from_value(breaks.clone()).expect("places");
            assert_eq!(wanted.pop(), Some(squares.len()), "the end of the series");
            let (cuts, cost) = change_points(&squares, |_| penalty);
            assert_eq!(cuts, wanted, "{name}");
            let mut ends = cuts.clone();
            ends.push(squares.len());
            let mut from = 0;
            let mut sum = penalty * cuts.len() as f64;
            for end in ends {
                sum += squares.of(from, end);
                from = end;
            }
            assert!((sum - cost).abs() < 1e-9, "{name}: {sum} {cost}");
            checked += 1;
        }
        assert!(checked >= 4, "{checked}");
    }

    #[test]
    fn ends_of_series() {
        assert_eq!(
            change_points(&Squares(Vec::new()), |_| 1.0),
            (Vec::new(), 0.0)
        );
        let one = Squares(vec![[1.0, 2.0]]);
        assert_eq!(change_points(&one, |_| 1.0), (Vec::new(), 0.0));
        let two = Squares(vec![[0.0; 2], [10.0, 0.0]]);
        assert_eq!(change_points(&two, |_| 1.0), (vec![1], 1.0));
        assert!(change_points(&two, |_| 100.0).0.is_empty());
    }
}
