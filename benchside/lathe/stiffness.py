"""How stiff a piece of turning is between its supports: give under the tool, and whirling.

The piece is an Euler-Bernoulli beam of round section. Give is computed in closed form by the
unit-load theorem (`benchside.lathe.give`), frequencies with cubic Hermite finite elements
(`benchside.lathe.elements`); either checks the other.

Shear and rotary inertia are left out. They lower the first frequency of a 24 : 1 rod of wood by
about 1 % and their part falls with the square of the slenderness (`shear_part`), while the modulus
of one species scatters by 15 to 20 %. A tailstock's thrust P lowers every frequency by about
sqrt(1 - P / Pcr) and is left out too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
import numpy.typing as npt

from benchside.errors import OutOfRange
from benchside.lathe import elements, give
from benchside.lathe.beam import (
    MOST_STIFF,
    PINNED,
    Floats,
    Support,
    Work,
    checked_places,
    checked_supports,
    yields,
)
from benchside.units import length_told

__all__ = [
    "PINNED",
    "Support",
    "Work",
    "best_steady",
    "critical_rpm",
    "deflection_mm",
    "frequencies_hz",
    "give_mm",
    "gripped",
    "pinned",
    "rpm_when_held",
    "shear_part",
]

STEADY_TOLERANCE_MM = 0.05  # judgement: how near `best_steady` comes to the best place
# judgement; held to a search of every place (tests/published)
_TOOL, _STAND = 56, 36  # so many places of the tool, and of the steady, are looked at first
_FINER = 10  # by so much each further look is closer
_BASINS = (2, 1, 1, 1)  # how many valleys of a look are looked into
# E / (kappa G) of wood: E / G about 16 along the grain, kappa 0.9 for a round section (judgement).
_SHEAR = 16 / 0.9


@dataclass(frozen=True, slots=True)
class _Look:
    """What a search for the steady looks at: where the tool goes, and the give there without it."""

    held: give.Held
    tool: give.Loads
    bare: Floats
    soft: float


def deflection_mm(
    work: Work, force_n: float, at_mm: npt.ArrayLike, supports: Sequence[Support]
) -> npt.NDArray[np.float64]:
    """How far the piece gives under a sideways force, at the place where the force acts.

    ``force_n`` [N]; ``at_mm`` from the datum end, one place or an array [mm]; returns mm, in the
    shape of ``at_mm``. The unit-load theorem, integrated in closed form over the tapers:
    a solid round cantilever with tip dA and root dB gives 64 P L^3 / (3 pi E dA dB^3) at its tip.

    Raises `OutOfRange` for a place or a support off the piece, a force that is no number, and
    supports that do not hold the piece.
    """
    if not np.isfinite(force_n) or force_n < 0:
        raise OutOfRange("The force of the cut is a number of newtons.", field="force_n")
    at = checked_places(work, at_mm)
    held = give.held(work, checked_supports(work, supports))
    return force_n * give.own(held, give.forces(held, at.ravel())).reshape(at.shape)


def give_mm(
    work: Work, force_n: float, supports: Sequence[Support] | None = None
) -> npt.NDArray[np.float64]:
    """The give under the force at each of the piece's own places ``work.x_mm``. [N in, mm out]

    ``supports`` None: pinned at both ends. Raises as `deflection_mm`.
    """
    return deflection_mm(work, force_n, work.x_mm, _or_pinned(work, supports))


def frequencies_hz(
    work: Work, supports: Sequence[Support], modes: int = 1
) -> npt.NDArray[np.float64]:
    """The lowest natural frequencies of sideways bending, lowest first. [Hz]

    Consistent-mass Hermite elements over the exact diameter, refined until an element's own error,
    (beta h)^4 / 1440 with beta^4 = m omega^2 / E I, is below two parts in ten million; a cone to a
    quarter of its thickness adds one in a hundred thousand. Inverse iteration on the banded
    factor, and Rayleigh's quotient from the curvatures, so that round-off stays small. Raises
    `OutOfRange` as `deflection_mm`, and for a count of modes not from 1 to 12.
    """
    if not 1 <= modes <= elements.MOST_MODES:
        raise OutOfRange(f"One to {elements.MOST_MODES} modes can be asked for.", field="modes")
    omega = elements.frequencies_rad_s(work, checked_supports(work, supports), modes)
    return np.asarray(omega / (2 * np.pi), dtype=np.float64)


def critical_rpm(work: Work, supports: Sequence[Support]) -> float:
    """The first whirling speed: where turning meets the first natural frequency. [rpm]

    A round shaft whirls at its natural frequency of bending (classical; gyroscopic effects are
    far below the scatter of wood at these diameters). Raises as `frequencies_hz`.
    """
    return 60.0 * float(frequencies_hz(work, supports)[0])


def rpm_when_held(work: Work, supports: Sequence[Support]) -> tuple[float, float]:
    """The first whirling speed with the ends free to tilt, and with both held fast. [rpm]

    How much a drive centre, a chuck and a live centre hold against tilting is hardly ever known.
    For a plain rod one fast end raises the frequency by (3.9266 / 3.1416)^2 = 1.56, both by 2.27.
    The truth lies between. Raises as `frequencies_hz`.
    """
    loose = [Support(s.at_mm, s.stiffness_n_per_mm) for s in supports]
    ends = {min(s.at_mm for s in supports), max(s.at_mm for s in supports)}
    fast = [gripped(s) if s.at_mm in ends else s for s in loose]
    return critical_rpm(work, loose), critical_rpm(work, fast)


def best_steady(
    work: Work,
    supports: Sequence[Support] | None = None,
    cut_mm: npt.ArrayLike | None = None,
    stiffness_n_per_mm: float = MOST_STIFF,
    *,
    stand_mm: npt.ArrayLike | None = None,
) -> float:
    """Where one steady makes the largest give over what is still to be cut the least. [mm]

    ``supports`` None: pinned at both ends. ``cut_mm`` says what is still to be cut: from where to
    where (or an array of such pairs), or more than two single places; None is the whole piece.
    ``stand_mm``, likewise spans, is where a steady may stand. With a steady of stiffness k at s the
    give at x is d_xx - d_xs^2 / (d_ss + 1/k), d the give without it (force method, classical); its
    largest over x is looked at over a grid of places and then closer and closer about the lowest
    ones, to within 0.05 mm. Of places as good the one nearest the datum end.

    Raises `OutOfRange` as `deflection_mm`, for a stiffness not above 0, and for a span off the
    piece.
    """
    if not stiffness_n_per_mm > 0:
        raise OutOfRange("A steady has a stiffness above 0.", field="stiffness_n_per_mm")
    held = give.held(work, checked_supports(work, _or_pinned(work, supports)))
    tool = give.forces(held, _spread(work, _spans(work, cut_mm), _TOOL))
    looked = _Look(held, tool, give.own(held, tool), yields(stiffness_n_per_mm))
    at = _spread(work, _spans(work, stand_mm), _STAND)
    worst = _worst(looked, at)
    step = work.length_mm / _STAND
    for basins in _BASINS:
        if step <= STEADY_TOLERANCE_MM:
            break
        near = at[_valleys(worst)[:basins], None]
        at = np.sort((near + step * np.linspace(-1, 1, 2 * _FINER + 1)).ravel())
        at = _within(at, _spans(work, stand_mm))
        worst = _worst(looked, at)
        step /= _FINER
    return float(at[worst <= worst.min() * (1 + 1e-9)][0])


def pinned(work: Work) -> tuple[Support, Support]:
    """Both ends held between centres, free to tilt."""
    return Support(float(work.x_mm[0])), Support(float(work.x_mm[-1]))


def gripped(support: Support) -> Support:
    """The same support when it lets the piece not tilt at all: a good chuck, at best."""
    return Support(support.at_mm, support.stiffness_n_per_mm, MOST_STIFF)


def shear_part(work: Work) -> float:
    """About how much of the give at the middle is shear, which this module leaves out (0.02: 2 %).

    12 E I / (kappa G A L^2) for a plain pinned rod of the mean diameter (Timoshenko's beam,
    classical), with E / G = 16 for wood along the grain (judgement). It passes 5 % where the piece
    is shorter than 16 diameters; stiffness is no worry there.
    """
    mean_mm = float(np.trapezoid(work.diameter_mm, work.x_mm) / work.length_mm)
    return 0.75 * _SHEAR * (mean_mm / work.length_mm) ** 2


def _or_pinned(work: Work, supports: Sequence[Support] | None) -> Sequence[Support]:
    return pinned(work) if supports is None else supports


def _spans(work: Work, given: npt.ArrayLike | None) -> list[tuple[float, float]]:
    """From-to pairs; more than two single places are spans of no length."""
    start, end = float(work.x_mm[0]), float(work.x_mm[-1])
    if given is None:
        return [(start, end)]
    spans = np.asarray(given, dtype=np.float64)
    if spans.ndim < 2:
        spans = spans.reshape(1, 2) if spans.size == 2 else np.stack([spans, spans], -1)
    spans = np.sort(spans.reshape(-1, 2), axis=1)
    if spans.size == 0 or not np.all((spans >= start) & (spans <= end)):
        raise OutOfRange(
            "There is no wood there.",
            field="cut_mm",
            hint=f"The piece runs from {length_told(start)} to {length_told(end)}.",
        )
    return [(float(low), float(high)) for low, high in spans]


def _spread(work: Work, spans: list[tuple[float, float]], count: int) -> Floats:
    """Places about a ``count``-th of the piece apart over the spans, their ends among them."""
    step = work.length_mm / count
    parts = [np.linspace(a, b, max(2, ceil((b - a) / step) + 1)) for a, b in spans]
    return np.unique(np.concatenate(parts))


def _within(at: Floats, spans: list[tuple[float, float]]) -> Floats:
    """Those places that lie in a span, and the nearest place in one for each that does not."""
    low, high = np.array(spans).T
    moved = np.minimum(np.maximum(at[:, None], low), high)
    nearest = np.argmin(np.abs(moved - at[:, None]), axis=1)
    return np.unique(moved[np.arange(len(at)), nearest])


def _worst(looked: _Look, at_mm: Floats) -> Floats:
    """The largest give wherever the tool goes, for a steady at each of the places."""
    held = looked.held
    steady = give.forces(held, at_mm)
    own = give.own(held, steady)
    gives = own > 1e-12 * held.scale  # where the piece gives nothing, a steady helps nothing
    help_ = np.where(gives, 1.0 / np.where(gives, own + looked.soft, 1.0), 0.0)
    left = looked.bare[:, None] - give.between(held, looked.tool, steady) ** 2 * help_
    return _peak(looked.tool.at_mm, left)


def _peak(x_mm: Floats, left: Floats) -> Floats:
    """The largest value down each column, peaks read off the parabola through three values."""
    found = left.max(axis=0)
    if len(left) < 3:
        return np.asarray(found)
    low, mid, high = left[:-2], left[1:-1], left[2:]
    even = np.abs(x_mm[:-2] + x_mm[2:] - 2 * x_mm[1:-1]) < 1e-6 * (x_mm[-1] - x_mm[0])
    bend, tilt = 2 * mid - low - high, high - low
    peaks = even[:, None] & (np.abs(tilt) <= 2 * bend) & (bend > 0)
    tops = np.where(peaks, mid + tilt * tilt / np.where(peaks, 8 * bend, 1.0), 0.0)
    return np.asarray(np.maximum(found, tops.max(axis=0)))


def _valleys(worst: Floats) -> list[int]:
    """Where the values are no higher than their neighbours', the lowest first."""
    around = np.concatenate([[np.inf], worst, [np.inf]])
    low = np.flatnonzero((worst <= around[:-2]) & (worst <= around[2:]))
    return [int(i) for i in low[np.argsort(worst[low], kind="stable")]]
