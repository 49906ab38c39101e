"""The queries behind a set's overview and its review."""

from __future__ import annotations

from benchside.store import readings
from benchside.store.database import Shop
from benchside.store.readings import Mark, Reading

# Spindle, place, kind, axis, value in mm, moment, and the size shown when it was taken, where that
# was of the revision the set is held to now: bare, since a review reads thousands of them.
Final = tuple[int, str, str, str, float, str, float | None]


def finals(shop: Shop, set_id: int) -> list[Final]:
    """Each final reading that counts, in the order taken: neither superseded nor withdrawn."""
    found: list[Final] = shop.db.execute(
        """
        SELECT spindle, station_id, kind, axis, value_mm, taken_at, CASE WHEN revision =
            (SELECT revision FROM spindle_set WHERE id = :set_id) THEN target_mm END
        FROM reading
        WHERE set_id = :set_id AND phase = 'final'
          AND key NOT IN (SELECT supersedes FROM reading WHERE supersedes IS NOT NULL)
          AND key NOT IN (SELECT about FROM mark WHERE set_id = :set_id AND what = 'withdrawn')
        ORDER BY taken_at, id
        """,
        {"set_id": set_id},
    ).fetchall()
    return found


def fates(shop: Shop, set_id: int) -> list[Mark]:
    """The marks that say what became of a spindle, in the order made; steps and notes aside."""
    rows = shop.rows(
        """
        SELECT * FROM mark WHERE set_id = :set_id AND what IN
            ('done', 'reopened', 'sound', 'spoiled', 'mend', 'odd', 'spare')
        ORDER BY taken_at, id
        """,
        {"set_id": set_id},
    )
    return [Mark(**{name: row[name] for name in row if name != "id"}) for row in rows]


def worked(shop: Shop, set_id: int) -> dict[int, tuple[str, str]]:
    """First and last moment of each spindle that was worked at: its marks and standing readings."""
    rows = shop.rows(
        """
        SELECT spindle, min(taken_at) AS first, max(taken_at) AS last FROM (
            SELECT spindle, taken_at FROM reading
            WHERE set_id = :set_id
              AND key NOT IN (SELECT supersedes FROM reading WHERE supersedes IS NOT NULL)
              AND key NOT IN (SELECT about FROM mark
                              WHERE set_id = :set_id AND what = 'withdrawn')
            UNION ALL
            SELECT spindle, taken_at FROM mark WHERE set_id = :set_id AND spindle IS NOT NULL)
        GROUP BY spindle
        """,
        {"set_id": set_id},
    )
    return {row["spindle"]: (row["first"], row["last"]) for row in rows}


def after_turning(shop: Shop, set_id: int) -> str | None:
    """The last moment something was done with a set off the lathe: weighed, read dry, sized,
    fitted. None where nothing was."""
    row = shop.row(
        """
        SELECT max(at) AS last FROM (
            SELECT taken_at AS at FROM weighing WHERE set_id = :set_id AND struck_at IS NULL
            UNION ALL
            SELECT taken_at FROM later_reading WHERE set_id = :set_id AND struck_at IS NULL
            UNION ALL
            SELECT at FROM fitted WHERE set_id = :set_id)
        """,
        {"set_id": set_id},
    )
    return row["last"] if row else None


def taps(shop: Shop, set_id: int) -> dict[int, list[float]]:
    """The moment of every tap that concerns a spindle, by spindle, in seconds from one zero."""
    found: dict[int, list[float]] = {}
    for spindle, moment_s in shop.db.execute(
        """
        SELECT spindle, julianday(taken_at) * 86400 FROM reading WHERE set_id = :set_id
        UNION ALL
        SELECT spindle, julianday(taken_at) * 86400 FROM mark
        WHERE set_id = :set_id AND spindle IS NOT NULL
        """,
        {"set_id": set_id},
    ):
        found.setdefault(spindle, []).append(moment_s)
    return found


def timed(shop: Shop, set_id: int) -> list[tuple[float, int, str, str, str, str]]:
    """Every tap that concerns a spindle: its moment in seconds from one zero, the spindle, and of a
    mark its step, of a reading its place, kind and phase ("" for what it has not)."""
    found: list[tuple[float, int, str, str, str, str]] = shop.db.execute(
        """
        SELECT julianday(taken_at) * 86400, spindle, '', station_id, kind, phase FROM reading
        WHERE set_id = :set_id
        UNION ALL
        SELECT julianday(taken_at) * 86400, spindle, step_id, '', '', '' FROM mark
        WHERE set_id = :set_id AND spindle IS NOT NULL
        ORDER BY 1
        """,
        {"set_id": set_id},
    ).fetchall()
    return found


def calipers_noted(shop: Shop, set_id: int) -> dict[str, str]:
    """When each lettered caliper was last checked, dropped or set anew, where that was noted."""
    rows = shop.rows(
        """
        SELECT about, max(taken_at) AS at FROM mark
        WHERE set_id = :set_id AND what IN ('caliper_checked', 'caliper_dropped')
        GROUP BY about
        """,
        {"set_id": set_id},
    )
    return {row["about"]: row["at"] for row in rows}


def history(shop: Shop, set_id: int, spindle: int) -> list[Reading]:
    """Every reading of a spindle, and those that took one of them over to another piece."""
    moved = shop.rows(
        """
        SELECT key FROM reading WHERE set_id = :set_id AND spindle <> :spindle AND supersedes IN
            (SELECT key FROM reading WHERE set_id = :set_id AND spindle = :spindle)
        """,
        {"set_id": set_id, "spindle": spindle},
    )
    keys = {row["key"] for row in moved}
    own = readings.every(shop, set_id, spindle)
    if not keys:
        return own
    return own + [reading for reading in readings.every(shop, set_id) if reading.key in keys]
