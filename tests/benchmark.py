"""How fast files are read and linted, side by side with general programs, in one run.

Run from the top of the checkout: python -m tests.benchmark

Times are processor time of this process unless it says otherwise; each figure is the median of
runs that take turns, so that a busy machine slows all alike. Milliseconds belong to the machine;
the ratios and the exponent are what can be compared between machines.
"""

from __future__ import annotations

import io
import json
import math
import os
import re
import resource
import statistics
import subprocess
import sys
import time
import warnings
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import resvg_py
import svgelements
from lxml import etree

from matready.lint.reading import read_drawing
from matready.lint.reading.geometry import read_geometry
from matready.lint.reading.shapes import PathShape
from matready.lint.repair import repair
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings
from matready.lint.source import read_source
from matready.rules import RULES

from tests.corpus import RealFile, mixed

TOP = Path(__file__).parent.parent
SCREEN_PX = 800  # width of a picture that fills a window
FILES = 1_000
SIZES = (1_000, 10_000, 100_000)


# Measuring


def taking_turns(works: dict[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """Median processor seconds of each work, over rounds in which each runs once."""
    spent: dict[str, list[float]] = {name: [] for name in works}
    for _ in range(rounds):
        for name, work in works.items():
            start = time.process_time()
            work()
            spent[name].append(time.process_time() - start)
    return {name: statistics.median(times) for name, times in spent.items()}


def show(title: str, head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> None:
    """A table in plain text: the first column to the left, the others to the right."""
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(len(head))]
    print(f"\n{title}")
    for row in [head, *rows]:
        cells = [f"{cell:>{widths[i + 1]}}" for i, cell in enumerate(row[1:])]
        print("  " + "  ".join([f"{row[0]:<{widths[0]}}", *cells]))


def peak_mib() -> float:
    """The most memory that this process has held so far."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1 << 20 if sys.platform == "darwin" else 1 << 10)


# Reading


def render(data: bytes) -> object:
    """A picture SCREEN_PX wide by a general renderer, encoded as PNG as its interface has it."""
    return resvg_py.svg_to_bytes(
        svg_string=data.decode("utf-8"),
        width=SCREEN_PX,
        dpi=96,
        languages=["en"],
        skip_system_fonts=True,
    )


def compare_reading(title: str, files: Sequence[RealFile], drawn: Sequence[RealFile]) -> None:
    """Our reading, bytes to lines in mm, and its path data alone, against other programs."""
    texts = [
        [path.get("d", "") for path in etree.fromstring(file.data).iter("{*}path")]
        for file in files
    ]
    works: dict[str, tuple[Callable[[], None], int]] = {
        "matready: whole reading": (partial(_read, files), len(files)),
        "matready: path data alone, flattened": (partial(_read_paths, texts), len(files)),
        "svgpathtools: path data alone": (partial(_parse_paths, texts), len(files)),
        "svgelements: whole reading": (partial(_read_with_svgelements, files), len(files)),
        f"resvg: drawing {SCREEN_PX} px wide": (partial(_draw, drawn), len(drawn)),
    }
    spent = taking_turns({name: work for name, (work, _) in works.items()}, rounds=3)
    each = {name: spent[name] / count for name, (_, count) in works.items()}
    whole, paths = list(each.values())[:2]
    show(
        f"{title} ({sum(map(len, texts)):,} paths)",
        ("", "ms a file", "times our reading", "times our path data"),
        [
            (name, f"{seconds * 1e3:.2f}", f"{seconds / whole:.2f}", f"{seconds / paths:.2f}")
            for name, seconds in each.items()
        ],
    )


def compare_reading_of_all_sizes() -> None:
    """Many small real files, where the cost of each file counts, and one large sheet."""
    files = mixed(FILES)
    _parse_paths([["M0 0"]])  # svgpathtools is imported here, and not in the first round
    # A picture takes long, and a hundred of them tell as much as a thousand.
    compare_reading(f"Reading {len(files):,} real files", files, files[::10])
    large = [RealFile("sheet.svg", sheet(100))]
    compare_reading("Reading a generated sheet of 100 panels", large, large)


def _read(files: Sequence[RealFile]) -> None:
    for file in files:
        read_drawing(read_source(file.data, file.name))


def _read_paths(texts: Sequence[Sequence[str]]) -> None:
    for paths in texts:
        shapes = [PathShape(text) for text in paths]
        read_geometry(shapes, np.tile([1.0, 0, 0, 1, 0, 0], (len(shapes), 1)), flatten_mm=0.04)


def _parse_paths(texts: Sequence[Sequence[str]]) -> None:
    from svgpathtools import parse_path  # one second of import, and only needed here

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it tells of each arc without a radius
        for paths in texts:
            for text in paths:
                parse_path(text)


def _read_with_svgelements(files: Sequence[RealFile]) -> None:
    for file in files:
        svgelements.SVG.parse(io.BytesIO(file.data), ppi=96)


def _draw(files: Sequence[RealFile]) -> None:
    for file in files:
        render(file.data)


# Whole lint of a typical file


def compare_lint() -> None:
    """Whole lint of each demo file against drawing it on a screen.

    The renderer hands out PNG, so an empty page of the same form is drawn too: without what that
    takes, the drawing alone remains.
    """
    demo = sorted((TOP / "fixtures" / "puppet-theatre").glob("*.svg"))
    files = [RealFile(path.name, path.read_bytes()) for path in demo]
    files.append(RealFile("sheet of 10 panels", sheet(10)))
    rows, ratios, bare = [], [], []
    for file in files:
        spent = taking_turns(
            {
                "lint": partial(lint_bytes, file.data, file.name, RULES),
                "draw": partial(render, file.data),
                "empty": partial(render, _empty_page(file.data)),
            },
            rounds=9,
        )
        lint, draw, empty = spent.values()
        ratios.append(lint / draw)
        bare.append(lint / (draw - empty) if draw > empty else math.inf)
        milliseconds = (f"{seconds * 1e3:.1f}" for seconds in (lint, draw, empty))
        rows.append((file.name, *milliseconds, f"{ratios[-1]:.2f}", f"{bare[-1]:.2f}"))
    medians = (f"{statistics.median(values):.2f}" for values in (ratios, bare))
    rows.append(("median", "", "", "", *medians))
    show(
        f"Whole lint against resvg drawing the file {SCREEN_PX} px wide",
        ("", "lint ms", "draw ms", "empty page ms", "lint / draw", "lint / (draw - empty)"),
        rows,
    )


def _empty_page(data: bytes) -> bytes:
    """The root of a file with nothing in it."""
    root = etree.fromstring(data)
    for child in list(root):
        root.remove(child)
    return etree.tostring(root)


# Growth


def panel(number: int, x: float, y: float) -> tuple[str, int]:
    """One panel of card, 60 x 80 mm, as a group, and how many segments it is drawn with.

    A scalloped top, a glue tab on either side, three round holes, twelve lattice windows, two
    folds drawn dash by dash and one with a dash pattern.
    """
    scallops = "c1 -4 4 -4 5 0" * 10
    outline = f"M5 10{scallops}V30l5 4v28l-5 4V85H5V66l-5 -4V34l5 -4Z"
    holes = "".join(f"M{14 + 15 * i} 20a3 3 0 016 0a3 3 0 01-6 0" for i in range(3))
    windows = "".join(f"M{9 + 7 * (i % 6)} {40 + 12 * (i // 6)}l3 -5l3 5l-3 5Z" for i in range(12))
    dashes = "".join(f"M{x} {31 + 2.5 * i:g}v1.5" for x in (5, 55) for i in range(14))
    body = (
        f'<path id="panel-{number}" class="cut" d="{outline}{holes}{windows}"/>'
        f'<path class="score" d="{dashes}"/>'
        '<path class="score" stroke-dasharray="3 2" d="M6 75H54"/>'
    )
    drawn = len(re.findall("[acHhlVvZ]", outline + holes + windows + dashes)) + 1
    return f'<g id="group-{number}" transform="translate({x:g} {y:g})">{body}</g>', drawn


def sheet(panels: int) -> bytes:
    """A sheet of so many panels in rows, a page as large as they need."""
    across = math.ceil(math.sqrt(panels * 4 / 3))
    width, height = 70 * across, 90 * math.ceil(panels / across)
    groups = (panel(n, 4 + 70 * (n % across), 90 * (n // across))[0] for n in range(panels))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm"'
        f' viewBox="0 0 {width} {height}" fill="none" stroke="#000">{"".join(groups)}</svg>'
    ).encode()


def measure_sheet(segments: int) -> dict[str, Any]:
    """Lint a sheet of about so many segments in this process; imports are done before."""
    each = panel(0, 0, 0)[1]
    lint_bytes(sheet(1), "warm-up.svg", RULES)
    before = peak_mib()
    panels = max(1, round(segments / each))
    data = sheet(panels)
    start = time.process_time()
    report = lint_bytes(data, "sheet.svg", RULES)
    seconds = time.process_time() - start
    if len(report.pieces) != panels:
        raise RuntimeError(f"{panels} panels were drawn and {len(report.pieces)} found")
    return {
        "segments": panels * each,
        "pieces": len(report.pieces),
        "seconds": seconds,
        "before": before,
        "peak": peak_mib(),
    }


def compare_growth() -> None:
    """Time and memory of a whole lint on sheets of growing size, each in a fresh process."""
    rows, points = [], []
    for size in SIZES:
        runs = [_in_fresh_process(size) for _ in range(3 if size < SIZES[-1] else 2)]
        seconds = statistics.median(run["seconds"] for run in runs)
        last = runs[-1]
        points.append((math.log(last["segments"]), math.log(seconds)))
        rows.append(
            (
                f"{last['segments']:,}",
                f"{last['pieces']}",
                f"{seconds:.3f}",
                f"{seconds / last['segments'] * 1e6:.1f}",
                f"{last['peak']:.0f}",
                f"{last['peak'] - last['before']:.0f}",
            )
        )
    show(
        "Whole lint of a generated sheet, each in a process of its own",
        ("segments", "pieces", "seconds", "µs a segment", "peak MiB", "MiB over an empty lint"),
        rows,
    )
    steps = [
        (points[i + 1][1] - points[i][1]) / (points[i + 1][0] - points[i][0])
        for i in range(len(points) - 1)
    ]
    whole = (points[-1][1] - points[0][1]) / (points[-1][0] - points[0][0])
    print(f"  time grows with segments to the power {whole:.3f}", end="")
    print(f" ({', then '.join(f'{step:.3f}' for step in steps)})")


def _in_fresh_process(size: int) -> dict[str, Any]:
    command = [sys.executable, "-m", "tests.benchmark", "--sheet", str(size)]
    done = subprocess.run(command, cwd=TOP, capture_output=True, text=True, check=True)
    result: dict[str, Any] = json.loads(done.stdout)
    return result


# Fixed copies


def loosened(data: bytes) -> bytes:
    """A generated sheet whose folds stand beside their panels' groups instead of in them."""

    def loosen(group: re.Match[str]) -> str:
        moved = re.search(r'transform="[^"]*"', group[1])
        assert moved is not None
        folds = group[3].replace('class="score"', f'class="score" {moved[0]}')
        return f"{group[1]}{group[2]}</g>{folds}"

    pattern = r'(<g [^>]*>)(<path id="panel[^>]*/>)(.*?)</g>'
    return re.sub(pattern, loosen, data.decode("utf-8")).encode("utf-8")


def compare_fix() -> None:
    """A fixed copy with its proof against a lint of the same file.

    A copy takes two readings at least: one of the source and one of the copy.
    """
    demo = sorted((TOP / "fixtures" / "puppet-theatre").glob("*.svg"))
    files = [RealFile(path.name, path.read_bytes()) for path in demo]
    files += [RealFile(f"{n} panels, folds loose", loosened(sheet(n))) for n in (10, 100, 792)]
    rows, ratios = [], []
    for file in files:
        fixed = repair(file.data, file.name, RULES, Settings()).fixed
        spent = taking_turns(
            {
                "lint": partial(lint_bytes, file.data, file.name, RULES),
                "fix": partial(repair, file.data, file.name, RULES, Settings()),
            },
            rounds=5 if len(file.data) < 200_000 else 2,
        )
        ratios.append(spent["fix"] / spent["lint"])
        milliseconds = (f"{seconds * 1e3:.0f}" for seconds in spent.values())
        rows.append((file.name, f"{len(fixed)}", *milliseconds, f"{ratios[-1]:.2f}"))
    rows.append(("median", "", "", "", f"{statistics.median(ratios):.2f}"))
    show(
        "A fixed copy, read back and proven, against a lint of the same file",
        ("", "fixed", "lint ms", "fix ms", "fix / lint"),
        rows,
    )


# Starting up


def compare_start() -> None:
    """Time until `matready --help` is done, by the clock on the wall, against bare Python."""
    commands = {
        "python -c pass": ["-c", "pass"],
        "matready --help": ["-c", "from matready.lint.cli import main; main(['--help'])"],
        "import of the engine and the rules": [
            "-c",
            "import matready.lint.runner, matready.rules",
        ],
    }
    spent: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(9):
        for name, arguments in commands.items():
            start = time.perf_counter()
            subprocess.run(
                [sys.executable, *arguments], cwd=TOP, stdout=subprocess.DEVNULL, check=True
            )
            spent[name].append(time.perf_counter() - start)
    medians = {name: statistics.median(times) for name, times in spent.items()}
    bare = next(iter(medians.values()))
    show(
        "Starting up (wall clock)",
        ("", "ms", "times bare Python"),
        [(name, f"{s * 1e3:.0f}", f"{s / bare:.1f}") for name, s in medians.items()],
    )


def main(arguments: list[str]) -> None:
    """All tables; or with `--sheet N` one measurement as JSON, for a process of its own."""
    if arguments:
        print(json.dumps(measure_sheet(int(arguments[1]))))
        return
    print(f"Python {sys.version.split()[0]}, {os.cpu_count()} processors.")
    print("Read the ratios and the exponent: seconds belong to this machine and its load.")
    compare_start()
    compare_growth()  # before files are loaded: a process inherits its parent's peak of memory
    compare_lint()
    compare_fix()
    compare_reading_of_all_sizes()


if __name__ == "__main__":
    main(sys.argv[1:])
