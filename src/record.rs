//! Keys, signatures, the roster's authority and approvals: who may say what, and whether they did.
//!
//! Pure functions over bytes and text. Files, clocks, prompts and agents are the callers' matter;
//! randomness is taken only where a key is made or sealed.

pub mod key;
pub mod namespaces;
pub mod sshsig;

pub use key::{KeyFault, KeyPair, PublicKey};
pub use namespaces::Namespace;
pub use sshsig::{SignatureFault, verify};
