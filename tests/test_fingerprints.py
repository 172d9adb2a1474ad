import re
from pathlib import Path

import pytest

from helpers import ON, book_of, formula_from, reviewed, rule, sheet
from watchglass.errors import START
from watchglass.findings import Review, unreadable
from watchglass.fingerprints import fingerprints, logical_place
from watchglass.intake import formula_of
from watchglass.judge import review
from watchglass.rulebook import load

FORMULAS = Path(__file__).parents[1] / "formulas"
CEILING = rule({"percent": {"of": ["Glycolic Acid", "Lactic Acid"], "each": True}}, values={"always": {"max": 1}})
OPINION = CEILING | {"binding": "opinion"}


def prints(text: str, *rules: dict[str, object], path: str | None = None) -> tuple[str, ...]:
    return fingerprints(reviewed(text, *(rules or (CEILING,))), path)


def test_a_fingerprint_is_sixteen_hexadecimal_digits_for_each_finding() -> None:
    found = prints(sheet("Glycolic Acid 2", "Lactic Acid 3", "Aqua qs"))

    assert len(found) == 2
    assert all(re.fullmatch("[0-9a-f]{16}", digits) for digits in found)


@pytest.mark.parametrize(
    "changed",
    [
        sheet("Glycolic Acid 2.5", "Aqua qs"),
        sheet("Glycerin 3", "Aqua qs", "Glycolic Acid 2"),
        "# a remark\n\n" + sheet("Glycolic Acid 2", "Aqua qs"),
        sheet("Glycolic Acid 2", "Aqua qs").replace("a test jar", "another title"),
    ],
    ids=["another figure", "a line before it", "lower in the file", "another title"],
)
def test_what_moves_or_grows_keeps_its_fingerprint(changed: str) -> None:
    assert prints(changed) == prints(sheet("Glycolic Acid 2", "Aqua qs"))


@pytest.mark.parametrize(
    "changed",
    [
        sheet("Lactic Acid 2", "Aqua qs"),
        sheet("Glycolic Acid 2", "Aqua qs").replace("  one:", "  two:"),
        sheet("Glycolic Acid 2", "Aqua qs", markets="uk"),
    ],
    ids=["another substance", "another phase", "another market"],
)
def test_what_is_another_break_has_another_fingerprint(changed: str) -> None:
    two_markets = CEILING | {"applies": {"markets": ["eu", "uk"]}}

    assert prints(changed, two_markets) != prints(sheet("Glycolic Acid 2", "Aqua qs"), two_markets)


def test_another_rule_or_another_file_has_another_fingerprint() -> None:
    text = sheet("Glycolic Acid 2", "Aqua qs")

    assert prints(text, CEILING | {"rule": "other-rule"}) != prints(text)
    assert prints(text, path="other.yaml") != prints(text)
    assert prints(text, path="jar.yaml") == prints(text)  # as the review calls it


def test_two_findings_of_one_line_keep_theirs_when_one_of_them_is_mended() -> None:
    blend = "materials:\n  blend: {contains: {Glycolic Acid: 2, Lactic Acid: %s, Aqua: qs}}\n"
    text = sheet("blend 100", extra=blend)
    both = reviewed(text % 3, CEILING)
    one = reviewed(text % 0.5, CEILING)

    assert [finding.substances for finding in one.findings] == [("Glycolic Acid",)]
    assert (
        dict(zip([f.substances for f in both.findings], fingerprints(both), strict=True))[("Glycolic Acid",)]
        == fingerprints(one)[0]
    )


def test_two_lines_of_one_material_in_one_phase_are_told_apart() -> None:
    wrong = sheet("Unobtainium Oil 1", "Unobtainium Oil 2", "Aqua qs")
    found = fingerprints(review(formula_from(wrong), load(), ON))

    assert len(set(found)) == len(found) >= 2


def test_a_deviation_is_named_by_its_rule_and_not_by_its_place_in_the_list() -> None:
    text = sheet("Glycolic Acid 0.5", "Aqua qs") + "deviations:\n"
    first, second = "  - {rule: no-such-rule, reason: some}\n", "  - {rule: the-rule, reason: some}\n"

    assert set(prints(text + second, OPINION)) < set(prints(text + first + second, OPINION))


def test_the_place_of_a_line_is_its_phase_and_material() -> None:
    found = reviewed(sheet("Glycolic Acid 2", "Aqua qs"), CEILING)

    assert logical_place(found, found.findings[0]) == "phases.one.Glycolic Acid"


def test_a_phase_and_a_material_with_odd_names_are_followed_too() -> None:
    text = sheet("Glycolic Acid 2", "Aqua qs").replace("  one:", '  "a.lines[0].b":')
    found = reviewed(text, CEILING)

    assert logical_place(found, found.findings[0]) == "phases.a.lines[0].b.Glycolic Acid"


def test_faults_of_a_file_that_cannot_be_read_have_fingerprints_of_their_own() -> None:
    faults = [(START, "phases.a.lines[0].percents", "one"), (START, "phases.a.lines[1].percents", "two")]
    found = fingerprints(unreadable("a.yaml", ON, faults))

    assert len(set(found)) == 2


def test_all_findings_of_the_example_formulas_have_fingerprints_of_their_own() -> None:
    found: list[str] = []
    for file in sorted(FORMULAS.glob("*/*.yaml")):
        read = formula_of(file.read_bytes(), file.parent)
        assert not isinstance(read, list) or file.name == "decimal-comma.yaml", file
        made: Review | None = None if isinstance(read, list) else review(read, load(), ON, file.name)
        found += fingerprints(made) if made is not None else ()

    assert len(found) > 50
    assert len(set(found)) == len(found)


def test_a_fingerprint_is_the_same_in_every_release() -> None:
    # Lists of fingerprints are kept in repositories: a change here would turn every known finding into a new one.
    assert fingerprints(review(formula_from(sheet("Glycolic Acid 2", "Aqua qs")), book_of(CEILING), ON, "a.yaml")) == (
        "6be6e0416846d789",  # sha256 of "the-rule", "a.yaml", "", "phases.one.Glycolic Acid", "Glycolic Acid", "0"
    )
