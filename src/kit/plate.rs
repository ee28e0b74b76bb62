//! Plates: the part of a recording that is cut out, and perhaps resized, for VFX.

use std::sync::Arc;

use super::read::{Reader, Section};
use crate::sourced::Origin;
use crate::units::{Factor, Raster};

/// A plate. A resize keeps the film back; a crop cuts it.
#[derive(Clone, Debug, PartialEq)]
pub struct Plate {
    /// Id.
    pub id: String,
    /// Recorded pixels kept.
    pub crop: Raster,
    /// Pixels left of the crop and above it.
    pub offset: Option<(u32, u32)>,
    /// What the crop was resized to.
    pub size: Option<Raster>,
    /// Anamorphic squeeze that was taken out of the picture.
    pub squeeze: Option<Factor>,
    /// The plate itself in the kit.
    pub origin: Origin,
}

impl Plate {
    pub(super) fn read(section: &Section<'_>, reader: &mut Reader<'_>) -> Option<Self> {
        let id = section.text("id", reader);
        let crop = section.raster("crop", reader);
        let offset = section.corner("offset", reader);
        let size = section.raster("size", reader);
        let squeeze = section.number("squeeze", reader).and_then(Factor::new);
        section.close(reader);
        let origin = Origin::Kit { key: Arc::from(section.path()) };
        Some(Self { id: id?, crop: crop?, offset, size, squeeze, origin })
    }
}
