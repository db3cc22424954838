//! Stock ssh-keygen and this program agree, in both directions.

use std::fs;
use std::io::Write as _;
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use tempfile::TempDir;
use witnessmark::ids::{JobId, Name, PersonId, Revision, Role, Sha256};
use witnessmark::record::allowed::read::{Claimed, allows};
use witnessmark::record::{
    KeyFault, KeyPair, Namespace, PublicKey, SignatureFault, allowed_signers, recipe, verify,
};
use witnessmark::shop::model::{Person, Shop, ShopKind};
use witnessmark::source::{FileId, Span};
use zeroize::Zeroizing;

const MESSAGE: &[u8] = b"{\"values\":[\"2.50\",\"-0\"]}";

fn run(program: &str, folder: &Path, arguments: &[&str], stdin: &[u8]) -> Output {
    let mut child = Command::new(program)
        .args(arguments)
        .current_dir(folder)
        .env_clear()
        .env("PATH", std::env::var_os("PATH").unwrap_or_default())
        .env("TZ", "Australia/Sydney")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap_or_else(|fault| {
            panic!(
                "this test needs `{program}` and could not start it ({fault}); install OpenSSH's \
                 client tools (Debian: `apt install openssh-client`)"
            )
        });
    // A program that leaves before it has read everything is seen by its status.
    let _unread = child.stdin.take().unwrap().write_all(stdin);
    child.wait_with_output().unwrap()
}

fn ssh_keygen(folder: &Path, arguments: &[&str], stdin: &[u8]) -> Output {
    run("ssh-keygen", folder, arguments, stdin)
}

fn said(output: &Output) -> String {
    [&output.stdout[..], &output.stderr[..]].map(String::from_utf8_lossy).concat()
}

fn pair(name: &str) -> KeyPair {
    let mut seed = [2; 32];
    seed[..name.len()].copy_from_slice(name.as_bytes());
    KeyPair::from_seed(&seed)
}

fn person(name: &str, roles: &[Role]) -> Person {
    Person {
        id: PersonId::new(name).unwrap(),
        name: name.to_owned(),
        roles: roles.to_vec(),
        key: pair(name).public().text(),
        qualified_from: "2026-01-01".parse().unwrap(),
        qualified_until: "2026-12-31".parse().unwrap(),
        certificate: None,
        revoked: None,
        language: None,
        span: Span::new(FileId(0), 0, 0),
    }
}

fn shop() -> Shop {
    let mut gone = person("o.past", &[Role::Mechanic]);
    gone.revoked = Some("2026-06-01".parse().unwrap());
    Shop {
        id: Name::new("bench").unwrap(),
        title: "A bench".to_owned(),
        revision: Revision(3),
        kind: ShopKind::Demo,
        people: vec![
            person("t.lehrling", &[Role::Apprentice]),
            person("i.varga", &[Role::Mechanic]),
            person("a.writer", &[Role::Author]),
            gone,
        ],
        instruments: Vec::new(),
        machines: Vec::new(),
    }
}

/// A folder with the exported `allowed_signers`.
fn with_list() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let list = allowed_signers(&shop(), &pair("shop").public());
    fs::write(folder.path().join("allowed_signers"), list).unwrap();
    folder
}

/// What ssh-keygen says about a signature by `person` at `time` under the exported list.
fn judged(person: &str, namespace: Namespace, time: &str) -> Output {
    let folder = with_list();
    let signature = pair(person).sign(namespace, MESSAGE);
    fs::write(folder.path().join("m.sig"), signature).unwrap();
    let (namespace, time) = (namespace.text(), format!("verify-time={time}"));
    let arguments = [
        "-Y",
        "verify",
        "-f",
        "allowed_signers",
        "-I",
        person,
        "-n",
        namespace,
        "-O",
        &time,
        "-s",
        "m.sig",
    ];
    ssh_keygen(folder.path(), &arguments, MESSAGE)
}

const NOON: &str = "20260701120000Z";

#[test]
fn the_exported_list_lets_each_role_sign_what_it_may_and_nothing_else() {
    for shop_person in &shop().people[..3] {
        for namespace in Namespace::ALL {
            let may = namespace.roles().iter().any(|role| shop_person.roles.contains(role));
            let output = judged(shop_person.id.as_str(), namespace, NOON);
            assert_eq!(
                output.status.success(),
                may,
                "{} in {}: {}",
                shop_person.id,
                namespace.text(),
                said(&output)
            );
        }
    }
    for namespace in Namespace::ALL {
        let output = judged("shop", namespace, NOON);
        assert_eq!(output.status.success(), namespace.is_the_shops(), "{}", said(&output));
    }
}

