//! Results come into their place as a whole: whoever looks, at whatever moment the program was killed, finds all of the
//! old files or all of the new ones.
//!
//! A directory of results is written beside its place and exchanged with what is there by one system call. Where that
//! cannot be (the directory holds other files too or is somebody's current one, or the file system cannot exchange
//! names), the files are complete beside their places before the first is moved; a kill between two moves then leaves
//! some of each, and the next run replaces them all.
//!
//! An interrupt waits until the files are in their place, which takes milliseconds. What a kill leaves behind is
//! cleared by the next run; a lock, which ends with its process, tells it from what another run is writing.

use std::ffi::OsStr;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process;
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::Failure;
use super::out::complain;

/// Held while files are being placed.
static PLACING: Mutex<()> = Mutex::new(());

fn placing() -> MutexGuard<'static, ()> {
    PLACING.lock().unwrap_or_else(PoisonError::into_inner)
}

/// From now on an interrupt or a request to terminate ends the program with exit status 2, but not between two files.
pub fn end_tidily_when_interrupted() {
    // without it the program is killed at once, which leaves no half result either
    let _ = ctrlc::set_handler(|| {
        let _until_done = placing();
        complain("error: interrupted");
        process::exit(2);
    });
}

/// Writes a directory of results, made when absent.
///
/// # Errors
///
/// A directory or file that cannot be written; what was there is then still there.
pub fn directory(dir: &Path, files: &[(&'static str, Vec<u8>)]) -> Result<(), Failure> {
    let _until_done = placing();
    let failed = |error| Failure::File(dir.to_owned(), error);
    let exists = dir.exists();
    if exists {
        let real = dir.canonicalize().map_err(failed)?;
        if is_its_own(&real, files) && exchanged(&real, files, true).map_err(failed)? {
            return Ok(());
        }
        return one_by_one(&real, files).map_err(failed);
    }
    let parent = match dir.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    fs::create_dir_all(parent).map_err(failed)?;
    if dir.file_name().is_some() && exchanged(dir, files, false).map_err(failed)? {
        return Ok(());
    }
    fs::create_dir_all(dir).map_err(failed)?;
    one_by_one(dir, files).map_err(failed)
}

/// Writes one file.
///
/// # Errors
///
/// The file cannot be written; what was there is then still there.
pub fn file(path: &Path, text: &str) -> Result<(), Failure> {
    let _until_done = placing();
    let failed = |error| Failure::File(path.to_owned(), error);
    let Some(name) = path.file_name() else {
        return Err(failed(io::ErrorKind::IsADirectory.into()));
    };
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty());
    let stage = Stage::in_folder(folder.unwrap_or(Path::new(".")), name).map_err(failed)?;
    let ready = stage.path().join(name);
    complete(&ready, text.as_bytes())
        .and_then(|()| fs::rename(ready, path))
        .map_err(failed)
}

/// True when nothing would be lost with the directory but results, and nobody is known to stand in it.
fn is_its_own(dir: &Path, files: &[(&'static str, Vec<u8>)]) -> bool {
    let ours = |name: &OsStr| files.iter().any(|(n, _)| name == *n);
    let only_ours = fs::read_dir(dir).is_ok_and(|mut entries| {
        entries.all(|e| {
            e.is_ok_and(|e| ours(&e.file_name()) && e.file_type().is_ok_and(|t| t.is_file()))
        })
    });
    let here = std::env::current_dir().and_then(fs::canonicalize);
    only_ours && !here.is_ok_and(|here| here.starts_with(dir))
}

/// Writes beside the directory and exchanges the two names; false when that cannot be done here.
fn exchanged(dir: &Path, files: &[(&'static str, Vec<u8>)], exists: bool) -> io::Result<bool> {
    let (Some(parent), Some(name)) = (dir.parent(), dir.file_name()) else {
        return Ok(false);
    };
    let parent = if parent.as_os_str().is_empty() {
        Path::new(".")
    } else {
        parent
    };
    // nothing may be written beside a directory that itself may be written to
    let Ok(stage) = Stage::in_folder(parent, name) else {
        return Ok(false);
    };
    for (name, bytes) in files {
        complete(&stage.path().join(name), bytes)?;
    }
    if exists {
        fs::set_permissions(stage.path(), fs::metadata(dir)?.permissions())?;
        // the stage then holds the old directory and takes it away with it
        Ok(exchange(stage.path(), dir).is_ok())
    } else {
        Ok(fs::rename(stage.path(), dir).is_ok())
    }
}

#[cfg(any(target_os = "linux", target_vendor = "apple"))]
fn exchange(one: &Path, other: &Path) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    Ok(renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE)?)
}

#[cfg(not(any(target_os = "linux", target_vendor = "apple")))]
fn exchange(_: &Path, _: &Path) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

/// Writes every file beside its place and moves them when all are complete.
fn one_by_one(dir: &Path, files: &[(&'static str, Vec<u8>)]) -> io::Result<()> {
    let stage = Stage::in_folder(dir, OsStr::new(""))?;
    for (name, bytes) in files {
        complete(&stage.path().join(name), bytes)?;
    }
    for (name, _) in files {
        fs::rename(stage.path().join(name), dir.join(name))?;
    }
    Ok(())
}

fn complete(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = fs::File::create(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// A directory for files on their way, which goes when this does.
struct Stage {
    directory: tempfile::TempDir,
    /// Says that somebody is at work here.
    _lock: Option<fs::File>,
}

impl Stage {
    /// In the same folder, so that moving from it is one step, and under a name that says whose it is.
    fn in_folder(folder: &Path, for_whom: &OsStr) -> io::Result<Self> {
        let mut prefix = std::ffi::OsString::from(".");
        prefix.push(for_whom);
        prefix.push(if for_whom.is_empty() {
            "hushloop-"
        } else {
            ".hushloop-"
        });
        clear_leftovers(folder, &prefix);
        let mut builder = tempfile::Builder::new();
        builder.prefix(&prefix);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // a result is for whomever the user's mask allows
            builder.permissions(fs::Permissions::from_mode(0o777));
        }
        let directory = builder.tempdir_in(folder)?;
        let lock = locked(directory.path());
        Ok(Self {
            directory,
            _lock: lock,
        })
    }

    fn path(&self) -> &Path {
        self.directory.path()
    }
}

/// Removes what a killed run left in a folder.
fn clear_leftovers(folder: &Path, prefix: &OsStr) {
    let left: Vec<PathBuf> = fs::read_dir(folder)
        .into_iter()
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| {
            let name = path.file_name().map(OsStr::as_encoded_bytes);
            name.is_some_and(|name| name.starts_with(prefix.as_encoded_bytes()))
        })
        .collect();
    for path in left {
        if locked(&path).is_some() {
            // somebody else may be clearing it as well
            let _ = fs::remove_dir_all(&path).or_else(|_| fs::remove_file(&path));
        }
    }
}

/// A lock on a directory that nobody works in.
#[cfg(unix)]
fn locked(directory: &Path) -> Option<fs::File> {
    use rustix::fs::{FlockOperation, flock};
    let file = fs::File::open(directory).ok()?;
    flock(&file, FlockOperation::NonBlockingLockExclusive).ok()?;
    Some(file)
}

#[cfg(not(unix))]
fn locked(_: &Path) -> Option<fs::File> {
    None
}
