//! Files generated for the tests: pictures, Exif blocks, and containers around them.

use image::codecs::png::PngEncoder;
use image::codecs::webp::WebPEncoder;
use image::{DynamicImage, ExtendedColorType, ImageEncoder};
use steerwright_core::photo::{BuiltIn, IngestedPhoto, Limits, PhotoError, ingest};

/// Byte order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Order {
    Big,
    Little,
}

/// One directory entry: tag, type, count and the value's bytes in the block's order.
struct Entry(u16, u16, u32, Vec<u8>);

/// Writes a TIFF block by hand, independently of the library that reads it.
pub(crate) struct Exif {
    order: Order,
    main: Vec<Entry>,
    exif: Vec<Entry>,
    place: Vec<Entry>,
}

impl Exif {
    pub(crate) fn new(order: Order) -> Self {
        Self { order, main: Vec::new(), exif: Vec::new(), place: Vec::new() }
    }

    pub(crate) fn u16(&self, value: u16) -> [u8; 2] {
        match self.order {
            Order::Big => value.to_be_bytes(),
            Order::Little => value.to_le_bytes(),
        }
    }

    pub(crate) fn u32(&self, value: u32) -> [u8; 4] {
        match self.order {
            Order::Big => value.to_be_bytes(),
            Order::Little => value.to_le_bytes(),
        }
    }

    fn directory(&mut self, tag: u16) -> &mut Vec<Entry> {
        match tag {
            0..0x20 => &mut self.place,
            0x829A.. => &mut self.exif,
            _ => &mut self.main,
        }
    }

    pub(crate) fn short(mut self, tag: u16, value: u16) -> Self {
        let bytes = self.u16(value).to_vec();
        self.directory(tag).push(Entry(tag, 3, 1, bytes));
        self
    }

    /// An Exif field in the main directory, as written by some cameras.
    pub(crate) fn misplaced_short(mut self, tag: u16, value: u16) -> Self {
        let bytes = self.u16(value).to_vec();
        self.main.push(Entry(tag, 3, 1, bytes));
        self
    }

    pub(crate) fn long(mut self, tag: u16, value: u32) -> Self {
        let bytes = self.u32(value).to_vec();
        self.directory(tag).push(Entry(tag, 4, 1, bytes));
        self
    }

    pub(crate) fn text(mut self, tag: u16, value: &str) -> Self {
        let mut bytes = value.as_bytes().to_vec();
        bytes.push(0);
        self.directory(tag).push(Entry(tag, 2, bytes.len() as u32, bytes));
        self
    }

    pub(crate) fn undefined(mut self, tag: u16, value: &[u8]) -> Self {
        self.directory(tag).push(Entry(tag, 7, value.len() as u32, value.to_vec()));
        self
    }

    pub(crate) fn rationals(mut self, tag: u16, values: &[(u32, u32)]) -> Self {
        let bytes = values.iter().flat_map(|v| [self.u32(v.0), self.u32(v.1)].concat()).collect();
        self.directory(tag).push(Entry(tag, 5, values.len() as u32, bytes));
        self
    }

    /// An entry whose value is stated to be far beyond the end of the block.
    pub(crate) fn broken(mut self, tag: u16) -> Self {
        let mut bytes = self.u32(0x7FFF_0000).to_vec();
        bytes.extend([0; 0]);
        self.directory(tag).push(Entry(tag, 2, 500, bytes));
        self
    }

    pub(crate) fn build(mut self) -> Vec<u8> {
        // The sub-directories' offsets are known once the main directory's size is.
        let size = |entries: &[Entry]| {
            let long = |e: &Entry| if e.3.len() > 4 { e.3.len().next_multiple_of(2) } else { 0 };
            2 + 12 * entries.len() + 4 + entries.iter().map(long).sum::<usize>()
        };
        let (exif, place) = (std::mem::take(&mut self.exif), std::mem::take(&mut self.place));
        let mut main = std::mem::take(&mut self.main);
        let mut at =
            8 + size(&main) + 12 * usize::from(!exif.is_empty()) + 12 * usize::from(!place.is_empty());
        let mut after = Vec::new();
        for (tag, entries) in [(0x8769, exif), (0x8825, place)] {
            if !entries.is_empty() {
                main.push(Entry(tag, 4, 1, self.u32(at as u32).to_vec()));
                let directory = self.lay(entries, at);
                at += directory.len();
                after.extend(directory);
            }
        }
        let mut block = match self.order {
            Order::Big => b"MM\0\x2A".to_vec(),
            Order::Little => b"II\x2A\0".to_vec(),
        };
        block.extend(self.u32(8));
        block.extend(self.lay(main, 8));
        block.extend(after);
        block
    }

    fn lay(&self, mut entries: Vec<Entry>, at: usize) -> Vec<u8> {
        entries.sort_by_key(|entry| entry.0);
        let mut directory = self.u16(entries.len() as u16).to_vec();
        let mut values = Vec::new();
        let values_at = at + 2 + 12 * entries.len() + 4;
        for Entry(tag, kind, count, mut bytes) in entries {
            directory.extend(self.u16(tag));
            directory.extend(self.u16(kind));
            directory.extend(self.u32(count));
            if bytes.len() > 4 {
                directory.extend(self.u32((values_at + values.len()) as u32));
                bytes.resize(bytes.len().next_multiple_of(2), 0);
                values.extend(bytes);
            } else {
                bytes.resize(4, 0);
                directory.extend(bytes);
            }
        }
        directory.extend([0; 4]);
        directory.extend(values);
        directory
    }
}