#[test]
fn an_apprentices_release_is_refused_by_stock_ssh_keygen() {
    assert!(judged("t.lehrling", Namespace::Performed, NOON).status.success());
    let refused = judged("t.lehrling", Namespace::Release, NOON);
    assert!(!refused.status.success());
    assert!(said(&refused).contains("namespace"), "{}", said(&refused));
}

#[test]
fn the_exported_days_are_inclusive_and_in_utc_whatever_the_time_zone() {
    let at = |time: &str| judged("i.varga", Namespace::Release, time).status.success();
    assert!(!at("20251231235959Z"));
    assert!(at("20260101000000Z"));
    assert!(at("20261231235959Z"));
    assert!(!at("20270101000001Z"));
}

#[test]
fn a_revoked_person_is_not_in_the_list() {
    assert!(!judged("o.past", Namespace::Release, "20260301120000Z").status.success());
}

/// A key file of ours in `folder`, sealed.
fn sealed_file(folder: &Path, pair: &KeyPair, passphrase: &str) {
    let text = pair.seal(&Zeroizing::new(passphrase.to_owned())).unwrap();
    let path = folder.join("key");
    fs::write(&path, text.as_bytes()).unwrap();
    fs::set_permissions(&path, fs::Permissions::from_mode(0o600)).unwrap();
}

#[test]
fn our_sealed_key_is_opened_by_ssh_keygen_and_signs_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let ours = pair("i.varga");
    sealed_file(folder.path(), &ours, "four quiet valves");
    let wrong = ssh_keygen(folder.path(), &["-y", "-P", "wrong", "-f", "key"], b"");
    assert!(!wrong.status.success());
    let public = ssh_keygen(folder.path(), &["-y", "-P", "four quiet valves", "-f", "key"], b"");
    assert_eq!(said(&public).trim(), ours.public().text());
    let print = {
        fs::write(folder.path().join("key.pub"), ours.public().text()).unwrap();
        said(&ssh_keygen(folder.path(), &["-l", "-f", "key.pub"], b""))
    };
    assert!(print.contains(&format!(" {} ", ours.public().fingerprint())), "{print}");

    let open = ["-p", "-P", "four quiet valves", "-N", "", "-f", "key"];
    assert!(ssh_keygen(folder.path(), &open, b"").status.success());
    let namespace = Namespace::Release;
    let sign = ["-Y", "sign", "-f", "key", "-n", namespace.text()];
    let output = ssh_keygen(folder.path(), &sign, MESSAGE);
    let theirs = String::from_utf8(output.stdout).unwrap();
    assert_eq!(theirs, ours.sign(namespace, MESSAGE));

    // With its passphrase taken off, the key is refused.
    let text = fs::read_to_string(folder.path().join("key")).unwrap();
    let fault = KeyPair::open(&text, &Zeroizing::new("four quiet valves".to_owned()));
    assert_eq!(fault.unwrap_err(), KeyFault::Unprotected);
}

#[test]
fn a_key_and_a_signature_of_ssh_keygen_are_read_by_us() {
    let folder = tempfile::tempdir().unwrap();
    let make = ["-q", "-t", "ed25519", "-N", "tight torque", "-C", "a note", "-f", "key"];
    assert!(ssh_keygen(folder.path(), &make, b"").status.success());
    let read = |name: &str| fs::read_to_string(folder.path().join(name)).unwrap();
    let public = PublicKey::parse(&read("key.pub")).unwrap();
    let opened = KeyPair::open(&read("key"), &Zeroizing::new("tight torque".to_owned())).unwrap();
    assert_eq!(opened.public(), public);
    let wrong = KeyPair::open(&read("key"), &Zeroizing::new("Tight torque".to_owned()));
    assert_eq!(wrong.unwrap_err(), KeyFault::WrongPassphrase);

    let open = ["-p", "-P", "tight torque", "-N", "", "-f", "key"];
    assert!(ssh_keygen(folder.path(), &open, b"").status.success());
    for hash in ["hashalg=sha512", "hashalg=sha256"] {
        let sign = ["-Y", "sign", "-f", "key", "-n", Namespace::Hold.text(), "-O", hash];
        let output = ssh_keygen(folder.path(), &sign, MESSAGE);
        assert!(output.status.success(), "{}", said(&output));
        let theirs = String::from_utf8(output.stdout).unwrap();
        assert_eq!(verify(&public, Namespace::Hold, MESSAGE, &theirs), Ok(()));
        assert!(matches!(
            verify(&public, Namespace::Release, MESSAGE, &theirs),
            Err(SignatureFault::OtherNamespace { .. })
        ));
    }
}

