//! The deployment files use only what the command line accepts.

use clap::{ArgAction, CommandFactory, Parser};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use steerwright_intake::args::{Cli, Command};
use url::Url;
use yaml_rust2::{Yaml, YamlLoader};

fn read(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

/// Parses arguments and environment variables like the command line. A variable is passed as its flag, so
/// that its value is parsed.
fn parse_command(words: &[String], variables: &BTreeMap<String, String>) -> Result<Cli, String> {
    let command = Cli::command();
    let named = command.get_subcommands().find(|it| words.get(1).is_some_and(|word| word == it.get_name()));
    let task = named.ok_or_else(|| format!("{words:?} is no task"))?;
    let mut words = words.to_vec();
    for (name, value) in variables {
        // The photo store (object_store) reads these itself.
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
    Cli::try_parse_from(words).map_err(|error| error.to_string())
}

/// Substitutes the variables of the file `.env`.
fn substitute(text: &str) -> String {
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
    // A YAML value that is not a string (true, 8480) might reach the command in another form.
    pairs
        .map(|(name, value)| (name.as_str().unwrap().to_owned(), substitute(value.as_str().unwrap())))
        .collect()
}

#[test]
fn the_compose_file_names_what_the_command_takes() {
    let text = read("compose.yaml");
    let files = YamlLoader::load_from_str(&text).unwrap();
    let [file] = files.as_slice() else { panic!("one document") };
    let (intake, database) = (&file["services"]["intake"], &file["services"]["database"]);
    let words = texts(&intake["command"]);
    let Command::Serve(serve) = parse_command(&words, &environment(intake)).unwrap().command else {
        panic!("{words:?}")
    };

    // It listens to the other containers and to the published port, which is bound to the loopback interface.
    assert!(serve.listen.ip().is_unspecified());
    for port in texts(&intake["ports"]) {
        let [host, _, inside] = port.split(':').collect::<Vec<_>>()[..] else { panic!("{port}") };
        assert_eq!((host, inside.parse().unwrap()), ("127.0.0.1", serve.listen.port()));
    }
    // Its data is stored in a volume.
    let kept = texts(&intake["volumes"]);
    let [volume, catalogue] = kept.as_slice() else { panic!("{kept:?}") };
    let mounted = catalogue.strip_suffix(":ro").and_then(|mount| mount.split_once(':')).unwrap().1;
    assert_eq!(Path::new(mounted), serve.catalogue);
    let (name, folder) = volume.split_once(':').unwrap();
    assert_eq!(Path::new(folder), serve.storage.data);
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

    // The database address refers to the other service, with its user, database name and password.
    let address = Url::parse(&serve.storage.database.unwrap()).unwrap();
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

    // The command in the comment at the top of the file.
    let head = text.lines().find_map(|line| line.strip_prefix("#   compose exec intake ")).unwrap();
    let (words, name) = head.split_once(" \"").unwrap();
    let mut words: Vec<String> = words.split(' ').map(str::to_owned).collect();
    words.push(name.trim_end_matches('"').to_owned());
    assert!(matches!(parse_command(&words, &BTreeMap::new()).unwrap().command, Command::Sender(_)));
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
    let Command::Serve(serve) = parse_command(&words, &variables).unwrap().command else {
        panic!("{words:?}")
    };
    let folder = all("StateDirectory=")[0];
    assert_eq!(serve.storage.data, Path::new("/var/lib").join(folder));
}

/// The tests above detect errors.
#[test]
fn what_the_command_does_not_take_is_told() {
    let words = |words: &str| words.split(' ').map(str::to_owned).collect::<Vec<_>>();
    let with = |name: &str, value: &str| BTreeMap::from([(name.to_owned(), value.to_owned())]);
    let serve = words("steerwright-intake serve --catalogue x.json");
    for (name, value) in [
        ("STEERWRIGHT_INTAKE_LISTENS", "0.0.0.0:8480"),
        ("STEERWRIGHT_INTAKE_LISTEN", "8480"),
        ("STEERWRIGHT_INTAKE_HTTPS", "yes please"),
        ("STEERWRIGHT_INTAKE_PART_BYTES", "262143"),
        ("STEERWRIGHT_INTAKE_TRUSTED_PROXY", "my-proxy"),
        ("STEERWRIGHT_INTAKE_KEEP_REQUESTS_DAYS", "0"),
    ] {
        assert!(parse_command(&serve, &with(name, value)).is_err(), "{name}={value}");
    }
    assert!(parse_command(&serve, &with("STEERWRIGHT_INTAKE_PART_BYTES", "262144")).is_ok());
    assert!(parse_command(&words("steerwright-intake serve --port 8480"), &BTreeMap::new()).is_err());
    assert!(parse_command(&words("steerwright-intake run"), &BTreeMap::new()).is_err());
}
