"""The rule folder as plain data, and what is kept of it between runs."""

import hashlib
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from watchglass import library
from watchglass.errors import CannotRun


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A cache folder of one's own, and nothing remembered in the process."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    library.load.cache_clear()
    yield tmp_path / "watchglass"
    library.load.cache_clear()


def the_file(folder: Path) -> Path:
    (path,) = folder.iterdir()
    return path


def loaded_again() -> dict[str, object]:
    library.load.cache_clear()
    return library.load()


def test_the_data_is_kept_and_comes_back_the_same(kept: Path) -> None:
    first = library.load()

    assert the_file(kept).stat().st_size > 100_000
    assert loaded_again() == first


@pytest.mark.parametrize("damage", ["cut", "changed", "empty", "not ours"])
def test_a_damaged_file_is_read_as_nothing_and_written_anew(kept: Path, damage: str) -> None:
    first, path = library.load(), the_file(kept)
    whole = path.read_bytes()
    path.write_bytes(
        {
            "cut": whole[:-1],
            "changed": whole.replace(b"Glycolic Acid", b"Glycolic Acix", 1),
            "empty": b"",
            "not ours": b"{}",
        }[damage]
    )

    assert loaded_again() == first
    assert path.read_bytes() == whole


def test_a_link_is_not_followed(kept: Path, tmp_path: Path) -> None:
    first, path = library.load(), the_file(kept)
    body = path.read_bytes().partition(b"\n")[2].replace(b'"always"', b'"seldom"', 1)
    elsewhere = tmp_path / "elsewhere.json"
    elsewhere.write_bytes(hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
    path.unlink()
    path.symlink_to(elsewhere)

    assert loaded_again() == first
    assert b'"seldom"' in elsewhere.read_bytes()


def test_old_states_are_forgotten_and_other_files_left_alone(kept: Path) -> None:
    kept.mkdir()
    for number in range(library.MOST_KEPT + 3):
        (kept / f"rules-1.0-{number:08x}-{number:016x}.json").write_bytes(b"")
    (kept / "rules-notes.json").write_bytes(b"mine")

    library.load()

    assert len(list(kept.glob("rules-*-*-*.json"))) == library.MOST_KEPT
    assert (kept / "rules-notes.json").read_bytes() == b"mine"


def test_without_a_place_for_the_cache_everything_is_read_anew(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "a file").write_bytes(b"")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "a file"))
    data = library.load()

    assert loaded_again() == data


def test_the_hash_follows_every_byte_and_every_name(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text("- 1\n", "utf-8")
    states = [library.hash_of(tmp_path)]
    (tmp_path / "a.yaml").write_text("- 2\n", "utf-8")
    states.append(library.hash_of(tmp_path))
    (tmp_path / "a.yaml").rename(tmp_path / "b.yaml")
    states.append(library.hash_of(tmp_path))

    assert len(set(states)) == 3


def test_a_rule_folder_without_its_parts_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CannotRun, match=r"rules/sources\.yaml"):
        library.read_folder(tmp_path)


def folder_with(tmp_path: Path, text: str) -> Path:
    """The shipped rule folder with one file more."""
    folder = tmp_path / "rules"
    shutil.copytree(library.rules_folder(), folder)
    (folder / "prohibited" / "more.yaml").write_text(text, "utf-8")
    return folder


def test_a_table_goes_on_in_a_further_file(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "- rows_of: uk-annex-ii\n  rows: [{entry: '9999', of: Urea}]\n")

    (table,) = [rule for rule in library.read_folder(folder)["rules"] if rule["rule"] == "uk-annex-ii"]

    assert "9999" in [row["entry"] for row in table["rows"]]


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ("uk-anex-ii", r'prohibited/more\.yaml: rows of uk-anex-ii, which is no table; did you mean "uk-annex-ii"'),
        ("product-total", r"rows of product-total, which is no table"),
    ],
)
def test_rows_of_no_table_are_refused(tmp_path: Path, table: str, told: str) -> None:
    folder = folder_with(tmp_path, f"- rows_of: {table}\n  rows: [{{entry: '9999', of: Urea}}]\n")

    with pytest.raises(CannotRun, match=told):
        library.read_folder(folder)


def test_an_entry_that_a_further_file_gives_again_is_told(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "- rows_of: uk-annex-ii\n  rows: [{entry: '10', of: Urea}]\n")

    with pytest.raises(CannotRun, match="uk-annex-ii#10 stands twice"):
        library.read_folder(folder)
