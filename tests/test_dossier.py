"""The pre-launch document: the facts behind it, and what it must hold and never say."""

import json
import os
import re
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from decimal import Decimal
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from running import Call
from watchglass import plots
from watchglass.dossier import Dossier, Refused, Version, dossier_of
from watchglass.dossier.window import INSIDE, OUTSIDE, Region, Window
from watchglass.findings import Review
from watchglass.formula import Formula
from watchglass.intake import formula_of
from watchglass.papers.dossier import paper_of
from watchglass.papers.dossier.blocks import Link, Picture, Table, plain
from watchglass.papers.dossier.html import html_of
from watchglass.papers.dossier.pdf import pdf_of
from watchglass.plots.lines import Line, lines
from watchglass.plots.regions import PATTERNS
from watchglass.plots.timeline import Day, timeline
from watchglass.reports import NOT_CHECKED, NOT_YET
from watchglass.rulebook import load

ROOT = Path(__file__).parents[1]
ON = "2026-11-25"
GEL = ROOT / "formulas" / "clean" / "body-gel-lactic.yaml"
COMING = ROOT / "formulas" / "flawed" / "law-of-next-year.yaml"
EXAMPLES = sorted((ROOT / "formulas").glob("*/*.yaml"))

GLYCOLIC = """\
formula: Slack-water gel
product: {use: leave-on, site: face, form: gel, audience: adults}
markets: [us]
target: {ph: {min: 3.8, max: 4.2}}
measured: {ph: 4.0}
phases:
  one:
    lines:
      - {material: Aqua, percent: qs}
      - {material: Glycolic Acid, percent: 6, function: exfoliant}
      - {material: Sodium Hydroxide, percent: 1.7}
      - {material: Sodium Benzoate, percent: 0.5, function: preservative}
"""

HOSTILE = r"""
formula: "<script>alert(1)</script> #panic(\"typst\") *bold* ] $x$ {{ 7*7 }} \u202Eevil\u202C \u0007"
code: "\"><img src=x onerror=alert(1)>"
product: {use: leave-on, site: face, form: gel, audience: adults}
markets: [eu, us]
target: {ph: {min: 3.6, max: 4.0}}
measured: {ph: 3.8}
phases:
  "<svg onload=alert(1)> #import \"@preview/x:1.0.0\"":
    note: "</td></table><a href='http://evil.example/'>x</a> #read(\"/etc/passwd\") \\u{41}"
    lines:
      - {material: Aqua, percent: qs}
      - {material: "<b>acid</b> #eval(\"1+1\")", percent: 8, function: exfoliant}
      - {material: "caustic ]] ![x](http://evil.example)", percent: 5}
materials:
  "<b>acid</b> #eval(\"1+1\")": {name: "javascript:alert(1)", contains: {Glycolic Acid: 70, Aqua: qs}}
  "caustic ]] ![x](http://evil.example)": {name: "</title><style>", premix: {Sodium Hydroxide: 20, Aqua: 80}}
deviations:
  - {rule: cir-glycolic-lactic-ph-floor, reason: "<script>1</script> #panic()", by: "\u202Eme"}
tests:
  - {name: "<iframe src=http://evil.example>", method: "#image(\"x.png\")", date: 2027-01-01, result: "`raw` <x>"}
"""


def version(text: str | bytes, folder: Path = ROOT, path: str = "jar.yaml", digest: str = "0" * 64) -> Version:
    found = formula_of(text, folder)
    assert isinstance(found, Formula), found
    return Version(found, path, digest)


def of_file(path: Path, *markets: str) -> Dossier:
    return dossier_of(version(path.read_bytes(), path.parent, path.name), load(), ON, markets)


def of_text(text: str, *markets: str) -> Dossier:
    return dossier_of(version(text), load(), ON, markets)


def window(dossier: Dossier) -> Window:
    assert isinstance(dossier.window, Window), dossier.window
    return dossier.window


def standing_at(regions: tuple[Region, ...], percent: float, ph: float) -> Region:
    return next(r for r in regions if r.percent[0] <= percent < r.percent[1] and r.ph[0] <= ph < r.ph[1])


# -- the page as a reader's program sees it ------------------------------------------------------------------------


@dataclass
class Element:
    tag: str
    attributes: dict[str, str | None]


