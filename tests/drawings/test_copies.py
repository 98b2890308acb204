from sheetplan.drawings import quick
from sheetplan.drawings.known import copies, same_part
from sheetplan.model.outline import Loop, Outline
from sheetplan.shapes import circle_loop, mirror, turn


def test_discs_that_differ_by_a_tenth_are_two_parts() -> None:
    disc, other = Outline(circle_loop(20.0, 20.0, 20.0)), Outline(circle_loop(20.05, 20.05, 20.05))
    assert same_part(disc, disc) == "turned"
    assert same_part(disc, other) is None


def test_turned_and_mirrored_copies_of_one_metal_are_one_part() -> None:
    plate = quick.plate(200.0, 100.0, bolts=quick.Bolts(9.0, 20.0))
    odd = Outline(plate.outer, plate.holes[:1])
    assert same_part(odd, turn(odd, 37.0)) == "turned"
    assert same_part(odd, turn(mirror(odd), 90.0)) == "mirrored"
    assert same_part(odd, Outline(plate.outer, plate.holes[:2])) is None
    found = copies([odd, mirror(odd), turn(odd, 90.0), odd], ["a", "a", "a", "b"])
    assert [(one.first, one.turned, one.mirrored) for one in found] == [(0, (2,), (1,)), (3, (), ())]


def test_a_plate_whose_corners_lie_on_sides_of_its_mirror_image_is_not_taken_for_it() -> None:
    """A slot from below on the left and one from above on the right: turned over, it is another hand."""
    corners = [
        (0, 0), (20, 0), (20, 30), (50, 30), (50, 0), (140, 0), (140, 50), (120, 50), (120, 20), (90, 20),
        (90, 50), (0, 50),
    ]  # fmt: skip
    hand = Outline(Loop(tuple((float(x), float(y), 0.0) for x, y in corners)))
    assert same_part(hand, turn(hand, 180.0)) == "turned"
    assert same_part(hand, mirror(hand)) == "mirrored"
    (one,) = copies([hand, mirror(hand)], ["a", "a"])
    assert (one.turned, one.mirrored) == ((), (1,))
