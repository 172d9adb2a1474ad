import pytest

from helpers import only, pointed_at, reviewed, rule, verdict

TO_40 = rule({"warmth": {"of": "Parfum"}}, values={"always": {"max": 40}}, binding="practice")
HEAD = (
    "formula: a test jar\nproduct: {use: leave-on, site: face, form: cream, audience: adults}\nmarkets: [eu]\nphases:\n"
)


def phase(name: str, *lines: str, temperature: str | None = None) -> str:
    head = f"  {name}:\n" + (f"    temperature: {temperature}\n" if temperature else "") + "    lines:\n"
    return head + "".join(f"      - {{material: {line}}}\n" for line in lines)


WATER = "Aqua, percent: qs"
PERFUME = "Parfum, percent: 0.3"


@pytest.mark.parametrize(
    ("temperature", "said"), [("22", "meets"), ("40", "meets"), ("40.1", "breaks"), ("75", "breaks")]
)
def test_the_stated_temperature_of_its_phase_is_held_to_the_limit(temperature: str, said: str) -> None:
    assert verdict(reviewed(HEAD + phase("one", WATER, PERFUME, temperature=temperature), TO_40)) == said


def test_a_break_names_phase_and_temperature_at_the_line() -> None:
    text = HEAD + phase("hot", WATER, PERFUME, temperature="75")
    finding = only(reviewed(text, TO_40))

    assert finding.message == 'Parfum goes into phase "hot" at 75 °C; the limit is at most 40'
    assert finding.needs == ("move it into a phase that has cooled down",)
    assert finding.where == "phases.hot"
    assert pointed_at(text, finding).startswith("{material: Parfum")


def test_the_temperature_of_another_phase_is_not_that_of_its_own() -> None:
    text = HEAD + phase("hot", WATER, temperature="75") + phase("cool", PERFUME, temperature="38")

    assert verdict(reviewed(text, TO_40)) == "meets"


def test_each_phase_that_holds_it_is_judged_by_itself() -> None:
    text = HEAD + phase("hot", WATER, PERFUME, temperature="75") + phase("hotter", PERFUME, temperature="80")

    assert [finding.where for finding in reviewed(text, TO_40).findings] == ["phases.hot", "phases.hotter"]


def test_a_cool_phase_beside_a_hot_one_does_not_hide_it() -> None:
    text = HEAD + phase("hot", WATER, PERFUME, temperature="75") + phase("cool", PERFUME, temperature="20")

    assert only(reviewed(text, TO_40)).where == "phases.hot"


# -- no temperature ------------------------------------------------------------------------------------------------


def test_a_phase_without_a_temperature_is_open_where_something_has_to_melt() -> None:
    finding = only(reviewed(HEAD + phase("all", WATER, PERFUME, "Cera Alba, percent: 3"), TO_40))

    assert (finding.verdict, finding.needs) == ("undecided", ("state the temperature of phase all",))
    assert "Cera Alba has to melt" in finding.message


def test_a_phase_without_a_temperature_is_open_where_another_is_too_hot() -> None:
    def text(temperature: str) -> str:
        return HEAD + phase("hot", WATER, temperature=temperature) + phase("last", PERFUME)

    finding = only(reviewed(text("40.1"), TO_40))
    assert (finding.verdict, finding.where) == ("undecided", "phases.last")
    assert 'phase "hot" is at 40.1 °C' in finding.message
    assert verdict(reviewed(text("40"), TO_40)) == "does not apply"


@pytest.mark.parametrize("line", ["Squalane, percent: 3", "Menthol, percent: 0.1", "Cera Alba, percent: 0"])
def test_a_product_in_which_nothing_has_to_melt_may_be_made_cold(line: str) -> None:
    assert verdict(reviewed(HEAD + phase("all", WATER, PERFUME, line), TO_40)) == "does not apply"


def test_the_note_of_a_phase_is_not_read() -> None:
    text = HEAD + "  all:\n    note: below 40 °C\n    lines:\n"
    text += "".join(f"      - {{material: {line}}}\n" for line in (WATER, PERFUME, "Cera Alba, percent: 3"))

    assert verdict(reviewed(text, TO_40)) == "undecided"


def test_without_the_substance_no_phase_is_too_hot() -> None:
    assert verdict(reviewed(HEAD + phase("hot", WATER, temperature="90"), TO_40)) == "does not apply"
    assert verdict(reviewed(HEAD + phase("hot", WATER, "Parfum, percent: 0", temperature="90"), TO_40)) == (
        "does not apply"
    )


def test_a_bought_blend_brings_what_it_holds() -> None:
    text = HEAD + phase("hot", WATER, "blend, percent: 1", temperature="75")
    text += "materials: {blend: {contains: {Parfum: 10, Glycerin: 90}}}\n"

    assert verdict(reviewed(text, TO_40)) == "breaks"
