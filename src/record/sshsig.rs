//! OpenSSH signatures (SSHSIG), byte for byte as `ssh-keygen -Y sign` writes them.
//!
//! One signature, one key, one namespace, one message. Who the key belongs to and whether they had
//! the right to sign is [`super::roster`]'s and [`super::statement`]'s matter.

use ssh_key::{Algorithm, HashAlg, LineEnding, Signature, SshSig};

use super::key::{KeyPair, PublicKey};
use super::namespaces::Namespace;

/// The longest armoured signature that is read. One by an Ed25519 key takes some 310 bytes.
pub const ARMOUR_LEN_BYTES_MAX: usize = 4096;

/// How a message differs from the one that was signed, where that can be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Alteration {
    /// LF became CRLF.
    CarriageReturnsAdded,
    /// CRLF became LF.
    CarriageReturnsRemoved,
    /// A line end was added at the very end.
    LineEndAdded,
    /// The line end at the very end was removed.
    LineEndRemoved,
    /// A byte order mark was put in front.
    ByteOrderMarkAdded,
}

impl Alteration {
    /// What happened and how to put it right, for people.
    pub fn spoken(self) -> &'static str {
        match self {
            Self::CarriageReturnsAdded => {
                "only the line endings were changed (LF became CRLF). Restore the file from where \
                 it was written, or with `sed -i 's/\\r$//' FILE`; with git, keep `-text` for it \
                 in `.gitattributes`"
            }
            Self::CarriageReturnsRemoved => {
                "only the line endings were changed (CRLF became LF). Restore the file from where \
                 it was written; with git, keep `-text` for it in `.gitattributes`"
            }
            Self::LineEndAdded => {
                "only a line end was added at the end of the file, as editors do. Restore the \
                 file from where it was written, or cut the line end off"
            }
            Self::LineEndRemoved => {
                "only the line end at the end of the file is missing. Restore the file from where \
                 it was written, or add the line end"
            }
            Self::ByteOrderMarkAdded => {
                "only a byte order mark was put in front, as some editors do. Restore the file \
                 from where it was written"
            }
        }
    }
}

/// Why a signature does not hold.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SignatureFault {
    /// Longer than any signature.
    #[error(
        "the signature is {0} bytes long and at most {ARMOUR_LEN_BYTES_MAX} are read: this is \
         something else"
    )]
    TooLong(usize),
    /// Not an armoured signature.
    #[error(
        "this is not an OpenSSH signature; it should begin with `-----BEGIN SSH SIGNATURE-----` \
         and be complete: look for the original file"
    )]
    NotASignature,
    /// Right but for its line endings.
    #[error(
        "only the line endings of the signature were changed (LF became CRLF). Restore the file \
         from where it was written, or with `sed -i 's/\\r$//' FILE`; with git, keep `-text` for \
         it in `.gitattributes`"
    )]
    ArmourLineEndings,
    /// Readable, but not written as a signature is written.
    #[error(
        "the signature is not written the way it was made: something was added to it or its \
         lines were broken anew. Look for the original file"
    )]
    NotCanonical,
    /// Made for another purpose.
    #[error(
        "the signature was made for another purpose: its namespace is `{found}` and `{wanted}` \
         is needed here"
    )]
    OtherNamespace {
        /// What the signature says.
        found: String,
        /// What is needed.
        wanted: &'static str,
    },
    /// Made with another key.
    #[error("the signature was made with the key {found}, not with {wanted}")]
    OtherKey {
        /// The fingerprint of the key that made it.
        found: String,
        /// The fingerprint of the key that was needed.
        wanted: String,
    },
    /// The message is not the one that was signed, and how it differs is known.
    #[error("the signed bytes are not as they were signed: {}", .0.spoken())]
    Altered(Alteration),
    /// By a touch key that was not touched.
    #[error(
        "presence not proven: the touch key signed without being touched; have it signed again, \
         with a key made without `no-touch-required`"
    )]
    NotTouched,
    /// The message is not the one that was signed.
    #[error(
        "the signature does not fit these bytes: they were changed after signing, or the \
         signature belongs to something else"
    )]
    Bad,
}

