#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
# Makes the four font files here from the npm package @fontsource-variable/commissioner 5.3.0 (SIL OFL 1.1, OFL.txt):
# weights 400 to 650, no hinting; Greek letters that stand for quantities; figures of one width, without kerning.
# needs python3-fonttools and python3-brotli:  make.py PACKAGE/files .
import sys, os
from fontTools.ttLib import TTFont
from fontTools import subset
from fontTools.varLib import instancer
source, target = sys.argv[1], sys.argv[2]
WIDTH = 1220
def cut(name, chars, features):
    f = TTFont(os.path.join(source, f'commissioner-{name}-wght-normal.woff2'))
    o = subset.Options()
    o.layout_features, o.hinting, o.notdef_outline, o.name_IDs = features, False, True, ['*']
    s = subset.Subsetter(o)
    s.populate(unicodes=[ord(c) for c in chars] if chars else [c for c in f.getBestCmap() if not 0x30 <= c <= 0x39])
    s.subset(f)
    return instancer.instantiateVariableFont(f, {'wght': (400, 400, 650)})
def save(f, name):
    f.flavor = 'woff2'
    f['head'].modified = f['head'].created
    f.recalcTimestamp = False
    f.save(os.path.join(target, name))
letters = ['kern', 'mark', 'mkmk', 'ccmp', 'locl', 'rvrn', 'liga']
save(cut('latin', None, letters), 'commissioner-latin.woff2')
# Names of people and places in other Latin alphabets: asked for by the browser only where one is written.
save(cut('latin-ext', None, ['mark', 'mkmk', 'ccmp', 'locl', 'rvrn']), 'commissioner-latin-ext.woff2')
save(cut('greek', 'ΩμΔΣΦαβηκλρστφω', []), 'commissioner-greek.woff2')
figures = cut('latin', '0123456789', [])
glyf, hmtx, gvar = figures['glyf'], figures['hmtx'], figures['gvar']
for code, name in figures.getBestCmap().items():
    glyph = glyf[name]
    glyph.expand(glyf)
    # The heaviest outline is as much wider as its right side moves; the figure stands centred between the two.
    grow = 0
    for v in gvar.variations[name]:
        # phantom points last: left, right, top, bottom
        ds = v.coordinates
        if ds[-3] is not None: grow += ds[-3][0]
    shift = round((WIDTH - (hmtx[name][0] + grow / 2)) / 2)
    assert not glyph.isComposite()
    glyph.coordinates.translate((shift, 0))
    glyph.recalcBounds(glyf)
    hmtx[name] = (WIDTH, glyph.xMin)
    for v in gvar.variations[name]:
        ds = v.coordinates
        if ds[-3] is not None: ds[-3] = (0, 0)
for t in ('HVAR', 'GPOS', 'GSUB', 'GDEF'):
    if t in figures: del figures[t]
save(figures, 'commissioner-figures.woff2')
