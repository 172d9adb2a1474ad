import pytest

from helpers import only, pointed_at, reviewed, rule, sheet, verdict

SCENT = "materials:\n  scent: {contains: {Parfum: qs, Linalool: 2, Limonene: 1}}"
LAVENDER = "materials:\n  lavender: {contains: {Lavandula Oil/Extract: qs, Linalool: 30, Limonene: 0.5}%s}"
FACT = "fragrance-allergens-stated"


def asks(of: str | list[str] = "Linalool", limit: float = 0.001, **parameters: object) -> dict[str, object]:
    return rule({"declared": {"of": of} | parameters}, values={"always": {"above": limit}})


def draft(*names: str) -> str:
    entries = ", ".join(f'"{name}"' for name in names)
    return f"label: {{ingredients: [{entries}]}}"


# -- a substance by its name --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("percent", "said"), [("0.05", "does not apply"), ("0.0501", "breaks")])
def test_what_is_inside_a_parfum_must_be_named_above_the_amount_and_not_at_it(percent: str, said: str) -> None:
    assert verdict(reviewed(sheet(f"scent {percent}", "Aqua qs", extra=SCENT), asks())) == said


def test_without_a_draft_the_finding_says_where_it_is_and_asks_for_the_whole_declaration() -> None:
    text = sheet("Aqua qs", "scent 0.2", extra=SCENT)
    finding = only(reviewed(text, asks()))

    assert (finding.verdict, finding.severity) == ("breaks", "error")
    assert finding.message == "Linalool is 0.004 % w/w, inside Parfum; above 0.001 % the declaration must name it"
    assert finding.needs == ("give the whole declaration as label.ingredients, with Linalool in it",)
    assert pointed_at(text, finding).startswith("0.2")


@pytest.mark.parametrize("entry", ["Linalool", "linalool", "Linalool (78-70-6)", "Parfum/Linalool"])
def test_the_name_in_the_draft_meets(entry: str) -> None:
    text = sheet("scent 0.2", "Aqua qs", extra=f"{SCENT}\n{draft('Aqua', 'Parfum', entry)}")

    assert verdict(reviewed(text, asks())) == "meets"


def test_a_draft_without_the_name_breaks_and_says_what_to_add() -> None:
    finding = only(reviewed(sheet("scent 0.2", "Aqua qs", extra=f"{SCENT}\n{draft('Aqua', 'Parfum')}"), asks()))

    assert finding.needs == ("add Linalool to label.ingredients",)


def test_another_name_for_it_breaks_at_that_entry() -> None:
    text = sheet("scent 0.2", "Aqua qs", extra=f"{SCENT}\n{draft('Aqua', 'Parfum', '78-70-6')}")
    finding = only(reviewed(text, asks()))

    assert finding.verdict == "breaks"
    assert finding.needs == ("write Linalool in its place",)
    assert pointed_at(text, finding).startswith('"78-70-6"')


def test_the_isomers_of_an_entry_are_one_sum_under_one_name() -> None:
    parts = "materials:\n  scent: {contains: {Parfum: qs, Geranial: 0.6, Neral: 0.6}}"
    grouped = asks(["Citral", "Geranial", "Neral"], called="Citral")
    text = sheet("scent 0.1", "Aqua qs", extra=parts)

    assert verdict(reviewed(text, asks("Geranial"))) == "does not apply"
    assert "Citral is 0.0012 % w/w" in only(reviewed(text, grouped)).message
    assert verdict(reviewed(sheet("scent 0.1", "Aqua qs", extra=f"{parts}\n{draft('Citral')}"), grouped)) == "meets"
    assert verdict(reviewed(sheet("scent 0.1", "Aqua qs", extra=f"{parts}\n{draft('Neral')}"), grouped)) == "breaks"


def test_a_tolerance_across_the_amount_is_undecided() -> None:
    text = sheet(
        "scent 0.1", "Aqua qs", extra="materials:\n  scent: {contains: {Parfum: qs, Linalool: 1}, tolerance: 0.1}"
    )

    assert only(reviewed(text, asks())).verdict == "undecided"


@pytest.mark.parametrize(
    ("line", "extra"),
    [
        ("Linalool 0.1", ""),
        ("stock 1", "materials:\n  stock: {contains: {Linalool: 50, Triethyl Citrate: 50}}"),
        ("own 1", "materials:\n  own: {premix: {Parfum: 50, Linalool: 50}}"),
        ("Linalool 0.1 as perfuming", ""),
    ],
)
def test_a_line_a_part_of_a_material_and_a_part_of_a_premix_are_printed_by_name(line: str, extra: str) -> None:
    assert verdict(reviewed(sheet(line, "Aqua qs", extra=extra), asks())) == "meets"


