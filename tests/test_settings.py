import os
from decimal import Decimal
from pathlib import Path

import pytest

from watchglass.errors import CannotRun
from watchglass.formula import Formula
from watchglass.intake import NO_DEFAULTS, formula_of
from watchglass.settings import Options, nearest, settings_for

FORMULA = """\
formula: Slack-water gel
product: {use: leave-on, site: face, form: gel, audience: adults}
phases:
  one:
    lines:
      - {material: kelp, percent: 5}
      - {material: Aqua, percent: qs}
"""
SHELF = "materials:\n  kelp: {contains: {Glycerin: 50, Aqua: qs}}\n"
ALL = """\
markets: [eu, us]
shelf: shelf.yaml
rules: [house]
fail_at: warning
tolerances: {meter: 0.02, strip: 0.3, balance: 0.1 g}
"""


@pytest.fixture
def workshop(tmp_path: Path) -> Path:
    """A repository with a configuration, a shelf, a folder of house rules and a folder for formulas."""
    (tmp_path / ".git").mkdir()
    (tmp_path / "house").mkdir()
    (tmp_path / "house" / "own.yaml").write_text("[]\n", "utf-8")
    (tmp_path / "gels").mkdir()
    (tmp_path / "shelf.yaml").write_text(SHELF, "utf-8")
    (tmp_path / "watchglass.yaml").write_text(ALL, "utf-8")
    return tmp_path


def refused(folder: Path, text: str | bytes, options: Options = Options()) -> str:  # noqa: B008 - a tuple does not change
    (folder / "watchglass.yaml").write_bytes(text.encode() if isinstance(text, str) else text)
    with pytest.raises(CannotRun) as error:
        settings_for(folder, options)
    return str(error.value)


# -- where it is looked for ----------------------------------------------------------------------------------------


def test_the_nearest_configuration_above_a_formula_counts_alone(workshop: Path) -> None:
    assert nearest(workshop / "gels") == workshop / "watchglass.yaml"
    (workshop / "gels" / "watchglass.yaml").write_text("fail_at: note\n", "utf-8")

    found = settings_for(workshop / "gels")
    assert (found.fail_at, dict(found.defaults.nodes)) == ("note", {})


def test_nothing_above_the_repository_is_looked_for(workshop: Path) -> None:
    (workshop / "gels" / "inner" / ".git").mkdir(parents=True)

    assert nearest(workshop / "gels" / "inner") is None


def test_nothing_above_the_home_is_looked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "watchglass.yaml").write_text("fail_at: note\n", "utf-8")
    (tmp_path / "home" / "gels").mkdir(parents=True)
    monkeypatch.setenv("HOME", os.fspath(tmp_path / "home"))

    assert nearest(tmp_path / "home" / "gels") is None
    assert nearest(tmp_path) == tmp_path / "watchglass.yaml"


def test_a_folder_of_that_name_is_no_configuration(tmp_path: Path) -> None:
    (tmp_path / ".git").mkdir()
    (tmp_path / "watchglass.yaml").mkdir()

    assert settings_for(tmp_path).file is None


def test_a_configuration_can_be_named_or_done_without(workshop: Path, tmp_path: Path) -> None:
    (workshop / "other.yaml").write_text("fail_at: error\n", "utf-8")

    assert settings_for(workshop, Options(config=workshop / "other.yaml")).fail_at == "error"
    assert settings_for(workshop, Options(isolated=True)).fail_at == "undecided"


# -- what it says --------------------------------------------------------------------------------------------------


def test_what_a_formula_does_not_say_comes_from_the_configuration(workshop: Path) -> None:
    found = formula_of(FORMULA + "batch: 200 g\n", workshop / "gels", settings_for(workshop / "gels").defaults)

    assert isinstance(found, Formula)
    assert found.markets == ("eu", "us")
    assert found.materials["kelp"].parts["Glycerin"] == 50
    assert found.balance_grams == Decimal("0.1")


def test_what_a_formula_says_itself_wins(workshop: Path) -> None:
    (workshop / "gels" / "own.yaml").write_text(SHELF.replace("50", "20"), "utf-8")
    text = FORMULA + "markets: [ca]\nshelf: own.yaml\nbatch: 200 g\nbalance: 1 g\n"
    found = formula_of(text, workshop / "gels", settings_for(workshop / "gels").defaults)

    assert isinstance(found, Formula)
    assert found.markets == ("ca",)
    assert found.materials["kelp"].parts["Glycerin"] == 20
    assert found.balance_grams == 1


