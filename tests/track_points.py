"""GPX text and track points made up for tests; nothing of it is a real place."""

from datetime import UTC, datetime, timedelta

import numpy as np

from ullage.duty.gpx import Points

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
ROOT = '<gpx version="1.1" creator="invented data" xmlns="http://www.topografix.com/GPX/1/1">\n'
METRE = 1.0 / 111_319.4908  # degrees of longitude at the equator: 2 pi 6378137 m / 360
START = datetime(2001, 1, 1, 9, tzinfo=UTC)


def point(east, elevation=None, time=None, north=0.0):
    """Return a track point some metres off 0 N 0 E."""
    ele = "" if elevation is None else f"<ele>{elevation}</ele>"
    stamp = "" if time is None else f"<time>{(START + timedelta(seconds=time)).isoformat()}</time>"
    return f'<trkpt lat="{north * METRE:.9f}" lon="{east * METRE:.9f}">{ele}{stamp}</trkpt>\n'


def gpx(*segments, head=HEAD, root=ROOT):
    """Return the text of a file with one track; every segment is a list of the texts of points."""
    inside = "".join(f"<trkseg>\n{''.join(points)}</trkseg>\n" for points in segments)
    return f"{head}{root}<trk>\n{inside}</trk>\n</gpx>\n"


def straight(length=3000.0, speed=15.0, elevation=lambda way: 600.0 + 0.0 * way, step=1.0):
    """Return the text of a file with a straight drive to the east."""
    clock = np.arange(0.0, length / speed + 0.5 * step, step)
    return gpx([point(speed * t, f"{elevation(speed * t):.3f}", t) for t in clock.tolist()])


def points_of(east, elevation=600.0, time=None, north=0.0, piece=None):
    """Return track points some metres off 0 N 0 E; times count from 1e9 s."""
    east = np.asarray(east, dtype=float)
    north, elevation = (np.broadcast_to(np.asarray(each, float), east.shape) for each in (north, elevation))
    clock = np.full(east.shape, np.nan) if time is None else 1e9 + np.asarray(time, dtype=float)
    pieces = np.zeros(east.shape, dtype=np.int64) if piece is None else np.asarray(piece)
    return Points(north * METRE, east * METRE, elevation.copy(), clock, pieces, 1, 0, "digest")
