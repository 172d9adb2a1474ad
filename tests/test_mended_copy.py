"""`review --mend-to`: the mended copy, as a new file or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from running import Call

MEETS = """\
formula: Balm
product: {use: leave-on, site: body, form: balm, audience: adults}
markets: [eu]
phases:
  oil:
    lines:
      - {material: Squalane, percent: 100}
"""
BATCHES = MEETS.replace("percent: 100", "grams: 500").replace("phases:", "batch: 600 g  # too much\nphases:")


def test_a_mended_copy_is_written_beside_the_formula_and_the_formula_stays(call: Call, tmp_path: Path) -> None:
    (tmp_path / "balm.yaml").write_text(BATCHES)

    ran = call("review", "balm.yaml", "--mend-to", "balm-2.yaml")

    assert ran.code == 1
    assert (tmp_path / "balm.yaml").read_text() == BATCHES
    assert (tmp_path / "balm-2.yaml").read_text() == BATCHES.replace("batch: 600 g", "batch: 500 g")
    assert "balm-2.yaml: batch 600 to 500 g" in ran.err
    assert "mend: batch from 600 to 500 g" in ran.out
    assert call("review", "balm-2.yaml").code == 0


@pytest.mark.parametrize("there", ["balm.yaml", "other.yaml"])
def test_a_mended_copy_is_written_over_nothing(call: Call, tmp_path: Path, there: str) -> None:
    (tmp_path / "balm.yaml").write_text(BATCHES)
    (tmp_path / "other.yaml").write_text("mine\n")
    before = (tmp_path / there).read_text()

    ran = call("review", "balm.yaml", "--mend-to", there)

    assert ran.code == 2
    assert "nothing of yours is written over" in ran.err
    assert (tmp_path / there).read_text() == before


@pytest.mark.parametrize("paths", [("balm.yaml", "other.yaml"), ("-",)])
def test_a_mended_copy_is_of_one_file(call: Call, tmp_path: Path, paths: tuple[str, ...]) -> None:
    (tmp_path / "balm.yaml").write_text(BATCHES)
    (tmp_path / "other.yaml").write_text(BATCHES)

    ran = call("review", *paths, "--mend-to", "new.yaml")

    assert ran.code == 2
    assert "one formula file" in ran.err
    assert not (tmp_path / "new.yaml").exists()


def test_without_anything_to_mend_no_copy_is_written_and_that_is_told(call: Call, tmp_path: Path) -> None:
    (tmp_path / "balm.yaml").write_text(MEETS)

    ran = call("review", "balm.yaml", "--mend-to", "new.yaml")

    assert ran.code == 0
    assert "new.yaml was not written" in ran.err
    assert not (tmp_path / "new.yaml").exists()


def test_a_copy_that_cannot_be_written_is_no_copy_at_all(call: Call, tmp_path: Path) -> None:
    (tmp_path / "balm.yaml").write_text(BATCHES)

    ran = call("review", "balm.yaml", "--mend-to", "no-such-folder/new.yaml")

    assert ran.code == 2
    assert "the mended copy cannot be written" in ran.err
    assert not (tmp_path / "no-such-folder").exists()
