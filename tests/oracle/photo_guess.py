"""Circles that OpenCV's Hough transform finds on small pictures of bikes: writes tests/data/oracle/photo_guess.json.

For each picture of tests/data/photo/wheels the two circles with the most votes, `[x, y, radius]` in pixels, the one
further left first; empty if there are fewer than two. A wheel's radius is a tenth to a quarter of the picture's width,
and two wheels are further from each other than that quarter. Method, blur, param1 and param2 are those of 54
combinations with which the circles are within a quarter of a radius of both wheels on the most pictures.
"""

import json
import pathlib
import platform

import cv2
import numpy as np

TESTS = pathlib.Path(__file__).resolve().parent.parent


def two_circles(grey):
    width = grey.shape[1]
    grey = cv2.GaussianBlur(grey, (5, 5), 1)
    found = cv2.HoughCircles(grey, cv2.HOUGH_GRADIENT_ALT, dp=1.5, minDist=width / 4, param1=100, param2=0.8,
                             minRadius=width // 10, maxRadius=width // 4)
    circles = [] if found is None else np.round(found[0, :, :3].astype(float), 1).tolist()
    # minDist does not separate concentric circles.
    far = [it for it in circles if np.hypot(it[0] - circles[0][0], it[1] - circles[0][1]) > width / 4]
    return sorted([circles[0], far[0]]) if far else []


def main():
    # With several threads, circles with equal votes are in random order.
    cv2.setNumThreads(1)
    folder = TESTS / "data/photo/wheels"
    pictures = []
    for row in json.loads((folder / "wheels.json").read_text()):
        grey = cv2.imread(str(folder / f"{row['number']:03d}.jpg"), cv2.IMREAD_GRAYSCALE)
        pictures.append({"number": row["number"], "circles": two_circles(grey)})
    data = {
        "made_by": "tests/oracle/photo_guess.py",
        "versions": {"python": platform.python_version(), "numpy": np.__version__, "opencv": cv2.__version__},
        "pictures": pictures,
    }
    text = json.dumps(data, separators=(",", ":")).replace('{"number"', '\n{"number"')
    (TESTS / "data/oracle/photo_guess.json").write_text(text + "\n")


if __name__ == "__main__":
    main()