impl KeyPair {
    /// Signs `message`, armoured exactly as ssh-keygen writes it.
    pub fn sign(&self, namespace: Namespace, message: &[u8]) -> String {
        self.private()
            .sign(namespace.text(), HashAlg::Sha512, message)
            .and_then(|signature| signature.to_pem(LineEnding::LF))
            .expect("internal: an Ed25519 pair signs any bytes in a namespace that is not empty")
    }
}

/// Checks that `key` signed `message` for the purpose `namespace`.
///
/// # Errors
/// The first of: no signature in its canonical form, another purpose, another key, other bytes.
pub fn verify(
    key: &PublicKey,
    namespace: Namespace,
    message: &[u8],
    armoured: &str,
) -> Result<(), SignatureFault> {
    let signature = parse(armoured)?;
    if signature.namespace() != namespace.text() {
        let found = signature.namespace().escape_debug().to_string();
        return Err(SignatureFault::OtherNamespace { found, wanted: namespace.text() });
    }
    if *signature.public_key() != key.data() {
        return Err(SignatureFault::OtherKey {
            found: signature.public_key().fingerprint(HashAlg::Sha256).to_string(),
            wanted: key.fingerprint(),
        });
    }
    let key = ssh_key::PublicKey::from(key.data());
    let holds = |bytes: &[u8]| key.verify(namespace.text(), bytes, &signature).is_ok();
    if holds(message) {
        return if is_touched(&signature) { Ok(()) } else { Err(SignatureFault::NotTouched) };
    }
    Err(alteration(message, holds).map_or(SignatureFault::Bad, SignatureFault::Altered))
}

/// False for a signature by a touch key whose token says that nobody was there.
fn is_touched(signature: &SshSig) -> bool {
    const USER_PRESENT: u8 = 1;
    // The signature of 64 bytes, flags, and a counter of 4 bytes.
    let flags = signature.signature_bytes().get(64).copied();
    signature.algorithm() != Algorithm::SkEd25519
        || flags.is_some_and(|flags| flags & USER_PRESENT != 0)
}

/// The bytes that an agent is given to sign `message` for the purpose `namespace`.
pub fn to_be_signed(namespace: Namespace, message: &[u8]) -> Vec<u8> {
    SshSig::signed_data(namespace.text(), HashAlg::Sha512, message)
        .expect("internal: no namespace of the table is empty")
}

/// What an agent answered, armoured; `None` when it is no signature of the kind of `key`.
pub fn armour(key: &PublicKey, namespace: Namespace, answered: &[u8]) -> Option<String> {
    let signature = Signature::try_from(answered).ok()?;
    let made = SshSig::new(key.data(), namespace.text(), HashAlg::Sha512, signature).ok()?;
    made.to_pem(LineEnding::LF).ok()
}

/// The key that a signature says it was made with; nothing is proved by it.
///
/// # Errors
/// Not a signature in its canonical form, or one by a key that cannot be used.
pub fn signing_key(armoured: &str) -> Result<PublicKey, SignatureFault> {
    PublicKey::of_data(parse(armoured)?.public_key()).ok().ok_or(SignatureFault::NotASignature)
}

fn parse(armoured: &str) -> Result<SshSig, SignatureFault> {
    if armoured.len() > ARMOUR_LEN_BYTES_MAX {
        return Err(SignatureFault::TooLong(armoured.len()));
    }
    match (SshSig::from_pem(armoured), canonical(armoured)) {
        (_, Some(signature)) => Ok(signature),
        _ if canonical(&armoured.replace("\r\n", "\n")).is_some() => {
            Err(SignatureFault::ArmourLineEndings)
        }
        (Ok(_), None) => Err(SignatureFault::NotCanonical),
        (Err(_), None) if canonical(&format!("{}\n", armoured.trim())).is_some() => {
            Err(SignatureFault::NotCanonical)
        }
        (Err(_), None) => Err(SignatureFault::NotASignature),
    }
}

