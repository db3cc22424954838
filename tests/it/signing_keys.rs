//! Signing when the key is not ready: each case has its own sentence with the next thing to do, and
//! nothing is signed by it. Agents are real ones, and one of the test's own that holds a touch key.

#![expect(clippy::big_endian_bytes, reason = "the agent protocol counts so")]

use std::io::{Read as _, Write as _};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::UnixListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread::JoinHandle;

use ssh_key::public::{KeyData, SkEd25519};
use ssh_key::sha2::{Digest as _, Sha256};
use ssh_key::{PrivateKey, Signature, SigningKey};
use tempfile::TempDir;
use witnessmark::ports::{SignError, Signer as _};
use witnessmark::record::{Namespace, PublicKey, verify};
use witnessmark::store::AgentKey;

const MESSAGE: &[u8] = b"{\"values\":[\"2.50\",\"-0\"]}";

fn said(error: &SignError) -> String {
    error.to_string()
}

/// An agent that ends with the test.
struct Agent {
    dir: TempDir,
    child: Child,
}

impl Drop for Agent {
    fn drop(&mut self) {
        // Only the agent that this test started.
        let _gone = self.child.kill();
        let _status = self.child.wait();
    }
}

impl Agent {
    fn start() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let socket = dir.path().join("agent");
        let child = Command::new("ssh-agent")
            .arg("-D")
            .arg("-a")
            .arg(&socket)
            .stdout(Stdio::null())
            .spawn()
            .unwrap_or_else(|e| panic!("this test needs `ssh-agent` of OpenSSH: {e}"));
        let agent = Self { dir, child };
        // It is there once it answers; 1 is its answer when it holds no key.
        while agent.add(&["-l"]) != 1 {
            std::thread::yield_now();
        }
        agent
    }

    fn socket(&self) -> PathBuf {
        self.dir.path().join("agent")
    }

    /// Runs `ssh-add`, with `words` wherever it asks for a passphrase.
    fn add(&self, arguments: &[&str]) -> i32 {
        let ask = self.dir.path().join("ask");
        std::fs::write(&ask, "#!/bin/sh\necho words\n").unwrap();
        std::fs::set_permissions(&ask, PermissionsExt::from_mode(0o700)).unwrap();
        let status = Command::new("ssh-add")
            .args(arguments)
            .env("SSH_AUTH_SOCK", self.socket())
            .env("SSH_ASKPASS", &ask)
            .env("SSH_ASKPASS_REQUIRE", "force")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status();
        status.unwrap().code().unwrap_or(-1)
    }

    /// A new key, and its public half.
    fn new_key(&self, name: &str) -> (PathBuf, PublicKey) {
        let path = self.dir.path().join(name);
        let made = Command::new("ssh-keygen")
            .args(["-q", "-t", "ed25519", "-N", "", "-f"])
            .arg(&path)
            .status();
        assert!(made.unwrap().success());
        let public = std::fs::read_to_string(path.with_extension("pub")).unwrap();
        (path, PublicKey::parse(&public).unwrap())
    }
}

#[test]
fn o18_a_key_in_an_agent_identifies_and_does_not_release() {
    let agent = Agent::start();
    let (path, key) = agent.new_key("k");
    assert_eq!(agent.add(&[path.to_str().unwrap()]), 0);
    let held = AgentKey { socket: agent.socket(), key: key.clone() };
    let armoured = held.sign(Namespace::Session.text(), MESSAGE).unwrap();
    assert_eq!(verify(&key, Namespace::Session, MESSAGE, &armoured), Ok(()));
    let refused = held.sign(Namespace::Release.text(), MESSAGE).unwrap_err();
    assert!(said(&refused).starts_with("presence not proven"), "{refused}");
    assert!(said(&refused).contains("sign with the key file and its passphrase"), "{refused}");
    // Another person's key is not signed with in their place.
    let (_, other) = agent.new_key("other");
    let lacking = AgentKey { socket: agent.socket(), key: other };
    let refused = lacking.sign(Namespace::Session.text(), MESSAGE).unwrap_err();
    assert!(matches!(refused, SignError::AgentLacksKey { .. }), "{refused}");
    assert!(said(&refused).contains("`ssh-add`"), "{refused}");
}

