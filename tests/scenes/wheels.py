"""Small grey copies of rendered pictures and the tyres' outlines in them: `python3 tests/scenes/wheels.py FOLDER
[COUNT]`.

FOLDER holds the output of render.py. Writes tests/data/photo/wheels/NNN.jpg and wheels.json, with outlines in pixels of
the copies.
"""

import json
import pathlib
import sys

import cv2
import numpy as np

LONGEST = 320
QUALITY = 26


def main():
    folder, count = pathlib.Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 60
    out = pathlib.Path(__file__).resolve().parent.parent / "data/photo/wheels"
    out.mkdir(exist_ok=True)
    rows = []
    for told in sorted(folder.glob("scene-*.json"))[:count]:
        scene = json.loads(told.read_text())
        grey = cv2.imread(str(told.with_suffix(".jpg")), cv2.IMREAD_GRAYSCALE)
        by = LONGEST / max(grey.shape)
        small = cv2.resize(grey, (round(grey.shape[1] * by), round(grey.shape[0] * by)), interpolation=cv2.INTER_AREA)
        cv2.imwrite(str(out / f"{scene['number']:03d}.jpg"), small, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
        scale = small.shape[1] / scene["marks"]["image"]["width"]
        tyres = [(np.array(scene["marks"][end]["tyre"]) * scale).round(2).tolist() for end in ("front", "rear")]
        rows.append({"number": scene["number"], "yaw": round(scene["view"]["yaw"], 1), "tyres": tyres})
    lines = ",\n".join(json.dumps(row, separators=(",", ":")) for row in rows)
    (out / "wheels.json").write_text(f"[\n{lines}\n]\n")


if __name__ == "__main__":
    main()
