"""The health report of a mesh: is it a solid, and if not, where and why. mm."""

from __future__ import annotations

import numpy as np

from .complaints import Complaint, Health, some_places
from .crossing import crossings
from .edges import Edges, body_of_faces, body_volumes_mm3, edges_of
from .raw import Floats, Ints

THIN_MM = 0.05  # twice the volume over the surface: below this the whole is a sheet, not wood
THIN_RATIO = 0.001  # of its largest size, so that a solid in a wrong unit is not called a sheet
SMALL_MM = 3.0  # no piece that is cut with a router is smaller,
LARGE_MM = 5000.0  # and none is larger
LIKELY_INCHES_MM = 40.0  # a piece this small may have been drawn in inches
MOST_FACES_CROSSED = 400_000

_MEND = "let it be mended: add --mend to look, new or check"
_SOLID_AGAIN = "make it one closed solid in the program that drew it, and save it again"


def examine(vertices: Floats, faces: Ints, unit_stated: bool = True) -> Health:
    """Look a mesh over: vertices (n, 3) mm with coinciding corners joined, faces (m, 3)."""
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    size = high - low
    bodies, body = body_of_faces(faces)
    edges = edges_of(faces)
    complaints = [
        *_edge_complaints(vertices, edges),
        *_face_complaints(vertices, faces),
        *size_complaints(float(size.max()), unit_stated),
    ]
    if edges.closed:
        complaints += _closed_complaints(vertices, faces, body, bodies)
    if bodies > 1:
        text = f"holds {bodies} separate bodies; they are taken together as one piece"
        complaints.append(Complaint("several bodies", text, "note", (), ("save each piece in a file of its own",)))
    return Health(tuple(complaints), (float(size[0]), float(size[1]), float(size[2])), bodies)


def size_complaints(largest_mm: float, unit_stated: bool) -> list[Complaint]:
    """Whether a size suggests that the unit is not what it is taken for."""
    if largest_mm < SMALL_MM:
        what = f"is only {largest_mm:.3g} mm large"
        return [Complaint("unit suspect", what, "warning", (), unit_guesses(largest_mm))]
    if largest_mm > LARGE_MM:
        guess = "say the unit: perhaps the file is in micrometres, or was scaled twice"
        return [Complaint("unit suspect", f"is {largest_mm / 1000:.3g} m large", "warning", (), (guess,))]
    if largest_mm < LIKELY_INCHES_MM and not unit_stated:
        text = f"is {largest_mm:.3g} mm large; drawn in inches it would be {largest_mm * 25.4:.0f} mm"
        return [Complaint("unit suspect", text, "note", (), ("say the unit if it is inches",))]
    return []


def unit_guesses(largest_mm: float) -> tuple[str, ...]:
    """What a file too small may have been drawn in, as remedies."""
    found = []
    for unit, ratio in (("inch", 25.4), ("cm", 10.0), ("m", 1000.0)):
        if SMALL_MM <= largest_mm * ratio <= LARGE_MM:
            size = f"{largest_mm * ratio:.4g} mm"
            found.append(f'say its unit: drawn in {unit} it is {size} large (--unit {unit}; shape_unit = "{unit}")')
    return tuple(found) or ("see whether the file was scaled when it was saved",)


def _edge_complaints(vertices: Floats, edges: Edges) -> list[Complaint]:
    middle = vertices[edges.corners].mean(axis=1)
    found = []
    if np.any(edges.open):
        text = f"{np.count_nonzero(edges.open)} edges are open: the surface ends there"
        found.append(Complaint("open edges", text, "stop", some_places(middle[edges.open]), (_MEND, _SOLID_AGAIN)))
    if np.any(edges.against):
        text = f"{np.count_nonzero(edges.against)} edges join faces turned against each other"
        found.append(Complaint("inverted", text, "stop", some_places(middle[edges.against]), (_MEND,)))
    crowded = edges.crowded & ~edges.open
    if np.any(crowded):
        text = f"{np.count_nonzero(crowded)} edges are shared by more than two faces: parts touch along a line"
        found.append(Complaint("shared edges", text, "note", some_places(middle[crowded]), (_SOLID_AGAIN,)))
    return found


