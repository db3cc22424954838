//! What the program needs of the world, as traits: the time, the disk, a key that signs.
//!
//! Holds no implementation. The real disk is `store`'s; tests bring their own of each.

pub mod disk;

use std::path::PathBuf;

use crate::ids::{BootClock, Moment};

pub use disk::{
    DirEntry, Disk, DiskAction, DiskError, DiskFault, FileKind, Lock, OpenFile, Overwrite,
};

/// The wall clock.
pub trait Clock: std::fmt::Debug {
    /// The time with its offset from UTC.
    fn now(&self) -> Moment;

    /// The clock that counts from the boot and that nobody can set, where there is one.
    fn boot(&self) -> Option<BootClock> {
        None
    }

    /// Lets time pass until this moment, if it is still ahead, and stands still there; with `None` it
    /// goes on. Clocks of played jobs do, so that a wait lasts as long as its script says; real ones
    /// leave it to the world.
    fn stand(&self, _at: Option<Moment>) {}

    /// A wait of so many seconds began. A clock that skips waits, for trying a job out by hand,
    /// moves on; every other takes no notice.
    fn wait_began(&self, _seconds: u64) {}
}

/// One person's key.
pub trait Signer {
    /// Signs `message` under `namespace` and returns the armoured SSHSIG.
    ///
    /// # Errors
    /// Why there is no signature. Nothing was signed then, and the job can be signed later.
    fn sign(&self, namespace: &str, message: &[u8]) -> Result<String, SignError>;
}

/// Why a signature was not made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SignError {
    /// The key file did not open with what was typed.
    #[error("the passphrase does not open this key; type it again, nothing has been signed")]
    WrongPassphrase,
    /// There is no key file.
    #[error(
        "there is no key at `{}`; make one with `ssh-keygen -t ed25519 -f {}`, \
         or name the right file",
        path.display(), path.display()
    )]
    NoKey {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// The key file is there and cannot be used.
    #[error(
        "the key at `{}` cannot be used: {reason}; mend the file or name another key",
        path.display()
    )]
    KeyUnreadable {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        reason: String,
    },
    /// Others than its owner may read the key file.
    #[error(
        "the key at `{}` can be read or changed by others than its owner (mode {mode:03o}), so \
         anybody on this computer could take it; close it with `chmod 600 {}`, and if others may \
         have copied it, make a new key",
        path.display(), path.display()
    )]
    KeyOpenToOthers {
        /// The file.
        path: PathBuf,
        /// Its permission bits.
        mode: u32,
    },
    /// No agent can be asked.
    #[error(
        "no key agent runs here ({reason}), and only the public half of the key is in the key \
         folder; start one with `eval $(ssh-agent)` and add the key with `ssh-add`, or put the \
         key file beside its `.pub` file"
    )]
    NoAgent {
        /// Why not.
        reason: String,
    },
    /// The agent has not this key.
    #[error(
        "the key agent does not hold the key {key}, or it is locked; add the key with `ssh-add`, \
         unlock the agent with `ssh-add -X`, then sign again"
    )]
    AgentLacksKey {
        /// The fingerprint of the key.
        key: String,
    },
    /// An agent's signature does not show that its owner was there.
    #[error(
        "presence not proven: an agent signs with {key} whether its owner is there or not, and a \
         release needs its owner; sign with the key file and its passphrase, or with a touch key \
         (`ssh-keygen -t ed25519-sk`)"
    )]
    PresenceNotProven {
        /// The fingerprint of the key.
        key: String,
    },
    /// The agent did not sign.
    #[error(
        "the key agent did not sign: {reason}; add the key with `ssh-add`, or sign with the key file"
    )]
    Agent {
        /// What the agent said, or why it was not reached.
        reason: String,
    },
}
