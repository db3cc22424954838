//! People's keys in files, opened with a passphrase at every signature.

use std::path::{Path, PathBuf};

use zeroize::Zeroizing;

use crate::demo::HeldKey;
use crate::ids::PersonId;
use crate::ports::{Disk as _, DiskFault, SignError, Signer};
use crate::record::{KeyFault, KeyPair};
use crate::store::OsDisk;

const KEY_LEN_BYTES_MAX: u64 = 64 << 10;

/// The folder with a key file of each person's name.
#[derive(Debug, Clone)]
pub(super) struct KeyFolder(pub(super) PathBuf);

impl KeyFolder {
    /// The signer of `person`, opened with `passphrase`.
    pub(super) fn open(
        &self,
        person: &PersonId,
        passphrase: &Zeroizing<String>,
    ) -> Result<Box<dyn Signer>, SignError> {
        open_file(&self.0.join(person.as_str()), passphrase)
    }
}

/// Opens one key file.
pub(super) fn open_file(
    path: &Path,
    passphrase: &Zeroizing<String>,
) -> Result<Box<dyn Signer>, SignError> {
    Ok(Box::new(HeldKey(key_pair(path, passphrase)?)))
}

/// Reads one key file.
pub(super) fn key_pair(path: &Path, passphrase: &Zeroizing<String>) -> Result<KeyPair, SignError> {
    let unreadable = |reason: String| SignError::KeyUnreadable { path: path.to_owned(), reason };
    let bytes = match OsDisk.read(path, KEY_LEN_BYTES_MAX) {
        Ok(bytes) => Zeroizing::new(bytes),
        Err(error) if error.fault == DiskFault::NotThere => {
            return Err(SignError::NoKey { path: path.to_owned() });
        }
        Err(error) => return Err(unreadable(error.to_string())),
    };
    let text = std::str::from_utf8(&bytes)
        .map_err(|_not_text| unreadable("it is not a key in text form".to_owned()))?;
    match KeyPair::open(text, passphrase) {
        Ok(key) => Ok(key),
        Err(KeyFault::WrongPassphrase) => Err(SignError::WrongPassphrase),
        Err(fault) => Err(unreadable(fault.to_string())),
    }
}
