//! The one suite: what goes in, what must come out.
mod boxes;
mod embedded_xmp;
mod headers;
mod hostile_headers;
