//! Files of a clip of which nobody knows where in it they begin: only what is the same in every piece can be said of them.

use std::sync::Arc;

use crate::annotation::{ClipFacts, Derived, Settled, Setup, Shot, Verdict};
use crate::track::Track;

/// Why a field of such a file is left out.
const REASON: &str =
    "it changes inside the clip, and where in the clip this file begins is not known";

/// What holds for files without a first frame; `None` where there are none, or where nothing changes.
pub(super) fn of(facts: &ClipFacts, setups: &Track<Setup>) -> Option<Box<Setup>> {
    if setups.is_constant() || facts.files.iter().all(|file| file.first_frame.is_some()) {
        return None;
    }
    let mut pieces = setups.pieces();
    let first = pieces.next()?.value.clone();
    Some(Box::new(pieces.fold(first, |same, piece| common(same, piece.value))))
}

fn settled<T: PartialEq + Clone>(a: Settled<T>, b: &Settled<T>) -> Settled<T> {
    if a == *b {
        return a;
    }
    Settled {
        verdict: Some(Verdict::Unresolved),
        value: None,
        recorded: None,
        reason: REASON.to_owned(),
    }
}

fn same<T: PartialEq>(a: Option<T>, b: Option<&T>) -> Option<T> {
    a.filter(|a| b == Some(a))
}

/// What two set-ups have in common.
fn common(a: Setup, b: &Setup) -> Setup {
    Setup {
        camera: same(a.camera, b.camera.as_ref()),
        mode: same(a.mode, b.mode.as_ref()),
        lens: settled(a.lens, &b.lens),
        lens_maker: same(a.lens_maker, b.lens_maker.as_ref()),
        lens_serial: same(a.lens_serial, b.lens_serial.as_ref()),
        lens_marks: same(a.lens_marks, b.lens_marks.as_ref()),
        squeeze: same(a.squeeze, b.squeeze.as_ref()),
        attachment: same(a.attachment, b.attachment.as_ref()),
        attachment_reason: if a.attachment_reason == b.attachment_reason {
            a.attachment_reason
        } else {
            REASON.to_owned()
        },
        magnification: same(a.magnification, b.magnification.as_ref()),
        glass: same(a.glass, b.glass.as_ref()),
        lens_focal: same(a.lens_focal, b.lens_focal.as_ref()),
        lens_f: same(a.lens_f, b.lens_f.as_ref()),
        lens_t: same(a.lens_t, b.lens_t.as_ref()),
        focal_length: settled(a.focal_length, &b.focal_length),
        f_number: settled(a.f_number, &b.f_number),
        t_number: settled(a.t_number, &b.t_number),
        focus_distance: settled(a.focus_distance, &b.focus_distance),
        distortion: same(a.distortion, b.distortion.as_ref()),
        derived: derived(Arc::unwrap_or_clone(a.derived), &b.derived).into(),
        slate: same(a.slate, b.slate.as_ref()),
        take: same(a.take, b.take.as_ref()),
        circled: same(a.circled, b.circled.as_ref()),
        attachment_secured: same(a.attachment_secured, b.attachment_secured.as_ref()),
        filter: same(a.filter, b.filter.as_ref()),
        density: same(a.density, b.density.as_ref()),
        shot: shot(a.shot, b.shot.as_deref()),
        remarks: same(a.remarks, b.remarks.as_ref()),
    }
}

fn shot(a: Option<Box<Shot>>, b: Option<&Shot>) -> Option<Box<Shot>> {
    if a.as_deref() == b {
        return a;
    }
    let a = a.map_or_else(Shot::default, |a| *a);
    let unsaid = Shot::default();
    let b = b.unwrap_or(&unsaid);
    Some(Box::new(Shot {
        iso: settled(a.iso, &b.iso),
        exposure_index: settled(a.exposure_index, &b.exposure_index),
        shutter_angle: settled(a.shutter_angle, &b.shutter_angle),
        exposure_time: settled(a.exposure_time, &b.exposure_time),
        white_balance: settled(a.white_balance, &b.white_balance),
        white_balance_mode: settled(a.white_balance_mode, &b.white_balance_mode),
        height: same(a.height, b.height.as_ref()),
        tilt: same(a.tilt, b.tilt.as_ref()),
        operator: same(a.operator, b.operator.as_ref()),
        assistants: same(a.assistants, b.assistants.as_ref()),
        unit: same(a.unit, b.unit.as_ref()),
        day: same(a.day, b.day.as_ref()),
    }))
}

fn derived(a: Derived, b: &Derived) -> Derived {
    Derived {
        back_width: same(a.back_width, b.back_width.as_ref()),
        back_height: same(a.back_height, b.back_height.as_ref()),
        pinhole: same(a.pinhole, b.pinhole.as_ref()),
        pupil_offset: same(a.pupil_offset, b.pupil_offset.as_ref()),
        angle_horizontal: same(a.angle_horizontal, b.angle_horizontal.as_ref()),
        angle_vertical: same(a.angle_vertical, b.angle_vertical.as_ref()),
        angle_diagonal: same(a.angle_diagonal, b.angle_diagonal.as_ref()),
        crop_width: same(a.crop_width, b.crop_width.as_ref()),
        crop_diagonal: same(a.crop_diagonal, b.crop_diagonal.as_ref()),
        equivalent: same(a.equivalent, b.equivalent.as_ref()),
        equivalent_by_width: same(a.equivalent_by_width, b.equivalent_by_width.as_ref()),
        light: same(a.light, b.light.as_ref()),
        image_circle: same(a.image_circle, b.image_circle.as_ref()),
        coverage: same(a.coverage, b.coverage.as_ref()),
        dark_corner: same(a.dark_corner, b.dark_corner.as_ref()),
        dark_corner_pixels: same(a.dark_corner_pixels, b.dark_corner_pixels.as_ref()),
        dark_sides: same(a.dark_sides, b.dark_sides.as_ref()),
        dark_sides_pixels: same(a.dark_sides_pixels, b.dark_sides_pixels.as_ref()),
        dark_top_bottom: same(a.dark_top_bottom, b.dark_top_bottom.as_ref()),
        dark_top_bottom_pixels: same(a.dark_top_bottom_pixels, b.dark_top_bottom_pixels.as_ref()),
        hyperfocal: same(a.hyperfocal, b.hyperfocal.as_ref()),
        near: same(a.near, b.near.as_ref()),
        far: same(a.far, b.far.as_ref()),
    }
}
