//! The files that pages need, each at an address that changes with its bytes:
//! a browser keeps it and never asks whether it is still the same.

use std::io::Write;
use std::sync::OnceLock;

use flate2::Compression;
use flate2::write::GzEncoder;

use crate::auth::session::digest;

/// A file as it is sent.
#[derive(Debug, Clone, Copy)]
pub struct Asset {
    name: &'static str,
    pub media_type: &'static str,
    pub bytes: &'static [u8],
}

const SCRIPT: &str = "text/javascript; charset=utf-8";

const FILES: &[Asset] = &[
    Asset {
        name: "app.css",
        media_type: "text/css; charset=utf-8",
        bytes: include_bytes!("../../assets/app.css"),
    },
    // One request for the own script, whose parts stand in files of their own.
    Asset {
        name: "app.js",
        media_type: SCRIPT,
        bytes: concat!(
            include_str!("../../assets/store.js"),
            include_str!("../../assets/forms.js"),
            include_str!("../../assets/cards.js"),
            include_str!("../../assets/outbox.js"),
            include_str!("../../assets/small.js"),
        )
        .as_bytes(),
    },
    Asset {
        name: "htmx.js",
        media_type: SCRIPT,
        bytes: include_bytes!("../../assets/htmx.min.js"),
    },
    Asset {
        name: "icon.svg",
        media_type: "image/svg+xml",
        bytes: include_bytes!("../../assets/icon.svg"),
    },
    Asset {
        name: "app.webmanifest",
        media_type: "application/manifest+json",
        bytes: include_bytes!("../../assets/app.webmanifest"),
    },
];

const WORKER: &str = include_str!("../../assets/sw.js");

/// Hexadecimal digits of a file's sum that stand in its address.
const DIGITS: usize = 12;

/// The files with their addresses.
fn known() -> &'static [(String, &'static Asset)] {
    static KNOWN: OnceLock<Vec<(String, &'static Asset)>> = OnceLock::new();
    KNOWN.get_or_init(|| FILES.iter().map(|asset| (hashed(asset), asset)).collect())
}

/// `app.css` as `app.1f0c9a2b4d5e.css`.
fn hashed(asset: &Asset) -> String {
    let sum = digest(asset.bytes);
    let sum = sum.get(..DIGITS).unwrap_or_default();
    match asset.name.rsplit_once('.') {
        Some((stem, end)) => format!("{stem}.{sum}.{end}"),
        None => format!("{}.{sum}", asset.name),
    }
}

/// The address of a file by its plain name, for pages.
#[must_use]
pub fn address(name: &str) -> String {
    let found = known().iter().find(|(_, asset)| asset.name == name);
    format!("/assets/{}", found.map_or(name, |(hashed, _)| hashed))
}

/// The file that is asked for, and whether the address names these very bytes.
/// A page of an earlier version asks for a sum that is gone: it gets what there
/// is, and must not keep it.
#[must_use]
pub fn find(file: &str) -> Option<(&'static Asset, bool)> {
    if let Some((_, asset)) = known().iter().find(|(hashed, _)| hashed == file) {
        return Some((asset, true));
    }
    let plain = match file.split('.').collect::<Vec<_>>().as_slice() {
        [stem, sum, end] if sum.len() == DIGITS => format!("{stem}.{end}"),
        _ => file.to_owned(),
    };
    FILES.iter().find(|asset| asset.name == plain).map(|asset| (asset, false))
}

/// A file packed as small as it goes, by gzip: what is sent at once is packed
/// quickly, a file that is sent for years may take its time.
#[must_use]
pub fn packed(asset: &Asset) -> &'static [u8] {
    static PACKED: OnceLock<Vec<(&'static str, Vec<u8>)>> = OnceLock::new();
    let all =
        PACKED.get_or_init(|| FILES.iter().map(|each| (each.name, pack(each.bytes))).collect());
    all.iter().find(|(name, _)| *name == asset.name).map_or(&[], |(_, bytes)| bytes)
}

fn pack(bytes: &[u8]) -> Vec<u8> {
    let mut packer = GzEncoder::new(Vec::new(), Compression::best());
    // Writing into memory does not fail; if it did, nothing would be sent packed.
    packer.write_all(bytes).and_then(|()| packer.finish()).unwrap_or_default()
}

/// The script that works beside the pages and keeps some for when the shop
/// cannot be reached. It changes whenever one of the files does, so that
/// browsers take the new ones in together.
#[must_use]
pub fn worker() -> String {
    let files: Vec<String> =
        FILES.iter().map(|asset| format!("\"{}\"", address(asset.name))).collect();
    let build = digest(files.concat().as_bytes());
    let build = build.get(..DIGITS).unwrap_or_default();
    format!("const BUILD = \"{build}\", FILES = [{}];\n{WORKER}", files.join(", "))
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn an_address_names_the_very_bytes() {
        let now = address("app.css");
        let file = now.strip_prefix("/assets/").unwrap();
        assert!(find(file).unwrap().1);
        // By its plain name, and by that of another version.
        for file in ["app.css", "app.000000000000.css"] {
            let (asset, exact) = find(file).unwrap();
            assert!(asset.name == "app.css" && !exact, "{file}");
        }
        assert!(find("app.0000.css").is_none() && find("none.css").is_none());
    }

    #[test]
    fn a_packed_file_unpacks_to_its_bytes() {
        for asset in FILES {
            let mut whole = Vec::new();
            std::io::Read::read_to_end(
                &mut flate2::read::GzDecoder::new(packed(asset)),
                &mut whole,
            )
            .unwrap();
            assert_eq!(whole, asset.bytes, "{}", asset.name);
        }
    }

    #[test]
    fn the_worker_names_every_file() {
        let worker = worker();
        assert!(FILES.iter().all(|asset| worker.contains(&address(asset.name))));
    }
}
