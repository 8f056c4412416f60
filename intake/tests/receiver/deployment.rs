//! The files for running it say nothing that the command does not take.

use clap::{ArgAction, CommandFactory, Parser};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use steerwright_intake::args::{Command, Task};
use url::Url;
use yaml_rust2::{Yaml, YamlLoader};

fn read(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

/// Calls the command as its words and variables say; what it does not take is told. A variable is put as the flag that
/// it stands for, so that its value is read as the command reads it.
fn called(words: &[String], variables: &BTreeMap<String, String>) -> Result<Command, String> {
    let command = Command::command();
    let named = command.get_subcommands().find(|it| words.get(1).is_some_and(|word| word == it.get_name()));
    let task = named.ok_or_else(|| format!("{words:?} is no task"))?;
    let mut words = words.to_vec();
    for (name, value) in variables {
        // Those are read by the store for photos (object_store), which has its own.
        if name.starts_with("AWS_") {
            continue;
        }
        let mut known = task.get_arguments().chain(command.get_arguments());
        let flag = known
            .find(|flag| flag.get_env().is_some_and(|it| it == name.as_str()))
            .ok_or_else(|| format!("{name} is no variable of {}", task.get_name()))?;
        let long = flag.get_long().unwrap();
        match (flag.get_action(), value.as_str()) {
            (ArgAction::SetTrue, "true") => words.push(format!("--{long}")),
            (ArgAction::SetTrue, "false") => {}
            (ArgAction::SetTrue, other) => return Err(format!("{name} is {other}, not true or false")),
            _ => words.push(format!("--{long}={value}")),
        }
    }
    Command::try_parse_from(words).map_err(|error| error.to_string())
}

/// What stands in the file of variables, put in place.
fn put_in(text: &str) -> String {
    let mut whole = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once("${") {
        let (inside, behind) = after.split_once('}').unwrap();
        let name = inside.split(':').next().unwrap();
        assert_eq!(name, "PASSWORD", "no other variable is told of at the top of the file");
        whole.push_str(before);
        whole.push_str("secret1");
        rest = behind;
    }
    whole + rest
}

fn texts(of: &Yaml) -> Vec<String> {
    of.as_vec().unwrap().iter().map(|it| it.as_str().unwrap().to_owned()).collect()
}

fn environment(service: &Yaml) -> BTreeMap<String, String> {
    let pairs = service["environment"].as_hash().unwrap().iter();
    // What is no text in YAML (true, 8480) would reach the command as another one.
    pairs.map(|(name, value)| (name.as_str().unwrap().to_owned(), put_in(value.as_str().unwrap()))).collect()
}

#[test]
fn the_compose_file_names_what_the_command_takes() {
    let text = read("compose.yaml");
    let files = YamlLoader::load_from_str(&text).unwrap();
    let [file] = files.as_slice() else { panic!("one document") };
    let (intake, database) = (&file["services"]["intake"], &file["services"]["database"]);
    let words = texts(&intake["command"]);
    let Task::Serve(serve) = called(&words, &environment(intake)).unwrap().task else { panic!("{words:?}") };

    // It listens for the other containers and the port that is handed on, and nowhere on this machine but the loopback.
    assert!(serve.listen.ip().is_unspecified());
    for port in texts(&intake["ports"]) {
        let [host, _, inside] = port.split(':').collect::<Vec<_>>()[..] else { panic!("{port}") };
        assert_eq!((host, inside.parse().unwrap()), ("127.0.0.1", serve.listen.port()));
    }
    // Its data outlives the container.
    let kept = texts(&intake["volumes"]);
    let [volume] = kept.as_slice() else { panic!("{kept:?}") };
    let (name, folder) = volume.split_once(':').unwrap();
    assert_eq!(Path::new(folder), serve.place.data);
    let volumes = file["volumes"].as_hash().unwrap();
    for name in [name, texts(&database["volumes"])[0].split_once(':').unwrap().0] {
        assert!(volumes.contains_key(&Yaml::String(name.to_owned())), "{name}");
    }
    let recipe = intake["build"]["dockerfile_inline"].as_str().unwrap();
    assert!(recipe.contains(&format!("install -d -o intake {folder}")) && recipe.contains("USER intake"));
    assert!(recipe.contains("cargo build --release --locked -p steerwright-intake"));
    let base = Path::new(env!("CARGO_MANIFEST_DIR")).join(intake["build"]["context"].as_str().unwrap());
    assert!(base.join("Cargo.lock").exists());
    let toolchain = env!("CARGO_PKG_RUST_VERSION");
    assert!(recipe.contains(&format!("FROM rust:{toolchain}")), "the compiler is {toolchain}");

    // The address of the database is that of the other service, as its variables set it up.
    let address = Url::parse(&serve.place.database.unwrap()).unwrap();
    let set_up = environment(database);
    assert_eq!(address.scheme(), "postgres");
    assert_eq!(address.host_str(), Some("database"));
    assert_eq!(address.username(), set_up["POSTGRES_USER"]);
    assert_eq!(address.path().trim_start_matches('/'), set_up["POSTGRES_DB"]);
    assert_eq!(address.password(), Some(set_up["POSTGRES_PASSWORD"].as_str()));
    assert_eq!(
        intake["depends_on"]["database"]["condition"].as_str(),
        Some("service_healthy"),
        "or the first start fails"
    );
    assert!(!database["healthcheck"]["test"].is_badvalue());

    // The call that the file's head tells of.
    let head = text.lines().find_map(|line| line.strip_prefix("#   compose exec intake ")).unwrap();
    let (words, name) = head.split_once(" \"").unwrap();
    let mut words: Vec<String> = words.split(' ').map(str::to_owned).collect();
    words.push(name.trim_end_matches('"').to_owned());
    assert!(matches!(called(&words, &BTreeMap::new()).unwrap().task, Task::Sender(_)));
}

#[test]
fn the_unit_names_what_the_command_takes() {
    let unit = read("steerwright-intake.service");
    let all = |name: &str| unit.lines().filter_map(|line| line.strip_prefix(name)).collect::<Vec<_>>();
    let starts = all("ExecStart=");
    let [start] = starts.as_slice() else { panic!("{starts:?}") };
    let words: Vec<String> = start.split(' ').map(str::to_owned).collect();
    let variables = all("Environment=");
    let variables = variables.iter().map(|line| line.split_once('=').unwrap());
    let variables = variables.map(|(name, value)| (name.to_owned(), value.to_owned())).collect();
    let Task::Serve(serve) = called(&words, &variables).unwrap().task else { panic!("{words:?}") };
    let folder = all("StateDirectory=")[0];
    assert_eq!(serve.place.data, Path::new("/var/lib").join(folder));
}

/// What the checks above are for.
#[test]
fn what_the_command_does_not_take_is_told() {
    let words = |words: &str| words.split(' ').map(str::to_owned).collect::<Vec<_>>();
    let with = |name: &str, value: &str| BTreeMap::from([(name.to_owned(), value.to_owned())]);
    let serve = words("steerwright-intake serve");
    for (name, value) in [
        ("STEERWRIGHT_INTAKE_LISTENS", "0.0.0.0:8480"),
        ("STEERWRIGHT_INTAKE_LISTEN", "8480"),
        ("STEERWRIGHT_INTAKE_HTTPS", "yes please"),
        ("STEERWRIGHT_INTAKE_PART_BYTES", "262143"),
    ] {
        assert!(called(&serve, &with(name, value)).is_err(), "{name}={value}");
    }
    assert!(called(&serve, &with("STEERWRIGHT_INTAKE_PART_BYTES", "262144")).is_ok());
    assert!(called(&words("steerwright-intake serve --port 8480"), &BTreeMap::new()).is_err());
    assert!(called(&words("steerwright-intake run"), &BTreeMap::new()).is_err());
}
