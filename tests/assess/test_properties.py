"""What must hold of every measurement, whatever the scene: scale, pose, noise, limits.

The photos are exact: OpenCV's published camera model puts the card's corners and the ends where
they are seen, and the program gets those pixels.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import cv2
import numpy as np
import pytest

from assess.band_model import BAND_MODEL
from assess.criteria import DEFAULT_CRITERIA, Criteria, Limit
from assess.marks import CaliperMarks, Marks
from assess.placing import axes_in
from assess.read_marks import parse_marks
from assess.reading import PhotoReading
from assess.relief import cover, relief
from assess.scale import PrintScale
from assess.verdict import decide
from calibration.card import FRAME
from calibration.draws import Draws
from calibration.frames import Array
from calibration.lens import Camera, LensPrior
from calibration.pose import PlaneFit, fit_plane
from calibration.quantity import Quantity

SIZE = (4000, 3000)
CENTRE_PX = ((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2)
ENDS_MM = np.array([[68.0, 58.0, -6.0], [70.0, 65.0, -6.0], [72.0, 72.0, -6.0]])
"""Entry, exit and the next structure below, in a plane 6 mm before the card."""
CHANNEL_MM = float(np.linalg.norm(ENDS_MM[0] - ENDS_MM[1]))


@dataclass(frozen=True)
class Shot:
    """Where the phone stands, what it sees, and what is told; ``times`` scales every length."""

    elevation_deg: float = 8.0
    aside_deg: float = -5.0
    distance_mm: float = 260.0
    roll_deg: float = 0.0
    k1: float = 0.03
    times: float = 1.0
    sigma_px: float = 2.0
    u_offset_mm: float = 5.0
    u_tilt_deg: float = 5.8
    u_scale: float = 0.0005
    corner_px: float = 0.1
    outline: tuple[str, ...] = ()

    def pose(self) -> tuple[Array, Array]:
        """Return rvec, tvec of a camera that looks at the ends' middle."""
        rise, aside = np.deg2rad([self.elevation_deg, self.aside_deg])
        way = np.array([np.sin(aside) * np.cos(rise), -np.sin(rise), -np.cos(aside) * np.cos(rise)])
        target = ENDS_MM[:2].mean(axis=0)
        centre = target + self.distance_mm * way
        right = np.cross([0.0, 1.0, 0.0], -way)
        right /= np.linalg.norm(right)
        level = np.stack([right, np.cross(-way, right), -way])
        roll, _ = cv2.Rodrigues(np.array([0.0, 0.0, np.deg2rad(self.roll_deg)]))
        turn = roll @ level
        return np.asarray(cv2.Rodrigues(turn)[0]).ravel(), self.times * (-turn @ centre)

    def pixels(self, points_mm: Array) -> Array:
        matrix = np.array([[3000.0, 0, CENTRE_PX[0]], [0, 3000.0, CENTRE_PX[1]], [0, 0, 1]])
        dist = np.array([self.k1, 0, 0, 0, 0.0])
        seen, _ = cv2.projectPoints(self.times * points_mm, *self.pose(), matrix, dist)
        return np.asarray(seen).reshape(-1, 2)

    def reading(self) -> PhotoReading:
        nominal = FRAME.corners_mm(FRAME.corner_ids)
        seen = self.pixels(np.column_stack([nominal, np.zeros(len(nominal))]))
        prior = LensPrior(Camera(3000.0, 3000.0, *CENTRE_PX), 0.03, 0.05, "exif")
        fit = fit_plane(seen, self.times * nominal, prior, sigma_px=self.corner_px)
        assert isinstance(fit, PlaneFit)
        scale = PrintScale(1.0, 1.0, (self.u_scale, self.u_scale), 0.0, verified=True)
        x, y = self.pixels(ENDS_MM).mean(axis=0)
        away = (float(x), float(y))
        return PhotoReading(
            "a.jpg", SIZE, None, fit, scale, (), None, 9.0, self.distance_mm, 0.8, away
        )

    def marks(self) -> Marks:
        entry, end, below = self.pixels(ENDS_MM).tolist()
        placement = {"label": "A", "entry": entry, "exit": end, "below": below}
        placement["outline"] = list(self.outline)
        photo = {"file": "a.jpg", "sigma_px": self.sigma_px, "placements": [placement]}
        plane = {
            "offset_mm": 6.0 * self.times,
            "u_offset_mm": self.u_offset_mm * self.times,
            "u_tilt_deg": self.u_tilt_deg,
        }
        told = {"format": "rimspan-marks/1", "side": "left", "rim_plane": plane}
        return parse_marks(told | {"photos": [photo]})

    def axis(self, draws: int = 20_000, seed: int = 1):
        marks, m = self.marks(), self.times
        model = replace(
            BAND_MODEL,
            mean=tuple(m * v for v in BAND_MODEL.mean),
            scale=tuple(tuple(m * m * v for v in row) for row in BAND_MODEL.scale),
            within=tuple(tuple(m * m * v for v in row) for row in BAND_MODEL.within),
        )
        placed = axes_in(marks.photos[0], ["A"], marks, self.reading(), Draws(seed, draws), model)
        return placed["A"]

    def channel(self, draws: int = 20_000, seed: int = 1) -> Quantity:
        return Quantity.from_draws(self.axis(draws, seed).channel_mm, "mm")


def half_width(quantity: Quantity) -> float:
    return (quantity.high - quantity.low) / 2


BOTH = ("entry", "exit")
SHOTS = [
    Shot(),
    Shot(elevation_deg=-12.0, aside_deg=10.0, distance_mm=180.0, outline=BOTH),
    Shot(elevation_deg=15.0, distance_mm=380.0, k1=-0.04, outline=("exit",)),
]