#[test]
fn o18_a_locked_agent_and_one_that_has_ended_each_say_so() {
    let mut agent = Agent::start();
    let (path, key) = agent.new_key("k");
    assert_eq!(agent.add(&[path.to_str().unwrap()]), 0);
    let held = AgentKey { socket: agent.socket(), key };
    assert_eq!(agent.add(&["-x"]), 0);
    let refused = held.sign(Namespace::Session.text(), MESSAGE).unwrap_err();
    assert!(said(&refused).contains("unlock the agent with `ssh-add -X`"), "{refused}");
    assert_eq!(agent.add(&["-X"]), 0);
    assert!(held.sign(Namespace::Session.text(), MESSAGE).is_ok());
    agent.child.kill().unwrap();
    agent.child.wait().unwrap();
    let refused = held.sign(Namespace::Session.text(), MESSAGE).unwrap_err();
    assert!(matches!(refused, SignError::NoAgent { .. }), "{refused}");
    assert!(said(&refused).contains("eval $(ssh-agent)"), "{refused}");
}

fn raw<K: SigningKey>(key: &K, message: &[u8]) -> Signature {
    key.try_sign(message).unwrap()
}

fn put(out: &mut Vec<u8>, string: &[u8]) {
    out.extend(u32::try_from(string.len()).unwrap().to_be_bytes());
    out.extend(string);
}

fn take<'a>(bytes: &mut &'a [u8]) -> &'a [u8] {
    let (len, rest) = bytes.split_at(4);
    let len = u32::from_be_bytes(len.try_into().unwrap()) as usize;
    let (string, rest) = rest.split_at(len);
    *bytes = rest;
    string
}

/// A token as its maker builds it, behind an agent that answers one list and one request to sign.
fn touch_key(dir: &Path, flags: u8) -> (AgentKey, JoinHandle<()>) {
    let pair = PrivateKey::from(ssh_key::private::Ed25519Keypair::from_seed(&[11; 32]));
    let ed25519 = *pair.public_key().key_data().ed25519().unwrap();
    let public = ssh_key::PublicKey::from(KeyData::SkEd25519(SkEd25519::new(ed25519, "ssh:")));
    let key = PublicKey::parse(&public.to_openssh().unwrap()).unwrap();
    let socket = dir.join(format!("token-{flags}"));
    let listener = UnixListener::bind(&socket).unwrap();
    let blob = key.blob();
    let serve = move || {
        let (mut stream, _) = listener.accept().unwrap();
        loop {
            let mut len = [0; 4];
            if stream.read_exact(&mut len).is_err() {
                return;
            }
            let mut request = vec![0; u32::from_be_bytes(len) as usize];
            stream.read_exact(&mut request).unwrap();
            let mut answer = Vec::new();
            if request[0] == 11 {
                answer.extend([12, 0, 0, 0, 1]);
                put(&mut answer, &blob);
                put(&mut answer, b"a token");
            } else {
                let mut rest = &request[1..];
                assert_eq!(take(&mut rest), blob);
                let tail = [flags, 0, 0, 0, 9];
                let signed =
                    [&Sha256::digest(b"ssh:")[..], &tail, &Sha256::digest(take(&mut rest))]
                        .concat();
                let mut signature = Vec::new();
                put(&mut signature, b"sk-ssh-ed25519@openssh.com");
                put(&mut signature, raw(&pair, &signed).as_bytes());
                signature.extend(tail);
                answer.push(14);
                put(&mut answer, &signature);
            }
            let mut message = Vec::new();
            put(&mut message, &answer);
            stream.write_all(&message).unwrap();
        }
    };
    (AgentKey { socket, key }, std::thread::spawn(serve))
}

#[test]
fn sg5_a_touch_key_releases_when_it_was_touched_and_stock_ssh_keygen_agrees() {
    let dir = tempfile::tempdir().unwrap();
    let (held, served) = touch_key(dir.path(), 1);
    assert!(held.key.is_touch());
    let armoured = held.sign(Namespace::Release.text(), MESSAGE).unwrap();
    served.join().unwrap();
    assert_eq!(verify(&held.key, Namespace::Release, MESSAGE, &armoured), Ok(()));
    std::fs::write(dir.path().join("m.sig"), &armoured).unwrap();
    let list = format!("t.reiter {}\n", held.key);
    std::fs::write(dir.path().join("allowed"), list).unwrap();
    let mut stock = Command::new("ssh-keygen")
        .args(["-Y", "verify", "-f", "allowed", "-I", "t.reiter"])
        .args(["-n", Namespace::Release.text(), "-s", "m.sig"])
        .current_dir(dir.path())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    stock.stdin.take().unwrap().write_all(MESSAGE).unwrap();
    assert!(stock.wait().unwrap().success());
}

