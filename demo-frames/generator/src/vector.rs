//! Points and directions in stage space.
//!
//! Stage space is metres, right handed: x to the audience's right, y up from the stage floor, z towards the audience.
//! Only operations that IEEE 754 fixes to the last bit are used here (`sqrt` is one of them); everything
//! transcendental in this crate goes through `libm`, so that a show has the same bytes on every machine.

use std::ops::{Add, Mul, Neg, Sub};

/// A point or direction.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Vector {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) z: f64,
}

/// Shorthand for building a [`Vector`].
pub(crate) const fn vector(x: f64, y: f64, z: f64) -> Vector {
    Vector { x, y, z }
}

impl Vector {
    pub(crate) fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y + self.z * other.z
    }

    pub(crate) fn cross(self, other: Self) -> Self {
        vector(
            self.y * other.z - self.z * other.y,
            self.z * other.x - self.x * other.z,
            self.x * other.y - self.y * other.x,
        )
    }

    pub(crate) fn length(self) -> f64 {
        self.dot(self).sqrt()
    }

    /// Unit vector of the same direction; the zero vector stays what it is.
    pub(crate) fn unit(self) -> Self {
        let length = self.length();
        if length > 0.0 {
            self * (1.0 / length)
        } else {
            self
        }
    }

    /// The point a share of the way to another: 0 here, 1 there.
    pub(crate) fn towards(self, other: Self, share: f64) -> Self {
        self + (other - self) * share
    }
}

impl Add for Vector {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        vector(self.x + other.x, self.y + other.y, self.z + other.z)
    }
}

impl Sub for Vector {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        vector(self.x - other.x, self.y - other.y, self.z - other.z)
    }
}

impl Mul<f64> for Vector {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        vector(self.x * factor, self.y * factor, self.z * factor)
    }
}

impl Neg for Vector {
    type Output = Self;
    fn neg(self) -> Self {
        vector(-self.x, -self.y, -self.z)
    }
}

/// A place with three right-angled unit axes: an object's own space.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Place {
    pub(crate) origin: Vector,
    pub(crate) right: Vector,
    pub(crate) up: Vector,
    pub(crate) front: Vector,
}

impl Place {
    /// Stage space itself.
    pub(crate) const STAGE: Self = Self {
        origin: vector(0.0, 0.0, 0.0),
        right: vector(1.0, 0.0, 0.0),
        up: vector(0.0, 1.0, 0.0),
        front: vector(0.0, 0.0, 1.0),
    };

    /// Looking along `front`, with `up` as near to the given one as a right angle allows.
    pub(crate) fn facing(origin: Vector, front: Vector, up: Vector) -> Self {
        let front = front.unit();
        let right = up.cross(front).unit();
        Self {
            origin,
            right,
            up: front.cross(right),
            front,
        }
    }

    /// Standing upright, turned by `yaw` radians to the audience's right.
    pub(crate) fn standing(origin: Vector, yaw: f64) -> Self {
        let front = vector(libm::sin(yaw), 0.0, libm::cos(yaw));
        Self::facing(origin, front, Self::STAGE.up)
    }

    /// From own coordinates to stage space.
    pub(crate) fn out(&self, own: Vector) -> Vector {
        self.origin + self.turn_out(own)
    }

    /// A direction from own axes to stage axes.
    pub(crate) fn turn_out(&self, own: Vector) -> Vector {
        self.right * own.x + self.up * own.y + self.front * own.z
    }

    /// From stage space to own coordinates.
    pub(crate) fn into_own(self, point: Vector) -> Vector {
        let from = point - self.origin;
        vector(
            from.dot(self.right),
            from.dot(self.up),
            from.dot(self.front),
        )
    }
}

/// 0 below `from`, 1 above `to`, smooth between (cubic Hermite).
pub(crate) fn smooth_step(from: f64, to: f64, at: f64) -> f64 {
    let t = ((at - from) / (to - from)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn own_space_and_back_is_the_same_point() {
        let place = Place::standing(vector(1.0, 2.0, -3.0), 0.7);
        let point = vector(0.3, -0.4, 5.0);
        let back = place.into_own(place.out(point));
        // Rounding of a handful of f64 operations on metres.
        assert!((back - point).length() < 1e-12);
    }
}
