"""Spoilt drawings for hypothesis: it chooses the real file and where the turns of `spoil` start."""

from __future__ import annotations

from functools import cache

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st

from tests.corpus import RealFile, icons, pictures
from tests.spoiling.spoil import spoil
from tests.spoiling.truth import KINDS, Spoilt

SMALL_BYTES = 1600  # larger pictures have many doubled lines of their own, and take seconds


@cache
def real_files() -> tuple[RealFile, ...]:
    """Real files of both sets, over 250; each has faults of its own now and then."""
    small = tuple(file for file in pictures() if len(file.data) < SMALL_BYTES)
    return icons()[::5] + small[::2]


def spoilt(kinds: tuple[str, ...] = KINDS) -> st.SearchStrategy[Spoilt]:
    """Drawings with faults of these kinds.

    A drawing takes some hundred turns. Hypothesis chooses where they start, not each of them: that
    took as long as to read and mend the drawing, and nearly every other one ran out of choices.
    """
    return st.builds(
        spoil,
        st.sampled_from(real_files()),
        st.randoms(use_true_random=True),
        kinds=st.just(kinds),
    )


def some(count: int) -> settings:
    """So many drawings, the same ones each time; a failing one is told as it was found.

    To shrink it would take a minute and more, since each step is read, fixed and drawn again.
    """
    return settings(
        max_examples=count,
        deadline=None,
        derandomize=True,
        database=None,
        phases=(Phase.explicit, Phase.generate),
        suppress_health_check=list(HealthCheck),
    )
