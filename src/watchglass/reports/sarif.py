"""The review as SARIF 2.1.0 (OASIS standard): results for code scanning and for viewers in editors.

What stands in the JSON document stands here as well: `properties` of a result has the verdict, the measured value and
the limit, those of the run the counts and the outcome. An open question is a result of kind `open`, a coming break one
of kind `review`; for kinds other than `fail` the standard (3.27.10) fixes the level at `none`. An accepted deviation is
a suppressed result.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from watchglass import __version__
from watchglass.cite import on_rule
from watchglass.findings import Finding, Review
from watchglass.fingerprints import fingerprints
from watchglass.reports import NOT_CHECKED, NOT_YET, accepted, counts, message_of, overall
from watchglass.reports.json import of_finding
from watchglass.rulebook import Rule, Rulebook

_SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
_ROOT = "%SRCROOT%"
_SOURCES = "sources"
_KINDS = {"breaks": "fail", "deviation": "fail", "undecided": "open", "coming": "review"}

# What a result says in other words already: place, rule, message.
_SAID = ("rule", "entry", "line", "column", "where", "message")


def write(reviews: Sequence[Review], book: Rulebook, on: str) -> str:
    """All reviews as one run."""
    first = {finding.address: finding for review in reversed(reviews) for finding in reversed(review.findings)}
    rules = {address: number for number, address in enumerate(sorted(first))}
    sources = sorted({finding.source["ref"] for finding in first.values()} & book.sources.keys())
    results = [
        _result(review.path, finding, fingerprint, rules)
        for review in reviews
        for finding, fingerprint in zip(review.findings, fingerprints(review), strict=True)
    ]
    run = {
        "tool": {"driver": _driver([_descriptor(first[address], book, sources) for address in rules])},
        "taxonomies": [_taxonomy(sources, book)],
        "invocations": [{"executionSuccessful": True}],
        "columnKind": "unicodeCodePoints",
        "originalUriBaseIds": {_ROOT: {"description": {"text": "The folder in which the review was started."}}},
        "results": results,
        "properties": {
            "on": on,
            "rulebook": book.hash,
            "counts": counts(reviews),
            "not_in_rulebook": NOT_YET,
            "not_checked": NOT_CHECKED,
            "outcomes": {review.path: review.outcome for review in reviews},
            "outcome": overall(reviews),
        },
    }
    return json.dumps({"$schema": _SCHEMA, "version": "2.1.0", "runs": [run]}, indent=1) + "\n"


def _driver(rules: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "name": "watchglass",
        "fullName": "Watchglass, a linter for cosmetic formulas",
        "semanticVersion": __version__,
        "rules": rules,
        "supportedTaxonomies": [{"name": _SOURCES, "index": 0}],
    }


# -- rules and their sources ---------------------------------------------------------------------------------------


def _descriptor(finding: Finding, book: Rulebook, sources: Sequence[str]) -> dict[str, Any]:
    """A rule: what it is about, why, what `cite` says of it, and a link to the page of its source."""
    found = book.find(finding.address) or book.find(finding.rule)
    ref = finding.source["ref"]
    descriptor: dict[str, Any] = {
        "id": finding.address,
        "shortDescription": {"text": found[0].title if found else finding.source["title"]},
        "fullDescription": {"text": finding.why},
        "help": {"text": _help(finding, found, book)},
        "defaultConfiguration": {"level": found[0].severity if found else finding.severity},
    }
    link = book.sources.get(ref, {}).get("link")
    if link is not None:
        descriptor["helpUri"] = link
    if ref in sources:
        target = {"id": ref, "index": sources.index(ref), "toolComponent": {"name": _SOURCES, "index": 0}}
        descriptor["relationships"] = [{"target": target, "kinds": ["relevant"]}]
    descriptor["properties"] = {
        "requirement": finding.requirement,
        "binding": finding.binding,
        "tags": [finding.requirement, finding.binding],
    }
    return descriptor


def _help(finding: Finding, found: Sequence[Rule], book: Rulebook) -> str:
    return on_rule(found[:1], book).rstrip("\n") if found else finding.why


def _taxonomy(sources: Sequence[str], book: Rulebook) -> dict[str, Any]:
    """The acts, opinions, standards and papers that the rules rest on."""
    return {
        "name": _SOURCES,
        "shortDescription": {"text": "Acts, opinions, standards and papers that the rules rest on."},
        "isComprehensive": False,
        "taxa": [_taxon(ref, book.sources[ref]) for ref in sources],
    }


def _taxon(ref: str, source: Mapping[str, Any]) -> dict[str, Any]:
    taxon = {"id": ref, "shortDescription": {"text": source["title"]}}
    if "link" in source:
        taxon["helpUri"] = source["link"]
    told = {key: str(source[key]) for key in ("body", "published", "read_on") if key in source}
    return taxon | {"properties": told}


# -- results -------------------------------------------------------------------------------------------------------


def _result(path: str, finding: Finding, fingerprint: str, rules: Mapping[str, int]) -> dict[str, Any]:
    kind = _KINDS[finding.verdict]
    result: dict[str, Any] = {
        "ruleId": finding.address,
        "ruleIndex": rules[finding.address],
        "kind": kind,
        "level": finding.severity if kind == "fail" else "none",
        "message": {"text": message_of(finding)},
        "locations": [_location(path, finding)],
        # Code scanning on GitHub reads the second name only, and would otherwise hash the text around the line.
        "partialFingerprints": {"watchglass/v1": fingerprint, "primaryLocationLineHash": fingerprint},
    }
    if finding.deviation is not None:
        justification = accepted(finding.deviation)
        result["suppressions"] = [{"kind": "inSource", "status": "accepted", "justification": justification}]
    told = {key: value for key, value in of_finding(finding).items() if key not in _SAID}
    return result | {"properties": told}


def _location(path: str, finding: Finding) -> dict[str, Any]:
    region = {"startLine": finding.place.line, "startColumn": finding.place.column}
    location: dict[str, Any] = {"physicalLocation": {"artifactLocation": _artifact(path), "region": region}}
    if finding.where:
        location["logicalLocations"] = [{"fullyQualifiedName": finding.where}]
    return location


def _artifact(path: str) -> dict[str, str]:
    """A path inside the folder of the run, relative to it; any other as a URI of its own."""
    uri = quote(path, safe="/", errors="surrogateescape")
    if path.startswith("/"):
        return {"uri": f"file://{uri}"}
    if path[1:3] == ":/":  # a drive
        return {"uri": f"file:///{path[:2]}{quote(path[2:], safe='/', errors='surrogateescape')}"}
    return {"uri": uri, "uriBaseId": _ROOT}
