from ullage.scenario.limits import DEEPEST, MOST_ELEMENTS, MOST_VALUES, places_of, too_large


def nested(depth):
    """Return a tree whose deepest place has a number of parts."""
    tree = 1
    for _ in range(depth):
        tree = {"a": tree}
    return tree


def test_places_are_keys_and_indices():
    tree = {"a": {"b": 1}, "c": [{"d": 2}, (3,)]}
    assert list(places_of(tree)) == [
        ("a",),
        ("a", "b"),
        ("c",),
        ("c", 0),
        ("c", 0, "d"),
        ("c", 1),
        ("c", 1, 0),
    ]


def test_limits_themselves_are_accepted_and_one_more_is_not():
    assert too_large(places_of(nested(DEEPEST))) is None
    assert too_large(places_of(nested(DEEPEST + 1))) == (("a", "a"), "is nested more than 20 deep")
    assert too_large(places_of({"a": [1] * MOST_ELEMENTS})) is None
    assert too_large(places_of({"a": [1] * (MOST_ELEMENTS + 1)})) == (("a",), "has more than 5000 elements")
    many = {f"a{number}": 1 for number in range(MOST_VALUES)}
    assert too_large(places_of(many)) is None
    assert too_large(places_of({**many, "b": 1})) == ((), "more than 50000 values")


def test_tree_that_holds_itself_is_too_deep():
    tree = {"a": 1}
    tree["b"] = [tree, tree]
    assert too_large(places_of(tree)) == (("b", 0), "is nested more than 20 deep")


def test_tree_deeper_than_the_stack_is_too_deep():
    assert too_large(places_of(nested(100_000))) == (("a", "a"), "is nested more than 20 deep")
