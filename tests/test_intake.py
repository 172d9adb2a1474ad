import os
from decimal import Decimal
from pathlib import Path

import pytest

from watchglass.errors import Place, Unreadable
from watchglass.formula import Formula
from watchglass.intake import bytes_of, formula_of
from watchglass.schema import Fault

HEAD = """\
formula: Gel
product: {use: leave-on, site: body, form: gel, audience: adults}
markets: [eu]
phases: {water: {lines: [{material: Aqua, percent: qs}, {material: lactic-88, percent: 5}]}}
"""
SHELF = """\
materials:
  lactic-88: {name: From the shelf, contains: {Lactic Acid: 88, Aqua: qs}}
  caustic-20: {premix: {Sodium Hydroxide: 20, Aqua: 80}}
"""
VALUE = Place(5, 8)  # of the shelf's name in `HEAD` + "shelf: NAME"


@pytest.fixture
def repository(tmp_path: Path) -> Path:
    """A folder of formulas inside a repository."""
    (tmp_path / "repository" / ".git").mkdir(parents=True)
    folder = tmp_path / "repository" / "formulas"
    folder.mkdir()
    return folder


def formula(folder: Path, shelf: str, more: str = "") -> Formula:
    found = formula_of(f"{HEAD}shelf: {shelf}\n{more}", folder)
    assert isinstance(found, Formula), found
    return found


def fault(folder: Path, shelf: str) -> Fault:
    """The one fault, which must lie at the key `shelf` and fill one line."""
    found = formula_of(f"{HEAD}shelf: {shelf}\n", folder)
    assert isinstance(found, list), "a formula without its shelf"
    assert len(found) == 1
    assert found[0].place == VALUE
    assert len(found[0].message.splitlines()) == 1
    return found[0]


# -- found -------------------------------------------------------------------------------------------------------


def test_a_shelf_is_found_beside_the_formula(tmp_path: Path) -> None:
    (tmp_path / "shelf.yaml").write_text(SHELF, "utf-8")

    read = formula(tmp_path, "shelf.yaml")

    assert read.shelf == "shelf.yaml"
    assert list(read.materials) == ["lactic-88", "caustic-20"]
    assert read.materials["lactic-88"].parts == {"Lactic Acid": Decimal(88), "Aqua": "qs"}
    assert read.materials["lactic-88"].made is False
    assert read.materials["caustic-20"].made is True


def test_a_material_says_that_it_comes_from_the_shelf_and_where_it_stands_there(tmp_path: Path) -> None:
    (tmp_path / "shelf.yaml").write_text(SHELF, "utf-8")

    material = formula(tmp_path, "shelf.yaml").materials["caustic-20"]

    assert material.on_shelf == "shelf.yaml"
    assert material.place == Place(3, 3)


def test_the_formulas_own_material_wins_over_the_shelfs(tmp_path: Path) -> None:
    (tmp_path / "shelf.yaml").write_text(SHELF, "utf-8")

    read = formula(
        tmp_path, "shelf.yaml", "materials: {lactic-88: {name: Our own, contains: {Lactic Acid: 80, Aqua: 20}}}\n"
    )

    assert read.materials["lactic-88"].parts == {"Lactic Acid": Decimal(80), "Aqua": Decimal(20)}
    assert read.materials["lactic-88"].on_shelf is None
    assert read.materials["caustic-20"].on_shelf == "shelf.yaml"


def test_without_a_shelf_only_the_formulas_own_materials_are_there(tmp_path: Path) -> None:
    (tmp_path / "shelf.yaml").write_text(SHELF, "utf-8")

    read = formula_of(HEAD, tmp_path)

    assert isinstance(read, Formula)
    assert read.materials == {}
    assert read.shelf is None


@pytest.mark.parametrize("name", ["stock/acids.yaml", "./stock/acids.yaml", "stock/../stock/acids.yaml"])
def test_a_shelf_may_lie_in_a_folder_below(tmp_path: Path, name: str) -> None:
    (tmp_path / "stock").mkdir()
    (tmp_path / "stock" / "acids.yaml").write_text(SHELF, "utf-8")

    assert "lactic-88" in formula(tmp_path, name).materials


def test_a_shelf_may_lie_above_the_formula_in_the_same_repository(repository: Path) -> None:
    (repository.parent / "shelf.yaml").write_text(SHELF, "utf-8")

    assert "lactic-88" in formula(repository, "../shelf.yaml").materials


def test_a_link_to_a_shelf_in_the_same_repository_is_followed(repository: Path) -> None:
    (repository.parent / "real.yaml").write_text(SHELF, "utf-8")
    (repository / "shelf.yaml").symlink_to(repository.parent / "real.yaml")

    assert "lactic-88" in formula(repository, "shelf.yaml").materials


