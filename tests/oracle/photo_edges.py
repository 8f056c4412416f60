"""OpenCV's edges and views of a rendered picture: writes tests/data/oracle/photo_edges.json.

`edges`: pairs of column and row that Canny finds from derivatives over five by five pixels, for heights of a sharp step
in grey levels. `views`: warpPerspective of the picture by a homography from the view's pixels to the picture's, every
29th value; pixel centres are at 0.5, as everywhere in the program.
"""

import json
import pathlib
import platform

import cv2
import numpy as np

TESTS = pathlib.Path(__file__).resolve().parent.parent
HEIGHTS = [(15, 35), (30, 60)]
VIEWS = [
    ((300, 200), [[1.1, 0.06, -8.0], [-0.05, 0.9, 20.0], [2e-4, -1e-4, 1.0]]),
    ((160, 120), [[2.0, 0.0, 0.0], [0.0, 2.0, 0.0], [0.0, 0.0, 1.0]]),
    ((250, 250), [[0.55, -0.2, 120.0], [0.25, 0.6, 15.0], [-3e-4, 4e-4, 1.0]]),
]
NOTHING = 0xD8


def edges(grey, faint, clear):
    derivatives = [cv2.Sobel(grey, cv2.CV_16S, *order, ksize=5, borderType=cv2.BORDER_REPLICATE) for order in ((1, 0), (0, 1))]
    # A sharp step of one level gives 48 in this derivative.
    found = cv2.Canny(*derivatives, 48 * faint, 48 * clear, L2gradient=True)
    row, column = np.nonzero(found)
    return {"faint": faint, "clear": clear, "pixels": np.column_stack([column, row]).tolist()}


def view(grey, size, homography):
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    h = np.linalg.inv(half) @ np.array(homography) @ half
    # In floating point, without intermediate rounding.
    seen = cv2.warpPerspective(grey.astype(np.float32), h, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
                               borderValue=NOTHING)
    values = np.round(seen.ravel()[::29].astype(float), 2).tolist()
    return {"size": size, "homography": np.ravel(homography).tolist(), "every_29th": values}


def main():
    grey = cv2.imread(str(TESTS / "data/photo/edges/side-on.png"), cv2.IMREAD_GRAYSCALE)
    data = {
        "made_by": "tests/oracle/photo_edges.py",
        "versions": {"python": platform.python_version(), "numpy": np.__version__, "opencv": cv2.__version__},
        "nothing": NOTHING,
        "edges": [edges(grey, *heights) for heights in HEIGHTS],
        "views": [view(grey, *each) for each in VIEWS],
    }
    out = TESTS / "data/oracle/photo_edges.json"
    out.write_text(json.dumps(data, separators=(",", ":")) + "\n")


if __name__ == "__main__":
    main()