@pytest.mark.parametrize("shot", SHOTS)
@pytest.mark.parametrize("times", [2.0, 0.5])
def test_with_all_lengths_doubled_every_result_doubles(shot: Shot, times: float) -> None:
    """A picture has no millimetres: they all come from the card, the depth rod and the model."""
    plain, scaled = shot.axis(2000), replace(shot, times=times).axis(2000)
    # Draw by draw, but for lens and pose, which may be drawn along other axes of theirs.
    np.testing.assert_allclose(scaled.channel_mm, times * plain.channel_mm, rtol=1e-3)
    np.testing.assert_allclose(scaled.room_below_mm, times * plain.room_below_mm, rtol=1e-3)
    np.testing.assert_allclose(scaled.angle_deg, plain.angle_deg, atol=0.1)
    for line, other in zip(plain.lines, scaled.lines, strict=True):
        assert other.variance == pytest.approx(times**2 * line.variance, rel=1e-3), line.name


@pytest.mark.parametrize("shot", SHOTS[:2])
@pytest.mark.parametrize("roll_deg", [30.0, 90.0, 180.0])
def test_a_phone_held_another_way_up_measures_the_same(shot: Shot, roll_deg: float) -> None:
    """Turned about its line of sight it sees the same rays: only the draws are others."""
    plain, turned = shot.channel(), replace(shot, roll_deg=roll_deg).channel()
    # 20,000 draws each: the mean has a standard error of u / 141, a difference of u / 100.
    assert turned.value == pytest.approx(plain.value, abs=0.05 * plain.u)
    assert turned.u == pytest.approx(plain.u, rel=0.04)


def test_the_same_ear_from_elsewhere_measures_the_same_within_its_u() -> None:
    """Seen exactly and told rightly, each pose gives the true length but for the plane's tilt."""
    poses = [
        Shot(elevation_deg=rise, aside_deg=aside, distance_mm=distance, k1=k1)
        for rise, aside, distance, k1 in [
            (0, 0, 250, 0.0),
            (18, 0, 250, 0.03),
            (-10, 12, 160, -0.04),
            (5, -15, 390, 0.05),
        ]
    ]
    for shot in poses:
        found = shot.channel()
        assert abs(found.value - CHANNEL_MM) < 0.25 * found.u
        # With every doubt but the lens's taken away, the length is there to 0.02 mm.
        sure = replace(shot, sigma_px=0.0, u_offset_mm=0.0, u_tilt_deg=0.0, u_scale=0.0)
        assert sure.channel().value == pytest.approx(CHANNEL_MM, abs=0.02)


@pytest.mark.parametrize("shot", SHOTS)
@pytest.mark.parametrize(
    ("name", "steps"),
    [
        ("sigma_px", (0.0, 1.0, 2.0, 4.0, 8.0)),
        ("u_offset_mm", (0.0, 5.0, 10.0, 20.0)),
        ("u_tilt_deg", (0.0, 5.0, 10.0, 15.0)),
        ("u_scale", (0.0, 0.01, 0.02, 0.04)),
        ("corner_px", (0.1, 10.0, 40.0)),
    ],
)
def test_more_noise_never_gives_a_smaller_U(  # noqa: N802
    shot: Shot, name: str, steps: tuple[float, ...]
) -> None:
    found = [replace(shot, **{name: step}).channel() for step in steps]
    widths = [half_width(q) for q in found]
    # 20,000 draws tell U to 0.7 % (sd); the last step is far beyond that.
    assert all(b >= 0.96 * a for a, b in pairwise(widths))
    assert widths[-1] > widths[0]


def evidence(shot: Shot) -> dict[str, Array | None]:
    axis = shot.axis(4000)
    told = CaliperMarks(relief_mm=3.6, u_relief_mm=0.3, fold_depth_mm=5.4, u_fold_depth_mm=0.25)
    draws = Draws(1, 4000)
    front, behind = cover(told, 1.2, "A", draws) or (None, None)
    return {
        "channel": axis.channel_mm,
        "relief": relief(told, None, "A", draws),
        "cover_front": front,
        "cover_behind": behind,
        "room_below": axis.room_below_mm,
    }


def stricter(criteria: Criteria, name: str, low_by: float, high_by: float) -> Criteria:
    limit = criteria.limits[name]
    low = None if limit.low is None else limit.low + low_by
    high = None if limit.high is None else limit.high - high_by
    return replace(criteria, limits={**criteria.limits, name: Limit(low, high)})


@pytest.mark.parametrize("shot", SHOTS)
@pytest.mark.parametrize("name", ["channel", "relief", "cover_front", "cover_behind", "room_below"])
def test_a_stricter_limit_never_raises_a_probability(shot: Shot, name: str) -> None:
    found = evidence(shot)
    criteria, joint, single = DEFAULT_CRITERIA, [], []
    for _ in range(12):
        decision = decide(found, "firm", criteria)
        joint.append(decision.probability)
        single.append(next(r.probability for r in decision.reasons if r.criterion == name))
        criteria = stricter(criteria, name, 0.3, 0.1)
    for told in (joint, single):
        assert told == sorted(told, reverse=True)
        assert told[-1] < told[0]
    # The other criteria's own probabilities have nothing to do with it.
    before, after = (decide(found, "firm", c).reasons for c in (DEFAULT_CRITERIA, criteria))
    others = [
        {r.criterion: r.probability for r in r_s if r.criterion != name} for r_s in (before, after)
    ]
    assert others[0] == others[1]
