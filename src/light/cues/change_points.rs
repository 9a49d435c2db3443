//! Change points of a series: where it is best cut, when every cut has a price.
//!
//! Optimal partitioning with pruning (PELT: Killick, Fearnhead and Eckley, "Optimal detection of changepoints with a linear
//! computational cost", J. Am. Stat. Assoc. 107:1590, 2012). The price may differ from place to place: a pause before a
//! frame makes a cut there likelier, a burst makes it less likely. Pruning stays exact with that, because the price belongs
//! to the place where a stretch begins, whatever follows.

/// What it costs to take a stretch of a series for one state. Cutting a stretch must never make its parts dearer than it was.
pub trait StretchCost {
    /// Length of the series.
    fn len(&self) -> usize;
    /// Cost of the stretch from one place to before another.
    fn of(&self, from: usize, to: usize) -> f64;
}

/// The best cuts of a series: places where a new stretch begins, in order, without its start; and what they and the
/// stretches cost together. `price` is asked for every place but the first.
#[must_use]
pub fn change_points(cost: &impl StretchCost, price: impl Fn(usize) -> f64) -> (Vec<usize>, f64) {
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
