//! What a walk needs of the people's keys and of the release, as traits.
//!
//! Where keys lie and how a passphrase is typed is for those who implement them.

use zeroize::Zeroizing;

use super::Session;
use crate::ids::PersonId;
use crate::ports::{SignError, Signer};

/// Asks a person for the passphrase of their key.
pub trait Passphrases {
    /// The passphrase of `who`, asked for with the sentence `why`; `None` where none was given.
    fn ask(&mut self, who: &PersonId, why: &str) -> Option<Zeroizing<String>>;
}

/// The people's keys.
pub trait Keys {
    /// Opens the key of `person`.
    ///
    /// # Errors
    /// Why it cannot be used. Nothing was signed then.
    fn signer(
        &self,
        person: &PersonId,
        passphrase: Zeroizing<String>,
    ) -> Result<Box<dyn Signer>, SignError>;

    /// False where the key of `person` opens without a passphrase, so that none is asked for.
    fn asks_passphrase(&self, person: &PersonId) -> bool {
        let _ = person;
        true
    }
}

/// Writes, signs and checks the completion record.
pub trait Releaser {
    /// Releases the job as `person`, who has looked at `shown`, line by line. Returns what was
    /// written and how it is checked, a line each.
    ///
    /// # Errors
    /// Why the job is not released, as a sentence.
    fn release(
        &mut self,
        session: &mut Session,
        person: &PersonId,
        signer: &dyn Signer,
        shown: &[String],
    ) -> Result<Vec<String>, String>;
}