@dataclass
class Page(HTMLParser):
    """Every element with its attributes, and all the words that are not style."""

    elements: list[Element] = field(default_factory=list)
    words: str = ""

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self._is_style = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(Element(tag, dict(attrs)))
        self._is_style = tag == "style"

    def handle_endtag(self, tag: str) -> None:
        self._is_style = False

    def handle_data(self, data: str) -> None:
        self.words += "" if self._is_style else data

    def all(self, *tags: str) -> list[Element]:
        return [element for element in self.elements if element.tag in tags]


def page_of(text: str) -> Page:
    page = Page()
    page.feed(text)
    return page


# -- the operating window ------------------------------------------------------------------------------------------


def test_the_window_of_glycolic_acid_has_the_published_edges_of_the_united_states() -> None:
    # Cosmetic Ingredient Review, final report on glycolic and lactic acid (1998), conclusion: at most 10 %, pH at
    # least 3.5, in products for retail use.
    ((market, regions),) = window(of_text(GLYCOLIC)).by_market

    assert market == "us"
    assert standing_at(regions, 9.99, 3.51).standing == INSIDE
    assert "cir-glycolic-lactic-ceiling" in standing_at(regions, 10.01, 3.51).rules
    assert "cir-glycolic-lactic-ph-floor" in standing_at(regions, 9.99, 3.49).rules


def test_an_edge_along_the_amount_is_found_to_four_figures() -> None:
    ((_, regions),) = window(of_text(GLYCOLIC)).by_market

    edges = {round(region.percent[1], 3) for region in regions}

    assert 10.0 in edges


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_where_the_formula_stands_the_window_says_what_the_review_says(path: Path) -> None:
    found = formula_of(path.read_bytes(), path.parent)
    if not isinstance(found, Formula):
        pytest.skip("this example is no formula, on purpose")
    dossier = of_file(path)
    if isinstance(dossier.window, Refused) or dossier.window.ph is None or not dossier.window.percent.is_exact:
        pytest.skip("no window, or a point that is an area")
    drawn = dossier.window
    percent, ph = float(drawn.percent.middle), float(drawn.ph.value)  # type: ignore[union-attr]  # without one it was skipped

    for (_, regions), review in zip(drawn.by_market, dossier.by_market, strict=True):
        broken = {
            f.address for f in review.findings if f.verdict == "breaks" and _is_in_the_window(f.requirement, review)
        }
        here = standing_at(regions, percent, ph)
        assert broken - {"own-target-ph", "reading-agrees-with-prediction"} <= set(here.rules)
        assert here.standing == OUTSIDE or not broken - {"own-target-ph", "reading-agrees-with-prediction"}


def _is_in_the_window(requirement: str, review: Review) -> bool:
    return requirement in ("percent", "ph", "preserved")


def test_the_regions_of_a_market_tile_the_picture() -> None:
    drawn = window(of_file(GEL))

    for _, regions in drawn.by_market:
        area = sum((r.percent[1] - r.percent[0]) * (r.ph[1] - r.ph[0]) for r in regions)
        assert area == pytest.approx(drawn.percent_axis * 14, rel=1e-6)


def test_the_preservative_band_ends_where_benzoic_acid_ceases_to_work() -> None:
    # The rule practice-preserved says pH 5 at most for benzoic acid.
    drawn = window(of_text(GLYCOLIC))

    assert (0.0, 5.0) in drawn.preserved


def test_only_what_works_in_a_material_is_scaled_and_not_its_water() -> None:
    drawn = window(of_file(GEL))

    assert drawn.substances == ("Lactic Acid",)
    assert drawn.percent.low == Decimal("3.915")  # 4.5 % of a solution of 88 % less its tolerance of 1


def test_without_water_there_is_no_window_and_the_reason_is_told() -> None:
    found = of_file(ROOT / "formulas" / "clean" / "balm.yaml")

    assert isinstance(found.window, Refused)
    assert "no water" in found.window.reason
    assert found.window.reason in page_of(html_of(paper_of(found))).words


def test_without_a_target_the_curve_is_refused_with_its_reason() -> None:
    found = of_file(COMING)

    assert found.neutralisation == Refused("the formula names no target.ph")


# -- shares --------------------------------------------------------------------------------------------------------


