"""A parametric ear as a mesh: at once the picture and the truth.

Frame: a left ear seen from its side; x toward the back of the head, y down, z into the head,
the viewer at -z, millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray
from skimage.measure import marching_cubes

from calibration.frames import Array
from sample_images.curves import Line
from sample_images.parameters import ALL_EARS, EarParameters
from sample_images.shape import Grid, field, helix_line

STEP_MM = 0.45


@dataclass(frozen=True, eq=False)
class Ear:
    """A mesh of an ear with the line of its helix and a ray caster."""

    name: str
    parameters: EarParameters
    vertices: Array  # (V, 3) mm
    faces: NDArray[np.int64]  # (F, 3)
    line: Line
    caster: Any  # trimesh's ray caster on embree

    def hits(self, origins: Array, directions: Array) -> Array:
        """Return the first place each ray meets the ear, (N, 3) mm; NaN where it doesn't.

        Parameters
        ----------
        origins, directions : (N, 3) arrays
        """
        faces = self.caster.intersects_first(origins, directions)
        met = faces >= 0
        out = np.full(origins.shape, np.nan)
        if met.any():
            corners = self.vertices[self.faces[faces[met]]]
            normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
            reach = np.einsum("nk,nk->n", corners[:, 0] - origins[met], normal)
            reach = reach / np.einsum("nk,nk->n", directions[met], normal)
            out[met] = origins[met] + reach[:, None] * directions[met]
        return out

    def crossings(self, origin: Array, direction: Array) -> Array:
        """Return all distances (mm) at which one ray crosses the surface, nearest first."""
        places, _, _ = self.caster.intersects_location(
            origin[None], direction[None], multiple_hits=True
        )
        return np.sort((places - origin) @ direction)


@lru_cache(maxsize=32)
def build_ear(name: str, step_mm: float = STEP_MM) -> Ear:
    """Return the ear of that name; built once for each step."""
    return ear_of(name, ALL_EARS[name], step_mm)


def ear_of(name: str, parameters: EarParameters, step_mm: float = STEP_MM) -> Ear:
    """Return the ear of those parameters, built anew."""
    grid = Grid.of(step_mm)
    values = field(parameters, grid)
    for axis in range(3):  # close the mesh at the grid's walls
        ends = np.moveaxis(values, axis, 0)
        ends[0], ends[-1] = np.maximum(ends[0], 0.1), np.maximum(ends[-1], 0.1)
    vertices, faces, _, _ = marching_cubes(values, 0.0, spacing=(step_mm,) * 3)
    vertices = vertices + np.array([grid.x[0], grid.y[0], grid.z[0]])
    mesh = trimesh.Trimesh(vertices, faces, process=True)
    trimesh.smoothing.filter_taubin(mesh, lamb=0.5, nu=0.53, iterations=12)
    mesh.fix_normals()
    return Ear(
        name,
        parameters,
        np.asarray(mesh.vertices, dtype=np.float64),
        np.asarray(mesh.faces, dtype=np.int64),
        helix_line(parameters),
        trimesh.ray.ray_pyembree.RayMeshIntersector(mesh, scale_to_box=False),
    )
