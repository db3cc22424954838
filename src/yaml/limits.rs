//! How large and how deep a file may be. Checked before anything is built from it.

/// The largest file that is read, in bytes. The longest shop manual chapter as plain text is a
/// tenth of this.
pub const FILE_LEN_BYTES_MAX: usize = 1024 * 1024;

/// How deep mappings and lists may stand in each other. A section in a section in an exit's steps
/// needs about twenty.
pub const DEPTH_MAX: usize = 64;
