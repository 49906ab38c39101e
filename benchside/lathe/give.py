"""Give in closed form: the unit-load theorem over a piece that tapers straight from place to place.

A unit load at x bends the piece with the moment M_x(t); the give at s under it is the integral of
M_x M_s / E I. On two supports M_x is a sum of ramps, so all that is needed is the integral of
(t - p)(t - q) / E I from max(p, q) to the end, and over one straight taper of length h from d0 to
d1 that has the closed forms (each checks with T = h^k / (k d^4) for a cylinder)

    int du / d^4     = h   (d0^2 + d0 d1 + d1^2) / (3 d0^3 d1^3)
    int u du / d^4   = h^2 (2 d0 + d1) / (6 d0^2 d1^3)
    int u^2 du / d^4 = h^3 / (3 d0 d1^3)

the last being the tapered cantilever of the strength-of-materials books. Further supports are
redundants of the force method. No mesh, no solve of any size, and no error but round-off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from benchside.lathe.beam import Floats, Support, Work, yields

_FORCE, _COUPLE = 1, 0  # a load's kink in the moment: a ramp, a step


@dataclass(frozen=True, slots=True)
class _Kinks:
    """Where ramps and steps begin, counted from the piece's end, and the tails from there."""

    at: Floats
    degree: npt.NDArray[np.intp]
    tails: Floats
    ramps: bool


@dataclass(frozen=True, slots=True)
class Loads:
    """Unit loads: where, and a sideways force or (its derivative) a couple there.

    ``reacts`` are the two reactions to each, ``feet`` what it meets of each of them; ``sign`` is
    -1 for a force, +1 for a couple.
    """

    at_mm: Floats
    kinks: _Kinks
    sign: Floats
    reacts: Floats
    feet: Floats


@dataclass(frozen=True, slots=True)
class _Base:
    """The two reactions of the least that holds the piece.

    They are ``reach`` + ``lean`` times the place of a force (``lean`` alone for a couple);
    ``soft`` is how they yield.
    """

    at_mm: Floats
    degree: npt.NDArray[np.intp]
    reach: Floats
    lean: Floats
    soft: Floats


@dataclass(frozen=True, slots=True)
class Held:
    """A piece on its supports, ready to be asked.

    ``tails`` are the integrals of 1, t and t^2 over E I from each of its places to the end.
    ``met`` is what the two reactions meet of each other; ``more`` are the other supports and
    ``answer`` the inverse of the flexibility they meet. ``scale`` is a give typical of the piece.
    """

    work: Work
    tails: Floats
    base: _Base
    feet: _Kinks
    met: Floats
    more: Loads | None
    answer: Floats
    scale: float


def held(work: Work, supports: Sequence[Support]) -> Held:
    """A piece on supports that do hold it (`beam.checked_supports`)."""
    base, rest = _least(supports)
    tails = _tails(work)
    feet = _kinks(work, tails, base.at_mm, base.degree)
    met = _ramps(feet, feet)
    met[[0, 1], [0, 1]] += base.soft
    most = float(work.diameter_mm.max())
    scale = work.length_mm**3 / (48 * work.rigidity_nmm2 * most**4)
    found = Held(work, tails, base, feet, met, None, np.zeros((0, 0)), scale)
    if not rest:
        return found
    more = _loads(
        found,
        np.array([at for at, _, _ in rest]),
        np.array([degree for _, degree, _ in rest]),
    )
    soft = np.diag([compliance for _, _, compliance in rest])
    answer = np.asarray(np.linalg.inv(_determinate(found, more, more) + soft), dtype=np.float64)
    return replace(found, more=more, answer=answer)


def forces(held: Held, at_mm: Floats) -> Loads:
    """A newton at each place. [mm]"""
    return _loads(held, at_mm, np.full(len(at_mm), _FORCE))


def own(held: Held, loads: Loads) -> Floats:
    """The give at each place under a newton there, in work that grows with their number. [mm/N]"""
    t0, t1, t2 = loads.kinks.tails
    p = loads.kinks.at
    give = ((loads.reacts @ held.met - 2 * loads.feet) * loads.reacts).sum(axis=1)
    give += t2 - p * (2 * t1 - p * t0)
    if held.more is not None:
        cross = _determinate(held, loads, held.more)
        give -= ((cross @ held.answer) * cross).sum(axis=1)
    return np.asarray(np.maximum(give, 0.0))


def between(held: Held, x: Loads, at: Loads) -> Floats:
    """The give at each x under a newton at each place. [mm/N, one row for each x]"""
    plain = _determinate(held, x, at)
    if held.more is None:
        return plain
    to, fro = (_determinate(held, v, held.more) for v in (x, at))
    return np.asarray(plain - to @ held.answer @ fro.T)


