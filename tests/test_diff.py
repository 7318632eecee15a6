"""The diff of a dry run is read back by the programs that read diffs, whatever a file is called.

GNU diff 3.8 and git ("core.quotePath") write a name with a quote, backslash or control character
as a string of C. After one with a blank git puts a tab, where GNU diff has one and the time
(Comparing and Merging Files, "Detailed Description of Unified Format").
"""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path, PurePosixPath

import pytest

from matready.lint.reports.as_diff import as_diff

OLD, NEW = "<svg>\n  <path/>\n</svg>\n", "<svg>\n  <path id='door'/>\n</svg>\n"
HEADERS = {
    "set/door.svg": "a/set/door.svg",
    "my set/left door.svg": "a/my set/left door.svg\t",
    "my set/Türe 2.svg": "a/my set/Türe 2.svg\t",
    'set/7" door.svg': r'"a/set/7\" door.svg"',
    "set/left\\door\t1.svg": r'"a/set/left\\door\t1.svg"',
    "set/two\nlines\x7f.svg": r'"a/set/two\nlines\177.svg"',
}
READERS = [
    command
    for command in (["patch", "-p1", "--input=diff"], ["git", "apply", "-p1", "diff"])
    if shutil.which(command[0])
]


@pytest.mark.parametrize("name", HEADERS)
def test_a_diff_is_applied_to_the_file_that_it_names(name: str, tmp_path: Path) -> None:
    diff = as_diff(PurePosixPath(name), OLD, NEW)
    old, new = diff.split("\n")[:2]
    assert old == f"--- {HEADERS[name]}"
    assert new == f"+++ {HEADERS[name].replace('a/', 'b/', 1)}"
    if os.name != "posix":  # such names are none there
        return
    (tmp_path / name).parent.mkdir()
    (tmp_path / "diff").write_text(diff, encoding="utf-8")
    # No repository that the folder may lie in has a say in it.
    alone = {**os.environ, "GIT_CEILING_DIRECTORIES": str(tmp_path.parent)}
    for command in READERS:
        (tmp_path / name).write_text(OLD, encoding="utf-8")
        run = subprocess.run(command, cwd=tmp_path, env=alone, capture_output=True, text=True)
        assert run.returncode == 0, (command, run.stdout, run.stderr)
        assert (tmp_path / name).read_text(encoding="utf-8") == NEW
