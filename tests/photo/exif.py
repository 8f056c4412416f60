"""Photo ingest compared with exiftool: the facts read, and that only pixels are written.

Usage: exif.py FOLDER PROGRAM, called by .ci/exif.sh: FOLDER/samples holds photos, FOLDER/made and FOLDER/copies are
filled, PROGRAM is the example `photo`.
"""

import hashlib
import json
import pathlib
import struct
import subprocess
import sys

# Fields that exiftool may find in a copy: those of any JPEG, and those that are written on purpose. Its own notes on
# the file are left out.
ALLOWED = {
    "working": {"Orientation"},
    "thumbnail": {"Orientation"},
    "sent": {"Orientation"},
    "measured": {"Orientation", "FocalLength", "FocalLengthIn35mmFormat", "ExifVersion"},
}
OF_THE_PICTURE = {
    "SourceFile", "ExifByteOrder", "JFIFVersion", "ResolutionUnit", "XResolution", "YResolution",
    "ImageWidth", "ImageHeight", "EncodingProcess", "BitsPerSample", "ColorComponents", "YCbCrSubSampling",
}
LATITUDE, LONGITUDE = 47.6448, 9.1753
SECRETS = ["SERIAL-4711-0815", "OWNER-OF-THE-CAMERA", "COMMENT-OF-SOMEONE", "XMP-OF-SOMEONE"]


def exiftool(*words):
    run = subprocess.run(["exiftool", *map(str, words)], capture_output=True, text=True)
    return run.stdout


def tags(paths, *words):
    """One dictionary per file; the first of two tags with the same name counts, as in exiftool."""
    return json.loads(exiftool("-j", "-n", *words, *paths) or "[]")


def pictures(folder):
    ends = {".jpg", ".jpeg", ".png", ".webp", ".heic", ".tif"}
    return sorted(path for path in folder.rglob("*") if path.is_file() and path.suffix.lower() in ends)


def make(folder, base):
    """Variants of a photo: eight orientations in both byte orders, with a location and other metadata."""
    made = []
    for order in ("II", "MM"):
        for orientation in range(1, 9):
            path = folder / f"{order}-{orientation}.jpg"
            exiftool(
                "-q", "-all=", f"-ExifByteOrder={order}", f"-Orientation#={orientation}",
                "-Make=Tarn", "-Model=Pinhole 3", "-FocalLength=5.43", "-FocalLengthIn35mmFormat=26",
                "-DateTimeOriginal=2026:05:31 17:45:09", "-OffsetTimeOriginal=+02:00",
                f"-GPSLatitude={LATITUDE}", "-GPSLatitudeRef=N", f"-GPSLongitude={LONGITUDE}", "-GPSLongitudeRef=E",
                f"-SerialNumber={SECRETS[0]}", f"-OwnerName={SECRETS[1]}", f"-Comment={SECRETS[2]}",
                f"-XMP:Description={SECRETS[3]}", f"-XMP:GPSLatitude={LATITUDE}", f"-IPTC:City={SECRETS[3]}",
                "-o", path, base,
            )
            made.append(path)
    return made


def same(path, name, ours, theirs, failures):
    if ours != theirs:
        failures.append(f"{path.name}: {name} is {ours!r}, exiftool has {theirs!r}")


def compare(path, said, read, failures):
    turned = read.get("Orientation", 1) in (5, 6, 7, 8)
    # From the picture's own header; exiftool names the tags' sizes ExifImageWidth and ExifImageHeight.
    size = (read["ImageWidth"], read["ImageHeight"])
    same(path, "size", (said["width"], said["height"]), size[::-1] if turned else size, failures)
    focal = read.get("FocalLength")
    same(path, "focal length", said["focal_length_mm"], focal and round(float(focal), 6), failures)
    film = read.get("FocalLengthIn35mmFormat")
    same(path, "35 mm focal length", said["focal_length_35mm"], float(film) if film else None, failures)
    # exiftool calls DateTimeDigitized CreateDate and DateTime ModifyDate.
    for name, offset in (
        ("DateTimeOriginal", "OffsetTimeOriginal"),
        ("CreateDate", "OffsetTimeDigitized"),
        ("ModifyDate", "OffsetTime"),
    ):
        if name in read and not read[name].startswith(("0000", " ")):
            date, time = read[name][:19].split(" ")
            same(path, name, said["taken_at"], f"{date.replace(':', '-')} {time}", failures)
            if offset in read:
                sign = -1 if read[offset][0] == "-" else 1
                minutes = sign * (int(read[offset][1:3]) * 60 + int(read[offset][4:6]))
                same(path, offset, said["utc_offset_minutes"], minutes, failures)
            break
    else:
        same(path, "time", said["taken_at"], None, failures)
    model = str(read.get("Model", "")).split()
    if model and " ".join(model) not in (said["camera"] or ""):
        failures.append(f"{path.name}: camera is {said['camera']!r}, exiftool has {model!r}")
    same(path, "digest", said["sha256"], hashlib.sha256(path.read_bytes()).hexdigest(), failures)


