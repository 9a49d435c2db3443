//! Angles between lights: how far an estimated white is from the true one, whatever their brightness.

/// Recovery error: the angle in degrees between the true and the estimated light in camera RGB. It depends on the
/// colour of the light itself; prefer [`reproduction`]. NaN when a vector is zero or not finite.
#[must_use]
pub fn recovery(truth: [f64; 3], estimate: [f64; 3]) -> f64 {
    between(truth, estimate)
}

/// Reproduction error: the angle in degrees between a true white divided by the estimate, channel by channel, and
/// perfect grey (Finlayson and Zakizadeh, "Reproduction Angular Error", BMVC 2014). NaN when the estimate has a zero.
#[must_use]
pub fn reproduction(truth: [f64; 3], estimate: [f64; 3]) -> f64 {
    let rendered = [0, 1, 2].map(|channel| truth[channel] / estimate[channel]);
    between(rendered, [1.0; 3])
}

/// Angle by the half-angle tangent (Kahan): the arc cosine loses half the digits near 0 degrees.
fn between(one: [f64; 3], other: [f64; 3]) -> f64 {
    let length = |v: [f64; 3]| v.iter().map(|value| value * value).sum::<f64>().sqrt();
    let (one_length, other_length) = (length(one), length(other));
    let (mut apart, mut along) = ([0.0; 3], [0.0; 3]);
    for channel in 0..3 {
        let (unit, other_unit) = (one[channel] / one_length, other[channel] / other_length);
        apart[channel] = unit - other_unit;
        along[channel] = unit + other_unit;
    }
    (2.0 * length(apart).atan2(length(along))).to_degrees()
}