/// The signature, when `armoured` is its one canonical text. The version number and the reserved
/// field are not among the signed bytes of every implementation, so they are written anew too.
fn canonical(armoured: &str) -> Option<SshSig> {
    let found = SshSig::from_pem(armoured).ok()?;
    let bytes = found.signature_bytes().to_vec();
    let algorithm = found.algorithm();
    if algorithm == Algorithm::Ed25519 && bytes.len() != 64 {
        return None;
    }
    let signature = Signature::new(algorithm, bytes).ok()?;
    let key = found.public_key().clone();
    let again = SshSig::new(key, found.namespace(), found.hash_alg(), signature).ok()?;
    let text = again.to_pem(LineEnding::LF).ok()?;
    (text == armoured).then_some(again)
}

/// Looks whether the message was only mangled on its way, as version control and editors do. The
/// signature stays refused; the answer is for the message to the person.
fn alteration(message: &[u8], holds: impl Fn(&[u8]) -> bool) -> Option<Alteration> {
    let mut tried: Vec<(Alteration, Vec<u8>)> = vec![
        (Alteration::CarriageReturnsAdded, without_carriage_returns(message)),
        (Alteration::CarriageReturnsRemoved, with_carriage_returns(message)),
        (Alteration::LineEndRemoved, [message, b"\n"].concat()),
    ];
    let cuts: [(Alteration, Option<&[u8]>); 3] = [
        (Alteration::LineEndAdded, message.strip_suffix(b"\n")),
        (Alteration::LineEndAdded, message.strip_suffix(b"\r\n")),
        (Alteration::ByteOrderMarkAdded, message.strip_prefix(b"\xef\xbb\xbf")),
    ];
    for (what, rest) in cuts {
        tried.extend(rest.map(|rest| (what, rest.to_vec())));
    }
    tried.into_iter().find(|(_, bytes)| bytes != message && holds(bytes)).map(|(what, _)| what)
}

fn without_carriage_returns(message: &[u8]) -> Vec<u8> {
    let mut next = message.iter().skip(1).map(Some).chain([None]);
    message
        .iter()
        .filter(|byte| !(next.next().flatten() == Some(&b'\n') && **byte == b'\r'))
        .copied()
        .collect()
}

