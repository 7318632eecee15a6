"""Pictures of drawings from our own geometry: plain data, and that data as stand-alone SVG.

Nothing of a file's own markup ever gets into a picture: only numbers of lines that were read.
"""

from matready.lint.figures.as_svg import figure_as_svg
from matready.lint.figures.figure import figure_of
from matready.lint.figures.marks import Mark
from matready.lint.figures.records import Figure

__all__ = ["Figure", "Mark", "figure_as_svg", "figure_of"]