def test_a_worktree_whose_git_entry_is_a_file_is_a_repository_too(tmp_path: Path) -> None:
    (tmp_path / "tree" / "formulas").mkdir(parents=True)
    (tmp_path / "tree" / ".git").write_text("gitdir: elsewhere\n", "utf-8")
    (tmp_path / "tree" / "shelf.yaml").write_text(SHELF, "utf-8")

    assert "lactic-88" in formula(tmp_path / "tree" / "formulas", "../shelf.yaml").materials


def test_the_folder_may_be_given_relative_to_the_working_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "shelf.yaml").write_text(SHELF, "utf-8")
    monkeypatch.chdir(tmp_path)

    assert "lactic-88" in formula(Path(), "shelf.yaml").materials


# -- refused, at the key `shelf` ---------------------------------------------------------------------------------


def test_a_missing_shelf_is_told_by_its_name(tmp_path: Path) -> None:
    told = fault(tmp_path, "shlef.yaml").message

    assert told.startswith("shlef.yaml:")
    assert "no such file" in told


def test_a_shelf_above_a_folder_that_is_in_no_repository_is_refused(tmp_path: Path) -> None:
    (tmp_path / "formulas").mkdir()
    (tmp_path / "x.yaml").write_text(SHELF, "utf-8")

    assert "outside" in fault(tmp_path / "formulas", "../x.yaml").message


@pytest.mark.parametrize("name", ["../../x.yaml", "../formulas/../../x.yaml", "missing/../../../x.yaml"])
def test_a_shelf_outside_the_repository_is_refused(repository: Path, name: str) -> None:
    (repository.parents[1] / "x.yaml").write_text(SHELF, "utf-8")

    told = fault(repository, name).message

    assert "outside" in told
    assert name in told


def test_an_absolute_path_is_refused_even_inside_the_repository(repository: Path) -> None:
    shelf = repository / "shelf.yaml"
    shelf.write_text(SHELF, "utf-8")

    assert "outside" in fault(repository, str(shelf)).message
    assert "outside" in fault(repository, "/etc/hostname").message


def test_a_link_that_leads_out_of_the_repository_is_refused(repository: Path) -> None:
    (repository.parents[1] / "x.yaml").write_text(SHELF, "utf-8")
    (repository / "shelf.yaml").symlink_to("../../x.yaml")

    assert "outside" in fault(repository, "shelf.yaml").message


def test_a_folder_that_is_a_link_out_of_the_repository_is_refused(repository: Path) -> None:
    outside = repository.parents[1] / "outside"
    outside.mkdir()
    (outside / "x.yaml").write_text(SHELF, "utf-8")
    (repository / "stock").symlink_to(outside)

    assert "outside" in fault(repository, "stock/x.yaml").message


def test_what_lies_outside_is_not_told_to_exist_or_not(repository: Path) -> None:
    (repository.parents[1] / "x.yaml").write_text("secret: [", "utf-8")

    there = fault(repository, "../../x.yaml").message
    not_there = fault(repository, "../../y.yaml").message

    assert there.replace("x.yaml", "y.yaml") == not_there


def test_a_link_that_leads_nowhere_is_told_as_missing(tmp_path: Path) -> None:
    (tmp_path / "shelf.yaml").symlink_to("nowhere.yaml")

    assert "no such file" in fault(tmp_path, "shelf.yaml").message


def test_a_link_to_itself_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "shelf.yaml").symlink_to("shelf.yaml")

    assert "shelf.yaml" in fault(tmp_path, "shelf.yaml").message


@pytest.mark.parametrize(
    "name", ['"a\\0b.yaml"', '"\\e[31m.yaml"', '"a\\nb.yaml"', "x" * 300, '"\\udcff"', "é/😀.yaml"]
)
def test_a_name_that_no_file_can_have_is_a_fault(tmp_path: Path, name: str) -> None:
    found = formula_of(f"{HEAD}shelf: {name}\n", tmp_path)

    assert isinstance(found, list)
    assert [told.place.line for told in found] == [5]
    assert len(found[0].message.splitlines()) == 1


@pytest.mark.parametrize("name", [".", "stock", "stock/"])
def test_a_folder_is_no_shelf(tmp_path: Path, name: str) -> None:
    (tmp_path / "stock").mkdir()

    assert "folder" in fault(tmp_path, name).message


def test_a_pipe_is_no_shelf_and_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "shelf.yaml")

    assert "plain file" in fault(tmp_path, "shelf.yaml").message


