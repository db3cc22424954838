//! Keys in a key agent, asked over its socket (draft-miller-ssh-agent: messages 11 to 14).
//!
//! An agent signs without asking anybody, so its signatures do for a release only where the key is one
//! that is touched and the signature says that it was.

use std::io::{self, Read, Write};
use std::os::unix::net::UnixStream;
use std::path::PathBuf;
use std::time::Duration;

use crate::ports::{SignError, Signer};
use crate::record::sshsig::{self, armour, to_be_signed};
use crate::record::{Namespace, PublicKey, SignatureFault};

const REQUEST_IDENTITIES: u8 = 11;
const IDENTITIES_ANSWER: u8 = 12;
const SIGN_REQUEST: u8 = 13;
const SIGN_RESPONSE: u8 = 14;

/// The longest answer that is read; that of an agent with many keys has some kilobytes.
const ANSWER_LEN_BYTES_MAX: usize = 256 << 10;
/// How long a person may take to touch a key.
const PATIENCE: Duration = Duration::from_mins(1);

/// A key that an agent holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AgentKey {
    /// The agent's socket.
    pub socket: PathBuf,
    /// The public half.
    pub key: PublicKey,
}

impl Signer for AgentKey {
    fn sign(&self, namespace: &str, message: &[u8]) -> Result<String, SignError> {
        let refused = |reason: &str| SignError::Agent { reason: reason.to_owned() };
        let namespace =
            Namespace::parse(namespace).ok_or_else(|| refused("this is no purpose we know"))?;
        let not_proven = || SignError::PresenceNotProven { key: self.key.fingerprint() };
        if namespace == Namespace::Release && !self.key.is_touch() {
            return Err(not_proven());
        }
        let mut agent = self.look()?;
        let mut request = vec![SIGN_REQUEST];
        put(&mut request, &self.key.blob());
        put(&mut request, &to_be_signed(namespace, message));
        request.extend([0; 4]);
        let answer = ask(&mut agent, &request).map_err(|error| broken(&error))?;
        let Some((&SIGN_RESPONSE, mut rest)) = answer.split_first() else {
            return Err(refused("it refused, or the touch was not confirmed in time"));
        };
        let armoured = take(&mut rest)
            .and_then(|signature| armour(&self.key, namespace, signature))
            .ok_or_else(|| refused("what it answered is not a signature of this key"))?;
        // An agent is a program of somebody else's; what it says is looked at.
        match sshsig::verify(&self.key, namespace, message, &armoured) {
            Ok(()) => Ok(armoured),
            Err(SignatureFault::NotTouched) => Err(not_proven()),
            Err(fault) => Err(refused(&fault.to_string())),
        }
    }
}

fn broken(error: &io::Error) -> SignError {
    SignError::Agent { reason: error.to_string() }
}

impl AgentKey {
    /// Finds the agent, with the key in it.
    ///
    /// # Errors
    /// No agent answers, or it has not this key.
    pub fn look(&self) -> Result<UnixStream, SignError> {
        let mut agent = self.connect()?;
        let held = ask(&mut agent, &[REQUEST_IDENTITIES]).map_err(|error| broken(&error))?;
        if keys(&held).is_some_and(|keys| keys.contains(&self.key.blob().as_slice())) {
            Ok(agent)
        } else {
            Err(SignError::AgentLacksKey { key: self.key.fingerprint() })
        }
    }

    fn connect(&self) -> Result<UnixStream, SignError> {
        let connected = UnixStream::connect(&self.socket).and_then(|stream| {
            stream.set_read_timeout(Some(PATIENCE))?;
            stream.set_write_timeout(Some(PATIENCE))?;
            Ok(stream)
        });
        connected.map_err(|error| SignError::NoAgent {
            reason: format!("`{}` does not answer: {error}", self.socket.display()),
        })
    }
}

/// Sends one message and reads the answer to it.
fn ask(agent: &mut (impl Read + Write), request: &[u8]) -> io::Result<Vec<u8>> {
    let mut message = Vec::new();
    put(&mut message, request);
    agent.write_all(&message)?;
    let mut len = [0; 4];
    agent.read_exact(&mut len)?;
    let len = length(len);
    if len > ANSWER_LEN_BYTES_MAX {
        return Err(io::Error::other("the agent's answer is longer than any"));
    }
    let mut answer = vec![0; len];
    agent.read_exact(&mut answer)?;
    Ok(answer)
}

/// The public keys in an answer to [`REQUEST_IDENTITIES`]; `None` when it is none.
fn keys(answer: &[u8]) -> Option<Vec<&[u8]>> {
    let (&IDENTITIES_ANSWER, rest) = answer.split_first()? else { return None };
    let (count, mut rest) = rest.split_first_chunk()?;
    let mut keys = Vec::new();
    for _ in 0..length(*count) {
        keys.push(take(&mut rest)?);
        // The comment.
        take(&mut rest)?;
    }
    Some(keys)
}

#[expect(clippy::big_endian_bytes, reason = "the protocol's lengths are big-endian")]
fn length(bytes: [u8; 4]) -> usize {
    usize::try_from(u32::from_be_bytes(bytes)).unwrap_or(usize::MAX)
}

/// Takes a string with its length in front.
fn take<'a>(bytes: &mut &'a [u8]) -> Option<&'a [u8]> {
    let (len, rest) = bytes.split_first_chunk()?;
    let (string, rest) = rest.split_at_checked(length(*len))?;
    *bytes = rest;
    Some(string)
}

/// Adds a string with its length in front.
#[expect(clippy::big_endian_bytes, reason = "the protocol's lengths are big-endian")]
fn put(out: &mut Vec<u8>, string: &[u8]) {
    let len = u32::try_from(string.len()).unwrap_or(u32::MAX);
    out.extend(len.to_be_bytes());
    out.extend(string);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strings_are_read_within_their_bounds() {
        let mut bytes = Vec::new();
        put(&mut bytes, b"ab");
        assert_eq!(bytes, [0, 0, 0, 2, b'a', b'b']);
        let mut rest = bytes.as_slice();
        assert_eq!(take(&mut rest), Some(b"ab".as_slice()));
        assert_eq!(take(&mut rest), None);
        assert_eq!(take(&mut [0xff, 0xff, 0xff, 0xff, 1].as_slice()), None);
    }

    #[test]
    fn an_answer_with_more_keys_than_it_holds_is_none() {
        let mut answer = vec![IDENTITIES_ANSWER, 0, 0, 0, 1];
        put(&mut answer, b"key");
        put(&mut answer, b"comment");
        assert_eq!(keys(&answer), Some(vec![b"key".as_slice()]));
        answer[4] = 2;
        assert_eq!(keys(&answer), None);
        assert_eq!(keys(&[5]), None);
        assert_eq!(keys(&[]), None);
    }
}
