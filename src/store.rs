//! Files on disk: read within a limit, written whole or not at all.
//!
//! A killed run leaves the old output or the new one. A file is written beside its place and renamed; a
//! folder is written beside its place and the two are exchanged in one step where the system can do that.
//! Depends on: `fault`.

use crate::fault::{Checked, Fault, Place};
use std::fs;
use std::io::{BufWriter, Read, Write};
use std::path::{Path, PathBuf};

/// Files of a folder that is to be written: path below the folder, and contents.
#[derive(Debug, Default)]
pub struct Files(Vec<(PathBuf, Vec<u8>)>);

impl Files {
    /// No files yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a file; `path` is below the folder.
    pub fn add(&mut self, path: impl Into<PathBuf>, contents: impl Into<Vec<u8>>) {
        self.0.push((path.into(), contents.into()));
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

fn failed(what: &str, path: &Path, error: &std::io::Error) -> Fault {
    Fault::new(format!("{what}: {error}")).at(Place::file(path.display().to_string()))
}

/// Reads a file of at most `limit` bytes.
///
/// # Errors
/// A file that is not there, can't be read, or is larger.
pub fn read(path: &Path, limit: u64) -> Checked<Vec<u8>> {
    let file = fs::File::open(path).map_err(|e| failed("the file can't be read", path, &e))?;
    let mut bytes = Vec::new();
    file.take(limit + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| failed("the file can't be read", path, &e))?;
    if bytes.len() as u64 > limit {
        return Err(
            Fault::new(format!("the file is larger than {} KiB", limit / 1024))
                .at(Place::file(path.display().to_string()))
                .mend("check that it is the right file")
                .into(),
        );
    }
    Ok(bytes)
}

/// Reads a UTF-8 text file of at most `limit` bytes.
///
/// # Errors
/// As [`read`], and a file that is not UTF-8.
pub fn read_text(path: &Path, limit: u64) -> Checked<String> {
    String::from_utf8(read(path, limit)?).map_err(|e| {
        let before = e.utf8_error().valid_up_to();
        let line = e.as_bytes()[..before].iter().filter(|b| **b == b'\n').count() + 1;
        Fault::new("the file is not UTF-8 text")
            .at(Place {
                line: Some(line),
                ..Place::file(path.display().to_string())
            })
            .mend("save it as UTF-8")
            .into()
    })
}

/// Writes one file whole, making the folders above it.
///
/// # Errors
/// A place that can't be written.
pub fn write(path: &Path, contents: &[u8]) -> Checked<()> {
    let folder = parent(path);
    let fail = |e: std::io::Error| failed("the file can't be written", path, &e);
    fs::create_dir_all(folder).map_err(fail)?;
    let mut file = beside(folder, false).map_err(fail)?;
    file.write_all(contents).map_err(fail)?;
    file.as_file().sync_all().map_err(fail)?;
    file.persist(path).map_err(|e| fail(e.error))?;
    Ok(())
}

/// Writes a new file that only its owner may read; refuses to replace one.
///
/// # Errors
/// A file that is already there, or a place that can't be written.
pub fn write_secret(path: &Path, contents: &[u8]) -> Checked<()> {
    let folder = parent(path);
    let fail = |e: std::io::Error| failed("the file can't be written", path, &e);
    fs::create_dir_all(folder).map_err(fail)?;
    let mut file = beside(folder, true).map_err(fail)?;
    file.write_all(contents).map_err(fail)?;
    file.as_file().sync_all().map_err(fail)?;
    file.persist_noclobber(path).map_err(|e| fail(e.error))?;
    Ok(())
}

fn parent(path: &Path) -> &Path {
    match path.parent() {
        Some(p) if !p.as_os_str().is_empty() => p,
        _ => Path::new("."),
    }
}

fn beside(folder: &Path, secret: bool) -> std::io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".writing-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(if secret { 0o600 } else { 0o644 }));
    }
    #[cfg(not(unix))]
    let _ = secret;
    builder.tempfile_in(folder)
}

/// A folder that is being written beside its place; it takes its place when it is finished, and leaves no
/// trace when it is not.
pub struct NewFolder {
    target: PathBuf,
    new: tempfile::TempDir,
}

