"""Soft tissue, lungs, heart, liver and gas as a voxel volume of attenuation (1/mm), and its ray sums."""
import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates
from .skeleton import shoulder_joint, arm_axis

MU_SOFT, MU_FAT, MU_LUNG = 0.0195, 0.0172, 0.0055       # about 65 keV, from memory
VOX = 3.0


class Soft:
    """Voxel volume (z, y, x order), lower corner `low` (mm), voxel VOX mm."""

    def __init__(self, child, sp, trunk, posture, zlo, zhi, rng):
        s = child["scale"]
        cy = float(np.mean(trunk.cy[(trunk.z > 0)]))
        self.low = np.array([-240.0, cy - 215 * s - 30, zlo])
        hi = np.array([240.0, cy + 245 * s + 30, zhi])
        x, y, z = (np.arange(l, h, VOX, dtype=np.float32) for l, h in zip(self.low, hi))
        mu = np.zeros((len(z), len(y), len(x)), np.float32)
        self._trunk(mu, child, sp, trunk, x, y, z, rng)
        self._limbs(mu, child, sp, trunk, posture, x, y, z)
        self.mu = gaussian_filter(mu, 0.45)

    def _trunk(self, mu, child, sp, trunk, x, y, z, rng):
        s = child["scale"]
        zt = lambda n: sp.centre[sp.index(n), 2]
        sx = zt("T6")
        col = {k: np.interp(z, trunk.z, getattr(trunk, k)).astype(np.float32)
               for k in ("cx", "cy", "half", "depth", "psi", "skin", "spine_x", "spine_y")}
        X, Y = x[None, :], y[:, None]
        heart = np.array([np.interp(zt("T8"), trunk.z, trunk.cx) - 22 * s,
                          np.interp(zt("T8"), trunk.z, trunk.cy) + 26 * s, zt("T8") + 4 * s])
        dome_z = zt("T10") + 14 * s
        gas = self._gas(child, sp, trunk, rng, dome_z)
        for k, zz in enumerate(z):
            c = {n: float(v[k]) for n, v in col.items()}
            g = np.radians(c["psi"])
            dx, dy = X - c["cx"], Y - c["cy"]
            xr, yr = dx * np.cos(g) + dy * np.sin(g), -dx * np.sin(g) + dy * np.cos(g)
            a, d = c["half"] + c["skin"], c["depth"] / 2 + c["skin"]
            q = abs(xr / a) ** 2.4 + abs(yr / d) ** 2.4
            body = q < 1
            layer = np.where(q < (1 - 0.7 * c["skin"] / (0.5 * (a + d))) ** 2.4, MU_SOFT, MU_FAT)
            sl = np.where(body, layer, 0).astype(np.float32)
            if zt("C7") > zz > dome_z - 75 * s:
                al, dl = c["half"] - 8 * s, c["depth"] / 2 - 8 * s
                lung = abs(xr / al) ** 2.3 + abs(yr / dl) ** 2.3 < 1
                lung &= zz < zt("T1") + 6 * s - 0.9 * np.clip(abs(xr) - 0.45 * al, 0, None)
                rho = ((abs(xr) - 0.5 * al) / (0.62 * al)) ** 2 + (yr / (1.1 * dl)) ** 2
                dome = dome_z + np.where(xr > 0, 8 * s, -4 * s) - 26 * s * rho - 38 * s * np.clip(-yr / dl, 0, 1) ** 1.5
                dome = dome - 20 * s * np.clip(abs(xr) / al - 0.55, 0, 1)
                lung &= zz > dome
                px, py = c["spine_x"], c["spine_y"]
                lung &= (X - px) ** 2 + (Y - py) ** 2 > (21 * s) ** 2
                lung &= ~((abs(X - px) < 15 * s) & (Y < py))
                f = np.clip((Y - py) / max(c["cy"] + dl - py, 20), 0, 1)
                mid = px * (1 - f) + c["cx"] * f
                wid = (16 + 10 * np.exp(-((zz - sx - 15 * s) / (45 * s)) ** 2) + 8 * np.sin(np.pi * f)) * s
                lung &= ~((abs(X - mid) < wid) & (Y > py))
                e = ((X - heart[0]) / (45 * s)) ** 2 + ((Y - heart[1]) / (42 * s)) ** 2
                t = (zz - heart[2] + 0.35 * (X - heart[0])) / (50 * s)
                lung &= e + t ** 2 > 1
                grad = MU_LUNG * (1 + 0.25 * yr / dl * -1)
                sl = np.where(lung & body, grad, sl)
            if zz > zt("T6") and zz < zt("C3") + 40:        # trachea
                i = np.interp(zz, [zt("T6"), zt("T1"), zt("C3")], [30, 28, 24]) * s
                tx = 0.5 * (c["spine_x"] + c["cx"])
                sl[(X - tx) ** 2 + (Y - c["spine_y"] - i) ** 2 < (7 * s) ** 2] *= 0.15
            for gx, gy, gz, r1, r2, r3, m in gas:
                if abs(zz - gz) < r3:
                    e = ((X - gx) / r1) ** 2 + ((Y - gy) / r2) ** 2 + ((zz - gz) / r3) ** 2 < 1
                    sl[e & body] *= m
            mu[k] = sl

    @staticmethod
    def _gas(child, sp, trunk, rng, dome_z):
        """Stomach bubble, bowel gas and stool as ellipsoids with a factor on attenuation."""
        s = child["scale"]
        at = lambda n, z: float(np.interp(z, trunk.z, getattr(trunk, n)))
        out = []
        zb = dome_z - 38 * s
        r = rng.uniform(16, 32) * s
        out.append((at("cx", zb) - 0.45 * at("half", zb), at("cy", zb) + 10 * s, zb, r * 1.2, r, r * 0.7, 0.05))
        zl = dome_z - 62 * s                                # liver, a little denser
        out.append((at("cx", zl) + 0.38 * at("half", zl), at("cy", zl) + 8 * s, zl, 70 * s, 70 * s, 62 * s, 1.06))
        for side in (1, -1):                                # the two sides of the colon, then loops between
            for q in range(rng.integers(4, 9)):
                zz = rng.uniform(-70, 130) * s
                w = side * rng.uniform(0.55, 0.8) * at("half", zz)
                r = rng.uniform(6, 17) * s
                out.append((at("cx", zz) + w, at("cy", zz) + rng.uniform(-10, 40) * s, zz, r, r * 1.2, r * rng.uniform(0.7, 1.6),
                            rng.choice([0.05, 0.3, 0.7])))
        for q in range(rng.integers(8, 22)):
            zz = rng.uniform(-110, 120) * s
            r = rng.uniform(5, 15) * s
            out.append((at("cx", zz) + rng.uniform(-0.5, 0.5) * at("half", zz), at("cy", zz) + rng.uniform(5, 60) * s, zz,
                        r * rng.uniform(0.8, 2), r, r, rng.choice([0.05, 0.4])))
        loops = []
        for x, y, z, a, b, c, m in out[2:]:                 # every loop is a few overlapping pouches
            for _ in range(4):
                d = rng.normal(0, 0.45, 3)
                q = rng.uniform(0.45, 0.75)
                loops.append((x + d[0] * a, y + d[1] * b, z + d[2] * c, a * q, b * q, c * q, m))
        return out[:2] + loops

    def _limbs(self, mu, child, sp, trunk, posture, x, y, z):
        """Neck base to shoulder, upper arm and thigh as capsules of soft tissue."""
        s = child["scale"]
        c7 = sp.centre[sp.index("C7")]
        caps = []
        for k in (1, -1):
            j = shoulder_joint(child, sp, trunk, k)
            e = arm_axis(j, k, posture, s)
            thick = (30 + 8 * child["fat"]) * s
            caps += [(c7 + [0, -6 * s, 8 * s], j + [-k * 16 * s, -8 * s, 4 * s], 34 * s, 40 * s), (j, e, thick * 1.25, thick * 0.95)]
            caps.append((j + [-k * 40 * s, 0, -10 * s], j + [-k * 30 * s, 0, -80 * s], 38 * s, 34 * s))
        for a, b, ra, rb in caps:
            lo, hi = np.minimum(a, b) - max(ra, rb), np.maximum(a, b) + max(ra, rb)
            ix, iy, iz = (slice(*np.searchsorted(g, [l, h])) for g, l, h in zip((x, y, z), lo, hi))
            a, d = a.astype(np.float32), (b - a).astype(np.float32)
            P = np.stack(np.meshgrid(z[iz], y[iy], x[ix], indexing="ij"), -1)[..., ::-1] - a
            t = np.clip(P @ d / (d @ d), 0, 1)
            near = np.linalg.norm(P - t[..., None] * d, axis=-1) < ra + (rb - ra) * t
            part = mu[iz, iy, ix]
            part[near & (part < 1e-6)] = MU_SOFT

    def ray_sums(self, beam, factor, step=4.0):
        """Sum of mu x length on the film grid divided by factor."""
        rows, cols = -(-beam.shape[0] // factor), -(-beam.shape[1] // factor)
        gx, gy = np.meshgrid((np.arange(cols) + 0.5) * factor, (np.arange(rows) + 0.5) * factor)
        base, way = beam.ray(gx, gy)
        n = np.array(self.mu.shape)[::-1]
        corners = np.array([[(self.low + n * VOX * [i, j, k]) for i in (0, 1)] for j in (0, 1) for k in (0, 1)]).reshape(-1, 3)
        depth = beam.detector(corners)[2]
        out = np.zeros((rows, cols), np.float32)
        b0 = ((base - self.low) / VOX - 0.5).astype(np.float32)
        w0 = (way / VOX).astype(np.float32)
        for zz in np.arange(depth.min() + step / 2, depth.max(), step):
            p = b0 + np.float32(zz) * w0
            out += map_coordinates(self.mu, p[..., ::-1].reshape(-1, 3).T, order=1, prefilter=False).reshape(rows, cols)
        return out * step * np.linalg.norm(way, axis=-1).astype(np.float32)
