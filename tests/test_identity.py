"""Which substance a word means: the library's entries, and the substances that rows of legal lists identify."""

from typing import Any

import pytest

from helpers import book_of, only, reviewed, rule, sheet, verdict
from watchglass.identity import cas_is_right, ec_is_right, names_of
from watchglass.substances import UNKNOWN

# Names and numbers of entries 22 and 1175 of Annex II to Regulation (EC) No 1223/2009
ANILINE: dict[str, Any] = {
    "entry": "22",
    "title": "Aniline",
    "cas": ["62-53-3"],
    "ec": ["200-539-3"],
    "members": [{"name": "Anilinium acetate", "cas": ["542-14-3"], "ec": ["208-802-4"]}, {"name": "Salts of aniline"}],
}
PHENOL: dict[str, Any] = {"entry": "1175", "title": "Carbolic acid", "cas": ["108-95-2"], "ec": ["203-632-7"]}


def held(*lines: str, rows: tuple[dict[str, Any], ...]) -> set[str]:
    """The substances that the lines hold, as a table lets them be known."""
    composition = reviewed(sheet("Aqua qs", *lines), table(*rows)).composition
    assert composition is not None
    assert composition.unknown == ()
    return set(composition.by_substance()) - {"Aqua"}


def table(*rows: dict[str, Any]) -> dict[str, Any]:
    return rule({"absent": {}}, values={"always": {"max": 0}}, rows=list(rows))


# The check digits are those of the two registers' own rules; the numbers are of water, aniline and formaldehyde
@pytest.mark.parametrize("number", ["7732-18-5", "62-53-3", "50-00-0"])
def test_a_cas_number_is_right_when_its_check_digit_fits(number: str) -> None:
    assert cas_is_right(number)
    assert not any(cas_is_right(number[:-1] + digit) for digit in "0123456789" if digit != number[-1])


@pytest.mark.parametrize("number", ["231-791-2", "200-539-3", "200-001-8"])
def test_an_ec_number_is_right_when_its_check_digit_fits(number: str) -> None:
    assert ec_is_right(number)
    assert not any(ec_is_right(number[:-1] + digit) for digit in "0123456789" if digit != number[-1])


@pytest.mark.parametrize("word", ["62-53-3", "200-539-3", "aniline", "ANILINE", "542-14-3", "Salts of  aniline"])
def test_a_substance_that_only_a_row_knows_is_found_by_its_name_and_its_numbers(word: str) -> None:
    found = reviewed(sheet("Aqua qs", f"{word} 0.1"), table(ANILINE))

    assert only(found, "the-rule#22").verdict == "breaks"


@pytest.mark.parametrize("word", ["Anilin", "Aniline acetate", "62-53-33", "2-53-3", "Methylaniline", "539-3"])
def test_a_word_that_only_holds_a_known_one_is_not_taken_for_it(word: str) -> None:
    found = reviewed(sheet("Aqua qs", f"{word} 0.1"), table(ANILINE))

    assert found.findings == ()
    assert found.composition is not None
    assert [unknown.name for unknown in found.composition.unknown] == [word]


def test_members_of_one_entry_stay_different_substances() -> None:
    assert held("62-53-3 0.1", "542-14-3 0.2", rows=(ANILINE,)) == {"Aniline", "Anilinium acetate"}


def test_a_number_that_the_library_has_means_its_own_substance_and_lends_it_the_other_words() -> None:
    assert held("Phenol 0.1", "203-632-7 0.1", "carbolic acid 0.1", rows=(PHENOL,)) == {"Phenol"}


def test_of_lends_its_substance_the_words_of_its_row() -> None:
    names = names_of(
        [{"substance": "Tide Salt"}], [table({"entry": "1", "of": "Tide Salt", "title": "T", "also": ["S"]})]
    )

    assert names == {"tide salt": "Tide Salt", "t": "Tide Salt", "s": "Tide Salt"}


