//! People's keys: in files, opened with a passphrase at every signature; or in a key agent, where the
//! key folder holds only the public half.

use std::path::{Path, PathBuf};

use zeroize::Zeroizing;

use crate::demo::HeldKey;
use crate::ids::PersonId;
use crate::ports::{Disk as _, DiskFault, SignError, Signer};
use crate::record::{KeyFault, KeyPair, PublicKey};
use crate::store::{AgentKey, OsDisk};

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
        match self.in_agent(person)? {
            Some(agent) => Ok(Box::new(agent)),
            None => open_file(&self.0.join(person.as_str()), passphrase),
        }
    }

    /// True where only the public half of the key of `person` lies in the folder.
    pub(super) fn is_in_agent(&self, person: &PersonId) -> bool {
        let is_there = |name: String| OsDisk.exists(&self.0.join(name)).unwrap_or(false);
        is_there(format!("{person}.pub")) && !is_there(person.to_string())
    }

    /// The key of `person` in a key agent, where the folder holds only its public half.
    pub(super) fn in_agent(&self, person: &PersonId) -> Result<Option<AgentKey>, SignError> {
        let public = self.0.join(format!("{person}.pub"));
        let unreadable = |reason: String| SignError::KeyUnreadable { path: public.clone(), reason };
        if !self.is_in_agent(person) {
            return Ok(None);
        }
        let bytes = OsDisk
            .read(&public, KEY_LEN_BYTES_MAX)
            .map_err(|error| unreadable(error.to_string()))?;
        let key = PublicKey::parse(&String::from_utf8_lossy(&bytes))
            .map_err(|fault| unreadable(fault.to_string()))?;
        let socket = std::env::var_os("SSH_AUTH_SOCK").filter(|socket| !socket.is_empty());
        let socket = socket.ok_or_else(|| SignError::NoAgent {
            reason: "`SSH_AUTH_SOCK` is not set".to_owned(),
        })?;
        let agent = AgentKey { socket: PathBuf::from(socket), key };
        // Before anybody is asked for anything else.
        agent.look()?;
        Ok(Some(agent))
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
    let mode = OsDisk.open_to_others(path).map_err(|error| unreadable(error.to_string()))?;
    if let Some(mode) = mode {
        return Err(SignError::KeyOpenToOthers { path: path.to_owned(), mode });
    }
    match KeyPair::open(text, passphrase) {
        Ok(key) => Ok(key),
        Err(KeyFault::WrongPassphrase) => Err(SignError::WrongPassphrase),
        Err(fault) => Err(unreadable(fault.to_string())),
    }
}
