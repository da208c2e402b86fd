//! Importing a folder of history files.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::drive::Drive;
use super::files::HistoryFile;
use super::map::{Lens, Map};
use super::rejects::Rejects;
use super::source::{Refused, Rows, inspect};
use super::store::{Options, Store};
use super::summary::Summary;
use crate::db::{self, Db};
use crate::domain::clock::UtcStamp;
use crate::domain::formula::unguarded;

/// Why an import ended before its end.
#[derive(Debug)]
pub enum ImportError {
    /// The files cannot be taken; nothing was written.
    Refused(Vec<Refused>),
    /// The record did not take them; the chunks before stand.
    Record(db::Fault),
    /// The file of rejected rows cannot be written.
    Rejects(PathBuf, std::io::Error),
}

impl From<db::Fault> for ImportError {
    fn from(fault: db::Fault) -> Self {
        Self::Record(fault)
    }
}

/// One set of history files.
#[derive(Debug, Clone)]
pub struct FileSet {
    /// What its files are called in messages: empty, or `sub/`.
    prefix: String,
    pub(super) files: Vec<(HistoryFile, PathBuf)>,
    /// How another program's files are read.
    map: Option<Arc<Map>>,
    /// All its bytes.
    pub bytes: u64,
}

/// What a history file is called in the folder; `None` where a mapping has none
/// of the kind.
fn name_of(map: Option<&Arc<Map>>, file: HistoryFile) -> Option<&str> {
    match map {
        None => Some(file.file_name()),
        Some(map) => map.lens(file).map(|lens| lens.file.as_str()),
    }
}

/// Finds the history files of a folder, or of its subfolders (one a shop), and
/// looks each of them through. With a mapping, another program's files.
///
/// # Errors
/// Everything that is wrong with the files as such.
pub fn survey(folder: &Path, map: Option<&Arc<Map>>) -> Result<Vec<FileSet>, Vec<Refused>> {
    let orders = name_of(map, HistoryFile::Orders).unwrap_or_default();
    let refuse = |why: String| vec![Refused { file: folder.display().to_string(), why }];
    if !folder.is_dir() {
        return Err(refuse(format!("is not a folder; name the folder that holds {orders}")));
    }
    let mut sets = Vec::new();
    if holds_any(folder, map) {
        sets.push(file_set(folder, String::new(), map));
    } else {
        let listing = fs::read_dir(folder).map_err(|e| refuse(format!("cannot be read: {e}")))?;
        let mut subfolders: Vec<PathBuf> = listing
            .filter_map(Result::ok)
            .map(|entry| entry.path())
            .filter(|path| path.is_dir() && path.join(orders).exists())
            .collect();
        subfolders.sort();
        for path in subfolders {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            sets.push(file_set(&path, format!("{name}/"), map));
        }
    }
    if sets.is_empty() {
        return Err(refuse(format!("has no {orders}, and no subfolder with one")));
    }
    let faults: Vec<Refused> = sets.iter().flat_map(FileSet::faults).collect();
    if faults.is_empty() { Ok(sets) } else { Err(faults) }
}

fn holds_any(folder: &Path, map: Option<&Arc<Map>>) -> bool {
    let names = HistoryFile::ALL.iter().filter_map(|file| name_of(map, *file));
    names.map(|name| folder.join(name)).any(|path| path.exists())
}

fn file_set(folder: &Path, prefix: String, map: Option<&Arc<Map>>) -> FileSet {
    let files: Vec<(HistoryFile, PathBuf)> = HistoryFile::ALL
        .iter()
        .filter_map(|file| Some((*file, folder.join(name_of(map, *file)?))))
        // What a mapping names is meant to be there.
        .filter(|(file, path)| file.is_required() || map.is_some() || path.exists())
        .collect();
    let bytes = files.iter().filter_map(|(_, path)| fs::metadata(path).ok()).map(|m| m.len()).sum();
    FileSet { prefix, files, map: map.cloned(), bytes }
}

