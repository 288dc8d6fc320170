"""The demo swimmer's body: one mesh, made once, that follows the bones of any pose."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.demo.body_shape import PARTS, primitives
from casebook.demo.proportions import REFERENCE_M
from casebook.demo.solid import Frame, Primitive, distance_to, outward, sampled, surface
from casebook.demo.swimmer import rest_bones

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

#: Grid of the trunk and limbs, and of head, hands and feet. [m]
STEP_M, FINE_STEP_M = 0.012, 0.006
#: Over which distance the skin passes from one bone to the next. [m]
SKIN_M = 0.018
BONES_PER_VERTEX = 4


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """The mesh at rest (arms out sideways), at a stature of 1.78 m.

    Attributes
    ----------
    vertices, normals : (V, 3) float array
        Places [m] and outward unit normals at rest.
    triangles : (M, 3) int array
        Counter-clockwise as seen from outside; every part is closed for itself.
    part : (V,) int array
        Index into ``body_shape.PARTS``.
    bones : tuple of str
    bone, weight : (V, 4) arrays
        The bones that move a vertex, and their shares, which sum to 1.
    rest : dict
        Bone frames at rest.
    """

    vertices: Array
    normals: Array
    triangles: NDArray[np.int64]
    part: NDArray[np.int64]
    bones: tuple[str, ...]
    bone: NDArray[np.int64]
    weight: Array
    rest: dict[str, Frame]

    def posed(self, bones: dict[str, Frame], stature_m: float) -> tuple[Array, Array]:
        """Vertices [m] and unit normals, (V, 3) each, with the bones in this pose (frames of a single time)."""
        scale = stature_m / REFERENCE_M
        moves = np.empty((len(self.bones), 3, 4))
        for i, name in enumerate(self.bones):
            (rest_turn, rest_origin), (turn, origin) = self.rest[name], bones[name]
            change = turn @ rest_turn.T
            moves[i, :, :3], moves[i, :, 3] = change, origin - change @ (rest_origin * scale)
        blend = np.einsum("vk,vkij->vij", self.weight, moves[self.bone])
        vertices = np.einsum("vij,vj->vi", blend[:, :, :3], self.vertices * scale) + blend[:, :, 3]
        return vertices, _unit(np.einsum("vij,vj->vi", blend[:, :, :3], self.normals))


def volume_m3(vertices: Array, triangles: NDArray[np.int64]) -> float:
    """Volume inside a closed mesh, by the divergence theorem. [m3]"""
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    return float((a * np.cross(b, c)).sum() / 6.0)


@lru_cache(maxsize=2)
def make_body(step_m: float = STEP_M, fine_step_m: float = FINE_STEP_M) -> Body:
    """Mesh the body; takes a fraction of a second and is kept for the process."""
    rest = rest_bones(REFERENCE_M)
    names = tuple(sorted(rest))
    meshes = []
    for part in PARTS:
        own = [p for p in primitives() if p.part == part]
        values, low = sampled(own, rest, step_m if part == "body" else fine_step_m)
        vertices, triangles = surface(values, low, step_m if part == "body" else fine_step_m)
        meshes.append((vertices, triangles, *_skin(own, vertices, rest, names)))
    first = np.cumsum([0] + [len(m[0]) for m in meshes])
    vertices = np.concatenate([m[0] for m in meshes])
    triangles = np.concatenate([m[1] + start for m, start in zip(meshes, first[:-1], strict=True)])
    part_of = np.repeat(np.arange(len(PARTS)), np.diff(first))
    bone, weight = (np.concatenate([m[i] for m in meshes]) for i in (2, 3))
    normals = outward(primitives(), vertices, rest)
    return Body(vertices, normals, triangles, part_of, names, bone, weight, rest)


def _skin(
    own: list[Primitive], vertices: Array, rest: dict[str, Frame], names: tuple[str, ...]
) -> tuple[NDArray[np.int64], Array]:
    """The strongest bones of every vertex and their shares: each bone pulls by how near its own solids are."""
    distance = np.full((len(vertices), len(names)), np.inf)
    for primitive in own:
        column = names.index(primitive.bone)
        distance[:, column] = np.minimum(distance[:, column], distance_to(primitive, vertices, rest[primitive.bone]))
    pull = np.exp(-(distance - distance.min(1, keepdims=True)) / SKIN_M)
    bone = np.argsort(-pull, 1, kind="stable")[:, :BONES_PER_VERTEX]
    weight = np.take_along_axis(pull, bone, 1)
    return bone, weight / weight.sum(1, keepdims=True)


def _unit(v: Array) -> Array:
    return v / (np.linalg.norm(v, axis=-1, keepdims=True) + 1e-12)