@pytest.mark.parametrize(
    ("line", "extra"),
    [
        ("scent 1", SCENT),
        ("lavender 1", LAVENDER % ""),
        ("stock 1 as perfuming", "materials:\n  stock: {contains: {Linalool: 50, Triethyl Citrate: 50}}"),
        ("stock 1 as flavouring", "materials:\n  stock: {contains: {Linalool: 50, Triethyl Citrate: 50}}"),
        ("base 5", "materials:\n  base: {premix: {scent: 10, Glycerin: 90}}\n" + SCENT.removeprefix("materials:\n")),
    ],
)
def test_what_is_inside_a_parfum_an_essential_oil_or_a_perfuming_material_is_not(line: str, extra: str) -> None:
    assert verdict(reviewed(sheet(line, "Aqua qs", extra=extra), asks())) == "breaks"


def test_the_parts_of_an_essential_oil_count_as_that_oil() -> None:
    oil = asks("Lavandula Oil/Extract")
    extra = f"{LAVENDER % ''}\n{draft('Aqua')}"

    assert "is 0.0012 % w/w" in only(reviewed(sheet("lavender 0.0012", "Aqua qs", extra=extra), oil)).message
    assert verdict(reviewed(sheet("lavender 0.0012", "Aqua qs", extra=LAVENDER % ""), oil)) == "meets"


def test_an_oil_in_a_parfum_is_inside_it_and_two_oils_in_one_material_are_not_inside_each_other() -> None:
    oils = "materials:\n  blend: {contains: {%sLavandula Oil/Extract: 40, Rosmarinus Officinalis Leaf Oil: 40}}"
    oil = asks("Lavandula Oil/Extract")

    assert verdict(reviewed(sheet("blend 1", "Aqua qs", extra=oils % "Parfum: 20, "), oil)) == "breaks"
    assert verdict(reviewed(sheet("blend 1", "Aqua qs", extra=oils % "Squalane: 20, "), oil)) == "meets"


# -- what is inside a mixture --------------------------------------------------------------------------------------


def statement() -> dict[str, object]:
    asked = {"declared": {"parts_of": ["perfume", "natural"], "unless": FACT}}
    return rule(asked, values={"always": {"above": 0.001}})


def test_one_finding_a_mixture_asks_for_the_suppliers_statement() -> None:
    finding = only(reviewed(sheet("scent 0.2", "Aqua qs", extra=SCENT), statement()))

    assert finding.verdict == "undecided"
    assert finding.substances == ("Parfum",)
    assert "0.2 % w/w" in finding.message
    assert f"declare {FACT} on the material" in finding.needs[0]


def test_each_line_with_a_mixture_has_its_own_finding() -> None:
    found = reviewed(sheet("Parfum 0.1", "Lavandula Oil/Extract 0.1", "Aqua qs"), statement())

    assert [finding.verdict for finding in found.findings] == ["undecided", "undecided"]


def test_the_suppliers_statement_meets() -> None:
    extra = LAVENDER % f", declares: [{FACT}]"

    assert verdict(reviewed(sheet("lavender 0.2", "Aqua qs", extra=extra), statement())) == "meets"


def test_a_trace_is_not_asked_unless_several_traces_add_up() -> None:
    assert verdict(reviewed(sheet("Parfum 0.001", "Aqua qs"), statement())) == "does not apply"
    found = reviewed(sheet("Parfum 0.0006", "Lavandula Oil/Extract 0.0006", "Aqua qs"), statement())
    assert len(found.findings) == 2


def test_a_kind_that_the_rule_does_not_name_is_not_asked() -> None:
    perfumes = rule({"declared": {"parts_of": ["perfume"], "unless": FACT}}, values={"always": {"above": 0.001}})

    assert verdict(reviewed(sheet("Lavandula Oil/Extract 1", "Aqua qs"), perfumes)) == "does not apply"


# -- the draft as a whole ------------------------------------------------------------------------------------------

COMPLETE = rule({"declared": {"draft": "complete"}})


def test_a_draft_with_every_ingredient_meets_and_without_a_draft_nothing_is_asked() -> None:
    assert verdict(reviewed(sheet("Glycerin 5", "Aqua qs", extra=draft("Aqua", "Glycerin")), COMPLETE)) == "meets"
    assert verdict(reviewed(sheet("Glycerin 5", "Aqua qs"), COMPLETE)) == "does not apply"


def test_all_that_is_missing_is_one_finding() -> None:
    finding = only(reviewed(sheet("Glycerin 5", "Urea 2", "Aqua qs", extra=draft("Aqua")), COMPLETE))

    assert finding.message == "the declaration does not name Glycerin, Urea"
    assert finding.where == "label.ingredients"


def test_what_is_not_in_the_formula_breaks_at_its_entry_with_the_name_that_it_may_mean() -> None:
    text = sheet("Glycerin 5", "Aqua qs", extra=draft("Aqua", "Glycerinn"))
    told = {finding.where: finding for finding in reviewed(text, COMPLETE).findings}

    assert told.keys() == {"label.ingredients", "label.ingredients[1]"}
    assert 'did you mean "Glycerin"?' in told["label.ingredients[1]"].message
    assert pointed_at(text, told["label.ingredients[1]"]).startswith('"Glycerinn"')