impl FileSet {
    pub(super) fn shown(&self, file: HistoryFile) -> String {
        let name = name_of(self.map.as_ref(), file).unwrap_or(file.file_name());
        format!("{}{name}", self.prefix)
    }

    pub(super) fn lens(&self, file: HistoryFile) -> Option<&Lens> {
        self.map.as_ref()?.lens(file)
    }

    /// A column as whoever wrote the file calls it.
    pub(super) fn header_of(&self, file: HistoryFile, column: &str) -> String {
        self.lens(file).map_or_else(|| column.to_owned(), |lens| lens.header_of(column))
    }

    /// What whoever wrote the files calls one of our files, or a column of
    /// `file`. Columns of one plain word are left: they may mean just the word.
    pub(super) fn foreign_name(&self, file: HistoryFile, word: &str) -> Option<String> {
        self.map.as_ref()?;
        if let Some(named) = HistoryFile::ALL.iter().find(|known| known.file_name() == word) {
            return self.lens(*named).map(|_| self.shown(*named));
        }
        let column = file.columns().iter().find(|column| column.name == word)?;
        let header = self.header_of(file, column.name);
        (word.contains('_') && header != word).then(|| format!("'{header}'"))
    }

    /// The codes of the shops that its orders name.
    fn shops(&self, found: &mut BTreeSet<String>) -> Result<(), Refused> {
        for (file, path) in self.files.iter().filter(|(file, _)| *file == HistoryFile::Orders) {
            let mut rows = Rows::open(path, &self.shown(*file), *file, self.lens(*file))?;
            while let Some(raw) = rows.next_row()? {
                let raw = match &rows.bound {
                    Some(bound) => bound.made(raw),
                    None => raw,
                };
                let code = rows.header.place("shop").and_then(|at| raw.fields.get(at));
                let code = unguarded(code.unwrap_or_default().trim());
                if raw.faults.is_empty() && !code.is_empty() && !found.contains(code) {
                    found.insert(code.to_owned());
                }
            }
        }
        Ok(())
    }

    fn faults(&self) -> Vec<Refused> {
        self.files
            .iter()
            .filter_map(|(file, path)| {
                let shown = self.shown(*file);
                if path.exists() {
                    inspect(path, &shown, *file, self.lens(*file)).err()
                } else {
                    let why = match self.map {
                        None => "is missing; orders.csv and jobs.csv are needed",
                        Some(_) => "is missing, but the map names it",
                    };
                    Some(Refused { file: shown, why: why.to_owned() })
                }
            })
            .collect()
    }
}

/// The codes of the shops that the orders of all sets name, bad rows left out.
///
/// # Errors
/// Where a file cannot be read on.
pub fn shops_named(sets: &[FileSet]) -> Result<BTreeSet<String>, Refused> {
    let mut found = BTreeSet::new();
    for set in sets {
        set.shops(&mut found)?;
    }
    Ok(found)
}

/// Imports sets of files that [`survey`] has found good. `progress` is told how
/// many bytes of all have been read. Answers also the first kinds of faults, for
/// people.
///
/// # Errors
/// See [`ImportError`].
pub fn import_sets(
    db: &Db,
    sets: &[FileSet],
    options: &Options,
    now: UtcStamp,
    rejects: &Path,
    progress: &dyn Fn(u64),
) -> Result<(Summary, Vec<String>), ImportError> {
    let told = |error| ImportError::Rejects(rejects.to_owned(), error);
    let mut rejects = Rejects::new(rejects).map_err(told)?;
    let mut summary = Summary::default();
    let mut read = 0;
    for set in sets {
        let mut store = Store::new(db, options.clone(), now);
        store.summary = summary;
        summary = Drive { store, set, rejects: &mut rejects, progress, read }.run()?;
        read += set.bytes;
    }
    let first = rejects.finish().map_err(told)?;
    Ok((summary, first))
}
