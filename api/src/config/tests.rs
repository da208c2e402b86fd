//! Settings: which goes before which, and what is refused.

use super::*;

fn read(flags: &Flags, set: &[(&str, &str)]) -> Result<Config, String> {
    Config::read(flags, &|name| {
        Ok(set.iter().find(|(known, _)| *known == name).map(|(_, v)| (*v).to_owned()))
    })
}

fn source(config: &Config, name: &str) -> String {
    config.settings().iter().find(|s| s.name == name).unwrap().source.to_string()
}

#[test]
fn a_flag_goes_before_the_environment_and_both_before_a_file() {
    let path = std::env::temp_dir().join(format!("onetrip-config-{}.toml", std::process::id()));
    std::fs::write(&path, "data = \"of-file\"\nlisten = \"1.1.1.1:1\"\nsecure_cookies = true\n")
        .unwrap();
    let set = [("ONETRIP_DATA", "of-environment"), (FILE_VARIABLE, path.to_str().unwrap())];
    let plain = read(&Flags::default(), &set).unwrap();
    assert_eq!(plain.place(), Place::parse("of-environment"));
    assert_eq!(source(&plain, "data"), "environment ONETRIP_DATA");
    assert_eq!(plain.listen(), "1.1.1.1:1");
    assert_eq!(source(&plain, "listen"), format!("file {}", path.display()));
    assert!(plain.secure_cookies());
    assert_eq!((source(&plain, "log"), plain.log()), ("default".to_owned(), "warn"));
    let flags = Flags { data: Some("of-flag".to_owned()), ..Flags::default() };
    let flagged = read(&flags, &set).unwrap();
    assert_eq!(flagged.place(), Place::parse("of-flag"));
    assert_eq!(source(&flagged, "data"), "flag --data");
    std::fs::remove_file(path).unwrap();
}

#[test]
fn passwords_are_not_shown() {
    for (given, shown) in [
        ("postgres://u:p:w@h:5432/d?sslmode=off", "postgres://u:***@h:5432/d?sslmode=off"),
        ("postgresql://u@h/d", "postgresql://u@h/d"),
        ("postgres://h/d?user=u&password=pw", "postgres://h/d?user=u&password=***"),
        ("a folder", "a folder"),
    ] {
        assert_eq!(masked(given), shown);
    }
}

#[test]
fn what_cannot_be_taken_is_told() {
    let told = |set: &[(&str, &str)]| read(&Flags::default(), set).unwrap_err();
    assert!(told(&[("ONETRIP_SECURE_COOKIES", "yes")]).contains("one of: true, false"));
    assert!(told(&[("ONETRIP_DATA", "a"), ("ONETRIP_DATA_FILE", "b")]).contains("both set"));
    assert!(told(&[("ONETRIP_DATA_FILE", "/nowhere/at-all")]).contains("/nowhere/at-all"));
    assert!(told(&[(FILE_VARIABLE, "/nowhere/at-all")]).contains("/nowhere/at-all"));
    assert!(told(&[("ONETRIP_LISTEN", " ")]).contains("listen is empty"));
    let every = |minutes| {
        let set = [("ONETRIP_BACKUP_TO", "there"), ("ONETRIP_BACKUP_MINUTES", minutes)];
        read(&Flags::default(), &set).unwrap().backups()
    };
    assert_eq!(every("15"), Ok(Some((PathBuf::from("there"), 15))));
    assert!(every("0").unwrap_err().contains("from 1 to"));
}
