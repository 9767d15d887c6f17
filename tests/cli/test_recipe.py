"""`pairing recipe`: a kept name stands wherever a recipe does."""


def test_a_kept_name_and_version_stand_where_a_recipe_does(bench, ask):
    where = ("--bench", bench)
    for dose in ("1.6", "1.2"):
        assert ask("recipe", "keep", f"oat|quince={dose}", "--name", "dusk", *where)[0] == 0
    assert ask("card", "dusk@1", *where)[1]["card"]["doses_g_per_kg"] == {"quince": 1.6}
    assert ask("card", "dusk", *where)[1]["card"]["doses_g_per_kg"] == {"quince": 1.2}
    code, said = ask("compare", "dusk", "dusk@1", *where)
    assert code == 0
    assert [row["recipe"] for row in said["recipes"]] == ["oat|quince=1.2", "oat|quince=1.6"]
    assert ask("blind", "plan", "dusk", "dusk@1", *where)[0] == 0
    assert [row["version"] for row in ask("recipe", "history", "dusk", *where)[1]["recipes"]] == [1, 2]
    assert [row["version"] for row in ask("recipe", "list", *where)[1]["recipes"] if row["recipe_id"] == "dusk"] == [2]
    assert ask("recipe", "show", "dusk", *where)[1]["evidence"]["cups"] >= 0


def test_a_name_that_nobody_kept_is_refused(bench, ask):
    for words in (("show", "dawn"), ("history", "dawn")):
        code, said = ask("recipe", *words, "--bench", bench)
        assert code == 1
        assert said["hint"]
