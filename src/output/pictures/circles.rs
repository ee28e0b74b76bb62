//! The set-ups of a shoot in their image circles: as many drawings as there are rows of three, all at one scale.

use super::numbered;
use crate::output::drawing::Drawing;
use crate::output::picture::{ACROSS, Picture, Scale, drawing};

pub(super) fn drawings(picture: &Picture) -> Vec<Drawing> {
    let scale = Scale::of(&picture.scenes);
    let bands: Vec<_> = picture.scenes.chunks(ACROSS).collect();
    let of = bands.len();
    let bands = bands.into_iter().enumerate().map(|(at, scenes)| Picture {
        title: numbered(&picture.title, at, of),
        scenes: scenes.to_vec(),
    });
    bands.map(|band| drawing(&band, scale)).collect()
}
