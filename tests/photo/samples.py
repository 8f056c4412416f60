"""Small pictures of one scene in every file variant that photos have, written by libvips.

    python3 tests/photo/samples.py

Writes tests/data/photo: variants that our own tools cannot write (lossy WebP, interlaced and 16 bit PNG, other chroma),
and therefore by another implementation than the reader. Names with `turned` are stored with Exif orientation 6.
"""

import pathlib

import numpy as np
import pyvips

FOLDER = pathlib.Path(__file__).parent.parent / "data" / "photo"


def scene():
    y, x = np.mgrid[0:36, 0:48].astype(np.float64)
    red, green, blue = 40 + 3 * x, 60 + 4 * y, 200 - 2 * x - y
    picture = np.stack([red, green, blue], axis=-1)
    picture[4:16, 6:18] = [230, 60, 40]
    picture[20:32, 28:44] = [30, 50, 90]
    return pyvips.Image.new_from_array(picture.round().astype(np.uint8), interpretation="srgb")


def turned(image):
    """The array stored by a camera on its side: row 0 is the scene's right, column 0 its top."""
    image = image.rot270().copy()
    image.set_type(pyvips.GValue.gint_type, "orientation", 6)
    return image


def main():
    FOLDER.mkdir(exist_ok=True)
    image = scene()
    grey = image.colourspace("b-w")
    clear = image.bandjoin(pyvips.Image.black(48, 36) + 250).copy(interpretation="srgb").cast("uchar")
    frames = pyvips.Image.arrayjoin([image, image.invert()], across=1).copy()
    frames.set_type(pyvips.GValue.gint_type, "page-height", 36)
    files = {
        "baseline-420.jpg": (image, {"Q": 90, "subsample_mode": "on"}),
        "baseline-444-turned.jpg": (turned(image), {"Q": 90, "subsample_mode": "off"}),
        "progressive.jpg": (image, {"Q": 90, "interlace": True}),
        "progressive-turned.jpg": (turned(image), {"Q": 90, "interlace": True, "optimize_coding": True}),
        "restarts.jpg": (image, {"Q": 90, "restart_interval": 2}),
        "plain.png": (image, {}),
        "interlaced-turned.png": (turned(image), {"interlace": True}),
        "sixteen-bits.png": (image.colourspace("rgb16"), {"bitdepth": 16}),
        "palette.png": (image, {"palette": True, "dither": 0}),
        "clear.png": (clear, {}),
        "lossy.webp": (image, {"Q": 90}),
        "lossy-turned.webp": (turned(image), {"Q": 90}),
        "lossless-clear.webp": (clear, {"lossless": True}),
        "lossy-clear.webp": (clear, {"Q": 90}),
        "animated.webp": (frames, {"Q": 90}),
        "grey.jpg": (grey, {"Q": 90}),
        "grey.png": (grey, {}),
    }
    for name, (picture, options) in files.items():
        keep = "exif" if "turned" in name else "none"
        picture.write_to_file(str(FOLDER / name), keep=keep, **options)


main()
