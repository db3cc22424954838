//! A disk that keeps what was written apart from what is lasting, counts every operation, and can
//! be stopped at any of them.
//!
//! Names and bytes each become lasting on their own: bytes by a sync of the file, names by a sync
//! of the folder. A failed sync loses what it should have made lasting for good, however often it
//! is called again, as real systems do.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};
use std::rc::Rc;

use witnessmark::ports::{
    DirEntry, Disk, DiskAction, DiskError, DiskFault, FileKind, Lock, OpenFile, Overwrite,
};

/// What is left of bytes and names that were written and not yet lasting when the power went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Survives {
    /// Nothing.
    Nothing,
    /// The first half of the bytes; new names do not.
    HalfTheBytes,
    /// As many bytes as were written, all zero; new names do.
    Zeros,
    /// Everything: the process died and the computer did not.
    Everything,
}

impl Survives {
    pub(crate) const ALL: [Self; 4] =
        [Self::Nothing, Self::HalfTheBytes, Self::Zeros, Self::Everything];
}

type NodeId = usize;

#[derive(Debug)]
enum Node {
    Dir,
    File(FileNode),
}

#[derive(Debug, Default)]
struct FileNode {
    written: Vec<u8>,
    lasting: Vec<u8>,
    /// So many bytes of both are known to be the same, so that a long journal is not copied anew
    /// with every entry.
    n_same: usize,
    /// From here on a sync failed: these bytes are believed lasting and never will be.
    lost_from: Option<usize>,
    read_only: bool,
}

#[derive(Debug, Default)]
struct State {
    nodes: Vec<Node>,
    names: BTreeMap<PathBuf, NodeId>,
    lasting_names: BTreeMap<PathBuf, NodeId>,
    locks: BTreeSet<PathBuf>,
    /// Counts restarts, so that a lock of an earlier life lets nothing go.
    life: u32,
    n_ops: usize,
    n_syncs: usize,
    stop_at: Option<usize>,
    fail_sync_at: Option<usize>,
    free_bytes: Option<usize>,
    read_only: bool,
}

/// See the module.
#[derive(Debug, Clone, Default)]
pub(crate) struct FakeDisk(Rc<RefCell<State>>);

impl FakeDisk {
    /// An empty disk with one lasting folder.
    pub(crate) fn new(root: &str) -> Self {
        let disk = Self::default();
        {
            let mut state = disk.0.borrow_mut();
            state.nodes.push(Node::Dir);
            state.names.insert(root.into(), 0);
            state.lasting_names.insert(root.into(), 0);
        }
        disk
    }

    /// This disk as the program takes it.
    pub(crate) fn port(&self) -> Rc<dyn Disk> {
        Rc::new(self.clone())
    }

    /// How many operations that change the disk have been asked for.
    pub(crate) fn n_ops(&self) -> usize {
        self.0.borrow().n_ops
    }

    /// How many syncs of files and folders have been asked for.
    pub(crate) fn n_syncs(&self) -> usize {
        self.0.borrow().n_syncs
    }

    /// From the `k`th operation from now on, nothing works; that one is stopped half-way.
    pub(crate) fn stop_at(&self, k: usize) {
        let mut state = self.0.borrow_mut();
        state.stop_at = Some(state.n_ops + k);
    }

    /// The `k`th sync from now fails, and what it should have saved is lost.
    pub(crate) fn fail_sync_at(&self, k: usize) {
        let mut state = self.0.borrow_mut();
        state.fail_sync_at = Some(state.n_syncs + k);
    }

    /// Leaves room for so many more bytes, or for any number.
    pub(crate) fn set_free_bytes(&self, free_bytes: Option<usize>) {
        self.0.borrow_mut().free_bytes = free_bytes;
    }

    /// Refuses every change, as a disk mounted read-only does.
    pub(crate) fn set_read_only_mount(&self, read_only: bool) {
        self.0.borrow_mut().read_only = read_only;
    }

