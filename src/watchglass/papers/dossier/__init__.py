"""The pre-launch document of one formula: what stands in it, then the same as HTML or as PDF."""

from __future__ import annotations

from collections.abc import Iterable

from watchglass.dossier import Dossier
from watchglass.papers.dossier import basis, jar, pictures, verdicts
from watchglass.papers.dossier.blocks import Blanks, Block, Paper, Section, Words
from watchglass.reports import NOT_CHECKED, NOT_YET

WHAT_IT_IS = (
    "This paper tells what was worked out from one version of one formula and how it stands to dated, cited rules on "
    "one day. It is no safety report and no certificate. Local law, the safety assessor and the responsible person "
    "decide."
)
SIGNED_BY_ASSESSOR = ("Conclusion", "Conditions and warnings", "Name and qualification", "Place and date", "Signature")
SIGNED_BY_MAKER = ("Name", "Place and date", "Signature")


def paper_of(dossier: Dossier) -> Paper:
    """The document, section by section."""
    formula = dossier.version.formula
    code = f" [{formula.code}]" if formula.code else ""
    return Paper(
        title=f"{formula.title}{code}",
        subtitle=f"Pre-launch dossier, {', '.join(dossier.review.markets)}, as of {dossier.review.on}",
        on=dossier.review.on,
        sections=(
            _section("Identity", (Words(WHAT_IT_IS), jar.identity(dossier))),
            _section("Verdict by market", verdicts.by_market(dossier)),
            _section("Composition", jar.composition(dossier)),
            _section("pH and what is dissolved", jar.ph(dossier)),
            _section("Operating window", pictures.window(dossier)),
            _section("Neutralisation", pictures.neutralising(dossier)),
            _section("Undissociated share", pictures.undissociated(dossier)),
            _section("Findings", verdicts.findings(dossier)),
            _section("Deviations", verdicts.deviations(dossier)),
            *_changes(dossier),
            _section("Coming law", pictures.coming(dossier)),
            _section("Tests on file", verdicts.tests(dossier)),
            _section("Cautions at the bench", verdicts.cautions(dossier)),
            _section("Evidence", basis.evidence(dossier)),
            _section("What is not checked", (Words(f"Never: {NOT_CHECKED}."), Words(f"Not yet: {NOT_YET}."))),
            _section("Sign-off by the safety assessor", (Blanks(SIGNED_BY_ASSESSOR),)),
            _section("Sign-off by the maker", (Blanks(SIGNED_BY_MAKER),)),
        ),
    )


def _section(title: str, blocks: Iterable[Block]) -> Section:
    return Section(title, tuple(blocks))


def _changes(dossier: Dossier) -> tuple[Section, ...]:
    if dossier.review.comparison is None:
        return ()
    return (_section("Changes since the earlier version", verdicts.changed(dossier.review.comparison)),)
