//! Measures scenes that `tests/scenes/scenes.py --out FILE` wrote, and prints their errors.
//!
//! `cargo run --example photo_scenes -- FILE`
#![expect(clippy::print_stdout, reason = "the answer of a program")]

use std::io::{Error, Result};
use steerwright_tests::photo_scenes::{Scene, Scenes, outcome, table};

fn main() -> Result<()> {
    let path = std::env::args_os().nth(1).ok_or_else(|| Error::other("no FILE of scenes is given"))?;
    let scenes = serde_json::from_slice::<Scenes>(&std::fs::read(path)?)?.scenes;
    println!("{}", table("all scenes", &outcome(&scenes)));
    let (square, turned): (Vec<Scene>, Vec<Scene>) =
        scenes.into_iter().partition(|scene| scene.view.yaw.abs() <= 10.0);
    println!("{}", table("turned by at most 10 degrees", &outcome(&square)));
    println!("{}", table("turned by more than 10 degrees", &outcome(&turned)));
    Ok(())
}