    /// Puts a file there, lasting, whatever was there before.
    pub(crate) fn put(&self, path: &Path, bytes: &[u8]) {
        let mut state = self.0.borrow_mut();
        let file = FileNode { written: bytes.into(), lasting: bytes.into(), ..FileNode::default() };
        let id = state.add(Node::File(file));
        state.names.insert(path.to_owned(), id);
        state.lasting_names.insert(path.to_owned(), id);
    }

    /// Every file with its bytes as they can be read now.
    pub(crate) fn files(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        let state = self.0.borrow();
        let files = state.names.iter().filter_map(|(path, &id)| match &state.nodes[id] {
            Node::File(file) => Some((path.clone(), file.written.clone())),
            Node::Dir => None,
        });
        files.collect()
    }

    /// The power goes and comes back. Locks are gone, and so is what did not survive.
    pub(crate) fn power_cut(&self, survives: Survives) {
        let mut state = self.0.borrow_mut();
        if matches!(survives, Survives::Nothing | Survives::HalfTheBytes) {
            state.names = state.lasting_names.clone();
        }
        for node in &mut state.nodes {
            if let Node::File(file) = node {
                file.power_cut(survives);
            }
        }
        state.lasting_names = state.names.clone();
        state.locks.clear();
        state.life += 1;
        state.stop_at = None;
        state.fail_sync_at = None;
    }
}

impl FileNode {
    /// A sync that succeeds.
    fn sync(&mut self) {
        self.lasting.truncate(self.n_same);
        self.lasting.extend_from_slice(&self.written[self.n_same..]);
        self.n_same = self.written.len();
        if let Some(from) = self.lost_from {
            self.lasting.iter_mut().skip(from).for_each(|byte| *byte = 0);
            self.n_same = self.n_same.min(from);
        }
    }

    fn power_cut(&mut self, survives: Survives) {
        let n_same = self.written.iter().zip(&self.lasting).take_while(|(a, b)| a == b).count();
        // A file that was cut shorter comes back at its old length.
        let only_grew = n_same == self.lasting.len();
        let n_new = self.written.len() - n_same;
        match survives {
            Survives::HalfTheBytes if only_grew && self.lost_from.is_none() => {
                self.written.truncate(n_same + n_new / 2);
            }
            Survives::Zeros if only_grew => {
                self.written.iter_mut().skip(n_same).for_each(|byte| *byte = 0);
            }
            Survives::Everything => {}
            _ => self.written = self.lasting.clone(),
        }
        self.lasting = self.written.clone();
        self.n_same = 0;
        if survives != Survives::Everything {
            self.lost_from = None;
        }
    }
}

impl State {
    fn add(&mut self, node: Node) -> NodeId {
        self.nodes.push(node);
        self.nodes.len() - 1
    }

    fn file(&mut self, id: NodeId) -> &mut FileNode {
        match &mut self.nodes[id] {
            Node::File(file) => file,
            Node::Dir => panic!("not a file"),
        }
    }

    fn regular(&self, action: DiskAction, path: &Path) -> Result<NodeId, DiskError> {
        let fault = match self.names.get(path) {
            None => DiskFault::NotThere,
            Some(&id) if matches!(self.nodes[id], Node::File(_)) => return Ok(id),
            Some(_) => DiskFault::NotRegular,
        };
        Err(DiskError::new(action, path, fault))
    }

    /// Counts an operation; true when it is the one in the middle of which the power goes.
    fn begin(&mut self, action: DiskAction, path: &Path) -> Result<bool, DiskError> {
        self.n_ops += 1;
        if self.stop_at.is_some_and(|stop_at| self.n_ops > stop_at) {
            return Err(power_is_off(action, path));
        }
        if self.read_only {
            let error = io::Error::from(io::ErrorKind::ReadOnlyFilesystem);
            return Err(DiskError::from_io(action, path, error));
        }
        Ok(self.stop_at == Some(self.n_ops))
    }

    /// Counts an operation that happens whole or not at all; the power goes before it.
    fn begin_whole(&mut self, action: DiskAction, path: &Path) -> Result<(), DiskError> {
        if self.begin(action, path)? { Err(power_is_off(action, path)) } else { Ok(()) }
    }

