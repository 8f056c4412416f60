//! Every file variant of photos, written by another library: all show the same scene.

use crate::made::{Image, ingested};
use std::path::Path;

fn samples() -> impl Iterator<Item = (String, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/photo");
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()).collect();
    // The folder also contains synthetic scenes and pictures of other sizes.
    files.retain(|file| file.is_file() && file.extension().is_none_or(|kind| kind != "json"));
    files.sort();
    files
        .into_iter()
        .map(|file| (file.file_name().unwrap().to_string_lossy().into_owned(), std::fs::read(file).unwrap()))
}

#[test]
fn all_kinds_show_the_same_scene() {
    let find = |name: &str| samples().find(|sample| sample.0 == name).unwrap().1;
    let copy = |bytes: &[u8]| Image::decoded(&ingested(bytes).unwrap().working);
    let (plain, grey) = (copy(&find("plain.png")), copy(&find("grey.png")));
    // The scene as it was drawn: two squares.
    assert!(plain.at(12, 10).abs_diff(230) <= 8 && plain.at(36, 26).abs_diff(30) <= 8);
    let mut seen = 0;
    for (name, bytes) in samples() {
        let facts = ingested(&bytes).unwrap().facts;
        assert_eq!((facts.width, facts.height), (48, 36), "{name}");
        let copy = copy(&bytes);
        assert_eq!((copy.width, copy.height), (48, 36), "{name}");
        let reference = if copy.channels == 1 { &grey } else { &plain };
        let likeness = copy.psnr(reference);
        // Files with chroma at half size (4:2:0) blur the colour of edges: 27 dB or more. Red and blue
        // exchanged: 11 dB; rotated by 180 degrees: 10 dB.
        assert!(likeness > 25.0, "{name}: {likeness} dB");
        // Luma is stored at full size by all of them: 38 dB or more after two lossy encodings.
        let luma = copy.luma().psnr(&reference.luma());
        assert!(luma > 36.0, "{name}: {luma} dB in luma");
        seen += 1;
    }
    assert_eq!(seen, 17);
}
