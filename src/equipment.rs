//! Equipment files: what they hold, and reading them from YAML.

pub mod model;
