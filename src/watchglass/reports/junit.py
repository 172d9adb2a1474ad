"""The review as JUnit XML: a suite for each formula, a case for each finding and for each rule that is met.

A break is a failure. A question that leaves the outcome open is an error: the case could not be decided. Everything
else that is not met (accepted, known before, coming, open and not binding) is skipped, with its reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree

from watchglass.errors import located, one_line
from watchglass.findings import FIRM, Finding, Review
from watchglass.reports import counts, message_of, overall, title_of
from watchglass.rulebook import Rulebook

_DECLARATION = '<?xml version="1.0" encoding="utf-8"?>\n'


def write(reviews: Sequence[Review], book: Rulebook, on: str) -> str:
    """All reviews as one document; it holds no times, so the same reviews give the same bytes."""
    suites = [_suite(review, book, on) for review in reviews]
    sums = {name: str(sum(int(suite.attrib[name]) for suite in suites)) for name in ("tests", "failures", "errors")}
    root = ElementTree.Element("testsuites", {"name": f"watchglass: {overall(reviews)}"} | sums)
    root.extend(suites)
    ElementTree.indent(root)
    # In ASCII: what is not becomes a character reference, so no encoding of an output can spoil it.
    text: bytes = ElementTree.tostring(root, encoding="us-ascii", xml_declaration=False)
    return f"{_DECLARATION}{text.decode('ascii')}\n"


def _suite(review: Review, book: Rulebook, on: str) -> ElementTree.Element:
    cases = [_case(review, finding) for finding in review.findings]
    cases += [ElementTree.Element("testcase", {"name": met, "classname": _class(review)}) for met in review.meets]
    sums = {
        name: str(sum(case.find(child) is not None for case in cases))
        for name, child in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped"))
    }
    suite = ElementTree.Element("testsuite", {"name": one_line(review.path), "tests": str(len(cases))} | sums)
    suite.append(_properties(review, book, on))
    suite.extend(cases)
    return suite


def _properties(review: Review, book: Rulebook, on: str) -> ElementTree.Element:
    told = {"on": on, "rulebook": book.hash}
    if review.formula is not None:
        told["formula"] = review.formula.title
    told |= {name: str(number) for name, number in counts([review]).items() if name != "files"}
    told["outcome"] = review.outcome
    block = ElementTree.Element("properties")
    for name, value in told.items():
        ElementTree.SubElement(block, "property", {"name": name, "value": one_line(value)})
    return block


def _case(review: Review, finding: Finding) -> ElementTree.Element:
    where = f" at {finding.where}" if finding.where else ""
    case = ElementTree.Element("testcase", {"name": f"{title_of(finding)}{where}", "classname": _class(review)})
    kind = finding.severity if finding.verdict == "breaks" else finding.verdict
    result = ElementTree.SubElement(case, _result(finding), {"type": kind, "message": message_of(finding)})
    at = f", {finding.source['at']}" if finding.source["at"] else ""
    result.text = "\n".join(
        one_line(line)
        for line in (
            located(review.path, finding.place, f"{title_of(finding)}, {finding.severity}: {finding.message}"),
            f"why: {finding.why}",
            f"source: {finding.source['title']}{at} ({finding.binding}, read: {finding.read})",
        )
    )
    return case


def _result(finding: Finding) -> str:
    if finding.known:
        return "skipped"
    if finding.verdict == "breaks":
        return "failure"
    return "error" if finding.verdict == "undecided" and finding.binding in FIRM else "skipped"


def _class(review: Review) -> str:
    """The path as readers of this format group it: by the points between folders."""
    return one_line(review.path.removesuffix(".yaml").removesuffix(".yml").strip("/").replace("/", "."))