#[test]
fn a_key_of_another_kind_is_named() {
    let folder = tempfile::tempdir().unwrap();
    for (kind, name) in [("rsa", "ssh-rsa"), ("ecdsa", "ecdsa-sha2-nistp256")] {
        let make = ["-q", "-t", kind, "-N", "tight torque", "-f", kind];
        assert!(ssh_keygen(folder.path(), &make, b"").status.success());
        let read = |file: &str| fs::read_to_string(folder.path().join(file)).unwrap();
        let fault = KeyFault::OtherKind(name.to_owned());
        assert_eq!(PublicKey::parse(&read(&format!("{kind}.pub"))), Err(fault.clone()));
        let opened = KeyPair::open(&read(kind), &Zeroizing::new("tight torque".to_owned()));
        assert_eq!(opened.unwrap_err(), fault);
    }
}

/// A made-up finished job: three lines of journal, a roster, a record, all signed.
fn job_folder() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, bytes: &[u8]| fs::write(folder.path().join(name), bytes).unwrap();
    fs::create_dir_all(folder.path().join("files")).unwrap();
    let roster = b"shop: bench\n";
    put("files/shop.yaml", roster);
    put("files/shop.yaml.sig", pair("shop").sign(Namespace::Roster, roster).as_bytes());
    let (mut journal, mut prev, mut head) = (String::new(), Sha256::ZERO, Sha256::ZERO);
    for n in 0..3 {
        let line = format!("{{\"n\":{n},\"prev\":\"{prev}\",\"what\":{{}}}}");
        head = prev;
        prev = Sha256::of(line.as_bytes());
        journal.push_str(&line);
        journal.push('\n');
    }
    put("journal.jsonl", journal.as_bytes());
    let signature = fs::read(folder.path().join("files/shop.yaml.sig")).unwrap();
    let record = format!(
        "{{\"journal\":{{\"head\":\"{head}\",\"n\":1}},\"manifest\":[\"{}\",\"{}\"]}}",
        Sha256::of(roster),
        Sha256::of(&signature)
    );
    put("record.json", record.as_bytes());
    let signature = pair("i.varga").sign(Namespace::Release, record.as_bytes());
    put("record.json.sig", signature.as_bytes());
    let sums = format!("{}  record.json\n", Sha256::of(record.as_bytes()));
    put("SHA256SUMS", sums.as_bytes());
    folder
}

/// Runs the recipe in a folder as a person would, with the blanks filled in.
fn follow_recipe(folder: &Path, at: &str) -> String {
    let mut text = recipe(&JobId::numbered(2026, 31));
    for (blank, filled) in [
        ("shop_key='ssh-ed25519 AAAA...'", format!("shop_key='{}'", pair("shop").public())),
        ("key='ssh-ed25519 AAAA...'", format!("key='{}'", pair("i.varga").public())),
        ("signer='first.last'", "signer='i.varga'".to_owned()),
        ("from=YYYYMMDD\n", "from=20260101\n".to_owned()),
        ("until=YYYYMMDD\n", "until=20270101\n".to_owned()),
        ("at=YYYYMMDDHHMMSS", format!("at={at}")),
    ] {
        assert!(text.contains(blank), "the recipe has no `{blank}`");
        text = text.replace(&format!("\n{blank}"), &format!("\n{filled}"));
    }
    said(&run("sh", folder, &["-s"], text.as_bytes()))
}

