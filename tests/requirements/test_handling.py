import pytest

from helpers import FIRST_LINE, only, pointed_at, reviewed, rule, sheet, verdict

CAUTION = "In portions, cold."
FROM_30 = rule(
    {"handling": {"of": "concentrated-acids", "caution": CAUTION}}, values={"always": {"min": 30}}, binding="practice"
)
FROM_30_LYE = rule(
    {"handling": {"of": "caustics", "caution": CAUTION}}, values={"always": {"min": 30}}, binding="practice"
)
BESIDE = rule(
    {"handling": {"of": "caustics", "beside": "concentrated-acids", "caution": CAUTION}},
    values={"always": {"min": 5}},
    binding="practice",
)
HEAD = "formula: a test jar\nproduct: {use: leave-on, site: face, form: gel, audience: adults}\nmarkets: [eu]\n"
LYE = "      - {material: Sodium Hydroxide, percent: 0.5}\n"
ACID = "      - {material: Lactic Acid, percent: 5}\n"
WATER = "      - {material: Aqua, percent: qs}\n"


def stock(strength: str, more: str = "") -> str:
    return sheet(
        "stock 5", "Aqua qs", extra=f"materials:\n  stock: {{contains: {{Lactic Acid: {strength}, Aqua: qs}}{more}}}"
    )


def phases(first: str, second: str = "", note: str = "") -> str:
    text = f"{HEAD}phases:\n  cold:\n{f'    note: {note}{chr(10)}' if note else ''}    lines:\n{first}"
    return text + (f"  warm:\n    lines:\n{second}" if second else "")


def test_a_dangerous_material_without_a_note_breaks_at_its_line_and_names_phase_and_strength() -> None:
    text = phases(WATER + ACID)
    finding = only(reviewed(text, FROM_30))

    assert (finding.verdict, finding.severity) == ("breaks", "warning")
    assert "Lactic Acid of 100 %" in finding.message
    assert '"cold"' in finding.message
    assert finding.needs == ("add a note to phase cold",)
    assert finding.where == "phases.cold"
    assert pointed_at(text, finding).startswith("{material: Lactic Acid")


def test_a_note_on_the_phase_meets_and_the_caution_is_told_all_the_same() -> None:
    found = reviewed(phases(WATER + ACID, note="acid last"), FROM_30)

    assert verdict(found) == "meets"
    assert found.cautions == (CAUTION,)


def test_the_caution_is_told_when_it_breaks_and_once_only() -> None:
    assert reviewed(phases(ACID + WATER, second=ACID), FROM_30).cautions == (CAUTION,)


def test_a_note_on_the_line_itself_meets_and_an_empty_note_does_not() -> None:
    noted = LYE.replace("percent: 0.5", "percent: 0.5, note: in portions")

    assert verdict(reviewed(phases(noted + WATER), FROM_30_LYE)) == "meets"
    assert verdict(reviewed(phases(LYE + WATER, note='" "'), FROM_30_LYE)) == "breaks"


def test_a_note_on_another_phase_is_no_note_for_this_one() -> None:
    found = reviewed(phases(WATER, second=ACID, note="stir"), FROM_30)

    assert verdict(found) == "breaks"
    assert '"warm"' in only(found).message


def test_each_phase_that_holds_it_is_judged_by_itself() -> None:
    found = reviewed(phases(ACID + WATER, second=ACID), FROM_30)

    assert [finding.where for finding in found.findings] == ["phases.cold", "phases.warm"]


@pytest.mark.parametrize(("strength", "said"), [("29.9", "does not apply"), ("30", "breaks"), ("88", "breaks")])
def test_the_strength_of_the_material_counts_and_not_its_share_of_the_product(strength: str, said: str) -> None:
    found = reviewed(stock(strength), FROM_30)

    assert verdict(found) == said
    assert bool(found.cautions) == (said == "breaks")


def test_the_stronger_end_of_a_tolerance_counts() -> None:
    assert verdict(reviewed(stock("29.5", ", tolerance: 0.5"), FROM_30)) == "breaks"
    assert verdict(reviewed(stock("29.4", ", tolerance: 0.5"), FROM_30)) == "does not apply"


