"""The same product written differently is judged the same: metamorphic tests over every example formula.

No published source is needed for these: each pair of sheets describes one jar, so whatever the right verdict is, both
must get it. What a way of writing really changes (a balance weighs each line anew, a tolerance belongs to a material)
is taken out of both sheets before they are compared.
"""

from __future__ import annotations

import copy
import json
import random
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from watchglass.findings import Review
from watchglass.formula import Formula
from watchglass.intake import formula_of
from watchglass.judge import review
from watchglass.rulebook import load
from watchglass.sheet import plain, read

ON = "2026-11-25"
FOLDER = Path(__file__).parents[1] / "formulas"
SHEETS = {
    f"{path.parent.name}/{path.stem}": path for path in sorted(FOLDER.rglob("*.yaml")) if path.parent.name != "formulas"
}
Sheet = dict[str, Any]


def sheet_of(path: Path) -> Sheet:
    found = plain(read(path.read_bytes()))
    assert isinstance(found, dict)
    shelf = found.get("shelf")
    if shelf is not None:  # its materials written out, so that a sheet stands alone
        on_shelf = plain(read((path.parent / found.pop("shelf")).read_bytes()))["materials"]
        found["materials"] = on_shelf | found.get("materials", {})
    return found


def reviewed(sheet: Sheet) -> Review | None:
    found = formula_of(json.dumps(sheet), Path())
    return review(found, load(), ON) if isinstance(found, Formula) else None


def judged(sheet: Sheet, without: frozenset[str] = frozenset()) -> tuple[Any, ...]:
    """What a review says but for the places: its findings, what is met, the outcome, the sum, the predicted pH."""
    found = reviewed(sheet)
    assert found is not None
    findings = Counter(
        (one.address, one.market, one.verdict, one.severity, tuple(sorted(one.substances)), one.value, one.limit)
        for one in found.findings
        if one.requirement not in without
    )
    return findings, frozenset(found.meets) if not without else None, found.outcome if not without else None


def lines_of(sheet: Sheet) -> Iterator[Sheet]:
    for phase in sheet["phases"].values():
        yield from phase["lines"]


READABLE = [name for name, path in SHEETS.items() if reviewed(sheet_of(path)) is not None]


@pytest.fixture(params=READABLE)
def sheet(request: pytest.FixtureRequest) -> Sheet:
    return sheet_of(SHEETS[request.param])


def changed(sheet: Sheet) -> Sheet:
    return copy.deepcopy(sheet)


def test_most_examples_are_among_them() -> None:
    assert len(READABLE) >= 20


def test_the_order_of_phases_and_lines_changes_no_finding(sheet: Sheet) -> None:
    dice = random.Random(7)
    other = changed(sheet)
    phases = list(other["phases"].items())
    dice.shuffle(phases)
    other["phases"] = dict(phases)
    for phase in other["phases"].values():
        dice.shuffle(phase["lines"])

    assert judged(other) == judged(sheet)


def test_the_order_of_keys_and_materials_changes_no_finding(sheet: Sheet) -> None:
    other = {key: sheet[key] for key in reversed(list(sheet))}
    if "materials" in other:
        other["materials"] = {name: other["materials"][name] for name in reversed(list(other["materials"]))}

    assert judged(other) == judged(sheet)


def test_a_line_split_in_two_changes_no_finding(sheet: Sheet) -> None:
    sheet.pop("balance", None)  # each weighing is off by itself
    other = changed(sheet)
    for phase in other["phases"].values():
        phase["lines"] = [half for line in phase["lines"] for half in halves(line)]
    findings, *rest = judged(other)

    assert set(findings) == set(judged(sheet)[0])  # what is unknown is told for each of its lines
    assert tuple(rest) == judged(sheet)[1:]


def halves(line: Sheet) -> list[Sheet]:
    """Two lines of unequal parts; a qs line stays one."""
    for key in ("percent", "grams"):
        amount = line.get(key)
        if isinstance(amount, int | float):
            part = float(Decimal(str(amount)) * Decimal("0.25"))
            return [line | {key: part}, line | {key: float(Decimal(str(amount)) - Decimal(str(part)))}]
    return [line]


@pytest.mark.parametrize("factor", [3, 0.5])
def test_a_batch_of_another_size_changes_no_finding(sheet: Sheet, factor: float) -> None:
    sheet.pop("balance", None)  # a small batch is weighed worse
    other = changed(sheet)
    for line in lines_of(other):
        if "grams" in line:
            line["grams"] = float(Decimal(str(line["grams"])) * Decimal(str(factor)))
    if "batch" in other:
        figure, unit = other["batch"].split()
        other["batch"] = f"{Decimal(figure) * Decimal(str(factor))} {unit}"

    assert judged(other) == judged(sheet)


