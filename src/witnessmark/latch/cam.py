"""The cam that throws the bolts: its shape, how steeply it pushes, the torque it asks for, where it jams or holds.

Question  what torque turns the cam against a bolt, and can a cutter mill it
Frame     polar about the rotor's axis; angles from where the bolt is drawn in (0) to where it is thrown
Units     mm, N, N mm, radians (degrees where a name says so)
Arrays    angles (n,)
Method    the bolt's tip is a ball that rolls on the profile; its middle follows the pitch curve Rp. Pressure angle f:
          tan f = Rp' / Rp. With friction mc on the cam and mg in the guide (B long, the tip A before it):
          N = P / (cos f - mc sin f - mg (2A/B + 1)(sin f + mc cos f)), and no N is enough where that is nothing or
          less. The bolt moves evenly curved between its ends (3-4-5 polynomial), or as an ellipse drives it
Source    Norton, Design of Machinery (textbook, from memory) for the polynomial and the pressure angle; the rest is
          plane statics
Valid     thin bolts along the radius; slow turning
Refuses   sizes of nothing, rises that overlap (ValueError)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DENSE = 3601
TRUE_MM = 0.01


@dataclass(frozen=True)
class Ellipse:
    """A profile with half axes ``low`` and ``low + throw``: two lobes."""

    low_mm: float
    throw_mm: float
    ball_mm: float
    lobes: int = 2

    def __post_init__(self) -> None:
        _checked(self)
        if self.lobes != 2:
            raise ValueError("an ellipse has two lobes")

    def pitch_mm(self, turn_rad: Floats) -> tuple[Floats, Floats]:
        """Rp and dRp / dturn."""
        wanted = np.asarray(turn_rad, np.float64)
        t = np.linspace(0.0, 2.0 * math.pi, DENSE)
        x, y, nx, ny = self._normals(t)
        at = np.unwrap(np.arctan2(y + self.ball_mm * ny, x + self.ball_mm * nx))
        t = np.interp(np.mod(wanted, 2.0 * math.pi), at, t)
        for _ in range(3):  # Newton, on the angle of the ball's middle
            x, y, nx, ny = self._normals(t)
            px, py = x + self.ball_mm * nx, y + self.ball_mm * ny
            dx, dy = self._slopes(t)
            off = np.angle(np.exp(1j * (np.arctan2(py, px) - wanted)))
            t = t - off * (px**2 + py**2) / (px * dy - py * dx)
        x, y, nx, ny = self._normals(t)
        px, py = x + self.ball_mm * nx, y + self.ball_mm * ny
        dx, dy = self._slopes(t)
        radius = np.hypot(px, py)
        return radius, radius * (px * dx + py * dy) / (px * dy - py * dx)

    def _axes(self) -> tuple[float, float]:
        return self.low_mm, self.low_mm + self.throw_mm

    def _normals(self, t: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        a, b = self._axes()
        nx, ny = b * np.cos(t), a * np.sin(t)
        length = np.hypot(nx, ny)
        return a * np.cos(t), b * np.sin(t), nx / length, ny / length

    def _slopes(self, t: Floats) -> tuple[Floats, Floats]:
        """d(ball's middle) / dt: the ellipse's own, longer by the ball over its radius of curvature."""
        a, b = self._axes()
        speed = np.hypot(a * np.sin(t), b * np.cos(t))
        more = 1.0 + self.ball_mm * a * b / speed**3
        return -a * np.sin(t) * more, b * np.cos(t) * more


@dataclass(frozen=True)
class Dwell:
    """Rest low, rise over ``rise_rad``, rest high, and fall as it rose."""

    low_mm: float
    throw_mm: float
    ball_mm: float
    rise_rad: float
    lobes: int = 2

    def __post_init__(self) -> None:
        _checked(self)
        if not 0.0 < self.rise_rad <= math.pi / self.lobes:
            raise ValueError(f"{self.lobes} rises of {math.degrees(self.rise_rad):g} degrees, and falls, overlap")

    @property
    def rest_rad(self) -> float:
        """How long it rests low, and high."""
        return math.pi / self.lobes - self.rise_rad

    def pitch_mm(self, turn_rad: Floats) -> tuple[Floats, Floats]:
        """Rp and dRp / dturn."""
        period = 2.0 * math.pi / self.lobes
        turn = np.mod(np.asarray(turn_rad, np.float64) + period / 2, period) - period / 2
        u = np.clip((np.abs(turn) - self.rest_rad / 2) / self.rise_rad, 0.0, 1.0)
        rise = u**3 * (10.0 - 15.0 * u + 6.0 * u**2)
        speed = 30.0 * u**2 * (1.0 - u) ** 2 / self.rise_rad
        return (
            self.low_mm + self.ball_mm + self.throw_mm * rise,
            self.throw_mm * speed * np.sign(turn),
        )


Cam = Ellipse | Dwell


def _checked(cam: Ellipse | Dwell) -> None:
    if min(cam.low_mm, cam.throw_mm, cam.ball_mm) <= 0 or cam.lobes < 1:
        raise ValueError("a cam has a low radius, a throw and a ball above 0, and one lobe at least")


@dataclass(frozen=True)
class Guide:
    """Where the bolt slides: ``before_mm`` from the tip's ball to it, ``length_mm`` long, and the frictions."""

    before_mm: float
    length_mm: float
    cam_ratio: float
    guide_ratio: float

    @property
    def binds(self) -> float:
        """Friction per side push: mg (2 A / B + 1)."""
        return self.guide_ratio * (2.0 * self.before_mm / self.length_mm + 1.0)


def pressure_angle_rad(cam: Cam, turn_rad: Floats) -> Floats:
    radius, slope = cam.pitch_mm(turn_rad)
    return np.asarray(np.arctan2(slope, radius))


def torque_per_n(cam: Cam, guide: Guide, turn_rad: Floats) -> Floats:
    """Torque over the force P that holds the bolt in; inf where it jams. Below 0: the bolt turns the cam."""
    radius, slope = cam.pitch_mm(turn_rad)
    angle = np.arctan2(slope, radius)
    mc = guide.cam_ratio
    room = np.cos(angle) - mc * np.sin(angle) - guide.binds * (np.abs(np.sin(angle)) + mc * np.cos(angle))
    normal = 1.0 / np.where(room > 0, room, np.nan)
    side = normal * (np.sin(angle) + mc * np.cos(angle))
    out = normal * (np.cos(angle) - mc * np.sin(angle))
    torque = (radius - cam.ball_mm * np.cos(angle)) * side + cam.ball_mm * np.sin(angle) * out
    return np.where(room > 0, torque, np.inf)


def jams_rad(guide: Guide) -> float:
    """The pressure angle from which no torque moves the bolt."""
    low, high = 0.0, math.pi / 2
    for _ in range(60):
        angle = (low + high) / 2
        room = math.cos(angle) - guide.cam_ratio * math.sin(angle)
        room -= guide.binds * (math.sin(angle) + guide.cam_ratio * math.cos(angle))
        low, high = (angle, high) if room > 0 else (low, angle)
    return low


def holds_rad(cam: Cam, friction_ratio: float) -> float:
    """How far to either side of the bolt's furthest throw the cam stays put of itself: |tan f| below the friction."""
    turn = math.pi / cam.lobes + np.linspace(0.0, math.pi / cam.lobes, DENSE)
    slides = np.abs(np.tan(pressure_angle_rad(cam, turn))) >= friction_ratio
    return float(turn[slides][0] - turn[0]) if slides.any() else math.pi / cam.lobes


def profile_mm(cam: Cam, turn_rad: Floats) -> Floats:
    """Where ball and cam touch, (n, 2): the pitch curve less the ball along its inward normal."""
    radius, slope = cam.pitch_mm(turn_rad)
    angle = np.arctan2(slope, radius)
    cosine, sine = np.cos(turn_rad), np.sin(turn_rad)
    middle = np.column_stack([radius * cosine, radius * sine])
    away = np.column_stack([np.cos(turn_rad - angle), np.sin(turn_rad - angle)])
    return np.asarray(middle - cam.ball_mm * away)


def polyline_mm(cam: Cam, true_mm: float = TRUE_MM) -> Floats:
    """The profile as a closed ring of corners, no chord further from it than ``true_mm``."""
    turn = np.linspace(0.0, 2.0 * math.pi, 20 * DENSE)
    dense = profile_mm(cam, turn)
    kept, at = [0], 0
    while at < len(dense) - 1:
        step = min(64, len(dense) - 1 - at)
        while at + 2 * step < len(dense) and _bulge(dense[at : at + 2 * step + 1]) < 0.8 * true_mm:
            step *= 2
        while step > 1 and _bulge(dense[at : at + step + 1]) >= 0.8 * true_mm:
            step = step * 3 // 4
        at += step
        kept.append(at)
    return dense[kept[:-1]]


def _bulge(points: Floats) -> float:
    chord = points[-1] - points[0]
    off = points - points[0]
    return float(np.abs(chord[0] * off[:, 1] - chord[1] * off[:, 0]).max() / max(np.hypot(*chord), 1e-12))


def undercut(cam: Cam) -> bool:
    """Whether the ball is rounder than the pitch curve bends anywhere: then the profile would cross itself."""
    bend = _bend(cam, of_profile=False)
    return bool((bend > 1.0 / cam.ball_mm).any())


def mills_mm(cam: Cam) -> float:
    """The largest cutter radius that reaches all of the profile from outside; inf where it is nowhere hollow."""
    bend = _bend(cam, of_profile=True)
    hollow = float(-bend.min())
    return 1.0 / hollow if hollow > 1e-9 else math.inf


def _bend(cam: Cam, of_profile: bool) -> Floats:
    """Curvature of the pitch curve or of the profile, above 0 where it bulges, (n,)."""
    turn = np.linspace(0.0, 2.0 * math.pi, DENSE)[:-1]
    step = turn[1] - turn[0]
    radius, slope = cam.pitch_mm(turn)
    second = (np.roll(slope, -1) - np.roll(slope, 1)) / (2.0 * step)
    pitch = (radius**2 + 2.0 * slope**2 - radius * second) / (radius**2 + slope**2) ** 1.5
    return np.asarray(pitch / (1.0 - cam.ball_mm * pitch) if of_profile else pitch)
