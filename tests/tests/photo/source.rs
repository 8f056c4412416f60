//! A platform's own decoder instead of ours.

use crate::made::Image;
use steerwright_core::photo::{Colour, Format, Limits, PhotoError, PixelSource, Pixels, ingest};

/// Returns the same pixels for every HEIC file.
struct Platform(Pixels);

impl PixelSource for Platform {
    fn reads(&self, format: Format) -> bool {
        format == Format::Heic
    }

    fn pixels(&self, _: &[u8], _: Format, at_least: u32, _: &Limits) -> Result<Pixels, PhotoError> {
        assert_eq!(at_least, 1600);
        Ok(self.0.clone())
    }
}

const HEIC: &[u8] = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic";

fn pixels() -> Pixels {
    // Half of a picture of 4001 by 1000: the last column represents one pixel only.
    let data =
        (0..2001 * 500).flat_map(|i| if i % 2001 < 1000 { [200, 10, 10] } else { [10, 10, 200] }).collect();
    let (width, height, full_width, full_height) = (2001, 500, 4001, 1000);
    Pixels { width, height, colour: Colour::Rgb, data, full_width, full_height, step: 2.0, upright: true }
}

#[test]
fn a_platform_may_read_what_we_do_not() {
    let intake = ingest(HEIC, &Limits::default(), &Platform(pixels())).unwrap();
    assert_eq!(intake.facts.format, Format::Heic);
    assert_eq!((intake.facts.width, intake.facts.height), (4001, 1000));
    let copy = Image::decoded(&intake.working);
    assert_eq!((copy.width, copy.height), (1600, 400));
    // The colours change at 2000 of 4001 pixels, 799.8 of 1600: away from the step all is red, then blue.
    assert!(copy.at(780, 200) > 190 && copy.at(820, 200) < 20, "{} {}", copy.at(780, 200), copy.at(820, 200));
}

#[test]
fn a_platform_that_contradicts_itself_is_not_believed() {
    let mut wrong = vec![pixels(), pixels(), pixels(), pixels(), pixels()];
    wrong[0].data.pop();
    wrong[1].width = 0;
    wrong[2].full_width = 100;
    wrong[3].step = f64::NAN;
    wrong[4].colour = Colour::Grey;
    for pixels in wrong {
        let refused = ingest(HEIC, &Limits::default(), &Platform(pixels));
        assert_eq!(refused, Err(PhotoError::Damaged { format: Format::Heic }));
    }
    let jpeg = Image::rgb(8, 8, |_, _| [0; 3]).jpeg(80, &[]);
    assert_eq!(ingest(&jpeg, &Limits::default(), &Platform(pixels())), Err(PhotoError::NotAPhoto));
}
