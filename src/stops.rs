//! Stops: the engraved series of ISO 517 and the exact numbers behind the marks.
