//! JPEG, decoded at 1/1, 1/2, 1/4 or 1/8 of its size by a smaller inverse transform of each block.

use super::jpeg_segments::{Header, read_header, unsupported};
use crate::copies::fit;
use crate::{Colour, Format, Limits, PhotoError, Pixels};
use jpeg_decoder::{Decoder, Error, PixelFormat, UnsupportedFeature};

/// Longest side, pixels: the decoder rounds rows up to whole units of 16 and counts them in 16 bits.
const MAX_SIDE: u32 = 65_500;

pub(super) fn pixels(bytes: &[u8], at_least: u32, limits: &Limits) -> Result<Pixels, PhotoError> {
    let header = read_header(bytes)?;
    let Header { width: full_width, height: full_height, .. } = header;
    limits.check_pixels(full_width, full_height)?;
    if full_width.max(full_height) > MAX_SIDE {
        return Err(PhotoError::TooLarge { width: full_width, height: full_height });
    }
    let colour = match header.components {
        1 => Colour::Grey,
        3 => Colour::Rgb,
        4 => return Err(unsupported("its colours are for printing (CMYK)")),
        _ => return Err(unsupported("it has an odd number of channels")),
    };
    let count = u64::from(full_width) * u64::from(full_height);
    limits.check_work(count, header.scans)?;
    let (wide, high) = fit(full_width, full_height, at_least);
    let mut decoder = Decoder::new(bytes);
    let (width, height) =
        decoder.scale(wide as u16, high as u16).map(|(w, h)| (u32::from(w), u32::from(h))).map_err(error)?;
    let step = [1_u32, 2, 4, 8]
        .into_iter()
        .find(|step| full_width.div_ceil(*step) == width && full_height.div_ceil(*step) == height);
    let step = f64::from(step.ok_or(PhotoError::Damaged { format: Format::Jpeg })?);
    limits.check_memory(memory(&header, step))?;
    let data = decoder.decode().map_err(error)?;
    let expected = match colour {
        Colour::Grey => PixelFormat::L8,
        Colour::Rgb => PixelFormat::RGB24,
    };
    if decoder.info().is_none_or(|info| info.pixel_format != expected) {
        return Err(PhotoError::Damaged { format: Format::Jpeg });
    }
    Ok(Pixels { width, height, colour, data, full_width, full_height, step, upright: false })
}

/// Bytes held at once: the components' planes and the interleaved rows at their smaller size, and all coefficients
/// (16 bits a sample) if the file is progressive.
fn memory(header: &Header, step: f64) -> u64 {
    let pixels = u64::from(header.width) * u64::from(header.height);
    let fraction = 1.0 / (step * step);
    let small = (header.samples + pixels * header.components as u64) as f64 * fraction;
    let coefficients = if header.progressive { 2 * header.samples } else { 0 };
    coefficients + small as u64
}

fn error(error: Error) -> PhotoError {
    match error {
        Error::Io(error) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
            PhotoError::CutShort { format: Format::Jpeg }
        }
        Error::Unsupported(UnsupportedFeature::ArithmeticEntropyCoding) => {
            unsupported("it is arithmetically coded")
        }
        Error::Unsupported(_) => unsupported("it is of a kind that cameras do not write"),
        _ => PhotoError::Damaged { format: Format::Jpeg },
    }
}