def test_a_premix_is_made_from_the_strong_material_so_its_strength_counts() -> None:
    extra = (
        "materials:\n  lactic-88: {contains: {Lactic Acid: 88, Aqua: qs}}\n"
        "  dilution: {premix: {lactic-88: 10, Aqua: 90}}"
    )

    assert verdict(reviewed(sheet("dilution 5", "Aqua qs", extra=extra), FROM_30)) == "breaks"


def test_a_bought_blend_is_handled_at_its_own_strength() -> None:
    extra = (
        "materials:\n  lactic-88: {contains: {Lactic Acid: 88, Aqua: qs}}\n"
        "  blend: {contains: {lactic-88: 10, Glycerin: 90}}"
    )

    assert verdict(reviewed(sheet("blend 5", "Aqua qs", extra=extra), FROM_30)) == "does not apply"


def test_without_the_material_there_is_nothing_to_caution() -> None:
    found = reviewed(sheet("Glycerin 5", "Aqua qs"), FROM_30)

    assert verdict(found) == "does not apply"
    assert found.cautions == ()


def test_a_line_of_none_is_not_handled() -> None:
    assert verdict(reviewed(sheet("Lactic Acid 0", "Aqua qs"), FROM_30)) == "does not apply"


# -- beside --------------------------------------------------------------------------------------------------------


def test_two_materials_in_one_phase_are_told_together_at_the_larger() -> None:
    finding = only(reviewed(phases(LYE + ACID + WATER), BESIDE))

    assert "Sodium Hydroxide of 100 %" in finding.message
    assert "Lactic Acid of 100 %" in finding.message
    assert finding.place.line == FIRST_LINE + 1


def test_two_materials_in_two_phases_do_not_meet() -> None:
    found = reviewed(phases(LYE + WATER, second=ACID), BESIDE)

    assert verdict(found) == "does not apply"
    assert found.cautions == ()


def test_a_stock_too_weak_to_count_is_not_beside() -> None:
    def text(strength: str) -> str:
        lines = "      - {material: lye, percent: 5}\n" + ACID + WATER
        return phases(lines) + f"materials:\n  lye: {{premix: {{Sodium Hydroxide: {strength}, Aqua: qs}}}}\n"

    assert verdict(reviewed(text("5"), BESIDE)) == "breaks"
    assert verdict(reviewed(text("4.9"), BESIDE)) == "does not apply"


def test_a_caution_from_memory_is_told_and_its_note_stays_a_note() -> None:
    memory = FROM_30 | {"source": {"ref": "common-practice", "read": "memory"}}
    found = reviewed(phases(WATER + ACID, note="acid last"), memory)

    assert found.cautions == (CAUTION,)
    assert (only(found).verdict, only(found).severity) == ("undecided", "note")


# -- heat ------------------------------------------------------------------------------------------------------------

MAKING = rule(
    {"handling": {"of": "caustics", "caution": CAUTION, "heat": "dissolving"}},
    values={"always": {"min": 1}},
    binding="practice",
)


@pytest.mark.parametrize(
    ("strength", "told"),
    [
        # 44.5 kJ/mol (CRC Handbook, recalled), 0.8 to 1 of it, 3.4 to 4.2 kJ/kg/K, from 22 °C, by hand:
        ("4", "warms by 8 to 13 °C when the caustic dissolves: from 22 to about 30 to 35 °C"),
        ("30", "warms by 64 to 98 °C when the caustic dissolves: from 22 to about 86 °C or more, it may boil"),
        ("50", "warms by 106 to 164 °C when the caustic dissolves: from 22 to boiling"),
    ],
)
def test_a_stock_is_told_how_hot_it_gets_when_it_is_made(strength: str, told: str) -> None:
    materials = f"materials:\n  own: {{premix: {{Sodium Hydroxide: {strength}, Aqua: qs}}}}\n"
    lines = "phases:\n  one:\n    lines:\n      - {material: own, percent: 2}\n" + WATER
    cautions = reviewed(HEAD + lines + materials, MAKING).cautions

    assert any(caution.startswith('the stock "own" ') and told in caution for caution in cautions), cautions