impl NewFolder {
    /// Begins a folder that is to stand at `target`.
    ///
    /// # Errors
    /// A place that can't be written.
    pub fn begin(target: &Path) -> Checked<Self> {
        let above = parent(target);
        let fail = |e: std::io::Error| failed("the folder can't be written", target, &e);
        fs::create_dir_all(above).map_err(fail)?;
        let mut builder = tempfile::Builder::new();
        builder.prefix(".writing-");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            builder.permissions(fs::Permissions::from_mode(0o755));
        }
        Ok(Self {
            target: target.to_path_buf(),
            new: builder.tempdir_in(above).map_err(fail)?,
        })
    }

    /// Writes a file of the folder; `path` is below it. Several threads may write at once.
    ///
    /// # Errors
    /// A place that can't be written.
    pub fn add(&self, path: &Path, contents: &[u8]) -> Checked<()> {
        let fail = |e: std::io::Error| failed("the file can't be written", &self.target.join(path), &e);
        let place = self.new.path().join(path);
        fs::create_dir_all(parent(&place)).map_err(fail)?;
        fs::write(&place, contents).map_err(fail)?;
        Ok(())
    }

    /// Begins a file of the folder that is written piece by piece; `path` is below it.
    ///
    /// # Errors
    /// A place that can't be written.
    pub fn begin_file(&self, path: &Path) -> Checked<BufWriter<fs::File>> {
        let fail = |e: std::io::Error| failed("the file can't be written", &self.target.join(path), &e);
        let place = self.new.path().join(path);
        fs::create_dir_all(parent(&place)).map_err(fail)?;
        Ok(BufWriter::new(fs::File::create(&place).map_err(fail)?))
    }

    /// A file of the folder that was written before.
    ///
    /// # Errors
    /// A file that is not there or can't be read.
    pub fn read(&self, path: &Path) -> Checked<Vec<u8>> {
        fs::read(self.new.path().join(path))
            .map_err(|e| failed("the file can't be read", &self.target.join(path), &e).into())
    }

    /// Puts the folder in its place, instead of one that may be there.
    ///
    /// # Errors
    /// A place that can't be written; then the old folder is as it was.
    pub fn finish(self) -> Checked<()> {
        let fail = |e: std::io::Error| failed("the folder can't be written", &self.target, &e);
        if self.target.exists() {
            // The temporary folder then holds the old files, and goes with the guard.
            exchange(self.new.path(), &self.target).map_err(fail)?;
        } else {
            fs::rename(self.new.path(), &self.target).map_err(fail)?;
        }
        Ok(())
    }
}

/// Writes a folder whole, in place of one that may be there.
///
/// # Errors
/// A place that can't be written; then the old folder is as it was.
pub fn write_folder(target: &Path, files: &Files) -> Checked<()> {
    let folder = NewFolder::begin(target)?;
    for (path, contents) in &files.0 {
        folder.add(path, contents)?;
    }
    folder.finish()
}

#[cfg(target_os = "linux")]
fn exchange(new: &Path, target: &Path) -> std::io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    match renameat_with(CWD, new, CWD, target, RenameFlags::EXCHANGE) {
        Ok(()) => Ok(()),
        // Some file systems can't exchange.
        Err(rustix::io::Errno::INVAL | rustix::io::Errno::NOSYS) => exchange_in_steps(new, target),
        Err(e) => Err(e.into()),
    }
}

#[cfg(not(target_os = "linux"))]
fn exchange(new: &Path, target: &Path) -> std::io::Result<()> {
    exchange_in_steps(new, target)
}

/// Three renames; a run killed between them leaves the old folder under the name `NAME.old`.
fn exchange_in_steps(new: &Path, target: &Path) -> std::io::Result<()> {
    let old = target.with_extension("old");
    fs::rename(target, &old)?;
    if let Err(e) = fs::rename(new, target) {
        fs::rename(&old, target)?;
        return Err(e);
    }
    fs::rename(&old, new)
}

