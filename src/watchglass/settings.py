"""What holds for a run beside the formulas: markets, shelf, house rules, tolerances, and where each of them comes from.

An option beats the configuration file, the file beats what is usual. The file `watchglass.yaml` is looked for from a
formula upward and no further than its repository; the nearest one counts, alone.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from watchglass.errors import CannotRun, Place, Unreadable, located, one_line
from watchglass.files import CONFIGURATION, shown
from watchglass.intake import Defaults, bytes_of, home_of, shelf_at
from watchglass.rulebook import Rulebook, load
from watchglass.schema import faults
from watchglass.sheet import Mapping, Node, Scalar, Sequence, read

FAIL_AT = ("error", "undecided", "warning", "note")
USUAL_FAIL_AT = "undecided"
_INSTRUMENTS = ("meter", "strip")


class Options(NamedTuple):
    """What was asked for on the command line or by a caller; empty or None where nothing was.

    Attributes:
        markets: To review for, instead of a formula's own.
        rules: Folders of house rules, instead of those of the configuration.
        fail_at: A word of `FAIL_AT`.
        config: A configuration file, instead of the nearest one.
        isolated: Read no configuration file.
    """

    markets: tuple[str, ...] = ()
    rules: tuple[Path, ...] = ()
    fail_at: str | None = None
    config: Path | None = None
    isolated: bool = False


class Settings(NamedTuple):
    """What holds for the formulas of one folder.

    Attributes:
        file: The configuration file, if there is one.
        fail_at: From where on a run fails.
        rules: Folders of house rules.
        defaults: What the file says of formulas that do not say it themselves.
        tolerances: Of a pH reading by meter and by strip, where a formula states none.
        origins: Key to where its value comes from.
    """

    file: Path | None
    fail_at: str
    rules: tuple[Path, ...]
    defaults: Defaults
    tolerances: tuple[tuple[str, Decimal], ...]
    origins: tuple[tuple[str, str], ...]

    def book(self) -> Rulebook:
        """The rules, with the tolerances of this workshop.

        Raises:
            CannotRun: A rule file is at fault.
        """
        if self.tolerances:
            return _adjusted(self.rules, self.tolerances)
        return load(self.rules) if self.rules else load()

    def in_words(self, options: Options) -> Iterator[str]:
        """One line for each setting, with its value and where it comes from."""
        origins = dict(self.origins)
        model = self.book().model
        own = ", ".join(str(item.value) for item in _items(self.defaults.nodes.get("markets")))
        values = {
            "markets": ", ".join(options.markets) or own or "those of each formula",
            "shelf": _text(self.defaults.nodes.get("shelf")) or "that of each formula",
            "rules": ", ".join(shown(folder) for folder in self.rules) or "those that are shipped",
            "fail_at": self.fail_at,
            **{f"tolerances.{by}": str(model.reading_tolerance[by]) for by in _INSTRUMENTS},
            "tolerances.balance": _text(self.defaults.nodes.get("balance")) or "that of each formula",
        }
        yield f"configuration: {'none' if self.file is None else one_line(shown(self.file))}"
        for key, value in values.items():
            yield f"{key}: {one_line(value)} ({origins.get(key, 'usual')})"


def settings_for(folder: Path, options: Options = Options()) -> Settings:  # noqa: B008 - a tuple does not change
    """What holds for the formulas of a folder.

    Raises:
        CannotRun: The configuration cannot be read, or says what cannot be.
    """
    file = options.config
    if file is None and not options.isolated:
        file = nearest(folder)
    found = _NOTHING if file is None else _read(file.absolute(), _changed(file))
    origins = dict(found.origins)
    if options.markets:
        origins["markets"] = "option --market"
    if options.fail_at is not None:
        origins["fail_at"] = "option --fail-at"
    if options.rules:
        origins["rules"] = "option --rules"
    return found._replace(
        fail_at=options.fail_at or found.fail_at,
        rules=tuple(rules.absolute() for rules in options.rules) or found.rules,
        origins=tuple(origins.items()),
    )


def nearest(folder: Path) -> Path | None:
    """The configuration file that holds for a folder: in it or above it, no further than its repository or the home.

    A folder of that name is none.
    """
    folder = folder.absolute()
    home = Path(os.path.expanduser("~"))
    for parent in (folder, *folder.parents):
        if (parent / CONFIGURATION).is_file():
            return parent / CONFIGURATION
        if (parent / ".git").exists() or parent == home:
            return None
    return None


_NOTHING = Settings(None, USUAL_FAIL_AT, (), Defaults(), (), ())


@lru_cache(maxsize=64)
def _adjusted(rules: tuple[Path, ...], tolerances: tuple[tuple[str, Decimal], ...]) -> Rulebook:
    book = load(rules)
    stated = {by: float(tolerance) for by, tolerance in tolerances}
    return book._replace(model=book.model._replace(reading_tolerance={**book.model.reading_tolerance, **stated}))


def _changed(file: Path) -> int:
    try:
        return file.stat().st_mtime_ns
    except OSError:
        return 0


@lru_cache(maxsize=64)
def _read(file: Path, changed_ns: int) -> Settings:
    """A configuration file, read once for all formulas below it, and again when it has changed."""
    name = one_line(shown(file))
    try:
        root = read(bytes_of(file))
    except Unreadable as error:
        raise CannotRun(located(name, error.place, f"the configuration cannot be read: {error.message}")) from None
    found = faults(root, "configuration")
    if found:
        raise CannotRun("\n".join(located(name, fault.place, fault.message) for fault in found))
    assert isinstance(root, Mapping)
    tolerances = root.items.get("tolerances")
    stated = tolerances if isinstance(tolerances, Mapping) else Mapping({}, {}, root.place)
    balance = stated.items.get("balance")
    nodes: dict[str, Node] = {key: node for key, node in root.items.items() if key in ("markets", "shelf")}
    if balance is not None:
        nodes["balance"] = balance
    _check_shelf(file, name, nodes)
    return Settings(
        file=file,
        fail_at=_text(root.items.get("fail_at")) or USUAL_FAIL_AT,
        rules=_folders(file, name, root),
        defaults=Defaults(nodes, file.parent),
        tolerances=tuple((by, _number(stated.items[by])) for by in _INSTRUMENTS if by in stated.items),
        origins=(
            *((key, _origin(name, place)) for key, place in root.keys.items() if key != "tolerances"),
            *((f"tolerances.{key}", _origin(name, place)) for key, place in stated.keys.items()),
        ),
    )


def _check_shelf(file: Path, name: str, nodes: dict[str, Node]) -> None:
    """A shelf that cannot be read is told here, once, and not at every formula."""
    named = nodes.get("shelf")
    if isinstance(named, Scalar):
        try:
            shelf_at(str(named.value), file.parent, home_of(file.parent))
        except Unreadable as error:
            raise CannotRun(located(name, named.place, error.message)) from None


def _folders(file: Path, name: str, root: Mapping) -> tuple[Path, ...]:
    folders = []
    for item in _items(root.items.get("rules")):
        folder = file.parent / str(item.value)
        if not folder.is_dir():
            raise CannotRun(located(name, item.place, f'the rules "{one_line(str(item.value))}" are no folder'))
        folders.append(folder)
    return tuple(folders)


def _items(node: Node | None) -> list[Scalar]:
    return [item for item in node.items if isinstance(item, Scalar)] if isinstance(node, Sequence) else []


def _text(node: Node | None) -> str:
    return str(node.value) if isinstance(node, Scalar) else ""


def _number(node: Node) -> Decimal:
    assert isinstance(node, Scalar)
    assert isinstance(node.value, Decimal)
    return node.value


def _origin(name: str, place: Place) -> str:
    return f"{name}:{place.line}:{place.column}"
