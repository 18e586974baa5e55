"""The ears have the size of ears, and their truth holds against their own mesh."""

import importlib.util

import numpy as np
import pytest

if importlib.util.find_spec("embreex") is None:
    pytest.skip("needs the extra 'samples' (embreex)", allow_module_level=True)

from sample_images.ears import build_ear
from sample_images.parameters import PARAMETER_EARS, SAMPLE_EARS
from sample_images.placement import place
from sample_images.shape import head_depth
from sample_images.visible import is_visible, visible_edges

SPOTS = (0.1, 0.5, 0.9)


def extent(name: str) -> tuple[float, float]:
    """Return the ear's length and width as seen from its side, without the head's skin, mm."""
    vertices = build_ear(name).vertices
    above = vertices[:, 2] < head_depth(vertices[:, 0], vertices[:, 1]) - 1.5
    size = np.ptp(vertices[above][:, :2], axis=0)
    return float(size[1]), float(size[0])


@pytest.mark.published(
    source="Bozkir et al., Aesthetic Plastic Surgery 30:81-85, 2006 (abstract)",
    where="length women 59.7 +- 3.0, men 63.1 +- 3.6; width women 31.3, men 33.3 +- 2.2 mm",
)
@pytest.mark.parametrize("name", SAMPLE_EARS)
def test_sample_ears_are_as_long_and_wide_as_was_measured(name: str) -> None:
    length, width = extent(name)
    # Two standard deviations round the means of women and men.
    assert 59.7 - 2 * 3.0 < length < 63.1 + 2 * 3.6
    assert 31.3 - 2 * 2.2 < width < 33.3 + 2 * 2.2


@pytest.mark.parametrize("name", ["pronounced", "flat", "rolled", "thin"])
def test_a_post_runs_through_tissue_from_skin_to_skin(name: str) -> None:
    ear = build_ear(name)
    for s in SPOTS:
        found = place(ear, s)
        assert found is not None
        axis = (found.exit - found.entry) / found.channel_mm
        crossings = ear.crossings(found.entry - 5 * axis, axis)
        # The ray enters at the entry and leaves at the exit, with nothing between.
        np.testing.assert_allclose(crossings[:2], [5.0, 5.0 + found.channel_mm], atol=0.02)
        assert found.entry[2] == pytest.approx(found.exit[2])
        assert found.relief_mm > 0
        assert found.room_below_mm > 0


def test_the_parameter_ears_are_many_and_spread() -> None:
    assert len(PARAMETER_EARS) >= 10
    channels = [place(build_ear(name), 0.5) for name in PARAMETER_EARS]
    lengths = [found.channel_mm for found in channels if found is not None]
    assert len(lengths) == len(PARAMETER_EARS)
    assert min(lengths) < 4.6
    assert max(lengths) > 7.5


def test_the_fold_hides_its_exit_from_above_and_shows_it_from_below() -> None:
    ear = build_ear("plain")
    found = place(ear, 0.3)
    assert found is not None
    middle = (found.entry + found.exit) / 2
    above = middle + 270 * np.array([0, -np.sin(0.6), -np.cos(0.6)])
    below = middle + 270 * np.array([0, np.sin(0.6), -np.cos(0.6)])
    points = np.array([found.entry, found.exit])
    assert is_visible(ear, points, above).tolist() == [True, False]
    assert is_visible(ear, points, below).tolist() == [False, True]


def test_one_view_sees_the_band_which_is_wider_than_the_channel() -> None:
    ear = build_ear("rolled")
    found = place(ear, 0.3)
    assert found is not None
    middle = (found.entry + found.exit) / 2
    edges = visible_edges(ear, found, middle - [0, 0, 270])
    assert edges is not None
    assert np.linalg.norm(edges[0][:2] - edges[1][:2]) > found.channel_mm + 0.3
