"""Elliptical arcs, from end points and radii to two axis vectors: SVG 2, appendix B.2.

Points are complex numbers x + iy. An arc is start + sin(t) v - 2 sin(t/2)^2 u for t from 0 to its
sweep, where u is the vector from the centre to the start and v its conjugate, a quarter turn on.
An affine map of the arc is the same formula with start, u and v mapped, so none is out of reach;
and as the centre is not added to anything, an arc of enormous radius loses no digits.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

# An arc that goes the short way round and rises less than this over half its chord, twice over, is
# drawn with a smaller radius that rises as much.
_STRAIGHT = 1e-9


def axis_vectors(
    chords: Complex, radii: Complex, rotations: Complex
) -> tuple[Complex, Complex, Floats]:
    """The vectors u and v of n arcs, and their sweeps in radians, all positive.

    `chords` lead from start to end, none zero. `radii` are rx + i ry, neither zero; rx is negative
    where the arc turns backward, ry where it goes the long way round. `rotations` have length 1.

    In the frame where the ellipse is the unit circle, half the chord has a length s: the sine of
    half the sweep. A chord longer than the ellipse is wide makes s 1 and the radii longer (B.2.5).
    Near a half turn, s near 1, the arc hangs on the square root of 1 - s, so that the last digits
    of the data move it by far more than themselves: that is the data's doing, and is left alone.
    """
    rx, ry = np.abs(radii.real), np.abs(radii.imag)
    forward, short = np.sign(radii.real), np.sign(radii.imag)
    half = chords / (2 * rotations)
    half = half.real / rx + 1j * (half.imag / ry)
    length = np.abs(half)
    s = np.minimum(np.maximum(length, _STRAIGHT * (short > 0)), 1.0)
    rx, ry = rx * (length / s), ry * (length / s)
    c = short * np.sqrt((1 - s) * (1 + s))
    # The start as seen from the centre, on the unit circle; the centre lies beside the chord, to
    # the left of a forward arc that goes the short way round.
    start = half / -length * (s + 1j * (forward * c))
    u = rotations * (rx * start.real + 1j * (ry * start.imag))
    v = rotations * forward * (1j * (ry * start.real) - rx * start.imag)
    return u, v, 2 * np.arctan2(s, c)
