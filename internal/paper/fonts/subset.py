"""Makes the four font files of this folder from the full families.

    python3 subset.py FOLDER_OF_VOLLKORN FOLDER_OF_CLEAR_SANS

The folders are where the Debian packages fonts-vollkorn and
fonts-clear-sans put their TrueType files; fonttools must be installed.
Three things change: glyphs outside Latin, Greek and Cyrillic are dropped with
most layout features; the figures of Vollkorn are its lining ones (its hanging
1 is easily read as I); and the ten figures of Clear Sans get one common width
(its own differ by 6 %), so that columns of numbers line up.
"""

import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

RANGES = [
    (0x20, 0x7E), (0xA0, 0x24F), (0x2B0, 0x2DD), (0x300, 0x328), (0x370, 0x3FF),
    (0x400, 0x45F), (0x490, 0x491), (0x1E00, 0x1EFF), (0x2010, 0x2027), (0x202F, 0x203A),
    (0x2070, 0x209C), (0x20AC, 0x20AC), (0x2116, 0x2116), (0x2122, 0x2122), (0x2190, 0x2195),
    (0x2212, 0x2212), (0x221E, 0x221E), (0x2248, 0x2248), (0x2260, 0x2265), (0x25A1, 0x25A1),
]


def cut(source, target, level_figures):
    options = subset.Options()
    options.layout_features = ["kern", "ccmp", "locl", "mark", "mkmk"]
    options.hinting = False
    options.name_IDs = [0, 1, 2, 3, 4, 5, 6, 13, 14]
    options.notdef_outline = True
    options.recalc_timestamp = False
    font = TTFont(source, recalcTimestamp=False)
    if not level_figures:
        line_up(font)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=[u for low, high in RANGES for u in range(low, high + 1)])
    cutter.subset(font)
    if level_figures:
        level(font)
    font.save(target)
    print(target, Path(target).stat().st_size)


def line_up(font):
    table = font["GSUB"].table
    lookups = {i for r in table.FeatureList.FeatureRecord if r.FeatureTag == "lnum" for i in r.Feature.LookupListIndex}
    lining = {}
    for i in lookups:
        for sub in table.LookupList.Lookup[i].SubTable:
            lining.update(getattr(sub, "ExtSubTable", sub).mapping)
    for cmap in font["cmap"].tables:
        for code in range(ord("0"), ord("9") + 1):
            if code in cmap.cmap:
                cmap.cmap[code] = lining.get(cmap.cmap[code], cmap.cmap[code])


def level(font):
    names, metrics, glyphs = font.getBestCmap(), font["hmtx"], font["glyf"]
    figures = [names[ord(c)] for c in "0123456789"]
    width = round(sum(metrics[n][0] for n in figures) / len(figures))
    for name in figures:
        advance, bearing = metrics[name]
        shift = (width - advance) // 2
        glyph = glyphs[name]
        glyph.coordinates.translate((shift, 0))
        glyph.recalcBounds(glyphs)
        metrics[name] = (width, bearing + shift)


if __name__ == "__main__":
    vollkorn, clear = Path(sys.argv[1]), Path(sys.argv[2])
    cut(vollkorn / "Vollkorn-Regular.ttf", "serif.ttf", False)
    cut(vollkorn / "Vollkorn-Italic.ttf", "serif-italic.ttf", False)
    cut(clear / "ClearSans-Regular.ttf", "sans.ttf", True)
    cut(clear / "ClearSans-Medium.ttf", "sans-medium.ttf", True)
