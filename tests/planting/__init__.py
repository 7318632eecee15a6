"""A judge of the linter: draws papercraft with known faults and compares what is found.

Nothing here imports the program, except for one call in `score.py`; the drawings are made with
plain mathematics, so that the judge cannot share a mistake with what it judges. Geometry is in
millimetres on the page, x right and y down, points are complex numbers (x + 1j*y).

    strokes    lines, arcs and cubics, and what can be done to them
    panels     boxes, towers, gables: pieces with glue tabs and folds
    ornaments  rings, frames, lattices, curves, pleats, scallops, small parts
    sheets     pieces laid out on a page: the truth
    marks      how a piece is drawn: the elements an outline and its folds become
    groups     how the marks are nested: layers, groups, symbols, transforms
    markup     the text of the file
    looks      colours, dashes, words: how cut and score are told apart
    pages      page sizes and units
    draft      a drawing in the making, and what is due about it
    plant_*    the faults (with some near misses)
    near_*     near misses: drawings that must stay clean
    cases      one random drawing for one fault
    score      runs the linter and compares
    proof      checks of the judge itself, with a geometry library and a renderer
"""
