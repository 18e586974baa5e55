"""Help with marking on invented pictures: a bright disc on a dark ground, and a pen dot in it."""

from __future__ import annotations

import threading
import time
from typing import Any

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from assess.reading import read_view
from calibration.frames import Array, Image
from calibration.photo import CaptureFacts, Photo, PhotoError, read_photo
from rimspan.marking_help import (
    MOST_PICTURES,
    NO_EDGE,
    NO_END,
    NO_SCALE,
    NOT_OPEN,
    Ask,
    AskError,
    MarkingHelp,
    ask_from,
    dot_answer,
    end_answer,
    proposal,
    scale_of,
)
from tests.second_visit import BALL_MM, shot

MM_PER_PX, LENS_PX = 0.1, 0.8
CENTRE, RADIUS = np.array([250.0, 260.0]), 150.0
DOT = np.array([250.3, 160.7])
SKIN, GROUND, INK = (214.0, 170.0, 140.0), (52.0, 44.0, 40.0), (40.0, 30.0, 90.0)


def picture() -> Image:
    """Return the disc and the dot as a lens shows them, a little soft, with a little noise."""
    y, x = np.mgrid[0:500, 0:500].astype(float)
    pixels = np.broadcast_to(np.array(GROUND), (500, 500, 3))
    for (cx, cy), radius, colour in ((CENTRE, RADIUS, SKIN), (DOT, 4.0, INK)):
        cover = np.clip(radius + 0.5 - np.hypot(x - cx, y - cy), 0, 1)[..., None]
        pixels = pixels * (1 - cover) + np.array(colour) * cover
    pixels = gaussian_filter(pixels, (LENS_PX, LENS_PX, 0.0))
    noise = np.random.default_rng(1).normal(0.0, 1.5, pixels.shape)
    return np.asarray(np.clip(pixels + noise, 0, 255).round(), dtype=np.uint8)


def half_hidden() -> Image:
    """Return the picture with no edge on its left."""
    pixels = picture()
    pixels[:, :250] = pixels[300, 250]
    return pixels


def taps(jitter_px: float = 3.0) -> Array:
    """Return four taps along the disc's upper edge, some outside, some inside."""
    turn = np.deg2rad([200.0, 240.0, 280.0, 320.0])
    off = jitter_px * np.array([1.0, -1.0, 1.0, -1.0])
    return CENTRE + (RADIUS + off)[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])


def off_the_edge(points: Any) -> Array:
    return np.abs(np.hypot(*(np.asarray(points) - CENTRE).T) - RADIUS)


def asked(points: Array, kind: str = "outer", **more: Any) -> Ask:
    return ask_from({"photo": "a", "kind": kind, "points": points.tolist(), **more})


def photo(pixels: Image) -> Photo:
    return Photo(pixels, CaptureFacts(pixels.shape[1], pixels.shape[0]))


def test_a_few_taps_bring_a_line_and_the_points_to_keep() -> None:
    found = proposal(picture(), asked(taps()), MM_PER_PX)
    assert set(found) == {"line", "u_px", "gaps", "keep"}
    assert found["gaps"] == []
    assert len(found["line"]) == len(found["u_px"])
    assert 5 <= len(found["keep"]) <= 24
    inner = off_the_edge(found["keep"])[1:-1]
    assert float(np.sqrt((inner**2).mean())) < 1.0  # px; the taps are 3 px off


def test_where_no_edge_is_seen_the_taps_are_kept() -> None:
    found = proposal(half_hidden(), asked(taps()), MM_PER_PX)
    (gap,) = found["gaps"]
    assert gap[0] == 0
    kept = [tuple(point) for point in found["keep"]]
    given = [tuple(point) for point in np.round(taps(), 3).tolist()]
    assert kept[:2] == given[:2]
    assert given[2] not in kept
    assert float(np.median(off_the_edge(found["keep"][2:]))) < 1.0


def test_a_picture_without_any_edge_brings_no_line() -> None:
    even = np.full((500, 500, 3), 150, dtype=np.uint8)
    assert proposal(even, asked(taps()), MM_PER_PX) == {"none": NO_EDGE}