def test_a_shelf_that_may_not_be_opened_is_a_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "shelf.yaml").write_text(SHELF, "utf-8")

    def refuse(*_: object, **__: object) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)

    assert "Permission denied" in fault(tmp_path, "shelf.yaml").message


@pytest.mark.parametrize(
    ("content", "place", "words"),
    [
        (b"materials:\n  a: b: c", (2, 7), "not YAML"),
        (b"", (1, 1), "empty"),
        (b"materials: {}\n---\nmaterials: {}\n", (2, 1), "second document"),
        (b"materials:\n  a: {contains: {Aqua: 1}}\n  a: {contains: {Aqua: 1}}\n", (3, 3), "twice"),
        (b"materials: \xff", (1, 12), "UTF-8"),
        (b"materials:\n  a: *b\n", (2, 6), "alias"),
        (b"- a\n", (1, 1), ""),
        (b"formula: Gel\nmaterials: {}\n", (1, 1), "formula"),
        (
            b"materials:\n  a: {contain: {Aqua: 100}, premix: {Aqua: 100}}\n",
            (2, 7),
            '"contain"; did you mean "contains"',
        ),
        (b"materials:\n  a: {contains: {Aqua: '88,5'}}\n", (2, 24), "decimal comma"),
        (b"note: x\n", (1, 1), '"materials"'),
    ],
)
def test_a_broken_shelf_is_told_with_its_own_place_in_it(
    tmp_path: Path, content: bytes, place: tuple[int, int], words: str
) -> None:
    (tmp_path / "shelf.yaml").write_bytes(content)

    told = fault(tmp_path, "shelf.yaml").message

    assert told.startswith(f"shelf.yaml:{place[0]}:{place[1]}: ")
    assert words in told


def test_a_shelf_of_more_than_two_million_bytes_is_refused(tmp_path: Path) -> None:
    (tmp_path / "shelf.yaml").write_bytes(SHELF.encode() + b"#" * 2_000_000)

    assert "at most 2,000,000" in fault(tmp_path, "shelf.yaml").message


@pytest.mark.parametrize("written", ["5", "true", "[a]", "{a: 1}", "", '""', "x" * 301])
def test_a_shelf_that_is_no_name_is_a_fault_of_the_formula(tmp_path: Path, written: str) -> None:
    found = formula_of(f"{HEAD}shelf: {written}\n", tmp_path)

    assert isinstance(found, list)
    assert [(told.where, told.place.line) for told in found] == [("shelf", 5)]


def test_the_faults_of_the_formula_come_before_the_shelf_is_opened(tmp_path: Path) -> None:
    found = formula_of(f"{HEAD}shelf: missing.yaml\nzzz: 1\n", tmp_path)

    assert isinstance(found, list)
    assert [told.where for told in found] == ["zzz"]


# -- the bytes of a file -----------------------------------------------------------------------------------------


def test_a_text_that_cannot_be_read_is_one_fault_at_its_place(tmp_path: Path) -> None:
    found = formula_of(b"formula: Gel\nformula: Gel\n", tmp_path)

    assert isinstance(found, list)
    assert [told.place for told in found] == [Place(2, 1)]


def test_the_bytes_of_a_plain_file_are_given_as_they_are(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_bytes(b"\xef\xbb\xbfa: 1\r\n\xff")

    assert bytes_of(tmp_path / "a.yaml") == b"\xef\xbb\xbfa: 1\r\n\xff"


def test_2_000_000_bytes_are_opened_and_one_more_is_not(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_bytes(b"#" * 2_000_000)
    assert len(bytes_of(path)) == 2_000_000

    path.write_bytes(b"#" * 2_000_001)
    with pytest.raises(Unreadable, match="2,000,001 bytes"):
        bytes_of(path)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (PermissionError(13, "Permission denied"), "Permission denied"),
        (OSError(5, "Input/output error"), "Input/output error"),
    ],
)
@pytest.mark.parametrize("call", ["open", "stat"])
def test_a_file_that_the_system_refuses_is_unreadable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str, error: OSError, words: str
) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("a: 1", "utf-8")

    def refuse(*_: object, **__: object) -> bytes:
        raise error

    monkeypatch.setattr(Path, call, refuse)

    with pytest.raises(Unreadable, match=words) as caught:
        bytes_of(path)
    assert caught.value.place == (1, 1)


def test_a_file_that_is_longer_than_it_says_is_read_no_further_than_the_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "grows.yaml"
    file.write_bytes(b"x" * 2_000_001)
    there = file.stat()
    monkeypatch.setattr(Path, "stat", lambda *_, **__: os.stat_result((*there[:6], 0, *there[7:])))

    with pytest.raises(Unreadable, match="more than 2,000,000 bytes"):
        bytes_of(file)
