//! Keys, signatures, the roster's authority and approvals: who may say what, and whether they did;
//! the completion record, its verification and its report.
//!
//! Pure functions over bytes and text. Files, clocks, prompts and agents are the callers' matter;
//! randomness is taken only where a key is made or sealed.

pub mod allowed;
pub mod approvals;
pub mod closure;
pub mod completion;
pub mod files;
pub mod key;
pub mod namespaces;
pub mod recipe;
pub mod release;
pub mod replay;
pub mod report;
pub mod roster;
pub mod sshsig;
pub mod statement;
pub mod verify;

pub use allowed::allowed_signers;
pub use approvals::{Approval, ApprovalStatement, Approvals, FileKind, Subject};
pub use closure::{ApprovalFault, FileInHand, check_closure, not_effective};
pub use key::{KeyFault, KeyPair, PublicKey};
pub use namespaces::Namespace;
pub use recipe::recipe;
pub use release::Release;
pub use roster::{AuthorityFault, Grant, authority, check_people, check_roster};
pub use sshsig::{SignatureFault, verify};
pub use statement::{Expected, StatementFault, check_signed, signed_of};
pub use verify::{FolderBytes, Verification};