def _least(supports: Sequence[Support]) -> tuple[_Base, list[tuple[float, int, float]]]:
    """The two reactions that just hold the piece, and every other support as a redundant."""
    sideways = [(s.at_mm, yields(s.stiffness_n_per_mm)) for s in supports if s.stiffness_n_per_mm]
    tilting = [
        (s.at_mm, yields(s.rotation_nmm_per_rad)) for s in supports if s.rotation_nmm_per_rad
    ]
    if len(sideways) >= 2:
        (a, soft_a), (b, soft_b) = sideways[0], sideways[-1]
        degree = np.array([_FORCE, _FORCE])
        reach, lean = np.array([b, -a]) / (b - a), np.array([-1.0, 1.0]) / (b - a)
        sideways = sideways[1:-1]
    else:
        (a, soft_a), (b, soft_b) = sideways[0], tilting[0]
        degree = np.array([_FORCE, _COUPLE])
        reach, lean = np.array([1.0, b]), np.array([0.0, -1.0])
        sideways, tilting = [], tilting[1:]
    base = _Base(np.array([a, b]), degree, reach, lean, np.array([soft_a, soft_b]))
    rest = [(at, _FORCE, soft) for at, soft in sideways]
    return base, rest + [(at, _COUPLE, soft) for at, soft in tilting]


def _kinks(work: Work, tails: Floats, at_mm: Floats, degree: npt.NDArray[np.intp]) -> _Kinks:
    at = at_mm - work.x_mm[0]
    return _Kinks(at, degree, _tails_at(work, tails, at_mm), bool(degree.all()))


def _loads(held: Held, at_mm: Floats, degree: npt.NDArray[np.intp]) -> Loads:
    force = degree == _FORCE
    reacts = np.where(force, at_mm, 1.0)[:, None] * held.base.lean
    reacts += force[:, None] * held.base.reach
    kinks = _kinks(held.work, held.tails, at_mm, degree)
    return Loads(at_mm, kinks, 1.0 - 2.0 * force, reacts, _ramps(kinks, held.feet))


def _determinate(held: Held, x: Loads, s: Loads) -> Floats:
    """What each load of x meets of each of s, on the two reactions alone. [mm/N and the like]

    With R the reactions and sigma = -1 for a force, +1 for a couple (its derivative), the moment
    is R_1 b_1 + R_2 b_2 + sigma b_x, the b being ramps or steps that begin at their places.
    """
    found = _ramps(x.kinks, s.kinks) * (x.sign[:, None] * s.sign)
    found += x.reacts @ (held.met @ s.reacts.T + (s.feet * s.sign[:, None]).T)
    found += (x.feet * x.sign[:, None]) @ s.reacts.T
    return np.asarray(found)


def _ramps(x: _Kinks, s: _Kinks) -> Floats:
    """The integral of two ramps or steps over E I, from where both have begun."""
    p, q = x.at[:, None], s.at
    later = p >= q
    t0, t1, t2 = (
        np.where(later, mine[:, None], theirs)
        for mine, theirs in zip(x.tails, s.tails, strict=True)
    )
    both = t2 - (p + q) * t1 + (p * q) * t0
    if x.ramps and s.ramps:
        return np.asarray(both)
    up, uq = x.degree[:, None], s.degree
    one = t1 - np.where(up == _FORCE, p, q) * t0
    return np.asarray(np.where(up & uq, both, np.where(up | uq, one, t0)))


def _tails(work: Work) -> Floats:
    """The integrals of 1, t and t^2 over E I from each of the piece's places to its end."""
    x = work.x_mm - work.x_mm[0]
    d = work.diameter_mm
    parts = _moments(work, x[:-1], x[1:] - x[:-1], d[:-1], d[1:])
    ends = np.zeros((3, len(x)))
    ends[:, :-1] = np.cumsum(parts[:, ::-1], axis=1)[:, ::-1]
    return ends


def _tails_at(work: Work, tails: Floats, at_mm: Floats) -> Floats:
    """The same from any place."""
    after = work.interval(at_mm) + 1
    here = work.diameter_mm_at(at_mm)
    rest = _moments(
        work, at_mm - work.x_mm[0], work.x_mm[after] - at_mm, here, work.diameter_mm[after]
    )
    return np.asarray(tails[:, after] + rest)


def _moments(work: Work, start: Floats, h: Floats, d0: Floats, d1: Floats) -> Floats:
    """The integrals of 1, t and t^2 over E I along straight tapers that begin at ``start``."""
    slim = h / (6 * work.rigidity_nmm2 * d0 * d1 * d1 * d1)
    found = np.empty((3, len(start)))
    found[0] = 2 * slim * (d0 * d0 + d0 * d1 + d1 * d1) / (d0 * d0)
    u1 = slim * h * (2 * d0 + d1) / d0
    found[1] = u1 + start * found[0]
    found[2] = 2 * slim * h * h + start * (u1 + found[1])
    return found