#[test]
fn sg5_a_touch_key_that_nobody_touched_proves_no_presence() {
    let dir = tempfile::tempdir().unwrap();
    let (held, served) = touch_key(dir.path(), 0);
    let refused = held.sign(Namespace::Release.text(), MESSAGE).unwrap_err();
    served.join().unwrap();
    assert!(said(&refused).starts_with("presence not proven"), "{refused}");
}

/// A demo shop, and `approve` in it by `a.salmela`.
struct Shop(TempDir);

impl Shop {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let made = Command::new(env!("CARGO_BIN_EXE_witnessmark"))
            .args(["demo", "--play", "--shop"])
            .arg(dir.path().join("shop"))
            .stdout(Stdio::null())
            .status();
        assert!(made.unwrap().success());
        Self(dir)
    }

    fn key(&self) -> PathBuf {
        self.0.path().join("shop/keys/a.salmela")
    }

    fn approve(&self, passphrase: &str, socket: Option<&Path>) -> (i32, String) {
        let mut command = Command::new(env!("CARGO_BIN_EXE_witnessmark"));
        command
            .args(["approve", "fluid_end_service", "--equipment", "marram_3_40"])
            .args(["--by", "a.salmela", "--shop"])
            .arg(self.0.path().join("shop"))
            .env_remove("SSH_AUTH_SOCK")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        if let Some(socket) = socket {
            command.env("SSH_AUTH_SOCK", socket);
        }
        let mut child = command.spawn().unwrap();
        let _unread = child.stdin.take().unwrap().write_all(passphrase.as_bytes());
        let output = child.wait_with_output().unwrap();
        (output.status.code().unwrap(), String::from_utf8_lossy(&output.stderr).into_owned())
    }
}

#[test]
fn o18_sg5_each_key_that_is_not_ready_has_its_own_sentence() {
    let shop = Shop::new();
    let (status, said) = shop.approve("wrong\n", None);
    assert_eq!(status, 3, "{said}");
    assert!(said.contains("passphrase does not open this key"), "{said}");
    // A key file that others may read.
    std::fs::set_permissions(shop.key(), PermissionsExt::from_mode(0o644)).unwrap();
    let (status, said) = shop.approve("wrong\n", None);
    assert_eq!(status, 3, "{said}");
    assert!(said.contains("(mode 644)") && said.contains("`chmod 600 "), "{said}");
    // A key without a passphrase.
    std::fs::remove_file(shop.key()).unwrap();
    let made = Command::new("ssh-keygen")
        .args(["-q", "-t", "ed25519", "-N", "", "-f"])
        .arg(shop.key())
        .stdin(Stdio::null())
        .status();
    assert!(made.unwrap().success() || shop.key().exists());
    let (status, said) = shop.approve("\n", None);
    assert_eq!(status, 3, "{said}");
    assert!(said.contains("the key has no passphrase"), "{said}");
    assert!(said.contains("`ssh-keygen -p -f FILE`"), "{said}");
    // Only the public half, and no agent, or one that is not there.
    std::fs::remove_file(shop.key()).unwrap();
    let (status, said) = shop.approve("\n", None);
    assert_eq!(status, 3, "{said}");
    assert!(said.contains("no key agent runs here (`SSH_AUTH_SOCK` is not set)"), "{said}");
    let (_, said) = shop.approve("\n", Some(Path::new("/nowhere/agent")));
    assert!(said.contains("`/nowhere/agent` does not answer"), "{said}");
    // Neither half.
    std::fs::remove_file(shop.key().with_file_name("a.salmela.pub")).unwrap();
    let (status, said) = shop.approve("\n", None);
    assert_eq!(status, 3, "{said}");
    assert!(
        said.contains("there is no key at") && said.contains("ssh-keygen -t ed25519"),
        "{said}"
    );
}