def test_half_of_a_weak_acid_is_undissociated_at_its_apparent_pka() -> None:
    # Henderson and Hasselbalch: half at pH = pKa; benzoic acid has 4.20 (NIST SRD 46), less what the ions take off.
    share = next(share for share in of_text(GLYCOLIC).shares if share.substance == "Benzoic Acid")

    half = min(share.points, key=lambda point: abs(point[1] - 0.5))

    assert 3.9 <= half[0] <= 4.2


def test_shares_fall_with_ph_from_nearly_all_to_nearly_none() -> None:
    for share in of_text(GLYCOLIC).shares:
        values = [value for _, value in share.points]
        assert values == sorted(values, reverse=True)
        assert values[0] > 0.9
        assert values[-1] < 0.001


# -- markets, versions, days ---------------------------------------------------------------------------------------


def test_each_market_has_a_verdict_of_its_own_side_by_side() -> None:
    paper = paper_of(of_file(GEL, "eu", "us"))
    table = next(b for s in paper.sections for b in s.blocks if isinstance(b, Table) and "not simply met" in b.caption)

    assert table.head == ("Rule", "eu", "us")
    row = next(row for row in table.rows if row[0] == "sccnfp-lactic-ceiling")
    assert row[1:] == ("deviation, note", "-")


def test_an_older_version_is_told_apart_and_its_tests_are_doubted() -> None:
    tested = GLYCOLIC + "tests:\n  - {name: challenge test, date: 2026-05-01, result: criterion A}\n"
    now, was = version(tested), version(tested.replace("percent: 6", "percent: 5"), path="older.yaml")

    paper = json.dumps(plain(paper_of(dossier_of(now, load(), ON, earlier=was))))

    assert "against older.yaml" in paper
    assert "Glycolic Acid: from 5 % to 6 %" in paper
    assert "the composition changed since the earlier version" in paper


def test_a_test_without_a_change_since_is_not_doubted() -> None:
    tested = GLYCOLIC + "tests:\n  - {name: challenge test, date: 2026-05-01, result: criterion A}\n"

    paper = json.dumps(plain(paper_of(dossier_of(version(tested), load(), ON, earlier=version(tested)))))

    assert "the composition is that of the earlier version" in paper


@pytest.mark.parametrize(("date", "is_told"), [("2026-11-25", False), ("2026-11-26", True)])
def test_a_test_that_is_dated_after_the_day_is_told(date: str, is_told: bool) -> None:
    tested = GLYCOLIC + f"tests:\n  - {{name: counts, date: {date}, result: none found}}\n"

    assert ("dated after 2026-11-25" in json.dumps(plain(paper_of(of_text(tested))))) == is_told


def test_law_that_is_coming_stands_on_the_time_line_and_in_the_table() -> None:
    # Washington, WAC 173-339: releasers of formaldehyde in new goods from 1 January 2027.
    found = of_file(COMING)
    section = next(s for s in paper_of(found).sections if s.title == "Coming law")

    picture = next(block for block in section.blocks if isinstance(block, Picture))
    table = next(block for block in section.blocks if isinstance(block, Table))

    assert "2027-01-01" in picture.svg
    assert ("2027-01-01", "us-washington-prohibited#formaldehyde-releasers", "us-washington") in [
        r[:3] for r in table.rows
    ]


def test_the_last_day_of_all_has_no_calendar_beyond_it() -> None:
    assert dossier_of(version(GLYCOLIC), load(), "9998-01-01").calendar.until == "9999-12-31"


# -- evidence ------------------------------------------------------------------------------------------------------


def test_every_finding_and_every_rule_met_stands_in_the_evidence_with_how_it_was_read() -> None:
    found = of_file(GEL)
    named = {item.rule.address for item in found.evidence}

    assert set(found.review.meets) <= named
    assert {f.address.partition("#")[0] for f in found.review.findings if f.requirement != "sheet"} <= {
        address.partition("#")[0] for address in named
    }
    assert all(item.rule.read in ("primary", "secondary", "memory") for item in found.evidence)


def test_the_constants_behind_the_ph_name_their_source() -> None:
    lactic = [item for item in of_file(GEL).constants if item.substance == "Lactic Acid"]

    assert [item.figure for item in lactic if item.quantity.startswith("pKa")] == ["3.86 ± 0.02"]
    assert all(item.source["title"] for item in lactic)


