//! PNG: row by row; only an interlaced one is held whole.

use super::rows::Shrinking;
use crate::{Format, Limits, PhotoError, Pixels};
use png::{Decoder, DecodingError, Transformations};

const FORMAT: Format = Format::Png;

pub(super) fn pixels(bytes: &[u8], at_least: u32, limits: &Limits) -> Result<Pixels, PhotoError> {
    let ceiling = png::Limits { bytes: usize::try_from(limits.memory).unwrap_or(usize::MAX) };
    let mut decoder = Decoder::new_with_limits(std::io::Cursor::new(bytes), ceiling);
    // Compressed texts and profiles could grow large, and none is kept.
    decoder.set_ignore_text_chunk(true);
    decoder.set_ignore_iccp_chunk(true);
    decoder.set_transformations(Transformations::normalize_to_color8());
    let (width, height) = decoder.read_header_info().map_err(error)?.size();
    limits.check_pixels(width, height)?;
    if width == 0 || height == 0 {
        return Err(PhotoError::Damaged { format: FORMAT });
    }
    // Two rows of at most four channels of 16 bits each.
    limits.check_memory(u64::from(width) * 16)?;
    let mut reader = decoder.read_info().map_err(error)?;
    let channels = reader.output_color_type().0.samples();
    let (line, whole) = (reader.output_line_size(width), reader.output_buffer_size());
    let (Some(line), Some(whole)) = (line, whole) else {
        return Err(PhotoError::TooLarge { width, height });
    };
    let step = u64::from(super::rows::step(width, height, at_least));
    let small = whole as u64 / (step * step);
    let interlaced = reader.info().interlaced;
    limits.check_memory(if interlaced { small + whole as u64 } else { small })?;
    let mut shrinking = Shrinking::new(width, height, channels, at_least);
    if interlaced {
        let mut data = vec![0; whole];
        reader.next_frame(&mut data).map_err(error)?;
        data.chunks_exact(line).for_each(|row| shrinking.push(row));
        return Ok(shrinking.finish());
    }
    for _ in 0..height {
        match reader.next_row().map_err(error)? {
            Some(row) if row.data().len() == line => shrinking.push(row.data()),
            _ => return Err(PhotoError::CutShort { format: FORMAT }),
        }
    }
    Ok(shrinking.finish())
}

fn error(error: DecodingError) -> PhotoError {
    match error {
        DecodingError::IoError(error) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
            PhotoError::CutShort { format: FORMAT }
        }
        _ => PhotoError::Damaged { format: FORMAT },
    }
}
