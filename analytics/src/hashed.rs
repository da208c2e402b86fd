//! Maps by codes and ids. Those are the program's own numbers, so nobody can choose
//! them to make a map slow, and a plain hash is enough.

use rustc_hash::FxBuildHasher;

pub(crate) type Hasher = FxBuildHasher;
pub(crate) type HashMap<K, V> = std::collections::HashMap<K, V, Hasher>;