def place_bytes(path):
    """The bytes of the location in a JPEG: whole coordinates and each of their fractions. Empty if there is none."""
    file = path.read_bytes()
    at = file.find(b"Exif\0\0")
    if at < 0:
        return []
    block = file[at + 6 :]
    end = "<" if block[:2] == b"II" else ">"

    def directory(offset):
        try:
            (count,) = struct.unpack_from(end + "H", block, offset)
            return [struct.unpack_from(end + "HHII", block, offset + 2 + 12 * i) for i in range(count)]
        except struct.error:
            return []

    found = []
    (first,) = struct.unpack_from(end + "I", block, 4)
    for tag, _, _, place in directory(first):
        if tag == 0x8825:
            for tag, kind, count, value in directory(place):
                whole = block[value : value + 24]
                if tag in (2, 4) and (kind, count) == (5, 3) and any(whole):
                    found += [whole, *(part for part in (whole[:8], whole[8:16], whole[16:]) if any(part[:4]))]
    return found


def check_copies(path, said, original, failures):
    places = place_bytes(path)
    for name, copy in said["copies"].items():
        held = pathlib.Path(copy).read_bytes()
        found = tags([copy], "-a", "-u", "-G1", "--System:all", "--File:FileType", "--Composite:all", "--ExifTool:all")[0]
        names = {tag.split(":")[-1] for tag in found} - OF_THE_PICTURE - {"FileTypeExtension", "MIMEType"}
        if not names <= ALLOWED[name]:
            failures.append(f"{path.name}: the {name} copy says {sorted(names - ALLOWED[name])}")
        if found.get("IFD0:Orientation") != 1:
            failures.append(f"{path.name}: the {name} copy is not upright")
        if name == "measured":
            for tag in ("FocalLength", "FocalLengthIn35mmFormat"):
                ours, theirs = found.get(f"ExifIFD:{tag}"), original.get(tag) or None
                if (ours is None) != (theirs is None) or (ours and abs(ours - theirs) > 0.0005):
                    failures.append(f"{path.name}: the copy has {tag} {ours}, the original {theirs}")
        for place in places:
            if place in held:
                failures.append(f"{path.name}: the {name} copy holds the place's bytes {place.hex()}")
        for secret in SECRETS:
            if secret.encode() in held:
                failures.append(f"{path.name}: the {name} copy holds {secret}")
    return len(places)


def main():
    folder, program = pathlib.Path(sys.argv[1]), sys.argv[2]
    samples = pictures(folder / "samples")
    base = next(path for path in samples if path.suffix.lower() in (".jpg", ".jpeg") and path.stat().st_size > 20_000)
    made = make(folder / "made", base)
    everything = samples + made
    run = subprocess.run([program, folder / "copies", *everything], capture_output=True, text=True, check=True)
    said = json.loads(run.stdout)
    read = {entry["SourceFile"]: entry for entry in tags(everything)}
    failures, taken, refused, places = [], 0, [], 0
    for path, answer in zip(everything, said):
        if "refused" in answer:
            refused.append(f"{path.name}: {answer['refused']}")
            continue
        taken += 1
        compare(path, answer, read[str(path)], failures)
        places += check_copies(path, answer, read[str(path)], failures)
    print("\n".join(f"refused  {line}" for line in refused))
    if len(made) != 16 or any(f"{path.name}:" in line for line in refused for path in made):
        failures.append("not all sixteen variants were made and taken in")
    # At least ten photos, or a package has changed; and the search for locations must have had some to find.
    if taken < 26 or places < 64:
        failures.append(f"only {taken} photos and {places} fractions of places were compared")
    print("\n".join(f"FAILED   {line}" for line in failures))
    print(f"{taken} photos taken in and {len(refused)} refused; {4 * taken} copies searched for {places} fractions of places")
    sys.exit(bool(failures))


main()