#[test]
fn a_stranger_checks_a_job_with_the_recipe() {
    let folder = job_folder();
    let good = follow_recipe(folder.path(), "20260701120000");
    for line in [
        "record.json: OK",
        "Good \"roster.v1@witnessmark\" signature for shop",
        "Good \"release.v1@witnessmark\" signature for i.varga",
        "files/shop.yaml: in the record",
        "journal: one chain",
        "journal: as signed",
    ] {
        assert!(good.contains(line), "no `{line}` in:\n{good}");
    }
    assert!(!good.contains("NOT") && !good.contains("BROKEN"), "{good}");
    let late = follow_recipe(folder.path(), "20270701120000");
    assert!(!late.contains("Good \"release.v1@witnessmark\""), "{late}");

    let change = |name: &str, from: &str, to: &str| {
        let folder = job_folder();
        let path = folder.path().join(name);
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.contains(from));
        fs::write(&path, text.replacen(from, to, 1)).unwrap();
        follow_recipe(folder.path(), "20260701120000")
    };
    let record = change("record.json", "\"n\":1", "\"n\":2");
    assert!(record.contains("record.json: FAILED"), "{record}");
    assert!(!record.contains("Good \"release.v1@witnessmark\""), "{record}");
    let roster = change("files/shop.yaml", "bench", "wench");
    assert!(!roster.contains("Good \"roster.v1@witnessmark\""), "{roster}");
    assert!(roster.contains("files/shop.yaml: NOT in the record"), "{roster}");
    let journal = change("journal.jsonl", "\"n\":0", "\"n\":9");
    assert!(journal.contains("journal: BROKEN"), "{journal}");
    let last = change("journal.jsonl", "\"n\":1", "\"n\":9");
    assert!(last.contains("journal: NOT as signed"), "{last}");
}

/// Lines around one key, and whether ssh-keygen and we let it sign.
#[test]
fn our_reader_of_allowed_signers_agrees_with_ssh_keygen() {
    let key = pair("i.varga").public();
    let other = pair("t.lehrling").public();
    let release = Namespace::Release.text();
    let lines = [
        format!("i.varga {key}"),
        format!("i.varga {other}"),
        format!("t.reiter {key}"),
        format!("*.varga {key}"),
        format!("i.?arga,t.reiter {key} with a comment"),
        format!("*,!i.varga {key}"),
        format!("\"i.varga\" {key}"),
        format!("  i.varga\t{key}"),
        format!("# i.varga {key}"),
        format!("\u{feff}i.varga {key}"),
        format!("i.varga {key}\r"),
        format!("i.varga namespaces=\"{release}\" {key}"),
        format!("i.varga namespaces=\"session.v1@witnessmark,release.*\" {key}"),
        format!("i.varga namespaces=\"session.v1@witnessmark\" {key}"),
        format!("i.varga namespaces=\"*,!{release}\" {key}"),
        format!("i.varga NAMESPACES=\"*\" {key}"),
        format!("i.varga unheard-of=\"1\" {key}"),
        format!("i.varga cert-authority {key}"),
        format!("i.varga valid-after=\"20260301Z\" {key}"),
        format!("i.varga valid-after=\"20260701Z\" {key}"),
        format!("i.varga valid-before=\"20260701Z\" {key}"),
        format!("i.varga valid-before=\"202603010000Z\" {key}"),
        format!("i.varga valid-after=\"20260601120000Z\" {key}"),
        format!("i.varga valid-before=\"20260601120000Z\" {key}"),
        format!("i.varga valid-after=\"20260601120001Z\" {key}"),
        format!("i.varga valid-after=\"2026-03-01Z\" {key}"),
        format!(
            "i.varga namespaces=\"*\",valid-after=\"20260301Z\",valid-before=\"20261231Z\" {key}"
        ),
        format!("i.varga namespaces=\"*\",valid-before=\"20260301Z\" {key}"),
        "i.varga ssh-ed25519 AAAA".to_owned(),
        "i.varga".to_owned(),
        String::new(),
    ];
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("m.sig"), pair("i.varga").sign(Namespace::Release, MESSAGE))
        .unwrap();
    for line in &lines {
        let list = format!("{line}\n");
        fs::write(folder.path().join("list"), &list).unwrap();
        let arguments = [
            "-Y",
            "verify",
            "-f",
            "list",
            "-I",
            "i.varga",
            "-n",
            release,
            "-s",
            "m.sig",
            "-Overify-time=20260601120000Z",
        ];
        let stock = ssh_keygen(folder.path(), &arguments, MESSAGE);
        let claimed = Claimed {
            principal: "i.varga",
            namespace: release,
            key: &key,
            at: "2026-06-01T12:00:00Z".parse().unwrap(),
        };
        assert_eq!(allows(&list, &claimed), stock.status.success(), "{line:?}: {}", said(&stock));
    }
}
