#!/usr/bin/env python3
"""Makes the fonts of the PDF: subsets of free fonts, under names of our own, deflated.

Needs the Debian packages fonts-noto-extra, fonts-dejavu-extra and fonts-wqy-microhei, unpacked or installed
below the folder given (usually /), and fonttools 4.68 (PyPI). Licences stand in LICENCES.txt beside this file.

    make-fonts.py ROOT
"""
import pathlib
import sys
import zlib

from fontTools import subset
from fontTools.ttLib import TTCollection, TTFont

root = pathlib.Path(sys.argv[1]) / "usr/share/fonts/truetype"
here = pathlib.Path(__file__).resolve().parent


def span(*spans):
    return {code for first, last in spans for code in range(first, last + 1)}


LETTERS = span((0x20, 0x7E), (0xA0, 0x52F), (0x1AB0, 0x1AFF), (0x1D00, 0x20FF), (0x2100, 0x218F), (0x2212, 0x2212),
               (0x25CC, 0x25CC), (0x2C60, 0x2C7F), (0xA640, 0xA69F), (0xA720, 0xA7FF), (0xAB30, 0xAB6F),
               (0xFB00, 0xFB06), (0xFE20, 0xFE2F))
SIGNS = span((0x531, 0x6FF), (0x10A0, 0x10FF), (0x2000, 0x27FF), (0x2900, 0x2BFF), (0xFB13, 0xFDFF), (0xFE70, 0xFEFC),
             (0x1F300, 0x1F64F)) | {0xFFFD}
EAST = span((0x2E80, 0x2FDF), (0x3000, 0x312F), (0x3131, 0x31FF), (0x3200, 0x33FF), (0x4E00, 0x9FFF), (0xAC00, 0xD7A3),
            (0xF900, 0xFAFF), (0xFE30, 0xFE4F), (0xFF01, 0xFFEE))

FACES = [
    ("text", "noto/NotoSans-Condensed.ttf", "Lensmend Text", "Regular", LETTERS),
    ("bold", "noto/NotoSans-CondensedBold.ttf", "Lensmend Text", "Bold", LETTERS),
    ("signs", "dejavu/DejaVuSansCondensed.ttf", "Lensmend Signs", "Regular", SIGNS),
    ("east", "wqy/wqy-microhei.ttc", "Lensmend East", "Regular", EAST),
]

for name, source, family, style, codes in FACES:
    path = root / source
    font = TTCollection(path)[0] if path.suffix == ".ttc" else TTFont(path)
    codes = codes & set(font.getBestCmap())
    options = subset.Options()
    options.hinting = False
    options.layout_features = ["ccmp", "mark", "mkmk", "init", "medi", "fina", "isol", "rlig", "calt", "locl"]
    options.name_IDs = [0, 1, 2, 3, 4, 5, 6, 13, 14]
    options.name_languages = [0x409]
    options.notdef_outline = True
    options.glyph_names = False
    options.drop_tables += ["FFTM", "PfEd", "kern", "vhea", "vmtx", "DSIG", "meta", "STAT"]
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=codes)
    cutter.subset(font)
    table = font["name"]
    table.names = [record for record in table.names if record.platformID == 3]
    whole = f"{family.replace(' ', '')}-{style}"
    for number, words in [(1, family), (2, style), (3, whole), (4, f"{family} {style}"), (6, whole)]:
        table.setName(words, number, 3, 1, 0x409)
    # Everything is a function of the sources: no date of today.
    font["head"].modified = font["head"].created
    font.recalcTimestamp = False
    raw = here / f"{name}.ttf"
    font.save(raw)
    data = raw.read_bytes()
    raw.unlink()
    (here / f"{name}.ttf.zlib").write_bytes(zlib.compress(data, 9))
    deflated = (here / f"{name}.ttf.zlib").stat().st_size
    print(f"{name}: {len(codes)} characters, {len(font.getGlyphOrder())} glyphs, fsType {font['OS/2'].fsType}, "
          f"{len(data)} bytes, {deflated} deflated")
