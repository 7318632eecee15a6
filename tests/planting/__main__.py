"""python -m tests.planting: plant many faults and print how the linter does."""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Iterator
from pathlib import Path
from tempfile import gettempdir

from tests.planting.cases import RECIPES, RULES, Case, make_case
from tests.planting.score import Tally, Verdict, judge


def cases(count: int, seed: int, only: str) -> Iterator[Case]:
    """`count` cases, each recipe in turn."""
    recipes = [r for r in RECIPES if only in f"{r.rule}: {r.name}"]
    for i in range(count):
        yield make_case(recipes[i % len(recipes)], seed * 100_000 + i // len(recipes))


def note(verdict: Verdict) -> dict[str, object]:
    """What went wrong, and what is true, for one drawing."""
    case = verdict.case
    return {
        "recipe": f"{case.recipe.rule}: {case.recipe.name}",
        "seed": case.seed,
        **case.traits,
        "missed": [_expect(e.rule, e.place.bounds) for e in verdict.missed],
        "false": verdict.false,
        "repeated": verdict.repeated,
        "malformed": verdict.malformed,
        "pieces": verdict.pieces,
        "expected": [_expect(e.rule, e.place.bounds, e.required) for e in case.expected],
        "true_pieces": None
        if case.pieces is None
        else [
            {"box_mm": [round(v, 2) for v in p.box], "holes": p.holes, "scores": p.scores}
            for p in case.pieces
        ],
    }


def _expect(rule: str, box: tuple[float, ...], required: bool = True) -> dict[str, object]:
    return {"rule": rule, "box_mm": [round(v, 2) for v in box], "required": required}


def save(verdict: Verdict, folder: Path) -> None:
    """The drawing and its note, to be looked at."""
    folder.mkdir(parents=True, exist_ok=True)
    name = verdict.case.name
    (folder / f"{name}.svg").write_text(verdict.case.text, encoding="utf-8")
    (folder / f"{name}.json").write_text(json.dumps(note(verdict), indent=1), encoding="utf-8")


def table(tally: Tally, traits: bool) -> Iterator[str]:
    """Lines of the report."""
    head = f"{'':44} {'cases':>6} {'perfect':>8} {'due':>6} {'recall':>7} {'found':>6} {'prec.':>7}"
    kinds = sorted({kind for kind, _ in tally.cases}, key=lambda k: (k != "recipe", k))
    yield head
    for rule in RULES:
        yield _row(tally, ("rule", rule))
    for kind in kinds if traits else kinds[:1]:
        yield f"\nby {kind}"
        for key in sorted(k for k in tally.cases if k[0] == kind):
            yield _row(tally, key)
    yield f"\npieces: {tally.miscounted} of {tally.counted} drawings miscounted"
    yield f"repeated findings: {dict(tally.repeated)}"
    yield f"malformed: {dict(tally.malformed.most_common(8))}"


def _row(tally: Tally, key: tuple[str, str]) -> str:
    perfect = f"{tally.perfect[key]}" if key[0] != "rule" else ""
    return (
        f"{key[1]:44} {tally.cases[key] or '':>6} {perfect:>8} {tally.expected[key]:>6} "
        f"{tally.recall(key):>7.4f} {tally.findings[key]:>6} {tally.precision(key):>7.4f}"
    )


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.planting", description=__doc__)
    parser.add_argument("--count", type=int, default=1000, help="how many drawings")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="recipes whose name holds this text")
    parser.add_argument("--traits", action="store_true", help="also by nesting, styling, clue …")
    out = Path(gettempdir(), "planting")
    parser.add_argument("--out", type=Path, default=out, help="folder for failing drawings")
    parser.add_argument("--write-all", action="store_true", help="write every drawing, run nothing")
    args = parser.parse_args()
    tally, begun = Tally(), time.process_time()
    for case in cases(args.count, args.seed, args.only):
        if args.write_all:
            save(Verdict(case), args.out)
            continue
        verdict = judge(case)
        tally.add(verdict)
        if not verdict.perfect:
            save(verdict, args.out)
    if not args.write_all:
        print("\n".join(table(tally, args.traits)))
        failed = sum(len(v) for v in tally.examples.values())
        print(f"{failed} drawings in {args.out}; {time.process_time() - begun:.0f} s")


if __name__ == "__main__":
    main()
