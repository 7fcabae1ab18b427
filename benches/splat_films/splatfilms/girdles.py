"""Shoulders, arms, sternum, pelvis, hips, skull and jaw in the world (mm, 1/mm); side: left -1, right +1."""
import numpy as np
from scipy.interpolate import CubicSpline

from .levels import INDEX
from .primitives import F4, Rod, ruled_surface, triangle_cloud, tube_cloud, unit_cells

ILIUM_CELLS = (230, 190, 9)         # along the crest, downward, through the thickness
SKULL_POINTS = 220000
SKULL_RADII = np.array([70, 88, 78])


def at(pose, name):
    """Middle of a level's body."""
    return pose.centre[INDEX[name]]


def raised(view):
    """1 where the arms are held forward (lateral films), else 0: they hang."""
    return 1 if view == "lateral" else 0


def shoulder_and_elbow(child, pose, view, side):
    """Middle of the shoulder joint and of the elbow."""
    size, top = child.size, at(pose, "T2")
    forward = 40 * size * raised(view)
    shoulder = np.array([side * 148 * size, top[1] - 5 * size + forward, top[2] + 4 * size + side * 3])
    if raised(view):
        reach = np.array([-side * 20 * size, 220 * size * np.cos(child.arms), 220 * size * np.sin(child.arms)])
    else:
        reach = np.array([side * 18 * size, 0, -230 * size])
    return shoulder, shoulder + reach


def head_middle(child, pose):
    """Middle of the head, above and in front of C3."""
    return pose.centre[-1] + np.array([0, 22 * child.size, 95])


def sternum_top_y(child, pose):
    """Y of the cage's front at the height of T3."""
    return at(pose, "T3")[1] + 62 * child.size


def arm_rods(child, pose, view, side):
    """Clavicle in two pieces, head and shaft of the humerus."""
    s, front = child.size, sternum_top_y(child, pose)
    shoulder, elbow = shoulder_and_elbow(child, pose, view, side)
    arm = elbow - shoulder
    bend = (side * 70 * s, front - 20 * s, at(pose, "T2")[2] + 8 * s)
    inner = (side * 12 * s, front - 8 * s, at(pose, "T3")[2])
    outer = shoulder + np.array([-side * 12 * s, 0, 8 * s])
    return [
        Rod(inner, bend, (0, 0, 1), (5 * s, 5 * s), (5 * s, 5 * s)),
        Rod(bend, outer, (0, 0, 1), (5 * s, 5 * s), (5.5 * s, 4 * s)),
        Rod(shoulder, shoulder + arm * 0.12, (1, 0, 0), (19 * s, 19 * s), (14 * s, 14 * s)),
        Rod(shoulder + arm * 0.05, elbow, (1, 0, 0), (10 * s, 10 * s), (9 * s, 9 * s)),
    ]


def scapula_corners(child, pose, view, side):
    """Outer (at the joint), upper inner and lower corner of a scapula; raised arms swing it outward."""
    s, swing = child.size, raised(view)
    t2, t3, t7 = at(pose, "T2"), at(pose, "T3"), at(pose, "T7")
    outer = np.array([side * 128 * s, t2[1] - 10 * s + 30 * s * swing, t3[2] + 2])
    inner = np.array([side * 70 * s + side * 20 * s * swing, t3[1] - 34 * s, t2[2] - 4])
    lower = np.array([side * 78 * s + side * 22 * s * swing, t7[1] - 40 * s + 12 * s * swing, t7[2]])
    return outer, inner, lower


def scapula_rods(child, pose, view, side):
    """Outer and inner border, spine and coracoid process of a scapula."""
    s = child.size
    outer, inner, lower = scapula_corners(child, pose, view, side)
    acromion = outer + np.array([side * 10 * s, -8 * s, 16 * s])
    return [
        Rod(outer, lower, (0, 1, 0), (3.5 * s, 4.5 * s), (3 * s, 3.5 * s)),
        Rod(inner, lower, (0, 1, 0), (2 * s, 2 * s), (2 * s, 2 * s)),
        Rod(inner * 0.7 + lower * 0.3, acromion, (0, 0, 1), (4 * s, 3 * s), (5 * s, 6 * s)),
        Rod(outer, outer + np.array([side * 2, 25 * s, 6 * s]), (0, 0, 1), (6 * s, 6 * s), (4 * s, 5 * s)),
    ]


