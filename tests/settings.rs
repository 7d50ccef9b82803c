//! duskmark.toml and the environment: what stands for options that are not given.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::Path;

use support::program::{Said, duskmark, run};

fn settings(folder: &Path, text: &str) {
    std::fs::create_dir_all(folder).unwrap();
    std::fs::write(folder.join("duskmark.toml"), text).unwrap();
}

/// What the virtual board of a seed says, asked for with these words and variables.
fn boards(folder: &Path, words: &[&str], variables: &[(&str, &str)]) -> Said {
    let mut command = duskmark(folder, &["boards"]);
    command.args(words).envs(variables.iter().copied());
    command.env("XDG_CONFIG_HOME", folder.join("user"));
    command.output().unwrap().into()
}

#[test]
fn what_is_typed_stands_over_the_environment_over_here_over_the_users_own() {
    let folder = tempfile::tempdir().unwrap();
    let user = folder.path().join("user/duskmark");
    let board = |text: &str| format!("[options]\nboard = \"virtual:seed={text}\"\n");
    settings(&user, &board("41"));
    let says = |words: &[&str], variables: &[(&str, &str)], id: &str| {
        let said = boards(folder.path(), words, variables);
        let wanted = format!("virtual-{id}: ");
        assert!(said.done().out.contains(&wanted), "{id}: {said:?}");
    };
    says(&[], &[], "41");
    settings(folder.path(), &board("42"));
    says(&[], &[], "42");
    let variable = [("DUSKMARK_BOARD", "virtual:seed=43")];
    says(&[], &variable, "43");
    says(&["--board", "virtual:seed=44"], &variable, "44");
    // Each option has its variable.
    let said = boards(folder.path(), &[], &[("DUSKMARK_BAUD", "7")]);
    said.failed_with(2, &["--baud"]);
}

#[test]
fn a_list_gives_several_and_a_table_is_for_one_command() {
    let folder = tempfile::tempdir().unwrap();
    let text = "[options]\nboard = [\"virtual:seed=5\", \"virtual:seed=6\"]\n\
                [options.boards]\njson = true\n\
                [options.log]\nboard = \"virtual:speed=200\"\nheat = \"1m\"\nsettle = \"off\"\n";
    settings(folder.path(), text);
    let said = boards(folder.path(), &[], &[]);
    let ids: Vec<String> = said
        .done()
        .out
        .lines()
        .map(|line| {
            let found: serde_json::Value = serde_json::from_str(line).unwrap();
            found["board_id"].as_str().unwrap().to_owned()
        })
        .collect();
    assert_eq!(ids, ["virtual-5", "virtual-6"]);
    // A lesson is set, but this run is unattended.
    let said = run(folder.path(), &["log", "--for", "30s", "--view", "off"]);
    said.done();
    let runs: Vec<_> = std::fs::read_dir(folder.path().join("runs"))
        .unwrap()
        .collect();
    assert_eq!(runs.len(), 1);
    let about = runs[0].as_ref().unwrap().path().join("run.toml");
    let about = std::fs::read_to_string(about).unwrap();
    assert!(
        about.contains("for_s = 30.0") && !about.contains("heat_s"),
        "{about}"
    );
}

#[test]
fn what_cannot_be_used_is_said_with_its_line() {
    let folder = tempfile::tempdir().unwrap();
    for (text, said) in [
        (
            "[options]\nboud = 9600\n",
            &[
                "duskmark.toml:2:1: the key 'boud' is not known",
                "Did you mean 'baud'?",
            ][..],
        ),
        (
            "[options]\n\nbaud = 7\n",
            &["duskmark.toml:3:8: invalid value '7' for '--baud"],
        ),
        (
            "[options]\nbaud = 1979-05-27\n",
            &["duskmark.toml:2:8: a text, a number, true or a list"],
        ),
        (
            "[options.boards]\nheat = \"1m\"\n",
            &["duskmark.toml:2:1: the key 'heat' is not known"],
        ),
        (
            "[options.lgo]\nheat = \"1m\"\n",
            &[
                "duskmark.toml:1:10: the command 'lgo' is not known",
                "Did you mean 'log'?",
            ],
        ),
        (
            "[options]\nresume = \"last\"\n",
            &["duskmark.toml:2:1: the key 'resume' is not known"],
        ),
        ("options = 3\n", &["duskmark.toml:1:11: options is a table"]),
        (
            "[options]\nunit = \"celsius\"\n",
            &["duskmark.toml:2:8: invalid value 'celsius' for '--unit"],
        ),
        ("[options\n", &["duskmark.toml:1:9: "]),
    ] {
        settings(folder.path(), text);
        boards(folder.path(), &["--board", "virtual"], &[]).failed_with(2, said);
        // Help is needed most where something is wrong.
        run(folder.path(), &["boards", "--help"]).done();
    }
}

#[test]
fn commands_inside_a_command_have_settings_and_variables_too() {
    let folder = tempfile::tempdir().unwrap();
    let text =
        "[options]\nboard = \"virtual:bath=0,speed=inf\"\n[options.calibrate]\ntime = \"40s\"\n";
    settings(folder.path(), text);
    let ice = |variable: &str, value: &str| -> Said {
        let mut command = duskmark(folder.path(), &["calibrate", "ice", "--json"]);
        command
            .env("DUSKMARK_NO_STORE", "true")
            .env(variable, value);
        command.output().unwrap().into()
    };
    let said = ice("DUSKMARK_READY", "true");
    let told: serde_json::Value = serde_json::from_str(&said.done().out).unwrap();
    // By the board of the settings, and kept nowhere, as the variable says.
    assert_eq!(told["kind"], "ice", "{told}");
    assert!(told["store"].is_null(), "{told}");
    ice("DUSKMARK_TIME", "often").failed_with(2, &["--time"]);
    settings(folder.path(), "[options.calibrate]\ntime = \"often\"\n");
    ice("DUSKMARK_READY", "true").failed_with(2, &["duskmark.toml", "2", "often"]);
}
