//! What a copy says of itself.

use std::io::{BufRead, BufReader};
use std::path::Path;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::CopyError;

/// The manifest's name in the folder.
pub const NAME: &str = "manifest.json";
/// What every manifest calls its format.
const FORMAT: &str = "onetrip copy";
/// Raised when the files change so that older programs would misread them.
const VERSION: u32 = 1;

/// No time stands in it: two copies of the same record are the same.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Manifest {
    pub format: String,
    pub format_version: u32,
    /// The last step of the tables' making.
    pub schema_step: String,
    pub written_by: String,
    /// Whether hashes of passwords, PINs and tokens are in it.
    pub with_secrets: bool,
    pub files: Vec<Listed>,
}

/// One file of the copy.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Listed {
    pub file: String,
    pub table: String,
    pub rows: u64,
    pub sha256: String,
}

impl Manifest {
    /// A manifest of this program's own.
    #[must_use]
    pub fn new(schema_step: String, with_secrets: bool, files: Vec<Listed>) -> Self {
        Self {
            format: FORMAT.to_owned(),
            format_version: VERSION,
            schema_step,
            written_by: concat!("onetrip ", env!("CARGO_PKG_VERSION")).to_owned(),
            with_secrets,
            files,
        }
    }

    /// Rows of all files.
    #[must_use]
    pub fn rows(&self) -> u64 {
        self.files.iter().map(|listed| listed.rows).sum()
    }

    /// Reads a folder's manifest.
    ///
    /// # Errors
    /// Where there is none, or a newer program wrote it.
    pub fn read(folder: &Path, schema_steps: &[String]) -> Result<Self, CopyError> {
        let path = folder.join(NAME);
        let bytes = std::fs::read(&path).map_err(|error| CopyError::at(&path, error))?;
        let read: Self = serde_json::from_slice(&bytes)
            .map_err(|error| CopyError::at(&path, format!("is no copy's manifest: {error}")))?;
        if read.format != FORMAT {
            return Err(CopyError::at(&path, "is no copy's manifest"));
        }
        let newer = read.format_version > VERSION || !schema_steps.contains(&read.schema_step);
        if newer {
            let why = format!(
                "was written by {} (format {}, step {}), newer than this program; use that one",
                read.written_by, read.format_version, read.schema_step
            );
            return Err(CopyError::at(&path, why));
        }
        Ok(read)
    }

    /// Holds every file against its line: rows and checksum.
    ///
    /// # Errors
    /// The first file that is not as it was written.
    pub fn hold(&self, folder: &Path) -> Result<(), CopyError> {
        for listed in &self.files {
            let path = folder.join(&listed.file);
            let fail = |error: std::io::Error| CopyError::at(&path, error);
            let mut file = BufReader::new(std::fs::File::open(&path).map_err(fail)?);
            let (mut digest, mut rows, mut line) = (Sha256::new(), 0, Vec::new());
            while file.read_until(b'\n', &mut line).map_err(fail)? > 0 {
                digest.update(&line);
                rows += 1;
                line.clear();
            }
            let found = hex(&digest.finalize());
            if found != listed.sha256 || rows != listed.rows {
                let why = format!(
                    "is not as it was written: {rows} rows, SHA-256 {found}, where {NAME} says {} and {}; take an undamaged copy",
                    listed.rows, listed.sha256
                );
                return Err(CopyError::at(&path, why));
            }
        }
        Ok(())
    }
}

/// Bytes as hexadecimal digits.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