/// A grey or colour picture in memory.
#[derive(Clone)]
pub(crate) struct Image {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) channels: usize,
    pub(crate) data: Vec<u8>,
}

impl Image {
    pub(crate) fn rgb(width: usize, height: usize, pixel: impl Fn(usize, usize) -> [u8; 3]) -> Self {
        let data = (0..width * height).flat_map(|i| pixel(i % width, i / width)).collect();
        Self { width, height, channels: 3, data }
    }

    /// Squares of one grey each.
    pub(crate) fn squares(greys: &[Vec<u8>], side: usize) -> Self {
        let (width, height) = (greys[0].len() * side, greys.len() * side);
        Self::rgb(width, height, |x, y| [greys[y / side][x / side]; 3])
    }

    pub(crate) fn jpeg(&self, quality: u8, segments: &[(u8, &[u8])]) -> Vec<u8> {
        let mut out = Vec::new();
        let mut encoder = jpeg_encoder::Encoder::new(&mut out, quality);
        for (number, body) in segments {
            encoder.add_app_segment(*number, body.to_vec()).unwrap();
        }
        let colour =
            if self.channels == 1 { jpeg_encoder::ColorType::Luma } else { jpeg_encoder::ColorType::Rgb };
        encoder.encode(&self.data, self.width as u16, self.height as u16, colour).unwrap();
        out
    }

    pub(crate) fn jpeg_with_exif(&self, quality: u8, exif: &[u8]) -> Vec<u8> {
        self.jpeg(quality, &[(1, &[b"Exif\0\0", exif].concat())])
    }

    pub(crate) fn png(&self, exif: Option<&[u8]>) -> Vec<u8> {
        let mut out = Vec::new();
        self.write(PngEncoder::new(&mut out), exif);
        out
    }

    pub(crate) fn webp(&self, exif: Option<&[u8]>) -> Vec<u8> {
        let mut out = Vec::new();
        self.write(WebPEncoder::new_lossless(&mut out), exif);
        out
    }

    fn write(&self, mut encoder: impl ImageEncoder, exif: Option<&[u8]>) {
        if let Some(block) = exif {
            encoder.set_exif_metadata(block.to_vec()).unwrap();
        }
        let colour = match self.channels {
            1 => ExtendedColorType::L8,
            3 => ExtendedColorType::Rgb8,
            _ => ExtendedColorType::Rgba8,
        };
        encoder.write_image(&self.data, self.width as u32, self.height as u32, colour).unwrap();
    }

    /// Decodes a copy, with another decoder than the one under test.
    pub(crate) fn decoded(jpeg: &[u8]) -> Self {
        let image = image::load_from_memory_with_format(jpeg, image::ImageFormat::Jpeg).unwrap();
        let channels = if matches!(image, DynamicImage::ImageLuma8(_)) { 1 } else { 3 };
        let (width, height) = (image.width() as usize, image.height() as usize);
        Self { width, height, channels, data: image.into_bytes() }
    }

    /// First channel at a place.
    pub(crate) fn at(&self, x: usize, y: usize) -> u8 {
        self.data[(y * self.width + x) * self.channels]
    }

    /// Luma (ITU-R BT.601), one channel.
    pub(crate) fn luma(&self) -> Self {
        let luma = |p: &[u8]| match *p {
            [red, green, blue, ..] => {
                (0.299 * f64::from(red) + 0.587 * f64::from(green) + 0.114 * f64::from(blue)).round() as u8
            }
            _ => p[0],
        };
        let data = self.data.chunks_exact(self.channels).map(luma).collect();
        Self { channels: 1, data, ..*self }
    }

    /// Peak signal-to-noise ratio to another picture of the same size, dB (all channels together).
    pub(crate) fn psnr(&self, other: &Self) -> f64 {
        assert_eq!((self.width, self.height, self.channels), (other.width, other.height, other.channels));
        let squares = self.data.iter().zip(&other.data).map(|(a, b)| f64::from(a.abs_diff(*b)).powi(2));
        10.0 * (255.0_f64.powi(2) * self.data.len() as f64 / squares.sum::<f64>()).log10()
    }
}

pub(crate) fn ingested(bytes: &[u8]) -> Result<IngestedPhoto, PhotoError> {
    ingest(bytes, &Limits::default(), &BuiltIn)
}

/// Marker and body of each segment up to the end of the image; the coded data between is skipped.
pub(crate) fn segments(jpeg: &[u8]) -> Vec<(u8, &[u8])> {
    let mut found = Vec::new();
    let mut at = 2;
    while at + 4 <= jpeg.len() {
        if jpeg[at] != 0xFF || matches!(jpeg[at + 1], 0 | 0xD0..=0xD7 | 0xFF) {
            at += 1;
            continue;
        }
        let length = usize::from(u16::from_be_bytes([jpeg[at + 2], jpeg[at + 3]]));
        found.push((jpeg[at + 1], &jpeg[at + 4..at + 2 + length]));
        at += 2 + length;
    }
    assert_eq!(&jpeg[jpeg.len() - 2..], [0xFF, 0xD9], "nothing follows the end of the image");
    found
}
