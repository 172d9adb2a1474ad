"""claim: what the label may not promise.

Words are all that can be seen of a claim. One that holds a word which a rule knows breaks it, behind a negation it is
undecided; that no rule knows a word of it is told once. Nothing ever meets: a promise is judged by what readers
understand and by the evidence for it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from watchglass.interval import Limit
from watchglass.requirements import Case, Check, Judgement
from watchglass.substances import Substances

_APART = re.compile(r"[^\w%']+")


def compile_check(parameters: Mapping[str, Any], _: Substances) -> Check:
    """The check of a `claim` requirement: {words, allowed, negations, effect} or {unmatched}."""
    if parameters.get("unmatched"):
        return Check(_unknown)

    def judge(case: Case, _: Limit) -> list[Judgement]:
        judged = (_judgement(case, number, parameters) for number in range(len(case.formula.claim_places)))
        return [judgement for judgement in judged if judgement is not None]

    return Check(judge)


def folded_claim(text: str) -> str:
    """A claim as words with one blank between them.

    >>> folded_claim("Anti-Acne:  clears  spots, it’s fast!")
    "anti acne clears spots it's fast"
    """
    return " ".join(word for word in _APART.split(text.casefold().replace("’", "'")) if word)


def first_of(words: Iterable[str], claim: str) -> re.Match[str] | None:
    """The first place in a folded claim where one of the words stands whole; `*` is any ending."""
    pattern = "|".join(re.escape(word).replace(r"\*", r"[^ ]*") for word in words)
    return re.search(rf"(?<![^ ])(?:{pattern})(?![^ ])", claim) if pattern else None


def _left_of(told: str, parameters: Mapping[str, Any]) -> str:
    """The folded claim with every allowed phrase cut out."""
    claim = folded_claim(told)
    while (allowed := first_of(parameters.get("allowed", ()), claim)) is not None:
        claim = f"{claim[: allowed.start()]}|{claim[allowed.end() :]}"
    return claim


def _judgement(case: Case, number: int, parameters: Mapping[str, Any]) -> Judgement | None:
    told, place = list(case.formula.claim_places.items())[number]
    claim = _left_of(told, parameters)
    found = first_of(parameters["words"], claim)
    if found is None:
        return None
    message = f'the claim "{told}" says "{found[0]}": {parameters.get("effect", "it may not be made")}'
    judged = Judgement("breaks", message, place, f"label.claims[{number}]", needs=("reword the claim or leave it out",))
    turned = first_of(parameters.get("negations", ()), claim[: found.start()].rstrip())
    if turned is None:
        return judged
    return judged._replace(
        verdict="undecided",
        message=f'{message}, unless "{turned[0]}" turns it round for every reader',
        needs=("reword the claim, or have it read by whoever answers for the label",),
    )


def _unknown(case: Case, _: Limit) -> list[Judgement]:
    """The claims of which no rule knows a word."""
    return [
        Judgement(
            "undecided",
            f'no rule knows a word of the claim "{told}"; whether it is true and allowed, a person has to say',
            place,
            f"label.claims[{number}]",
            needs=("have the claim and the evidence for it read by whoever answers for the label",),
        )
        for number, (told, place) in enumerate(case.formula.claim_places.items())
        if all(first_of(rule["words"], _left_of(told, rule)) is None for rule in case.claim_rules)
    ]
