//! Files: the real disk, the shop's and the jobs' folders, locks, and the journal on the disk.
//!
//! The only module that touches files, and only through [`crate::ports::Disk`]. What stands in the
//! files is the business of `journal` and `record`.

pub mod agent;
pub mod clock;
pub mod disk;
pub mod folder;
pub mod inner_path;
pub mod job_folder;
pub mod journal_writer;
pub mod lock;
pub mod shop_folder;
pub mod sums;

use std::path::PathBuf;

use crate::journal::{LineFault, ScanError};
use crate::ports::DiskError;

pub use agent::AgentKey;
pub use clock::SystemClock;
pub use disk::OsDisk;
pub use folder::load_folder;
pub use inner_path::InnerPath;
pub use job_folder::JobFolder;
pub use journal_writer::{JournalWriter, Recovery, TornTail};
pub use shop_folder::ShopFolder;

/// Why something in a shop's or job's folder could not be read or saved.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The disk did not do it.
    #[error(transparent)]
    Disk(#[from] DiskError),
    /// The journal cannot be used as it stands.
    #[error("`{}`: {source}", path.display())]
    Journal {
        /// The journal.
        path: PathBuf,
        /// What is wrong with it.
        source: ScanError,
    },
    /// Somebody else works in the folder.
    #[error(
        "`{}` is in use by another witnessmark on this computer; close it there, or wait until it \
         is done, then try again",
        path.display()
    )]
    InUse {
        /// The folder.
        path: PathBuf,
    },
    /// There is no journal where one should be.
    #[error(
        "there is no journal at `{}`; check that this is a job's folder, and if it is, bring the \
         journal back from a copy",
        path.display()
    )]
    NoJournal {
        /// Where it should be.
        path: PathBuf,
    },
    /// A job folder outside a shop, which can be looked at and not worked on.
    #[error(
        "`{}` is a copy outside a shop and can only be looked at; work on the job in the shop's \
         own `jobs` folder",
        path.display()
    )]
    OutsideShop {
        /// The folder.
        path: PathBuf,
    },
    /// A path that would lead out of the folder.
    #[error(
        "`{}` is not a path inside the folder; it must be relative, without `..`, `.` or empty words",
        path.escape_debug()
    )]
    LeadsOut {
        /// The path as it was written.
        path: String,
    },
    /// A name that is not text.
    #[error("`{}` has a name that is not UTF-8; rename it or take it out of the folder", path.display())]
    NameNotText {
        /// The file.
        path: PathBuf,
    },
    /// The folder holds more than is read.
    #[error("`{}` holds too many files or folders in folders; take out what does not belong to the job", path.display())]
    TooMuch {
        /// The folder.
        path: PathBuf,
    },
    /// An entry that the journal could not be read back with.
    #[error("entry {n} was not saved, because it could not be read back: {source}")]
    Unreadable {
        /// Its number.
        n: u64,
        /// What reading it back would say.
        source: LineFault,
    },
    /// The journal is as long as it may be.
    #[error(
        "`{}` is full; release or stop this job and go on in a new one",
        path.display()
    )]
    JournalFull {
        /// The journal.
        path: PathBuf,
    },
    /// An entry out of its order; a fault of the program.
    #[error(
        "entry {found} was not saved, because entry {wanted} belongs there; please report this"
    )]
    OutOfOrder {
        /// The number that belongs there.
        wanted: u64,
        /// The number that was given.
        found: u64,
    },
    /// An earlier save failed and has not been put right.
    #[error("nothing more can be saved in `{}` until the save that failed is tried again", path.display())]
    NotSaved {
        /// The journal.
        path: PathBuf,
    },
    /// What was saved earlier is no longer there as it was.
    #[error(
        "`{}` was changed by something else while the job was open; close the job, and bring the \
         journal back from a copy",
        path.display()
    )]
    ChangedOutside {
        /// The journal.
        path: PathBuf,
    },
}
