"""Time per call of the bike screen and its parts. Needs a release library:

    cargo build --workspace --lib && bindings/generate.sh python
    cargo rustc -p steerwright-ffi --profile phone --crate-type cdylib
    python bindings/python/bench.py target/phone/libsteerwright_ffi.so
"""

import os
import pathlib
import shutil
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]


def main(library):
    # A copy of the package with the given library; the library next to the sources stays unchanged.
    place = pathlib.Path(tempfile.mkdtemp())
    shutil.copytree(ROOT / "bindings/python/steerwright", place / "steerwright")
    shutil.copy(library, place / "steerwright" / pathlib.Path(library).name)
    sys.path.insert(0, str(place))
    import steerwright as s

    book = s.Book.open(str(place / "bench.steerbook"))
    book.import_catalogue((ROOT / "core/fit/data/demo/catalogue.json").read_bytes(), "catalogue.json")
    text = (ROOT / "core/fit/data/demo/bikes/hire-bike-01.json").read_text(encoding="utf-8")
    bike = book.add_bike_file(text, "hire-bike-01.json", "Wren").id
    amount = s.Amount(value=112.0, u=0.25, unit=s.MeasureUnit.MM)
    notation = s.Notation(length=s.LengthUnit.MILLIMETRE, mark=s.DecimalMark.POINT)
    everything, plain = s.screen_options(), s.screen_options(drawings=False)
    query = s.BikeQuery(text="", archived=s.Archived.NOT, sort=s.Sort.NAME)
    for name, call in [
        ("a number shown", lambda: s.format_amount(amount, notation)),
        ("the list", lambda: book.bikes(query)),
        ("a bike's screen without pictures", lambda: book.bike_screen(bike, plain)),
        ("a bike's screen with pictures", lambda: book.bike_screen(bike, everything)),
        ("handling of a change", lambda: book.handling(bike, s.HandlingChange(tilt_deg=1.5), s.Theme.AUTO)),
    ]:
        times = []
        for _ in range(60):
            start, own = time.perf_counter(), time.process_time()
            call()
            times.append((time.perf_counter() - start, time.process_time() - own))
        wall, own = sorted(times)[len(times) // 2]
        print(f"{name}: median {wall * 1e3:.3f} ms, of which {own * 1e3:.3f} ms of this process's own time")
    print(f"library: {os.path.getsize(library) / 1e6:.2f} MB")


if __name__ == "__main__":
    main(sys.argv[1])
