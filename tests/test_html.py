"""The page of `lint --report`: all that was found is there, and nothing of a file's markup is."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import shutil
import sys
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from svgpathtools import parse_path

from matready.lint import cutting
from matready.lint.cli import main
from matready.lint.cutting import Cutout
from matready.lint.drawing import Drawing
from matready.lint.figures.windows import FRAME_MM
from matready.lint.reports import html_words
from matready.lint.reports.as_html import as_html
from matready.lint.results import FileReport, FindingRecord, LineCounts, NotChecked, UnreadableFile
from matready.lint.runner import inspect_bytes
from matready.lint.settings import Settings
from matready.rules import RULES

from tests.pages import walk

DEMO = Path("fixtures/puppet-theatre")
LIMIT_BYTES = 2_000_000

Demo = tuple[str, dict[str, Any]]


def _lint(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["lint", *arguments], catch_exceptions=False)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    """The page of the demo set, and what the same run says as JSON."""
    page = tmp_path_factory.mktemp("page") / "made" / "demo.html"
    run = _lint(str(DEMO), "--format", "json", "--report", str(page), "--jobs", "1")
    assert run.exit_code == 1
    assert run.stderr == f"report: {page}\n"
    return page.read_text("utf-8"), json.loads(run.stdout)


def _text(node: Any) -> str:
    return _words(node.text_content())


def _words(text: str) -> str:
    return " ".join(text.split())


def test_every_finding_is_told_numbered_and_marked(demo: Demo) -> None:
    page, said = demo
    tree = walk(page)
    told = 0
    for number, file in enumerate(said["files"], 1):
        cards = tree.xpath(f"//article[@id='f{number}']//li[contains(@class, 'finding')]")
        assert len(cards) == len(file["findings"])
        left = list(file["findings"])
        for k, card in enumerate(cards, 1):
            text = _text(card)
            message = _text(card.xpath("./p[@class='message']")[0])
            # Of two with the same words that which lies higher on the page comes first.
            finding = min(
                (one for one in left if message[1:-1] == _words(one["message"])[1:]),
                key=lambda one: one["at_mm"][::-1],
            )
            left.remove(finding)
            told += 1
            assert card.get("id") == f"f{number}-{k}"
            assert card.xpath("string(.//*[@class='number']//*[local-name()='text'])") == str(k)
            assert finding["severity"] in card.get("class").split()
            assert f"line {finding['line']}" in text
            (mark,) = tree.xpath(f"//a[@id='m{number}-{k}']")
            assert mark.get("href") == f"#f{number}-{k}"
            assert card.xpath(f".//a[@href='#m{number}-{k}']")
            # Either lights up the other, under the pointer or with the keyboard on it.
            assert f"n{k}" in card.get("class").split()
            assert f"n{k}" in mark.getparent().get("class").split()
            assert f".file:has(.n{k}:hover,.n{k}:focus-within,.n{k}:target," in page
            assert _words(finding["message"]) in mark.get("aria-label")
    assert told == 13
    between = said["set"][0]["message"]
    assert between[1:] in _text(tree.xpath("//div[@class='between']")[0])


def test_a_mark_stands_where_the_finding_is(demo: Demo) -> None:
    page, said = demo
    tree = walk(page)
    for number, file in enumerate(said["files"], 1):
        width, height = file["size_mm"]
        # What is about the page itself, and so names the root, is marked at its corner.
        places = {(0.0, 0.0) for f in file["findings"] if f["elements"] == ["/svg"]}
        for f in file["findings"]:
            places |= set() if f["elements"] == ["/svg"] else {tuple(f["at_mm"])}
        unnamed = [p["box_mm"] for p in file["pieces"] if re.fullmatch(r"piece-\d+", p["name"])]
        marked, nameless = set(), set()
        for mark in tree.xpath(f"//*[@id='p{number}']/svg[contains(@class, 'm ')]"):
            x, y = (float(mark.get(name).rstrip("%")) / 100 for name in ("x", "y"))
            far, place = min((np.hypot(x * width - a, y * height - b), (a, b)) for a, b in places)
            inside = {
                k
                for k, (x0, y0, x1, y1) in enumerate(unnamed)
                if x0 < x * width < x1 and y0 < y * height < y1
            }
            assert far < 0.01 or inside
            marked |= {place} if far < 0.01 else set()
            nameless |= inside
        assert marked == places
        # Of six pieces without a name each is marked, and not the first alone.
        if any(f["rule"] == "nameless-piece" for f in file["findings"]):
            assert len(nameless) == len(unnamed) == 6


def test_a_close_up_is_as_large_as_it_says(demo: Demo) -> None:
    tree = walk(demo[0])
    figures = tree.xpath("//figure")
    assert len(figures) == 21
    for figure in figures:
        (frame,) = figure.xpath("./svg[@class='frame']")
        _, _, width, height = map(float, frame[0].get("viewbox").split())
        said = _text(figure.xpath(".//*[@class='times']")[0])
        times = 1.0 if said == "Life size." else float(re.findall(r"[0-9.]+", said)[0])
        times /= 100 if "%" in said else 1
        assert width * times == pytest.approx(FRAME_MM[0], rel=1e-4)
        assert height * times == pytest.approx(FRAME_MM[1], rel=1e-4)
        # The bar is as long on the page as its text says, so many times life size.
        (bar,) = figure.xpath("./svg[@class='bar']")
        start = re.findall(r"^M([0-9.]+) ", bar.xpath("string(./path/@d)"))[0]
        (end,) = re.findall(r"H([0-9.]+)", bar.xpath("string(./path/@d)"))
        length_mm = float(re.findall(r"^([0-9.]+) mm", _text(bar))[0])
        assert (float(end) - float(start)) / times == pytest.approx(length_mm, rel=1e-3)
    assert "stroke-width:var(--line" in demo[0]


def test_a_gap_is_open_before_and_closed_after(demo: Demo) -> None:
    page, said = demo
    files = [file["path"] for file in said["files"]]
    number = files.index(str(DEMO / "proscenium-arch.svg")) + 1
    before, after = walk(page).xpath(f"//article[@id='f{number}']//figure/svg[1]/svg")
    x, y, width, height = map(float, before.get("viewbox").split())
    assert before.get("viewbox") == after.get("viewbox")
    own = walk(page).xpath(f"//*[@id='a{number}l']/path[contains(@class, 'cut')]/@d")[0]

    def open_ends(data: str) -> list[complex]:
        """Ends in sight of lines that do not end where they began."""
        parts = [part for part in parse_path(data).continuous_subpaths() if not part.isclosed()]
        ends = [end for part in parts for end in (part.start, part.end)]
        return [e for e in ends if x < e.real < x + width and y < e.imag < y + height]

    one, other = open_ends(own)
    assert abs(one - other) == pytest.approx(0.18, abs=0.002)
    # Where the outline begins is where it ends.
    ends = open_ends(" ".join(after.xpath("./path[contains(@class, 'cut')]/@d")))
    assert all(abs(end - ends[0]) < 0.001 for end in ends)


def test_the_page_is_small_and_allows_its_own_style_alone(
    demo: Demo,
) -> None:
    page, _ = demo
    assert len(page.encode()) < LIMIT_BYTES
    tree = walk(page)
    policy = tree.xpath("string(//meta[@http-equiv='Content-Security-Policy']/@content)")
    style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)
    assert style is not None
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert policy == (
        f"default-src 'none'; style-src 'sha256-{digest}'; img-src 'none'; "
        "base-uri 'none'; form-action 'none'"
    )
    assert "@import" not in style[1]


def test_what_is_about_the_whole_page_has_no_point_on_it(demo: Demo) -> None:
    page, said = demo
    files = [file["path"] for file in said["files"]]
    number = files.index(str(DEMO / "puppets.svg")) + 1
    (card,) = (
        one
        for one in walk(page).xpath(f"//article[@id='f{number}']//li[@id]")
        if _text(one.xpath(".//*[@class='tags']")[0]).endswith("wrong-scale")
    )
    assert _text(card.xpath("./dl/div")[0]) == "Wherethe whole page"


def test_a_sheet_that_is_ready_by_itself_points_to_what_does_not_fit_the_others(demo: Demo) -> None:
    page, said = demo
    tree = walk(page)
    (between,) = said["set"]
    for number, file in enumerate(said["files"], 1):
        if file["findings"]:
            continue
        concerned = file["path"] in between["files"]
        state = _text(tree.xpath(f"//a[@href='#f{number}']/span[contains(@class, 'state')]")[0])
        verdict = _text(
            tree.xpath(f"//article[@id='f{number}']//p[contains(@class, 'verdict')]")[0]
        )
        assert state == ("ready, but see Between the sheets" if concerned else "ready to cut")
        assert verdict == (
            "Ready to cut by itself, but see Between the sheets." if concerned else "Ready to cut."
        )


def test_a_folder_that_was_typed_as_a_dot_is_called_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, root: Path
) -> None:
    stage = tmp_path / "Meine Bühne"
    (stage / "wings").mkdir(parents=True)
    for place in (stage, stage / "wings"):
        shutil.copy(root / DEMO / "turret.svg", place)
    monkeypatch.chdir(stage)
    assert _lint(".", "--report", "page.html").exit_code == 0
    tree = walk((stage / "page.html").read_text("utf-8"))
    names = ["Meine Bühne", "wings"]
    assert [_text(one) for one in tree.xpath("//h2/span[@class='folder']")] == names
    assert [_text(one) for one in tree.xpath("//article//p[@class='facts'][1]")] == [
        f"in {name}" for name in names
    ]


def test_a_fix_that_is_not_made_unasked_is_named_with_its_option(
    demo: Demo,
) -> None:
    for command in walk(demo[0]).xpath("//p[@class='cure']/code"):
        assert "it is done only where you ask for it: matready" in _text(command.getparent())
    commands = {_text(code) for code in walk(demo[0]).xpath("//code[@class='command']")}
    assert commands == {
        *(
            f"matready fix {DEMO / name}.svg --out fixed"
            for name in (
                "backdrop-hills", "bunting", "proscenium-arch", "puppets", "side-wings",
            )
        ),
        f"matready fix {DEMO / 'backdrop-hills.svg'} --reshape --out fixed",
        f"matready fix {DEMO / 'puppets.svg'} --reshape --out fixed",
    }  # fmt: skip


_SHEET = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100" '
    'onload="steal()"><script>steal()</script><style>@import url(http://a.example/x.css);</style>'
    '<a href="javascript:steal()"><g id="&lt;/title&gt;&lt;script&gt;steal()&lt;/script&gt;">'
    "<title>&lt;img src=x onerror=steal()&gt; &quot;&apos; {{{{ 7 * 7 }}}} {name}</title>"
    '<path onclick="steal()" d="M10 10H60V60H10V10.3" fill="none" stroke="#34495a"/></g></a>'
    '<image href="http://a.example/x.png" width="9" height="9"/>'
    '<g id="fold"><path d="M10 30H60" stroke="#c2603a"/></g></svg>'
)


def test_no_script_handler_or_link_of_a_hostile_file_gets_into_the_page(
    root: Path, tmp_path: Path
) -> None:
    # One that multiplies without end is refused after seconds, and tests/test_reading.py knows it.
    slow = shutil.ignore_patterns("use-multiplies.svg")
    shutil.copytree(root / "fixtures/hostile", hostile := tmp_path / "set", ignore=slow)
    for name in ("script-in-the-file", "handlers-on-the-panel", "link-that-runs"):
        shutil.copy(root / f"fixtures/active-content/flagged/{name}.svg", hostile)
    names = ["{{ 7 * 7 }}.svg", "&quot;.svg"]
    if sys.platform != "win32":  # whose file names hold none of these
        names += ['"><script>steal()<script>.svg', "javascript:steal().svg", "<!-- .svg"]
        names += ["line\nend\x1b[31m\u202e.svg"]
    for name in names:
        shutil.copy(
            root / "fixtures/undersize-piece/flagged/bent-hole-too-short-for-a-slot.svg",
            hostile / name,
        )
    (hostile / "sheet.svg").write_text(_SHEET.format(name="]]> --> \u202e"), "utf-8")
    page = tmp_path / "page.html"
    run = _lint(str(hostile), "--report", str(page), "--jobs", "1")
    assert run.exit_code == 2  # some of them cannot be read
    text = page.read_text("utf-8")
    tree = walk(text)
    assert "<img" not in text
    assert "\u202e" not in text
    assert "\x1b" not in text
    assert "49" not in {_text(name) for name in tree.xpath("//*[@class='name']")}
    shown = [_text(name) for name in tree.xpath("//article//h2")]
    assert "{{ 7 * 7 }}.svg" in shown
    assert "&quot;.svg" in shown
    assert "picture.svg" in shown  # one that cannot be read stands in the page, too
    reasons = [_text(line) for line in tree.xpath("//p[contains(@class, 'unread')]")]
    assert len(reasons) >= 10
    assert all(reason.endswith(".") for reason in reasons)


@pytest.mark.parametrize(
    "page",
    [
        'width="0" height="10mm"', 'width="1e-6mm" height="1e-6mm" viewBox="0 0 1 1"',
        'width="1e9mm" height="1e9mm"', 'width="5mm" height="3000mm"', 'viewBox="0 0 0 0"', "",
    ],
)  # fmt: skip
@pytest.mark.parametrize("lines", ["", "M0 5H50", "M1e7 1e7h5v5h-5v-4.9"])
def test_a_page_of_no_sensible_size_is_shown_all_the_same(page: str, lines: str) -> None:
    sheet = f'<svg xmlns="http://www.w3.org/2000/svg" {page}><path d="{lines}" stroke="red"/></svg>'
    checked = inspect_bytes(sheet.encode(), "odd.svg", RULES, sketched=True)
    tree = walk(as_html([checked], (), RULES))
    _, _, width, height = map(float, tree.xpath("string(//*[@id='p1']/svg/@viewbox)").split())
    assert 1 / 7 < width / height < 7


_WORDS = "&lt;script&gt;steal()&lt;/script&gt; \u202e&amp;"
_UNCUT = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'
    '<path d="M2 2H50V40H2Z" fill="none" stroke="#34495a"/>'
    f'<text x="5" y="20" font-size="4">{_WORDS}</text><text x="5" y="70" font-size="4">left</text>'
    '<image x="60" y="10" width="30" height="20" href="moon.png"/></svg>'
)


def test_texts_and_pictures_are_seen_as_blocks_with_words_in_them() -> None:
    checked = inspect_bytes(_UNCUT.encode(), "uncut.svg", RULES, sketched=True)
    tree = walk(as_html([checked], (), RULES))
    blocks = _blocks(tree.xpath("//*[@id='a1l']")[0])
    # SVG 2, 11.2 and 12.3: an image fills its x, y, width and height; a text begins at its x, and
    # its letters stand on its y.
    assert blocks["picture"] == (60, 10, 90, 30)
    for words, y in (("<script>steal()</script> &", 20), ("left", 70)):
        assert blocks[words][0] == 5
        assert blocks[words][1] < y < blocks[words][3]
    for rule, told in (("picture-inside", 1), ("live-text", 2)):
        (finding,) = (one for one in checked.report.findings if one.rule == rule)
        (card,) = (li for li in tree.xpath("//li[@id]") if finding.message[1:20] in _text(li))
        number = card.get("id").partition("-")[2]
        marks = tree.xpath(f"//*[@id='p1']/svg[contains(@class, ' n{number}')]")
        places = [
            (float(mark.get("x").rstrip("%")), 0.8 * float(mark.get("y").rstrip("%")))
            for mark in marks
        ]
        assert len(places) == told
        on = [
            words
            for x, y in places
            for words, (x0, y0, x1, y1) in blocks.items()
            if x0 < x < x1 and y0 < y < y1
        ]
        assert len(set(on)) == told
        assert (on == ["picture"]) == (rule == "picture-inside")


def _blocks(group: Any) -> dict[str, tuple[float, ...]]:
    """The box of each block by the words in it."""
    found: dict[str, tuple[float, ...]] = {}
    for block in group.xpath("./rect[@class='block']"):
        x, y, width, height = (float(block.get(name)) for name in ("x", "y", "width", "height"))
        found[_text(block.getnext())] = (x, y, x + width, y + height)
    return found


def _report(*severities: str, part: bool = False) -> FileReport:
    findings = tuple(
        FindingRecord("double-cut", one, "x", None, None, 1, 1, ("/svg",), None, None, None)
        for one in severities
    )
    gaps = (NotChecked("thin-bridge", "x"),) if part else ()
    return FileReport("a.svg", None, LineCounts(0, 0, 0), (), findings, gaps)


@pytest.mark.parametrize(
    ("report", "verdict"),
    [
        (_report(), "Ready to cut."),
        (_report("fault"), "Fix one thing before you cut."),
        (
            _report("fault", "fault", "caution", "tidy"),
            "Fix 2 things before you cut, look at one more and tidy one thing when there is time.",
        ),
        (_report("caution"), "Look at one thing before you cut."),
        (_report("tidy"), "Ready to cut; tidy one thing when there is time."),
        (_report(part=True), "Nothing was found in what could be checked."),
    ],
)
def test_the_verdict_of_a_sheet(report: FileReport, verdict: str) -> None:
    assert html_words.verdict_of_file(report) == verdict


@pytest.mark.parametrize(
    ("reports", "unread", "verdict"),
    [
        ([_report(), _report("tidy")], 0, "All 2 sheets are ready to cut."),
        (
            [_report(), _report("fault")],
            0,
            "1 of 2 sheets is ready to cut, 1 has faults to fix first.",
        ),
        (
            [_report("fault"), _report("caution"), _report(part=True)],
            1,
            (
                "None of 4 sheets is ready to cut, 1 has faults to fix first, 1 needs a look, "
                "1 could be checked in part only and 1 could not be read."
            ),
        ),
        ([], 1, "The sheet could not be read."),
        ([_report("caution")], 0, "Look at one thing before you cut."),
    ],
)  # fmt: skip
def test_the_verdict_of_a_set(reports: list[FileReport], unread: int, verdict: str) -> None:
    assert html_words.verdict_of_set(reports, unread) == verdict


@pytest.mark.parametrize(
    ("path", "typed"),
    [
        ("a/b.svg", "a/b.svg"),
        ("my sheet.svg", '"my sheet.svg"'),
        ("-x.svg", "./-x.svg"),
        ("$(steal).svg", "PATH"),
        ('a".svg', "PATH"),
        ("a\nb.svg", "PATH"),
    ],
)
def test_a_command_can_be_typed_as_it_stands(path: str, typed: str) -> None:
    assert html_words.command_for(path) == f"matready fix {typed} --out fixed"


def test_a_page_without_any_sheet_that_was_read() -> None:
    tree = walk(as_html([UnreadableFile("notes.svg", "it is empty")], (), RULES))
    assert _text(tree.xpath("//h1")[0]) == "The sheet could not be read."
    assert "It is empty." in _text(tree)


def test_many_places_of_one_finding_share_its_number(root: Path) -> None:
    data = (root / "fixtures/puppet-theatre/floor-grid.svg").read_bytes()
    gaps = "".join(
        f'<path d="M{x} 1h3v3h-3v-2.8" fill="none" stroke="#34495a"/>' for x in range(2, 200, 6)
    )
    sheet = data.replace(b"</svg>", f"{gaps}</svg>".encode())
    checked = inspect_bytes(sheet, "gaps.svg", RULES, sketched=True)
    finding = next(one for one in checked.report.findings if one.count > 12)
    tree = walk(as_html([checked], (), RULES))
    (card,) = (li for li in tree.xpath("//li[@id]") if finding.message[1:] in _text(li))
    number = card.get("id").partition("-")[2]
    marks = tree.xpath(f"//*[@id='p1']/svg[contains(@class, ' n{number}')]")
    assert len(marks) == len(finding.places_mm)
    assert len(tree.xpath(f"//*[@id='m1-{number}']")) == 1


def test_a_page_reads_and_cuts_a_drawing_once_and_its_copy_once(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sheet = (root / "fixtures/hairline-gap/flagged/corner-a-tenth-short.svg").read_bytes()
    seen: list[bytes] = []
    cut = cutting.cut

    def counted(drawing: Drawing, settings: Settings) -> Cutout:
        seen.append(drawing.source.data)
        return cut(drawing, settings)

    monkeypatch.setattr(cutting, "cut", counted)
    checked = inspect_bytes(sheet, "corner.svg", RULES, sketched=True)
    assert checked.sketch is not None
    assert any(spot.after for spot in checked.sketch.spots)
    assert seen[0] == sheet
    assert len(seen) == len(set(seen)) == 2


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--open"], "--open shows the page that --report writes; name one: --report FILE.html"),
        (["--report", "{}"], "--report: {} is a folder; name a file in it, such as report.html"),
        (
            ["--report", "{}/sheet.svg"],
            "--report: {}/sheet.svg does not end in .html, as the name of the page has to",
        ),
        (
            ["--report", "{}/drawing.html"],
            "--report: {}/drawing.html is one of the files to be read; name another one",
        ),
    ],
)
def test_a_page_that_cannot_be_is_refused_before_anything_is_read(
    tmp_path: Path, arguments: list[str], sentence: str
) -> None:
    for name in ("sheet.svg", "drawing.html"):
        (tmp_path / name).write_text("not looked at")
    place = tmp_path.as_posix()
    run = _lint(f"{place}/drawing.html", *(each.format(place) for each in arguments))
    assert run.exit_code == 2
    assert run.stderr.replace("\\", "/") == f"matready: {sentence.format(place)}\n"
    assert (tmp_path / "sheet.svg").read_text() == "not looked at"


HOMEPAGE = "<!doctype html><title>Our theatre</title><p>matready checked it.</p>"


def test_nobody_elses_page_is_written_over_and_an_older_one_of_ours_is(tmp_path: Path) -> None:
    page = tmp_path / "index.html"
    page.write_text(HOMEPAGE)
    run = _lint("fixtures/puppet-theatre/turret.svg", "--report", str(page))
    assert (run.exit_code, run.stdout) == (2, "")
    assert run.stderr == (
        f"matready: --report: {page} is there and is no page of matready's; "
        "name another file, or move that one away\n"
    )
    assert page.read_text() == HOMEPAGE
    page.write_text("")  # one that is empty holds nothing that could be lost
    written = []
    for _ in range(2):
        assert _lint("fixtures/puppet-theatre/turret.svg", "--report", str(page)).exit_code == 0
        written.append(page.read_bytes())
    # No date: who keeps the page beside the drawings sees no change where there is none.
    assert written[0] == written[1]
    (maker,) = walk(page.read_text("utf-8")).xpath("//meta[@name='generator']/@content")
    assert maker == f"matready {version('matready')}"


def test_a_place_that_cannot_be_written_is_told_before_anything_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("")
    (tmp_path / "shut").mkdir()
    (tmp_path / "old.html").write_text("")
    # An administrator, as whom tests may run, is let through everywhere.
    shut = {tmp_path / "shut", tmp_path / "old.html"}
    monkeypatch.setattr("os.access", lambda path, mode: path not in shut)
    a_file, no_entry = tmp_path / "file", tmp_path / "shut"
    for page, reason in (
        (a_file / "page.html", f"needs a folder where {a_file} is a file; name another place"),
        (
            no_entry / "new" / "page.html",
            f"cannot be written: you may not write to {no_entry}; name another place",
        ),
        (tmp_path / "old.html", "is read-only; allow writing to it, or name another file"),
    ):
        run = _lint("fixtures/puppet-theatre/turret.svg", "--report", str(page))
        assert (run.exit_code, run.stdout) == (2, "")
        assert run.stderr == f"matready: --report: {page} {reason}\n"


@pytest.mark.parametrize("there", [True, False])
def test_open_shows_the_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, there: bool) -> None:
    shown: list[str] = []

    def browser(url: str) -> bool:
        shown.append(url)
        return there

    monkeypatch.setattr("webbrowser.open", browser)
    page = tmp_path / "a page.html"
    run = _lint("fixtures/puppet-theatre/turret.svg", "--report", str(page), "--open")
    assert run.exit_code == 0
    assert shown == [page.resolve().as_uri()]
    more = "" if there else f"no browser could be started; open {page} yourself\n"
    assert run.stderr == f"report: {page}\n{more}"
