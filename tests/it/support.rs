//! What several tests share.

pub(crate) mod disk;
pub(crate) mod generate;