def test_names_that_are_the_makers_own_change_no_finding(sheet: Sheet) -> None:
    other = changed(sheet)
    other["formula"], other["code"] = "Another title", "ZZ-999"
    other["phases"] = {f"step {number}": phase for number, phase in enumerate(other["phases"].values())}
    renamed = {name: f"own stock {number}" for number, name in enumerate(other.get("materials", {}))}
    folded = {name.casefold(): new for name, new in renamed.items()}
    if len(folded) < len(renamed) or judged_names_alone(sheet):
        pytest.skip("the names of its materials are what this formula is flawed by")
    for line in lines_of(other):
        line["material"] = folded.get(line["material"].casefold(), line["material"])
    other["materials"] = {
        renamed[name]: {key: rename_parts(value, folded) for key, value in material.items()}
        for name, material in other.get("materials", {}).items()
    }

    assert judged(other) == judged(sheet)


def judged_names_alone(sheet: Sheet) -> bool:
    """Whether a material has the name of a substance, which is a fault of its own."""
    return any(load().substances.find(name) is not None for name in sheet.get("materials", {}))


def rename_parts(value: Any, renamed: dict[str, str]) -> Any:
    if not isinstance(value, dict):
        return value
    return {renamed.get(part.casefold(), part): share for part, share in value.items()}


def test_a_premix_written_out_as_its_parts_changes_no_figure(sheet: Sheet) -> None:
    sheet.pop("balance", None)
    for material in sheet.get("materials", {}).values():
        material.pop("tolerance", None)
    other = changed(sheet)
    for phase in other["phases"].values():
        phase["lines"] = [part for line in phase["lines"] for part in written_out(line, other)]
    # What is handled is no longer a stock, and what dissolves in a phase is no longer dissolved before: told by these.
    without = frozenset({"handling", "dissolved"})

    assert judged(other, without) == judged(sheet, without)


def written_out(line: Sheet, sheet: Sheet) -> list[Sheet]:
    """A line of a premix of substances as one line for each of them."""
    material = sheet.get("materials", {}).get(line["material"], {})
    parts, key = material.get("premix", {}), "grams" if "grams" in line else "percent"
    amount = line.get(key)
    if not parts or not isinstance(amount, int | float) or any(part in sheet["materials"] for part in parts):
        return [line]
    rest = Decimal(100) - sum(Decimal(str(share)) for share in parts.values() if share != "qs")
    shares = {part: rest if share == "qs" else Decimal(str(share)) for part, share in parts.items()}
    own = {name: value for name, value in line.items() if name not in ("material", key)}
    return [{"material": part, key: float(Decimal(str(amount)) * share / 100)} | own for part, share in shares.items()]


def test_some_example_holds_a_premix_that_is_written_out() -> None:
    sheets = [sheet_of(SHEETS[name]) for name in READABLE]

    assert sum(len(written_out(line, sheet)) > 1 for sheet in sheets for line in lines_of(sheet)) >= 3


def test_a_rest_written_as_its_figure_changes_no_finding(sheet: Sheet) -> None:
    sheet.pop("balance", None)  # what makes up the batch takes the errors of the others
    found = reviewed(sheet)
    assert found is not None
    rests = [line for line in lines_of(sheet) if line.get("percent") == "qs"]
    stated = [line["percent"] for line in lines_of(sheet) if isinstance(line.get("percent"), int | float)]
    rest = Decimal(100) - sum((Decimal(str(percent)) for percent in stated), Decimal(0))
    if len(rests) != 1 or rest < 0 or any("grams" in line for line in lines_of(sheet)):
        pytest.skip("this formula has no rest that is one figure")
    other = changed(sheet)
    next(line for line in lines_of(other) if line.get("percent") == "qs")["percent"] = float(rest)
    other_review = reviewed(other)
    assert other_review is not None

    assert judged(other)[0] == judged(sheet)[0]
    assert set(other_review.meets) - {"total-100"} == set(found.meets) - {"total-100"}


def test_a_substance_under_its_cas_number_is_the_same_substance(sheet: Sheet) -> None:
    other = changed(sheet)
    own = {name.casefold() for name in sheet.get("materials", {})}
    for line in lines_of(other):
        substance = None if line["material"].casefold() in own else load().substances.find(line["material"])
        numbers = [] if substance is None else [cas for cas in substance.cas if means(cas) == substance.name]
        line["material"] = numbers[0] if numbers else line["material"]

    assert judged(other) == judged(sheet)


def means(word: str) -> str | None:
    found = load().substances.find(word)
    return None if found is None else found.name


@pytest.mark.parametrize("worse", ["Methylisothiazolinone", "no such root"])
def test_something_prohibited_or_unknown_more_is_never_passed(sheet: Sheet, worse: str) -> None:
    """The comparisons above would also hold of a linter that says nothing: this one must see a difference."""
    sheet["markets"] = ["eu"]  # which prohibits it in what stays on (Annex V, entry 57) and counts unknown names
    sheet["product"] |= {"use": "leave-on"}
    other = changed(sheet)
    first = next(iter(other["phases"].values()))
    first["lines"].append({"material": worse, "percent": 0.5})
    found = reviewed(other)

    assert found is not None
    assert found.outcome != "meets"
    assert judged(other)[0] != judged(sheet)[0]
