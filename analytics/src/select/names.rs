//! Models and engines by the names that people call them: capitals and blanks
//! around do not tell them apart, and a model may stand behind its make.

use std::collections::HashSet;

use crate::history::{History, NONE};

/// What is the same for the same name.
fn plain(name: &str) -> String {
    name.trim().to_lowercase()
}

/// The codes of a column whose text is taken.
fn codes(history: &History, column: &[u32], takes: impl Fn(&str) -> bool) -> HashSet<u32> {
    let known: HashSet<u32> = column.iter().copied().filter(|code| *code != NONE).collect();
    let taken = |code: &u32| history.text(*code).is_some_and(|text| takes(&plain(text)));
    known.into_iter().filter(taken).collect()
}

/// The jobs' models of that name, of whichever make.
pub(crate) fn models_named(history: &History, name: &str) -> HashSet<u32> {
    let name = plain(name);
    let behind_make = format!(" {name}");
    codes(history, history.jobs().model, |model| *model == name || model.ends_with(&behind_make))
}

/// The jobs' engines of that name.
pub(crate) fn engines_named(history: &History, name: &str) -> HashSet<u32> {
    let name = plain(name);
    codes(history, history.jobs().engine, |engine| *engine == name)
}
