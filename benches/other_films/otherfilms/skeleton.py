"""Sacrum, pelvis, hips, shoulder girdle, arms, skull (mm; sizes from memory)."""
import numpy as np
from .meshes import slab, smooth_path, ellipsoid
from .spine import frame
from .vertebra import Body, add_vertebra


def add_pelvis(scene, child, sp, mu):
    """Sacrum below S1, iliac wings, ischium, pubis, femora."""
    s, i = child["scale"], len(sp.names) - 1
    s1, rot, c = sp.bodies[i], sp.rot[i], sp.centre[i]
    al = np.degrees(np.arctan2(rot[2, 0], rot[0, 0]))
    ss = child["sacral_slope"]
    b, cc, r = s1, c, rot
    for k in range(4):                          # S2 to S5, fused, bending backward then forward
        nb = Body("S1", b.a * 0.76, b.b * 0.72, b.h * 0.84, 0.4, 0.1, 0.05, 0.95)
        nr = frame(al, -ss - 6 + 9 * k, sp.gamma[i])
        cc = cc - r @ [0, 0, b.h / 2] - nr @ [0, 0, nb.h / 2 + 1.5 * s]
        add_vertebra(scene, nb, nr, cc, s * 0.8, (mu[0] * 0.8, mu[1] * 0.8), arch=False)
        b, r = nb, nr
    pel = frame(al, 0, sp.gamma[i])
    at = lambda *p: pel @ (np.array(p, float) * s)
    for k in (1, -1):
        ala = [[c + rot @ (np.array([k * (s1.a * (0.8 + 0.9 * u)), -4 * s - 14 * s * u, (9 - 32 * t) * s - 5 * u * s])
                           * [1, 1, 1]) for u in np.linspace(0, 1, 6)] for t in np.linspace(0, 1, 6)]
        scene.add(slab(np.array(ala), 17 * s * np.ones((6, 6))), mu[1] * 1.1, "half")
        wing = []
        for u in np.linspace(0, 1, 12):         # u: from the back to the front of the crest
            ang = np.radians(190 - 165 * u)
            top = np.array([k * (46 + 82 * u ** 0.8), -42 + 118 * u,
                            8 + 32 * np.sin(np.pi * np.clip(u * 0.95 + 0.03, 0, 1)) ** 0.8 - 38 * u ** 3])
            low = np.array([k * (52 + 38 * u), -30 + 62 * u, -62 - 18 * np.sin(np.pi * u)])
            wing.append([at(*(top * (1 - t) + low * t + np.array([k * 7 * np.sin(np.pi * t) * np.cos(ang), 0, 0])))
                         for t in np.linspace(0, 1, 9)])
        th = np.array([9, 6.5, 4.5, 4, 4, 5, 8, 13, 17]) * s
        wing = np.array(wing)
        scene.add(slab(wing, th[None, :] * np.ones((12, 1))), mu[0] * 0.8, "half")
        scene.add(slab(wing[1:-1, 1:-1], np.maximum(th[None, 1:-1] - 2.0, 0.4) * np.ones((10, 1))),
                  mu[1] - mu[0] * 0.8, "half")
        hip = at(k * 86, 18, -98)
        scene.shell(lambda d: ellipsoid(hip, np.full(3, 22 * s - d)), 0.9, mu[0], mu[1])
        tubes = [([(86, 30, -72), (62, 52, -100), (30, 62, -112), (6, 64, -112)], 7), ([(88, -8, -98), (80, -26, -130),
                 (62, -28, -152)], 12), ([(62, -26, -150), (40, 20, -142), (8, 60, -120)], 6),
                 ([(86, 18, -98), (112, 12, -122), (130, 8, -140)], 14), ([(130, 8, -135), (128, 6, -220), (124, 8, -330)], 13)]
        for pts, rad in tubes:
            scene.bone_tube(smooth_path([at(k * x, y, z) for x, y, z in pts], 14), rad * s, None,
                            1.0 if rad < 13 else 1.8, (mu[0] * 0.7, mu[1]))


def shoulder_joint(child, sp, trunk, side):
    """Centre of the shoulder joint in the world."""
    s = child["scale"]
    i = sp.index("T2")
    z = sp.centre[i, 2] - 6 * s + side * child["shoulder_tilt"] * 8 * s
    return np.array([trunk.col("cx", z) + side * 148 * s, trunk.col("cy", z) - 6 * s, z])