def test_the_first_row_that_has_a_word_keeps_it() -> None:
    second = {"entry": "2", "title": "Aminobenzene", "cas": ["62-53-3"], "ec": ["200-001-8"]}

    found = reviewed(sheet("Aqua qs", "200-001-8 0.1"), table(ANILINE, second))

    assert held("200-001-8 0.1", rows=(ANILINE, second)) == {"Aniline"}
    assert {finding.address for finding in found.findings} == {"the-rule#22", "the-rule#2"}


def test_words_of_several_known_substances_make_a_row_about_all_of_them() -> None:
    row = {"entry": "1", "title": "Two acids", "cas": ["50-21-5", "79-14-1"], "also": ["A pair"]}

    found = reviewed(sheet("Aqua qs", "Lactic Acid 1", "Glycolic Acid 1", "a pair 1"), table(row))

    assert only(found, "the-rule#1").substances == ("Lactic Acid", "Glycolic Acid", "Two acids")


def test_nothing_is_claimed_of_a_substance_that_only_a_row_knows() -> None:
    substance = book_of(table(ANILINE)).substances.find("aniline")

    assert substance is not None
    assert (substance.cas, substance.state, substance.functions) == (("62-53-3",), UNKNOWN, ())
    assert (substance.acidity, substance.molar_mass, substance.medium) == ("unmodelled", None, None)


def test_it_is_open_whether_a_substance_that_only_a_row_knows_dissolves() -> None:
    dissolves = rule({"dissolved": {"in": "finished"}}, rule="it-dissolves", binding="practice")

    finding = only(reviewed(sheet("Aqua qs", "Aniline 5"), table(ANILINE), dissolves), "it-dissolves")

    assert (finding.verdict, finding.severity) == ("undecided", "note")


def test_the_ph_beside_a_substance_that_only_a_row_knows_is_conditional_or_not_told() -> None:
    buffer = ("Aqua qs", "Lactic Acid 2", "Sodium Lactate 2")
    without, little, much = (
        reviewed(sheet(*buffer, *lines), table(ANILINE)).solution for lines in ((), ("Aniline 0.01",), ("Aniline 1",))
    )

    assert without is not None
    assert without.ph is not None
    assert little is not None
    assert little.ph is not None
    assert little.ph.interval.low < without.ph.interval.low
    assert little.ph.interval.high > without.ph.interval.high
    assert much is not None
    assert much.ph is None


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("Aniline 0.1", "undecided"),
        ("Aniline 0.1 as perfuming", "breaks"),
        ("Aniline 0.1 as solvent", "does not apply"),
    ],
)
def test_a_ban_for_one_function_asks_what_a_substance_is_for_that_only_a_row_knows(line: str, said: str) -> None:
    found = reviewed(sheet("Aqua qs", line), table(ANILINE | {"only_as": ["perfuming"]}))

    assert verdict(found, "the-rule#22") == said


def test_a_misspelt_name_is_led_to_one_that_only_a_row_knows_and_never_to_a_number() -> None:
    total = rule({"total": {"of": "names"}}, rule="every-name")

    found = reviewed(sheet("Aqua qs", "Anilinium acetat 0.1", "62-53-4 0.1"), table(ANILINE), total)

    near, number = sorted(finding.message for finding in found.findings if finding.rule == "every-name")
    assert (near, number) == (
        'unknown material "62-53-4"; give its INCI name or CAS number, or describe it under materials',
        'unknown material "Anilinium acetat"; the nearest known names: Anilinium acetate, '
        "Ammonium Acetate, Calcium Lactate",
    )


@pytest.mark.parametrize(("markets", "asked"), [("eu", False), ("us", True), ("eu, us", True)])
def test_a_substance_that_only_the_list_of_another_market_names_is_not_passed_in_silence(
    markets: str, asked: bool
) -> None:
    listed = table(ANILINE) | {"applies": {"markets": ["eu"]}}

    found = reviewed(sheet("Aqua qs", "62-53-3 0.1", markets=markets), listed)

    asking = [finding for finding in found.findings if finding.rule == "known-by-name-only"]
    assert [finding.needs for finding in asking] == (
        [("look up what holds for it in us, with the safety assessor",)] if asked else []
    )
    assert found.outcome == ("breaks" if "eu" in markets else "cannot tell")