def test_too_few_taps_are_refused_in_words() -> None:
    found = proposal(picture(), asked(taps()[:2]), MM_PER_PX)
    assert "Tap three or four places" in found["none"]


def test_a_stretch_ends_at_its_two_points() -> None:
    points = taps(0.5)
    found = proposal(picture(), asked(points, between=[1, 2]), MM_PER_PX)
    line = np.array(found["line"])
    whole = proposal(picture(), asked(points), MM_PER_PX)
    assert np.linalg.norm(line[0] - points[1]) < 2.0
    assert np.linalg.norm(line[-1] - points[2]) < 2.0
    assert len(line) < len(whole["line"]) / 2
    assert len(found["keep"]) < len(whole["keep"])
    assert len(found["u_px"]) == len(line)


def test_the_gaps_of_a_stretch_count_from_its_own_beginning() -> None:
    found = proposal(half_hidden(), asked(taps(0.5), between=[1, 3]), MM_PER_PX)
    (gap,) = found["gaps"]
    x = np.array(found["line"])[:, 0]
    assert gap[0] == 0
    assert x[gap[1]] < 270 < x[-1]


def test_a_tap_near_a_pen_dot_finds_its_centre() -> None:
    found = dot_answer(picture(), DOT + np.array([6.0, -5.0]), MM_PER_PX)
    assert np.linalg.norm(np.array(found["point"]) - DOT) < 0.2
    assert 0 < found["u_px"] < 0.5


def test_bare_skin_has_no_dot() -> None:
    found = dot_answer(picture(), CENTRE + 40.0, MM_PER_PX)
    assert set(found) == {"none"}
    assert found["none"]


BAD: list[tuple[Any, str]] = [
    ([1, 2], "object"),
    ({"kind": "outer", "points": [[1, 2]]}, "photo"),
    ({"photo": "a", "kind": "upper", "points": [[1, 2]]}, "kind"),
    ({"photo": "a", "kind": ["outer"], "points": [[1, 2]]}, "kind"),
    ({"photo": "a", "kind": "dot", "points": []}, "points"),
    ({"photo": "a", "kind": "dot", "points": [[1, 2]] * 201}, "points"),
    ({"photo": "a", "kind": "dot", "points": [[1, 2, 3]]}, "points"),
    ({"photo": "a", "kind": "dot", "points": [[1, "2"]]}, "points"),
    ({"photo": "a", "kind": "dot", "points": [[1, True]]}, "points"),
    ({"photo": "a", "kind": "dot", "points": [[1, float("nan")]]}, "points"),
    ({"photo": "a", "kind": "dot", "points": [[1, 10**400]]}, "points"),
    ({"photo": "a", "kind": "outer", "points": [[1, 2]] * 3, "between": [1, 1]}, "between"),
    ({"photo": "a", "kind": "outer", "points": [[1, 2]] * 3, "between": [0, 3]}, "between"),
    ({"photo": "a", "kind": "outer", "points": [[1, 2]] * 3, "between": [0.0, 2]}, "between"),
    ({"photo": "a", "kind": "along", "points": [[1, 2]]}, "line to look along"),
    ({"photo": "a", "kind": "along", "points": [[1, 2]] * 3, "first": 3}, "first"),
    ({"photo": "a", "kind": "along", "points": [[1, 2]] * 3, "first": True}, "first"),
]


@pytest.mark.parametrize(("held", "named"), BAD)
def test_what_cannot_be_understood_is_named(held: object, named: str) -> None:
    with pytest.raises(AskError, match=named):
        ask_from(held)


def test_only_an_offered_photo_is_looked_into() -> None:
    desk = MarkingHelp()
    assert desk.answer(asked(taps())) == {"none": NOT_OPEN}
    desk.offer("a", MM_PER_PX, lambda: photo(picture()))
    assert "line" in desk.answer(asked(taps()))
    found = desk.answer(asked(DOT[None] + 3.0, "dot"))
    assert found["mm_per_px"] == MM_PER_PX
    assert "point" in found


