"""Finite elements of a piece of turning: cubic Hermite, the diameter integrated exactly.

An element spans two nodes; inside it the diameter may still change from place to place, and each
such part is integrated by Gauss's rule with five points, exact for E I (fourth power of a straight
taper) times curvature squared and for the consistent mass. Few elements are enough, and many are
worse: the condition of the matrix grows with the fourth power of their number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, isinf

import numpy as np
import numpy.typing as npt
from scipy.linalg import cho_solve_banded, cholesky_banded, eigh

from benchside.lathe.beam import Floats, Support, Work

# judgement, all of them; the published checks hold what comes of it (tests/published)
MOST_MODES = 12
ELEMENTS = 16  # to begin with, and for each mode
AS_GOOD_AS = 2e-7  # of a frequency: refined until an element's own error is below
MOST_ELEMENTS = 240
_CLOSEST = 1 / 600  # of the length: places nearer to one another share an element
_STEEP, _STEEPEST = 0.2, 2.0  # change of an element's diameter over the smaller; beyond, no finer
_SETTLED = 1e-9  # of a frequency squared, from one iteration to the next
_MORE_VECTORS = 3
_ITERATIONS = 40
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(5)
_POINTS, _WEIGHTS = (_POINTS + 1) / 2, _WEIGHTS / 2


@dataclass(frozen=True, slots=True)
class _Mesh:
    """Elements and the parts they are integrated over.

    ``bend`` [parts, 5, 4] times an element's four movements is the root of its share of bending
    energy at each Gauss point, ``move`` of its moving mass; ``element`` says whose each part is.
    """

    nodes_mm: Floats
    element: npt.NDArray[np.intp]
    bend: Floats
    move: Floats
    slenderest: Floats


@dataclass(frozen=True, slots=True)
class _Holds:
    """What is held: freedoms that cannot move, and springs."""

    fast: npt.NDArray[np.intp]
    sprung: npt.NDArray[np.intp]
    spring: Floats


def frequencies_rad_s(work: Work, supports: Sequence[Support], modes: int) -> Floats:
    """The lowest ``modes`` natural frequencies; finer until the elements do not matter. [rad/s]"""
    count = ELEMENTS * (modes + 1)
    while True:
        mesh = _mesh(work, supports, count)
        squares = _lowest(mesh, _holds(mesh, supports), modes)
        error = float(squares[-1] * mesh.slenderest.max()) / 1440
        if error <= AS_GOOD_AS or count >= MOST_ELEMENTS:
            return np.asarray(np.sqrt(squares))
        count = min(ceil(1.1 * count * (error / AS_GOOD_AS) ** 0.25), MOST_ELEMENTS)


def deflection_mm(
    work: Work, force_n: float, at_mm: float, supports: Sequence[Support], count: int
) -> float:
    """The give under a force by ``count`` elements at least, a node under the force. [mm]"""
    mesh = _mesh(work, (*supports, Support(at_mm)), count)
    holds = _holds(mesh, supports)
    loads = np.zeros((2 * len(mesh.nodes_mm), 1))
    place = 2 * int(np.argmin(np.abs(mesh.nodes_mm - at_mm)))
    loads[place] = force_n
    loads[holds.fast] = 0.0
    return float(cho_solve_banded((_factor(mesh, holds), True), loads)[place, 0])


def _mesh(work: Work, supports: Sequence[Support], count: int) -> _Mesh:
    nodes = _nodes(work, np.array(sorted({s.at_mm for s in supports})), work.length_mm / count)
    cuts = np.union1d(nodes, work.x_mm)
    cuts = cuts[(cuts >= nodes[0]) & (cuts <= nodes[-1])]
    element = np.searchsorted(nodes, (cuts[1:] + cuts[:-1]) / 2) - 1
    h = np.diff(nodes)[element][:, None]
    part = np.diff(cuts)[:, None]
    t = cuts[:-1, None] + part * _POINTS
    u = (t - nodes[element][:, None]) / h
    i = work.interval((cuts[1:] + cuts[:-1]) / 2)
    slope = np.diff(work.diameter_mm)[i] / np.diff(work.x_mm)[i]
    diameter = work.diameter_mm[i][:, None] + slope[:, None] * (t - work.x_mm[i][:, None])
    squared = diameter * diameter
    weight = np.sqrt(part * _WEIGHTS)
    rigidity = np.sqrt(work.rigidity_nmm2) * squared * weight / (h * h)
    mass = np.sqrt(work.mass_t_mm3) * diameter * weight
    bend = np.stack([12 * u - 6, h * (6 * u - 4), 6 - 12 * u, h * (6 * u - 2)], axis=-1)
    rest = 1 - u
    move = np.stack(
        [rest * rest * (1 + 2 * u), h * u * rest * rest, u * u * (3 - 2 * u), -h * u * u * rest],
        axis=-1,
    )
    return _Mesh(
        nodes_mm=nodes,
        element=element,
        bend=bend * rigidity[..., None],
        move=move * mass[..., None],
        slenderest=work.mass_t_mm3 / work.rigidity_nmm2 / squared.min(axis=1) * h[:, 0] ** 4,
    )


def _nodes(work: Work, held: Floats, longest_mm: float) -> Floats:
    """Ends, supports, the piece's own places where they are not too close, and some between."""
    closest = work.length_mm * _CLOSEST
    ends = work.x_mm[[0, -1]]
    must = np.union1d(ends, np.clip(held, *ends))
    own = work.x_mm
    cell = np.floor((own - own[0]) / closest)
    own = own[np.concatenate([[True], np.diff(cell) > 0])]
    near = np.searchsorted(must, own)
    gap = np.minimum(
        np.abs(own - must[np.clip(near - 1, 0, None)]),
        np.abs(must[np.clip(near, None, len(must) - 1)] - own),
    )
    base = np.union1d(must, own[gap > closest])
    apart = np.diff(base)
    thick = work.diameter_mm_at(base)
    steep = np.minimum(np.abs(np.diff(thick)) / np.minimum(thick[:-1], thick[1:]), _STEEPEST)
    pieces = np.ceil(np.maximum(apart / longest_mm, steep / _STEEP) - 1e-9).astype(np.intp)
    pieces = np.maximum(pieces, 1)
    first = np.repeat(np.cumsum(pieces) - pieces, pieces)
    share = (np.arange(len(first)) - first) / np.repeat(pieces, pieces)
    inner = np.repeat(base[:-1], pieces) + share * np.repeat(apart, pieces)
    return np.append(inner, base[-1])


