import pytest

from helpers import ON, formula_from, only, pointed_at, reviewed, rule, sheet, verdict
from watchglass.judge import review
from watchglass.requirements.claim import first_of, folded_claim
from watchglass.rulebook import load

ACNE = rule(
    {"claim": {"words": ["acne*"], "allowed": ["acne prone"], "negations": ["not", "no"], "effect": "it makes a drug"}},
    applies={"markets": ["us"]},
)
HEAL = rule({"claim": {"words": ["heals", "pain relief"]}}, rule="healing")
OTHERS = rule({"claim": {"unmatched": True}}, rule="others", binding="practice", severity="note")


def label(*claims: str, markets: str = "us") -> str:
    told = ", ".join(f'"{claim}"' for claim in claims)
    return sheet("Glycerin 5", "Aqua qs", markets=markets, extra=f"label: {{claims: [{told}]}}")


@pytest.mark.parametrize("claim", ["clears acne", "ACNE!", "Anti-acne gel", "for acne, fast", "no. 1: acneic skin"])
def test_a_claim_that_holds_a_word_does_not_stand_whatever_its_case_and_hyphens(claim: str) -> None:
    assert verdict(reviewed(label(claim), ACNE)) in ("breaks", "undecided")


def test_a_break_quotes_the_claim_and_points_at_it() -> None:
    text = label("soft as sand", "Clears ACNE overnight")
    finding = only(reviewed(text, ACNE))

    assert (finding.verdict, finding.severity) == ("breaks", "error")
    assert finding.message == 'the claim "Clears ACNE overnight" says "acne": it makes a drug'
    assert finding.where == "label.claims[1]"
    assert pointed_at(text, finding).startswith('"Clears ACNE overnight"')


@pytest.mark.parametrize("claim", ["pacnet", "smooths the look of skin", "for acne-prone skin", "Acne-Prone? Try it"])
def test_a_part_of_a_word_and_an_allowed_phrase_are_not_the_word(claim: str) -> None:
    assert verdict(reviewed(label(claim), ACNE)) == "does not apply"


def test_an_allowed_phrase_does_not_excuse_the_word_elsewhere_in_the_claim() -> None:
    assert verdict(reviewed(label("clears acne on acne-prone skin"), ACNE)) == "breaks"


def test_what_stands_on_both_sides_of_an_allowed_phrase_is_no_phrase() -> None:
    pain = rule({"claim": {"words": ["pain relief"], "allowed": ["free"]}})

    assert verdict(reviewed(label("pain free relief"), pain)) == "does not apply"
    assert verdict(reviewed(label("pain-relief"), pain)) == "breaks"


def test_a_negation_before_the_word_leaves_it_open_and_one_behind_it_does_not() -> None:
    before = only(reviewed(label("this is not an acne treatment"), ACNE))

    assert before.verdict == "undecided"
    assert '"not" turns it round' in before.message
    assert verdict(reviewed(label("acne is no more"), ACNE)) == "breaks"


def test_several_claims_are_findings_of_their_own() -> None:
    found = reviewed(label("acne gel", "heals", "anti acne"), ACNE)

    assert [finding.where for finding in found.findings] == ["label.claims[0]", "label.claims[2]"]


def test_a_label_without_claims_and_a_formula_without_a_label_are_not_spoken_of() -> None:
    assert verdict(reviewed(sheet("Aqua qs"), ACNE)) == "does not apply"
    assert verdict(reviewed(sheet("Aqua qs", extra="label: {claims: []}"), OTHERS), "others") == "does not apply"


# -- what no rule knows --------------------------------------------------------------------------------------------


def test_a_claim_of_which_no_rule_knows_a_word_is_told_once_and_leaves_the_outcome() -> None:
    found = reviewed(label("soft as sand"), ACNE, HEAL, OTHERS)
    finding = only(found, "others")

    assert (finding.verdict, finding.severity) == ("undecided", "note")
    assert '"soft as sand"' in finding.message
    assert len(found.findings) == 1
    assert found.outcome == "meets"


def test_no_claim_is_ever_met() -> None:
    assert reviewed(label("soft as sand", "acne"), ACNE, HEAL, OTHERS).meets == ()


def test_a_claim_that_a_rule_has_spoken_of_is_not_told_again() -> None:
    found = reviewed(label("heals"), ACNE, HEAL, OTHERS)

    assert [finding.rule for finding in found.findings] == ["healing"]


def test_a_word_that_only_the_rule_of_another_market_knows_is_not_known() -> None:
    assert verdict(reviewed(label("acne gel", markets="eu"), ACNE, OTHERS), "others") == "undecided"
    assert verdict(reviewed(label("acne gel", markets="us-california"), ACNE, OTHERS), "others") == "does not apply"


def test_the_markets_that_a_review_is_for_say_what_is_known() -> None:
    assert verdict(reviewed(label("acne gel"), ACNE, OTHERS, markets=["eu"]), "others") == "undecided"


def test_an_allowed_phrase_is_told_as_a_claim_that_no_rule_knows() -> None:
    assert verdict(reviewed(label("for acne-prone skin"), ACNE, OTHERS), "others") == "undecided"


def test_with_the_shipped_rules_every_claim_is_told_at_least_once() -> None:
    claims = ("soft as sand", "heals", "not for eczema", "acne-prone skin", "SPF 15", "hydrate la peau", "?!")
    for market in ("eu", "uk", "us", "ca", "asean"):
        found = review(formula_from(label(*claims, markets=market)), load(), ON)
        told = {finding.where for finding in found.findings if finding.requirement == "claim"}
        assert told == {f"label.claims[{number}]" for number in range(len(claims))}, market


# -- words ---------------------------------------------------------------------------------------------------------


def test_a_star_is_any_ending_and_a_word_without_it_stands_whole() -> None:
    assert first_of(["heal*"], "it is healing")
    assert not first_of(["heal"], "it is healing")
    assert not first_of(["heal*"], "unhealed")
    assert first_of(["collagen production"], "more collagen production now")
    assert not first_of([], "anything")


def test_a_claim_in_another_script_or_of_signs_alone_is_folded_without_harm() -> None:
    assert folded_claim("Für trockene Haut – 100 %!") == "für trockene haut 100 %"
    assert folded_claim("?!") == ""