def test_a_balance_is_not_put_to_a_formula_that_is_not_weighed(workshop: Path) -> None:
    found = formula_of(FORMULA, workshop, settings_for(workshop).defaults)

    assert isinstance(found, Formula)
    assert found.balance_grams is None


def test_without_a_configuration_a_formula_must_name_its_markets() -> None:
    found = formula_of(FORMULA, Path(), NO_DEFAULTS)

    assert isinstance(found, list)
    assert 'lacks the key "markets"' in found[0].message


def test_the_tolerances_of_the_instruments_are_those_of_the_workshop(workshop: Path) -> None:
    (workshop / "watchglass.yaml").write_text("tolerances: {meter: 0.02}\n", "utf-8")
    usual = settings_for(workshop, Options(isolated=True)).book().model.reading_tolerance
    own = settings_for(workshop).book().model.reading_tolerance

    assert (own["meter"], own["strip"]) == (0.02, usual["strip"])
    assert usual["meter"] != 0.02


def test_an_option_beats_the_configuration(workshop: Path) -> None:
    (workshop / "mine").mkdir()
    found = settings_for(workshop, Options(fail_at="error", rules=(workshop / "mine",)))

    assert (found.fail_at, found.rules) == ("error", (workshop / "mine",))
    assert dict(found.origins)["fail_at"] == "option --fail-at"


def test_every_setting_is_told_with_its_origin(workshop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (workshop / "watchglass.yaml").write_text(ALL.replace("rules: [house]\n", ""), "utf-8")
    monkeypatch.chdir(workshop)
    options = Options(fail_at="note")

    assert list(settings_for(workshop, options).in_words(options)) == [
        "configuration: watchglass.yaml",
        "markets: eu, us (watchglass.yaml:1:1)",
        "shelf: shelf.yaml (watchglass.yaml:2:1)",
        "rules: those that are shipped (usual)",
        "fail_at: note (option --fail-at)",
        "tolerances.meter: 0.02 (watchglass.yaml:4:14)",
        "tolerances.strip: 0.3 (watchglass.yaml:4:27)",
        "tolerances.balance: 0.1 g (watchglass.yaml:4:39)",
    ]


def test_a_changed_configuration_is_read_again(workshop: Path) -> None:
    assert settings_for(workshop).fail_at == "warning"
    (workshop / "watchglass.yaml").write_text("fail_at: note\n", "utf-8")
    os.utime(workshop / "watchglass.yaml", ns=(1, 1))

    assert settings_for(workshop).fail_at == "note"


# -- what cannot be ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("market: [eu]\n", ':1:1: unknown key "market"; did you mean "markets"?'),
        ("fail-at: note\n", ':1:1: unknown key "fail-at"; did you mean "fail_at"?'),
        ("fail_at: eror\n", 'did you mean "error"?'),
        ("markets: [atlantis]\n", ':1:11: markets[0] is "atlantis"'),
        ("markets: eu\n", ":1:10: markets"),
        ("tolerances: {metre: 0.1}\n", 'did you mean "meter"?'),
        ("tolerances: {meter: 0}\n", "more than 0"),
        ("tolerances: {strip: 5}\n", "at most 2"),
        ("tolerances: {balance: 0 g}\n", ":1:23: balance"),
        ("tolerances: {balance: 0.1}\n", ":1:23: balance"),
        ("shelf: no.yaml\n", ":1:8: no.yaml:1:1: there is no such file"),
        ("shelf: ../x.yaml\n", ":1:8: the shelf"),
        ("shelf: bad.yaml\n", ":1:8: bad.yaml:1:1: "),
        ("rules: [nowhere]\n", ':1:9: the rules "nowhere" are no folder'),
        ("rules: []\n", "rules is empty"),
        ("markets: [eu\n", "the configuration cannot be read"),
        ("", "the file is empty"),
        ("- eu\n", "the file"),
        (b"\xff", "not UTF-8"),
    ],
)
def test_what_cannot_be_is_told_at_its_place(tmp_path: Path, text: str | bytes, told: str) -> None:
    (tmp_path / ".git").mkdir()
    (tmp_path / "bad.yaml").write_text("formula: x\n", "utf-8")
    message = refused(tmp_path, text)

    assert told in message
    assert message.split(":")[0].endswith("watchglass.yaml")


def test_a_named_configuration_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CannotRun, match="there is no such file"):
        settings_for(tmp_path, Options(config=tmp_path / "no.yaml"))
