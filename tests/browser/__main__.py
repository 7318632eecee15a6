"""Open the demo's pages in headless Chromium: axe-core, widths, dark, print; see `main`.

axe-core (Deque's checker of WCAG rules) comes by npm, into a folder that is thrown away.
"""

from __future__ import annotations

import argparse
import html
import json
import re
import shutil
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
VIEWS = {
    "desktop": (1280, 2400, ()),
    "dark": (1280, 2400, ("--blink-settings=preferredColorScheme=0",)),
    "phone": (500, 6000, ()),  # in a frame 390 px wide: a window is no narrower than 500
}
PHONE_PX = 390
DEMO = str(ROOT / "fixtures" / "puppet-theatre")
# What makes each page, and how many printed pages it may have; None: each article has one of its
# own, and one is before them.
PAGES = {
    "demo": (["lint", DEMO, "--fail-on", "never"], range(5, 26)),
    "mats": (["sheets", DEMO, "--fix", "--config", f"{DEMO}.toml", "--out", "mats"], None),
}
_MATREADY = "from matready.lint.cli import main; main()"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

# What is asked of the page once axe has run: its findings, and whether anything is too wide.
ASK = """
<script>%s</script><script>
axe.run(document, {runOnly: %s}).then(found => {
  const out = document.createElement("pre");
  out.id = "asked";
  out.textContent = JSON.stringify({
    violations: found.violations.map(v => ({id: v.id, impact: v.impact, help: v.help,
      nodes: v.nodes.slice(0, 3).map(n => n.html.slice(0, 200))})),
    passes: found.passes.length,
    wide: document.documentElement.scrollWidth > document.documentElement.clientWidth,
  });
  document.body.appendChild(out);
});
</script>
"""


def main() -> int:
    """Check the pages and say what is wrong; the exit status is 1 where something is."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--keep", type=Path, help="a folder for the screenshots and the PDF")
    keep: Path | None = parser.parse_args().keep
    browser = next(filter(None, map(shutil.which, BROWSERS)), None)
    if browser is None:
        print("tests.browser: no Chromium here, nothing was checked")
        return 0
    with tempfile.TemporaryDirectory() as temporary:
        work = Path(temporary)
        axe = _axe_core(work)
        wrong = []
        for name, (arguments, pages) in PAGES.items():
            page = work / f"{name}.html"
            _make(page, arguments)
            wrong += [*_axe(browser, axe, page), *_printed(browser, page, pages)]
            for view in VIEWS:
                _photograph(browser, page, view)
            if keep is not None:
                keep.mkdir(parents=True, exist_ok=True)
                for made in (page, *work.glob(f"{name}*.png"), *work.glob(f"{name}*.pdf")):
                    shutil.copy(made, keep)
    for sentence in wrong:
        print(f"tests.browser: {sentence}")
    print(f"tests.browser: {len(wrong)} wrong" if wrong else "tests.browser: all is well")
    return 1 if wrong else 0


def _make(page: Path, arguments: list[str]) -> None:
    """Write a page; that its drawings have faults does not matter here."""
    run = [sys.executable, "-c", _MATREADY, *arguments, "--report", str(page)]
    done = subprocess.run(run, cwd=page.parent, check=False, capture_output=True, text=True)
    if done.returncode not in (0, 1):
        raise SystemExit(f"tests.browser: {page.name} was not written: {done.stderr}")


def _axe_core(work: Path) -> str:
    """The checker, as it can stand in a page."""
    subprocess.run(["npm", "pack", "axe-core"], cwd=work, check=True, capture_output=True)
    with tarfile.open(next(work.glob("axe-core-*.tgz"))) as packed:
        member = packed.extractfile("package/axe.min.js")
        assert member is not None
        return member.read().decode("utf-8").replace("</script", "<\\/script")


def _chromium(browser: str, work: Path, *options: str) -> str:
    """Run the browser on one page; what it prints."""
    fixed = ["--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"]
    fixed += ["--disable-background-networking", f"--user-data-dir={work / 'profile'}"]
    done = subprocess.run(
        [browser, *fixed, *options], check=True, capture_output=True, text=True, timeout=180
    )
    return done.stdout


def _axe(browser: str, axe: str, page: Path) -> list[str]:
    """What axe-core finds, light, dark and narrow; the policy, which bars it, is taken out."""
    work = page.parent
    text = re.sub(
        r"<meta http-equiv=\"Content-Security-Policy\"[^>]*>", "", page.read_text("utf-8")
    )
    asking = work / "asking.html"
    asking.write_text(text.replace("</body>", ASK % (axe, json.dumps(TAGS)) + "</body>"), "utf-8")
    wrong = []
    for name, more in (
        ("light", ["--window-size=1280,1000"]),
        ("dark", ["--window-size=1280,1000", *VIEWS["dark"][2]]),
        ("narrow", ["--window-size=500,900"]),
    ):
        options = [*more, "--virtual-time-budget=30000", "--dump-dom", asking.as_uri()]
        found = _asked(_chromium(browser, work, *options))
        print(f"tests.browser: {page.stem}, axe-core, {name}: {found['passes']} rules passed")
        wrong += [f"{page.stem}, {name}: too wide for its window"] if found["wide"] else []
        for violation in found["violations"]:
            nodes = " | ".join(violation["nodes"])
            wrong.append(f"{page.stem}, {name}: {violation['id']} ({violation['impact']}): {nodes}")
    return wrong


def _asked(dom: str) -> dict[str, Any]:
    answer = re.search(r'<pre id="asked">(.*?)</pre>', dom, re.DOTALL)
    if answer is None:
        raise SystemExit("tests.browser: axe-core gave no answer")
    found: dict[str, Any] = json.loads(html.unescape(answer[1]))
    return found


def _printed(browser: str, page: Path, wanted: range | None) -> list[str]:
    """Print to PDF; the page may not grow without end."""
    work, pdf = page.parent, page.with_suffix(".pdf")
    _chromium(browser, work, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", page.as_uri())
    pages = len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes()))
    print(f"tests.browser: {page.stem}, {pages} printed pages")
    articles = page.read_text("utf-8").count("<article")
    return [] if pages in (wanted or (articles + 1,)) else [f"{page.stem}: {pages} printed pages"]


def _photograph(browser: str, page: Path, name: str) -> None:
    work = page.parent
    width, height, more = VIEWS[name]
    shown = page
    if name == "phone":
        shown = work / "phone.html"
        frame = f'<iframe src="{page.name}" style="width:{PHONE_PX}px;height:{height}px;border:0">'
        shown.write_text(f'<!doctype html><body style="margin:0">{frame}</iframe>', "utf-8")
    picture = work / f"{page.stem}-{name}.png"
    options = [*more, f"--screenshot={picture}", f"--window-size={width},{height}"]
    _chromium(browser, work, *options, shown.as_uri())


if __name__ == "__main__":
    sys.exit(main())
