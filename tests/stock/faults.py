"""Whether a blank has a fault in it, by other means than those that keep it clear of one."""

from __future__ import annotations

from math import hypot

from benchside.stock.shapes import EPS_MM, Defect, Placed, corners, depths


def touches(placed: Placed, defect: Defect, slope: float, thickness_mm: float) -> bool:
    """Whether a blank has any of a fault in it, by the separating lines of the two rectangles."""
    one, two = depths(defect, thickness_mm)
    low, high = placed.depth_mm + EPS_MM, placed.depth_mm + placed.side_mm - EPS_MM
    if low >= one and high <= thickness_mm - two:
        return False
    blank = corners(placed.at_mm, placed.across_mm, placed.length_mm, placed.side_mm, slope)
    fault = corners(defect.at_mm, defect.across_mm, defect.length_mm, defect.width_mm, 0.0)
    size = hypot(1.0, slope)
    for x, y in ((1.0, 0.0), (0.0, 1.0), (1 / size, slope / size), (-slope / size, 1 / size)):
        of_blank = [a * x + b * y for a, b in blank]
        of_fault = [a * x + b * y for a, b in fault]
        slack = 10 * EPS_MM
        if min(of_blank) >= max(of_fault) - slack or min(of_fault) >= max(of_blank) - slack:
            return False
    return True
