//! Pictures of every page, for people to look at: `.ci/pictures`.

use std::path::{Path, PathBuf};

use crate::browser::Browser;
use crate::stage::{PASSWORD, Stage, Things, name_of};
use crate::walk;

const WIDTHS: [u32; 3] = [390, 820, 1280];

/// Where they go; without it none are made.
fn folder() -> Option<PathBuf> {
    std::env::var_os("ONETRIP_PICTURES").map(PathBuf::from)
}

fn take(browser: &Browser, address: &str, folder: &Path, name: &str) {
    for (dark, scheme) in [(false, "light"), (true, "dark")] {
        browser.dark(dark);
        for width in WIDTHS {
            browser.size(width, 900);
            browser.go(address);
            let file = folder.join(format!("{name}-{width}-{scheme}.png"));
            std::fs::write(file, browser.picture(width)).unwrap();
        }
    }
}

#[test]
fn pictures() {
    let Some(folder) = folder() else { return };
    let Some(stage) = Stage::sqlite() else { return };
    std::fs::create_dir_all(&folder).unwrap();
    let things = Things::make(&stage);
    let browser = stage.browser();
    let pages = walk::pages(&things);
    let mut seen: Vec<_> = pages.iter().map(|page| (page.who_sees_most(), page)).collect();
    // The technician's phone has pages of its own.
    let of_technician = pages.iter().filter(|page| page.roles.contains(&"technician"));
    seen.extend(of_technician.map(|page| (Some("technician"), page)));
    seen.sort_by_key(|(role, _)| *role);
    let mut signed_in = None;
    for (role, page) in seen {
        if role != signed_in {
            browser.sign_in(name_of(role.expect("public pages come first")), PASSWORD);
            signed_in = role;
        }
        for (number, address) in page.addresses.iter().enumerate() {
            let name = page.route.path.trim_matches('/').replace("shops/{shop}/", "");
            let name = name.replace(['/', '{', '}'], "-");
            let name = format!("{}-{name}-{number}", role.unwrap_or("anybody"));
            take(&browser, address, &folder, &name);
        }
    }
}
