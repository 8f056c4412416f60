"""OpenCV on one thread for the same edges, view and ellipse; fails where its result is another than the one given; as JSON.

    edges.py map WIDTH GREY EDGELS FAINT CLEAR     Canny on raw grey bytes; EDGELS: pairs of column and row, 32 bits each
    edges.py warp WIDTH RGB VIEW ACROSS DOWN H...  warpPerspective of raw bytes by nine numbers, row by row
    edges.py ellipse COUNT X Y MAJOR MINOR TURN    fitEllipseDirect
"""

import json
import sys
import time

import cv2
import numpy

cv2.setNumThreads(1)


def grown(edges):
    return cv2.dilate(edges, numpy.ones((3, 3), numpy.uint8))


def edge_map(width, grey, edgels, faint, clear):
    grey = numpy.fromfile(grey, numpy.uint8).reshape(-1, int(width))
    # A sharp step of one level gives four in the derivative over three by three pixels.
    low, high = 4 * float(faint), 4 * float(clear)
    ours = numpy.zeros_like(grey)
    column, row = numpy.fromfile(edgels, numpy.uint32).reshape(-1, 2).T
    ours[row, column] = 255
    # The same derivatives as ours: then the edges have to be the same but for the measure of the slope's length.
    dx, dy = (cv2.Sobel(grey, cv2.CV_16S, *order, ksize=5, borderType=cv2.BORDER_REPLICATE) for order in ((1, 0), (0, 1)))
    theirs = cv2.Canny(dx, dy, 48 * float(faint), 48 * float(clear), L2gradient=True)
    for name, some, others in (("ours", ours, theirs), ("its", theirs, ours)):
        share = numpy.count_nonzero(some & grown(others)) / numpy.count_nonzero(some)
        if share < 0.9:
            sys.exit(f"only {share:.3f} of {name} edges lie within a pixel of one of the other's")
    return lambda: cv2.Canny(grey, low, high)


def warp(width, rgb, view, across, down, *homography):
    rgb = numpy.fromfile(rgb, numpy.uint8).reshape(-1, int(width), 3)
    size = int(across), int(down)
    ours = numpy.fromfile(view, numpy.uint8).reshape(size[1], size[0], 3)
    # Its pixels' middles are whole numbers.
    half = numpy.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    h = numpy.linalg.inv(half) @ numpy.array(homography, float).reshape(3, 3) @ half
    work = lambda: cv2.warpPerspective(rgb, h, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderValue=(216,) * 3)
    theirs = work()
    # It fades the picture's outermost half pixel into what lies outside.
    inside = cv2.warpPerspective(numpy.ones(rgb.shape[:2], numpy.uint8), h, size, flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP)
    inside = cv2.erode(inside, numpy.ones((5, 5))) > 0
    off = numpy.abs(theirs.astype(int) - ours)[inside]
    if not inside.any() or numpy.mean(off) > 0.5 or off.max() > 3:
        sys.exit(f"its view differs by {numpy.mean(off):.2f} grey levels, {off.max()} at most")
    return work


def ellipse(count, *found):
    i = numpy.arange(int(count))
    t, off = i * 2 * numpy.pi / int(count), 1 + 0.004 * ((i * 0.6180339887498949) % 1.0 - 0.5)
    x, y = 600 * off * numpy.cos(t), 520 * off * numpy.sin(t)
    c, s = numpy.cos(0.4), numpy.sin(0.4)
    points = numpy.column_stack([1800 + x * c - y * s, 1500 + x * s + y * c]).astype(numpy.float32)
    (cx, cy), (width, height), turn = cv2.fitEllipseDirect(points)
    if width < height:
        width, height, turn = height, width, turn + 90
    theirs = [cx, cy, width / 2, height / 2, turn % 180]
    # It computes in single precision: coordinates of 2000 are good to 1e-4.
    if not numpy.allclose(theirs, numpy.array(found, float), rtol=0, atol=0.01):
        sys.exit(f"its ellipse differs: {theirs}, ours {found}")
    return lambda: cv2.fitEllipseDirect(points)


def main():
    what, *words = sys.argv[1:]
    work = {"map": edge_map, "warp": warp, "ellipse": ellipse}[what](*words)
    times = 1000 if what == "ellipse" else 1
    for _ in range(3 * times):
        work()
    start, ops = time.process_time(), 0
    while (taken := time.process_time() - start) < 0.3:
        for _ in range(times):
            work()
        ops += times
    version = f"OpenCV {cv2.__version__}"
    print(json.dumps({"ops": ops, "cpu_seconds": taken, "version": version}))


if __name__ == "__main__":
    main()
