//! What a camera report has beside the lens, taken apart.

use crate::annotation::Shot;
use crate::fields::Field;

use super::{Cells, Value, put, quantity, settled, settled_text, sourced};

/// Adds the fields. No `..`: a new member does not compile until it has a field.
pub(super) fn take(shot: &Shot, cells: &mut Cells) {
    let Shot {
        iso,
        exposure_index,
        shutter_angle,
        exposure_time,
        white_balance,
        white_balance_mode,
        height,
        tilt,
        operator,
        assistants,
        unit,
        day,
    } = shot;
    put(cells, Field::Iso, settled(iso));
    put(cells, Field::ExposureIndex, settled(exposure_index));
    put(cells, Field::ShutterAngle, settled(shutter_angle));
    put(cells, Field::ExposureTime, settled(exposure_time));
    put(cells, Field::WhiteBalance, settled(white_balance));
    put(cells, Field::WhiteBalanceMode, settled_text(white_balance_mode));
    put(cells, Field::LensHeight, quantity(height.as_ref()));
    put(cells, Field::Tilt, quantity(tilt.as_ref()));
    for (field, text) in [
        (Field::Operator, operator),
        (Field::Assistants, assistants),
        (Field::Unit, unit),
        (Field::Day, day),
    ] {
        put(cells, field, sourced(text.as_ref(), |text| Value::Text(text.clone())));
    }
}
