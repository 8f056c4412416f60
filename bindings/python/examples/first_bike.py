"""From a new book to a verdict, step by step. Generate the package first:

    bindings/generate.sh python && python bindings/python/examples/first_bike.py
"""

import pathlib
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[3]
sys.path.insert(0, str(ROOT / "bindings/python"))

import steerwright as s  # noqa: E402

# A book, the fictional maker's catalogue, and a fictional hire bike with its readings.
book = s.Book.open(str(pathlib.Path(tempfile.mkdtemp()) / "crew.steerbook"))
book.import_catalogue((ROOT / "core/fit/data/demo/catalogue.json").read_bytes(), "catalogue.json")
text = (ROOT / "core/fit/data/demo/bikes/hire-bike-03.json").read_text(encoding="utf-8")
bike = book.add_bike_file(text, "hire-bike-03.json", "Wren").id

# All data of the bike in one call.
screen = book.bike_screen(bike, s.screen_options())
notation = s.Notation(length=s.LengthUnit.MILLIMETRE, mark=s.DecimalMark.POINT)
print(screen.name)
for finding in screen.findings:
    print(f"  {finding.label.english}: {s.format_amount(finding.amount, notation).text}")
best = screen.report.kits[0]
print(f"{best.sku}: {best.text.english}")

# The measurement that would decide the verdict soonest, and the tool position.
following = screen.report.measure_next[0]
print(f"Next: {following.text.english}\n  {following.place.english}")

# Add the measurement and read the verdicts again.
book.add_measurement(
    bike,
    s.Reading(
        what=s.Quantity.UPPER_BEARING_OUTER_DIAMETER,
        value=41.8,
        unit=s.MeasureUnit.MM,
        tool=s.Instrument.CALIPER,
    ),
    "Wren",
)
screen = book.bike_screen(bike, s.screen_options())
for kit in screen.report.kits[:3]:
    print(f"{kit.sku}: {kit.verdict.name.lower()}, {s.format_probability(kit.p_low)} or more")
if "--svg" in sys.argv:
    for named in screen.drawings:
        pathlib.Path(f"{named.name}.svg").write_text(named.svg, encoding="utf-8")
