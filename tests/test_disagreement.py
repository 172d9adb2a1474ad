"""A reading that the sheet does not predict: each cause, put into the jar, must give the reading."""

from __future__ import annotations

import re

import pytest

from jar import composition, solution
from watchglass.rulebook import load
from watchglass.solution.disagreement import causes
from watchglass.solution.equilibrium import NoConvergenceError

BOOK = load()
JAR = {"Mandelic Acid": 5.0, "Tromethamine": 2.0, "Glycerin": 3.0}


def told(percents: dict[str, float], reading: float) -> list[str]:
    made = composition(percents)
    return causes(made, BOOK.substances, solution(percents), reading, BOOK.model)


def ph(percents: dict[str, float]) -> float:
    found = solution(percents).equilibrium
    assert found is not None
    return found.ph


@pytest.mark.parametrize("by", [-0.3, -0.15, 0.15, 0.3])
def test_each_line_that_is_named_explains_the_reading_when_it_is_changed_so(by: float) -> None:
    reading = ph(JAR) + by
    found = told(JAR, reading)
    lines = [words for words in found if words.startswith(("Mandelic Acid", "Tromethamine"))]
    assert len(lines) == 2
    for words in lines:
        ((name, share, way),) = re.findall(r"^(\D+) ([\d.]+) % (stronger|weaker) or ", words)
        factor = 1 + float(share) / 100 * (1 if way == "stronger" else -1)
        assert ph({**JAR, name: JAR[name] * factor}) == pytest.approx(reading, abs=0.02)


def test_what_was_left_out_explains_the_reading_when_it_is_put_in() -> None:
    reading = ph(JAR) + 0.3
    words = told(JAR, reading)[-1]
    mmol = float(words.split(" ")[0])

    assert "of base" in words
    assert ph({**JAR, "Sodium Hydroxide": mmol * 0.04 / 0.98}) == pytest.approx(reading, abs=0.03)


def test_a_lower_reading_lacks_acid() -> None:
    assert "of acid in 100 g that the sheet does not name" in told(JAR, ph(JAR) - 0.2)[-1]


def test_what_takes_no_part_in_the_ph_is_not_blamed() -> None:
    assert not any("Glycerin" in words for words in told(JAR, ph(JAR) + 0.2))


def test_a_line_that_would_have_to_double_is_not_blamed() -> None:
    assert not any("Mandelic Acid" in words for words in told(JAR, 8.5))


def test_the_smallest_slip_comes_first() -> None:
    shares = [float(re.findall(r"([\d.]+) %", words)[0]) for words in told(JAR, ph(JAR) + 0.2) if "%" in words]
    assert shares == sorted(shares)


def test_a_jar_that_cannot_be_solved_blames_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise NoConvergenceError("it did not settle")

    made, found = composition(JAR), solution(JAR)
    monkeypatch.setattr("watchglass.solution.disagreement.saturate", never)

    assert causes(made, BOOK.substances, found, 4.0, BOOK.model) == []