@pytest.mark.parametrize(
    "href", ["http://a.example", "javascript:alert(1)", "https://a.example/ b", "https://a.example/\u202e"]
)
def test_only_https_is_a_link(href: str) -> None:
    from watchglass.papers.dossier.blocks import Facts, Paper, Section

    paper = Paper("a", "b", ON, [Section("c", [Facts([("d", Link("words", href))])])])

    assert plain(paper)["sections"][0]["blocks"][0]["rows"] == [["d", "words"]]


def test_a_break_with_a_number_carries_its_mend() -> None:
    too_much = GLYCOLIC.replace("percent: 6", "percent: 12").replace("percent: 1.7", "percent: 3.4")

    words = page_of(html_of(paper_of(of_text(too_much)))).words

    assert "Mend" in words
    assert "Glycolic Acid from 12 to 10 %" in words


# -- the page ------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def gel_html() -> str:
    return html_of(paper_of(of_file(GEL)))


@pytest.fixture(scope="module")
def hostile() -> Dossier:
    return of_text(HOSTILE)


def test_the_page_asks_nothing_of_anywhere(gel_html: str) -> None:
    page = page_of(gel_html)
    outside = [
        e.attributes[key] for e in page.elements for key in ("src", "href", "data", "action") if key in e.attributes
    ]

    assert page.all("script", "link", "img", "iframe", "object", "embed", "form") == []
    assert [to for to in outside if to is None or not to.startswith(("https://", "#part-"))] == []
    assert "url(" not in re.sub(r"url\(#[a-z-]+\)", "", gel_html)
    assert "default-src 'none'" in gel_html


def test_links_lead_only_to_the_sources_of_rules(gel_html: str) -> None:
    links = {e.attributes["href"] for e in page_of(gel_html).all("a") if not str(e.attributes["href"]).startswith("#")}

    assert links
    assert links <= {source.get("link") for source in load().sources.values()}


def test_headings_come_in_order_and_tables_name_their_rows_and_columns(gel_html: str) -> None:
    page = page_of(gel_html)
    levels = [int(element.tag[1]) for element in page.all("h1", "h2", "h3", "h4")]

    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert {e.attributes.get("scope") for e in page.all("th")} == {"col", "row"}
    assert len(page.all("caption")) == len(page.all("table"))
    assert page.all("html")[0].attributes["lang"] == "en-GB"


def test_every_picture_has_a_title_a_description_and_ids_of_its_own(gel_html: str) -> None:
    page = page_of(gel_html)
    ids = [element.attributes["id"] for element in page.elements if "id" in element.attributes]

    assert len(page.all("svg")) == 4
    assert all(e.attributes["role"] == "img" and e.attributes["aria-labelledby"] for e in page.all("svg"))
    assert len(ids) == len(set(ids))
    named = " ".join(str(e.attributes["aria-labelledby"]) for e in page.elements if "aria-labelledby" in e.attributes)
    assert set(named.split()) <= set(ids)


def test_hostile_text_is_text_in_the_page(hostile: Dossier) -> None:
    text = html_of(paper_of(hostile))
    page = page_of(text)

    assert page.all("script", "img", "iframe", "b", "i") == []
    assert len(page.all("style")) == len(page.all("title")) - len(page.all("svg")) == 1
    assert [e for e in page.elements if any(key.startswith("on") for key in e.attributes)] == []
    assert "<script>alert(1)</script>" in page.words
    assert "{{ 7*7 }}" in page.words
    assert "\\u202eevil\\u202c \\x07" in page.words
    assert all(letter.isprintable() or letter == "\n" for letter in text)


@pytest.mark.parametrize("path", [GEL, COMING, *EXAMPLES[:3]], ids=lambda path: path.stem)
def test_no_formula_is_ever_called_safe_or_compliant(path: Path) -> None:
    words = page_of(html_of(paper_of(of_file(path)))).words

    assert re.search(r"\b(is|are) (safe|compliant)\b|\bcompl(iant|ies)\b|\bcertified\b", words, re.IGNORECASE) is None


def test_the_page_says_what_is_not_checked_and_leaves_room_to_sign(gel_html: str) -> None:
    words = page_of(gel_html).words

    assert NOT_CHECKED in words
    assert NOT_YET in words
    assert "Sign-off by the safety assessor" in words
    assert "Signature" in words


