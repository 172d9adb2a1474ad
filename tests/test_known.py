from pathlib import Path

import pytest

from helpers import ON, reviewed, rule, sheet
from watchglass import known
from watchglass.errors import START, CannotRun
from watchglass.findings import Review, outcome_of, unreadable
from watchglass.known import HEAD, entries_of, gone, marked, text_of
from watchglass.runs import fails

CEILING = rule({"percent": {"of": ["Glycolic Acid", "Lactic Acid"], "each": True}}, values={"always": {"max": 1}})
OPINION = CEILING | {"binding": "opinion"}
ACID = sheet("Glycolic Acid 2", "Aqua qs")


def mark(found: Review, *listed: Review) -> Review:
    (marked_one,) = marked([found], ["a.yaml"], [entry for review in listed for entry in entries_of(review, "a.yaml")])
    return marked_one


def written(tmp_path: Path, text: str) -> Path:
    (tmp_path / "known.txt").write_text(text, "utf-8")
    return tmp_path / "known.txt"


def test_a_known_break_of_law_fails_no_run_and_stays_in_the_counts_and_the_outcome() -> None:
    found = mark(reviewed(ACID, CEILING), reviewed(ACID, CEILING))

    assert [finding.known for finding in found.findings] == [True]
    assert not any(fails(found, level) for level in ("error", "undecided", "warning", "note"))
    assert (found.outcome, found.breaks("error"), found.known) == ("breaks", 1, 1)
    assert outcome_of(found.findings) == "breaks"


def test_a_new_finding_fails_beside_a_known_one() -> None:
    found = mark(reviewed(sheet("Glycolic Acid 2", "Lactic Acid 2", "Aqua qs"), CEILING), reviewed(ACID, CEILING))

    assert [finding.known for finding in found.findings] == [True, False]
    assert fails(found, "error")


def test_a_known_finding_whose_figure_moved_on_is_still_known() -> None:
    assert mark(reviewed(sheet("Glycolic Acid 5", "Aqua qs"), CEILING), reviewed(ACID, CEILING)).known == 1


@pytest.mark.parametrize(("now", "listed", "known_ones"), [(CEILING, OPINION, 0), (OPINION, CEILING, 1)])
def test_a_known_warning_that_became_an_error_is_new(
    now: dict[str, object], listed: dict[str, object], known_ones: int
) -> None:
    assert mark(reviewed(ACID, now), reviewed(ACID, listed)).known == known_ones


@pytest.mark.parametrize(("now", "listed", "known_ones"), [("2", "open", 0), ("open", "2", 1), ("open", "open", 1)])
def test_a_known_open_question_that_became_a_break_is_new(now: str, listed: str, known_ones: int) -> None:
    blend = "materials:\n  acid: {contains: {Glycolic Acid: 50, Aqua: qs}, tolerance: %s}\n"
    texts = {"open": sheet("acid 2", "Aqua qs", extra=blend % 10), "2": sheet("acid 4", "Aqua qs", extra=blend % 1)}
    assert reviewed(texts["open"], CEILING).findings[0].verdict == "undecided"

    assert mark(reviewed(texts[now], CEILING), reviewed(texts[listed], CEILING)).known == known_ones


def test_an_open_question_of_law_that_is_known_fails_nothing_and_leaves_the_outcome_open() -> None:
    unread = CEILING | {"values": {"always": {"unread": "the figure"}}, "require": {"percent": {"of": "Glycolic Acid"}}}
    found = mark(reviewed(ACID, unread), reviewed(ACID, unread))

    assert (found.outcome, fails(found, "undecided"), found.known) == ("cannot tell", False, 1)


def test_what_cannot_fail_a_run_is_not_listed() -> None:
    coming = CEILING | {"values": {"2030-01-01": {"max": 1}}}
    accepted = reviewed(f"{ACID}deviations: [{{rule: the-rule, reason: a test}}]\n", OPINION)

    assert entries_of(reviewed(ACID, coming), "a.yaml") == []
    assert entries_of(accepted, "a.yaml") == []
    assert entries_of(reviewed(sheet("Glycerin 2", "Aqua qs"), CEILING), "a.yaml") == []


