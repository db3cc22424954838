//! The real disk: what only a real one can show.

use std::collections::BTreeSet;
use std::fs;
use std::os::unix::fs::{PermissionsExt as _, symlink};
use std::process::Command;
use std::rc::Rc;

use tempfile::TempDir;
use witnessmark::ids::Sha256;
use witnessmark::ports::{Disk, DiskFault, Overwrite};
use witnessmark::store::sums::write_sums;
use witnessmark::store::{InnerPath, JobFolder, JournalWriter, OsDisk, ShopFolder, StoreError};

use crate::support::generate::{journal_bytes, session};

fn shop() -> (TempDir, ShopFolder, Rc<dyn Disk>) {
    let dir = tempfile::tempdir().unwrap();
    let shop = ShopFolder::at(dir.path().join("shop"));
    shop.create(&OsDisk).unwrap();
    (dir, shop, Rc::new(OsDisk))
}

fn inner(path: &str) -> InnerPath {
    InnerPath::new(path).unwrap()
}

fn fault<T>(result: Result<T, StoreError>) -> DiskFault {
    match result {
        Err(StoreError::Disk(error)) => error.fault,
        Err(error) => panic!("{error}"),
        Ok(_) => panic!("it worked"),
    }
}

#[test]
fn a_job_is_written_left_and_taken_up_again() {
    let (_dir, shop, disk) = shop();
    let (id, job) = shop.create_job(&OsDisk, 2026).unwrap();
    assert_eq!(id.as_str(), "2026-0001");
    assert_eq!(job, shop.job(&id));
    assert_eq!(fs::read_to_string(job.root().join(".gitattributes")).unwrap(), "* -text\n");
    assert!(matches!(JournalWriter::open(&disk, &job), Err(StoreError::NoJournal { .. })));

    let mut writer = JournalWriter::create(&disk, &job).unwrap();
    for entry in &session(3) {
        writer.append(entry).unwrap();
    }
    assert!(matches!(JournalWriter::open(&disk, &job), Err(StoreError::InUse { .. })));
    assert_eq!(job.read_journal(&OsDisk).unwrap().lines.len(), 3);
    drop(writer);
    assert_eq!(fault(JournalWriter::create(&disk, &job).map(drop)), DiskFault::AlreadyThere);

    // A line without its end, then half a line: each is met when the job is taken up.
    let journal = job.journal();
    let whole = journal_bytes(&session(3));
    fs::write(&journal, whole.strip_suffix(b"\n").unwrap()).unwrap();
    let (writer, scan, recovery) = JournalWriter::open(&disk, &job).unwrap();
    assert!(recovery.newline_added && scan.lines.len() == 3);
    drop(writer);
    assert_eq!(fs::read(&journal).unwrap(), whole);

    fs::write(&journal, [whole.as_slice(), b"{\"at\":\"2026-"].concat()).unwrap();
    let (mut writer, _, recovery) = JournalWriter::open(&disk, &job).unwrap();
    let torn = &recovery.torn[0];
    assert_eq!(fs::read(&torn.path).unwrap(), b"{\"at\":\"2026-");
    assert_eq!((torn.len_bytes, torn.sha256), (12, Sha256::of(b"{\"at\":\"2026-")));
    assert_eq!(fs::read(&journal).unwrap(), whole);
    let mut entry = session(4).remove(3);
    entry.event = torn.event();
    writer.append(&entry).unwrap();
    drop(writer);
    let (_writer, scan, recovery) = JournalWriter::open(&disk, &job).unwrap();
    assert!(recovery.torn.is_empty());
    assert_eq!(scan.lines[3].prev, Sha256::of(whole.split(|&b| b == b'\n').nth(2).unwrap()));
}

#[test]
fn two_at_once_never_get_the_same_number() {
    let (_dir, shop, _) = shop();
    let created: Vec<_> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..8)
            .map(|_| {
                scope.spawn(|| {
                    (0..5).map(|_| shop.create_job(&OsDisk, 2026).unwrap().0).collect::<Vec<_>>()
                })
            })
            .collect();
        threads.into_iter().flat_map(|thread| thread.join().unwrap()).collect()
    });
    assert_eq!(created.iter().collect::<BTreeSet<_>>().len(), 40);
    assert_eq!(shop.job_ids(&OsDisk).unwrap().len(), 40);
}

#[test]
fn nothing_outside_the_folder_is_reached() {
    let (dir, shop, disk) = shop();
    let (_, job) = shop.create_job(&OsDisk, 2026).unwrap();
    let secret = dir.path().join("secret");
    fs::create_dir(&secret).unwrap();
    fs::write(secret.join("key"), "secret").unwrap();
    symlink(secret.join("key"), job.files().join("link.yaml")).unwrap();
    symlink(&secret, job.files().join("procedures")).unwrap();
    symlink(secret.join("none"), job.journal()).unwrap();

    let read = |path: &str| job.read(&OsDisk, &inner(path), 100);
    assert_eq!(fault(read("files/link.yaml")), DiskFault::NotRegular);
    assert_eq!(fault(read("files/procedures/key")), DiskFault::NotRegular);
    assert_eq!(fault(read("files")), DiskFault::NotRegular);
    assert_eq!(fault(job.list(&OsDisk)), DiskFault::NotRegular);
    assert_eq!(fault(write_sums(&OsDisk, &job)), DiskFault::NotRegular);
    assert_eq!(fault(job.add(&OsDisk, &inner("files/procedures/b"), b"x")), DiskFault::NotRegular);
    assert_eq!(fault(JournalWriter::open(&disk, &job).map(drop)), DiskFault::NotRegular);
    assert_eq!(fault(JournalWriter::create(&disk, &job).map(drop)), DiskFault::AlreadyThere);
    assert_eq!(fs::read_dir(&secret).unwrap().count(), 1);
}

