//! What several tests share.

pub(crate) mod assembly;
pub(crate) mod bench;
pub(crate) mod csv;
pub(crate) mod disk;
pub(crate) mod generate;
pub(crate) mod procedures;
pub(crate) mod pty;
pub(crate) mod pure;
pub(crate) mod small_shop;
