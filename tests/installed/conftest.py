"""What tests of the installed program share: a clean tree, its packages, an environment with it.

They build and install, so they need a connection for pip, and are not among those that run when
none is named: `.ci/run packages`.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from tests.installed.commands import Environ, Packages, run

ROOT = Path(__file__).resolve().parent.parent.parent
# What leads back to this checkout and its environment, or to the settings of whoever runs this.
_LEFT_OUT = ("PYTHON", "VIRTUAL_ENV", "GIT_", "PRE_COMMIT", "PYTEST_", "MYPY")


@pytest.fixture(scope="session")
def outside(tmp_path_factory: pytest.TempPathFactory) -> Environ:
    """The environment variables of someone who has no checkout."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(_LEFT_OUT)}
    name, mail = "Puppet Theatre", "theatre@example.org"  # a name for examples: RFC 2606
    return kept | {
        "GIT_CONFIG_GLOBAL": os.devnull,
        "GIT_CONFIG_NOSYSTEM": "1",
        "GIT_AUTHOR_NAME": name,
        "GIT_AUTHOR_EMAIL": mail,
        "GIT_COMMITTER_NAME": name,
        "GIT_COMMITTER_EMAIL": mail,
        "PRE_COMMIT_HOME": str(tmp_path_factory.mktemp("hooks-of-others")),
    }


@pytest.fixture(scope="session")
def repository(tmp_path_factory: pytest.TempPathFactory, outside: Environ) -> Path:
    """A git repository of the project's files as they are now, whether or not this is a checkout.

    git itself leaves out what .gitignore names; nothing is written into the folder of the project.
    """
    folder = tmp_path_factory.mktemp("repository") / "matready"
    run("git", "init", "--quiet", "--bare", folder, cwd=folder.parent, env=outside)
    git = ("git", "--git-dir", folder, "--work-tree", ROOT)
    run(*git, "add", "--all", cwd=ROOT, env=outside)
    run(*git, "commit", "--quiet", "--message", "As it is", cwd=ROOT, env=outside)
    return folder


@pytest.fixture(scope="session")
def tree(repository: Path, tmp_path_factory: pytest.TempPathFactory, outside: Environ) -> Path:
    """A fresh clone."""
    folder = tmp_path_factory.mktemp("clone") / "matready"
    run("git", "clone", "--quiet", repository, folder, cwd=folder.parent, env=outside)
    return folder


@pytest.fixture(scope="session")
def packages(tree: Path, tmp_path_factory: pytest.TempPathFactory, outside: Environ) -> Packages:
    """The packages, built as for a release, and the wheel once more without the sdist between."""
    built = []
    for option in ((), ("--wheel",)):
        folder = tmp_path_factory.mktemp("packages")
        build = (sys.executable, "-m", "build", "--outdir", folder, *option)
        run(*build, tree, cwd=folder, env=outside, err=True)
        built.append(folder)
    (wheel_of_sdist,), (wheel,) = (folder.glob("*.whl") for folder in built)
    (sdist,) = built[0].glob("*.tar.gz")
    return Packages(wheel, sdist, wheel_of_sdist)


@pytest.fixture(scope="session")
def program(packages: Packages, tmp_path_factory: pytest.TempPathFactory, outside: Environ) -> Path:
    """The command of a new environment in which nothing is installed but the wheel."""
    folder = tmp_path_factory.mktemp("environment")
    run(sys.executable, "-m", "venv", folder / "venv", cwd=folder, env=outside)
    commands = folder / "venv" / ("Scripts" if os.name == "nt" else "bin")
    pip = (commands / "python", "-m", "pip", "install", "--quiet")
    run(*pip, packages.wheel, cwd=folder, env=outside, err=True)
    return commands / "matready"
