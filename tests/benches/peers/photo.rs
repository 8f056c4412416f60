//! Ingesting a photo of 12 Mpx, end to end, compared with libvips: processor time, memory and quality of the
//! copy.

use crate::subject::Subject;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::Command;
use steerwright_core::photo::{BuiltIn, Keep, Limits, for_sending, ingest};

const WIDTH: usize = 4000;
const HEIGHT: usize = 3000;

/// Modes of the peer's script, with their names.
const WAYS: [(&str, &str); 2] =
    [("photo: intake, thumbnail", "thumbnail"), ("photo: intake, halved decode", "halved")];

pub(crate) fn subjects() -> impl Iterator<Item = Subject> {
    WAYS.into_iter().map(|(name, way)| {
        // Created and read in the warm-up round, so that other subjects do not wait for it.
        let mut bytes = None;
        Subject {
            name,
            aim: 1.0,
            ours: Box::new(move || {
                let bytes = bytes.get_or_insert_with(|| photo().and_then(std::fs::read).unwrap_or_default());
                let intake = ingest(black_box(bytes), &Limits::default(), &BuiltIn);
                // A failed ingest must not count as fast.
                u64::from(black_box(intake).is_ok())
            }),
            check: None,
            peer_script: "photo.py",
            peer_args: vec![way.to_owned(), file().to_string_lossy().into_owned()],
        }
    })
}

/// Rows about memory and quality.
pub(crate) fn beside_time() -> std::io::Result<Vec<String>> {
    let file = photo()?;
    let mut rows = Vec::new();
    let ours = Command::new(std::env::current_exe()?).arg("--photo-memory").arg(&file).output()?;
    rows.push(format!("photo: memory, ours: {}", String::from_utf8_lossy(&ours.stdout).trim()));
    let ours = file.with_file_name("ours.jpg");
    let copy = for_sending(&std::fs::read(&file)?, &Limits::default(), &BuiltIn, Keep::Nothing);
    std::fs::write(&ours, copy.unwrap_or_default())?;
    let mut copies = vec![ours];
    for (_, way) in WAYS {
        let said = python("photo.py", &["memory".as_ref(), way.as_ref(), &file])?;
        rows.push(format!("photo: memory, {way}: {said}"));
        let theirs = file.with_file_name(format!("{way}.jpg"));
        python("photo.py", &["copy".as_ref(), way.as_ref(), &file, &theirs])?;
        copies.push(theirs);
    }
    let words: Vec<&Path> = std::iter::once(&file).chain(&copies).map(PathBuf::as_path).collect();
    rows.push(format!("photo: quality\n{}", python("photo_quality.py", &words)?));
    Ok(rows)
}

