"""What rays meet: the ear, the head behind it, and the post that is in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from embreex import rtcore_scene
from embreex.mesh_construction import TriangleMesh
from numpy.typing import NDArray

from calibration.frames import Array
from sample_images.ears import Ear
from sample_images.shape import head_depth
from sample_images.worn import Worn

Mask = NDArray[np.bool_]
Index = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Body:
    """What rays meet: the ear and the head behind, in the left ear's frame."""

    caster: Any
    vertices: Array
    faces: Index
    normals: Array

    def first(self, origins: Array, directions: Array) -> tuple[Mask, Array, Array]:
        """Return (hit, points, normals) of rays; hit is a mask."""
        result = self.caster.run(
            origins.astype(np.float32),
            directions.astype(np.float32),
            query="INTERSECT",
            output=True,
        )
        face = np.asarray(result["primID"])
        hit = face >= 0
        corner = self.faces[face[hit]]
        u, v = np.asarray(result["u"])[hit, None], np.asarray(result["v"])[hit, None]
        weights = (1 - u - v, u, v)
        place = sum(w * self.vertices[corner[:, i]] for i, w in enumerate(weights))
        normal = sum(w * self.normals[corner[:, i]] for i, w in enumerate(weights))
        normal = normal / np.linalg.norm(normal, axis=1, keepdims=True)
        return hit, np.asarray(place, dtype=np.float64), np.asarray(normal, dtype=np.float64)

    def clear(self, origins: Array, directions: Array) -> Mask:
        """Return which rays meet nothing, (N,) bool."""
        met = self.caster.run(
            origins.astype(np.float32), directions.astype(np.float32), query="OCCLUDED"
        )
        return np.asarray(met) < 0


@lru_cache(maxsize=4)
def body_of(ear: Ear) -> Body:
    """Return the ear with the head's skin about it."""
    return _body(*_skin(ear))


def body_with(ear: Ear, worn: Worn) -> Body:
    """Return the ear with a post in it."""
    vertices, faces = _skin(ear)
    more, ends = worn.mesh()
    return _body(np.concatenate([vertices, more]), np.concatenate([faces, ends + len(vertices)]))


def _skin(ear: Ear) -> tuple[Array, Index]:
    x, y = np.meshgrid(np.arange(-260.0, 261, 4.0), np.arange(-260.0, 261, 4.0), indexing="ij")
    depth = head_depth(x, y) + 0.12
    grid = np.column_stack([x.ravel(), y.ravel(), depth.ravel()])
    n = x.shape[1]
    a = (np.arange(x.shape[0] - 1)[:, None] * n + np.arange(n - 1)).ravel()
    quads = np.concatenate(
        [np.column_stack([a, a + 1, a + n]), np.column_stack([a + 1, a + n + 1, a + n])]
    )
    wall = _wall_faces(ear)
    vertices = np.concatenate([ear.vertices, grid])
    return vertices, np.concatenate([ear.faces[~wall], quads + len(ear.vertices)])


def _body(vertices: Array, faces: Index) -> Body:
    normals = vertex_normals(vertices, faces)
    scene = rtcore_scene.EmbreeScene()
    TriangleMesh(scene, vertices[faces].astype(np.float32))
    return Body(scene, vertices, faces, normals)


def _wall_faces(ear: Ear) -> Mask:
    """Return which faces close the mesh at the grid's walls, (F,) bool."""
    low, high = ear.vertices.min(axis=0) + 0.9, ear.vertices.max(axis=0) - 0.9
    outside = (ear.vertices < [low[0], low[1], -99]) | (ear.vertices > high)
    return np.asarray(outside.any(axis=1)[ear.faces].all(axis=1))


def vertex_normals(vertices: Array, faces: Index) -> Array:
    """Return each vertex's normal, (V, 3), by the areas of its faces."""
    corner = vertices[faces]
    area = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    normals = np.zeros_like(vertices)
    for i in range(3):
        np.add.at(normals, faces[:, i], area)
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    return np.asarray(normals / np.maximum(length, 1e-12))