@pytest.mark.parametrize("entry", ["Water", "Aqua (Water)", "Aqua/Water/Eau", "AQUA", "7732-18-5"])
def test_other_names_of_an_ingredient_are_the_same_ingredient(entry: str) -> None:
    assert verdict(reviewed(sheet("Glycerin 5", "Aqua qs", extra=draft(entry, "Glycerin")), COMPLETE)) == "meets"


def test_a_slash_inside_a_name_parts_nothing() -> None:
    text = sheet("Lavandula Oil/Extract 1", "Aqua qs", extra=draft("Aqua", "Lavandula Oil/Extract"))

    assert verdict(reviewed(text, COMPLETE)) == "meets"


def test_what_is_inside_a_parfum_may_be_named_and_need_not() -> None:
    assert (
        verdict(reviewed(sheet("scent 1", "Aqua qs", extra=f"{SCENT}\n{draft('Aqua', 'Parfum')}"), COMPLETE)) == "meets"
    )
    named = f"{SCENT}\n{draft('Aqua', 'Parfum', 'Linalool')}"
    assert verdict(reviewed(sheet("scent 1", "Aqua qs", extra=named), COMPLETE)) == "meets"


def test_a_scent_that_a_parfum_may_hold_is_no_stranger_and_without_a_parfum_it_is() -> None:
    with_parfum = sheet("Parfum 1", "Aqua qs", extra=draft("Aqua", "Parfum", "Coumarin"))
    without = sheet("Glycerin 1", "Aqua qs", extra=draft("Aqua", "Glycerin", "Coumarin"))

    assert verdict(reviewed(with_parfum, COMPLETE)) == "meets"
    assert verdict(reviewed(without, COMPLETE)) == "breaks"


def test_the_preservative_of_a_hydrosol_is_an_ingredient_and_its_scents_are_not() -> None:
    water = "materials:\n  rose: {contains: {Rosa Damascena Flower Water: qs, Sodium Benzoate: 0.5, Geraniol: 0.1}}"
    short = sheet("rose 50", "Aqua qs", extra=f"{water}\n{draft('Aqua', 'Rosa Damascena Flower Water')}")

    assert only(reviewed(short, COMPLETE)).substances == ("Sodium Benzoate",)


def test_a_material_that_nobody_knows_is_an_ingredient_under_its_own_name() -> None:
    known = sheet("Kelp Dust 5", "Aqua qs", extra=draft("Aqua", "Kelp Dust"))

    assert verdict(reviewed(known, COMPLETE)) == "meets"
    assert verdict(reviewed(sheet("Kelp Dust 5", "Aqua qs", extra=draft("Aqua")), COMPLETE)) == "breaks"


def test_beside_a_material_that_nobody_knows_no_entry_is_called_a_stranger() -> None:
    text = sheet("Kelp Dust 5", "Aqua qs", extra=draft("Aqua", "Kelp Dust", "Algin"))

    assert verdict(reviewed(text, COMPLETE)) == "meets"


def order(**limit: float) -> dict[str, object]:
    return rule({"declared": {"draft": "order"}}, values={"always": limit or {"min": 1}})


@pytest.mark.parametrize(
    ("lines", "entries", "said"),
    [
        (("Glycerin 5", "Urea 3"), ("Aqua", "Glycerin", "Urea"), "meets"),
        (("Glycerin 5", "Urea 3"), ("Aqua", "Urea", "Glycerin"), "breaks"),
        (("Glycerin 5", "Urea 5"), ("Aqua", "Urea", "Glycerin"), "meets"),
        (("Glycerin 1", "Urea 0.5"), ("Aqua", "Urea", "Glycerin"), "breaks"),
        (("Glycerin 0.99", "Urea 0.5"), ("Aqua", "Urea", "Glycerin"), "meets"),
        (("Glycerin 5", "Urea 0.5", "Betaine 0.1"), ("Aqua", "Betaine", "Urea", "Glycerin"), "breaks"),
        (("CI 77491 3", "Glycerin 2"), ("Aqua", "Glycerin", "CI 77491"), "meets"),
        (("Glycerin 5",), ("Water (Aqua)", "Glycerin"), "meets"),
    ],
)
def test_the_largest_stand_first_down_to_the_amount(
    lines: tuple[str, ...], entries: tuple[str, ...], said: str
) -> None:
    assert verdict(reviewed(sheet(*lines, "Aqua qs", extra=draft(*entries)), order())) == said


def test_the_finding_on_the_order_names_both_with_their_amounts() -> None:
    text = sheet("Glycerin 5", "Urea 3", "Aqua qs", extra=draft("Aqua", "Urea", "Glycerin"))
    finding = only(reviewed(text, order()))

    assert finding.message == "Glycerin (5 %) stands after Urea (3 %)"
    assert pointed_at(text, finding).startswith('"Glycerin"')


def test_a_parfum_stands_in_the_order_by_all_that_it_holds() -> None:
    text = sheet("scent 2", "Glycerin 1.99", "Aqua qs", extra=f"{SCENT}\n{draft('Aqua', 'Parfum', 'Glycerin')}")

    assert verdict(reviewed(text, order())) == "meets"