fn with_carriage_returns(message: &[u8]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(message.len());
    for byte in message {
        if *byte == b'\n' && bytes.last() != Some(&b'\r') {
            bytes.push(b'\r');
        }
        bytes.push(*byte);
    }
    bytes
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const TEXT: &[u8] = b"one\ntwo\n";

    fn signed() -> (KeyPair, String) {
        let pair = KeyPair::from_seed(&[3; 32]);
        let armoured = pair.sign(Namespace::Release, TEXT);
        (pair, armoured)
    }

    fn check(message: &[u8], armoured: &str) -> Result<(), SignatureFault> {
        verify(&signed().0.public(), Namespace::Release, message, armoured)
    }

    #[test]
    fn what_was_signed_verifies_and_nothing_else_does() {
        let (_, armoured) = signed();
        assert!(armoured.starts_with("-----BEGIN SSH SIGNATURE-----\n"));
        assert!(armoured.ends_with("\n-----END SSH SIGNATURE-----\n"));
        assert_eq!(check(TEXT, &armoured), Ok(()));
        assert_eq!(check(b"one\ntwa\n", &armoured), Err(SignatureFault::Bad));
        assert_eq!(check(b"", &armoured), Err(SignatureFault::Bad));
    }

    #[test]
    fn another_purpose_and_another_key_are_named() {
        let (pair, armoured) = signed();
        let fault = verify(&pair.public(), Namespace::Hold, TEXT, &armoured).unwrap_err();
        assert_eq!(
            fault.to_string(),
            "the signature was made for another purpose: its namespace is \
             `release.v1@witnessmark` and `hold.v1@witnessmark` is needed here"
        );
        let other = KeyPair::from_seed(&[4; 32]).public();
        assert_eq!(
            verify(&other, Namespace::Release, TEXT, &armoured),
            Err(SignatureFault::OtherKey {
                found: pair.public().fingerprint(),
                wanted: other.fingerprint(),
            })
        );
    }

    #[test]
    fn mangled_messages_are_refused_and_the_mangling_is_named() {
        let (_, armoured) = signed();
        for (message, what) in [
            (&b"one\r\ntwo\r\n"[..], Alteration::CarriageReturnsAdded),
            (b"one\ntwo\n\n", Alteration::LineEndAdded),
            (b"one\ntwo\n\r\n", Alteration::LineEndAdded),
            (b"one\ntwo", Alteration::LineEndRemoved),
            (b"\xef\xbb\xbfone\ntwo\n", Alteration::ByteOrderMarkAdded),
        ] {
            assert_eq!(check(message, &armoured), Err(SignatureFault::Altered(what)));
        }
        let (pair, _) = signed();
        let crlf = pair.sign(Namespace::Release, b"one\r\ntwo\r\n");
        assert_eq!(
            check(TEXT, &crlf),
            Err(SignatureFault::Altered(Alteration::CarriageReturnsRemoved))
        );
    }

    #[test]
    fn composed_and_decomposed_letters_stay_different_bytes() {
        let (pair, _) = signed();
        let (composed, decomposed) = ("Bj\u{f6}rn".as_bytes(), "Bjo\u{308}rn".as_bytes());
        let armoured = pair.sign(Namespace::Release, composed);
        assert_eq!(check(composed, &armoured), Ok(()));
        assert_eq!(check(decomposed, &armoured), Err(SignatureFault::Bad));
    }

    #[test]
    fn armour_has_one_form() {
        let (_, armoured) = signed();
        let crlf = armoured.replace('\n', "\r\n");
        assert_eq!(check(TEXT, &crlf), Err(SignatureFault::ArmourLineEndings));
        for text in [
            format!("{armoured}\n"),
            format!(" {armoured}"),
            armoured.trim_end().to_owned(),
            format!("a note\n{armoured}"),
        ] {
            let fault = check(TEXT, &text).unwrap_err();
            assert!(
                matches!(fault, SignatureFault::NotCanonical | SignatureFault::NotASignature),
                "{fault:?} for {text:?}"
            );
        }
        assert_eq!(check(TEXT, "no signature"), Err(SignatureFault::NotASignature));
        assert_eq!(check(TEXT, armoured.split_at(100).0), Err(SignatureFault::NotASignature));
        let long = "-".repeat(ARMOUR_LEN_BYTES_MAX + 1);
        assert_eq!(check(TEXT, &long), Err(SignatureFault::TooLong(long.len())));
    }

    #[test]
    fn another_version_number_is_not_the_same_signature() {
        // The version stands outside the signed bytes: `U1NIU0lHAAAAAQ` is `SSHSIG` and 1.
        let (_, armoured) = signed();
        let zero = armoured.replace("U1NIU0lHAAAAAQ", "U1NIU0lHAAAAAA");
        assert_ne!(zero, armoured);
        assert_eq!(check(TEXT, &zero), Err(SignatureFault::NotCanonical));
    }

    proptest! {
        #[test]
        fn no_text_makes_verify_panic_or_succeed(text in "\\PC{0,300}") {
            prop_assert!(check(TEXT, &text).is_err());
            let wrapped = format!(
                "-----BEGIN SSH SIGNATURE-----\n{text}\n-----END SSH SIGNATURE-----\n"
            );
            prop_assert!(check(TEXT, &wrapped).is_err());
        }

        #[test]
        fn one_changed_byte_of_armour_never_verifies(at in 0usize..310, byte in 0u8..128) {
            let (_, armoured) = signed();
            let mut bytes = armoured.clone().into_bytes();
            let at = at % bytes.len();
            prop_assume!(bytes[at] != byte);
            bytes[at] = byte;
            prop_assert!(check(TEXT, std::str::from_utf8(&bytes).unwrap()).is_err());
        }

        #[test]
        fn any_bytes_can_be_signed(message in proptest::collection::vec(any::<u8>(), 0..300)) {
            let (pair, _) = signed();
            let armoured = pair.sign(Namespace::Session, &message);
            prop_assert_eq!(
                verify(&pair.public(), Namespace::Session, &message, &armoured), Ok(())
            );
        }
    }
}