/// A name for a file or folder made from an identifier of others: no separators, nothing that a common system
/// keeps for itself. Where something had to be changed, a short hash keeps two identifiers apart. Identifiers
/// that differ in more than case give names that differ in more than case.
pub fn safe_name(id: &str) -> String {
    /// Names that Windows keeps for devices, whatever their ending.
    const KEPT: [&str; 22] = [
        "con", "prn", "aux", "nul", "com1", "com2", "com3", "com4", "com5", "com6", "com7", "com8", "com9",
        "lpt1", "lpt2", "lpt3", "lpt4", "lpt5", "lpt6", "lpt7", "lpt8", "lpt9",
    ];
    /// Longest part of an identifier that is kept \[bytes\]; common systems allow names of 255.
    const LONGEST: usize = 120;
    let kept: String = id
        .char_indices()
        .take_while(|(at, c)| at + c.len_utf8() <= LONGEST)
        .map(|(_, c)| {
            if c.is_alphanumeric() || matches!(c, '-' | '_' | '.') {
                c
            } else {
                '_'
            }
        })
        .collect();
    let trimmed = kept.trim_start_matches(['.', '-']).trim_end_matches('.');
    let stem = trimmed.split('.').next().unwrap_or_default().to_lowercase();
    if trimmed == id && !trimmed.is_empty() && !KEPT.contains(&stem.as_str()) {
        return trimmed.to_owned();
    }
    let hash = blake3::hash(id.to_lowercase().as_bytes()).to_hex();
    format!("_{trimmed}_{}", &hash[..8])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_replaced_whole() {
        let room = tempfile::tempdir().unwrap();
        let target = room.path().join("out");
        let mut first = Files::new();
        first.add("a/one.txt", "1");
        first.add("b.txt", "2");
        write_folder(&target, &first).unwrap();
        let mut second = Files::new();
        second.add("c.txt", "3");
        write_folder(&target, &second).unwrap();
        assert!(!target.join("a").exists());
        assert_eq!(fs::read(target.join("c.txt")).unwrap(), b"3");
        assert_eq!(
            fs::read_dir(room.path()).unwrap().count(),
            1,
            "nothing is left beside it"
        );
    }

    #[test]
    fn a_folder_that_fails_leaves_the_old_one() {
        let room = tempfile::tempdir().unwrap();
        let target = room.path().join("out");
        let mut first = Files::new();
        first.add("b.txt", "2");
        write_folder(&target, &first).unwrap();
        let mut second = Files::new();
        second.add("c.txt", "3");
        second.add("c.txt/d.txt", "a file can't be a folder");
        assert!(write_folder(&target, &second).is_err());
        assert_eq!(fs::read(target.join("b.txt")).unwrap(), b"2");
        assert_eq!(
            fs::read_dir(room.path()).unwrap().count(),
            1,
            "nothing is left beside it"
        );
    }

    #[test]
    fn exchanging_in_steps_keeps_both() {
        let room = tempfile::tempdir().unwrap();
        let (new, old) = (room.path().join("new"), room.path().join("place"));
        fs::create_dir(&new).unwrap();
        fs::create_dir(&old).unwrap();
        fs::write(new.join("n"), "n").unwrap();
        exchange_in_steps(&new, &old).unwrap();
        assert!(old.join("n").exists() && new.exists());
    }

    #[test]
    fn a_secret_is_never_replaced_and_not_readable_by_others() {
        let room = tempfile::tempdir().unwrap();
        let path = room.path().join("course.key");
        write_secret(&path, b"x").unwrap();
        assert!(write_secret(&path, b"y").is_err());
        assert_eq!(fs::read(&path).unwrap(), b"x");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
        }
    }

    #[test]
    fn a_file_that_is_too_large_or_no_text_is_refused() {
        let room = tempfile::tempdir().unwrap();
        let path = room.path().join("f");
        fs::write(&path, b"one\ntw\xffo").unwrap();
        assert!(read(&path, 4).is_err());
        let fault = read_text(&path, 100).unwrap_err().0.remove(0);
        assert_eq!(fault.place.unwrap().line, Some(2));
    }

    #[test]
    fn names_made_from_identifiers_stay_in_their_folder() {
        assert_eq!(safe_name("ab123"), "ab123");
        assert_eq!(safe_name("jo.öst-2_b"), "jo.öst-2_b");
        for id in [
            "",
            ".",
            "..",
            "../../etc/passwd",
            "a/b",
            "a\\b",
            "CON",
            "nul.txt",
            "-x",
            "a.",
            "a b",
            "a\u{202e}b",
        ] {
            let name = safe_name(id);
            assert!(
                name.starts_with('_') && !name.contains(['/', '\\', ' ']) && !name.ends_with('.'),
                "{id}: {name}"
            );
        }
        assert_ne!(safe_name("a/b"), safe_name("a?b"));
        assert!(safe_name(&"ö".repeat(500)).len() < 140);
    }
}