    fn sync_fails(&mut self) -> bool {
        self.n_syncs += 1;
        self.fail_sync_at == Some(self.n_syncs)
    }
}

fn power_is_off(action: DiskAction, path: &Path) -> DiskError {
    DiskError::from_io(action, path, io::Error::other("the power is off"))
}

impl Disk for FakeDisk {
    fn read(&self, path: &Path, len_bytes_max: u64) -> Result<Vec<u8>, DiskError> {
        let mut state = self.0.borrow_mut();
        let id = state.regular(DiskAction::Read, path)?;
        let bytes = state.file(id).written.clone();
        if bytes.len() as u64 > len_bytes_max {
            return Err(DiskError::new(DiskAction::Read, path, DiskFault::TooLarge));
        }
        Ok(bytes)
    }

    fn list(&self, dir: &Path) -> Result<Vec<DirEntry>, DiskError> {
        if self.kind(dir)? != Some(FileKind::Dir) {
            return Err(DiskError::new(DiskAction::List, dir, DiskFault::NotThere));
        }
        let state = self.0.borrow();
        let inside = state.names.keys().filter(|path| path.parent() == Some(dir));
        let entries = inside.map(|path| DirEntry {
            name: path.file_name().unwrap().to_owned(),
            kind: self.kind(path).unwrap().unwrap(),
        });
        Ok(entries.collect())
    }

    fn kind(&self, path: &Path) -> Result<Option<FileKind>, DiskError> {
        let state = self.0.borrow();
        Ok(state.names.get(path).map(|&id| match state.nodes[id] {
            Node::Dir => FileKind::Dir,
            Node::File(_) => FileKind::File,
        }))
    }

    fn create_dir(&self, path: &Path) -> Result<(), DiskError> {
        let mut state = self.0.borrow_mut();
        state.begin_whole(DiskAction::MakeDir, path)?;
        if state.names.contains_key(path) {
            return Err(DiskError::new(DiskAction::MakeDir, path, DiskFault::AlreadyThere));
        }
        let id = state.add(Node::Dir);
        state.names.insert(path.to_owned(), id);
        Ok(())
    }

    fn create(&self, path: &Path) -> Result<Box<dyn OpenFile>, DiskError> {
        let mut state = self.0.borrow_mut();
        state.begin_whole(DiskAction::Save, path)?;
        if state.names.contains_key(path) {
            return Err(DiskError::new(DiskAction::Save, path, DiskFault::AlreadyThere));
        }
        let id = state.add(Node::File(FileNode::default()));
        state.names.insert(path.to_owned(), id);
        Ok(Box::new(FakeFile { disk: self.clone(), id, path: path.to_owned() }))
    }

    fn open_append(&self, path: &Path) -> Result<Box<dyn OpenFile>, DiskError> {
        let mut state = self.0.borrow_mut();
        state.begin_whole(DiskAction::Save, path)?;
        let id = state.regular(DiskAction::Save, path)?;
        if state.file(id).read_only {
            return Err(DiskError::new(DiskAction::Save, path, DiskFault::Denied));
        }
        Ok(Box::new(FakeFile { disk: self.clone(), id, path: path.to_owned() }))
    }

    fn sync_dir(&self, dir: &Path) -> Result<(), DiskError> {
        let mut state = self.0.borrow_mut();
        state.begin_whole(DiskAction::Save, dir)?;
        if state.sync_fails() {
            return Err(DiskError::from_io(DiskAction::Save, dir, io::Error::other("EIO")));
        }
        state.lasting_names.retain(|path, _| path.parent() != Some(dir));
        let inside: Vec<_> = state
            .names
            .iter()
            .filter(|(path, _)| path.parent() == Some(dir))
            .map(|(path, id)| (path.clone(), *id))
            .collect();
        state.lasting_names.extend(inside);
        Ok(())
    }

    fn rename(&self, from: &Path, to: &Path, overwrite: Overwrite) -> Result<(), DiskError> {
        let mut state = self.0.borrow_mut();
        state.begin_whole(DiskAction::Save, to)?;
        if overwrite == Overwrite::Never && state.names.contains_key(to) {
            return Err(DiskError::new(DiskAction::Save, to, DiskFault::AlreadyThere));
        }
        let id = state.regular(DiskAction::Save, from)?;
        state.names.remove(from);
        state.names.insert(to.to_owned(), id);
        Ok(())
    }