def arm_axis(joint, side, posture, s):
    """Elbow position for a posture: down, abducted, forward, clavicle (fists on clavicles), up."""
    d = {"down": (0.10, 0.05, -1), "abducted": (0.62, 0.15, -0.75), "forward": (-0.1, 1, -0.12),
         "clavicle": (0.1, 0.75, -0.6), "up": (0.0, 0.85, 0.55)}[posture]
    d = np.array([side * d[0], d[1], d[2]])
    return joint + d / np.linalg.norm(d) * 270 * s


def add_shoulders(scene, child, sp, trunk, posture, mu):
    """Clavicles, scapulae, humeri, forearms."""
    s = child["scale"]
    z3 = sp.centre[sp.index("T3"), 2]
    front = trunk.ring(z3, 180, 2)
    for k in (1, -1):
        j = shoulder_joint(child, sp, trunk, k)
        lift = {"up": 14, "forward": 4}.get(posture, 0) * s
        acr = j + [k * 2 * s, 0, 24 * s + lift]
        scene.bone_tube(smooth_path([front + [k * 16 * s, -4 * s, 4 * s], front + [k * 62 * s, -8 * s, 15 * s + lift / 2],
                                     (front + acr * 2) / 3 + [k * 18 * s, -14 * s, 10 * s], acr], 24),
                        5.0 * s, 5.5 * s, 1.0, mu)
        med = j + [-k * 66 * s, -48 * s, 12 * s]
        glen = j + [-k * 18 * s, -6 * s, 0]
        low = j + [-k * 52 * s, -62 * s, -112 * s]
        if posture in ("up", "abducted"):
            low = low + [k * 26 * s, 8 * s, 8 * s]
        blade = [[(1 - t) * ((1 - u) * med + u * glen) + t * low + np.array([0, -7 * s * np.sin(np.pi * u) * (1 - t), 0])
                  for u in np.linspace(0, 1, 7)] for t in np.linspace(0, 0.97, 9)]
        th = np.tile(np.array([4.5, 2.4, 1.8, 1.8, 2.2, 4.5, 8]) * s, (9, 1))
        scene.add(slab(np.array(blade), th), mu[0] * 0.6, "half")
        scene.bone_tube(smooth_path([med + [0, -4 * s, -8 * s], (med + acr) / 2 + [0, -14 * s, -2 * s], acr], 12),
                        4 * s, 6 * s, 0.8, mu)
        elbow = arm_axis(j, k, posture, s)
        scene.shell(lambda d: ellipsoid(j, np.full(3, 21 * s - d)), 0.8, mu[0], mu[1])
        t = np.linspace(0, 1, 16)[:, None]
        rad = np.interp(t[:, 0], [0, 0.15, 0.3, 0.85, 1], [19, 14, 10.5, 10.5, 17]) * s
        scene.bone_tube(j * (1 - t) + elbow * t, rad, None, 2.2 * s, mu)
        if posture == "clavicle":
            for q in (-9, 9):
                hand = front + [k * (45 + q) * s, 42 * s, 18 * s]
                scene.bone_tube(smooth_path([elbow + [q * s, 0, 0], (elbow + hand) / 2, hand], 8), 6 * s, None, 1.6, mu)


def add_head(scene, child, sp, mu):
    """Skull vault, mandible; a rough form for the top edge of large crops."""
    s = child["scale"] ** 0.4
    c = sp.at(0, (0, 0, 0)) + np.array([0, 6, 92]) * s
    scene.shell(lambda d: ellipsoid(c + [0, 14 * s, 22 * s], np.array([72, 92, 74]) * s - d, 28), 5.0, mu[0] * 0.8, 0.001)
    jaw = [(44, 8, -4), (46, 14, -34), (36, 56, -52), (0, 82, -58), (-36, 56, -52), (-46, 14, -34), (-44, 8, -4)]
    scene.bone_tube(smooth_path([c + np.array(p) * s for p in jaw], 34), 5.5 * s, 11 * s, 1.5, mu)
    for y in (60, 70):
        scene.add(ellipsoid(c + np.array([0, y - 4, -34]) * s, np.array([24, 9, 8]) * s), mu[0] * 0.7, "half")
