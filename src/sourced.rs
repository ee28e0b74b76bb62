//! Values that remember where they came from and how far they can be trusted.

use std::sync::Arc;

use crate::estimate::{Cause, Estimate};
use crate::units::Unit;

/// Where a value was found, exactly enough to go and look.
#[derive(Clone, Debug, PartialEq)]
pub enum Origin {
    /// Read from a media file: its name in the dump, the path of the box or key, and the byte where it stands.
    Media {
        /// File, as a path inside the dump.
        file: Arc<str>,
        /// Path of the element, such as `moov/trak[1]/mdia/mdhd`.
        path: Arc<str>,
        /// First byte of the element in the file.
        offset: u64,
    },
    /// Typed in the lens notes.
    Note {
        /// Notes file.
        file: Arc<str>,
        /// Line of the row in that file, from 1.
        line: u64,
        /// Heading of the column as typed.
        heading: Arc<str>,
    },
    /// Stated in the kit file.
    Kit {
        /// Dotted path of the key, such as `lens.sorrel-50.focal`.
        key: Arc<str>,
    },
    /// Worked out by lensmend from other values; says by what rule.
    Computed(&'static str),
    /// Read from a name: a file's or a folder's.
    Name(Arc<str>),
    /// Given on the command line: the option.
    Asked(&'static str),
}

/// How a number is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// From a mark on a barrel, a data sheet or a note of such a mark.
    Nominal,
    /// From a measurement that somebody made and wrote down.
    Measured,
    /// Nobody said so; the usual case was taken, and the finding or the reason says which.
    Assumed,
    /// As the camera recorded it.
    Recorded,
}

impl Basis {
    /// The word used in every output.
    pub fn word(self) -> &'static str {
        match self {
            Self::Nominal => "nominal",
            Self::Measured => "measured",
            Self::Assumed => "assumed",
            Self::Recorded => "recorded",
        }
    }

    /// The weaker of two, for a result worked out from both.
    #[must_use]
    pub fn weaker(self, other: Self) -> Self {
        let strength = |basis| match basis {
            Self::Assumed => 0,
            Self::Nominal => 1,
            Self::Recorded => 2,
            Self::Measured => 3,
        };
        if strength(self) <= strength(other) { self } else { other }
    }
}

/// A value with its origin; for text, rasters, names and other things that are not numbers with a unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Sourced<T> {
    /// What it means.
    pub value: T,
    /// Where it was found.
    pub origin: Origin,
}

impl<T> Sourced<T> {
    /// `value`, found at `origin`.
    pub fn new(value: T, origin: Origin) -> Self {
        Self { value, origin }
    }

    /// The same origin with another value worked out from this one.
    pub fn map<U>(self, f: impl FnOnce(T) -> U) -> Sourced<U> {
        Sourced { value: f(self.value), origin: self.origin }
    }
}

/// A number with unit, standard uncertainty, basis and origin.
#[derive(Clone, Debug, PartialEq)]
pub struct Quantity<U> {
    /// The number in its unit.
    pub value: U,
    /// Standard uncertainty in the same unit (JCGM 100:2008, 2.3.1); `None` where nothing is known of it.
    pub uncertainty: Option<f64>,
    /// How it is known.
    pub basis: Basis,
    /// Where it was found.
    pub origin: Origin,
}

impl<U: Unit> Quantity<U> {
    /// How it is known, as far as that weakens what is worked out from it.
    pub fn binding(&self) -> Basis {
        binding(self.basis, self.uncertainty)
    }

    /// The number as an input of its own: off for `cause`, and for nothing else.
    pub fn estimate(&self, cause: Cause) -> Estimate<U> {
        Estimate::caused(self.value, cause, self.uncertainty)
    }

    /// The same, with how it is known.
    pub fn known(&self, cause: Cause) -> Known<U> {
        Known { estimate: self.estimate(cause), basis: self.basis, origin: self.origin.clone() }
    }

    /// Standard uncertainty as a part of the value; `None` where it is unknown or the value is infinite.
    pub fn relative(&self) -> Option<f64> {
        let part = self.uncertainty? / self.value.number().abs();
        part.is_finite().then_some(part)
    }
}

/// A number on its way to becoming a quantity: what may be wrong with it is still kept apart by cause, so that what
/// follows from it can be worked out rightly.
#[derive(Clone, Debug, PartialEq)]
pub struct Known<U> {
    /// The number in its unit, and how far it may be off.
    pub estimate: Estimate<U>,
    /// How it is known.
    pub basis: Basis,
    /// Where it was found.
    pub origin: Origin,
}

impl<U: Unit> Known<U> {
    /// A number worked out by `rule`.
    pub fn computed(estimate: Estimate<U>, basis: Basis, rule: &'static str) -> Self {
        Self { estimate, basis, origin: Origin::Computed(rule) }
    }

    /// How it is known, as far as that weakens what is worked out from it.
    pub fn binding(&self) -> Basis {
        binding(self.basis, self.estimate.uncertainty())
    }

    /// The finished quantity: its causes are summed up.
    pub fn quantity(&self) -> Quantity<U> {
        let Self { estimate, basis, origin } = self;
        // An infinite distance is written without an uncertainty.
        let uncertainty = estimate.uncertainty().filter(|_| estimate.value.number().is_finite());
        Quantity { value: estimate.value, uncertainty, basis: *basis, origin: origin.clone() }
    }
}

/// What is so by definition (a bare camera scales by exactly one) weakens nothing, unless somebody only took it to be so.
fn binding(basis: Basis, uncertainty: Option<f64>) -> Basis {
    match (basis, uncertainty) {
        (Basis::Nominal, Some(u)) if u <= 0.0 => Basis::Measured,
        (basis, _) => basis,
    }
}