def _face_complaints(vertices: Floats, faces: Ints) -> list[Complaint]:
    """Faces given twice, and faces lying back to back with no wood between."""
    found = []
    key = np.sort(faces, axis=1)
    _, which, count = np.unique(key, axis=0, return_inverse=True, return_counts=True)
    twice = count[which] > 1
    if np.any(twice):
        parity = turns_of(faces)
        balance = np.bincount(which, weights=parity, minlength=len(count))
        back_to_back = twice & (balance[which] == 0)
        places = vertices[faces].mean(axis=1)
        if np.any(back_to_back):
            text = f"{np.count_nonzero(back_to_back)} faces lie back to back with no wood between"
            spots = some_places(places[back_to_back])
            found.append(Complaint("zero thickness", text, "stop", spots, (_MEND, "give the sheet a thickness")))
        if np.any(twice & ~back_to_back):
            text = f"{np.count_nonzero(twice & ~back_to_back)} faces are there more than once"
            spots = some_places(places[twice & ~back_to_back])
            found.append(Complaint("duplicate faces", text, "stop", spots, (_MEND,)))
    return found


def turns_of(faces: Ints) -> Ints:
    """+1 where the corner numbers run round in rising order, -1 where they run in falling order."""
    a, b, c = faces.T
    falls = (a > b).astype(int) + (b > c) + (c > a)
    return np.where(falls == 1, 1, -1)


def _closed_complaints(vertices: Floats, faces: Ints, body: Ints, bodies: int) -> list[Complaint]:
    corner = vertices[faces]
    volumes = body_volumes_mm3(corner, body, bodies)
    area = float(np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1).sum() / 2)
    thin_mm = min(THIN_MM, THIN_RATIO * float(np.ptp(corner.reshape(-1, 3), axis=0).max()))
    if area <= 0.0 or 2 * abs(volumes).sum() / area < thin_mm:
        text = "encloses next to no wood: it is a sheet without thickness"
        return [Complaint("zero thickness", text, "stop", some_places(corner.mean(axis=1)[:1]), (_SOLID_AGAIN,))]
    found = []
    inside_out = [k for k in np.flatnonzero(volumes < 0).tolist() if not _within_another(k, corner, body, volumes)]
    if inside_out:
        spots = np.array([corner[body == k].reshape(-1, 3).mean(axis=0) for k in inside_out[:50]])
        text = f"{len(inside_out)} of {bodies} bodies inside out" if bodies > 1 else "is inside out"
        found.append(Complaint("inverted", text, "stop", some_places(spots), (_MEND,)))
    return found + _crossing_complaints(vertices, faces)


def _within_another(k: int, corner: Floats, body: Ints, volumes: Floats) -> bool:
    """Whether a body turned inward lies in the box of one turned outward: then it is a hollow of it."""
    own = corner[body == k].reshape(-1, 3)
    for other in np.flatnonzero(volumes > -volumes[k]):
        around = corner[body == other].reshape(-1, 3)
        if np.all(around.min(axis=0) <= own.min(axis=0)) and np.all(around.max(axis=0) >= own.max(axis=0)):
            return True
    return False


def _crossing_complaints(vertices: Floats, faces: Ints) -> list[Complaint]:
    places = crossings(vertices, faces) if len(faces) <= MOST_FACES_CROSSED else None
    if places is None:
        text = "is too fine to be searched for places where it passes through itself"
        return [Complaint("self-intersecting", text, "note", (), ("save it with a coarser mesh",))]
    if not len(places):
        return []
    text = f"the surface passes through itself in {len(places)} places"
    remedy = "join the overlapping bodies into one in the program that drew them, or add --mend to look, new or check"
    return [Complaint("self-intersecting", text, "warning", some_places(places), (remedy,))]