fn python(script: &str, words: &[&Path]) -> std::io::Result<String> {
    let python = std::env::var("STEERWRIGHT_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("peers").join(script);
    let output = Command::new(python).arg(path).args(words).output()?;
    let (said, message) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    let said = if output.status.success() { said.trim() } else { message.lines().last().unwrap_or("failed") };
    Ok(said.to_owned())
}

/// One ingest in this process, which has done nothing else: memory before it and at its peak, in bytes.
pub(crate) fn memory(file: &str) -> std::io::Result<String> {
    let bytes = std::fs::read(file)?;
    let before = held("VmRSS:")?;
    black_box(ingest(&bytes, &Limits::default(), &BuiltIn).is_ok());
    Ok(format!("{{\"before\": {before}, \"peak\": {}}}", held("VmHWM:")?))
}

fn held(name: &str) -> std::io::Result<u64> {
    let status = std::fs::read_to_string("/proc/self/status")?;
    let line = status.lines().find_map(|line| line.strip_prefix(name));
    let kib = line.and_then(|rest| rest.split_whitespace().next()).and_then(|word| word.parse::<u64>().ok());
    kib.map(|kib| kib * 1024).ok_or_else(|| std::io::Error::other("no such line"))
}

fn file() -> PathBuf {
    std::env::temp_dir().join("steerwright-peers").join("photo-12-mpx.jpg")
}

/// A photo as stored by an upright phone: quality 92, chroma halved, Exif with orientation 6. Made once.
fn photo() -> std::io::Result<PathBuf> {
    let file = file();
    std::fs::create_dir_all(file.with_file_name(""))?;
    if !file.exists() {
        let mut jpeg = Vec::new();
        let mut encoder = jpeg_encoder::Encoder::new(&mut jpeg, 92);
        encoder.set_sampling_factor(jpeg_encoder::SamplingFactor::F_2_2);
        let exif = b"II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0\x06\0\0\0\0\0\0\0";
        encoder.add_exif_metadata(exif).map_err(std::io::Error::other)?;
        let pixels = scene();
        encoder
            .encode(&pixels, WIDTH as u16, HEIGHT as u16, jpeg_encoder::ColorType::Rgb)
            .map_err(std::io::Error::other)?;
        std::fs::write(&file, jpeg)?;
    }
    Ok(file)
}

/// Light over rough ground, two wheels with spokes, tubes, and sensor noise, all from integer hashes.
fn scene() -> Vec<u8> {
    const TUBES: [[f32; 5]; 5] = [
        [1100.0, 1900.0, 1800.0, 1200.0, 25.0],
        [1800.0, 1200.0, 2600.0, 1150.0, 30.0],
        [2600.0, 1000.0, 2950.0, 1900.0, 28.0],
        [1800.0, 1200.0, 1900.0, 2000.0, 25.0],
        [1900.0, 2000.0, 2650.0, 1250.0, 35.0],
    ];
    let mut pixels = Vec::with_capacity(WIDTH * HEIGHT * 3);
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            let (fx, fy) = (x as f32, y as f32);
            let rough: f32 = [(200.0, 50.0), (60.0, 36.0), (16.0, 24.0), (6.0, 14.0), (2.0, 9.0)]
                .iter()
                .map(|&(size, height)| height * noise(fx / size, fy / size))
                .sum();
            let light = 110.0 + 50.0 * (fx / 700.0 + fy / 900.0).sin() + rough;
            let mut colour = [light, light * 0.95 + 12.0 * (fy / 500.0).cos(), light * 0.85];
            for (cx, cy) in [(1100.0, 1900.0), (2950.0, 1900.0)] {
                let (dx, dy) = (fx - cx, fy - cy);
                let radius = dx.hypot(dy);
                let spoke = (dy.atan2(dx) * 16.0).sin().abs() * radius < 48.0 && radius < 750.0;
                if spoke {
                    colour = [200.0; 3];
                }
                if (radius - 750.0).abs() < 28.0 {
                    colour = [25.0 + 0.2 * rough; 3];
                }
            }
            for [x0, y0, x1, y1, half] in TUBES {
                let (ux, uy) = (x1 - x0, y1 - y0);
                let along = (((fx - x0) * ux + (fy - y0) * uy) / (ux * ux + uy * uy)).clamp(0.0, 1.0);
                let aside = (fx - x0 - along * ux).hypot(fy - y0 - along * uy);
                if aside < half {
                    colour = [190.0 - 3.0 * aside, 40.0, 35.0];
                }
            }
            for (channel, value) in colour.iter().enumerate() {
                // The sum of three uniform numbers approximates normal sensor noise, here with a deviation of
                // 3.
                let grain: f32 =
                    (0..3).map(|i| hash(x as u32, y as u32, 7 + 3 * channel as u32 + i) - 0.5).sum();
                pixels.push((value + 6.0 * grain).clamp(0.0, 255.0) as u8);
            }
        }
    }
    pixels
}

/// Smooth noise of unit cells, -0.5 to 0.5.
fn noise(x: f32, y: f32) -> f32 {
    let (ix, iy) = (x.floor(), y.floor());
    let smooth = |t: f32| t * t * (3.0 - 2.0 * t);
    let (tx, ty) = (smooth(x - ix), smooth(y - iy));
    let corner = |dx: f32, dy: f32| hash((ix + dx) as u32, (iy + dy) as u32, 1) - 0.5;
    let upper = corner(0.0, 0.0) * (1.0 - tx) + corner(1.0, 0.0) * tx;
    let lower = corner(0.0, 1.0) * (1.0 - tx) + corner(1.0, 1.0) * tx;
    upper * (1.0 - ty) + lower * ty
}

/// A uniform number from 0 to 1 for a position.
fn hash(x: u32, y: u32, salt: u32) -> f32 {
    let mut h = x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77) ^ salt.wrapping_mul(0xC2B2_AE3D);
    h = (h ^ (h >> 15)).wrapping_mul(0x2C1B_3C6D);
    h = (h ^ (h >> 12)).wrapping_mul(0x297A_2D39);
    (h ^ (h >> 15)) as f32 / u32::MAX as f32
}
