"""What is held while the records stand: made once, and again when they changed."""

from ratoon.web.sheet.recent import Recent


def test_it_is_made_once_while_the_records_stand():
    made, state = [], "one"

    def make():
        made.append(state)
        return len(made)

    held = Recent(lambda: state, most=2)
    assert [held.of("a", make), held.of("a", make), held.of("b", make)] == [1, 1, 2]
    assert held.of("a", make) == 1
    assert held.of("c", make) == 3  # b goes: a was asked for since
    assert [held.of("a", make), held.of("b", make)] == [1, 4]
    state = "two"
    assert held.of("a", make) == 5
    state = "one"
    assert held.of("a", make) == 6


def test_what_was_made_while_the_records_changed_is_not_held():
    state = ["one"]
    held = Recent(lambda: state[0], most=2)

    def change():
        state[0] = "two"
        return "of one or two"

    assert held.of("a", change) == "of one or two"
    assert held.of("a", lambda: "of two") == "of two"
    nothing = Recent(lambda: "", most=2)
    assert nothing.of("a", lambda: 1) == 1 and nothing.of("a", lambda: 2) == 2