def test_a_dot_is_looked_for_along_a_line() -> None:
    desk = MarkingHelp()
    desk.offer("a", MM_PER_PX, lambda: photo(picture()))
    line = DOT + np.array([[-30.0, 1.0], [0.0, 1.0], [30.0, 1.0]])
    found = desk.answer(asked(line, "along", first=0))
    assert np.linalg.norm(np.array(found["point"]) - DOT) < 0.2
    assert 0 < found["u_px"] < 0.5
    beside = desk.answer(asked(line + np.array([0.0, 60.0]), "along", first=1))
    assert beside["none"] == "No pen dot is seen along the line."


def test_without_a_card_there_is_no_help() -> None:
    desk = MarkingHelp()
    desk.offer("a", None, lambda: pytest.fail("there is nothing to look for"))
    assert desk.answer(asked(taps())) == {"none": NO_SCALE}


def test_a_photo_that_cannot_be_decoded_says_so() -> None:
    desk = MarkingHelp()
    error = PhotoError("The file is empty.", "It can't be read.", "Take another.")
    desk.offer("a", MM_PER_PX, lambda: error)
    assert desk.answer(asked(taps())) == {"none": str(error)}


def test_the_last_photos_stay_decoded_and_no_more() -> None:
    desk, loaded = MarkingHelp(), []

    def load(name: str) -> Photo:
        loaded.append(name)
        return photo(picture())

    names = ["a", "b", "c"]
    for name in names:
        desk.offer(name, MM_PER_PX, lambda name=name: load(name))  # type: ignore[misc]
    point = DOT[None] + 3.0

    def ask(name: str) -> None:
        assert "point" in desk.answer(Ask(name, "dot", point))

    for name in ("a", "a", "b", "a"):
        ask(name)
    assert loaded == ["a", "b"]
    ask("c")
    ask("a")  # asked for last but one: still there
    assert loaded == ["a", "b", "c"]
    ask("b")
    assert loaded == ["a", "b", "c", "b"]
    assert MOST_PICTURES == 2


def test_a_photo_that_is_ready_is_not_decoded_again() -> None:
    desk = MarkingHelp()
    ready = photo(picture())
    desk.offer("a", MM_PER_PX, lambda: pytest.fail("it was ready"), ready=ready)
    assert "line" in desk.answer(asked(taps()))


def test_two_questions_at_once_decode_once() -> None:
    desk, loaded = MarkingHelp(), []

    def load() -> Photo:
        loaded.append(1)
        time.sleep(0.05)
        return photo(picture())

    desk.offer("a", MM_PER_PX, load)
    ask = Ask("a", "dot", DOT[None])
    both = [threading.Thread(target=desk.answer, args=(ask,)) for _ in range(2)]
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert loaded == [1]


def test_a_photo_that_is_gone_is_not_looked_into_any_more() -> None:
    desk = MarkingHelp()
    desk.offer("a", MM_PER_PX, lambda: pytest.fail("it was ready"), ready=photo(picture()))
    assert "line" in desk.answer(asked(taps()))
    desk.forget("a")
    assert desk.answer(asked(taps())) == {"none": NOT_OPEN}
    desk.offer("a", MM_PER_PX, lambda: PhotoError("It", "is", "gone."))
    assert desk.answer(asked(taps())) == {"none": "It is gone."}


def test_the_scale_is_that_of_the_card(flat_photo: bytes) -> None:
    held = read_photo(flat_photo)
    found = scale_of(read_view(held, file="flat.jpg"), 0.0)
    assert found == pytest.approx(
        280 / 1500, rel=0.03
    )  # distance over focal length, as it was made
    blank = photo(np.full((300, 400, 3), 128, dtype=np.uint8))
    assert scale_of(read_view(blank, file="blank.jpg"), 0.0) is None


def test_a_post_s_round_end_is_found_by_its_middle() -> None:
    """The painted ball's middle is known from what it was painted of."""
    taken = shot()
    upper, mm_per_px = taken.ends[0], BALL_MM / taken.ball_px
    pixels = read_photo(taken.data).pixels
    found = end_answer(pixels, upper + np.array([4.0, -3.0]), mm_per_px)
    assert np.hypot(*(np.array(found["point"]) - upper)) < 2.45 * found["u_px"]
    assert end_answer(pixels, taken.outer[30], mm_per_px) == {"none": NO_END}
