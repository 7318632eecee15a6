"""Spoils real drawings: puts puppet theatre parts with known faults into files of many hands.

Nothing here imports the program: what is planted, and what has to become of it, is known from plain
mathematics. The real drawing keeps its own text; only the size of its page is written anew, and the
parts stand in a strip beside it. Geometry is in millimetres on the page, x right and y down, points
are complex numbers (x + 1j*y).

    truth     what was planted and what has to be true of a repaired copy
    parts     doors, flags, arches, wings, boxes with tabs
    gaps      outlines whose ends miss each other by a hair
    doubles   cut lines that lie on other cut lines
    clusters  one or two parts with their faults, laid out in the strip
    pathdata  path data in many hands' writing
    nests     how the lines are grouped, layered, defined and used, and who is loose
    looks     how they are styled: attributes, styles, sheets
    pages     the page of the real drawing made larger
    dress     encodings, line ends, quotes, entities, compression
    spoil     all of it together
    reading   an independent reader and a renderer, to look at what came out
"""