#[test]
fn a_pipe_is_refused_without_waiting_for_its_other_end() {
    let (_dir, shop, _) = shop();
    let (_, job) = shop.create_job(&OsDisk, 2026).unwrap();
    let pipe = job.root().join("pipe");
    let fifo = rustix::fs::FileType::Fifo;
    rustix::fs::mknodat(rustix::fs::CWD, &pipe, fifo, 0o600.into(), 0).unwrap();
    assert_eq!(fault(job.read(&OsDisk, &inner("pipe"), 100)), DiskFault::NotRegular);
    assert_eq!(OsDisk.open_append(&pipe).unwrap_err().fault, DiskFault::NotRegular);
}

#[test]
fn a_file_is_added_once_and_read_up_to_its_cap() {
    let (_dir, shop, _) = shop();
    let (_, job) = shop.create_job(&OsDisk, 2026).unwrap();
    let path = inner("files/procedures/seal.yaml");
    job.add(&OsDisk, &path, b"a: 1\r\n").unwrap();
    job.add(&OsDisk, &path, b"a: 1\r\n").unwrap();
    assert_eq!(job.read(&OsDisk, &path, 6).unwrap(), b"a: 1\r\n");
    assert_eq!(fault(job.read(&OsDisk, &path, 5)), DiskFault::TooLarge);
    assert_eq!(fault(job.read(&OsDisk, &inner("files/none"), 5)), DiskFault::NotThere);
    assert!(job.add(&OsDisk, &path, b"a: 2\r\n").is_err());
    assert!(job.add(&OsDisk, &path, b"").is_err());
    assert_eq!(job.read(&OsDisk, &path, 6).unwrap(), b"a: 1\r\n");
}

#[test]
fn a_name_that_is_taken_is_not_taken_over() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("a");
    OsDisk.write_new(&path, b"first", Overwrite::Never).unwrap();
    let error = OsDisk.write_new(&path, b"second", Overwrite::Never).unwrap_err();
    assert_eq!(error.fault, DiskFault::AlreadyThere);
    // Also when it was taken after the look.
    fs::write(dir.path().join("b"), "second").unwrap();
    let error = OsDisk.rename(&dir.path().join("b"), &path, Overwrite::Never).unwrap_err();
    assert_eq!(error.fault, DiskFault::AlreadyThere);
    assert_eq!(fs::read(&path).unwrap(), b"first");
    OsDisk.write_new(&path, b"third", Overwrite::Replace).unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"third");
    let error = OsDisk.write_new(&dir.path().join("none/a"), b"", Overwrite::Never).unwrap_err();
    assert_eq!((error.fault, error.path), (DiskFault::NotThere, dir.path().join("none/a")));
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2);
}

#[test]
fn a_finished_job_is_checked_by_sha256sum_and_frozen() {
    let (_dir, shop, disk) = shop();
    let (_, job) = shop.create_job(&OsDisk, 2026).unwrap();
    drop(JournalWriter::create(&disk, &job).unwrap());
    for name in ["evidence/odd\\name\nhere.png", "files/a b.yaml", "record.json"] {
        job.add(&OsDisk, &inner(name), name.as_bytes()).unwrap();
    }
    write_sums(&OsDisk, &job).unwrap();
    // Written again it still leaves itself out.
    write_sums(&OsDisk, &job).unwrap();
    let sums = fs::read_to_string(job.sums()).unwrap();
    let names: Vec<_> = sums.lines().map(|line| line.split_once("  ").unwrap().1).collect();
    let wanted = [".gitattributes", "evidence/odd\\\\name\\nhere.png", "files/a b.yaml"];
    assert_eq!(names, [wanted.as_slice(), &["journal.jsonl", "record.json"]].concat());

    let check = || {
        let arguments = ["-c", "--strict", "--quiet", "SHA256SUMS"];
        Command::new("sha256sum").args(arguments).current_dir(job.root()).output().unwrap()
    };
    assert!(check().status.success(), "{:?}", check());
    job.freeze(&OsDisk).unwrap();
    for path in job.list(&OsDisk).unwrap() {
        let mode = fs::metadata(path.below(job.root())).unwrap().permissions().mode();
        assert_eq!(mode & 0o222, 0, "{path}");
    }
    fs::remove_file(job.record()).unwrap();
    fs::write(job.record(), "other").unwrap();
    assert!(!check().status.success());
}

#[test]
fn a_copy_outside_a_shop_can_be_looked_at_only() {
    let (dir, shop, disk) = shop();
    let (_, job) = shop.create_job(&OsDisk, 2026).unwrap();
    drop(JournalWriter::create(&disk, &job).unwrap());
    fs::write(job.journal(), journal_bytes(&session(2))).unwrap();
    fs::rename(job.root(), dir.path().join("copy")).unwrap();
    let copy = JobFolder::at(dir.path().join("copy"));
    assert_eq!(copy.read_journal(&OsDisk).unwrap().lines.len(), 2);
    assert!(matches!(JournalWriter::open(&disk, &copy), Err(StoreError::OutsideShop { .. })));
}