def test_a_file_that_cannot_be_read_is_never_known() -> None:
    found = unreadable("a.yaml", ON, [(START, "phases", "broken")])

    assert entries_of(found, "a.yaml") == []
    assert fails(mark(found, found), "error")


# -- the file ------------------------------------------------------------------------------------------------------


def test_a_list_is_sorted_and_holds_neither_lines_nor_figures() -> None:
    found = reviewed(sheet("Lactic Acid 7.25", "Glycolic Acid 8.5", "Aqua qs", markets="eu, uk"), CEILING)
    text = text_of([*entries_of(found, "b.yaml"), *entries_of(found, "a.yaml")])
    head, *lines = text.splitlines()

    assert head == HEAD
    assert lines == sorted(lines)
    assert len(lines) == 4
    assert lines[0].split("\t")[:6] == ["a.yaml", "the-rule", "-", "phases.one.Glycolic Acid", "breaks", "error"]
    assert "7.25" not in text
    assert "8.5" not in text
    assert text.endswith("\n")


def test_a_list_reads_back_as_what_was_written(tmp_path: Path) -> None:
    entries = entries_of(reviewed(ACID, CEILING), "a.yaml")

    assert known.read(written(tmp_path, text_of(entries))) == entries
    assert known.read(written(tmp_path, text_of(entries).replace("\n", "\r\n"))) == entries


def test_a_file_name_with_a_tab_or_a_line_end_stays_on_its_line(tmp_path: Path) -> None:
    entries = entries_of(reviewed(ACID, CEILING), "a\tb\nc.yaml")

    assert known.read(written(tmp_path, text_of(entries))) == entries


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", ":1:1: this is no list of known findings"),
        ("formula: Gel\n", ":1:1: this is no list of known findings"),
        (f"{HEAD}\na.yaml\tthe-rule\n", ":2:1: this is no known finding: 7 columns"),
        (f"{HEAD}\n\na\tr\t-\tw\tbroken\terror\tf\n", ':3:1: "broken" is none of undecided, breaks'),
        (f"{HEAD}\na\tr\t-\tw\tbreaks\tfatal\tf\n", ':2:1: "fatal" is none of note, warning, error'),
    ],
)
def test_what_is_no_list_is_refused_at_its_line_and_never_an_empty_one(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(CannotRun) as refused:
        known.read(written(tmp_path, text))

    assert told in str(refused.value)


def test_a_list_that_is_not_there_or_not_text_is_refused(tmp_path: Path) -> None:
    (tmp_path / "picture").write_bytes(b"\x89PNG")

    for name, told in (("missing.txt", "there is no such file"), ("picture", "UTF-8"), (".", "a folder")):
        with pytest.raises(CannotRun, match=told):
            known.read(tmp_path / name)


# -- what is gone --------------------------------------------------------------------------------------------------

CLEAN = sheet("Glycolic Acid 1", "Aqua qs")


def gone_of(tmp_path: Path, *found: Review, listed: str = "a.yaml") -> list[str]:
    (tmp_path / "a.yaml").write_text(ACID, "utf-8")
    entries = entries_of(reviewed(ACID, CEILING | {"applies": {"markets": ["eu"]}}), listed)
    return [entry.called for entry in gone(found, ["a.yaml"] * len(found), entries, tmp_path)]


def test_a_known_finding_that_is_mended_is_named(tmp_path: Path) -> None:
    assert gone_of(tmp_path, reviewed(CLEAN, CEILING)) == ["a.yaml: the-rule (eu) at phases.one.Glycolic Acid"]


def test_what_was_not_looked_at_is_not_gone(tmp_path: Path) -> None:
    assert gone_of(tmp_path) == []
    assert gone_of(tmp_path, reviewed(CLEAN, CEILING, markets=["us"])) == []
    assert gone_of(tmp_path, unreadable("a.yaml", ON, [(START, "", "broken")])) == []


def test_the_findings_of_a_file_that_is_no_longer_there_are_gone(tmp_path: Path) -> None:
    assert gone_of(tmp_path, listed="old.yaml") == ["old.yaml: the-rule (eu) at phases.one.Glycolic Acid"]


def test_what_is_still_found_is_not_gone(tmp_path: Path) -> None:
    assert gone_of(tmp_path, reviewed(ACID, CEILING | {"applies": {"markets": ["eu"]}})) == []
