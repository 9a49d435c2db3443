//! Rectangles of values in memory: one plane, and a picture of three.

/// A rectangle of values, row after row, without padding.
#[derive(Clone, Debug, PartialEq)]
pub struct Plane<T> {
    width: usize,
    height: usize,
    values: Vec<T>,
}

impl<T: Copy> Plane<T> {
    /// A plane of one value everywhere.
    #[must_use]
    pub fn filled(width: usize, height: usize, value: T) -> Self {
        Self {
            width,
            height,
            values: vec![value; width * height],
        }
    }

    /// A plane from its values, row after row; `None` when their number is not `width * height`.
    #[must_use]
    pub fn from_values(width: usize, height: usize, values: Vec<T>) -> Option<Self> {
        (width.checked_mul(height)? == values.len()).then_some(Self {
            width,
            height,
            values,
        })
    }

    /// Values in a row.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// Rows.
    #[must_use]
    pub fn height(&self) -> usize {
        self.height
    }

    /// All values, row after row.
    #[must_use]
    pub fn values(&self) -> &[T] {
        &self.values
    }

    /// All values, row after row, to be changed.
    pub fn values_mut(&mut self) -> &mut [T] {
        &mut self.values
    }

    /// One row. Panics when `y` is not below the height: callers iterate over their own rows.
    #[must_use]
    pub fn row(&self, y: usize) -> &[T] {
        &self.values[y * self.width..][..self.width]
    }

    /// One row, to be changed. Panics when `y` is not below the height.
    pub fn row_mut(&mut self, y: usize) -> &mut [T] {
        let width = self.width;
        &mut self.values[y * width..][..width]
    }

    /// The value at column `x`, row `y`. Panics outside the plane.
    #[must_use]
    pub fn at(&self, x: usize, y: usize) -> T {
        self.row(y)[x]
    }

    /// The values, given up.
    #[must_use]
    pub fn into_values(self) -> Vec<T> {
        self.values
    }
}

/// Three planes of one size: red, green, blue, linear light unless a function says otherwise.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// Red, green, blue.
    pub planes: [Plane<f32>; 3],
}

impl Picture {
    /// A picture of one colour everywhere.
    #[must_use]
    pub fn filled(width: usize, height: usize, colour: [f32; 3]) -> Self {
        Self {
            planes: colour.map(|value| Plane::filled(width, height, value)),
        }
    }

    /// Columns.
    #[must_use]
    pub fn width(&self) -> usize {
        self.planes[0].width()
    }

    /// Rows.
    #[must_use]
    pub fn height(&self) -> usize {
        self.planes[0].height()
    }

    /// The colour at column `x`, row `y`. Panics outside the picture.
    #[must_use]
    pub fn at(&self, x: usize, y: usize) -> [f32; 3] {
        [
            self.planes[0].at(x, y),
            self.planes[1].at(x, y),
            self.planes[2].at(x, y),
        ]
    }
}
