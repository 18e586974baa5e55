"""What changed since the baseline: the post's tilt, and where its ends are.

The baseline is the set of photos taken right after insertion.  By one photo of each visit, in the
rim's plane: what leaves that plane isn't seen.  Each change has a U that holds the change of view;
below it the answer is that there is no change that can be measured.

What the uncertainty leaves out: tissue that moved as a whole with what was taken for the rest of
the ear; an end that was changed for one of another shape; anything about healing.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from assess.recheck_carry import (
    TURN_MM,
    Pair,
    baseline_places,
    carried,
    carry_slopes,
    input_moves,
    turning,
)
from assess.recheck_change import ENDS, Change, End, NotComparable, Shift, Turned, drawn
from assess.recheck_factor import k_of, view_shares
from assess.recheck_marks import WornPost
from assess.recheck_plane import register_in_plane
from assess.recheck_registration import Registered
from calibration.draws import Draws
from calibration.frames import Array

MOST_VIEW_DEG = 5.0
"""A view further off from the baseline's isn't compared (by simulation)."""
OUTLINES_TIMES = 1.25
"""What the outlines bring to the uncertainty counts so many times: what is left unexplained.

With every cause that was found in it, on some 2,000 pairs the errors by the outlines were so much
larger than stated (docs/method.md).
"""


def compare(
    label: str,
    pair: Pair,
    posts: tuple[WornPost, WornPost],
    face: float,
    draws: tuple[Draws, Draws],
) -> Change | NotComparable:
    """Return how a post changed from the baseline's photo to a later one.

    Parameters
    ----------
    label : the placement's
    pair : both photos in their rectified planes
    posts : what is known of the post then and now
    face : +1 where the face lies to the left of up as seen (a left ear), else -1
    draws : of the baseline's visit and of this one; they differ in their visits
    """
    if not (_axis_names(pair.baseline.names) and _axis_names(pair.now.names)):
        return NotComparable("no_axis")
    off = pair.view_change_deg(0.0)
    if off > MOST_VIEW_DEG:
        return _view_off(pair, off)
    found = register_in_plane(pair)
    if found is None:
        return NotComparable("no_rim", off)
    off = pair.view_change_deg(float(found.unknowns[0] / TURN_MM))
    if not found.matches:
        return NotComparable("no_match", off)
    outcome = _Outcome(pair, found, posts, face)
    rows, loadings = outcome.rows(), outcome.loadings(label)
    sampled = drawn(rows, loadings, draws)
    seen, rest = (_spread(loadings, len(rows), by_view=by_view) for by_view in (True, False))
    shares = view_shares(pair.view_change(outcome.turn_rad), pair.u_view)
    covariance = seen + rest
    ends = {
        end: Shift(rows[at], covariance[at, at], k_of(rest[at, at], seen[at, at], shares))
        for end, at in outcome.places().items()
    }
    parts = {name: np.sum(part**2, axis=1) for name, part in loadings.items()}
    k = k_of(rest[:1, :1], seen[:1, :1], shares)
    tilt = Turned(float(rows[0]), float(np.sqrt(covariance[0, 0])), k)
    return Change(
        label, (pair.baseline.file, pair.now.file), tilt, ends, off, found, sampled, parts
    )


def _spread(loadings: Mapping[str, Array], size: int, *, by_view: bool) -> Array:
    """Return the covariance of what goes by the unknown change of view, or of the rest."""
    parts = (part @ part.T for name, part in loadings.items() if _by_view(name) == by_view)
    return sum(parts, np.zeros((size, size)))


def _view_off(pair: Pair, off: float) -> NotComparable:
    change = np.rad2deg(np.arctan(pair.view_change(0.0)))
    return NotComparable("view", off, (float(change[0]), float(change[1])))


def _axis_names(names: tuple[str, ...]) -> tuple[str, str] | None:
    """Return the two points that the axis runs through: from the exit's side to the entry's."""
    for pair in (("exit_end", "entry_end"), ("axis_from", "axis_to")):
        if all(name in names for name in pair):
            return pair
    return None


class _Outcome:
    """Tilt (deg) and shifts (mm) at the unknowns, and how they answer to every input."""

    def __init__(
        self, pair: Pair, found: Registered, posts: tuple[WornPost, WornPost], face: float
    ) -> None:
        self.pair, self.found, self.posts, self.face = pair, found, posts, face
        self.first, self.later = (
            baseline_places(pair, found.unknowns),
            carried(pair, found.unknowns),
        )
        self.turn_rad = float(found.unknowns[0] / TURN_MM)
        self.turn = turning(self.turn_rad)
        self.ends = [e for e in ENDS if pair.baseline.has(f"{e}_end") and pair.now.has(f"{e}_end")]
        self.axes = [self._axis(pair.baseline.names), self._axis(pair.now.names)]
        along = self.first[self.axes[0][1]] - self.first[self.axes[0][0]]
        along = along / np.linalg.norm(along)
        self.frame = np.stack([along, face * np.array([along[1], -along[0]])])

    @staticmethod
    def _axis(names: tuple[str, ...]) -> tuple[int, int]:
        pair = _axis_names(names)
        assert pair is not None
        return names.index(pair[0]), names.index(pair[1])

    def places(self) -> dict[End, slice]:
        """Return where each end's shift stands among the rows."""
        return {end: slice(1 + 2 * i, 3 + 2 * i) for i, end in enumerate(self.ends)}

    def rows(self) -> Array:
        """Return the tilt and the shifts, (1 + 2 n,)."""
        (a, b), (c, d) = self.axes
        then, now = self.first[b] - self.first[a], self.later[d] - self.later[c]
        turned = np.arctan2(then[0] * now[1] - then[1] * now[0], then @ now)
        rows = [np.array([-self.face * np.rad2deg(turned)])]
        for end in self.ends:
            first, later = (self._of(end, k) for k in (0, 1))
            shift = self.frame @ (self.later[later] - self.first[first])
            if end == "exit":  # a longer post reaches further down by as much
                shift[0] += self._longer_mm()
            rows.append(shift)
        return np.concatenate(rows)

    def _longer_mm(self) -> float:
        lengths = [post.length_mm for post in self.posts]
        return 0.0 if lengths[0] is None or lengths[1] is None else lengths[1] - lengths[0]

    def _of(self, end: End, visit: int) -> int:
        view = (self.pair.baseline, self.pair.now)[visit]
        return view.index(f"{end}_end")

    def slopes(self, first: Array, later: Array) -> Array:
        """Return what moves of all places, (K, 2, m) and (L, 2, m), do to the rows."""
        out = []
        pairs = zip(self.axes, (self.first, self.later), (first, later), (-1.0, 1.0), strict=True)
        turned = np.zeros(first.shape[2])
        for (a, b), at, moves, sign in pairs:
            way = at[b] - at[a]
            across = np.array([-way[1], way[0]]) / (way @ way)
            turned = turned + sign * across @ (moves[b] - moves[a])
        out.append(-self.face * np.rad2deg(turned)[None])
        for end in self.ends:
            then, now = self._of(end, 0), self._of(end, 1)
            out.append(self.frame @ (later[now] - first[then]))
        return np.concatenate(out)

    def loadings(self, label: str) -> dict[str, Array]:
        """Return what each input's standardised components move of the rows, by its name."""
        pair = self.pair
        by_unknowns = self.slopes(*carry_slopes(pair, self.found.unknowns))
        found = {
            name: (OUTLINES_TIMES if _of_outlines(name) else 1.0) * by_unknowns @ part
            for name, part in self.found.loadings.items()
        }
        nothing = np.zeros_like(pair.baseline.places)[..., None], np.zeros_like(pair.now.places)
        for which, view, told in zip(
            ("baseline", "now"), (pair.baseline, pair.now), pair.prints, strict=True
        ):
            moves = {pair.key(which, n): m for n, m in input_moves(view, told).items()}  # type: ignore[arg-type]
            moves |= {
                f"{which}: {view.names[k]}": _only(view.by_mark, k) for k in self._post(view.names)
            }
            for name, moved in moves.items():
                part = self._direct(which, moved, nothing)
                found[name] = found[name] + part if name in found else part
        return found | self._lean(label) | self._slide()

    @staticmethod
    def _post(names: tuple[str, ...]) -> list[int]:
        return [i for i, name in enumerate(names) if "/" not in name]

    def _direct(self, which: str, moved: Array, nothing: tuple[Array, Array]) -> Array:
        size = moved.shape[2]
        if which == "baseline":
            return self.slopes(moved, np.zeros((*self.later.shape, size)))
        turned = np.einsum("ij,kjm->kim", self.turn, moved)
        return self.slopes(np.zeros((*self.first.shape, size)), turned)

    def _lean(self, label: str) -> dict[str, Array]:
        """Return what the post's lean out of the plane does, the view having changed."""
        lean = np.tan(np.deg2rad(self.posts[1].u_lean_deg))
        change = self.pair.view_change(float(self.found.unknowns[0] / TURN_MM))
        seen = np.outer(change, change) + self.pair.u_view**2 * np.eye(2)
        root = np.linalg.cholesky(seen)
        (a, b), at = self.axes[1], self.later
        along = (at[b] - at[a]) / np.linalg.norm(at[b] - at[a])
        middle = 0.5 * (at[a] + at[b])
        height = lean * ((at - middle) @ along)
        moved = -height[:, None, None] * root
        part = self.slopes(np.zeros((*self.first.shape, 2)), moved)
        return {f"lean of the post of {label}": part}

    def _slide(self) -> dict[str, Array]:
        """Return what the post's sliding along its channel does, at both visits."""
        along = np.zeros((len(self.rows()), 1))
        for at in self.places().values():
            along[at.start] = 1.0
        return {
            f"{which}: post slides": sign * post.u_slide_mm * along
            for which, post, sign in zip(("baseline", "now"), self.posts, (-1.0, 1.0), strict=True)
        }


def _of_outlines(name: str) -> bool:
    """Return whether an input is what the outlines themselves bring."""
    return name in {"own", "baseline: outlines"} or name.endswith(" line")


def _by_view(name: str) -> bool:
    """Return whether an input moves things by the change of view that neither card shows."""
    return name.startswith(("depth of the", "lean of the"))


def _only(moves: Array, place: int) -> Array:
    out = np.zeros_like(moves)
    out[place] = moves[place]
    return out