def test_the_same_formula_gives_the_same_bytes() -> None:
    first, second = (paper_of(of_file(GEL)) for _ in range(2))

    assert html_of(first) == html_of(second)
    assert pdf_of(first) == pdf_of(second)


def _contrast(one: str, other: str) -> float:
    """WCAG 2.2, definitions of relative luminance and contrast ratio."""

    def luminance(colour: str) -> float:
        parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_words_stand_out_from_the_paper_as_wcag_asks(gel_html: str) -> None:
    inks = re.findall(r"--(?:ink|quiet|link): (#[0-9a-f]{6})", gel_html)
    inks += re.findall(r'<text[^>]* fill="(#[0-9a-f]{6})"', gel_html)

    assert len(inks) > 3
    assert min(_contrast(ink, "#ffffff") for ink in inks) >= 4.5  # success criterion 1.4.3


def test_axe_core_finds_no_fault_in_the_page(gel_html: str, tmp_path: Path) -> None:
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    axe = Path(os.environ.get("AXE_CORE", ROOT / "node_modules" / "axe-core" / "axe.min.js"))
    if browser is None or not axe.is_file():
        pytest.skip("needs a Chromium, and axe-core in node_modules or as the file that AXE_CORE names")
    ask = (
        "axe.run({resultTypes: ['violations']}).then(r => { document.body.innerHTML = '<pre id=axe>' + "
        "JSON.stringify({rules: r.passes.length, bad: r.violations.map(v => [v.id, v.nodes.map(n => n.html)])})"
        ".replace(/</g, '&lt;') + '</pre>'; });"
    )
    free = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", gel_html)
    page = tmp_path / "page.html"
    page.write_text(free.replace("</body>", f"<script>{axe.read_text('utf-8')}</script><script>{ask}</script></body>"))
    flags = [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--virtual-time-budget=20000",
        f"--user-data-dir={tmp_path}/u",
    ]

    ran = subprocess.run(
        [browser, *flags, "--dump-dom", page.as_uri()], capture_output=True, encoding="utf-8", timeout=120
    )

    told = re.search(r'<pre id="axe">(.*?)</pre>', ran.stdout, re.DOTALL)
    assert told is not None, ran.stderr[-500:]
    found = json.loads(told[1].replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&"))
    assert found["rules"] > 10
    assert found["bad"] == []


# -- the PDF -------------------------------------------------------------------------------------------------------


def test_the_pdf_is_tagged_for_readers_who_cannot_look() -> None:
    made = pdf_of(paper_of(of_file(GEL)))

    assert made.why_not_accessible is None  # typst holds the file to ISO 14289-1 or refuses
    assert made.content.startswith(b"%PDF-")
    assert b"/MarkInfo<</Marked true" in made.content
    assert b"pdfuaid" in made.content


def test_hostile_text_is_text_in_the_pdf(hostile: Dossier, tmp_path: Path) -> None:
    # Read as markup, #panic or #import would stop typst.
    made = pdf_of(paper_of(hostile))
    assert made.content.startswith(b"%PDF-")

    reader = shutil.which("pdftotext")
    if reader is None:
        pytest.skip("set without a fault; its words are read only where pdftotext is")
    (tmp_path / "a.pdf").write_bytes(made.content)
    words = subprocess.run(
        [reader, "-layout", str(tmp_path / "a.pdf"), "-"], capture_output=True, encoding="utf-8"
    ).stdout
    assert '#panic("typst") *bold* ] $x$ {{ 7*7 }}' in words


def test_a_sign_that_no_font_shows_costs_the_tags_and_not_the_paper() -> None:
    made = pdf_of(paper_of(of_text(GLYCOLIC.replace("Slack-water", "\U00012000 tide"))))

    assert made.content.startswith(b"%PDF-")
    if made.why_not_accessible is not None:  # where a font of this machine shows it, all is well
        assert "could not be displayed" in made.why_not_accessible


# -- pictures ------------------------------------------------------------------------------------------------------


def test_round_figures_are_read_at_a_glance() -> None:
    assert plots.round_figures(0, 11.88, 6) == [0, 2, 4, 6, 8, 10]
    assert plots.round_figures(3, 3.1, 5) == [3, 3.02, 3.04, 3.06, 3.08, 3.1]
    assert plots.round_figures(4, 4, 4)[0] == 4


def test_areas_are_told_apart_without_colour() -> None:
    inks = {name: set(re.findall(r"#[0-9a-f]{6}", drawn)) for name, drawn in PATTERNS.items()}

    assert all(ink[1:3] == ink[3:5] == ink[5:7] for own in inks.values() for ink in own)  # greys
    assert len(set(PATTERNS.values())) == len(PATTERNS) == 3


def test_each_curve_has_a_dash_of_its_own_and_its_name_beside_it() -> None:
    curves = [Line([(2, 100 - n), (5, 50 - n), (9, 0)], f"acid <{n}>") for n in range(8)]

    drawn = lines("shares", curves, plots.Axes("pH", "%", (2, 9), (0, 100)), None, ("a & b", "c"))

    ET.fromstring(drawn)  # our own picture
    dashes = re.findall(r'<polyline[^>]*stroke-dasharray="([^"]*)"', drawn)
    assert len(set(dashes)) == 8
    assert all(f"acid &lt;{n}&gt;" in drawn for n in range(8))


def test_a_time_line_gives_each_day_a_row_even_at_its_very_ends() -> None:
    days = [Day("2026-01-01", "first"), Day("2031-01-01", "last")]

    drawn = timeline("calendar", "2026-01-01", "2031-01-01", days, ("a", "b"))

    ET.fromstring(drawn)  # our own picture
    rows = re.findall(r'<text x="[0-9.]+" y="([0-9.]+)" text-anchor="(?:start|end)">20', drawn)
    assert len(set(rows)) == 2


# -- the command ---------------------------------------------------------------------------------------------------


def test_the_command_writes_both_files_and_says_nothing(call: Call, tmp_path: Path) -> None:
    (tmp_path / "gel.yaml").write_text(GLYCOLIC)

    ran = call("dossier", "gel.yaml", "--on", ON, "--market", "eu", "--html", "a.html", "--pdf", "a.pdf")

    assert (ran.code, ran.all) == (0, "")
    assert (tmp_path / "a.html").read_text("utf-8").startswith("<!DOCTYPE html>")
    assert (tmp_path / "a.pdf").read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["gel.yaml"], "say where to write it: --html FILE, --pdf FILE or both"),
        (["gel.yaml", "--html", "gel.yaml"], "gel.yaml is there already; nothing is written over: name another file"),
        (["gel.yaml", "--html", "a", "--pdf", "a"], "--html and --pdf name the same file"),
        (["gel.yaml", "--html", "a", "--market", "euu"], '--market is "euu"; did you mean "eu"?'),
        (["gel.yaml", "--html", "a", "--on", "2026-02-30"], '--on is "2026-02-30"; a date reads year-month-day'),
        (["none.yaml", "--html", "a"], "none.yaml:1:1: there is no such file"),
        (["gel.yaml", "--html", "a", "--against", "none.yaml"], "none.yaml:1:1: there is no such file"),
        (["gel.yaml", "--html", "no/where/a"], "a: the report cannot be written: No such file or directory"),
    ],
)
def test_bad_input_gets_one_line_and_exit_2(arguments: list[str], said: str, call: Call, tmp_path: Path) -> None:
    (tmp_path / "gel.yaml").write_text(GLYCOLIC)

    ran = call("dossier", *arguments)

    assert ran.code == 2
    assert said in ran.err
    assert len(ran.err.strip().splitlines()) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["gel.yaml"]
    assert (tmp_path / "gel.yaml").read_text() == GLYCOLIC


@pytest.mark.parametrize(("library", "extra", "option"), [("jinja2", "report", "html"), ("typst", "pdf", "pdf")])
def test_a_missing_extra_is_one_line_that_names_it_and_nothing_is_written(
    library: str, extra: str, option: str, call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "gel.yaml").write_text(GLYCOLIC)
    monkeypatch.setitem(sys.modules, library, None)

    ran = call("dossier", "gel.yaml", "--html", "a.html", "--pdf", "a.pdf")

    assert (ran.code, ran.err) == (2, f"watchglass: dossier --{option} needs: pip install 'watchglass[{extra}]'\n")
    assert not (tmp_path / "a.html").exists()
    assert not (tmp_path / "a.pdf").exists()
