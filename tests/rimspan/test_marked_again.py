"""A photo that was marked again, from the draft to the measured channel."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assess.marks import CardMarks
from assess.measure import measure
from assess.read_marks import parse_marks
from assess.reading import PhotoReading, read_view
from assess.repeatability import U_DEFINITION_MM, mark_uncertainty, pooled_scatter
from assess.scale import print_scale
from calibration.card import FRAME
from calibration.photo import Photo, read_photo
from rimspan.clientfile import ClientFile
from rimspan.marked_again import keep_passes, measured_photo, own_uncertainty

ALEX = "Alex Invented"
SIGMA_PX = 1.0


@pytest.fixture(scope="module")
def photo(flat_photo: bytes) -> Photo:
    return read_photo(flat_photo)


@pytest.fixture(scope="module")
def reading(photo: Photo) -> PhotoReading:
    return read_view(photo, file="flat.jpg", card=CardMarks(id=FRAME.id))


@pytest.fixture
def file(tmp_path: Path) -> ClientFile:
    return ClientFile.open(tmp_path / "store")


Marked = Callable[..., dict[str, Any]]


@pytest.fixture
def marked(flat_document: dict[str, Any]) -> Marked:
    """Return the flat photo's part of a draft, marked some times by a hand of 1 px."""

    def make(passes: int, by: str = ALEX, seed: int = 1) -> dict[str, Any]:
        rng = np.random.default_rng(seed)
        (true,) = flat_document["photos"][0]["placements"]
        made = []
        for _ in range(passes):
            jittered = {
                name: [float(v) for v in np.add(true[name], SIGMA_PX * rng.standard_normal(2))]
                for name in ("entry", "exit", "below")
            }
            made.append({"by": by, "placements": [{"label": "only"} | jittered]})
        first = copy.deepcopy(made[0]["placements"])
        return {"file": "flat.jpg", "x_sha256": "a" * 64, "placements": first, "x_passes": made}

    return make


def test_the_past_is_learned_from_what_was_kept(
    file: ClientFile, marked: Marked, reading: PhotoReading
) -> None:
    client = file.create_client("Robin Example (invented)").id
    assert own_uncertainty(file, ALEX) == mark_uncertainty(None)
    keep_passes(file, client, marked(5), reading)
    keep_passes(file, client, marked(5), reading)  # saved at every change of the draft
    learned = own_uncertainty(file, f" {ALEX} ").learned
    assert learned is not None
    assert (learned.dof, learned.points, learned.photos) == (3 * 2 * 4, 3, 1)
    # A pixel is 0.19 mm there; a standard deviation of 24 degrees of freedom is known to 14 %.
    assert learned.s_mm == pytest.approx(SIGMA_PX * reading.mm_per_px(0.0), rel=0.4)
    assert own_uncertainty(file, "Kim Sample").learned is None


def test_a_photo_that_lost_its_pose_loses_no_past(
    file: ClientFile, marked: Marked, reading: PhotoReading
) -> None:
    client = file.create_client("Robin Example (invented)").id
    keep_passes(file, client, marked(3), reading)
    kept = file.repeats.samples()
    blank = PhotoReading("flat.jpg", (9, 9), None, None, print_scale(None, None), (), "No card.")
    keep_passes(file, client, marked(3), blank)
    assert file.repeats.samples() == kept != []


def test_two_piercers_keep_each_their_own(
    file: ClientFile, marked: Marked, reading: PhotoReading
) -> None:
    client = file.create_client("Robin Example (invented)").id
    both = marked(3)
    both["x_passes"] += marked(2, by="Kim Sample", seed=2)["x_passes"]
    keep_passes(file, client, both, reading)
    assert len(file.repeats.samples(ALEX)) == 9
    assert len(file.repeats.samples("Kim Sample")) == 6


def channel_u(
    entry: dict[str, Any], flat_document: dict[str, Any], photo: Photo
) -> tuple[float, float]:
    """Return the channel and its u of marks with one photo, only the marks being uncertain."""
    plane = {"offset_mm": 0, "u_offset_mm": 0, "u_tilt_deg": 0}
    document = {key: flat_document[key] for key in ("format", "side", "card")}
    marks = parse_marks(document | {"rim_plane": plane, "photos": [entry]})
    found = measure(marks, {"flat.jpg": photo}, draws=20_000).result.placements[0].channel
    assert found is not None
    return found.value, found.u


def test_marking_again_makes_the_channels_u_smaller(
    file: ClientFile,
    marked: Marked,
    reading: PhotoReading,
    flat_document: dict[str, Any],
    photo: Photo,
) -> None:
    """7 mm by construction; the u of the ends is that of the mean of five, the rest stays."""
    client = file.create_client("Robin Example (invented)").id
    draft = marked(5)
    keep_passes(file, client, draft, reading)
    entry = measured_photo(file, draft, reading)
    once = {"file": "flat.jpg", "placements": draft["placements"]}
    (value, u), (_, u_once) = (channel_u(each, flat_document, photo) for each in (entry, once))
    assert u < u_once
    assert abs(value - 7.0) < 3 * u
    own = own_uncertainty(file, ALEX)
    end = math.hypot(own.u_mm / math.sqrt(5), U_DEFINITION_MM)
    assert entry["sigma_px"] * reading.mm_per_px(0.0) == pytest.approx(end)
    scale = 7.0 * reading.scale.u_common
    assert u == pytest.approx(math.sqrt(2 * end**2 + scale**2), rel=0.1)


def test_a_photo_nobody_marked_again_is_measured_as_it_is(
    file: ClientFile, marked: Marked, reading: PhotoReading
) -> None:
    draft = marked(1)
    del draft["x_passes"]
    assert measured_photo(file, draft, reading) == draft
    assert pooled_scatter(file.repeats.samples()) is None


def test_whose_passes_were_taken_back_keeps_none(
    file: ClientFile, marked: Marked, reading: PhotoReading
) -> None:
    client = file.create_client("Robin Example (invented)").id
    both = marked(3)
    both["x_passes"] += marked(2, by="Kim Sample", seed=2)["x_passes"]
    keep_passes(file, client, both, reading)
    keep_passes(file, client, marked(3), reading, before=both)
    assert len(file.repeats.samples(ALEX)) == 9
    assert file.repeats.samples("Kim Sample") == []