    fn remove(&self, path: &Path) -> Result<(), DiskError> {
        let mut state = self.0.borrow_mut();
        state.begin_whole(DiskAction::Remove, path)?;
        state.regular(DiskAction::Remove, path)?;
        state.names.remove(path);
        Ok(())
    }

    fn set_read_only(&self, path: &Path) -> Result<(), DiskError> {
        let mut state = self.0.borrow_mut();
        state.begin_whole(DiskAction::Protect, path)?;
        let id = state.regular(DiskAction::Protect, path)?;
        state.file(id).read_only = true;
        Ok(())
    }

    fn try_lock(&self, path: &Path) -> Result<Option<Box<dyn Lock>>, DiskError> {
        let mut state = self.0.borrow_mut();
        if !state.names.contains_key(path) {
            state.begin_whole(DiskAction::Lock, path)?;
            let id = state.add(Node::File(FileNode::default()));
            state.names.insert(path.to_owned(), id);
        }
        if !state.locks.insert(path.to_owned()) {
            return Ok(None);
        }
        let life = state.life;
        Ok(Some(Box::new(FakeLock { disk: self.clone(), path: path.to_owned(), life })))
    }
}

#[derive(Debug)]
struct FakeFile {
    disk: FakeDisk,
    id: NodeId,
    path: PathBuf,
}

impl OpenFile for FakeFile {
    fn write(&mut self, bytes: &[u8]) -> Result<(), DiskError> {
        let mut state = self.disk.0.borrow_mut();
        let is_stopped = state.begin(DiskAction::Save, &self.path)?;
        let n_written = if is_stopped {
            bytes.len() / 2
        } else {
            state.free_bytes.map_or(bytes.len(), |free| free.min(bytes.len()))
        };
        state.file(self.id).written.extend_from_slice(&bytes[..n_written]);
        if let Some(free) = &mut state.free_bytes {
            *free -= n_written.min(*free);
        }
        if is_stopped {
            return Err(power_is_off(DiskAction::Save, &self.path));
        }
        if n_written < bytes.len() {
            let full = io::Error::from(io::ErrorKind::StorageFull);
            return Err(DiskError::from_io(DiskAction::Save, &self.path, full));
        }
        Ok(())
    }

    fn sync(&mut self) -> Result<(), DiskError> {
        let mut state = self.disk.0.borrow_mut();
        state.begin_whole(DiskAction::Save, &self.path)?;
        let fails = state.sync_fails();
        let file = state.file(self.id);
        if fails {
            file.lost_from = Some(file.lost_from.unwrap_or(file.lasting.len()));
            let error = io::Error::other("input/output error");
            return Err(DiskError::from_io(DiskAction::Save, &self.path, error));
        }
        file.sync();
        Ok(())
    }

    fn truncate(&mut self, len_bytes: u64) -> Result<(), DiskError> {
        let mut state = self.disk.0.borrow_mut();
        state.begin_whole(DiskAction::Save, &self.path)?;
        let len_bytes = usize::try_from(len_bytes).unwrap_or(usize::MAX);
        let n_freed = state.file(self.id).written.len().saturating_sub(len_bytes);
        let file = state.file(self.id);
        file.written.truncate(len_bytes);
        file.n_same = file.n_same.min(len_bytes);
        // What is written in place of the lost bytes is new to the system and is saved again.
        file.lost_from = file.lost_from.filter(|&from| from < len_bytes);
        if let Some(free) = &mut state.free_bytes {
            *free += n_freed;
        }
        Ok(())
    }
}

#[derive(Debug)]
struct FakeLock {
    disk: FakeDisk,
    path: PathBuf,
    life: u32,
}

impl Lock for FakeLock {}

impl Drop for FakeLock {
    fn drop(&mut self) {
        let mut state = self.disk.0.borrow_mut();
        if state.life == self.life {
            state.locks.remove(&self.path);
        }
    }
}
