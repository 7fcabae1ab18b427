"""All bones of a child on one film."""
from dataclasses import dataclass

import numpy as np

from .arch import arch_cloud
from .body import Body
from .camera import splat
from .chest import ribs_and_sternum
from .levels import C5, C7, COUNT
from .pelvis import pelvis
from .pose import STAGES
from .shoulders import shoulders
from .skull import skull

VIEWS = ("pa", "lateral")
RING_AGES = (9, 16)     # growth rings show between these


@dataclass
class Skeleton:
    """Path lengths in dense bone (cm) on the film, the bodies, and joints that the soft tissue needs."""

    film: np.ndarray
    bodies: list
    shoulders: dict
    elbows: dict
    hips: dict
    head: tuple


def draw_skeleton(child, pose, chest, stage, camera):
    """Splats every bone; a child's spine, ribs, pelvis and skull are the same on all its films."""
    film = np.zeros((camera.rows, camera.columns))
    bodies = [Body(child, level) for level in range(COUNT)]
    fine = 0.3 if camera.spacing < 0.2 else 0.34
    for level, body in enumerate(bodies):
        rng = child.stream("body", level)
        splat(camera, pose.place_cloud(level, body.cloud(child, fine if level < C5 else 0.4, rng)), film)
        if level == 0:
            continue
        if level <= C7 and RING_AGES[0] <= child.traits.age <= RING_AGES[1]:
            splat(camera, pose.place_cloud(level, body.ring_cloud(rng)), film)
        splat(camera, pose.place_cloud(level, arch_cloud(child, body, level, rng)), film)

    of_film = VIEWS.index(camera.view), STAGES.index(stage)
    ribs, manubrium = ribs_and_sternum(child, pose, chest, child.stream("ribs"))
    girdle, joints, elbows = shoulders(child, chest, manubrium, camera.view, child.stream("shoulders", *of_film))
    hip_bones, hips = pelvis(child, pose, child.stream("pelvis"))
    skull_bones, head = skull(child, pose, child.stream("skull"))
    for cloud in ribs + girdle + hip_bones + skull_bones:
        splat(camera, cloud, film)
    return Skeleton(film, bodies, joints, elbows, hips, head)