def _holds(mesh: _Mesh, supports: Sequence[Support]) -> _Holds:
    fast, sprung, spring = [], [], []
    for support in supports:
        node = int(np.argmin(np.abs(mesh.nodes_mm - support.at_mm)))
        for freedom, k in (
            (2 * node, support.stiffness_n_per_mm),
            (2 * node + 1, support.rotation_nmm_per_rad),
        ):
            if isinf(k):
                fast.append(freedom)
            elif k > 0:
                sprung.append(freedom)
                spring.append(k)
    return _Holds(np.array(fast, np.intp), np.array(sprung, np.intp), np.array(spring, np.float64))


def _factor(mesh: _Mesh, holds: _Holds) -> Floats:
    """The Cholesky factor of the stiffness in banded form, held freedoms taken out."""
    parts = np.swapaxes(mesh.bend, 1, 2) @ mesh.bend
    first = np.searchsorted(mesh.element, np.arange(len(mesh.nodes_mm) - 1))
    each = np.add.reduceat(parts, first, axis=0)
    size = 2 * len(mesh.nodes_mm)
    band = np.zeros((4, size))
    for j in range(4):
        for i in range(j, 4):
            band[i - j, j : j + size - 3 : 2] += each[:, i, j]
    np.add.at(band[0], holds.sprung, holds.spring)
    whole = band[0].max()
    for k in range(1, 4):
        band[k, holds.fast] = 0.0
        before = holds.fast[holds.fast >= k]
        band[k, before - k] = 0.0
    band[0, holds.fast] = whole
    return np.asarray(cholesky_banded(band, overwrite_ab=True, lower=True, check_finite=False))


def _lowest(mesh: _Mesh, holds: _Holds, modes: int) -> Floats:
    """The least squares of frequencies, by inverse iteration with a few vectors at once.

    Rayleigh's quotient is taken from the curvatures, which keep their digits, and not from the
    assembled matrix, in which they cancel.
    """
    factor = _factor(mesh, holds)
    size = 2 * len(mesh.nodes_mm)
    along = (mesh.nodes_mm - mesh.nodes_mm[0]) / (mesh.nodes_mm[-1] - mesh.nodes_mm[0])
    loads = np.zeros((size, modes + _MORE_VECTORS))
    loads[::2] = np.cos(np.pi * along[:, None] * np.arange(modes + _MORE_VECTORS))
    before = np.zeros(modes)
    for _ in range(_ITERATIONS):
        loads[holds.fast] = 0.0
        moves = cho_solve_banded((factor, True), loads, overwrite_b=True, check_finite=False)
        corners = _of_elements(mesh, moves)
        bent, moved = mesh.bend @ corners, mesh.move @ corners
        sprung = moves[holds.sprung]
        energy = _squared(bent) + (sprung.T * holds.spring) @ sprung
        squares, turn = eigh(energy, _squared(moved), check_finite=False)
        if np.all(np.abs(squares[:modes] - before) <= _SETTLED * squares[:modes]):
            break
        before = squares[:modes].copy()
        loads = _onto_nodes(mesh, np.swapaxes(mesh.move, 1, 2) @ (moved @ turn))
    return np.asarray(squares[:modes])


def _of_elements(mesh: _Mesh, moves: Floats) -> Floats:
    """Each part's four movements: [parts, 4, vectors]."""
    pairs = moves.reshape(len(mesh.nodes_mm), 2, -1)
    return np.concatenate([pairs[mesh.element], pairs[mesh.element + 1]], axis=1)


def _onto_nodes(mesh: _Mesh, parts: Floats) -> Floats:
    """The sum at the nodes of what each part puts on its element's two."""
    count = len(mesh.nodes_mm)
    first = np.searchsorted(mesh.element, np.arange(count - 1))
    each = np.add.reduceat(parts, first, axis=0)
    found = np.zeros((count, 2, parts.shape[-1]))
    found[:-1] += each[:, :2]
    found[1:] += each[:, 2:]
    return found.reshape(2 * count, -1)


def _squared(rows: Floats) -> Floats:
    flat = rows.reshape(-1, rows.shape[-1])
    return np.asarray(flat.T @ flat)
