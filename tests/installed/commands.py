"""Commands as someone runs them who has installed the program, and what they are run on."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import NamedTuple

Environ = dict[str, str]


class Packages(NamedTuple):
    """The built files: the wheel straight from the tree, the sdist, and the wheel made of that."""

    wheel: Path
    sdist: Path
    wheel_of_sdist: Path


def run(
    *command: str | Path, cwd: Path, env: Environ, status: int = 0, err: bool = False
) -> subprocess.CompletedProcess[str]:
    """Run a command that must end with this status; with `err`, both streams are in `stdout`."""
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env=env,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT if err else subprocess.PIPE,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == status, f"{command}\n{done.stdout}\n{done.stderr}"
    return done