def scapula_blade(child, pose, view, side, rng):
    """Cloud of the thin blade between a scapula's corners."""
    corners = scapula_corners(child, pose, view, side)
    return triangle_cloud(corners, 2.0 * child.size, child.cortex * 0.45, rng)


def sternum_rod(child, pose):
    """The sternum as one flat rod."""
    s = child.size
    top = (0, sternum_top_y(child, pose) - 4 * s, at(pose, "T3")[2] + 2)
    return Rod(top, (0, at(pose, "T8")[1] + 118 * s, at(pose, "T9")[2]), (1, 0, 0), (17 * s, 5 * s), (14 * s, 4.5 * s))


def beside_sacrum(child, pose, side, x, y, z):
    """A point of the pelvis, from the middle of S1; x outward.  The pelvis stays level."""
    return pose.centre[0] + np.array([side * x * child.size, y * child.size, z * child.size])


def hip_rods(child, pose, side):
    """Head and neck of the femur, pubis and ischium."""
    s = child.size

    def point(x, y, z):
        """A point of this side."""
        return beside_sacrum(child, pose, side, x, y, z)

    hip = point(86, 28, -98)
    return [
        Rod(hip, hip + np.array([0, 0, 0.5]), (1, 0, 0), (21 * s, 21 * s), (21 * s, 21 * s)),
        Rod(hip, hip + np.array([side * 42 * s, -5, -28 * s]), (0, 0, 1), (15 * s, 13 * s), (16 * s, 14 * s)),
        Rod(point(60, 48, -95), point(6, 58, -118), (0, 0, 1), (8 * s, 7 * s), (14 * s, 7 * s)),
        Rod(point(75, 0, -110), point(52, 0, -160), (0, 0, 1), (14 * s, 12 * s), (12 * s, 11 * s)),
    ]


def ilium(child, pose, side, rng):
    """Cloud of a pelvic blade: a bowed plate between its crest and its lower edge, thickest at both."""
    size = child.size

    def curve(*places):
        """Smooth curve from the back to the front."""
        return CubicSpline([0, 0.33, 0.7, 1], [beside_sacrum(child, pose, side, *place) for place in places])

    crest = curve((40, -52, -4), (72, -35, 34), (112, 22, 30), (118, 68, -22))
    low = curve((38, -50, -48), (58, -30, -62), (84, 20, -75), (100, 52, -70))
    u, v, through = unit_cells(ILIUM_CELLS, 2, rng)
    points, normal, area = ruled_surface(crest, low, u, v)
    normal /= area[:, None]
    normal *= np.sign(normal[:, :1] * points[:, :1])        # outward
    bow = np.sin(np.pi * v) * np.sin(np.pi * u) * 10 * size
    thickness = (3.5 + 7 * np.exp(-v / 0.10) + 5 * v ** 3) * size
    points = points + normal * (bow + (through - 0.5) * thickness)[:, None]
    cortex = (np.minimum(through, 1 - through) * thickness < 0.9) | (v < 0.012)
    attenuation = np.where(cortex, child.cortex * 0.75, child.spongy * 0.85)
    return points.astype(F4), (attenuation * area * thickness / np.prod(ILIUM_CELLS)).astype(F4)


def skull(child, pose, rng):
    """Cloud of the skull's vault, a rough shell without the lowest part."""
    middle = head_middle(child, pose)
    way = rng.standard_normal((SKULL_POINTS, 3))
    way /= np.linalg.norm(way, axis=1)[:, None]
    points = (way * SKULL_RADII * (1 + 0.03 * rng.random((len(way), 1))) + middle).astype(F4)
    points = points[points[:, 2] > middle[2] - 62]
    weight = 0.9 * child.cortex * 4 * np.pi * 78 ** 2 * 4 / SKULL_POINTS * 0.8
    return points, np.full(len(points), weight, F4)


def jaw(child, pose, rng):
    """Cloud of the lower jaw, one tube from joint to joint."""
    bends = np.array([[50, 0, -45], [45, 18, -92], [0, 78, -100], [-45, 18, -92], [-50, 0, -45]])
    curve = CubicSpline([0, 1, 2, 3, 4], head_middle(child, pose) + bends)
    places = np.linspace(0, 4, 500)
    return tube_cloud(curve(places), curve(places, 1), (5, 12), 0.8, 1.5, child.cortex * 0.8, child.spongy, rng)
